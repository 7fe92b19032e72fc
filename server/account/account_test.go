package account_test

import (
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"rightpage/quiz"
	"rightpage/server/account"
	"rightpage/server/web"
	"rightpage/server/web/webtest"
)

const password = "marsh kettle oblong tariff"

// desk is a server of the pages with one person on it.
type desk struct {
	app   *web.App
	clock *webtest.Clock
	srv   *httptest.Server
	pages *account.Pages
}

func open(t *testing.T, d account.Deps) *desk {
	t.Helper()
	a, clock := webtest.Open(t)
	return serve(t, a, clock, d)
}

func serve(t *testing.T, a *web.App, clock *webtest.Clock, d account.Deps) *desk {
	t.Helper()
	p, err := account.New(a, d)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(p.Wait)
	return &desk{app: a, clock: clock, srv: webtest.Serve(t, a, p.Routes()), pages: p}
}

// add adds a person with an account.
func (d *desk) add(t *testing.T, name, login, mail string, must bool, roles ...quiz.Role) *quiz.Person {
	t.Helper()
	hash := ""
	if !must {
		var err error
		if hash, err = d.app.Passwords.Hash(password); err != nil {
			t.Fatal(err)
		}
	}
	p := &quiz.Person{Name: name, Mail: mail, Roles: roles}
	if err := d.app.Store.AddPerson(t.Context(), "", p, login, hash, must); err != nil {
		t.Fatal(err)
	}
	return p
}

func (d *desk) signIn(t *testing.T, b *webtest.Browser, login, word string) webtest.Answer {
	t.Helper()
	return b.Post("/sign-in", url.Values{"login": {login}, "password": {word}})
}

func session(b *webtest.Browser) string {
	u, _ := url.Parse(b.Server.URL)
	for _, k := range b.Client.Jar.Cookies(u) {
		if k.Name == "session" {
			return k.Value
		}
	}
	return ""
}

func wantStatus(t *testing.T, what string, got webtest.Answer, want int) {
	t.Helper()
	if got.Status != want {
		t.Errorf("%s: status %d, want %d\n%s", what, got.Status, want, got.Body)
	}
}

func wantTo(t *testing.T, what string, got webtest.Answer, to string) {
	t.Helper()
	if got.Status != 303 || got.Header.Get("Location") != to {
		t.Errorf("%s: status %d to %q, want 303 to %q\n%s", what, got.Status, got.Header.Get("Location"), to, got.Body)
	}
}

func wantText(t *testing.T, what string, got webtest.Answer, text string) {
	t.Helper()
	if !strings.Contains(got.Body, text) {
		t.Errorf("%s: %q is not on the page:\n%s", what, text, got.Body)
	}
}

// csrf is what differs between two pages that are the same.
var csrf = regexp.MustCompile(`name="csrf" value="[^"]*"`)
