package banks_test

import (
	"context"
	"fmt"
	"testing"

	"rightpage/banks"
	"rightpage/banks/kinds"
)

// BenchmarkAssemble makes a form of 40 questions in three variants by a
// blueprint of twelve lines.
func BenchmarkAssemble(b *testing.B) {
	bank, bp := demoBank(b), parseBlueprint(b, springBlueprint)
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		if _, _, err := banks.Assemble(bank, bp, banks.AssembleOptions{Seed: uint64(i + 1)}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkProveImpossible says why a blueprint cannot be met whose lines
// contradict one another.
func BenchmarkProveImpossible(b *testing.B) {
	bank := demoBank(b)
	bp := parseBlueprint(b, "questions: 40\nshares: {kind: {edition: 90%}, difficulty: {easy: 30%, hard: 40%}, group: {P: 20%}, hazard: {lifting: 15%}, boundary: 30%}")
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := banks.Assemble(bank, bp, banks.AssembleOptions{}); err == nil {
			b.Fatal("the blueprint was met")
		}
	}
}

// BenchmarkCensus counts the questions of the demo catalog.
func BenchmarkCensus(b *testing.B) {
	src := demoSource(b)
	for _, reach := range []bool{false, true} {
		b.Run(fmt.Sprintf("reach=%v", reach), func(b *testing.B) {
			for b.Loop() {
				if _, err := banks.TakeCensus(context.Background(), src, kinds.All(), banks.CensusOptions{NoReach: !reach}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
