package account_test

import (
	"encoding/json"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"rightpage/quiz"
	"rightpage/server/account"
	"rightpage/server/web/webtest"
)

func TestOnesOwnAccount(t *testing.T) {
	d := open(t, account.Deps{})
	site := &quiz.Site{Name: "Wexcombe North"}
	if err := d.app.Store.SaveSite(t.Context(), "", site); err != nil {
		t.Fatal(err)
	}
	p := webtest.Person(t, d.app, "Ann <b>", site.ID, quiz.Technician, quiz.Manager)
	b := webtest.As(t, d.app, d.srv, p)
	page := b.Get("/account")
	wantText(t, "name", page, "Ann &lt;b&gt;")
	wantText(t, "site", page, "Wexcombe North")
	save := func(version string) webtest.Answer {
		return b.Post("/account", url.Values{"language": {"fr"}, "apart": {"1"}, "version": {version}})
	}
	wantTo(t, "saving", save("1"), "/account")
	wantText(t, "in the language chosen", b.Get("/account"), "Enregistré.")
	if now, err := d.app.Store.Person(t.Context(), p.ID); err != nil || !now.Apart || now.Locale != "fr" {
		t.Errorf("%+v, %v", now, err)
	}
	wantStatus(t, "an old form", save("1"), http.StatusConflict)
	wantStatus(t, "no such language", b.Post("/account", url.Values{"language": {"xx"}, "version": {"2"}}), http.StatusUnprocessableEntity)
	// Nothing else can be changed so.
	b.Post("/account", url.Values{"language": {"en"}, "version": {"2"}, "name": {"Boss"}, "roles": {"administrator"}})
	if now, _ := d.app.Store.Person(t.Context(), p.ID); now.Name != "Ann <b>" || now.Has(quiz.Administrator) {
		t.Errorf("%+v", now)
	}
}

func TestNotices(t *testing.T) {
	d := open(t, account.Deps{})
	p, other := webtest.Person(t, d.app, "Ann", "", quiz.Technician), webtest.Person(t, d.app, "Bob", "", quiz.Technician)
	list := []quiz.Notice{
		{ID: "regraded/a1/2", Person: p.ID, Kind: quiz.NoticeRegraded, Subject: "attempt/a1", Detail: map[string]string{"assignment": "Brakes", "reason": "supplement 3",
			"before": "7", "before_of": "10", "after": "8.5", "after_of": "10", "passed": "true"}},
		{ID: "dispute/d1", Person: p.ID, Kind: quiz.NoticeDispute, Subject: "dispute/d1", Detail: map[string]string{"state": "rejected", "assignment": "Brakes", "number": "4", "attempt": "a1", "verdict": ""}},
		{ID: "n3", Person: p.ID, Kind: quiz.NoticeRevoked, Subject: "certificate/WX-1", Detail: map[string]string{"reason": "<b>fraud</b>"}},
		{ID: "n4", Person: p.ID, Kind: "of.tomorrow", Subject: "x"},
		{ID: "n5", Person: other.ID, Kind: quiz.NoticeAssignment, Subject: "assignment/s1"},
	}
	if err := d.app.Store.AddNotices(t.Context(), list); err != nil {
		t.Fatal(err)
	}
	b := webtest.As(t, d.app, d.srv, p)
	page := b.Get("/account")
	for _, text := range []string{"4 are new", "8.5 of 10 points instead of 7 of 10, passed. Reason: supplement 3", "question 4 in “Brakes” was rejected", "&lt;b&gt;fraud&lt;/b&gt;", "of.tomorrow",
		`href="/attempts/a1/feedback"`, `href="/certificates"`} {
		wantText(t, "notices", page, text)
	}
	wantTo(t, "reading one", b.Post("/account/notices", url.Values{"id": {"regraded/a1/2"}}), "/account")
	wantText(t, "after one", b.Get("/account"), "3 are new")
	wantTo(t, "all", b.Post("/account/notices", url.Values{"id": {"dispute/d1", "n3", "n4"}}), "/account")
	if got := b.Get("/account"); strings.Contains(got.Body, "are new") {
		t.Error("some are new still")
	}
	b.Post("/account/notices", url.Values{"id": {"n5"}})
	if l, err := d.app.Store.Notices(t.Context(), other.ID, 1); err != nil || !l[0].Read.IsZero() {
		t.Errorf("somebody else's was read: %+v, %v", l, err)
	}
}

func TestTheLookOfThePages(t *testing.T) {
	d := open(t, account.Deps{})
	d.add(t, "Tech", "tech", "", false, quiz.Technician)
	b := webtest.Visit(t, d.srv)
	wantTo(t, "a stranger", b.Post("/look", url.Values{"language": {"de"}, "look": {"dark"}, "back": {"/reset"}}), "/reset")
	page := b.Get("/sign-in")
	wantText(t, "language", page, `<html lang="de" data-theme="dark">`)
	wantTo(t, "nonsense", b.Post("/look", url.Values{"language": {"tlh"}, "look": {"<x>"}, "back": {"/reset"}}), "/reset")
	wantText(t, "as before", b.Get("/sign-in"), `<html lang="de" data-theme="dark">`)
	d.signIn(t, b, "tech", password)
	b.Post("/look", url.Values{"language": {"es"}, "look": {""}, "back": {"/account"}})
	wantText(t, "signed in", b.Get("/account"), `<html lang="es">`)
	other := webtest.Visit(t, d.srv) // the language belongs to the person, not to the browser
	d.signIn(t, other, "tech", password)
	wantText(t, "on another device", other.Get("/account"), `<html lang="es"`)
}

func TestOnesOwnDataIsExported(t *testing.T) {
	d := open(t, account.Deps{})
	p := d.add(t, "Ann", "ann", "", false, quiz.Technician)
	got := webtest.As(t, d.app, d.srv, p).Post("/account/export", nil)
	wantStatus(t, "export", got, http.StatusOK)
	if !json.Valid([]byte(got.Body)) || !strings.Contains(got.Body, "Ann") || strings.Contains(got.Body, "argon2id") || !strings.Contains(got.Header.Get("Content-Disposition"), "attachment") {
		t.Errorf("%v\n%s", got.Header, got.Body)
	}
}

var shown = regexp.MustCompile(`<code class="secret">([^<]+)</code>`)

func TestPersonalTokens(t *testing.T) {
	d := open(t, account.Deps{})
	p, other := webtest.Person(t, d.app, "Ann", "", quiz.Manager), webtest.Person(t, d.app, "Bob", "", quiz.Manager)
	b := webtest.As(t, d.app, d.srv, p)
	form := url.Values{"name": {"Staff system"}, "days": {"30"}, "key": {"abcdefgh12345678"}}
	made := b.Post("/account/tokens", form)
	m := shown.FindStringSubmatch(made.Body)
	if m == nil {
		t.Fatalf("no secret:\n%s", made.Body)
	}
	token, err := d.app.Store.TokenOf(t.Context(), m[1])
	if err != nil || token.Person != p.ID || !token.Expires.Equal(d.clock.Now().AddDate(0, 0, 30)) {
		t.Fatalf("%+v, %v", token, err)
	}
	wantTo(t, "the same form again", b.Post("/account/tokens", form), "/account/tokens")
	page := b.Get("/account/tokens")
	wantText(t, "it says so", page, "was made already")
	if strings.Contains(page.Body, m[1]) || strings.Count(page.Body, "/revoke\"") != 1 {
		t.Errorf("shown again, or made twice:\n%s", page.Body)
	}
	wantStatus(t, "somebody else's", webtest.As(t, d.app, d.srv, other).Post("/account/tokens/"+token.ID+"/revoke", nil), http.StatusNotFound)
	wantTo(t, "revoking", b.Post("/account/tokens/"+token.ID+"/revoke", nil), "/account/tokens")
	if _, err := d.app.Store.TokenOf(t.Context(), m[1]); quiz.ErrorCode(err) != quiz.Unidentified {
		t.Errorf("a revoked token: %v", err)
	}
	wantStatus(t, "without a name", b.Post("/account/tokens", url.Values{"days": {"30"}}), http.StatusUnprocessableEntity)
	wantStatus(t, "for ever", b.Post("/account/tokens", url.Values{"name": {"x"}, "days": {"9999"}}), http.StatusUnprocessableEntity)
	for range 20 {
		if err := func() error {
			_, err := d.app.Store.AddToken(t.Context(), p.ID, &quiz.Token{Person: p.ID, Name: "x", Expires: d.clock.Now().Add(time.Hour)})
			return err
		}(); err != nil {
			t.Fatal(err)
		}
	}
	wantStatus(t, "a twenty-first", b.Post("/account/tokens", url.Values{"name": {"x"}}), http.StatusUnprocessableEntity)
}

func TestPasswordsThatWillNotDo(t *testing.T) {
	d := open(t, account.Deps{})
	p := d.add(t, "Wexcombe Technician", "wextech2031", "", false, quiz.Technician)
	b := webtest.As(t, d.app, d.srv, p)
	for word, text := range map[string]string{
		"short": "Use 12 to 128", strings.Repeat("word ", 30): "Use 12 to 128", "passwordpassword": "guessed soon", "qwertyuiop123": "guessed soon",
		"111111111111": "guessed soon", "Wexcombe Technician": "guessed soon", "wextech2031!!": "guessed soon",
	} {
		got := b.Post("/account/password", url.Values{"old-password": {password}, "new-password": {word}, "new-password-again": {word}})
		wantStatus(t, word, got, http.StatusUnprocessableEntity)
		wantText(t, word, got, text)
	}
	got := b.Post("/account/password", url.Values{"old-password": {"wrong"}, "new-password": {"gravel lantern sixty corduroy"}, "new-password-again": {"gravel lantern sixty corduroy"}})
	wantText(t, "the wrong old one", got, "not your present password")
	elsewhere := webtest.As(t, d.app, d.srv, p)
	before := session(b)
	wantTo(t, "changing", b.Post("/account/password", url.Values{"old-password": {password}, "new-password": {"gravel lantern sixty corduroy"}, "new-password-again": {"gravel lantern sixty corduroy"}}), "/account")
	wantText(t, "here", b.Get("/account"), "Your password is changed")
	if session(b) == before {
		t.Error("the session is the same")
	}
	if got := elsewhere.Get("/account"); !strings.HasPrefix(got.Path, "/sign-in") {
		t.Errorf("elsewhere: %s", got.Path)
	}
}
