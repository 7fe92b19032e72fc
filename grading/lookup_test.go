package grading

import (
	"strings"
	"testing"

	"rightpage/banks/resolver"
)

// The key of every question is what a lookup gives that was built anew, asked
// the question's own query; so it can be computed again in another revision.
func TestKeyIsWhatAFreshLookupGives(t *testing.T) {
	for _, d := range demos(t) {
		fresh := resolver.New(d.src.R.Catalog())
		for _, q := range d.bank {
			if _, listed := kindReadings(q.Kind); !listed {
				continue // regrading leaves the kind to a person
			}
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

// Questions of these kinds can be computed again. Those of a kind that is added
// are left to a person until it is listed in kindReadings.
func TestKindsThatCanBeComputedAgain(t *testing.T) {
	for _, kind := range []string{
		"job-class", "read-code", "factory-code", "fitted", "group", "publication", "edition", "location", "due", "specification",
		"guide", "next-step", "trouble-code", "latest", "chase",
	} {
		if _, ok := kindReadings(kind); !ok {
			t.Errorf("kind %s is not listed", kind)
		}
	}
	if _, ok := kindReadings("riddle"); ok {
		t.Error("a kind that there is not is listed")
	}
}
