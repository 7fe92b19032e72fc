package store

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"

	"gorm.io/gorm"

	"rightpage/quiz"
)

func TestAuditLogIsAppendOnly(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		a, b, _ := two(t, d)
		if head, err := a.VerifyAudit(ctx); err != nil || head != quiz.ChainHead() {
			t.Fatalf("an empty log: %+v, %v", head, err)
		}
		together(12, func(i int) {
			if err := []*Store{a, b}[i%2].RecordAudit(ctx, "p1", "export", fmt.Sprint("person/", i), map[string]any{"rows": i}); err != nil {
				t.Error(err)
			}
		})
		head, err := b.VerifyAudit(ctx)
		must(t, err)
		log, err := a.AuditLog(ctx, 0, 5)
		must(t, err)
		if head.Seq != 12 || len(log) != 5 || log[0].Seq != 12 || log[0].Hash != head.Hash {
			t.Errorf("%+v, %+v", head, log)
		}
		if log, _ = a.AuditLog(ctx, 3, 5); len(log) != 2 || log[0].Seq != 2 {
			t.Errorf("before entry 3: %+v", log)
		}
		statements := []string{"UPDATE audit_entries SET detail = '' WHERE seq = 5", "DELETE FROM audit_entries WHERE seq = 5"}
		if d.postgres {
			statements = append(statements, "TRUNCATE audit_entries")
		}
		for _, q := range statements {
			if err := a.w.Exec(q).Error; err == nil || !strings.Contains(err.Error(), "append-only") {
				t.Errorf("%s: %v", q, err)
			}
		}
		_, err = a.VerifyAudit(ctx)
		must(t, err)

		// Somebody with the run of the database takes the triggers away: the
		// chain tells.
		_, unguard := auditGuards(a.w.Name())
		must(t, execAll(a.w, unguard))
		for _, tamper := range []struct {
			statement string
			want      int64
		}{
			{"DELETE FROM audit_entries WHERE seq = 12", 12},
			{"UPDATE audit_entries SET actor = 'p2' WHERE seq = 7", 7},
			{"DELETE FROM audit_entries WHERE seq = 3", 3},
			{"INSERT INTO audit_entries (seq, at, actor, action, subject, detail, prev, hash) VALUES (0, 0, '', '', '', '', '', '')", 1},
		} {
			must(t, a.w.Exec(tamper.statement).Error)
			var broken *quiz.BrokenChain
			if _, err := b.VerifyAudit(ctx); !errors.As(err, &broken) || broken.Seq != tamper.want {
				t.Errorf("%s: %v, want a break at %d", tamper.statement, err, tamper.want)
			}
		}
	})
}

// Logs longer than what is read at once are verified whole.
func TestLongAuditLog(t *testing.T) {
	ctx := context.Background()
	s := sqliteDatabase(t).migrated(t, newClock())
	const n = 2500
	must(t, s.write(ctx, "fill", func(tx *gorm.DB) error {
		for i := range n {
			if err := appendAudit(tx, s.entry("", "export", fmt.Sprint(i), nil)); err != nil {
				return err
			}
		}
		return nil
	}))
	if head, err := s.VerifyAudit(ctx); err != nil || head.Seq != n {
		t.Errorf("%+v, %v", head, err)
	}
}
