package progress

import (
	"context"
	"iter"
	"strings"
	"time"

	"rightpage/quiz/store"
)

// source is where answers are read from.
type source interface {
	// Outcomes is [store.Store.Outcomes].
	Outcomes(ctx context.Context, after time.Time) iter.Seq2[store.Outcome, error]
	// lost tells whether answers may have been taken away since a mark, and
	// gives the next mark.
	lost(ctx context.Context, mark int64) (lost bool, next int64, err error)
}

// storeSource reads a store.
type storeSource struct{ *store.Store }

// lost looks into the audit log, in which stands everything that takes answers
// away: the erasure of a person's data, and a restored backup.
func (src storeSource) lost(ctx context.Context, mark int64) (bool, int64, error) {
	const page = 200
	next := mark
	for before := int64(0); ; {
		entries, err := src.AuditLog(ctx, before, page)
		if err != nil {
			return false, mark, err
		}
		if before == 0 {
			next = 0
			if len(entries) > 0 {
				next = entries[0].Seq
			}
			if next < mark || mark == 0 {
				// A shorter log is another database's.
				return true, next, nil
			}
		}
		for _, e := range entries {
			if e.Seq <= mark {
				return false, next, nil
			}
			if takesAway(e.Action) {
				return true, next, nil
			}
		}
		if len(entries) < page {
			return false, next, nil
		}
		before = entries[len(entries)-1].Seq
	}
}

// takesAway tells whether an action of the audit log can take answers away.
func takesAway(action string) bool {
	for _, part := range []string{"erase", "restore", "retention"} {
		if strings.Contains(action, part) {
			return true
		}
	}
	return false
}
