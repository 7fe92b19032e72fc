package grading

import (
	"strings"
	"testing"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// The key of every question is what a lookup gives that was built anew, asked
// the question's own query; so it can be computed again in another revision.
func TestKeyIsWhatAFreshLookupGives(t *testing.T) {
	for _, d := range demos(t) {
		fresh := resolver.New(d.src.R.Catalog())
		for _, q := range d.bank {
			k, f, _, err := lookUp(fresh, q)
			if err != nil {
				t.Errorf("%s %s: %v", q.ID, q.Kind, err)
				continue
			}
			if !f.agrees(q) {
				t.Errorf("%s %s: the key is %s, the lookup gives %v %v", q.ID, q.Kind, q.KeyText(), f.texts, f.steps)
			}
			if isIssueOrder(q) {
				continue
			}
			// Explain gives the same answer, and its trace says so in words.
			a, trace := fresh.Explain(&q.Query, resolver.Break{})
			again, err := k.key(fresh, q, a)
			if err != nil || !again.agrees(q) {
				t.Errorf("%s %s: explained, the lookup gives %v (%v)", q.ID, q.Kind, again.texts, err)
			}
			if len(trace) == 0 {
				t.Errorf("%s %s: no trace", q.ID, q.Kind)
			}
			if q.Query.Task != resolver.JobTask {
				continue // other lookups explain the edition beside the place
			}
			for _, step := range [...]resolver.Step{resolver.GroupStep, resolver.EditionStep} {
				told := ""
				for _, l := range q.Trace {
					if l.Step == step {
						told, _, _ = strings.Cut(l.Result, " ")
					}
				}
				in := told == ""
				for _, s := range trace {
					in = in || s.Step == step && strings.Contains(s.Result, told)
				}
				if !in {
					t.Errorf("%s %s: the question's trace has %s at %s, the explanation has not", q.ID, q.Kind, told, step)
				}
			}
		}
	}
}

// Every form of question can be computed again, and every kind is known.
func TestEveryKindCanBeComputedAgain(t *testing.T) {
	forms := map[banks.Form]bool{}
	for _, d := range demos(t) {
		for _, q := range d.bank {
			forms[q.Form] = true
			if _, ok := kindReadings(q.Kind); !ok {
				t.Fatalf("kind %s is not known", q.Kind)
			}
		}
	}
	for _, f := range banks.Forms() {
		if !forms[f] {
			t.Errorf("no question of form %s", f)
		}
	}
}
