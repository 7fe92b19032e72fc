package banks_test

import (
	"context"
	"sync"
	"testing"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
)

// tarnfell is the demo catalog of machines, prepared once for all tests.
var tarnfell = sync.OnceValues(func() (*banks.Source, error) {
	c, err := catalog.Load("../testdata/tarnfell/2026-1")
	if err != nil {
		return nil, err
	}
	return banks.NewSource(resolver.New(c)), nil
})

func demoSource(tb testing.TB) *banks.Source {
	tb.Helper()
	src, err := tarnfell()
	if err != nil {
		tb.Fatal(err)
	}
	return src
}

// tarnfellBank is a bank of 2,000 questions of all kinds.
var tarnfellBank = sync.OnceValues(func() ([]*banks.Question, error) {
	src, err := tarnfell()
	if err != nil {
		return nil, err
	}
	var bank []*banks.Question
	_, err = banks.Generate(context.Background(), src, banks.Plan{Seed: 11, Size: 2000, Shares: kinds.Equal()}, func(q *banks.Question, _ []byte) bool {
		bank = append(bank, q)
		return true
	})
	return bank, err
})

func demoBank(tb testing.TB) []*banks.Question {
	tb.Helper()
	bank, err := tarnfellBank()
	if err != nil {
		tb.Fatal(err)
	}
	return bank
}
