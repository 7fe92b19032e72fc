package grading

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// The bank holds questions of every form, so that no property is empty.
func TestDemoBanksHoldEveryForm(t *testing.T) {
	seen := map[banks.Form]int{}
	for _, d := range demos(t) {
		for _, q := range d.bank {
			seen[q.Form]++
		}
	}
	for _, f := range banks.Forms() {
		if seen[f] == 0 {
			t.Errorf("no question of form %s", f)
		}
	}
}

// The key scores full marks, however it is dressed up.
func TestKeyScoresFull(t *testing.T) {
	for _, d := range demos(t) {
		t.Run(d.name, rapid.MakeCheck(func(t *rapid.T) {
			q := rapid.SampledFrom(d.bank).Draw(t, "question")
			given := dressUp(t, KeyAnswer(q))
			s, err := Grade(q, given, Rules{AllOrNothing: rapid.Bool().Draw(t, "all or nothing")})
			if err != nil {
				t.Fatalf("%q refused: %v", given, err)
			}
			if s.Verdict != Right || s.Points != 1 || s.Says != "" || s.Slip != resolver.NoSlip {
				t.Fatalf("%s %s: %q scored %+v", q.Kind, q.Form, given, s)
			}
		}))
	}
}

// dressUp writes an answer as people do: other case, spaces around it.
func dressUp(t *rapid.T, answer string) string {
	switch rapid.IntRange(0, 3).Draw(t, "case") {
	case 1:
		// Units are told apart by their case: only letters of options and
		// codes without one can be written in lower case.
		if !strings.ContainsAny(answer, "·°") {
			answer = strings.ToLower(answer)
		}
	case 2:
		answer = strings.ReplaceAll(answer, " ", "  ")
	}
	pad := rapid.SampledFrom([]string{"", " ", "\t", "\u00a0", "\u200b", " \r\n"})
	return pad.Draw(t, "before") + answer + pad.Draw(t, "after")
}

// Every wrong answer that a slip leads to scores less than the key and names
// the slip, where its step is, and what to do next time.
func TestSlipIsNamed(t *testing.T) {
	n := 0
	for _, d := range demos(t) {
		for _, q := range d.bank {
			for answer, slip := range SlipAnswers(q) {
				s, err := Grade(q, answer, Rules{})
				if err != nil {
					t.Fatalf("%s %s: %q refused: %v", q.Kind, q.Form, answer, err)
				}
				n++
				if s.Points >= 1 || s.Verdict == Right {
					t.Errorf("%s %s: the slip %q scored %+v", q.Kind, q.Form, answer, s)
				}
				if !s.Known || s.Slip != slip || s.Step != slip.Step() {
					t.Errorf("%s %s: %q names %v at %v, want %v", q.Kind, q.Form, answer, s.Slip, s.Step, slip)
				}
				if !strings.Contains(s.Says, slip.NextTime()) {
					t.Errorf("%s %s: %q says %q", q.Kind, q.Form, answer, s.Says)
				}
			}
		}
	}
	if n < demoBankSize {
		t.Errorf("only %d wrong answers were tried", n)
	}
}

// Nothing that is typed at random scores, and what is wrong says that it is
// not recognised.
func TestNonsenseIsUnrecognised(t *testing.T) {
	for _, d := range demos(t) {
		t.Run(d.name, rapid.MakeCheck(func(t *rapid.T) {
			q := rapid.SampledFrom(d.bank).Draw(t, "question")
			if q.Form != banks.Typed {
				t.Skip("not typed")
			}
			s, err := Grade(q, "zzyzx "+rapid.StringMatching(`[a-z]{3,9}`).Draw(t, "word"), Rules{})
			if err != nil {
				t.Skip("refused")
			}
			if s.Points != 0 || s.Known || s.Verdict != Wrong || !strings.Contains(s.Says, "not recognised") || s.Trace.Result == "" {
				t.Fatalf("scored %+v", s)
			}
		}))
	}
}

// Marks of one of several: every right one is right in either case, every wrong
// one names its own slip, and two are refused.
func TestOneOfSeveral(t *testing.T) {
	for _, d := range demos(t) {
		d.eachForm(banks.OneOf, func(q *banks.Question) {
			g := NewGrader(q, Rules{})
			for i, o := range q.Options {
				for _, given := range []string{banks.Letter(i), strings.ToLower(banks.Letter(i)), " " + banks.Letter(i) + ") ", "option " + banks.Letter(i)} {
					s, err := g.Grade(given)
					if err != nil {
						t.Fatalf("%q refused: %v", given, err)
					}
					if (s.Verdict == Right) != o.Right || s.Given != o.Text || !o.Right && s.Slip != o.Slip {
						t.Fatalf("%q scored %+v, the option is %+v", given, s, o)
					}
				}
				j := (i + 1) % len(q.Options)
				if _, err := g.Grade(banks.Letter(i) + banks.Letter(j)); err == nil {
					t.Fatal("two marks were not refused")
				}
			}
		})
	}
}

// Marks of several of several: their order, case and separators do not count;
// the score is that of the declared rule; marking everything, which takes no
// looking, scores nothing.
func TestSomeOfSeveral(t *testing.T) {
	for _, d := range demos(t) {
		var list []*banks.Question
		d.eachForm(banks.SomeOf, func(q *banks.Question) { list = append(list, q) })
		t.Run(d.name, rapid.MakeCheck(func(t *rapid.T) {
			q := rapid.SampledFrom(list).Draw(t, "question")
			n := len(q.Options)
			all := make([]int, n)
			for i := range all {
				all[i] = i
			}
			marks := rapid.Permutation(all).Draw(t, "order")[:rapid.IntRange(1, n).Draw(t, "marks")]
			sep := rapid.SampledFrom([]string{"", " ", ", ", ",", "; ", " + ", " and "}).Draw(t, "separator")
			var b []string
			var keys, hits, wrongs, misses float64
			for _, i := range marks {
				l := banks.Letter(i)
				if rapid.Bool().Draw(t, "lower") {
					l = strings.ToLower(l)
				}
				b = append(b, l)
			}
			for i, o := range q.Options {
				switch marked := slices.Contains(marks, i); {
				case o.Right && marked:
					keys, hits = keys+1, hits+1
				case o.Right:
					keys++
				case marked:
					wrongs, misses = wrongs+1, misses+1
				default:
					wrongs++
				}
			}
			want := max(0, hits/keys-misses/wrongs)
			s, err := Grade(q, strings.Join(b, sep), Rules{})
			if err != nil {
				t.Fatal(err)
			}
			if d := s.Points - want; d > 1e-12 || d < -1e-12 {
				t.Fatalf("%v of %d scored %v, want %v", b, n, s.Points, want)
			}
			if len(marks) == n && s.Points != 0 {
				t.Fatalf("marking everything scored %v", s.Points)
			}
			if (s.Verdict == Right) != (hits == keys && misses == 0) {
				t.Fatalf("verdict %s", s.Verdict)
			}
			if strict, _ := Grade(q, strings.Join(b, sep), Rules{AllOrNothing: true}); strict.Points != 0 && strict.Points != 1 || strict.Verdict == Partly {
				t.Fatalf("all or nothing scored %+v", strict)
			}
		}))
	}
}

// An order scores by its longest common subsequence with the right one,
// compared here with a search of all subsequences.
func TestOrdered(t *testing.T) {
	var list []*banks.Question
	for _, d := range demos(t) {
		d.eachForm(banks.Ordered, func(q *banks.Question) { list = append(list, q) })
	}
	rapid.Check(t, func(t *rapid.T) {
		q := rapid.SampledFrom(list).Draw(t, "question")
		n := len(q.Options)
		all := make([]int, n)
		for i := range all {
			all[i] = i
		}
		perm := rapid.Permutation(all).Draw(t, "order")
		var b, values []string
		for _, i := range perm {
			b, values = append(b, banks.Letter(i)), append(values, q.Options[i].Value)
		}
		s, err := Grade(q, strings.Join(b, rapid.SampledFrom([]string{"", " ", " > ", ","}).Draw(t, "separator")), Rules{})
		if err != nil {
			t.Fatal(err)
		}
		best := 0
		for set := range 1 << n { // every subsequence of the answer
			var sub []string
			for i := range n {
				if set>>i&1 == 1 {
					sub = append(sub, values[i])
				}
			}
			at := 0
			for _, v := range q.Key.Order {
				if at < len(sub) && sub[at] == v {
					at++
				}
			}
			if at == len(sub) {
				best = max(best, len(sub))
			}
		}
		if want := float64(best-1) / float64(n-1); s.Points != want {
			t.Fatalf("%v scored %v, want %v", values, s.Points, want)
		}
	})
}
