package resolver_test

import (
	"math/rand/v2"
	"reflect"
	"sync"
	"testing"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// Resolving is pure: the same question gives the same answer and the same
// trace, whatever was asked before, from a catalog in any order of rows.
func TestSameQuestionSameAnswer(t *testing.T) {
	b := randomCatalog(seededDice{rand.New(rand.NewPCG(3, 11))}, mid)
	r, again := resolver.New(b.catalog()), resolver.New(shuffled(b).catalog())
	var reused resolver.Answer
	for range 2_000 {
		q := b.query()
		var fresh resolver.Answer
		r.Resolve(q, resolver.Break{}, &fresh)
		r.Resolve(q, resolver.Break{}, &reused)
		if !sameAnswer(&fresh, &reused) {
			t.Fatalf("%s: a used Answer changes what is found", queryText(q))
		}
		explained, trace := r.Explain(q, resolver.Break{})
		if !sameAnswer(&fresh, explained) {
			t.Fatalf("%s: Explain and Resolve differ", queryText(q))
		}
		other, otherTrace := again.Explain(q, resolver.Break{})
		if !sameAnswer(&fresh, other) {
			t.Fatalf("%s: the order of rows changes the answer", queryText(q))
		}
		if !reflect.DeepEqual(trace, otherTrace) {
			t.Fatalf("%s: the order of rows changes the trace\n%v\n%v", queryText(q), trace, otherTrace)
		}
	}
}

// Slips are as deterministic, and Explain never fails where Resolve does not.
func TestSlipsAreDeterministic(t *testing.T) {
	b := randomCatalog(seededDice{rand.New(rand.NewPCG(0, 11))}, small)
	r := resolver.New(b.catalog())
	var a, c resolver.Answer
	for range 300 {
		q := b.query()
		for _, s := range resolver.Slips() {
			for v := range s.Variants() {
				brk := resolver.Break{Slip: s, Variant: v}
				r.Resolve(q, brk, &a)
				r.Resolve(q, brk, &c)
				explained, _ := r.Explain(q, brk)
				if !sameAnswer(&a, &c) || !sameAnswer(&a, explained) {
					t.Fatalf("%s with %s, variant %d: three times asked, not three times the same", queryText(q), s, v)
				}
			}
		}
	}
}

// shuffled is the book with its rows in another order. Rows that no order of
// their own tells apart stay as they are.
func shuffled(b *book) *book {
	rng := rand.New(rand.NewPCG(9, 9))
	c := *b
	shuffle(rng, &c.t.Publications)
	shuffle(rng, &c.t.Procedures)
	shuffle(rng, &c.t.Groups)
	shuffle(rng, &c.t.Specifications)
	shuffle(rng, &c.t.Bulletins)
	return &c
}

func shuffle[T any](rng *rand.Rand, s *[]T) {
	out := append([]T(nil), *s...)
	rng.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	*s = out
}

// A resolver may be used by any number of goroutines; run with -race.
func TestConcurrentUse(t *testing.T) {
	b := randomCatalog(seededDice{rand.New(rand.NewPCG(0, 11))}, small)
	r := resolver.New(b.catalog())
	queries := make([]*resolver.Query, 200)
	want := make([]string, len(queries))
	breaks := append(resolver.Slips(), resolver.NoSlip)
	brk := func(i int) resolver.Break { return resolver.Break{Slip: breaks[i%len(breaks)]} }
	for i := range queries {
		queries[i] = b.query()
		var a resolver.Answer
		r.Resolve(queries[i], brk(i), &a)
		want[i] = answerText(r, &a)
	}
	var wg sync.WaitGroup
	for g := range 8 {
		wg.Go(func() {
			var a resolver.Answer
			for i := range queries {
				i = (i + 25*g) % len(queries)
				if r.Resolve(queries[i], brk(i), &a); answerText(r, &a) != want[i] {
					t.Errorf("%s: got %s alone and %s in company", queryText(queries[i]), want[i], answerText(r, &a))
				}
				if _, trace := r.Explain(queries[i], resolver.Break{}); len(trace) == 0 {
					t.Errorf("%s: no trace", queryText(queries[i]))
				}
			}
		})
	}
	wg.Wait()
}

// A chase by the title of its job and a chassis number makes no garbage when the
// Answer is used again.
func TestResolveDoesNotAllocate(t *testing.T) {
	r := shop(t, publications(catalog.Publication{ID: "RE", Class: catalog.Repair, KeyedBy: "engine", AppliesTo: "K4"}, brakeBook("RB", dates("2018-04", ""))),
		procedures(fuelFilter("JE", "RE"), brakeDisc("JB", "RB")),
		bulletins(amends(bulletin("B1", "2019-01"), target("procedure", "JE")), replaces(bulletin("B2", "2019-01"), target("procedure", "JB"))))
	plate := number(t, r, "T440", "K", 1234)
	for _, c := range []struct {
		name string
		q    *resolver.Query
		want string
	}{
		{"amended", &resolver.Query{Vehicle: resolver.Vehicle{Chassis: plate}, Text: "Replace fuel filter"}, "found: JE in RE, see B1"},
		{"replaced", &resolver.Query{Vehicle: resolver.Vehicle{Chassis: plate}, Text: "Replace brake disc"}, "found: B2 instead of JB in RB"},
		{"by model code", &resolver.Query{Vehicle: built("T440", "2018-05"), Text: "Replace brake disc"}, "found: B2 instead of JB in RB"},
		{"by engine number", &resolver.Query{Vehicle: resolver.Vehicle{Engine: "K41234"}, Text: "Replace fuel filter"}, "found: JE in RE, see B1"},
		{"several data cards", &resolver.Query{Vehicle: resolver.Vehicle{Model: "T420"}, Text: "Replace fuel filter"}, "ambiguous: perhaps JE in RE, see B1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := ask(t, r, c.q); got != c.want {
				t.Fatalf("got %s, want %s", got, c.want)
			}
			var a resolver.Answer
			if n := testing.AllocsPerRun(200, func() { r.Resolve(c.q, resolver.Break{}, &a) }); n != 0 {
				t.Errorf("%v allocations a chase", n)
			}
		})
	}
}
