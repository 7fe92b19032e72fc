package store

import (
	"context"
	"time"

	"gorm.io/gorm"

	"rightpage/quiz"
)

// Rate is how often something may be done: Burst times at once, and then once
// more each Every.
type Rate struct {
	Burst int
	Every time.Duration
}

// Allow counts one use of what name stands for ("login p1", an address) and
// tells whether the rate allows it and, if not, after what time it will. All
// servers on a database share the count. It is the generic cell rate algorithm
// (ITU-T I.371): one instant is stored per name, at which the next use would
// be due if uses came evenly. Names are stored as their SHA-256.
func (s *Store) Allow(ctx context.Context, name string, rate Rate) (ok bool, wait time.Duration, err error) {
	if rate.Burst < 1 || rate.Every < time.Microsecond {
		return false, 0, quiz.Errorf(quiz.Invalid, "a rate of %d each %v is none", rate.Burst, rate.Every)
	}
	err = s.write(ctx, "count a use", func(tx *gorm.DB) error {
		ok, wait = false, 0
		key, now, every := digest(name), micros(s.now()), rate.Every.Microseconds()
		// There must be a row to lock, or two first uses would count as one.
		if _, err := createOnce(tx, &limitRow{Name: key}); err != nil {
			return err
		}
		row, err := find[limitRow](tx.Clauses(forUpdate), "count", "name = ?", key)
		if err != nil {
			return err
		}
		// No use that was allowed is due later than this; one that seems to be was
		// counted before the clock was set back, and keeps nobody out until the
		// clock has caught up.
		due := min(row.Arrival, now+int64(rate.Burst)*every)
		next := max(due, now) + every
		if early := next - int64(rate.Burst)*every - now; early > 0 {
			wait = time.Duration(early) * time.Microsecond
			if due == row.Arrival {
				return nil
			}
			next = due
		} else {
			ok = true
		}
		return tx.Model(&limitRow{}).Where("name = ?", key).Updates(map[string]any{"arrival": next, "expires": next}).Error
	})
	return ok && err == nil, wait, err
}

// Forgive forgets the uses counted for a name, as after a login that succeeded.
func (s *Store) Forgive(ctx context.Context, name string) error {
	return s.write(ctx, "forget a count", func(tx *gorm.DB) error { return tx.Where("name = ?", digest(name)).Delete(&limitRow{}).Error })
}

// Sweep takes away sessions and one-time codes that have expired and counts
// that no longer matter.
func (s *Store) Sweep(ctx context.Context) error {
	return s.write(ctx, "sweep", func(tx *gorm.DB) error {
		now := micros(s.now())
		for _, model := range []any{&sessionRow{}, &codeRow{}} {
			if err := tx.Where("expires <= ?", now).Delete(model).Error; err != nil {
				return err
			}
		}
		return tx.Where("expires <= ?", now).Delete(&limitRow{}).Error
	})
}
