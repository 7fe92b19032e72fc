package api_test

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/pb33f/libopenapi"
	validator "github.com/pb33f/libopenapi-validator"

	"rightpage/banks"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/library"
	"rightpage/quiz/marking"
	"rightpage/quiz/progress"
	"rightpage/quiz/store"
	"rightpage/server/api"
	"rightpage/server/web"
	"rightpage/server/web/webtest"
)

const home = "https://training.wexcombe.example"

// shop is an organisation with two sites and something of everything.
type shop struct {
	t     testing.TB
	app   *web.App
	clock *webtest.Clock
	pages *api.Pages
	srv   *httptest.Server
	doc   validator.Validator

	north, south quiz.Site
	people       map[string]*quiz.Person
	tokens       map[string]string
	released     quiz.Assignment // for the north site
	held         quiz.Assignment // the same, its feedback not released
	first, held1 quiz.Attempt
	requirement  quiz.Requirement
	number       string // of the technician's certificate
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func form(title string) *banks.TestForm {
	f := &banks.TestForm{Title: title, Catalog: "Tarnfell", Revision: "3",
		Blueprint: banks.Blueprint{Title: title, Questions: 4, Book: banks.OpenBook, Order: banks.Mixed, Variants: 1, Cut: 0.5}}
	v := banks.Variant{Name: "A"}
	for i := range 4 {
		q := &banks.Question{Catalog: "Tarnfell", Revision: "3", Kind: "edition", Skill: "editions", Form: banks.OneOf,
			Stem: fmt.Sprintf("%s: which edition covers serial %d?", title, i), Trace: []banks.TraceLine{},
			Options: []banks.Option{{Text: "TF-210 edition 2", Value: "2", Right: true}, {Text: "TF-210 edition 1", Value: "1", Slip: 7}}}
		if _, err := banks.Encode(q); err != nil {
			panic(err)
		}
		v.Questions = append(v.Questions, q)
	}
	f.Variants = []banks.Variant{v}
	return f
}

func open(t *testing.T) *shop {
	t.Helper()
	return openFor(t)
}

func openFor(t testing.TB) *shop {
	t.Helper()
	app, clock := webtest.Open(t)
	ctx := context.Background()
	s := app.Store
	x := &shop{t: t, app: app, clock: clock, people: map[string]*quiz.Person{}, tokens: map[string]string{}}
	x.north, x.south = quiz.Site{Name: "Wexcombe North", Zone: "Europe/London"}, quiz.Site{Name: "Wexcombe South"}
	must(t, s.SaveSite(ctx, "", &x.north))
	must(t, s.SaveSite(ctx, "", &x.south))
	settings := quiz.DefaultSettings()
	settings.Organisation, settings.BaseURL = "Wexcombe Estate & Farm Services", home
	must(t, s.SaveSettings(ctx, "", &settings))
	add := func(who, site string, roles ...quiz.Role) {
		p := &quiz.Person{Name: "Name of " + who, Number: "S-" + who, Mail: who + "@wexcombe.example", Site: site, Roles: roles}
		must(t, s.SavePerson(ctx, "", p))
		secret, err := s.AddToken(ctx, p.ID, &quiz.Token{Person: p.ID, Name: "Staff system"})
		must(t, err)
		x.people[who], x.tokens[who] = p, secret
	}
	add("technician", x.north.ID, quiz.Technician)
	add("colleague", x.north.ID, quiz.Technician)
	add("elsewhere", x.south.ID, quiz.Technician)
	add("manager", x.north.ID, quiz.Manager)
	add("coordinator", x.south.ID, quiz.Coordinator)
	add("administrator", "", quiz.Administrator)

	m := marking.New(s, library.New(s, library.Options{}), marking.Options{Now: clock.Now})
	assign := func(title string, r quiz.Release, to ...quiz.Target) quiz.Assignment {
		f := form(title)
		must(t, s.AddForm(ctx, "", f))
		a := quiz.Assignment{Title: title, Form: f.ID, Targets: to, Open: clock.Now(), Close: clock.Now().Add(48 * time.Hour), Limit: time.Hour, Attempts: 1, Release: r}
		must(t, s.SaveAssignment(ctx, x.people["coordinator"].ID, &a))
		return a
	}
	work := func(of quiz.Assignment, who string, answers ...string) quiz.Attempt {
		a, err := m.Begin(ctx, of.ID, x.people[who].ID)
		must(t, err)
		for i, value := range answers {
			clock.Move(30 * time.Second)
			if value == "" {
				continue
			}
			_, _, err := s.SaveAnswer(ctx, quiz.Save{Attempt: a.ID, Question: a.Questions[i], Key: fmt.Sprintf("save-%s-%d", who, i), Value: value, Spent: 12340 * time.Millisecond})
			must(t, err)
		}
		a, err = m.HandIn(ctx, a.ID, "handin-"+who)
		must(t, err)
		return a
	}
	atNorth := quiz.Target{Kind: quiz.ToSite, ID: x.north.ID}
	x.released = assign("Week 10", quiz.Release{When: quiz.ReleaseAtEnd, Score: true, Answers: true}, atNorth)
	x.held = assign("Week 11", quiz.Release{When: quiz.ReleaseByHand, Score: true, Answers: true}, atNorth)
	x.first = work(x.released, "technician", "A", "B", "", "A")
	x.held1 = work(x.held, "technician", "B", "B", "B", "A")
	work(x.released, "colleague", "B", "B", "B", "B")
	away := assign("Week 12", quiz.Release{When: quiz.ReleaseAtEnd, Score: true}, quiz.Target{Kind: quiz.ToPerson, ID: x.people["elsewhere"].ID})
	work(away, "elsewhere", "A", "A", "A", "A")
	for i := range 3 {
		clock.Move(time.Minute)
		_, err := s.SavePractice(ctx, quiz.Practice{Person: x.people["technician"].ID, Key: fmt.Sprintf("practice-%d", i), At: clock.Now(), Spent: 3661500 * time.Millisecond,
			Score: grading.Score{Question: fmt.Sprintf("q%d", i), Kind: "edition", Skill: "editions", Given: "the answer as given", Right: "the key", Verdict: grading.Right, Points: 1}})
		must(t, err)
	}
	x.requirement = quiz.Requirement{Course: "Level 2", Date: clock.Now().AddDate(0, 1, 0), Skills: []quiz.SkillLevel{{Skill: "editions", Level: 0.7}}, Targets: []quiz.Target{{Kind: quiz.ToRole, ID: "technician"}}}
	must(t, s.SaveRequirement(ctx, "", &x.requirement))
	issue := func(who string) string {
		p := x.people[who]
		c := quiz.Certified{PersonID: p.ID, Certificate: certificate.Certificate{Person: p.Name, Organisation: settings.Organisation, Quiz: "Week 10",
			Skills: []certificate.Skill{{Name: "Edition for a build date", Level: "Assured"}}, CatalogTitle: "Tarnfell", CatalogRevision: "3",
			Issued: clock.Now(), Expires: clock.Now().AddDate(1, 0, 0), Lookups: []certificate.Lookup{{ID: "1", Task: "x", Answer: "y"}}}}
		must(t, s.IssueCertificate(ctx, "", "WX", &c))
		return c.Number
	}
	x.number = issue("technician")
	gone := issue("elsewhere")
	_, err := s.RevokeCertificate(ctx, "", gone, "issued to the wrong person")
	must(t, err)
	for _, revision := range []string{"2", "3"} {
		info := store.CatalogInfo{Title: "Tarnfell", Maker: "Tarnfell", Revision: revision, Issued: "2031-01"}
		must(t, s.AddCatalog(ctx, "", &info, []byte("catalog "+revision)))
		must(t, s.PutInForce(ctx, "", info.ID))
	}

	x.pages, err = api.New(app, api.Deps{Progress: progress.New(s, progress.Options{Now: clock.Now, Every: -1})})
	must(t, err)
	x.srv = webtest.Serve(t, app, x.pages.Routes())
	return x
}

// validate makes x check every answer against the document, and that it has no
// member that the document does not know: readers must bear more members, but
// none may be forgotten there.
func (x *shop) validate() *shop {
	x.t.Helper()
	var strict map[string]any
	x.raw("", "/api/v1/openapi.json").JSON(x.t, &strict)
	for name, schema := range strict["components"].(map[string]any)["schemas"].(map[string]any) {
		if s := schema.(map[string]any); s["properties"] != nil {
			s["additionalProperties"] = false
		} else if s["type"] == "object" {
			x.t.Errorf("schema %s says nothing of its members", name)
		}
	}
	text, err := json.Marshal(strict)
	must(x.t, err)
	doc, err := libopenapi.NewDocument(text)
	must(x.t, err)
	v, errs := validator.NewValidator(doc)
	if len(errs) > 0 {
		x.t.Fatal(errs)
	}
	x.doc = v
	return x
}

// ask sends a request of somebody, and checks the answer against the document.
func (x *shop) ask(who, path string, headers ...string) webtest.Answer {
	x.t.Helper()
	a := x.raw(who, path, headers...)
	if x.doc == nil {
		return a
	}
	req := x.request(who, path, headers...)
	ok, errs := x.doc.GetResponseBodyValidator().ValidateResponseBody(req, &http.Response{StatusCode: a.Status, Header: a.Header,
		Body: readCloser{strings.NewReader(a.Body)}, Request: req})
	if !ok {
		for _, e := range errs {
			x.t.Errorf("%s asks for %s: %d does not fit the document: %s: %s", who, path, a.Status, e.Message, e.Reason)
			for _, s := range e.SchemaValidationErrors {
				x.t.Errorf("  %s: %s", s.FieldPath, s.Reason)
			}
		}
		x.t.Logf("%.300s", a.Body)
	}
	return a
}

type readCloser struct{ *strings.Reader }

func (readCloser) Close() error { return nil }

func (x *shop) request(who, path string, headers ...string) *http.Request {
	x.t.Helper()
	req, err := http.NewRequest(http.MethodGet, x.srv.URL+path, nil)
	must(x.t, err)
	if who != "" {
		req.Header.Set("Authorization", "Bearer "+x.tokens[who])
	}
	if strings.HasPrefix(path, "/api/v1/statements") {
		req.Header.Set("X-Experience-API-Version", "2.0.0")
	}
	for i := 0; i+1 < len(headers); i += 2 {
		req.Header.Set(headers[i], headers[i+1])
	}
	return req
}

func (x *shop) raw(who, path string, headers ...string) webtest.Answer {
	x.t.Helper()
	return webtest.Visit(x.t, x.srv).Do(x.request(who, path, headers...))
}

// status asks without a network.
func (x *shop) status(req *http.Request) int {
	w := httptest.NewRecorder()
	x.srv.Config.Handler.ServeHTTP(w, req)
	return w.Code
}

// list reads a page of a list as plain objects.
func (x *shop) list(who, path string) (data []map[string]any, next string) {
	x.t.Helper()
	a := x.ask(who, path)
	if a.Status != http.StatusOK {
		x.t.Fatalf("%s asks for %s: %d %s", who, path, a.Status, a.Body)
	}
	var p struct {
		Data []map[string]any
		Next string
	}
	a.JSON(x.t, &p)
	return p.Data, p.Next
}

// statements reads all pages of a query for statements.
func (x *shop) statements(who, query string) []map[string]any {
	x.t.Helper()
	var all []map[string]any
	for path := "/api/v1/statements" + query; path != ""; {
		a := x.ask(who, path)
		if a.Status != http.StatusOK {
			x.t.Fatalf("%s asks for %s: %d %s", who, path, a.Status, a.Body)
		}
		var p struct {
			Statements []map[string]any
			More       string
		}
		must(x.t, json.Unmarshal([]byte(a.Body), &p))
		all, path = append(all, p.Statements...), p.More
	}
	return all
}
