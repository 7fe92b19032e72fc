package grading

import (
	"strings"
	"testing"

	"rightpage/banks"
	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
)

// wayOf is how somebody answers a chase who makes one slip and then goes on
// rightly with what is in hand: for each step the answer, or "" where it cannot
// be given, since the step does not offer it.
func wayOf(d *demo, q *banks.Question, b resolver.Break) (answers []string, astray []bool) {
	var right, wrong resolver.Answer
	d.src.R.Resolve(&q.Query, resolver.Break{}, &right)
	d.src.R.Resolve(&q.Query, b, &wrong)
	for i := range q.Steps {
		st := &q.Steps[i]
		answer, off := StepAnswer(st), false
		value, text, ok := d.src.R.StepValue(&q.Query, &wrong, st.Step)
		key, _, _ := d.src.R.StepValue(&q.Query, &right, st.Step)
		if !ok || value != key {
			answer, off = "", true
			for j, o := range st.Options {
				if ok && o.Value == value {
					answer = banks.Letter(j)
				}
			}
			if ok && len(st.Options) == 0 {
				// The same page of another book is written like the key.
				answer, off = text, text != StepAnswer(st)
			}
		}
		answers, astray = append(answers, answer), append(astray, off)
	}
	return answers, astray
}

// Who makes one slip and is consistent from there loses the step at which it is
// made and no other: what follows is right on what is in hand.
func TestConsistentSlipLosesOneStep(t *testing.T) {
	chase, ok := kinds.Find("chase")
	if !ok {
		t.Fatal("there is no chase")
	}
	ways, hidden := 0, 0
	for _, d := range demos(t) {
		d.eachForm(banks.Chase, func(q *banks.Question) {
			g := NewGrader(q, Rules{})
			for _, slip := range chase.Slips {
				for v := range slip.Variants() {
					b := resolver.Break{Slip: slip, Variant: v}
					answers, astray := wayOf(&d, q, b)
					first := -1
					for i := range astray {
						if astray[i] && first < 0 {
							first = i
						}
					}
					if first < 0 || answers[first] == "" {
						continue // not wrong, or not on offer where it begins
					}
					if st := &q.Steps[first]; !namesOwn(q) && !named(st, answers[first], b) {
						hidden++
						continue
					}
					ways++
					s, err := g.Grade(strings.Join(answers, "|"))
					if err != nil {
						t.Fatalf("%v: %v", answers, err)
					}
					for i, ss := range s.Steps {
						want := Right
						switch {
						case i == first:
							want = Wrong
						case answers[i] == "":
							want = Blank
						case astray[i]:
							want = Carried
						}
						if ss.Verdict != want {
							t.Errorf("%s %v: step %s of %v is %s, want %s\n%+v", q.ID, b, ss.Step, answers, ss.Verdict, want, s.Steps)
						}
					}
					if s.Step != q.Steps[first].Step || !s.Known {
						t.Errorf("%v: the way parts at %s (recognised: %v), want %s", b, s.Step, s.Known, q.Steps[first].Step)
					}
				}
			}
		})
	}
	t.Logf("%d consistent ways, %d that the question hides", ways, hidden)
	if ways < 1000 {
		t.Errorf("only %d ways were tried", ways)
	}
}

// named tells whether an answer names a slip and its variant.
func named(st *banks.ChaseStep, answer string, b resolver.Break) bool {
	for i, o := range st.Options {
		if banks.Letter(i) == answer {
			return o.Slip == b.Slip && o.Variant == b.Variant
		}
	}
	for _, s := range st.Slipped {
		if s.Value == answer {
			return s.Slip == b.Slip && s.Variant == b.Variant
		}
	}
	return false
}
