package quiz

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestRelease(t *testing.T) {
	all := Shown{true, true, true, true}
	score := Shown{Score: true}
	graded := Attempt{ID: "t1", Assignment: "a1", Person: "p1", Number: 2, State: Graded}
	first := graded
	first.Number = 1
	unfinished := Attempt{ID: "t2", Assignment: "a1", Person: "p1", Number: 2, State: Started}
	for _, c := range []struct {
		name    string
		change  func(a *Assignment)
		attempt Attempt
		others  []Attempt
		at      time.Time
		want    Shown
	}{
		{"at the end", nil, graded, nil, noon, all},
		{"another attempt may follow", nil, first, nil, noon, score},
		{"the last attempt is under way", nil, first, []Attempt{first, unfinished}, noon, score},
		{"under way although closed", nil, first, []Attempt{first, unfinished}, noon.Add(25 * time.Hour), score},
		{"no other may follow any more", nil, first, nil, noon.Add(25 * time.Hour), all},
		{"of another person", nil, graded, []Attempt{{Assignment: "a1", Person: "p2", Number: 3, State: Started}}, noon, all},
		{"only the score", func(a *Assignment) { a.Release.Answers, a.Release.Key, a.Release.Trace = false, false, false }, graded, nil, noon, score},
		{"never", func(a *Assignment) { a.Release.When = ReleaseNever }, graded, nil, noon, Shown{}},
		{"before the close", func(a *Assignment) { a.Release.When = ReleaseAtClose }, graded, nil, noon, Shown{}},
		{"answers are on their way", func(a *Assignment) { a.Release.When = ReleaseAtClose }, graded, nil, noon.Add(24 * time.Hour), Shown{}},
		{"after the close", func(a *Assignment) { a.Release.When = ReleaseAtClose }, graded, nil, noon.Add(25 * time.Hour), all},
		{"open longer for somebody", func(a *Assignment) {
			a.Release.When = ReleaseAtClose
			a.Accommodations = []Accommodation{{Person: "p9", Close: noon.Add(48 * time.Hour)}}
		}, graded, nil, noon.Add(25 * time.Hour), Shown{}},
		{"never closes", func(a *Assignment) { a.Release.When = ReleaseAtClose; a.Close = time.Time{} }, graded, nil, noon.Add(999 * time.Hour), Shown{}},
		{"before the date", func(a *Assignment) { a.Release.When, a.Release.From = ReleaseFrom, noon }, graded, nil, noon.Add(-1), Shown{}},
		{"from the date", func(a *Assignment) { a.Release.When, a.Release.From = ReleaseFrom, noon }, graded, nil, noon, all},
		{"not by hand yet", func(a *Assignment) { a.Release.When = ReleaseByHand }, graded, nil, noon, Shown{}},
		{"by hand", func(a *Assignment) { a.Release.When, a.Released = ReleaseByHand, noon }, graded, nil, noon, all},
		{"no such rule", func(a *Assignment) { a.Release.When = "" }, graded, nil, noon, Shown{}},
		{"an attempt at something else", func(a *Assignment) { a.ID = "a2" }, graded, nil, noon, Shown{}},
	} {
		a := weekly()
		if c.change != nil {
			c.change(&a)
		}
		if got := a.Shows(c.attempt, c.others, c.at); got != c.want {
			t.Errorf("%s: shows %+v, want %+v", c.name, got, c.want)
		}
	}
}

// Whatever the rule, the time and the other attempts: nothing is shown of an
// attempt that is not closed and graded.
func TestNothingIsShownBeforeTheEnd(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := weekly()
		a.Release = Release{When: rapid.SampledFrom([]ReleaseWhen{ReleaseNever, ReleaseAtEnd, ReleaseAtClose, ReleaseFrom, ReleaseByHand, ""}).Draw(t, "when"),
			From: noon, Score: true, Answers: true, Key: true, Trace: true}
		a.Released = noon
		attempt := Attempt{Assignment: "a1", Person: "p1", Number: rapid.IntRange(1, 3).Draw(t, "number"),
			State: rapid.SampledFrom([]State{Open, Started, HandedIn, Expired}).Draw(t, "state")}
		now := noon.Add(time.Duration(rapid.IntRange(-100, 1000).Draw(t, "hours")) * time.Hour)
		if s := a.Shows(attempt, nil, now); s != (Shown{}) {
			t.Fatalf("%s: %+v", attempt.State, s)
		}
	})
}
