// Package quiztest is what tests above the store begin with: a clock that they
// move, a database of their own, and catalogs of testdata kept in it.
package quiztest

import (
	"context"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"rightpage/quiz/library"
	"rightpage/quiz/store"
)

// Clock is a clock that stands until it is moved. It is safe for concurrent use.
type Clock struct {
	mu sync.Mutex
	at time.Time
}

// NewClock makes a clock that stands at a time.
func NewClock(at time.Time) *Clock { return &Clock{at: at} }

// Now is the time that the clock shows.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

// Move moves the clock on, or back.
func (c *Clock) Move(by time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(by)
}

// Open opens a new database, which goes when the test ends.
func Open(t testing.TB, clock *Clock) *store.Store {
	t.Helper()
	s, err := store.Open(context.Background(), filepath.Join(t.TempDir(), "test.db"), store.Options{Now: clock.Now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	if err := s.Migrate(context.Background()); err != nil {
		t.Fatal(err)
	}
	return s
}

// Keep keeps the catalog at a path, and puts it in force if that is wanted.
func Keep(t testing.TB, s *store.Store, actor, path string, force bool) store.CatalogInfo {
	t.Helper()
	ctx := context.Background()
	up, err := library.ReadPath(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.AddCatalog(ctx, actor, &up.Info, up.Content); err != nil {
		t.Fatal(err)
	}
	if force {
		if err := s.PutInForce(ctx, actor, up.Info.ID); err != nil {
			t.Fatal(err)
		}
	}
	return up.Info
}
