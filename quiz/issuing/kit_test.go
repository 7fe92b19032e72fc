package issuing

import (
	"context"
	"fmt"
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
	"rightpage/quiz/marking"
	"rightpage/quiz/quiztest"
	"rightpage/quiz/store"
)

var noon = time.Date(2031, 3, 4, 12, 0, 0, 0, time.UTC)

const base = "https://training.wexcombe.example"

// office is an organisation that issues certificates, with a database of its
// own.
type office struct {
	t      testing.TB
	s      *store.Store
	l      *library.Library
	m      *marking.Marker
	x      *Issuer
	person quiz.Person
	boss   quiz.Person
	at     *quiztest.Clock
}

func (o *office) clock() time.Time     { return o.at.Now() }
func (o *office) wait(d time.Duration) { o.at.Move(d) }

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func (o *office) ok(err error) {
	o.t.Helper()
	if err != nil {
		o.t.Fatal(err)
	}
}

func open(t testing.TB) *office {
	t.Helper()
	o := &office{t: t, at: quiztest.NewClock(noon)}
	ctx := context.Background()
	o.s = quiztest.Open(t, o.at)
	o.l = library.New(o.s, library.Options{BankSize: 600})
	o.m = marking.New(o.s, o.l, marking.Options{Now: o.clock})
	keys, err := OpenKeys(filepath.Join(t.TempDir(), "keys.json"), "")
	o.ok(err)
	o.x = New(o.s, o.m, o.l, keys, Options{Now: o.clock})
	settings := quiz.DefaultSettings()
	settings.Organisation, settings.Prefix, settings.BaseURL, settings.Signatory = "Wexcombe Estate & Farm Services", "WX", base, "R. Ashcombe"
	o.ok(o.s.SaveSettings(ctx, "", &settings))
	o.put("quillan")
	site := quiz.Site{Name: "North yard"}
	o.ok(o.s.SaveSite(ctx, "", &site))
	o.person = quiz.Person{Name: "Ilse Marrow", Site: site.ID, Roles: []quiz.Role{quiz.Technician}}
	o.boss = quiz.Person{Name: "R. Ashcombe", Roles: []quiz.Role{quiz.Coordinator}}
	o.ok(o.s.SavePerson(ctx, "", &o.person))
	o.ok(o.s.SavePerson(ctx, "", &o.boss))
	return o
}

// keep keeps a catalog of testdata.
func (o *office) keep(folder string) store.CatalogInfo {
	o.t.Helper()
	return quiztest.Keep(o.t, o.s, o.boss.ID, filepath.Join("../../testdata", folder), false)
}

// put keeps a catalog and puts it in force.
func (o *office) put(folder string) store.CatalogInfo {
	o.t.Helper()
	return quiztest.Keep(o.t, o.s, o.boss.ID, filepath.Join("../../testdata", folder), true)
}

// pool is questions of the catalog of Quillan, apart by what its next revision
// makes of them; made once for all tests.
type pool struct {
	same, newKey, void []*banks.Question
}

var pools = sync.OnceValue(func() pool {
	old, next := must(catalog.Load("../../testdata/quillan")), must(catalog.Load("../../testdata/quillan-next"))
	change := grading.Revision(resolver.New(next))
	var p pool
	must(banks.Generate(context.Background(), banks.NewSource(resolver.New(old)), banks.Plan{Seed: 11, Size: 6000, Shares: kinds.Equal()},
		func(q *banks.Question, _ []byte) bool {
			c := *q
			switch change(&c).Outcome {
			case grading.Unchanged:
				if len(p.same) < 400 {
					p.same = append(p.same, &c)
				}
			case grading.KeyChanged:
				p.newKey = append(p.newKey, &c)
			case grading.Void:
				p.void = append(p.void, &c)
			}
			return true
		}))
	return p
})

// distinct takes n questions of a list, no two of which are near-duplicates.
func distinct(list []*banks.Question, n int) []*banks.Question {
	var out []*banks.Question
	for _, q := range list {
		if len(out) < n && !slices.ContainsFunc(out, func(o *banks.Question) bool { return banks.NearDuplicates(o, q) || lookupID(o) == lookupID(q) }) {
			out = append(out, q)
		}
	}
	if len(out) < n {
		panic(fmt.Sprintf("there are %d such questions, not %d", len(out), n))
	}
	return out
}

// assign gives a form of the questions to every technician.
func (o *office) assign(title string, questions ...*banks.Question) quiz.Assignment {
	o.t.Helper()
	ctx := context.Background()
	b := banks.NewBlueprint(title, len(questions))
	b.Cut = 0.6
	f := &banks.TestForm{Title: title, Catalog: questions[0].Catalog, Revision: questions[0].Revision, Blueprint: b,
		Variants: []banks.Variant{{Name: "A", Questions: questions}}}
	o.ok(o.s.AddForm(ctx, "", f))
	a := quiz.Assignment{Title: title, Form: f.ID, Targets: []quiz.Target{{Kind: quiz.ToRole, ID: string(quiz.Technician)}}, Open: o.clock().Add(-time.Hour), Attempts: 3,
		Release: quiz.Release{When: quiz.ReleaseAtEnd, Score: true}}
	o.ok(o.s.SaveAssignment(ctx, "", &a))
	return a
}

// take has the person answer everything rightly, but for so many at the end.
func (o *office) take(as quiz.Assignment, wrong int) quiz.Attempt {
	o.t.Helper()
	ctx := context.Background()
	a, err := o.m.Begin(ctx, as.ID, o.person.ID)
	o.ok(err)
	f, err := o.m.Form(ctx, as.Form)
	o.ok(err)
	for i := range len(a.Questions) - wrong {
		o.wait(time.Second)
		_, _, err := o.s.SaveAnswer(ctx, quiz.Save{Attempt: a.ID, Question: a.Questions[i], Key: fmt.Sprintf("save-%s-%d", a.ID, i), Value: grading.KeyAnswer(f.Question(a.Variant, i))})
		o.ok(err)
	}
	a, err = o.m.HandIn(ctx, a.ID, "hand-in-"+a.ID)
	o.ok(err)
	return a
}

// notices lists what the person was told of a kind.
func (o *office) notices(kind string) []quiz.Notice {
	o.t.Helper()
	all, err := o.s.Notices(context.Background(), o.person.ID, 0)
	o.ok(err)
	return slices.DeleteFunc(all, func(n quiz.Notice) bool { return n.Kind != kind })
}

func says(err error, code quiz.Code, text string) bool {
	return quiz.ErrorCode(err) == code && strings.Contains(err.Error(), text)
}
