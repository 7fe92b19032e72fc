package quiz

import (
	"testing"
	"time"
)

var noon = time.Date(2031, 3, 4, 12, 0, 0, 0, time.UTC)

// weekly is an assignment of an hour, open for a day, with two attempts.
func weekly() Assignment {
	return Assignment{ID: "a1", Title: "Editions, week 10", Form: "f1", Targets: []Target{{ToRole, string(Technician)}},
		Open: noon, Close: noon.Add(24 * time.Hour), Limit: time.Hour, Attempts: 2,
		Release: Release{When: ReleaseAtEnd, Score: true, Answers: true, Key: true, Trace: true}}
}

func TestAssignmentCheck(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(a *Assignment)
		want   string
	}{
		{"as it should be", func(*Assignment) {}, ""},
		{"without end or limit", func(a *Assignment) { a.Close, a.Limit = time.Time{}, 0 }, ""},
		{"no title", func(a *Assignment) { a.Title = "" }, "no title"},
		{"no form", func(a *Assignment) { a.Form = "" }, "no form"},
		{"nobody", func(a *Assignment) { a.Targets = nil }, "nobody"},
		{"no opening", func(a *Assignment) { a.Open = time.Time{} }, "no opening time"},
		{"closes first", func(a *Assignment) { a.Close = a.Open }, "closes before it opens"},
		{"long", func(a *Assignment) { a.Limit = 25 * time.Hour }, "time limit"},
		{"no attempts", func(a *Assignment) { a.Attempts = 0 }, "attempts"},
		{"unknown role", func(a *Assignment) { a.Targets = []Target{{ToRole, "owner"}} }, "which there is not"},
		{"accommodation twice", func(a *Assignment) { a.Accommodations = []Accommodation{{Person: "p"}, {Person: "p"}} }, "two accommodations"},
		{"accommodation of less", func(a *Assignment) { a.Accommodations = []Accommodation{{Person: "p", Percent: -1}} }, "out of bounds"},
		{"no such release", func(a *Assignment) { a.Release.When = "soon" }, "which there is not"},
		{"no release date", func(a *Assignment) { a.Release.When = ReleaseFrom }, "not given"},
	} {
		a := weekly()
		c.change(&a)
		wantCheck(t, c.name, a.Check(), c.want)
	}
}

func TestAssignmentTargets(t *testing.T) {
	p := Person{ID: "p1", Site: "north", Roles: []Role{Technician}}
	for _, c := range []struct {
		target Target
		want   bool
	}{
		{Target{ToPerson, "p1"}, true}, {Target{ToPerson, "p2"}, false},
		{Target{ToSite, "north"}, true}, {Target{ToSite, "south"}, false}, {Target{ToSite, ""}, false},
		{Target{ToRole, "technician"}, true}, {Target{ToRole, "manager"}, false}, {Target{"shift", "p1"}, false},
	} {
		if got := (Assignment{Targets: []Target{{ToPerson, "somebody else"}, c.target}}).For(p); got != c.want {
			t.Errorf("%v: %v", c.target, got)
		}
	}
	if (Assignment{Targets: []Target{{ToSite, ""}}}).For(Person{}) {
		t.Error("somebody without a site is at no site")
	}
}

func TestDeadline(t *testing.T) {
	a := weekly()
	a.Accommodations = []Accommodation{
		{Person: "slow", Percent: 50, Extra: 10 * time.Minute},
		{Person: "away", Close: noon.Add(72 * time.Hour)},
	}
	endless := weekly()
	endless.Close, endless.Limit = time.Time{}, 0
	for _, c := range []struct {
		name   string
		a      Assignment
		person string
		start  time.Duration // after noon
		want   time.Duration // after noon; negative: none
	}{
		{"the time limit", a, "p", time.Hour, 2 * time.Hour},
		{"half as long again and ten minutes", a, "slow", time.Hour, time.Hour + 100*time.Minute},
		{"the close comes first", a, "p", 23*time.Hour + 30*time.Minute, 24 * time.Hour},
		{"the close comes first for extra time too", a, "slow", 23 * time.Hour, 24 * time.Hour},
		{"closes later for one", a, "away", 48 * time.Hour, 49 * time.Hour},
		{"no limit, no close", endless, "p", 0, -1},
	} {
		want := noon.Add(c.want)
		if c.want < 0 {
			want = time.Time{}
		}
		if got := c.a.DeadlineFor(c.person, noon.Add(c.start)); !got.Equal(want) {
			t.Errorf("%s: %v, want %v", c.name, got, want)
		}
	}
	endless.Accommodations = a.Accommodations
	if endless.LimitFor("slow") != 0 {
		t.Error("more time than no limit is no limit")
	}
}
