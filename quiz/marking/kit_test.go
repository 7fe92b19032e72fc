package marking

import (
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/library"
	"rightpage/quiz/quiztest"
	"rightpage/quiz/store"
)

// Each check of a property works a database: fewer will do, unless asked for.
func TestMain(m *testing.M) {
	flag.Parse()
	given := false
	flag.Visit(func(f *flag.Flag) { given = given || f.Name == "rapid.checks" })
	if !given {
		_ = flag.Set("rapid.checks", "20")
	}
	os.Exit(m.Run())
}

var noon = time.Date(2031, 3, 4, 12, 0, 0, 0, time.UTC)

// shop is a workshop with a database of its own.
type shop struct {
	t       testing.TB
	s       *store.Store
	l       *library.Library
	m       *Marker
	catalog store.CatalogInfo
	at      *quiztest.Clock
}

func (x *shop) clock() time.Time     { return x.at.Now() }
func (x *shop) wait(d time.Duration) { x.at.Move(d) }

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func (x *shop) ok(err error) {
	x.t.Helper()
	if err != nil {
		x.t.Fatal(err)
	}
}

// open opens a workshop with the catalog of Quillan in force.
func open(t testing.TB) *shop {
	t.Helper()
	x := &shop{t: t, at: quiztest.NewClock(noon)}
	ctx := context.Background()
	x.s = quiztest.Open(t, x.at)
	x.l = library.New(x.s, library.Options{})
	x.m = New(x.s, x.l, Options{Now: x.clock})
	x.catalog = x.upload("quillan")
	for _, site := range []string{"north", "south"} {
		x.ok(x.s.SaveSite(ctx, "", &quiz.Site{ID: site, Name: "Site " + site}))
	}
	return x
}

// upload keeps a catalog of testdata and puts it in force.
func (x *shop) upload(folder string) store.CatalogInfo {
	x.t.Helper()
	return quiztest.Keep(x.t, x.s, "", filepath.Join("../../testdata", folder), true)
}

// person adds somebody.
func (x *shop) person(name, site string, roles ...quiz.Role) quiz.Person {
	x.t.Helper()
	if len(roles) == 0 {
		roles = []quiz.Role{quiz.Technician}
	}
	p := quiz.Person{Name: name, Site: site, Roles: roles}
	x.ok(x.s.SavePerson(context.Background(), "", &p))
	return p
}

// sites gives the IDs of the sites.
func (x *shop) sites() []string {
	var out []string
	for _, s := range must(x.s.Sites(context.Background())) {
		out = append(out, s.ID)
	}
	return out
}

// pool makes questions of the catalog of Quillan, once for all tests.
var pool = sync.OnceValue(func() []*banks.Question {
	c := must(catalog.Load("../../testdata/quillan"))
	var out []*banks.Question
	must(banks.Generate(context.Background(), banks.NewSource(resolver.New(c)), banks.Plan{Seed: 3, Size: 400, Shares: kinds.Equal()},
		func(q *banks.Question, _ []byte) bool {
			c := *q
			out = append(out, &c)
			return true
		}))
	return out
})

// pick gives the first n questions of a form.
func pick(form banks.Form, n int) []*banks.Question {
	var out []*banks.Question
	for _, q := range pool() {
		if q.Form == form && len(out) < n {
			out = append(out, q)
		}
	}
	if len(out) < n {
		panic(fmt.Sprintf("there are %d questions of form %s, not %d", len(out), form, n))
	}
	return out
}

// mixed gives questions of every form that the pool has.
func mixed() []*banks.Question {
	var out []*banks.Question
	for _, f := range banks.Forms() {
		n := 0
		for _, q := range pool() {
			if q.Form == f && n < 2 {
				out = append(out, q)
				n++
			}
		}
	}
	return out
}

// form keeps a form of the questions; each list is a variant.
func (x *shop) form(title string, variants ...[]*banks.Question) *banks.TestForm {
	x.t.Helper()
	q := variants[0][0]
	b := banks.NewBlueprint(title, len(variants[0]))
	b.Cut = 0.6
	b.Variants = len(variants)
	f := &banks.TestForm{Title: title, Catalog: q.Catalog, Revision: q.Revision, Blueprint: b}
	for i, v := range variants {
		f.Variants = append(f.Variants, banks.Variant{Name: banks.Letter(i), Questions: v})
	}
	x.ok(x.s.AddForm(context.Background(), "", f))
	return f
}

// assign gives a form to every technician.
func (x *shop) assign(f *banks.TestForm, change func(*quiz.Assignment)) quiz.Assignment {
	x.t.Helper()
	a := quiz.Assignment{Title: f.Title, Form: f.ID, Targets: []quiz.Target{{Kind: quiz.ToRole, ID: string(quiz.Technician)}}, Open: x.clock().Add(-time.Hour),
		Attempts: 2, Release: quiz.Release{When: quiz.ReleaseAtEnd, Score: true, Answers: true, Key: true, Trace: true}}
	if change != nil {
		change(&a)
	}
	x.ok(x.s.SaveAssignment(context.Background(), "", &a))
	return a
}

// right and wrong answer a question.
func right(q *banks.Question) string { return grading.KeyAnswer(q) }

func wrong(q *banks.Question) string {
	switch q.Form {
	case banks.Chase:
		return strings.Repeat("|", len(q.Steps)-1)
	case banks.Number:
		return fmt.Sprintf("%.0f %s", 3*q.Key.Number+7, q.Key.Unit)
	case banks.Ordered:
		letters := []byte(right(q))
		slices.Reverse(letters)
		return string(letters)
	}
	var list []string
	for a := range grading.SlipAnswers(q) {
		list = append(list, a)
	}
	slices.Sort(list)
	if len(list) > 0 {
		return list[0]
	}
	for i, o := range q.Options {
		if !o.Right {
			return banks.Letter(i)
		}
	}
	return "nothing of the kind"
}

// takes has a person take an assignment: answer gives the answer to question n.
func (x *shop) takes(p quiz.Person, as quiz.Assignment, answer func(n int, q *banks.Question) string) quiz.Attempt {
	x.t.Helper()
	ctx := context.Background()
	a, err := x.m.Begin(ctx, as.ID, p.ID)
	x.ok(err)
	f, err := x.m.Form(ctx, as.Form)
	x.ok(err)
	for i := range a.Questions {
		value := answer(i, f.Question(a.Variant, i))
		if value == "" {
			continue
		}
		x.wait(20 * time.Second)
		_, _, err := x.s.SaveAnswer(ctx, quiz.Save{Attempt: a.ID, Question: a.Questions[i], Key: fmt.Sprintf("save-%s-%d", a.ID, i), Value: value, Spent: 20 * time.Second})
		x.ok(err)
	}
	a, err = x.m.HandIn(ctx, a.ID, "hand-in-"+a.ID)
	x.ok(err)
	return a
}

// allRight answers everything rightly but for some questions.
func allRight(but ...int) func(int, *banks.Question) string {
	return func(n int, q *banks.Question) string {
		if slices.Contains(but, n) {
			return wrong(q)
		}
		return right(q)
	}
}

// notices counts the notices of a kind.
func (x *shop) notices(p quiz.Person, kind string) []quiz.Notice {
	x.t.Helper()
	all, err := x.s.Notices(context.Background(), p.ID, 0)
	x.ok(err)
	return slices.DeleteFunc(all, func(n quiz.Notice) bool { return n.Kind != kind })
}
