package store

import (
	"context"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"rightpage/quiz"
)

func noticeOf(r noticeRow) (quiz.Notice, error) {
	n := quiz.Notice{ID: r.ID, Person: r.PersonID, At: instant(r.At), Kind: r.Kind, Subject: r.Subject, Read: instant(r.ReadAt)}
	return n, parse(r.Detail, &n.Detail, "detail of notice "+r.ID)
}

// AddNotices keeps notices, all of them or none. One without an ID is given
// one, one without a time that of now; one whose ID is there already is left
// out, so that what tells people may be done again.
func (s *Store) AddNotices(ctx context.Context, list []quiz.Notice) error {
	rows := make([]noticeRow, 0, len(list))
	for i := range list {
		n := list[i]
		if err := n.Check(); err != nil {
			return err
		}
		if n.ID == "" {
			n.ID = newID()
		}
		if n.At.IsZero() {
			n.At = s.now()
		}
		rows = append(rows, noticeRow{ID: n.ID, PersonID: n.Person, At: micros(n.At), Kind: n.Kind, Subject: n.Subject, Detail: text(n.Detail), ReadAt: micros(n.Read)})
	}
	if len(rows) == 0 {
		return nil
	}
	return s.write(ctx, "keep the notices", func(tx *gorm.DB) error {
		return tx.Omit(clause.Associations).Clauses(clause.OnConflict{DoNothing: true}).CreateInBatches(&rows, rowsAtOnce).Error
	})
}

// Notices lists the last n notices of a person, the latest first; all if n is 0.
func (s *Store) Notices(ctx context.Context, person string, n int) ([]quiz.Notice, error) {
	q := s.read(ctx).Where("person_id = ?", person).Order("at DESC, id")
	if n > 0 {
		q = q.Limit(n)
	}
	l, err := list(q, noticeOf)
	return l, s.fail("list the notices of a person", err)
}

// ReadNotice records that a person read a notice; the first time counts.
func (s *Store) ReadNotice(ctx context.Context, person, id string) error {
	return s.write(ctx, "record that a notice was read", func(tx *gorm.DB) error {
		row, err := find[noticeRow](tx.Clauses(forUpdate), "notice", "id = ? AND person_id = ?", id, person)
		if err != nil || row.ReadAt != 0 {
			return err
		}
		return tx.Model(&noticeRow{}).Where("id = ?", id).Update("read_at", micros(s.now())).Error
	})
}
