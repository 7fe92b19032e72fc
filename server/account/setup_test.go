package account_test

import (
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"

	"rightpage/quiz"
	"rightpage/server/account"
	"rightpage/server/web/webtest"
)

const secret = "KQ7M-22XD"

func setup() url.Values {
	return url.Values{"secret": {" " + secret}, "organisation": {"Wexcombe Estate & Farm Services"}, "site": {"Wexcombe North"}, "zone": {"Europe/London"},
		"name": {"Ann Admin"}, "login": {"ann"}, "mail": {"ann@wexcombe.example"}, "new-password": {password}, "new-password-again": {password}, "language": {"de"}, "coordinator": {"1"}}
}

func TestSettingUpAnEmptyDatabase(t *testing.T) {
	d := open(t, account.Deps{SetupSecret: secret})
	b := webtest.Visit(t, d.srv)
	for _, path := range []string{"/", "/sign-in", "/setup", "/account"} {
		if got := b.Get(path); got.Path != "/setup" {
			t.Errorf("%s leads to %s", path, got.Path)
		}
	}
	for field, value := range map[string]string{"secret": "guess", "organisation": "", "site": "", "zone": "Mars/Base", "mail": "nobody", "new-password": "short", "new-password-again": "another", "login": ""} {
		form := setup()
		form.Set(field, value)
		got := webtest.Visit(t, d.srv).Post("/setup", form)
		wantStatus(t, field, got, http.StatusUnprocessableEntity)
		wantText(t, field, got, `id="e-`+field+`"`)
		if field != "name" {
			wantText(t, "what was typed stays", got, `value="Ann Admin"`)
		}
	}
	if people, err := d.app.Store.People(t.Context()); err != nil || len(people) != 0 {
		t.Fatalf("%v, %v", people, err)
	}
	wantTo(t, "all of it", b.Post("/setup", setup()), "/setup")
	page := b.Get("/setup")
	wantText(t, "in the language chosen", page, "Ihren Katalog laden")
	for _, path := range []string{"/catalogs", "/people/import", "/forms", "/assignments", "/settings"} {
		wantText(t, "the steps", page, `href="`+path+`"`)
	}
	people, err := d.app.Store.People(t.Context())
	if err != nil || len(people) != 1 || !people[0].Has(quiz.Administrator) || !people[0].Has(quiz.Coordinator) || people[0].Has(quiz.Technician) || people[0].Site == "" {
		t.Errorf("%+v, %v", people, err)
	}
	if s, err := d.app.Store.Settings(t.Context()); err != nil || s.Organisation != "Wexcombe Estate & Farm Services" || s.Locale != "de" {
		t.Errorf("%+v, %v", s, err)
	}
	wantStatus(t, "again", webtest.Visit(t, d.srv).Post("/setup", setup()), http.StatusConflict)
	if got := webtest.Visit(t, d.srv).Get("/setup"); !strings.HasPrefix(got.Path, "/sign-in") {
		t.Errorf("a stranger afterwards: %s", got.Path)
	}
	wantStatus(t, "a technician", webtest.As(t, d.app, d.srv, webtest.Person(t, d.app, "Tech", "", quiz.Technician)).Get("/setup"), http.StatusForbidden)
	wantTo(t, "signing in", d.signIn(t, webtest.Visit(t, d.srv), "ann", password), "/")
}

func TestWithoutASecretNobodySetsUpByTheWeb(t *testing.T) {
	d := open(t, account.Deps{})
	form := setup()
	form.Set("secret", "")
	wantStatus(t, "no secret", webtest.Visit(t, d.srv).Post("/setup", form), http.StatusUnprocessableEntity)
	wantText(t, "it says so", webtest.Visit(t, d.srv).Get("/setup"), "rightpage user add")
	if people, _ := d.app.Store.People(t.Context()); len(people) != 0 {
		t.Error("somebody is there")
	}
}

func TestGuessingTheSecretIsSlowedDown(t *testing.T) {
	d := open(t, account.Deps{SetupSecret: secret})
	b, form := webtest.Visit(t, d.srv), setup()
	form.Set("secret", "guess")
	for range 10 {
		wantStatus(t, "a guess", b.Post("/setup", form), http.StatusUnprocessableEntity)
	}
	wantStatus(t, "one too many", b.Post("/setup", setup()), http.StatusTooManyRequests)
}

// Two browsers, on two servers of one database, set up at the same moment: one
// of them becomes the administrator, and there is nobody besides.
func TestTwoBrowsersSetUp(t *testing.T) {
	d := open(t, account.Deps{SetupSecret: secret})
	other := serve(t, webtest.App(t, d.app.Store, d.clock), d.clock, account.Deps{SetupSecret: secret})
	var wait sync.WaitGroup
	answers := make([]webtest.Answer, 6)
	for i := range answers {
		b := webtest.Visit(t, []*desk{d, other}[i%2].srv)
		form := setup()
		form.Set("login", form.Get("login")+string(rune('a'+i)))
		form.Set("name", "Admin "+string(rune('a'+i)))
		wait.Go(func() { answers[i] = b.Post("/setup", form) })
	}
	wait.Wait()
	in := 0
	for _, a := range answers {
		switch a.Status {
		case http.StatusSeeOther:
			in++
		case http.StatusConflict:
		default:
			t.Errorf("status %d:\n%s", a.Status, a.Body)
		}
	}
	people, err := d.app.Store.People(t.Context())
	sites, _ := d.app.Store.Sites(t.Context())
	if err != nil || in != 1 || len(people) != 1 || len(sites) != 1 {
		t.Errorf("%d got in, %d people, %d sites, %v", in, len(people), len(sites), err)
	}
}

// A set-up that failed half-way is done again, without a second site.
func TestSettingUpAgainAfterAFailure(t *testing.T) {
	d := open(t, account.Deps{SetupSecret: secret})
	s := quiz.DefaultSettings()
	s.Organisation = "Wexcombe"
	if err := d.app.Store.SaveSettings(t.Context(), "", &s); err != nil {
		t.Fatal(err)
	}
	if err := d.app.Store.SaveSite(t.Context(), "", &quiz.Site{Name: "Wexcombe North"}); err != nil {
		t.Fatal(err)
	}
	wantTo(t, "again", webtest.Visit(t, d.srv).Post("/setup", setup()), "/setup")
	if sites, err := d.app.Store.Sites(t.Context()); err != nil || len(sites) != 1 || sites[0].Zone != "Europe/London" {
		t.Errorf("%+v, %v", sites, err)
	}
}
