package banks_test

import (
	"testing"
	"time"

	"rightpage/banks"
)

func TestAssembleQuick(t *testing.T) {
	bank := demoBank(t)
	b, err := banks.ParseBlueprint([]byte(`
title: Spring
questions: 40
variants: 3
cut: 75%
time_limit: 1h
order: easy first
shares:
  kind: {edition: 30%, location: 20%, chase: 10%}
  difficulty: {easy: 25%, medium: 35%, hard: 40%}
  group: {P: at least 20%, Q: 5}
  hazard: {lifting: 15%, fuel: at least 2}
  boundary: 35%
  model: {"*C*": at most 50%}
`))
	if err != nil {
		t.Fatal(err)
	}
	t0 := time.Now()
	f, r, err := banks.Assemble(bank, b, banks.AssembleOptions{})
	t.Log(time.Since(t0), err)
	if f != nil {
		for _, l := range r.Lines {
			t.Logf("%+v", l)
		}
		t.Logf("%+v", r)
	}
	b.Quotas[0].Share = .9
	b.Quotas[1].Share = .1
	b.Quotas[2].Share = 0
	t0 = time.Now()
	_, _, err = banks.Assemble(bank, b, banks.AssembleOptions{})
	t.Log(time.Since(t0), err)
}
