package kinds_test

import (
	"context"
	"runtime"
	"sync"
	"testing"

	"rightpage/banks"
	"rightpage/banks/catalog/invent"
	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
)

var large = sync.OnceValue(func() *banks.Source {
	return banks.NewSource(resolver.New(invent.Catalog(100_000)))
})

// BenchmarkGenerate makes questions of all kinds over a catalog of 100,000
// procedures, encoded as lines of a bank file, on one core.
func BenchmarkGenerate(b *testing.B) {
	src := large()
	b.ReportAllocs()
	b.ResetTimer()
	n := 0
	plan := banks.Plan{Seed: 1, Size: b.N, Shares: kinds.Equal(), Workers: 1}
	_, err := banks.Generate(context.Background(), src, plan, func(q *banks.Question, line []byte) bool {
		n++
		return true
	})
	if err != nil || n != b.N {
		b.Fatalf("made %d of %d questions: %v", n, b.N, err)
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "questions/s")
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	b.ReportMetric(float64(m.Sys)/(1<<20), "MiB-from-system")
}
