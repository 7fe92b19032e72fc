package administrator_test

import (
	"context"
	"net/http/httptest"
	"strings"
	"testing"

	"rightpage/quiz"
	"rightpage/server/account"
	"rightpage/server/administrator"
	"rightpage/server/web"
	"rightpage/server/web/webtest"
)

const password = "marsh kettle oblong tariff"

// keys stands for the keys that certificates are signed with.
type keys struct{ turns []string }

func (k *keys) Warnings() []string { return []string{"the key is two years old"} }

func (k *keys) Rotate(_ context.Context, actor string) error {
	k.turns = append(k.turns, actor)
	return nil
}

// office is a server of the pages with a small shop on it.
type office struct {
	app                                      *web.App
	clock                                    *webtest.Clock
	srv                                      *httptest.Server
	accounts                                 *account.Pages
	keys                                     *keys
	site                                     quiz.Site
	admin, coordinator, manager, tech, other *quiz.Person
}

func open(t *testing.T, m account.Mailer) *office {
	t.Helper()
	o := &office{keys: &keys{}}
	o.app, o.clock = webtest.Open(t)
	var err error
	if o.accounts, err = account.New(o.app, account.Deps{Mailer: m}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(o.accounts.Wait)
	p, err := administrator.New(o.app, administrator.Deps{Account: o.accounts, Keys: o.keys})
	if err != nil {
		t.Fatal(err)
	}
	o.app.Menu = administrator.Menu()
	o.srv = webtest.Serve(t, o.app, append(p.Routes(), o.accounts.Routes()...))
	o.site = quiz.Site{Name: "Wexcombe North", Zone: "Europe/London"}
	if err := o.app.Store.SaveSite(t.Context(), "", &o.site); err != nil {
		t.Fatal(err)
	}
	o.admin = webtest.Person(t, o.app, "Ada Admin", "", quiz.Administrator)
	o.coordinator = webtest.Person(t, o.app, "Cora Coordinator", o.site.ID, quiz.Coordinator, quiz.Technician)
	o.manager = webtest.Person(t, o.app, "Max Manager", "", quiz.Manager)
	o.tech = webtest.Person(t, o.app, "Tim Technician", o.site.ID, quiz.Technician)
	o.other = webtest.Person(t, o.app, "Tess Technician", "", quiz.Technician)
	return o
}

// give gives a person an account with the password of the tests.
func (o *office) give(t *testing.T, p *quiz.Person, login string) {
	t.Helper()
	hash, err := o.app.Passwords.Hash(password)
	if err != nil {
		t.Fatal(err)
	}
	if err := o.app.Store.SaveAccount(t.Context(), "", &quiz.Account{Person: p.ID, Login: login, Hash: hash}); err != nil {
		t.Fatal(err)
	}
}

func (o *office) as(t *testing.T, p *quiz.Person) *webtest.Browser {
	return webtest.As(t, o.app, o.srv, p)
}

func (o *office) read(t *testing.T, p *quiz.Person) quiz.Person {
	t.Helper()
	x, err := o.app.Store.Person(t.Context(), p.ID)
	if err != nil {
		t.Fatal(err)
	}
	return x
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

func wantText(t *testing.T, what string, got webtest.Answer, texts ...string) {
	t.Helper()
	for _, text := range texts {
		if !strings.Contains(got.Body, text) {
			t.Errorf("%s: %q is not on the page:\n%s", what, text, got.Body)
		}
	}
}

// Every page shows, in every language, without a message missing.
func TestEveryPageShowsInEveryLanguage(t *testing.T) {
	o := open(t, account.Mailer{})
	o.give(t, o.tech, "tim")
	for _, locale := range []string{"en", "de", "es", "fr"} {
		x := o.read(t, o.admin)
		x.Locale = locale
		if err := o.app.Store.SavePerson(t.Context(), "", &x); err != nil {
			t.Fatal(err)
		}
		b := o.as(t, &x)
		for _, path := range []string{"/people", "/people?state=waiting&role=technician&site=-&q=t", "/people/new", "/people/import", "/people/" + o.tech.ID, "/people/" + o.admin.ID,
			"/people/" + o.tech.ID + "/erase", "/sites", "/sites/" + o.site.ID, "/settings", "/audit", "/backup", "/account", "/account/tokens", "/setup"} {
			got := b.Get(path)
			if got.Status != 200 || strings.Contains(got.Body, "⟦") {
				t.Errorf("%s in %s: status %d\n%s", path, locale, got.Status, got.Body)
			}
		}
	}
}
