package store

import (
	"context"
	"time"

	"gorm.io/gorm"

	"rightpage/grading"
	"rightpage/quiz"
)

// AttemptTimer is the kind of the timers that end attempts; their subject is
// the attempt's ID.
const AttemptTimer = "attempt"

func rowOfAttempt(a quiz.Attempt) attemptRow {
	return attemptRow{ID: a.ID, AssignmentID: a.Assignment, PersonID: a.Person, Number: int64(a.Number), Variant: int64(a.Variant),
		Questions: text(a.Questions), State: string(a.State), Opened: micros(a.Opened), Started: micros(a.Started), Deadline: micros(a.Deadline),
		Ended: micros(a.Ended), HandInKey: a.HandInKey, Gradings: int64(a.Gradings), Result: text(a.Result), Version: int64(a.Version), Medium: string(a.Medium)}
}

func attemptOf(r attemptRow) (quiz.Attempt, error) {
	a := quiz.Attempt{ID: r.ID, Assignment: r.AssignmentID, Person: r.PersonID, Number: int(r.Number), Variant: int(r.Variant),
		Medium: quiz.Medium(r.Medium), State: quiz.State(r.State), Opened: instant(r.Opened), Started: instant(r.Started), Deadline: instant(r.Deadline), Ended: instant(r.Ended),
		HandInKey: r.HandInKey, Gradings: int(r.Gradings), Version: int(r.Version)}
	err := parse(r.Questions, &a.Questions, "list of questions of attempt "+r.ID)
	if err == nil {
		err = parse(r.Result, &a.Result, "result of attempt "+r.ID)
	}
	return a, err
}

// locked reads an attempt that the transaction is about to change.
func locked(tx *gorm.DB, id string) (quiz.Attempt, error) {
	row, err := find[attemptRow](tx.Clauses(forUpdate), "attempt", "id = ?", id)
	if err != nil {
		return quiz.Attempt{}, err
	}
	return attemptOf(row)
}

// saveAttempt adds an attempt or replaces it if it has not changed since.
func saveAttempt(tx *gorm.DB, a *quiz.Attempt) error {
	version := a.Version
	a.Version++
	row := rowOfAttempt(*a)
	return put(tx, &row, version, "the attempt")
}

// StartAttempt starts a person's next attempt at an assignment, or gives the
// one that is under way: a second click or device finds the same.
func (s *Store) StartAttempt(ctx context.Context, assignment, person string) (quiz.Attempt, error) {
	var a quiz.Attempt
	begin := func(tx *gorm.DB) error {
		var err error
		a, err = s.start(tx, assignment, person)
		return err
	}
	const doing = "start the attempt"
	err := s.write(ctx, doing, begin)
	// Two at once may have opened the same attempt; the loser finds the
	// winner's.
	if quiz.ErrorCode(err) == quiz.Conflict {
		err = s.write(ctx, doing, begin)
	}
	return a, err
}

func (s *Store) start(tx *gorm.DB, assignment, person string) (quiz.Attempt, error) {
	now := s.now()
	of, err := s.assignment(tx, assignment)
	if err != nil {
		return quiz.Attempt{}, err
	}
	p, err := s.person(tx, person)
	if err != nil {
		return quiz.Attempt{}, err
	}
	if !of.For(p) || !p.Active(now) {
		return quiz.Attempt{}, quiz.Errorf(quiz.Forbidden, "%s is not assigned to this person", of.Title)
	}
	made, err := list(tx.Clauses(forUpdate).Where("assignment_id = ? AND person_id = ?", assignment, person).Order("number"), attemptOf)
	if err != nil {
		return quiz.Attempt{}, err
	}
	var a quiz.Attempt
	if n := len(made); n > 0 && !made[n-1].State.Ended() {
		a = made[n-1]
		if a.Expire(of, now) { // its timer has not fired yet
			if err := s.end(tx, &a); err != nil {
				return quiz.Attempt{}, err
			}
		} else if a.State == quiz.Started {
			return a, nil
		}
	}
	if a.State != quiz.Open {
		ids, err := variants(tx, of.Form)
		if err != nil {
			return quiz.Attempt{}, err
		}
		number := len(made) + 1
		v := quiz.VariantFor(of.ID, person, number, len(ids))
		if v >= len(ids) {
			return quiz.Attempt{}, quiz.Errorf(quiz.Internal, "the form of %s has no variants", of.Title)
		}
		next, err := quiz.NewAttempt(newID(), of, person, number, v, ids[v], now)
		if err != nil {
			return quiz.Attempt{}, err
		}
		a = *next
	}
	if err := a.Start(of, now); err != nil {
		return quiz.Attempt{}, err
	}
	if err := saveAttempt(tx, &a); err != nil {
		return quiz.Attempt{}, err
	}
	if err := s.timeAttempt(tx, a); err != nil {
		return quiz.Attempt{}, err
	}
	return a, appendAudit(tx, s.entry(person, "attempt.start", "attempt/"+a.ID, map[string]any{"number": a.Number}))
}

// timeAttempt sets the timer that ends an attempt.
func (s *Store) timeAttempt(tx *gorm.DB, a quiz.Attempt) error {
	if a.Deadline.IsZero() {
		return nil
	}
	return setTimer(tx, Timer{Kind: AttemptTimer, Subject: a.ID, Due: a.Deadline.Add(quiz.Grace + time.Microsecond)})
}

// end saves an attempt that expired and takes its timer away.
func (s *Store) end(tx *gorm.DB, a *quiz.Attempt) error {
	if err := saveAttempt(tx, a); err != nil {
		return err
	}
	if err := dropTimer(tx, AttemptTimer, a.ID); err != nil {
		return err
	}
	return appendAudit(tx, s.entry("", "attempt.expire", "attempt/"+a.ID, nil))
}

// Attempt reads an attempt as it is stored: it may be overdue.
func (s *Store) Attempt(ctx context.Context, id string) (quiz.Attempt, error) {
	row, err := find[attemptRow](s.read(ctx), "attempt", "id = ?", id)
	if err != nil {
		return quiz.Attempt{}, s.fail("read an attempt", err)
	}
	return attemptOf(row)
}

// AttemptsOf lists a person's attempts, the latest first.
func (s *Store) AttemptsOf(ctx context.Context, person string) ([]quiz.Attempt, error) {
	l, err := list(s.read(ctx).Where("person_id = ?", person).Order("opened DESC, id"), attemptOf)
	return l, s.fail("list the attempts of a person", err)
}

// AttemptsAt lists the attempts at an assignment by person and number.
func (s *Store) AttemptsAt(ctx context.Context, assignment string) ([]quiz.Attempt, error) {
	l, err := list(s.read(ctx).Where("assignment_id = ?", assignment).Order("person_id, number"), attemptOf)
	return l, s.fail("list the attempts at an assignment", err)
}

// HandIn hands an attempt in, once: see quiz.Attempt.HandIn. It is on disk
// when HandIn returns.
func (s *Store) HandIn(ctx context.Context, attempt, key string) (quiz.Receipt, error) {
	var receipt quiz.Receipt
	err := s.write(ctx, "hand in the attempt", func(tx *gorm.DB) error {
		a, err := locked(tx, attempt)
		if err != nil {
			return err
		}
		if receipt, err = a.HandIn(key, s.now().UTC().Truncate(time.Microsecond)); err != nil || receipt.Repeated {
			return err
		}
		if err := saveAttempt(tx, &a); err != nil {
			return err
		}
		if err := dropTimer(tx, AttemptTimer, a.ID); err != nil {
			return err
		}
		return appendAudit(tx, s.entry(a.Person, "attempt.handin", "attempt/"+a.ID, nil))
	})
	if err != nil {
		return quiz.Receipt{}, err
	}
	return receipt, nil
}

// ExpireAttempt ends an attempt whose time is up and tells whether it did.
func (s *Store) ExpireAttempt(ctx context.Context, id string) (bool, error) {
	var expired bool
	err := s.write(ctx, "end the attempt", func(tx *gorm.DB) error {
		a, err := locked(tx, id)
		if err != nil {
			return err
		}
		of, err := s.assignment(tx, a.Assignment)
		if err != nil {
			return err
		}
		if expired = a.Expire(of, s.now()); !expired {
			return nil
		}
		return s.end(tx, &a)
	})
	return expired && err == nil, err
}

// ExtendAttempt gives a started attempt more time.
func (s *Store) ExtendAttempt(ctx context.Context, actor, id string, by time.Duration) (quiz.Attempt, error) {
	var a quiz.Attempt
	err := s.write(ctx, "extend the attempt", func(tx *gorm.DB) error {
		var err error
		if a, err = locked(tx, id); err != nil {
			return err
		}
		if err := a.Extend(by, s.now()); err != nil {
			return err
		}
		if err := saveAttempt(tx, &a); err != nil {
			return err
		}
		if err := s.timeAttempt(tx, a); err != nil {
			return err
		}
		return appendAudit(tx, s.entry(actor, "attempt.extend", "attempt/"+id, map[string]any{"seconds": int(by.Seconds())}))
	})
	return a, err
}

// GradeAttempt records a grading of an attempt that has ended: its first, or
// with the reason a regrade. Earlier gradings are kept.
func (s *Store) GradeAttempt(ctx context.Context, actor, id string, r quiz.Result, scores []grading.Score) (quiz.Attempt, error) {
	var a quiz.Attempt
	r.By = actor
	err := s.write(ctx, "grade the attempt", func(tx *gorm.DB) error {
		var err error
		if a, err = locked(tx, id); err != nil {
			return err
		}
		if err := a.Grade(r); err != nil {
			return err
		}
		if err := saveAttempt(tx, &a); err != nil {
			return err
		}
		if err := create(tx, &gradingRow{AttemptID: id, Number: int64(a.Gradings), Result: text(r), Scores: text(scores), At: micros(s.now())}); err != nil {
			return err
		}
		return appendAudit(tx, s.entry(actor, "attempt.grade", "attempt/"+id, map[string]any{"number": a.Gradings, "reason": r.Reason}))
	})
	return a, err
}

// Grading is one grading of an attempt.
type Grading struct {
	Number int // 1 for the first
	Result quiz.Result
	Scores []grading.Score
	At     time.Time
}

// Gradings lists the gradings of an attempt, the first first. They hold the
// keys: what of them may be shown, quiz.Assignment.Shows says.
func (s *Store) Gradings(ctx context.Context, attempt string) ([]Grading, error) {
	l, err := list(s.read(ctx).Where("attempt_id = ?", attempt).Order("number"), gradingOf)
	return l, s.fail("list the gradings of an attempt", err)
}

// GradingsAt gives the last grading of each graded attempt at an assignment,
// by the attempt's ID.
func (s *Store) GradingsAt(ctx context.Context, assignment string) (map[string]Grading, error) {
	var rows []gradingRow
	err := s.read(ctx).Joins("JOIN attempts ON attempts.id = gradings.attempt_id AND attempts.gradings = gradings.number").
		Where("attempts.assignment_id = ?", assignment).Find(&rows).Error
	if err != nil {
		return nil, s.fail("list the gradings at an assignment", err)
	}
	last := make(map[string]Grading, len(rows))
	for _, r := range rows {
		if last[r.AttemptID], err = gradingOf(r); err != nil {
			return nil, err
		}
	}
	return last, nil
}

func gradingOf(r gradingRow) (Grading, error) {
	g := Grading{Number: int(r.Number), At: instant(r.At)}
	err := parse(r.Result, &g.Result, "result of attempt "+r.AttemptID)
	if err == nil {
		err = parse(r.Scores, &g.Scores, "scores of attempt "+r.AttemptID)
	}
	return g, err
}
