package store

import (
	"context"
	"time"

	"gorm.io/gorm"

	"rightpage/quiz"
)

func responseOf(r responseRow) (quiz.Response, error) {
	return quiz.Response{Attempt: r.AttemptID, Question: r.Question, Version: int(r.Version), Key: r.ClientKey, Value: r.Value,
		Spent: time.Duration(r.Spent) * time.Microsecond, At: instant(r.At)}, nil
}

// SaveAnswer saves an answer, once per key: see quiz.Attempt.Save. It is on
// disk when SaveAnswer returns; repeated tells that it was before.
func (s *Store) SaveAnswer(ctx context.Context, save quiz.Save) (r quiz.Response, repeated bool, err error) {
	err = s.write(ctx, "save the answer", func(tx *gorm.DB) error {
		a, err := locked(tx, save.Attempt)
		if err != nil {
			return err
		}
		known, err := list(tx.Where("attempt_id = ? AND (question = ? OR client_key = ?)", save.Attempt, save.Question, save.Key), responseOf)
		if err != nil {
			return err
		}
		now := s.now().UTC().Truncate(time.Microsecond)
		if r, repeated, err = a.Save(known, save, now); err != nil || repeated {
			return err
		}
		return create(tx, &responseRow{AttemptID: r.Attempt, Question: r.Question, Version: int64(r.Version), ClientKey: r.Key,
			Value: r.Value, At: micros(r.At), Spent: r.Spent.Microseconds()})
	})
	if err != nil {
		return quiz.Response{}, false, err
	}
	r.Spent = r.Spent.Truncate(time.Microsecond)
	return r, repeated, nil
}

// Answers lists every version of every answer of an attempt, by question and
// version; quiz.Latest gives those that count.
func (s *Store) Answers(ctx context.Context, attempt string) ([]quiz.Response, error) {
	l, err := list(s.read(ctx).Where("attempt_id = ?", attempt).Order("question, version"), responseOf)
	return l, s.fail("list the answers of an attempt", err)
}
