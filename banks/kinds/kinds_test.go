package kinds_test

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
)

func source(t testing.TB, path string) *banks.Source {
	t.Helper()
	c, err := catalog.Load(filepath.Join("../../testdata", path))
	if err != nil {
		t.Fatal(err)
	}
	return banks.NewSource(resolver.New(c))
}

// eachQuestion makes questions at up to n sites of every kind, spread over all
// of them, and calls f with each; it tells how many there were of each kind.
func eachQuestion(t *testing.T, src *banks.Source, n int, f func(t *testing.T, q *banks.Question)) map[string]int {
	t.Helper()
	made := map[string]int{}
	all := kinds.All()
	for i := range all {
		k := &all[i]
		t.Run(k.Name, func(t *testing.T) {
			sites := slices.Collect(k.Sites(src).All())
			m := banks.NewMaker(src, banks.StartingWeights())
			for j := range min(n, len(sites)) {
				// A prime stride meets every combination of what a site is made
				// of.
				if m.Make(k, sites[j*7919%len(sites)], 11) {
					made[k.Name]++
					q := m.Q
					f(t, &q)
				}
			}
		})
	}
	return made
}

// Every kind has questions in the tractor catalog; in the engine catalog, where
// there are no data cards, all but the two that ask about them.
func TestEveryKindHasQuestions(t *testing.T) {
	for path, without := range map[string][]string{
		"tarnfell/2026-1": nil,
		"quillan":         {"factory-code", "fitted"},
	} {
		t.Run(path, func(t *testing.T) {
			made := eachQuestion(t, source(t, path), 60, func(*testing.T, *banks.Question) {})
			for _, k := range kinds.All() {
				if want := !slices.Contains(without, k.Name); (made[k.Name] > 0) != want {
					t.Errorf("%s: %d questions", k.Name, made[k.Name])
				}
			}
		})
	}
}

// A question can be answered: one right answer, which the resolver finds, wrong
// ones that differ from it and name a slip of the kind, and a stem that does not
// give the key away.
func TestQuestionsAreSound(t *testing.T) {
	for _, path := range []string{"tarnfell/2026-1", "quillan"} {
		t.Run(path, func(t *testing.T) {
			src := source(t, path)
			verifier := banks.NewVerifier(src, kinds.All())
			eachQuestion(t, src, 150, func(t *testing.T, q *banks.Question) {
				sound(t, src, q)
				line, err := banks.Encode(q)
				if err != nil {
					t.Fatal(err)
				}
				again, err := banks.Decode(line)
				if err != nil {
					t.Fatal(err)
				}
				if err := verifier.Verify(again); err != nil {
					t.Errorf("%s: made again: %v", q.ID, err)
				}
			})
		})
	}
}

func sound(t *testing.T, src *banks.Source, q *banks.Question) {
	t.Helper()
	key := q.KeyText()
	if strings.TrimSpace(key) == "" {
		t.Fatalf("no key: %+v", q)
	}
	if q.Stem == "" || len(q.Trace) == 0 {
		t.Errorf("%s: no stem or no trace", q.About.Record)
	}
	k, _ := kinds.Find(q.Kind)
	checkOptions(t, q, k, q.Options)
	for i := range q.Steps {
		checkOptions(t, q, k, q.Steps[i].Options)
		if q.Steps[i].KeyText() == "" {
			t.Errorf("%s: step %s has no key", q.About.Record, q.Steps[i].Step)
		}
	}
	for _, s := range q.Slipped {
		if s.Slip == resolver.NoSlip || s.Value == "" {
			t.Errorf("%s: a wrong answer without slip or value: %+v", q.About.Record, s)
		}
		for _, a := range q.Key.Accept {
			if strings.EqualFold(a, s.Value) {
				t.Errorf("%s: %q is both right and wrong", q.About.Record, a)
			}
		}
	}
	if q.Form != banks.Chase && q.Form != banks.Ordered && len(key) > 3 && strings.Contains(strings.ToLower(q.Stem), strings.ToLower(key)) {
		t.Errorf("%s: the stem %q gives the key %q away", q.About.Record, q.Stem, key)
	}
	// The key is computed, so a fresh lookup must find an answer.
	if q.Query.Vehicle != (resolver.Vehicle{}) {
		a, _ := src.R.Explain(&q.Query, resolver.Break{})
		if a.Status == resolver.NotCovered {
			t.Errorf("%s: the lookup behind the question is not covered: %+v", q.About.Record, q.Query)
		}
	}
}

func checkOptions(t *testing.T, q *banks.Question, k banks.Kind, options []banks.Option) {
	t.Helper()
	values := map[string]bool{}
	texts := map[string]bool{}
	right := 0
	for _, o := range options {
		if values[o.Value] || texts[strings.ToLower(o.Text)] {
			t.Errorf("%s: option %q stands twice", q.About.Record, o.Text)
		}
		values[o.Value], texts[strings.ToLower(o.Text)] = true, true
		if o.Right {
			right++
			continue
		}
		if !slices.Contains(k.Slips, o.Slip) {
			t.Errorf("%s: the wrong option %q has the slip %q, which kind %s does not list", q.About.Record, o.Text, o.Slip, k.Name)
		}
	}
	switch {
	case len(options) == 0:
	case q.Form == banks.Ordered:
		if right != len(options) {
			t.Errorf("%s: %d of %d options belong into the order", q.About.Record, right, len(options))
		}
	case q.Form == banks.SomeOf:
		if right == 0 || right == len(options) {
			t.Errorf("%s: %d of %d options are right", q.About.Record, right, len(options))
		}
	case right != 1 || len(options) < 3:
		t.Errorf("%s: %d of %d options are right", q.About.Record, right, len(options))
	}
}

// The table lists each kind once, and each slip serves some kind.
func TestTable(t *testing.T) {
	names := map[string]bool{}
	used := map[resolver.Slip]bool{}
	for _, k := range kinds.All() {
		if names[k.Name] {
			t.Errorf("kind %s stands twice", k.Name)
		}
		names[k.Name] = true
		if len(k.Slips) == 0 || k.Title == "" || k.Skill == "" {
			t.Errorf("kind %s lacks its slips, title or skill", k.Name)
		}
		for _, s := range k.Slips {
			used[s] = true
		}
	}
	for _, want := range []string{
		"job-class", "read-code", "factory-code", "fitted", "group", "publication", "edition", "location", "due",
		"specification", "guide", "next-step", "trouble-code", "latest", "chase",
	} {
		if !names[want] {
			t.Errorf("the kind %s of the design is missing", want)
		}
	}
	for _, s := range resolver.Slips() {
		if !used[s] {
			t.Errorf("no kind uses the slip %q", s)
		}
	}
}

// A question whose limit is a month asks for vehicles on both sides of it.
func TestLimitsAreAskedFor(t *testing.T) {
	src := source(t, "tarnfell/2026-1")
	k, _ := kinds.Find("edition")
	sites := k.Sites(src)
	if len(sites.Limits) == 0 {
		t.Fatal("no sites at a limit")
	}
	first, last := 0, 0
	for _, s := range sites.Limits {
		switch s.At {
		case banks.First:
			first++
		case banks.Last:
			last++
		}
	}
	if first == 0 || last == 0 {
		t.Errorf("%d sites at a first and %d at a last vehicle", first, last)
	}
}
