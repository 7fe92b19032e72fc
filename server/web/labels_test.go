package web_test

import (
	"net/http"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/store"
	"rightpage/server/web"
	"rightpage/server/web/webtest"
)

// The summary of what is wrong names the fields by their labels, in the visitor's
// language, however the page writes them.
func TestFaultsNameTheirFields(t *testing.T) {
	a, _ := webtest.Open(t)
	set, err := a.Pages(fstest.MapFS{
		"pages/account-own.html": {Data: []byte(`{{define "content"}}{{template "faults" .Data}}{{template "rest" .}}` +
			`{{if .Data}}<div><label for="f-hand">{{t "account.site"}}</label><input id="f-hand"></div>{{end}}` +
			`<fieldset class="x" id="f-group"><legend>{{t "account.login"}}</legend></fieldset>` +
			`<label for="f-filled">{{t "account.tokens.many" "Most" 3}}</label>` +
			`{{template "field" (dict "name" "twice" "label" "account.site" "type" "text" "faults" .Data)}}{{end}}`)},
		"pages/_rest.html": {Data: []byte(`{{define "rest"}}{{template "field" dict "name" "part" "label" "account.password" "type" "text" "faults" .Data}}` +
			`{{template "field" dict "name" "twice" "label" "account.login" "type" "text"}}{{end}}`)},
	})
	if err != nil {
		t.Fatal(err)
	}
	names := []string{"hand", "group", "part", "twice", "filled", "unknown"}
	srv := webtest.Serve(t, a, []web.Route{{Method: "GET", Path: "/x", Access: web.Access{Public: true}, Handle: func(c *web.Context) error {
		f := c.Form()
		for _, n := range names {
			f.Text(n, true, 10)
		}
		return c.PageStatus(set, http.StatusUnprocessableEntity, "account-own", f.Faults)
	}}})
	for language, want := range map[string]map[string]string{
		"en": {"hand": "Site: This is needed.", "group": "Login: This is needed.", "part": "Password: This is needed.",
			"twice": "This is needed.", "filled": "This is needed.", "unknown": "This is needed."},
		"fr": {"hand": "Site : Ceci est nécessaire.", "unknown": "Ceci est nécessaire."},
	} {
		page := in(t, webtest.Visit(t, srv), language, "/x").Body
		for name, text := range want {
			if link := `<a href="#f-` + name + `">` + text + `</a>`; !strings.Contains(page, link) {
				t.Errorf("%s: there is no %s in\n%s", language, link, page)
			}
		}
	}
}

// What a page of an error says is in the visitor's language, apart from a detail
// that is marked as English and left out where it adds nothing.
func TestErrorsAreSaidInTheLanguageOfTheVisitor(t *testing.T) {
	a, _ := webtest.Open(t)
	fail := map[string]error{
		"closed":   &quiz.Error{Code: quiz.Closed, Text: "week 10 closed on 2031-03-04", Mend: "ask the coordinator"},
		"missing":  quiz.Errorf(quiz.NotFound, "there is no such quiz"),
		"internal": quiz.Errorf(quiz.Internal, "the disk hums"),
	}
	routes := []web.Route{{Method: "GET", Path: "/often", Access: web.Access{Public: true}, Rate: &store.Rate{Burst: 1, Every: 90 * time.Second},
		Handle: func(c *web.Context) error { return c.NoContent(http.StatusNoContent) }}}
	for path, err := range fail {
		routes = append(routes, web.Route{Method: "GET", Path: "/" + path, Access: web.Access{Public: true}, Handle: func(*web.Context) error { return err }})
	}
	b := webtest.Visit(t, webtest.Serve(t, a, routes))
	for _, c := range []struct{ path, has, hasNot string }{
		{"/closed", `<span lang="en">Week 10 closed on 2031-03-04. Ask the coordinator.</span>`, "Not now"},
		{"/closed", "Das geht jetzt nicht", "It is too late"},
		{"/missing", "Nicht gefunden", "such quiz"},
		{"/internal", "Unser Fehler", "hums"},
		{"/often", "", ""},
		{"/often", "Warten Sie 1 Min. 30 s", "too many requests"},
	} {
		got := in(t, b, "de", c.path)
		if !strings.Contains(got.Body, c.has) || c.hasNot != "" && strings.Contains(got.Body, c.hasNot) {
			t.Errorf("%s: status %d, with %q and without %q:\n%s", c.path, got.Status, c.has, c.hasNot, got.Body)
		}
	}
}

// in asks for a page in a language.
func in(t *testing.T, b *webtest.Browser, language, path string) webtest.Answer {
	t.Helper()
	req, err := http.NewRequest(http.MethodGet, b.Server.URL+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Accept-Language", language)
	a := b.Do(req)
	a.Body = strings.ReplaceAll(a.Body, "\u00a0", " ")
	return a
}
