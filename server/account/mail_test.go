package account_test

import (
	"errors"
	"mime"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-smtp"

	"rightpage/quiz"
	"rightpage/server/account"
	"rightpage/server/account/postbox"
	"rightpage/server/web/webtest"
)

var codeInText = regexp.MustCompile(`[0-9A-Z]{4}-[0-9A-Z]{4}-[0-9A-Z]{4}`)

func TestAPasswordIsResetByMail(t *testing.T) {
	box := postbox.Open(t)
	d := open(t, account.Deps{Mailer: box.Mailer()})
	p := d.add(t, "Jürgen Öhm", "ohm", "ohm@wexcombe.example", false, quiz.Technician)
	p.Locale = "de"
	if err := d.app.Store.SavePerson(t.Context(), "", p); err != nil {
		t.Fatal(err)
	}
	s := quiz.DefaultSettings()
	s.Organisation, s.BaseURL = "Wexcombe", "https://training.wexcombe.example"
	if err := d.app.Store.SaveSettings(t.Context(), "", &s); err != nil {
		t.Fatal(err)
	}
	elsewhere := webtest.As(t, d.app, d.srv, p)
	b := webtest.Visit(t, d.srv)
	form := b.Get("/reset")
	wantText(t, "the form", form, "login or mail address")
	// The request says it came to another server: the link does not believe it.
	req, _ := http.NewRequest("POST", d.srv.URL+"/reset", strings.NewReader(url.Values{"csrf": {b.CSRF()}, "who": {"OHM@wexcombe.example"}}.Encode()))
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	for _, k := range b.Client.Jar.Cookies(req.URL) {
		req.AddCookie(k)
	}
	req.Host = "bad.example"
	wantText(t, "the answer", b.Do(req), "Look into your mail")
	d.pages.Wait()
	if len(box.All()) != 1 {
		t.Fatalf("%d mails arrived", len(box.All()))
	}
	m := box.All()[0]
	subject, err := new(mime.WordDecoder).DecodeHeader(m.Header.Get("Subject"))
	if err != nil || subject != "Ihr Einmalcode für rightpage" || m.To != "ohm@wexcombe.example" || m.From != "training@wexcombe.example" || !m.Secret ||
		m.Header.Get("Date") == "" || m.Header.Get("Message-Id") == "" || m.Header.Get("Auto-Submitted") != "auto-generated" {
		t.Errorf("the mail is %+v, %q, %v", m, subject, err)
	}
	code := codeInText.FindString(m.Text)
	if !strings.Contains(m.Text, "Jürgen Öhm") || !strings.Contains(m.Text, "https://training.wexcombe.example/code?code="+code) || strings.Contains(m.Text, "bad.example") {
		t.Errorf("the text is %s", m.Text)
	}
	b.Get("/code?code=" + code) // as a program that looks at links does
	page := b.Get("/code?code=" + code)
	wantText(t, "the link", page, `value="`+code+`"`)
	use := func(code, now, again string) webtest.Answer {
		return b.Post("/code", url.Values{"code": {code}, "new-password": {now}, "new-password-again": {again}})
	}
	wantStatus(t, "too short", use(code, "short", "short"), http.StatusUnprocessableEntity)
	wantStatus(t, "two different", use(code, password, password+"x"), http.StatusUnprocessableEntity)
	const now = "gravel lantern sixty corduroy"
	wantTo(t, "the code", use(code, now, now), "/")
	wantText(t, "signed in", b.Get("/account"), "Jürgen Öhm")
	if got := elsewhere.Get("/account"); !strings.HasPrefix(got.Path, "/sign-in") {
		t.Errorf("a session elsewhere is still in at %s", got.Path)
	}
	wantStatus(t, "the code again", webtest.Visit(t, d.srv).Post("/code", url.Values{"code": {code}, "new-password": {now}, "new-password-again": {now}}), http.StatusUnprocessableEntity)
	wantStatus(t, "the old password", d.signIn(t, webtest.Visit(t, d.srv), "ohm", password), http.StatusUnprocessableEntity)
	wantTo(t, "the new password", d.signIn(t, webtest.Visit(t, d.srv), "ohm", now), "/")
	d.pages.Wait()
	if l := box.All(); len(l) != 2 || !strings.Contains(l[1].Text, "wurde geändert") {
		t.Errorf("the owner is not told: %+v", l)
	}
}

func TestTheAnswerToAResetTellsNothing(t *testing.T) {
	box := postbox.Open(t)
	d := open(t, account.Deps{Mailer: box.Mailer()})
	d.add(t, "Tech", "tech", "tech@wexcombe.example", false, quiz.Technician)
	d.add(t, "Paper", "paper", "", false, quiz.Technician) // no mailbox
	gone := d.add(t, "Gone", "gone", "gone@wexcombe.example", false, quiz.Technician)
	gone.Left = d.clock.Now()
	if err := d.app.Store.SavePerson(t.Context(), "", gone); err != nil {
		t.Fatal(err)
	}
	noAccount := &quiz.Person{Name: "None", Mail: "none@wexcombe.example", Roles: []quiz.Role{quiz.Technician}}
	if err := d.app.Store.SavePerson(t.Context(), "", noAccount); err != nil {
		t.Fatal(err)
	}
	var first string
	for _, who := range []string{"tech", "nobody", "paper", "gone", "gone@wexcombe.example", "none@wexcombe.example", "nobody@wexcombe.example"} {
		got := webtest.Visit(t, d.srv).Post("/reset", url.Values{"who": {who}})
		wantStatus(t, who, got, http.StatusOK)
		body := csrf.ReplaceAllString(got.Body, "")
		if first == "" {
			first = body
		} else if body != first {
			t.Errorf("%s: the page differs", who)
		}
	}
	d.pages.Wait()
	if l := box.All(); len(l) != 1 || l[0].To != "tech@wexcombe.example" || strings.Contains(l[0].Text, "://") {
		t.Errorf("mails: %+v", l)
	}
	// Nobody's mailbox is filled by asking again and again.
	for range 10 {
		webtest.Visit(t, d.srv).Post("/reset", url.Values{"who": {"tech"}})
	}
	d.pages.Wait()
	if n := len(box.All()); n != 3 {
		t.Errorf("%d mails arrived, want 3", n)
	}
}

func TestACodeIsValidForAnHour(t *testing.T) {
	box := postbox.Open(t)
	d := open(t, account.Deps{Mailer: box.Mailer()})
	d.add(t, "Tech", "tech", "tech@wexcombe.example", false, quiz.Technician)
	webtest.Visit(t, d.srv).Post("/reset", url.Values{"who": {"tech"}})
	d.pages.Wait()
	d.clock.Move(61 * time.Minute)
	code := codeInText.FindString(box.All()[0].Text)
	got := webtest.Visit(t, d.srv).Post("/code", url.Values{"code": {code}, "new-password": {password}, "new-password-again": {password}})
	wantStatus(t, "after an hour", got, http.StatusUnprocessableEntity)
	wantText(t, "after an hour", got, "not valid any more")
}

func TestMailThatCannotBeSent(t *testing.T) {
	box := postbox.Open(t)
	send := func(m account.Mailer) error {
		return m.Send(t.Context(), "tech@wexcombe.example", "Subject\r\nBcc: all@wexcombe.example", "Text")
	}
	if err := send(box.Mailer()); err != nil {
		t.Fatal(err)
	}
	if m := box.All()[0]; m.Header.Get("Bcc") != "" {
		t.Errorf("a header was slipped in: %v", m.Header)
	}
	wrong := box.Mailer()
	wrong.Password = "x"
	untrusted := box.Mailer()
	untrusted.Roots = nil
	plain := box.Mailer()
	plain.TLS = account.TLSNone
	away := box.Mailer()
	away.Port = 1
	for name, m := range map[string]account.Mailer{"wrong password": wrong, "a stranger's certificate": untrusted, "no TLS, so no password is sent": plain, "no server": away} {
		if err := send(m); quiz.ErrorCode(err) != quiz.Unavailable {
			t.Errorf("%s: %v", name, err)
		}
	}
	box.Refuse(&smtp.SMTPError{Code: 550, Message: "no mailbox tech@wexcombe.example here"})
	if err := send(box.Mailer()); err == nil || strings.Contains(err.Error(), "tech@") || !strings.Contains(err.Error(), "550") {
		t.Errorf("a receiver that is refused: %v", err)
	}
	if err := (account.Mailer{Host: "localhost", From: "x"}).Check(); quiz.ErrorCode(err) != quiz.Invalid {
		t.Errorf("a sender that is no address: %v", err)
	}
	var q *quiz.Error
	if err := (account.Mailer{Host: "localhost", From: "a@b.example", TLS: "perhaps"}).Check(); !errors.As(err, &q) || q.Code != quiz.Invalid {
		t.Errorf("no such way: %v", err)
	}
	if len(box.All()) != 1 {
		t.Errorf("%d mails arrived", len(box.All()))
	}
}

func TestWithoutMailPeopleAreToldSo(t *testing.T) {
	d := open(t, account.Deps{})
	d.add(t, "Tech", "tech", "tech@wexcombe.example", false, quiz.Technician)
	b := webtest.Visit(t, d.srv)
	wantText(t, "signing in", b.Get("/sign-in"), "ask the coordinator for a one-time code")
	wantText(t, "resetting", b.Get("/reset"), "ask the coordinator for a one-time code")
	wantStatus(t, "all the same", b.Post("/reset", url.Values{"who": {"tech"}}), http.StatusUnprocessableEntity)
}

// A printed code is used by somebody who has no mailbox and never had a password.
func TestAPrintedCode(t *testing.T) {
	d := open(t, account.Deps{})
	p := d.add(t, "Ann Technician", "ann.technician", "", true, quiz.Technician)
	use := func(b *webtest.Browser, code, now string) webtest.Answer {
		return b.Post("/code", url.Values{"code": {code}, "new-password": {now}, "new-password-again": {now}})
	}
	code, err := d.app.Store.IssueCode(t.Context(), "", p.ID, 24*time.Hour)
	if err != nil {
		t.Fatal(err)
	}
	b := webtest.Visit(t, d.srv)
	wantStatus(t, "an easy one", use(b, code, "123456789012"), http.StatusUnprocessableEntity)
	// What only the owner's name tells is known when the code is used.
	wantTo(t, "her name", use(b, strings.ToLower(code), "Ann Technician"), "/account/password")
	if got := b.Get("/account"); got.Path != "/account/password" || strings.Contains(got.Body, `name="old"`) {
		t.Errorf("%s:\n%s", got.Path, got.Body)
	}
	wantTo(t, "another", b.Post("/account/password", url.Values{"new-password": {password}, "new-password-again": {password}}), "/")
	wantTo(t, "the next time", d.signIn(t, webtest.Visit(t, d.srv), "ann.technician", password), "/")
	// Who has it has the old password from then on.
	wantStatus(t, "without the old one", b.Post("/account/password", url.Values{"new-password": {"another one for tuesday evening"}, "new-password-again": {"another one for tuesday evening"}}), http.StatusUnprocessableEntity)
}

func TestGuessingCodesIsSlowedDown(t *testing.T) {
	d := open(t, account.Deps{})
	b, refused := webtest.Visit(t, d.srv), 0
	for range 25 {
		if b.Post("/code", url.Values{"code": {"AAAA-AAAA-AAAA"}, "new-password": {password}, "new-password-again": {password}}).Status == http.StatusTooManyRequests {
			refused++
		}
	}
	if refused != 5 {
		t.Errorf("%d of 25 were refused, want 5", refused)
	}
}
