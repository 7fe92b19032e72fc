package store

import (
	"context"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"rightpage/quiz"
)

// Timer is something that is due at a time. Of all servers on a database one
// claims it; if that one dies, another does when the claim has run out. So
// what it does must bear being done again.
type Timer struct {
	Kind    string // what is to be done
	Subject string // to what; one timer per kind and subject
	Due     time.Time
	Owner   string    // who has claimed it
	Until   time.Time // until when
}

// SetTimer sets a timer, or sets it anew.
func (s *Store) SetTimer(ctx context.Context, t Timer) error {
	return s.write(ctx, "set a timer", func(tx *gorm.DB) error { return setTimer(tx, t) })
}

func setTimer(tx *gorm.DB, t Timer) error {
	return tx.Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "kind"}, {Name: "subject"}},
		DoUpdates: clause.AssignmentColumns([]string{"due", "owner", "lease"})}).
		Create(&timerRow{Kind: t.Kind, Subject: t.Subject, Due: micros(t.Due)}).Error
}

func dropTimer(tx *gorm.DB, kind, subject string) error {
	return tx.Where("kind = ? AND subject = ?", kind, subject).Delete(&timerRow{}).Error
}

// ClaimTimers claims up to n timers of a kind that are due, for a while. Each
// due timer is claimed by one caller only, whatever process it runs in.
func (s *Store) ClaimTimers(ctx context.Context, owner, kind string, n int, lease time.Duration) ([]Timer, error) {
	if owner == "" || lease <= 0 {
		return nil, quiz.Errorf(quiz.Invalid, "a claim needs an owner and a duration")
	}
	now := micros(s.now())
	until := now + lease.Microseconds()
	var rows []timerRow
	if err := s.read(ctx).Where("kind = ? AND due <= ? AND lease <= ?", kind, now, now).Order("due, subject").Limit(n).Find(&rows).Error; err != nil {
		return nil, s.fail("look for timers that are due", err)
	}
	var claimed []Timer
	if len(rows) == 0 {
		return nil, nil
	}
	err := s.write(ctx, "claim timers", func(tx *gorm.DB) error {
		claimed = claimed[:0]
		for _, r := range rows {
			// The conditions fail if another took it, or set it anew, meanwhile.
			res := tx.Model(&timerRow{}).Where("kind = ? AND subject = ? AND due = ? AND lease = ? AND owner = ?", r.Kind, r.Subject, r.Due, r.Lease, r.Owner).
				Updates(map[string]any{"owner": owner, "lease": until})
			if res.Error != nil {
				return res.Error
			}
			if res.RowsAffected == 1 {
				claimed = append(claimed, Timer{r.Kind, r.Subject, instant(r.Due), owner, instant(until)})
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return claimed, nil
}

// FinishTimer takes away a timer that was claimed and done. It tells false if
// the claim had run out and another took it, or it was set anew.
func (s *Store) FinishTimer(ctx context.Context, t Timer) (bool, error) {
	var n int64
	err := s.write(ctx, "finish a timer", func(tx *gorm.DB) error {
		res := tx.Where("kind = ? AND subject = ? AND due = ? AND owner = ? AND lease = ?", t.Kind, t.Subject, micros(t.Due), t.Owner, micros(t.Until)).Delete(&timerRow{})
		n = res.RowsAffected
		return res.Error
	})
	return n == 1 && err == nil, err
}
