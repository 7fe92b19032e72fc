package demo

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"time"
	_ "time/tzdata" // a demonstration runs on machines without time zones

	"rightpage/quiz"
	"rightpage/quiz/issuing"
	"rightpage/quiz/library"
	"rightpage/quiz/marking"
	"rightpage/quiz/store"
)

// Options say with what to fill a store.
type Options struct {
	// Clock is that of the store; it is moved while the history is made, and
	// live afterwards. The present is what it shows when Fill begins.
	Clock *Clock
	Seed  uint64 // 0: 1
	// Catalogs holds the folders of [Revisions].
	Catalogs fs.FS
	// Keys sign the certificates.
	Keys *issuing.Keys
	// Library, if not nil, is where the catalogs are read and their exercises
	// made; who serves the demonstration afterwards has them at hand then.
	Library *library.Library
	// Password is that of every account; empty: [Password].
	Password string
	// Progress, if not nil, is told how much of the work is done, 0 to 1.
	Progress func(done float64)
}

// Password is that of every account of the demonstration.
const Password = "tarnfell-by-the-book"

// Revisions are the folders of the catalog's revisions, in their order.
func Revisions() []string {
	return []string{"tarnfell/2025-1", "tarnfell/2025-2", "tarnfell/2026-1"}
}

// Login is an account to look at the demonstration with.
type Login struct {
	Role     quiz.Role
	Login    string
	Password string
	Person   quiz.Person
	Shows    string // what there is to see
}

// Demo is what was made.
type Demo struct {
	Logins      []Login // one per role
	People      []quiz.Person
	Sites       []quiz.Site
	Catalogs    []store.CatalogInfo // in the order of their revisions
	Assignments map[string]string   // title → ID
	Unfinished  string              // the attempt that is under way
	Practice    int                 // exercises
	Attempts    int                 // at quizzes
}

// weeksBack is how far back the history goes.
const weeksBack = 26

// Fill fills an empty store. It refuses one that has people in it
// (quiz.Conflict).
func Fill(ctx context.Context, s *store.Store, o Options) (*Demo, error) {
	if o.Clock == nil || o.Catalogs == nil || o.Keys == nil {
		return nil, errors.New("demo: give the clock of the store, the catalogs and the keys")
	}
	people, err := s.People(ctx)
	if err != nil {
		return nil, err
	}
	if len(people) > 0 {
		return nil, &quiz.Error{Code: quiz.Conflict, Text: "the database is not empty", Mend: "fill a new one with the demonstration"}
	}
	o.Seed = cmp.Or(o.Seed, 1)
	o.Password = cmp.Or(o.Password, Password)
	f := &filler{ctx: ctx, s: s, o: o, clock: o.Clock, present: o.Clock.Now().UTC().Truncate(time.Minute),
		byLogin: map[string]*person{}, out: &Demo{Assignments: map[string]string{}}}
	if f.lib = o.Library; f.lib == nil {
		f.lib = library.New(s, library.Options{})
	}
	f.marker = marking.New(s, f.lib, marking.Options{Now: o.Clock.Now})
	f.issuer = issuing.New(s, f.marker, f.lib, o.Keys, issuing.Options{Now: o.Clock.Now})
	defer o.Clock.run()
	if f.zone, err = time.LoadLocation(sites[0].zone); err != nil {
		return nil, err
	}
	f.invent()
	if err := f.settle(); err != nil {
		return nil, err
	}
	f.plan()
	if err := f.play(); err != nil {
		return nil, err
	}
	return f.out, nil
}

// filler makes the history.
type filler struct {
	ctx     context.Context
	s       *store.Store
	o       Options
	clock   *Clock
	present time.Time
	zone    *time.Location

	lib    *library.Library
	marker *marking.Marker
	issuer *issuing.Issuer

	coordinator, manager, administrator string // IDs
	people                              []*person
	byLogin                             map[string]*person
	revisions                           []*library.Entry
	force                               int // index of the revision in force
	certificates                        []issued
	events                              []event
	out                                 *Demo
}

// person is somebody of the history.
type person struct {
	invented
	quiz.Person
	mind  *mind
	asked map[string]bool
	tally map[string]*tally // by skill
}

// tally is how a person did in a skill, to choose what to practise.
type tally struct{ right, answers float64 }

// event is something that happens at a time.
type event struct {
	at   time.Time
	what string
	do   func(at time.Time) error
}

func (f *filler) at(t time.Time, what string, do func(at time.Time) error) {
	f.events = append(f.events, event{t, what, do})
}

// day is a day so many weeks before the week of the present, at a time of day
// where the people work. Weekdays count from Monday, 0.
func (f *filler) day(weeks, weekday, hour, minute int) time.Time {
	p := f.present.In(f.zone)
	back := (int(p.Weekday())+6)%7 - weekday + 7*weeks
	return time.Date(p.Year(), p.Month(), p.Day()-back, hour, minute, 0, 0, f.zone).UTC()
}

// play lets everything happen in order of time.
func (f *filler) play() error {
	slices.SortStableFunc(f.events, func(a, b event) int { return a.at.Compare(b.at) })
	for i := 0; i < len(f.events); i++ {
		e := f.events[i]
		if e.at.After(f.present) {
			return fmt.Errorf("demo: %s would happen %s after the present", e.what, e.at.Sub(f.present))
		}
		if err := f.ctx.Err(); err != nil {
			return err
		}
		f.clock.set(e.at)
		if err := e.do(e.at); err != nil {
			return fmt.Errorf("demo: %s on %s: %w", e.what, e.at.Format(time.DateOnly), err)
		}
		if f.o.Progress != nil {
			f.o.Progress(float64(i+1) / float64(len(f.events)))
		}
	}
	return nil
}
