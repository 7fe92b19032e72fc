// Package marking marks attempts, and does everything that follows from it:
// what the answers at an assignment tell, disputes, and regrading.
//
//	m := marking.New(s, l, marking.Options{})
//	a, err := m.Begin(ctx, assignment, person)      // starts, or goes on with, an attempt
//	f, err := m.Form(ctx, as.Form)
//	ask := f.Ask(a.Variant, 0)                       // the first question, without its key
//	…                                                // answers are saved in the store
//	a, err = m.HandIn(ctx, a.ID, key)                // hands in and marks
//	review, err := m.Review(ctx, a.ID)               // what the person may see of it now
//
//	n, err := m.Sweep(ctx, "server 1")               // every few seconds: ends what is overdue
//
// # Keys
//
// A [Form] and what [Marker.Results] and [Marker.Statistics] give hold keys:
// they are for coordinators and must not reach somebody whose attempt is under
// way. For that there are [Form.Ask] and [Marker.Review], which give of a
// question what may be shown and nothing else.
//
// # Corrections
//
// Once a dispute is accepted, or a coordinator has applied a new key, the
// correction holds for the form from then on: every attempt at every assignment
// of the form is regraded, and attempts that end later are marked by it too.
// Corrections are entries of the audit log ("form.correct"), which nobody can
// change afterwards. Regrading that was cut short by a crash is completed by
// [Marker.Sweep].
//
// # Answers that cannot be read
//
// An answer that could be meant in two ways is not guessed: its score has the
// verdict [Unread], no points, and says why; [Marker.Results] lists it, and a
// coordinator settles it with [Marker.ReadAs].
package marking

import (
	"cmp"
	"context"
	"sync"
	"time"

	"golang.org/x/sync/singleflight"

	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/library"
	"rightpage/quiz/store"
)

// Unread is the verdict on an answer that could not be read for certain. It
// has no points until a coordinator has looked at it.
const Unread grading.Verdict = "unread"

// Options are what may be chosen about a Marker. The zero value will do.
type Options struct {
	Now       func() time.Time // the clock: that of the store; nil: time.Now
	FormBytes int64            // memory for forms, in bytes of their files; 0: 64 MiB
	CatchUp   time.Duration    // how often Sweep looks for attempts that ended unmarked; 0: 10 min
}

// Marker marks. It is safe for concurrent use; several processes may mark on
// one database.
type Marker struct {
	s *store.Store
	l *library.Library
	o Options

	forms   *formCache
	loading singleflight.Group
	log     correctionLog

	sweeping sync.Mutex
	caughtUp time.Time // when Sweep last looked for attempts that ended unmarked
}

// New makes a Marker.
func New(s *store.Store, l *library.Library, o Options) *Marker {
	if o.Now == nil {
		o.Now = time.Now
	}
	o.FormBytes, o.CatchUp = cmp.Or(max(o.FormBytes, 0), 64<<20), cmp.Or(max(o.CatchUp, 0), 10*time.Minute)
	return &Marker{s: s, l: l, o: o, forms: newFormCache(o.FormBytes)}
}

// now is the time as the store keeps it.
func (m *Marker) now() time.Time { return m.o.Now().UTC().Truncate(time.Microsecond) }

// Begin starts a person's next attempt at an assignment, or goes on with the
// one under way.
func (m *Marker) Begin(ctx context.Context, assignment, person string) (quiz.Attempt, error) {
	a, err := m.s.StartAttempt(ctx, assignment, person)
	if err != nil || a.Number == 1 {
		return a, err
	}
	// The attempt before may have run out just now.
	made, err := m.s.AttemptsOf(ctx, person)
	if err != nil {
		return a, nil
	}
	for _, b := range made {
		if b.Assignment == assignment && b.State.Ended() && b.State != quiz.Graded {
			_, _ = m.Mark(ctx, b.ID) // Sweep does it if this fails
		}
	}
	return a, nil
}

// HandIn hands an attempt in and marks it. The key is made by the client: the
// same again changes nothing. Once handed in, it stays so: if marking fails,
// the attempt is given as handed in, and Sweep marks it later.
func (m *Marker) HandIn(ctx context.Context, attempt, key string) (quiz.Attempt, error) {
	if _, err := m.s.HandIn(ctx, attempt, key); err != nil {
		return quiz.Attempt{}, err
	}
	a, err := m.Mark(ctx, attempt)
	if err == nil {
		return a, nil
	}
	later := context.WithoutCancel(ctx)
	_ = m.s.SetTimer(later, store.Timer{Kind: markTimer, Subject: attempt, Due: m.now()})
	return m.s.Attempt(later, attempt)
}
