package account_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"

	"rightpage/quiz"
	"rightpage/server/account"
	"rightpage/server/web/webtest"
)

func TestEachRoleHasItsFirstPage(t *testing.T) {
	d := open(t, account.Deps{})
	for _, c := range []struct {
		roles []quiz.Role
		to    string
	}{
		{[]quiz.Role{quiz.Technician}, "/due"}, {[]quiz.Role{quiz.Coordinator}, "/assignments"},
		{[]quiz.Role{quiz.Manager}, "/readiness"}, {[]quiz.Role{quiz.Administrator}, "/people"},
		{quiz.Roles(), "/assignments"}, {[]quiz.Role{quiz.Technician, quiz.Manager}, "/readiness"},
	} {
		p := webtest.Person(t, d.app, "Somebody", "", c.roles...)
		req, _ := http.NewRequest("GET", d.srv.URL+"/", nil)
		wantTo(t, string(c.roles[0]), webtest.As(t, d.app, d.srv, p).Do(req), c.to)
	}
	req, _ := http.NewRequest("GET", d.srv.URL+"/", nil)
	wantTo(t, "a stranger", webtest.Visit(t, d.srv).Do(req), "/sign-in")
}

func TestSigningIn(t *testing.T) {
	d := open(t, account.Deps{})
	d.add(t, "Tech", "tech", "", false, quiz.Technician)
	b := webtest.Visit(t, d.srv)
	wantTo(t, "however it is written", d.signIn(t, b, " TECH ", password), "/")
	wantText(t, "signed in", b.Get("/account"), "Tech")
	wantTo(t, "signing out", b.Post("/sign-out", nil), "/sign-in")
	if got := b.Get("/account"); !strings.HasPrefix(got.Path, "/sign-in") {
		t.Errorf("signed out, but %s is shown", got.Path)
	}
	req, _ := http.NewRequest("GET", d.srv.URL+"/sign-out", nil)
	wantStatus(t, "a link that signs out", b.Do(req), http.StatusNotFound)
}

// Somebody who planted a session in another's browser is not in with it once the
// other signs in.
func TestTheSessionIsAnotherAfterSigningIn(t *testing.T) {
	d := open(t, account.Deps{})
	tech := d.add(t, "Tech", "tech", "", false, quiz.Technician)
	attacker := d.add(t, "Other", "other", "", false, quiz.Technician)
	// The attacker's own, living session is in the victim's browser.
	b := webtest.As(t, d.app, d.srv, attacker)
	planted := session(b)
	wantTo(t, "signing in", d.signIn(t, b, "tech", password), "/")
	if now := session(b); now == planted || now == "" {
		t.Fatalf("the session stayed %q", now)
	}
	if owner, err := d.app.Store.Sessions().Person(t.Context(), planted); err != nil || owner != "" {
		t.Errorf("the planted session is still that of %q, %v", owner, err)
	}
	if owner, _ := d.app.Store.Sessions().Person(t.Context(), session(b)); owner != tech.ID {
		t.Errorf("the new session is that of %q", owner)
	}
	// A made-up token is not taken up either.
	c := webtest.Visit(t, d.srv)
	u, _ := url.Parse(d.srv.URL)
	c.Client.Jar.SetCookies(u, []*http.Cookie{{Name: "session", Value: "chosen-by-somebody-else", Path: "/"}})
	d.signIn(t, c, "tech", password)
	if session(c) == "chosen-by-somebody-else" || session(c) == "" {
		t.Errorf("the session is %q", session(c))
	}
}

func TestTheAnswerDoesNotTellWhoThereIs(t *testing.T) {
	d := open(t, account.Deps{})
	d.add(t, "Tech", "tech", "", false, quiz.Technician)
	d.add(t, "New", "new", "", true, quiz.Technician) // no password yet
	gone := d.add(t, "Gone", "gone", "", false, quiz.Technician)
	gone.Left = d.clock.Now()
	if err := d.app.Store.SavePerson(t.Context(), "", gone); err != nil {
		t.Fatal(err)
	}
	var first string
	for i, c := range []struct{ login, word string }{{"nobody", password}, {"tech", "wrong"}, {"new", "wrong"}, {"gone", password}} {
		got := d.signIn(t, webtest.Visit(t, d.srv), c.login, c.word)
		wantStatus(t, c.login, got, http.StatusUnprocessableEntity)
		body := strings.ReplaceAll(got.Body, c.login, "LOGIN")
		body = body[strings.Index(body, "<main"):strings.Index(body, "</main>")]
		body = csrf.ReplaceAllString(body, "")
		if i == 0 {
			first = body
		} else if body != first {
			t.Errorf("%s: the page differs:\n%s\n%s", c.login, first, body)
		}
	}
}

func TestGuessingIsSlowedDownByLogin(t *testing.T) {
	d := open(t, account.Deps{})
	d.add(t, "Tech", "tech", "", false, quiz.Technician)
	d.add(t, "Other", "other", "", false, quiz.Technician)
	b := webtest.Visit(t, d.srv)
	tries, start := 0, d.clock.Now()
	// Two hours of guessing, as fast as it is let, from one address.
	for d.clock.Now().Sub(start) < 2*time.Hour {
		switch got := d.signIn(t, b, "tech", "guess"); got.Status {
		case http.StatusUnprocessableEntity:
			tries++
		case http.StatusTooManyRequests:
			if got.Header.Get("Retry-After") == "" {
				t.Fatal("the answer does not say how long to wait")
			}
			d.clock.Move(5 * time.Minute)
		default:
			t.Fatalf("status %d", got.Status)
		}
	}
	if tries < 17 || tries > 19 { // 10 at once, then one each quarter of an hour
		t.Errorf("%d guesses in two hours", tries)
	}
	for d.signIn(t, b, "tech", "guess").Status != http.StatusTooManyRequests {
	}
	// How the login is written makes no other count, and the right password does not get in either.
	if got := d.signIn(t, b, "TECH ", password); got.Status != http.StatusTooManyRequests {
		t.Errorf("the right password after all those: status %d", got.Status)
	}
	wantTo(t, "somebody else at the same address", d.signIn(t, webtest.Visit(t, d.srv), "other", password), "/")
	d.clock.Move(16 * time.Minute)
	wantTo(t, "a quarter of an hour later", d.signIn(t, b, "tech", password), "/")
	for range 3 {
		d.signIn(t, webtest.Visit(t, d.srv), "tech", "slip of the finger")
	}
	wantTo(t, "the count began anew", d.signIn(t, webtest.Visit(t, d.srv), "tech", password), "/")
}

func TestGuessingIsSlowedDownByAddress(t *testing.T) {
	d := open(t, account.Deps{})
	d.add(t, "Tech", "tech", "", false, quiz.Technician)
	b, refused := webtest.Visit(t, d.srv), 0
	token := b.CSRF()
	for i := range 70 { // one password, many logins
		req, _ := http.NewRequest("POST", d.srv.URL+"/sign-in", strings.NewReader(url.Values{"csrf": {token}, "login": {"user" + strings.Repeat("x", i)}, "password": {""}}.Encode()))
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		req.Header.Set("X-Forwarded-For", "198.51.100."+string(rune('0'+i%10))) // is not believed without a proxy
		if b.Do(req).Status == http.StatusTooManyRequests {
			refused++
		}
	}
	if refused != 10 {
		t.Errorf("%d of 70 were refused, want 10", refused)
	}
}

// The count is in the database: another server does not begin anew.
func TestAllServersCountTogether(t *testing.T) {
	d := open(t, account.Deps{})
	d.add(t, "Tech", "tech", "", false, quiz.Technician)
	other := serve(t, webtest.App(t, d.app.Store, d.clock), d.clock, account.Deps{})
	for i := range 10 {
		srv := []*desk{d, other}[i%2]
		wantStatus(t, "a guess", srv.signIn(t, webtest.Visit(t, srv.srv), "tech", "guess"), http.StatusUnprocessableEntity)
	}
	for _, srv := range []*desk{d, other} {
		wantStatus(t, "one too many", srv.signIn(t, webtest.Visit(t, srv.srv), "tech", "guess"), http.StatusTooManyRequests)
	}
}

func TestAWeakHashIsMadeAgain(t *testing.T) {
	d := open(t, account.Deps{})
	weak, err := argon2id.CreateHash(password, &argon2id.Params{Memory: 8 * 1024, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32})
	if err != nil {
		t.Fatal(err)
	}
	p := &quiz.Person{Name: "Tech", Roles: []quiz.Role{quiz.Technician}}
	if err := d.app.Store.AddPerson(t.Context(), "", p, "tech", weak, false); err != nil {
		t.Fatal(err)
	}
	d.signIn(t, webtest.Visit(t, d.srv), "tech", "wrong")
	if acc, _ := d.app.Store.AccountOf(t.Context(), p.ID); acc.Hash != weak {
		t.Error("a wrong password changed the hash")
	}
	wantTo(t, "signing in", d.signIn(t, webtest.Visit(t, d.srv), "tech", password), "/")
	acc, err := d.app.Store.AccountOf(t.Context(), p.ID)
	if err != nil || acc.Hash == weak {
		t.Fatalf("the hash stayed weak, %v", err)
	}
	if match, again, err := d.app.Passwords.Match(password, acc.Hash); !match || again || err != nil {
		t.Errorf("match %v, again %v, %v", match, again, err)
	}
}

func TestWhereOneGoesOnIsOnThisServer(t *testing.T) {
	d := open(t, account.Deps{})
	d.add(t, "Tech", "tech", "", false, quiz.Technician)
	for next, want := range map[string]string{
		"/due": "/due", "/quizzes/1?x=1&y=2": "/quizzes/1?x=1&y=2", "": "/", "due": "/",
		"https://bad.example/": "/", "//bad.example": "/", "///bad.example": "/", `/\bad.example`: "/", `\\bad.example`: "/",
		"/\t/bad.example": "/", "/\n/bad.example": "/", "javascript:alert(1)": "/", "/%5cbad.example": "/", "/%2f/bad.example": "/",
		" //bad.example": "/", "http:bad.example": "/",
	} {
		if got := account.Local(next); got != want {
			t.Errorf("%q leads to %q, want %q", next, got, want)
		}
	}
	for next, want := range map[string]string{"/account/tokens": "/account/tokens", "//bad.example": "/"} {
		got := webtest.Visit(t, d.srv).Post("/sign-in", url.Values{"login": {"tech"}, "password": {password}, "next": {next}})
		wantTo(t, next, got, want)
	}
	got := webtest.Visit(t, d.srv).Get("/sign-in?next=" + url.QueryEscape("//bad.example"))
	wantText(t, "the form", got, `name="next" value="/"`)
	b := webtest.Visit(t, d.srv)
	wantTo(t, "the look", b.Post("/look", url.Values{"look": {"dark"}, "back": {"//bad.example"}}), "/")
}

func TestAPasswordSetByAnotherHasToBeChanged(t *testing.T) {
	d := open(t, account.Deps{})
	hash, err := d.app.Passwords.Hash("temporary words for you")
	if err != nil {
		t.Fatal(err)
	}
	p := &quiz.Person{Name: "Tech", Roles: []quiz.Role{quiz.Technician}}
	if err := d.app.Store.AddPerson(t.Context(), "", p, "tech", hash, true); err != nil {
		t.Fatal(err)
	}
	b := webtest.Visit(t, d.srv)
	wantTo(t, "signing in", d.signIn(t, b, "tech", "temporary words for you"), "/account/password")
	for _, path := range []string{"/account", "/account/tokens", "/signed-in"} {
		if got := b.Get(path); got.Path != "/account/password" {
			t.Errorf("%s leads to %s", path, got.Path)
		}
	}
	change := func(old, now string) webtest.Answer {
		return b.Post("/account/password", url.Values{"old-password": {old}, "new-password": {now}, "new-password-again": {now}})
	}
	wantStatus(t, "without the old one", change("", password), http.StatusUnprocessableEntity)
	wantStatus(t, "the same again", change("temporary words for you", "temporary words for you"), http.StatusUnprocessableEntity)
	wantTo(t, "changed", change("temporary words for you", password), "/")
	wantText(t, "after", b.Get("/account"), "Your password is changed")
	wantTo(t, "the next time", d.signIn(t, webtest.Visit(t, d.srv), "tech", password), "/")
}

func TestWhatIsToBeDoneOnceSignedIn(t *testing.T) {
	d := open(t, account.Deps{})
	d.add(t, "Tech", "tech", "", false, quiz.Technician)
	b := webtest.Visit(t, d.srv)
	d.signIn(t, b, "tech", password)
	wantText(t, "the other tab", b.Get("/signed-in"), "Close this tab")
	log, err := d.app.Store.AuditLog(t.Context(), 0, 1)
	if err != nil || log[0].Action != "session.begin" {
		t.Errorf("the audit log ends with %v, %v", log, err)
	}
}
