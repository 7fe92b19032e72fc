package demo

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// Whatever the present is, day or night, holiday or the end of summer time, the
// history fits before it, and no two people are at a quiz at the same time, so
// that the clock of the store never has to go back by more than the last of
// them took.
func TestTheHistoryFitsBeforeAnyPresent(t *testing.T) {
	london, err := time.LoadLocation("Europe/London")
	if err != nil {
		t.Fatal(err)
	}
	begin := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	rapid.Check(t, func(t *rapid.T) {
		present := begin.Add(time.Duration(rapid.IntRange(0, 5*365*24*60).Draw(t, "minutes")) * time.Minute)
		f := &filler{o: Options{Seed: 1}, present: present, zone: london, byLogin: map[string]*person{}, out: &Demo{}}
		f.invent()
		f.plan()
		slices.SortStableFunc(f.events, func(a, b event) int { return a.at.Compare(b.at) })
		var last event
		for _, e := range f.events {
			if e.at.After(present) {
				t.Fatalf("%s would happen at %v, after the present %v", e.what, e.at, present)
			}
			if e.at.Before(f.day(weeksBack, 0, 0, 0)) {
				t.Fatalf("%s would happen at %v, before the history begins", e.what, e.at)
			}
			if strings.HasPrefix(e.what, "practice of ") {
				continue
			}
			if strings.Contains(e.what, " at ") && strings.Contains(last.what, " at ") && e.at.Sub(last.at) < time.Hour {
				t.Fatalf("%s begins %v after %s", e.what, e.at.Sub(last.at), last.what)
			}
			last = e
		}
		if len(f.events) < 500 {
			t.Fatalf("%d events make no half year", len(f.events))
		}
	})
}
