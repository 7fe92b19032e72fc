package marking

import (
	"context"
	"errors"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/store"
)

// The kinds of timer beside store.AttemptTimer.
const (
	markTimer    = "mark"    // of an attempt that could not be marked when it was handed in
	regradeTimer = "regrade" // of a form whose regrading may have been cut short
)

const (
	sweepAtOnce = 100
	sweepLease  = 2 * time.Minute
)

// Sweep does what is due: it ends attempts whose time is up and marks them,
// marks what ended unmarked, and completes regrading that was cut short. It is
// to be called every few seconds by each process, with a name of the process
// as the owner; each thing is done by one of them. It tells how much it did;
// what failed is tried again by a later sweep.
func (m *Marker) Sweep(ctx context.Context, owner string) (int, error) {
	m.sweeping.Lock()
	defer m.sweeping.Unlock()
	var done int
	var failed []error
	do := func(kind string, work func(subject string) (bool, error)) {
		for {
			due, err := m.s.ClaimTimers(ctx, owner, kind, sweepAtOnce, sweepLease)
			if err != nil {
				failed = append(failed, err)
				return
			}
			for _, t := range due {
				did, err := work(t.Subject)
				if quiz.ErrorCode(err) == quiz.NotFound {
					err = nil // erased: nothing to do ever
				}
				if err != nil {
					failed = append(failed, err)
					continue // the claim runs out, and it is tried again
				}
				if did {
					done++
				}
				if _, err := m.s.FinishTimer(ctx, t); err != nil {
					failed = append(failed, err)
				}
			}
			if len(due) < sweepAtOnce || ctx.Err() != nil {
				return
			}
		}
	}
	do(store.AttemptTimer, func(id string) (bool, error) {
		expired, err := m.s.ExpireAttempt(ctx, id)
		if err != nil || !expired {
			return false, err
		}
		_, err = m.Mark(ctx, id)
		return true, err
	})
	do(markTimer, func(id string) (bool, error) {
		_, err := m.Mark(ctx, id)
		return true, err
	})
	do(regradeTimer, func(form string) (bool, error) { return true, m.resume(ctx, form) })
	n, err := m.catchUp(ctx)
	if err != nil {
		failed = append(failed, err)
	}
	return done + n, errors.Join(failed...)
}

// catchUp marks attempts that ended and were not marked, because the process
// ended in between. That is rare, and looking for them costs something, so that
// it is done now and then.
func (m *Marker) catchUp(ctx context.Context) (int, error) {
	now := m.now()
	if !m.caughtUp.IsZero() && now.Sub(m.caughtUp) < m.o.CatchUp {
		return 0, nil
	}
	assignments, err := m.s.Assignments(ctx)
	if err != nil {
		return 0, err
	}
	done := 0
	var failed []error
	for _, as := range assignments {
		attempts, err := m.s.AttemptsAt(ctx, as.ID)
		if err != nil {
			return done, err
		}
		for _, a := range attempts {
			if !a.State.Ended() || a.State == quiz.Graded {
				continue
			}
			if _, err := m.Mark(ctx, a.ID); err != nil {
				failed = append(failed, err)
				continue
			}
			done++
		}
	}
	m.caughtUp = now
	return done, errors.Join(failed...)
}
