// Package webtest serves pages over a database of its own to tests, and is the
// browser that asks for them.
package webtest

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/quiztest"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

// Clock is a clock that tests move.
type Clock = quiztest.Clock

// NewClock makes a clock that stands at a time.
func NewClock(at time.Time) *Clock { return quiztest.NewClock(at) }

// Start is when the clocks of tests start: a Monday morning.
func Start() time.Time { return time.Date(2031, 3, 3, 9, 0, 0, 0, time.UTC) }

// Open opens a new database and what the pages share.
func Open(t testing.TB) (*web.App, *Clock) {
	t.Helper()
	clock := quiztest.NewClock(Start())
	s := quiztest.Open(t, clock)
	return App(t, s, clock), clock
}

// App makes what the pages share over a database that is open.
func App(t testing.TB, s *store.Store, clock *Clock) *web.App {
	t.Helper()
	a, err := web.New(s, web.Options{Now: clock.Now, Log: slog.New(slog.NewTextHandler(testLog{t}, &slog.HandlerOptions{Level: slog.LevelWarn}))})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

type testLog struct{ t testing.TB }

func (l testLog) Write(p []byte) (int, error) {
	l.t.Log(strings.TrimSpace(string(p)))
	return len(p), nil
}

// Serve serves routes, with the assets, until the test ends.
func Serve(t testing.TB, a *web.App, routes []web.Route) *httptest.Server {
	t.Helper()
	h, err := a.Handler(append(a.Assets(), routes...), nil)
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(h)
	t.Cleanup(srv.Close)
	return srv
}

// Person adds a person with roles.
func Person(t testing.TB, a *web.App, name, site string, roles ...quiz.Role) *quiz.Person {
	t.Helper()
	p := &quiz.Person{Name: name, Site: site, Roles: roles}
	if err := a.Store.SavePerson(context.Background(), "", p); err != nil {
		t.Fatal(err)
	}
	return p
}

// Browser is somebody at a browser without scripts.
type Browser struct {
	T      testing.TB
	Server *httptest.Server
	Client *http.Client
	Seen   *bytes.Buffer // every byte of every answer, headers too, if not nil
}

// Visit makes a browser of somebody who has not signed in.
func Visit(t testing.TB, srv *httptest.Server) *Browser {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	return &Browser{T: t, Server: srv, Client: &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
}

// As makes a browser of a person who has signed in.
func As(t testing.TB, a *web.App, srv *httptest.Server, p *quiz.Person) *Browser {
	t.Helper()
	b := Visit(t, srv)
	token, err := a.Session(context.Background(), p.ID)
	if err != nil {
		t.Fatal(err)
	}
	at, err := url.Parse(srv.URL)
	if err != nil {
		t.Fatal(err)
	}
	b.Client.Jar.SetCookies(at, []*http.Cookie{{Name: a.Sessions.Cookie.Name, Value: token, Path: "/"}})
	return b
}

// Answer is what came back.
type Answer struct {
	Status int
	Header http.Header
	Body   string
	Path   string // where the request ended after redirects that were followed
}

// JSON reads the body as JSON.
func (a Answer) JSON(t testing.TB, v any) {
	t.Helper()
	if err := json.Unmarshal([]byte(a.Body), v); err != nil {
		t.Fatalf("%v in %s", err, a.Body)
	}
}

// Do sends a request, without following redirects.
func (b *Browser) Do(req *http.Request) Answer {
	b.T.Helper()
	res, err := b.Client.Do(req)
	if err != nil {
		b.T.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		b.T.Fatal(err)
	}
	if b.Seen != nil {
		_ = res.Header.Write(b.Seen)
		b.Seen.Write(body)
	}
	return Answer{res.StatusCode, res.Header, string(body), req.URL.RequestURI()}
}

// Get asks for a page and follows redirects.
func (b *Browser) Get(path string) Answer {
	b.T.Helper()
	for range 5 {
		req, err := http.NewRequest(http.MethodGet, b.Server.URL+path, nil)
		if err != nil {
			b.T.Fatal(err)
		}
		a := b.Do(req)
		if a.Status < 300 || a.Status > 399 {
			return a
		}
		path = a.Header.Get("Location")
	}
	b.T.Fatalf("%s: too many redirects", path)
	return Answer{}
}

var csrfInput = regexp.MustCompile(`name="csrf" value="([^"]*)"`)

// CSRF gives the token of the forms on a page; any page with a form will do.
func (b *Browser) CSRF() string {
	b.T.Helper()
	req, err := http.NewRequest(http.MethodGet, b.Server.URL+"/no-such-page", nil)
	if err != nil {
		b.T.Fatal(err)
	}
	m := csrfInput.FindStringSubmatch(b.Do(req).Body)
	if m == nil {
		b.T.Fatal("there is no token against forged requests on the page")
	}
	return m[1]
}

// Post sends a form, without following the redirect.
func (b *Browser) Post(path string, fields url.Values) Answer {
	b.T.Helper()
	form := url.Values{"csrf": {b.CSRF()}}
	for k, v := range fields {
		form[k] = v
	}
	req, err := http.NewRequest(http.MethodPost, b.Server.URL+path, strings.NewReader(form.Encode()))
	if err != nil {
		b.T.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return b.Do(req)
}

// File is a file to upload.
type File struct {
	Field, Name string
	Data        []byte
}

// Upload sends a form with files, without following the redirect.
func (b *Browser) Upload(path string, fields url.Values, files ...File) Answer {
	b.T.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	_ = w.WriteField("csrf", b.CSRF())
	for k, list := range fields {
		for _, v := range list {
			_ = w.WriteField(k, v)
		}
	}
	for _, f := range files {
		part, err := w.CreateFormFile(f.Field, f.Name)
		if err != nil {
			b.T.Fatal(err)
		}
		_, _ = part.Write(f.Data)
	}
	_ = w.Close()
	req, err := http.NewRequest(http.MethodPost, b.Server.URL+path, &body)
	if err != nil {
		b.T.Fatal(err)
	}
	req.Header.Set("Content-Type", w.FormDataContentType())
	return b.Do(req)
}

// Key makes a key of something that counts once, always the same for a number.
func Key(n int) string { return fmt.Sprintf("key%013d", n) }
