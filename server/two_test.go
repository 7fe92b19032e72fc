package server_test

import (
	"context"
	"crypto/rand"
	"database/sql"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib"

	"rightpage/banks"
	"rightpage/banks/kinds"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/issuing"
	"rightpage/quiz/library"
	"rightpage/quiz/quiztest"
	"rightpage/quiz/store"
	"rightpage/server"
	"rightpage/server/web/webtest"
)

// postgresURL names the variable that holds the URL of a PostgreSQL database in
// which tests make and drop schemas, as script .ci/postgres prints it.
const postgresURL = "RIGHTPAGE_TEST_POSTGRES"

// onEach runs a test on SQLite and, if there is one, on PostgreSQL.
func onEach(t *testing.T, test func(t *testing.T, url string)) {
	t.Run("SQLite", func(t *testing.T) { test(t, filepath.Join(t.TempDir(), "shared.db")) })
	t.Run("PostgreSQL", func(t *testing.T) {
		base := os.Getenv(postgresURL)
		if base == "" {
			t.Skipf("not run on PostgreSQL: set %s to the URL of a database, such as .ci/postgres prints", postgresURL)
		}
		db, err := sql.Open("pgx", base)
		if err != nil {
			t.Fatal(err)
		}
		name := "server_" + strings.ToLower(rand.Text())
		if _, err := db.Exec("CREATE SCHEMA " + name); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() {
			if _, err := db.Exec("SET client_min_messages = warning; DROP SCHEMA " + name + " CASCADE"); err != nil {
				t.Error(err)
			}
			db.Close()
		})
		u, err := url.Parse(base)
		if err != nil {
			t.Fatal(err)
		}
		q := u.Query()
		q.Set("search_path", name)
		u.RawQuery = q.Encode()
		test(t, u.String())
	})
}

// pair is two servers on one database.
type pair struct {
	t     *testing.T
	clock *webtest.Clock
	store *store.Store // of the first
	a, b  *server.Server
	at    map[*server.Server]*httptest.Server
}

func openPair(t *testing.T, url string) *pair {
	t.Helper()
	p := &pair{t: t, clock: webtest.NewClock(webtest.Start()), at: map[*server.Server]*httptest.Server{}}
	keys, err := issuing.OpenKeys(filepath.Join(t.TempDir(), "keys.json"), "")
	if err != nil {
		t.Fatal(err)
	}
	for _, to := range []**server.Server{&p.a, &p.b} {
		s, err := store.Open(t.Context(), url, store.Options{Now: p.clock.Now})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { s.Close() })
		if err := s.Migrate(t.Context()); err != nil {
			t.Fatal(err)
		}
		if p.store == nil {
			p.store = s
		}
		if *to, err = server.New(t.Context(), server.Config{Store: s, Keys: keys, Now: p.clock.Now}); err != nil {
			t.Fatal(err)
		}
		p.at[*to] = httptest.NewServer(*to)
		t.Cleanup(p.at[*to].Close)
	}
	return p
}

// move takes a browser, with its cookies, to a server: as a balancer in front of
// both does with any request.
func (p *pair) move(b *webtest.Browser, to *server.Server) {
	p.t.Helper()
	from, err := url.Parse(b.Server.URL)
	if err != nil {
		p.t.Fatal(err)
	}
	b.Server = p.at[to]
	target, err := url.Parse(b.Server.URL)
	if err != nil {
		p.t.Fatal(err)
	}
	b.Client.Jar.SetCookies(target, b.Client.Jar.Cookies(from))
}

const password = "four plain words here"

// worker adds a technician who can sign in.
func (p *pair) worker() *quiz.Person {
	p.t.Helper()
	hash, err := quiz.DefaultPasswords().Hash(password)
	if err != nil {
		p.t.Fatal(err)
	}
	person := &quiz.Person{Name: "Tam Reed", Roles: []quiz.Role{quiz.Technician}}
	if err := p.store.AddPerson(p.t.Context(), "", person, "tam", hash, false); err != nil {
		p.t.Fatal(err)
	}
	return person
}

// assign puts a catalog in force and assigns five questions of it for an hour.
func (p *pair) assign() (quiz.Assignment, *banks.TestForm) {
	p.t.Helper()
	ctx := p.t.Context()
	info := quiztest.Keep(p.t, p.store, "", "../testdata/quillan", true)
	entry, err := library.New(p.store, library.Options{BankSize: 200}).Entry(ctx, info.ID)
	if err != nil {
		p.t.Fatal(err)
	}
	bank, err := entry.Bank(ctx)
	if err != nil {
		p.t.Fatal(err)
	}
	blueprint := banks.NewBlueprint("Editions", 5)
	blueprint.Quotas = []banks.Quota{{By: banks.KindAttribute, Of: kinds.All()[0].Name, Count: 5}}
	form, _, err := banks.Assemble(bank.Questions, blueprint, banks.AssembleOptions{Seed: 1})
	if err != nil {
		p.t.Fatal(err)
	}
	if err := p.store.AddForm(ctx, "", form); err != nil {
		p.t.Fatal(err)
	}
	a := quiz.Assignment{Title: form.Title, Form: form.ID, Targets: []quiz.Target{{Kind: quiz.ToRole, ID: string(quiz.Technician)}}, Open: p.clock.Now().Add(-time.Hour),
		Limit: time.Hour, Attempts: 1, Release: quiz.Release{When: quiz.ReleaseAtEnd, Score: true, Answers: true, Key: true}}
	if err := p.store.SaveAssignment(ctx, "", &a); err != nil {
		p.t.Fatal(err)
	}
	return a, form
}

var attemptPath = regexp.MustCompile(`^/attempts/([a-z0-9]+)`)

// TestTwoServersAreOne takes one person from server to server in the midst of
// everything: signing in, practice, a quiz, its end.
func TestTwoServersAreOne(t *testing.T) {
	onEach(t, func(t *testing.T, url_ string) {
		p := openPair(t, url_)
		person := p.worker()
		assigned, form := p.assign()
		b := webtest.Visit(t, p.at[p.a])
		if a := b.Post("/sign-in", url.Values{"login": {"tam"}, "password": {password}}); a.Status != http.StatusSeeOther {
			t.Fatalf("sign in: %d\n%s", a.Status, a.Body)
		}
		p.move(b, p.b)
		if a := b.Get("/due"); a.Status != http.StatusOK || !strings.Contains(a.Body, "Editions") {
			t.Fatalf("signed in on the one, unknown to the other: %d\n%s", a.Status, a.Body)
		}
		// An exercise that one server asked is marked by the other.
		req, err := http.NewRequest(http.MethodGet, b.Server.URL+"/practice/next", nil)
		if err != nil {
			t.Fatal(err)
		}
		exercise := b.Do(req).Header.Get("Location")
		p.move(b, p.a)
		if a := b.Get(exercise); a.Status != http.StatusOK || !strings.Contains(exercise, "/practice/exercises/") {
			t.Errorf("the exercise %s: %d", exercise, a.Status)
		}
		// A quiz begun on the one goes on on the other.
		started := b.Post("/quizzes/"+assigned.ID, nil)
		m := attemptPath.FindStringSubmatch(started.Header.Get("Location"))
		if m == nil {
			t.Fatalf("start: %d\n%s", started.Status, started.Body)
		}
		attempt := m[1]
		for i, q := range form.Variants[0].Questions[:3] {
			server := p.a
			if i%2 == 0 {
				server = p.b
			}
			_, _, err := server.App.Store.SaveAnswer(t.Context(), quiz.Save{Attempt: attempt, Question: q.ID, Key: webtest.Key(i), Value: grading.KeyAnswer(q)})
			if err != nil {
				t.Fatal(err)
			}
		}
		// Its time ends: both see to it, and it is marked once.
		p.clock.Move(2 * time.Hour)
		var both sync.WaitGroup
		for _, s := range []*server.Server{p.a, p.b} {
			both.Go(func() {
				for range 3 {
					if _, err := s.Marker.Sweep(context.Background(), "test"); err != nil {
						t.Error(err)
					}
				}
			})
		}
		both.Wait()
		done, err := p.store.Attempt(t.Context(), attempt)
		if err != nil {
			t.Fatal(err)
		}
		if done.State != quiz.Graded || done.Gradings != 1 || done.Result.Points != 3 || done.Result.Of != 5 {
			t.Errorf("after its time: %+v", done)
		}
		// Signed out everywhere means on both.
		if _, err := p.a.App.Store.Sessions().EndAll(t.Context(), person.ID); err != nil {
			t.Fatal(err)
		}
		for _, s := range []*server.Server{p.a, p.b} {
			p.move(b, s)
			req, err := http.NewRequest(http.MethodGet, b.Server.URL+"/due", nil)
			if err != nil {
				t.Fatal(err)
			}
			if a := b.Do(req); a.Status != http.StatusSeeOther {
				t.Errorf("signed out everywhere: status %d", a.Status)
			}
		}
	})
}

// TestGuessingIsCountedByAllServersTogether tries passwords on two servers in turn.
func TestGuessingIsCountedByAllServersTogether(t *testing.T) {
	onEach(t, func(t *testing.T, url_ string) {
		p := openPair(t, url_)
		p.worker()
		browsers := []*webtest.Browser{webtest.Visit(t, p.at[p.a]), webtest.Visit(t, p.at[p.b])}
		tries := func(from int) int {
			for n := from; n < 60; n++ {
				if a := browsers[n%2].Post("/sign-in", url.Values{"login": {"tam"}, "password": {"a guess of the password"}}); a.Status == http.StatusTooManyRequests {
					return n
				}
			}
			return -1
		}
		n := tries(0)
		if n < 0 || n > 12 {
			t.Fatalf("two servers let %d guesses through together", n)
		}
		for _, b := range browsers { // and then neither takes the right one until some time has passed
			if a := b.Post("/sign-in", url.Values{"login": {"tam"}, "password": {password}}); a.Status != http.StatusTooManyRequests {
				t.Errorf("right after: status %d", a.Status)
			}
		}
		p.clock.Move(time.Hour)
		if a := browsers[0].Post("/sign-in", url.Values{"login": {"tam"}, "password": {password}}); a.Status != http.StatusSeeOther {
			t.Errorf("an hour later: status %d\n%s", a.Status, a.Body)
		}
	})
}
