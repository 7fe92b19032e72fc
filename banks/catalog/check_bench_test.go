package catalog_test

import (
	"fmt"
	"testing"

	"rightpage/banks/catalog"
	"rightpage/banks/catalog/invent"
)

// The larger size is that of the largest catalog the resolver is measured on.
func BenchmarkCheck(b *testing.B) {
	for _, n := range []int{2_500, 100_000} {
		b.Run(fmt.Sprintf("%d procedures", n), func(b *testing.B) {
			c := invent.Catalog(n)
			b.ReportAllocs()
			for b.Loop() {
				catalog.Check(c)
			}
		})
	}
}
