package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgconn"
	"gorm.io/gorm"

	"rightpage/quiz"
)

func TestBackoffIsBounded(t *testing.T) {
	b := backoff{tries: 5, first: time.Millisecond, most: 6 * time.Millisecond}
	for n, want := range map[int]time.Duration{1: 1, 2: 2, 3: 4, 4: 6, 9: 6, 99: 6} {
		if got := b.bound(n); got != want*time.Millisecond {
			t.Errorf("before try %d: %v", n, got)
		}
	}
	busy := &pgconn.PgError{Code: pgSerialization}
	for _, c := range []struct {
		name  string
		fails int
		with  error
		tries int
		ok    bool
	}{
		{"at once", 0, busy, 1, true},
		{"given up in favour of others three times", 3, busy, 4, true},
		{"a deadlock", 1, fmt.Errorf("wrapped: %w", &pgconn.PgError{Code: pgDeadlock}), 2, true},
		{"again and again", 99, busy, 5, false},
		{"something that trying again does not mend", 99, errors.New("disk full"), 1, false},
		{"a duplicate", 99, &pgconn.PgError{Code: pgUnique}, 1, false},
	} {
		tries := 0
		err := b.do(context.Background(), func() error {
			if tries++; tries <= c.fails {
				return c.with
			}
			return nil
		})
		if tries != c.tries || (err == nil) != c.ok || err != nil && !errors.Is(err, c.with) {
			t.Errorf("%s: %d tries, %v", c.name, tries, err)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	tries := 0
	if err := b.do(ctx, func() error { tries++; return busy }); tries != 1 || !errors.Is(err, context.Canceled) {
		t.Errorf("a caller that has gone: %d tries, %v", tries, err)
	}
}

// The errors that the databases themselves give are told apart.
func TestErrorsOfTheDatabaseHaveCodes(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		s := d.migrated(t, newClock())
		exec := func(q string) error {
			return s.write(ctx, "test", func(tx *gorm.DB) error { return tx.Exec(q).Error })
		}
		must(t, exec("INSERT INTO sites (id, name, zone, version) VALUES ('a', 'a', '', 1)"))
		wantCode(t, "a primary key twice", exec("INSERT INTO sites (id, name, zone, version) VALUES ('a', 'b', '', 1)"), quiz.Conflict)
		wantCode(t, "referring to nothing", exec("INSERT INTO people (id, name, mail, site_id, roles, left_at, created, version) VALUES ('p', 'p', '', 'none', '[]', 0, 0, 1)"), quiz.Invalid)
		wantCode(t, "a missing value", exec("INSERT INTO sites (id) VALUES ('b')"), quiz.Internal)
		wantCode(t, "no such table", exec("SELECT * FROM nothing"), quiz.Internal)
		gone, cancel := context.WithCancel(ctx)
		cancel()
		_, err := s.Person(gone, "p")
		wantCode(t, "a caller that has gone", err, quiz.Unavailable)
		if d.postgres {
			wantCode(t, "a NUL", s.SavePerson(ctx, "", &quiz.Person{Name: "x", Roles: []quiz.Role{quiz.Manager}, ID: "a\x00"}), quiz.Invalid)
		}
	})
}

// Two transactions that each read what the other changes cannot both be
// serial: one is given up by PostgreSQL with 40001 and must be tried again.
func TestSerialisationFailuresAreTriedAgain(t *testing.T) {
	d := postgresDatabase(t)
	ctx := context.Background()
	s := d.migrated(t, newClock())
	for _, name := range []string{"x", "y"} {
		must(t, create(s.w, &counterRow{Name: name, Value: 1}))
	}
	var bothHaveRead sync.WaitGroup
	bothHaveRead.Add(2)
	tries := [2]int{}
	together(2, func(i int) {
		mine, others := []string{"x", "y"}[i], []string{"y", "x"}[i]
		err := s.retry.do(ctx, func() error {
			tries[i]++
			return s.w.WithContext(ctx).Transaction(func(tx *gorm.DB) error {
				row, err := find[counterRow](tx, "counter", "name = ?", others)
				if tries[i] == 1 {
					bothHaveRead.Done()
					bothHaveRead.Wait()
				}
				if err != nil {
					return err
				}
				return tx.Model(&counterRow{}).Where("name = ?", mine).Update("value", row.Value+1).Error
			}, &sql.TxOptions{Isolation: sql.LevelSerializable})
		})
		if err != nil {
			t.Error(err)
		}
	})
	var values []int64
	must(t, s.w.Model(&counterRow{}).Order("value").Pluck("value", &values).Error)
	if tries[0]+tries[1] < 3 || len(values) != 2 || values[0] != 2 || values[1] != 3 {
		t.Errorf("tries %v, values %v; one must have seen what the other wrote", tries, values)
	}
}

// Deadlocks are broken by the database and the victim tries again.
func TestDeadlocksAreTriedAgain(t *testing.T) {
	d := postgresDatabase(t)
	ctx := context.Background()
	s := d.migrated(t, newClock())
	for _, name := range []string{"x", "y"} {
		must(t, create(s.w, &counterRow{Name: name}))
	}
	var bothHold sync.WaitGroup
	bothHold.Add(2)
	tries := [2]int{}
	together(2, func(i int) {
		names := [][]string{{"x", "y"}, {"y", "x"}}[i]
		err := s.write(ctx, "test", func(tx *gorm.DB) error {
			tries[i]++
			for n, name := range names {
				if err := tx.Model(&counterRow{}).Where("name = ?", name).Update("value", gorm.Expr("value + 1")).Error; err != nil {
					return err
				}
				if n == 0 && tries[i] == 1 {
					bothHold.Done()
					bothHold.Wait()
				}
			}
			return nil
		})
		if err != nil {
			t.Error(err)
		}
	})
	var values []int64
	must(t, s.w.Model(&counterRow{}).Pluck("value", &values).Error)
	if tries[0]+tries[1] < 3 || values[0] != 2 || values[1] != 2 {
		t.Errorf("tries %v, values %v", tries, values)
	}
}

// Another process that holds SQLite's write lock is waited for, and tried
// again after, rather than an error for the technician.
func TestBusySQLiteIsWaitedFor(t *testing.T) {
	d := sqliteDatabase(t)
	ctx := context.Background()
	c := newClock()
	s, other := d.migrated(t, c), d.open(t, c)
	must(t, s.w.Exec("PRAGMA busy_timeout = 1").Error) // so that SQLite itself does not wait long
	release, held := make(chan struct{}), make(chan struct{})
	done := make(chan error)
	go func() {
		done <- other.w.Transaction(func(tx *gorm.DB) error {
			close(held)
			<-release
			return nil
		})
	}()
	<-held
	tries := 0
	s.retry = backoff{tries: 1000, first: time.Millisecond, most: time.Millisecond}
	err := s.retry.do(ctx, func() error {
		if tries++; tries == 3 {
			close(release)
		}
		return s.w.WithContext(ctx).Transaction(func(tx *gorm.DB) error { return nil })
	})
	if err != nil || tries < 3 {
		t.Errorf("%d tries, %v", tries, err)
	}
	must(t, <-done)

	held, release = make(chan struct{}), make(chan struct{})
	go func() {
		done <- other.w.Transaction(func(tx *gorm.DB) error {
			close(held)
			<-release
			return nil
		})
	}()
	<-held
	s.retry = backoff{tries: 2, first: time.Millisecond, most: time.Millisecond}
	wantCode(t, "held for good", s.SaveSite(ctx, "", &quiz.Site{Name: "x"}), quiz.Unavailable)
	close(release)
	must(t, <-done)
}
