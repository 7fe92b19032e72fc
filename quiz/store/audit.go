package store

import (
	"context"
	"iter"

	"gorm.io/gorm"

	"rightpage/quiz"
)

// entry makes an entry of the audit log; detail may be nil.
func (s *Store) entry(actor, action, subject string, detail map[string]any) quiz.Entry {
	e := quiz.Entry{At: s.now(), Actor: actor, Action: action, Subject: subject}
	if detail != nil {
		e.Detail = text(detail) // keys sorted by encoding/json
	}
	return e
}

// appendAudit adds an entry at the end of the audit log. Changing the head
// first makes others wait, or fail and try again, so that the chain has no fork.
func appendAudit(tx *gorm.DB, e quiz.Entry) error {
	if err := tx.Model(&headRow{}).Where("id = 1").Update("seq", gorm.Expr("seq + 1")).Error; err != nil {
		return err
	}
	row, err := find[headRow](tx, "end of the audit log", "id = 1")
	if err != nil {
		return err
	}
	e, head := quiz.Head{Seq: row.Seq - 1, Hash: row.Hash}.Next(e)
	if err := create(tx, &entryRow{Seq: e.Seq, At: micros(e.At), Actor: e.Actor, Action: e.Action, Subject: e.Subject,
		Detail: e.Detail, Prev: e.Prev, Hash: e.Hash}); err != nil {
		return err
	}
	return tx.Model(&headRow{}).Where("id = 1").Update("hash", head.Hash).Error
}

// RecordAudit adds an entry about something that the store does not do itself,
// such as an export.
func (s *Store) RecordAudit(ctx context.Context, actor, action, subject string, detail map[string]any) error {
	e := s.entry(actor, action, subject, detail)
	return s.write(ctx, "write the audit log", func(tx *gorm.DB) error { return appendAudit(tx, e) })
}

func entryOf(r entryRow) quiz.Entry {
	return quiz.Entry{Seq: r.Seq, At: instant(r.At), Actor: r.Actor, Action: r.Action, Subject: r.Subject, Detail: r.Detail, Prev: r.Prev, Hash: r.Hash}
}

// AuditLog lists up to n entries before a sequence number, latest first; 0 is
// the end of the log.
func (s *Store) AuditLog(ctx context.Context, before int64, n int) ([]quiz.Entry, error) {
	q := s.read(ctx).Order("seq DESC").Limit(n)
	if before > 0 {
		q = q.Where("seq < ?", before)
	}
	l, err := list(q, func(r entryRow) (quiz.Entry, error) { return entryOf(r), nil })
	return l, s.fail("read the audit log", err)
}

// VerifyAudit checks the chain of the whole audit log and gives its head. A
// log that was tampered with gives a *quiz.BrokenChain.
func (s *Store) VerifyAudit(ctx context.Context) (quiz.Head, error) {
	var head quiz.Head
	var verdict error
	err := s.snapshot(ctx, "verify the audit log", func(tx *gorm.DB) error {
		row, err := find[headRow](tx, "end of the audit log", "id = 1")
		if err != nil {
			return err
		}
		head = quiz.Head{Seq: row.Seq, Hash: row.Hash}
		var failed error
		verdict = quiz.VerifyChain(entries(tx, &failed), head)
		return failed
	})
	if err != nil {
		return quiz.Head{}, err
	}
	return head, verdict
}

// entries gives the audit log in order, some at a time.
func entries(tx *gorm.DB, failed *error) iter.Seq2[quiz.Entry, error] {
	const some = 1000
	return func(yield func(quiz.Entry, error) bool) {
		last := int64(-1) // an entry numbered 0 would be forged, and is to be seen
		for {
			var rows []entryRow
			if err := tx.Where("seq > ?", last).Order("seq").Limit(some).Find(&rows).Error; err != nil {
				*failed = err
				yield(quiz.Entry{}, err)
				return
			}
			for _, r := range rows {
				if !yield(entryOf(r), nil) {
					return
				}
				last = r.Seq
			}
			if len(rows) < some {
				return
			}
		}
	}
}
