package technician_test

import (
	"context"
	"fmt"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strconv"
	"testing"
	"time"

	"rightpage/banks"
	"rightpage/banks/resolver"
	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/library"
	"rightpage/quiz/marking"
	"rightpage/quiz/progress"
	"rightpage/quiz/quiztest"
	"rightpage/quiz/store"
	"rightpage/server/technician"
	"rightpage/server/web"
	"rightpage/server/web/webtest"
)

// shop is a workshop with a database, pages and a technician of its own.
type shop struct {
	t     testing.TB
	app   *web.App
	clock *webtest.Clock
	srv   *httptest.Server
	m     *marking.Marker
	l     *library.Library
	p     *progress.Progress
	tech  *quiz.Person
	boss  *quiz.Person
}

// issuer stands for package issuing.
type issuer struct{ x *shop }

func (i issuer) Files(ctx context.Context, number string) (store.Files, error) {
	return i.x.app.Store.CertificateFiles(ctx, number)
}

func (i issuer) Standing(_ context.Context, c quiz.Certified) certificate.Standing {
	return c.Standing(certificate.DefaultPolicy(), i.x.clock.Now())
}

func (i issuer) TopUp(ctx context.Context, actor, number string) (quiz.Assignment, error) {
	a := quiz.Assignment{Title: "Top-up " + number, Form: i.x.form("Top-up", oneOf(0)).ID, Targets: []quiz.Target{{Kind: quiz.ToPerson, ID: actor}},
		Open: i.x.clock.Now(), Attempts: 1, Release: quiz.Release{When: quiz.ReleaseNever}}
	return a, i.x.app.Store.SaveAssignment(ctx, "", &a)
}

func open(t testing.TB) *shop {
	t.Helper()
	x := &shop{t: t}
	x.app, x.clock = webtest.Open(t)
	x.l = library.New(x.app.Store, library.Options{BankSize: 300})
	x.m = marking.New(x.app.Store, x.l, marking.Options{Now: x.clock.Now})
	x.p = progress.New(x.app.Store, progress.Options{Now: x.clock.Now, Every: -1})
	x.tech = webtest.Person(t, x.app, "Tam Reed", "", quiz.Technician)
	x.boss = webtest.Person(t, x.app, "Bo Lund", "", quiz.Coordinator)
	pages, err := technician.New(x.app, technician.Deps{Marker: x.m, Library: x.l, Progress: x.p, Issuer: issuer{x}, Secret: []byte("a secret of the tests")})
	x.ok(err)
	x.app.Menu = technician.Menu()
	x.srv = webtest.Serve(t, x.app, pages.Routes())
	return x
}

func (x *shop) ok(err error) {
	x.t.Helper()
	if err != nil {
		x.t.Fatal(err)
	}
}

// browse is a browser of the technician.
func (x *shop) browse() *webtest.Browser { return webtest.As(x.t, x.app, x.srv, x.tech) }

// stock puts the catalog of Quillan in force.
func (x *shop) stock() *library.Entry {
	x.t.Helper()
	info := quiztest.Keep(x.t, x.app.Store, "", "../../testdata/quillan", true)
	e, err := x.l.Entry(x.t.Context(), info.ID)
	x.ok(err)
	return e
}

// form keeps a form of the questions.
func (x *shop) form(title string, questions ...*banks.Question) *banks.TestForm {
	x.t.Helper()
	b := banks.NewBlueprint(title, len(questions))
	f := &banks.TestForm{Title: title, Catalog: questions[0].Catalog, Revision: questions[0].Revision, Blueprint: b,
		Variants: []banks.Variant{{Name: "A", Questions: questions}}}
	x.ok(x.app.Store.AddForm(context.Background(), "", f))
	return f
}

// assign gives a form to every technician.
func (x *shop) assign(f *banks.TestForm, change func(*quiz.Assignment)) quiz.Assignment {
	x.t.Helper()
	a := quiz.Assignment{Title: f.Title, Form: f.ID, Targets: []quiz.Target{{Kind: quiz.ToRole, ID: string(quiz.Technician)}}, Open: x.clock.Now().Add(-time.Hour),
		Attempts: 1, Release: quiz.Release{When: quiz.ReleaseAtEnd, Score: true, Answers: true, Key: true, Trace: true}}
	if change != nil {
		change(&a)
	}
	x.ok(x.app.Store.SaveAssignment(context.Background(), "", &a))
	return a
}

// answers lists the answers of an attempt as they stand, in the order of its questions.
func (x *shop) answers(attempt string) []string {
	x.t.Helper()
	a, err := x.app.Store.Attempt(x.t.Context(), attempt)
	x.ok(err)
	all, err := x.app.Store.Answers(x.t.Context(), attempt)
	x.ok(err)
	latest := quiz.Latest(all)
	var list []string
	for _, id := range a.Questions {
		list = append(list, latest[id].Value)
	}
	return list
}

// attempt starts an attempt in a browser and gives its ID.
func (x *shop) attempt(b *webtest.Browser, a quiz.Assignment) string {
	x.t.Helper()
	got := b.Post("/quizzes/"+a.ID, nil)
	if got.Status != 303 {
		x.t.Fatalf("start: status %d\n%s", got.Status, got.Body)
	}
	return regexp.MustCompile(`^/attempts/([a-z0-9]+)`).FindStringSubmatch(got.Header.Get("Location"))[1]
}

var hiddenField = regexp.MustCompile(`<input type="hidden" name="(key|base|shown)" value="([^"]*)">`)

// hidden gives the hidden fields of the form on a page, as a browser would send
// them.
func hidden(body string) url.Values {
	v := url.Values{}
	for _, m := range hiddenField.FindAllStringSubmatch(body, -1) {
		v.Set(m[1], m[2])
	}
	return v
}

// with gives fields with others added.
func with(v url.Values, pairs ...string) url.Values {
	for i := 0; i+1 < len(pairs); i += 2 {
		v.Add(pairs[i], pairs[i+1])
	}
	return v
}

// The questions below come in pairs: key chooses what is right, and nothing else
// differs between the two.

func tracing(key any) []banks.TraceLine {
	return []banks.TraceLine{{Step: resolver.CodeStep, Result: "Dellow 40"}, {Step: resolver.EditionStep, Result: fmt.Sprint("secret ", key)}}
}

func oneOf(key int) *banks.Question {
	return quiztest.Sealed(&banks.Question{Kind: "edition", Skill: "editions", Form: banks.OneOf, Stem: "Which edition holds?", Order: []banks.Line{{Label: "Model", Value: "D40"}},
		Options: quiztest.Choices(key, "Edition 1", "Edition 2", "Edition 3"), Trace: tracing(key), Hazards: []string{"fuel"}, Cautions: []string{"Relieve the pressure first."}})
}

func someOf(key int) *banks.Question {
	q := &banks.Question{Kind: "due", Skill: "services due", Form: banks.SomeOf, Stem: "Which services are due?", Options: quiztest.Choices(key, "Oil", "Filter", "Belt"), Trace: tracing(key)}
	q.Options[2].Right, q.Options[2].Slip = true, resolver.NoSlip
	return quiztest.Sealed(q)
}

func typed(key int) *banks.Question {
	return quiztest.Sealed(&banks.Question{Kind: "location", Skill: "locations", Form: banks.Typed, Stem: "On which page is it?",
		Key: banks.Key{Accept: []string{[]string{"page 4711", "page 1147"}[key]}, Charset: "code"}, Trace: tracing(key)})
}

func quantity(key int) *banks.Question {
	return quiztest.Sealed(&banks.Question{Kind: "specification", Skill: "specifications", Form: banks.Number, Stem: "What torque?",
		Key: banks.Key{Number: []float64{4711, 1147}[key], Unit: []string{"N·m", "lbf·ft"}[key]}, Trace: tracing(key)})
}

func ordered(key int) *banks.Question {
	q := &banks.Question{Kind: "next-step", Skill: "test steps", Form: banks.Ordered, Stem: "In which order?", Options: quiztest.Choices(-1, "First", "Second", "Third"), Trace: tracing(key)}
	q.Key.Order = []string{"value Second", "value First", "value Third"}
	if key == 1 {
		q.Key.Order = []string{"value Third", "value First", "value Second"}
	}
	for i := range q.Options {
		q.Options[i].Slip = resolver.NoSlip
	}
	return quiztest.Sealed(q)
}

func chase(key int) *banks.Question {
	return quiztest.Sealed(&banks.Question{Kind: "chase", Skill: "whole chase", Form: banks.Chase, Stem: "Find the page.", Trace: tracing(key), Steps: []banks.ChaseStep{
		{Step: resolver.GroupStep, Ask: "Which group?", Options: quiztest.Choices(key, "Cooling", "Fuel")},
		{Step: resolver.LocationStep, Ask: "Which page?", Accept: []string{[]string{"4711", "1147"}[key]}},
	}})
}

// everyForm gives a question of every response form.
func everyForm(key int) []*banks.Question {
	return []*banks.Question{oneOf(key), someOf(key), typed(key), quantity(key), ordered(key), chase(key)}
}

// rightFields are the fields that answer everyForm(0) rightly.
func rightFields() []url.Values {
	return []url.Values{
		{"answer": {"A"}}, {"answer": {"A", "C"}}, {"answer": {"Page 4711"}}, {"number": {"4711"}, "unit": {"Nm"}},
		{"place1": {"2"}, "place2": {"1"}, "place3": {"3"}}, {"step1": {"A"}, "step2": {"4711"}},
	}
}

// question is the path of a question of an attempt, counted from 1.
func question(attempt string, n int) string {
	return "/attempts/" + attempt + "/questions/" + strconv.Itoa(n)
}
