package server_test

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"net/http/httptest"

	"rightpage/quiz"
	"rightpage/quiz/demo"
	"rightpage/quiz/issuing"
	"rightpage/quiz/store"
	"rightpage/server"
	"rightpage/server/web/webtest"
	"rightpage/testdata"
)

// shop is the organisation of the demonstration, with everything that half a year
// leaves behind, served over a clock that tests move.
type shop struct {
	t      testing.TB
	clock  *webtest.Clock
	store  *store.Store
	server *server.Server
	http   *httptest.Server
	demo   *demo.Demo
	people []quiz.Person
}

// openShop fills a database and serves it. It takes some seconds.
func openShop(t testing.TB) *shop {
	t.Helper()
	ctx := context.Background()
	s := &shop{t: t, clock: webtest.NewClock(time.Date(2031, 3, 3, 9, 0, 0, 0, time.UTC))}
	history := demo.NewClock(s.clock.Now)
	dir := t.TempDir()
	var err error
	if s.store, err = store.Open(ctx, filepath.Join(dir, "shop.db"), store.Options{Now: history.Now}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.store.Close() })
	if err := s.store.Migrate(ctx); err != nil {
		t.Fatal(err)
	}
	keys, err := issuing.OpenKeys(filepath.Join(dir, "keys.json"), "")
	if err != nil {
		t.Fatal(err)
	}
	if s.demo, err = demo.Fill(ctx, s.store, demo.Options{Clock: history, Catalogs: testdata.Demo(), Keys: keys}); err != nil {
		t.Fatal(err)
	}
	if s.server, err = server.New(ctx, server.Config{Store: s.store, Keys: keys, Now: history.Now}); err != nil {
		t.Fatal(err)
	}
	s.http = httptest.NewServer(s.server)
	t.Cleanup(s.http.Close)
	if s.people, err = s.store.People(ctx); err != nil {
		t.Fatal(err)
	}
	return s
}

// as is the browser of a person who has just signed in.
func (s *shop) as(p *quiz.Person) *webtest.Browser {
	s.t.Helper()
	return webtest.As(s.t, s.server.App, s.http, p)
}

// add adds a person with one role.
func (s *shop) add(name, site string, r quiz.Role) *quiz.Person {
	s.t.Helper()
	p := webtest.Person(s.t, s.server.App, name, site, r)
	return p
}
