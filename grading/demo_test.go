package grading

import (
	"context"
	"sync"
	"testing"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
)

// demo is a demonstration catalog with a bank of questions of every kind that
// it has.
type demo struct {
	name string
	src  *banks.Source
	bank []*banks.Question
}

const demoBankSize = 900

func loadDemo(name, path string) func() (demo, error) {
	return sync.OnceValues(func() (demo, error) {
		c, err := catalog.Load(path)
		if err != nil {
			return demo{}, err
		}
		d := demo{name: name, src: banks.NewSource(resolver.New(c))}
		plan := banks.Plan{Seed: 21, Size: demoBankSize, Shares: kinds.Equal()}
		_, err = banks.Generate(context.Background(), d.src, plan, func(q *banks.Question, _ []byte) bool {
			d.bank = append(d.bank, q)
			return true
		})
		return d, err
	})
}

var (
	loadTarnfell = loadDemo("tarnfell", "../testdata/tarnfell/2026-1")
	loadQuillan  = loadDemo("quillan", "../testdata/quillan")
)

// demos are the two catalogs that properties are tested on.
func demos(tb testing.TB) []demo {
	tb.Helper()
	var out []demo
	for _, load := range [...]func() (demo, error){loadTarnfell, loadQuillan} {
		d, err := load()
		if err != nil {
			tb.Fatal(err)
		}
		out = append(out, d)
	}
	return out
}

// eachForm lists the questions of a bank of one response form.
func (d *demo) eachForm(f banks.Form, do func(q *banks.Question)) {
	for _, q := range d.bank {
		if q.Form == f {
			do(q)
		}
	}
}
