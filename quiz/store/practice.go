package store

import (
	"context"
	"time"

	"gorm.io/gorm"

	"rightpage/quiz"
)

// SavePractice keeps the outcome of an exercise, once per person and key, and
// tells whether it was kept before.
func (s *Store) SavePractice(ctx context.Context, p quiz.Practice) (repeated bool, err error) {
	if err := p.Check(); err != nil {
		return false, err
	}
	row := practiceRow{PersonID: p.Person, ClientKey: p.Key, At: micros(p.At), Spent: p.Spent.Microseconds(), Score: text(p.Score)}
	err = s.write(ctx, "keep the outcome of an exercise", func(tx *gorm.DB) error {
		added, err := createOnce(tx, &row)
		repeated = !added
		return err
	})
	return repeated && err == nil, err
}

// PracticeOf lists the outcomes of a person's exercises since a time, the
// first first.
func (s *Store) PracticeOf(ctx context.Context, person string, since time.Time) ([]quiz.Practice, error) {
	l, err := list(s.read(ctx).Where("person_id = ? AND at >= ?", person, micros(since)).Order("at, client_key"), func(r practiceRow) (quiz.Practice, error) {
		p := quiz.Practice{Person: r.PersonID, Key: r.ClientKey, At: instant(r.At), Spent: time.Duration(r.Spent) * time.Microsecond}
		return p, parse(r.Score, &p.Score, "score of an exercise")
	})
	return l, s.fail("list the outcomes of exercises", err)
}
