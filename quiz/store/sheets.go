package store

import (
	"context"
	"time"

	"gorm.io/gorm"

	"rightpage/quiz"
)

// RecordPaper records an attempt that was worked on paper: made, answered and
// handed in, all or nothing, whatever the time limit, opening and closing
// time. Questions are the IDs of those of the variant, answers are by
// question. The same sheet again (a second click) gives the attempt that was
// recorded. A person with an unfinished attempt is a quiz.Conflict, one
// without attempts left quiz.Closed.
func (s *Store) RecordPaper(ctx context.Context, actor, assignment, person string, variant int, questions []string, answers map[string]string) (quiz.Attempt, error) {
	var a quiz.Attempt
	record := func(tx *gorm.DB) error {
		var err error
		a, err = s.recordPaper(tx, actor, assignment, person, variant, questions, answers)
		return err
	}
	const doing = "record the answer sheet"
	err := s.write(ctx, doing, record)
	// Two at once may have recorded the same sheet; the loser finds the winner's.
	if quiz.ErrorCode(err) == quiz.Conflict {
		err = s.write(ctx, doing, record)
	}
	if err != nil {
		return quiz.Attempt{}, err
	}
	return a, nil
}

func (s *Store) recordPaper(tx *gorm.DB, actor, assignment, person string, variant int, questions []string, answers map[string]string) (quiz.Attempt, error) {
	now := s.now().UTC().Truncate(time.Microsecond)
	of, err := s.assignment(tx, assignment)
	if err != nil {
		return quiz.Attempt{}, err
	}
	p, err := s.person(tx, person)
	if err != nil {
		return quiz.Attempt{}, err
	}
	if !of.For(p) { // who has left since may have worked on it before
		return quiz.Attempt{}, quiz.Errorf(quiz.Forbidden, "%s is not assigned to %s", of.Title, p.Name)
	}
	made, err := list(tx.Clauses(forUpdate).Where("assignment_id = ? AND person_id = ?", assignment, person).Order("number"), attemptOf)
	if err != nil {
		return quiz.Attempt{}, err
	}
	sheet := quiz.SheetKey(assignment, person, variant, answers)
	for i := range made {
		switch m := &made[i]; {
		case m.HandInKey == sheet:
			return *m, nil
		case m.State.Ended():
		case m.Expire(of, now): // its timer has not fired yet
			if err := s.end(tx, m); err != nil {
				return quiz.Attempt{}, err
			}
		default:
			return quiz.Attempt{}, &quiz.Error{Code: quiz.Conflict, Text: p.Name + " is working on " + of.Title + " on a screen", Mend: "have that attempt handed in first"}
		}
	}
	a, err := quiz.NewPaperAttempt(newID(), of, person, len(made)+1, variant, questions, sheet, now)
	if err != nil {
		return quiz.Attempt{}, err
	}
	read, err := a.Correct(nil, answers, newID, now)
	if err != nil {
		return quiz.Attempt{}, err
	}
	if err := saveAttempt(tx, a); err != nil {
		return quiz.Attempt{}, err
	}
	if err := addResponses(tx, read); err != nil {
		return quiz.Attempt{}, err
	}
	return *a, appendAudit(tx, s.entry(actor, "attempt.paper", "attempt/"+a.ID, map[string]any{"number": a.Number, "answers": len(read)}))
}

// CorrectPaper corrects answers of an attempt that was worked on paper, as
// where the sheet was misread: see quiz.Attempt.Correct. The versions before
// are kept. What was graded stays graded as it was: grade it again, with the
// reason.
func (s *Store) CorrectPaper(ctx context.Context, actor, attempt string, answers map[string]string) (quiz.Attempt, error) {
	var a quiz.Attempt
	err := s.write(ctx, "correct the answer sheet", func(tx *gorm.DB) error {
		var err error
		if a, err = locked(tx, attempt); err != nil {
			return err
		}
		known, err := list(tx.Where("attempt_id = ?", attempt), responseOf)
		if err != nil {
			return err
		}
		changed, err := a.Correct(known, answers, newID, s.now().UTC().Truncate(time.Microsecond))
		if err != nil || len(changed) == 0 {
			return err
		}
		if err := addResponses(tx, changed); err != nil {
			return err
		}
		if err := saveAttempt(tx, &a); err != nil {
			return err
		}
		return appendAudit(tx, s.entry(actor, "attempt.correct", "attempt/"+a.ID, map[string]any{"answers": len(changed)}))
	})
	if err != nil {
		return quiz.Attempt{}, err
	}
	return a, nil
}

func rowOfResponse(r quiz.Response) responseRow {
	return responseRow{AttemptID: r.Attempt, Question: r.Question, Version: int64(r.Version), ClientKey: r.Key, Value: r.Value, At: micros(r.At), Spent: r.Spent.Microseconds()}
}

func addResponses(tx *gorm.DB, list []quiz.Response) error {
	if len(list) == 0 {
		return nil
	}
	rows := make([]responseRow, len(list))
	for i, r := range list {
		rows[i] = rowOfResponse(r)
	}
	return create(tx, &rows)
}
