package grading

import (
	"fmt"
	"strings"
	"testing"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// shopChase is a chase of five steps: class, group, book, edition, place (typed)
// and bulletin (typed). Three slips have ways of their own: the neighbouring
// group JB (way 0) and JC (way 1), and the superseded edition (way 0).
func shopChase() *banks.Question {
	opt := func(value string, slip resolver.Slip, variant int) banks.Option {
		return banks.Option{Text: value, Value: value, Right: slip == resolver.NoSlip, Slip: slip, Variant: variant}
	}
	on := func(value string, slip resolver.Slip, variant int) banks.Slipped {
		return banks.Slipped{Value: value, Slip: slip, Variant: variant}
	}
	const near, old, class = resolver.SiblingGroup, resolver.SupersededEdition, resolver.WrongClass
	return &banks.Question{
		ID: "c", Kind: "chase", Skill: "whole chase", Form: banks.Chase, About: banks.About{Publication: "R-1-B"},
		Steps: []banks.ChaseStep{
			{Step: resolver.ClassifyStep, Ask: "Class", Options: []banks.Option{opt("repair", 0, 0), opt("maintenance", class, 0), opt("diagnosis", class, 1)},
				Carried: []banks.Slipped{on("maintenance", class, 0), on("diagnosis", class, 1)}},
			{Step: resolver.GroupStep, Ask: "Group", Options: []banks.Option{opt("JA", 0, 0), opt("JB", near, 0), opt("JC", near, 1)},
				Carried: []banks.Slipped{on("JB", near, 0), on("JC", near, 1)}},
			{Step: resolver.PublicationStep, Ask: "Book", Options: []banks.Option{opt("R-1", 0, 0), opt("R-2", near, 0), opt("R-3", near, 1), opt("S-1", class, 0)},
				Carried: []banks.Slipped{on("R-2", near, 0), on("R-3", near, 1), on("S-1", class, 0)}},
			{Step: resolver.EditionStep, Ask: "Edition", Options: []banks.Option{opt("R-1-B", 0, 0), opt("R-1-A", old, 0), opt("R-2-A", near, 0), opt("R-3-A", near, 1)},
				Carried: []banks.Slipped{on("R-2-A", near, 0), on("R-3-A", near, 1), on("R-1-A", old, 0)}},
			{Step: resolver.LocationStep, Ask: "Place", Accept: []string{"section JA.5"},
				Slipped: []banks.Slipped{on("page 40", old, 0)},
				Carried: []banks.Slipped{on("page 40", old, 0), on("section JB.7", near, 0), on("section JC.9", near, 1)}},
			{Step: resolver.AmendStep, Ask: "Bulletin", Accept: []string{"none"},
				Carried: []banks.Slipped{on("N-12", near, 0)}},
		},
		Trace: []banks.TraceLine{
			{Step: resolver.ClassifyStep, Result: "repair"}, {Step: resolver.GroupStep, Result: "JA"}, {Step: resolver.PublicationStep, Result: "R-1"},
			{Step: resolver.EditionStep, Result: "R-1-B"}, {Step: resolver.LocationStep, Result: "section JA.5"}, {Step: resolver.AmendStep, Result: "none"},
		},
	}
}

// verdicts writes the verdicts of the steps by their first letters: right,
// carried, wrong, blank.
func verdicts(s *Score) string {
	out := ""
	for _, ss := range s.Steps {
		out += string(ss.Verdict[0])
	}
	return out
}

// Errors are carried forward.
func TestChase(t *testing.T) {
	for _, c := range []struct {
		why, given, want string
		points           float64
		step             resolver.Step // where the way parts, if it does
		slip             resolver.Slip
	}{
		{"all right", "A | A | A | A | JA.5 | none", "rrrrrr", 1, 0, 0},
		{"one a line", "A\nA\nA\nA\nsection JA.5\nno bulletin", "rrrrrr", 1, 0, 0},
		{"semicolons", "a;a;a;a;JA 5;-", "rrrrrr", 1, 0, 0},
		{"spaces, as many as steps", "A A A A JA.5 none", "rrrrrr", 1, 0, 0},
		{"a mark at the end", "A|A|A|A|JA.5|none|", "rrrrrr", 1, 0, 0},
		{"options by name", "repair | JA | R-1 | R-1-B | section JA.5 | none", "rrrrrr", 1, 0, 0},
		{"one slip, then right on what is in hand, typed places included", "A|B|B|C|JB.7|N-12", "rwcccc", 5. / 6, resolver.GroupStep, resolver.SiblingGroup},
		{"the bulletin of the book in hand, or none: that is the key", "A|B|B|C|JB.7|none", "rwcccr", 5. / 6, resolver.GroupStep, resolver.SiblingGroup},
		{"another way than the one in hand is no credit", "A|B|C|D|JC.9|none", "rwwccr", 4. / 6, resolver.GroupStep, resolver.SiblingGroup},
		{"blanks in between change nothing", "A|B|||JB.7|none", "rwbbcr", 3. / 6, resolver.GroupStep, resolver.SiblingGroup},
		{"back on the right way, the old slip no longer excuses", "A|B|A|C|JA.5|none", "rwrwrr", 4. / 6, resolver.GroupStep, resolver.SiblingGroup},
		{"a slip at the edition, and its page", "A|A|A|B|p. 40|none", "rrrwcr", 5. / 6, resolver.EditionStep, resolver.SupersededEdition},
		{"the page of an old edition without having it in hand", "A|A|A|A|page 40|none", "rrrrwr", 5. / 6, resolver.LocationStep, resolver.SupersededEdition},
		{"two slips, one after the other", "A|B|B|B|page 40|none", "rwcwcr", 4. / 6, resolver.GroupStep, resolver.SiblingGroup},
		{"a place that no way leads to ends what was in hand", "A|B|B|C|page 99|N-12", "rwccww", 3. / 6, resolver.GroupStep, resolver.SiblingGroup},
		{"nothing but blanks after the first", "A", "rbbbbb", 1. / 6, resolver.GroupStep, 0},
		{"an unrecognised place alone", "A|A|A|A|page 99|none", "rrrrwr", 5. / 6, resolver.LocationStep, 0},
	} {
		s, err := Grade(shopChase(), c.given, Rules{})
		if err != nil {
			t.Errorf("%s: %q refused: %v", c.why, c.given, err)
			continue
		}
		if got := verdicts(&s); got != c.want {
			t.Errorf("%s: %q is %s, want %s", c.why, c.given, got, c.want)
		}
		if d := s.Points - c.points; d > 1e-12 || d < -1e-12 {
			t.Errorf("%s: %q scored %v, want %v", c.why, c.given, s.Points, c.points)
		}
		if c.points < 1 {
			if s.Verdict != Partly || s.Step != c.step || s.Slip != c.slip || s.Known != (c.slip != 0) || s.Trace.Step != c.step || !strings.Contains(s.Says, nextTime) {
				t.Errorf("%s: %q parts at %s by %v (%v), says %q; want %s by %v", c.why, c.given, s.Step, s.Slip, s.Known, s.Says, c.step, c.slip)
			}
			if strict, _ := Grade(shopChase(), c.given, Rules{AllOrNothing: true}); strict.Points != 0 || strict.Verdict != Wrong {
				t.Errorf("%s: all or nothing scored %v", c.why, strict.Points)
			}
		}
	}
}

// A chase that names only the first of the variants that lead to an answer lets
// the others begin with it, too, as far as they are not known to lead elsewhere.
func TestChaseThatNamesOneVariant(t *testing.T) {
	q := shopChase()
	for i := range q.Steps {
		// The strays of the slips made at a step are not listed there.
		q.Steps[i].Carried = nil
	}
	near := resolver.SiblingGroup
	q.Steps[2].Carried = []banks.Slipped{{Value: "R-2", Slip: near, Variant: 0}, {Value: "R-3", Slip: near, Variant: 1}, {Value: "S-1", Slip: near, Variant: 2}}
	q.Steps[2].Options[3].Slip, q.Steps[2].Options[3].Variant = near, 2
	for given, want := range map[string]string{
		"A|B|B|A|JA.5|none": "rwcrrr", // way 0
		"A|B|D|A|JA.5|none": "rwcrrr", // way 2, which may have begun with JB
		"A|B|C|A|JA.5|none": "rwwrrr", // way 1 is known to begin with JC
	} {
		s, err := Grade(q, given, Rules{})
		if err != nil || verdicts(&s) != want {
			t.Errorf("%q is %s (%v), want %s", given, verdicts(&s), err, want)
		}
	}
}

// What cannot be read at one step is for a person to look at.
func TestChaseRefusals(t *testing.T) {
	for given, reason := range map[string]string{
		"A|AB|A|A|JA.5|none":           "two or more marks (AB) at the step “Group”",
		"A|Z|A|A|JA.5|none":            "step “Group”",
		"A|A|A|A|JA.5|none|none":       "7 answers for a chase of 6 steps",
		"A|A|A|A|JA.5|none|x|y|z|1|2|": "12 answers",
	} {
		_, err := Grade(shopChase(), given, Rules{})
		if err == nil || !strings.Contains(err.Error(), reason) {
			t.Errorf("%q: %v, want %q", given, err, reason)
		}
	}
}

// A score that is used again holds nothing of the one before.
func TestGradeIntoKeepsNothing(t *testing.T) {
	g := NewGrader(shopChase(), Rules{})
	var s Score
	for _, given := range []string{"A|B|B|C|JB.7|N-12", "", "A|A|A|A|JA.5|none", "A|ZZ", "A"} {
		errInto := g.GradeInto(given, &s)
		fresh, err := g.Grade(given)
		if fmt.Sprint(err) != fmt.Sprint(errInto) {
			t.Fatalf("%q: %v and %v", given, err, errInto)
		}
		if a, b := fmt.Sprintf("%+v", s), fmt.Sprintf("%+v", fresh); a != b {
			t.Errorf("%q:\n%s\n%s", given, a, b)
		}
	}
}
