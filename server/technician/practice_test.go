package technician_test

import (
	"bytes"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"rightpage/banks/resolver"
	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/store"
	"rightpage/server/web/webtest"
)

var (
	optionInput = regexp.MustCompile(`<input type="(radio|checkbox)" name="(\w+)" value="([A-Z])"`)
	placeSelect = regexp.MustCompile(`<select name="(place\d+)"`)
	typedInput  = regexp.MustCompile(`<input id="f-\w+" name="(answer|number|unit|step\d+)"`)
	nextLink    = regexp.MustCompile(`href="(/practice/next\?[^"]*)"`)
)

// anyAnswer fills in the fields of a page anyhow.
func anyAnswer(body string) url.Values {
	v := url.Values{}
	for _, m := range optionInput.FindAllStringSubmatch(body, -1) {
		v.Set(m[2], m[3])
	}
	for i, m := range placeSelect.FindAllStringSubmatch(body, -1) {
		v.Set(m[1], string(rune('1'+i)))
	}
	for _, m := range typedInput.FindAllStringSubmatch(body, -1) {
		v.Set(m[1], "12")
	}
	if v.Has("unit") {
		v.Set("unit", "mm")
	}
	return v
}

// Practice in every mode: a question, an answer, what came of it, the next.
func TestPractice(t *testing.T) {
	x := open(t)
	e := x.stock()
	b := x.browse()
	if got := b.Get("/practice"); got.Status != 200 || !strings.Contains(got.Body, "mode=skill%3aeditions") {
		t.Fatalf("status %d\n%s", got.Status, got.Body)
	}
	answered := 0
	for _, mode := range []string{"need", "step", "chase", "skill:locations", "step:edition"} {
		path := "/practice/next?mode=" + url.QueryEscape(mode)
		for range 3 {
			b.Seen = &bytes.Buffer{}
			page := b.Get(path)
			if page.Status != http.StatusOK || !strings.HasPrefix(page.Path, "/practice/exercises/") {
				t.Fatalf("%s: status %d at %s\n%s", mode, page.Status, page.Path, page.Body)
			}
			if again := b.Get(page.Path); !strings.Contains(again.Body, stem(page.Body)) {
				t.Errorf("%s: reloaded, another question is asked", mode)
			}
			bank, err := e.Bank(t.Context())
			x.ok(err)
			for _, q := range bank.Questions {
				if bytes.Contains(b.Seen.Bytes(), []byte(q.ID)) {
					t.Errorf("%s: the ID of a question was sent before it was answered", mode)
				}
			}
			if strings.Contains(b.Seen.String(), "Right answer") {
				t.Errorf("%s: the key was sent before the answer", mode)
			}
			x.clock.Move(90 * time.Second)
			got := b.Post(page.Path, with(anyAnswer(page.Body), "go", "check"))
			if got.Status == http.StatusUnprocessableEntity { // not to be read for certain
				got = b.Post(page.Path, url.Values{"go": {"show"}})
			}
			if got.Status != http.StatusSeeOther {
				t.Fatalf("%s: status %d\n%s", mode, got.Status, got.Body)
			}
			answered++
			after := b.Get(got.Header.Get("Location"))
			for _, want := range []string{"Right answer", "The way to the answer", "took 1 min 30 s"} {
				if !strings.Contains(after.Body, want) {
					t.Errorf("%s: after the answer there is no %q:\n%s", mode, want, after.Body)
				}
			}
			path = strings.ReplaceAll(nextLink.FindStringSubmatch(after.Body)[1], "&amp;", "&")
		}
	}
	list, err := x.app.Store.PracticeOf(t.Context(), x.tech.ID, time.Time{})
	x.ok(err)
	if len(list) != answered {
		t.Errorf("%d outcomes of %d answers", len(list), answered)
	}
	if got := b.Get("/progress"); got.Status != 200 || !strings.Contains(got.Body, "<svg") || !strings.Contains(got.Body, "one week on end") {
		t.Errorf("progress: status %d\n%s", got.Status, got.Body)
	}
	if got := b.Get("/progress/report.pdf"); got.Status != 200 || !strings.HasPrefix(got.Body, "%PDF-") {
		t.Errorf("report: status %d\n%s", got.Status, got.Body)
	}
}

func stem(body string) string {
	return regexp.MustCompile(`(?s)<p class="stem">.*?</p>`).FindString(body)
}

// The first answer counts, whatever is sent after it.
func TestAPracticeQuestionCountsOnce(t *testing.T) {
	x := open(t)
	x.stock()
	b := x.browse()
	page := b.Get("/practice/next?mode=skill:groups")
	if got := b.Post(page.Path, url.Values{"go": {"check"}}); got.Status != http.StatusUnprocessableEntity || !strings.Contains(got.Body, "Answer first") {
		t.Errorf("without an answer: status %d", got.Status)
	}
	b.Post(page.Path, url.Values{"go": {"show"}})
	got := b.Post(page.Path, with(anyAnswer(page.Body), "go", "check"))
	if got := b.Get(got.Header.Get("Location")); !strings.Contains(got.Body, "The first answer counts.") || !strings.Contains(got.Body, "left blank") {
		t.Errorf("answered again:\n%s", got.Body)
	}
	list, err := x.app.Store.PracticeOf(t.Context(), x.tech.ID, time.Time{})
	x.ok(err)
	if len(list) != 1 || list[0].Score.Points != 0 {
		t.Errorf("outcomes %+v", list)
	}
}

// A reference is the person's own and cannot be made up; what is not under way
// leads back to practice with a word.
func TestReferencesOfOthersAndMadeUp(t *testing.T) {
	x := open(t)
	x.stock()
	page := x.browse().Get("/practice/next?mode=need")
	other := webtest.As(t, x.app, x.srv, webtest.Person(t, x.app, "Other", "", quiz.Technician))
	for _, path := range []string{page.Path, "/practice/exercises/AAAA", "/practice/exercises/" + strings.Repeat("A", 120)} {
		if got := other.Get(path); got.Path != "/practice" || !strings.Contains(got.Body, "not under way any more") {
			t.Errorf("%s leads to %s", path, got.Path)
		}
		if got := other.Post(path, url.Values{"go": {"show"}}); got.Header.Get("Location") != "/practice" {
			t.Errorf("posting to %s: status %d", path, got.Status)
		}
	}
	if got := other.Get("/practice/next?mode=nonsense"); got.Status != http.StatusUnprocessableEntity {
		t.Errorf("a mode that there is not: status %d", got.Status)
	}
}

// Practice does not give away the keys of a quiz that is still to be done.
func TestQuestionsOfAQuizToDoAreNotPractised(t *testing.T) {
	x := open(t)
	e := x.stock()
	bank, err := e.Bank(t.Context())
	x.ok(err)
	b := x.browse()
	before := b.Get("/practice/next?mode=skill:editions")
	answered := b.Get("/practice/next?mode=skill:editions")
	b.Post(answered.Path, url.Values{"go": {"show"}})
	x.assign(x.form("All of them", bank.BySkill("editions")...), nil)
	if got := b.Get("/practice/next?mode=skill:editions"); got.Path != "/practice" || !strings.Contains(got.Body, "No question is left for that.") {
		t.Errorf("practice goes on at %s", got.Path)
	}
	if got := b.Post(before.Path, url.Values{"go": {"show"}}); got.Header.Get("Location") != "/practice" {
		t.Errorf("a question asked before shows its key: %d to %s", got.Status, got.Header.Get("Location"))
	}
	if got := b.Get(answered.Path); got.Path != "/practice" || strings.Contains(got.Body, "Right answer") {
		t.Errorf("a question answered before shows its key at %s", got.Path)
	}
}

func TestPracticeWithoutACatalog(t *testing.T) {
	x := open(t)
	b := x.browse()
	if got := b.Get("/practice"); got.Status != 200 || !strings.Contains(got.Body, "There is no catalog") {
		t.Errorf("status %d", got.Status)
	}
	if got := b.Get("/practice/next?mode=need"); got.Path != "/practice" {
		t.Errorf("a question at %s", got.Path)
	}
	for _, path := range []string{"/due", "/progress", "/certificates"} {
		if got := b.Get(path); got.Status != 200 {
			t.Errorf("%s: status %d\n%s", path, got.Status, got.Body)
		}
	}
}

func TestNotices(t *testing.T) {
	x := open(t)
	x.ok(x.app.Store.AddNotices(t.Context(), []quiz.Notice{{ID: "issued/WX-1", Person: x.tech.ID, At: x.clock.Now(), Kind: quiz.NoticeCertificate, Subject: "certificate/WX-1", Detail: map[string]string{"number": "WX-1"}}}))
	b := x.browse()
	if got := b.Get("/due"); !strings.Contains(got.Body, "Certificate WX-1 was issued to you.") || !strings.Contains(got.Body, `<strong class="state">new`) {
		t.Errorf("%s", got.Body)
	}
	if got := b.Post("/due/notices", url.Values{"notice": {"issued/WX-1"}, "open": {"1"}}); got.Header.Get("Location") != "/certificates" {
		t.Errorf("status %d to %s", got.Status, got.Header.Get("Location"))
	}
	if got := b.Get("/due"); strings.Contains(got.Body, `<strong class="state">new`) {
		t.Error("read, and still new")
	}
	other := webtest.As(t, x.app, x.srv, x.boss)
	if got := other.Post("/due/notices", url.Values{"notice": {"issued/WX-1"}}); got.Status != http.StatusNotFound {
		t.Errorf("a notice to another: status %d", got.Status)
	}
}

func TestCertificates(t *testing.T) {
	x := open(t)
	ctx := t.Context()
	lookups := []certificate.Lookup{{ID: "l1", Task: "Page of the pump", Skill: "locations", Answer: "page 1"}, {ID: "l2", Task: "Edition", Skill: "editions", Answer: "2"}}
	c := quiz.Certified{PersonID: x.tech.ID, Certificate: certificate.Certificate{Person: x.tech.Name, Organisation: "Wexcombe", Quiz: "Spring check",
		Skills: []certificate.Skill{{Name: "Editions", Level: "assured"}}, CatalogTitle: "Tarnfell", CatalogRevision: "2026-1",
		Issued: webtest.Start().AddDate(0, -1, 0), Expires: webtest.Start().AddDate(0, 11, 0), Lookups: lookups}}
	x.ok(x.app.Store.IssueCertificate(ctx, "", "WX", &c))
	i, err := x.app.Store.ReserveStatusIndex(ctx, c.Number)
	x.ok(err)
	x.ok(x.app.Store.KeepFiles(ctx, c.Number, store.Files{PDF: []byte("%PDF-x"), JSON: []byte("{}"), JWT: []byte("a.b.c"), PNG: []byte("png"), StatusIndex: i}))
	b := x.browse()
	if got := b.Get("/certificates"); !strings.Contains(got.Body, c.Number) || !strings.Contains(got.Body, `class="state good">valid`) || strings.Contains(got.Body, "top-up") {
		t.Errorf("%s", got.Body)
	}
	for format, want := range map[string][2]string{"pdf": {"application/pdf", "%PDF-x"}, "json": {"application/vc", "{}"}, "jwt": {"application/vc+jwt", "a.b.c"}, "png": {"image/png", "png"}} {
		got := b.Get("/certificates/" + c.Number + "/files/" + format)
		if got.Header.Get("Content-Type") != want[0] || got.Body != want[1] {
			t.Errorf("%s: %s %q", format, got.Header.Get("Content-Type"), got.Body)
		}
	}
	if got := b.Get("/certificates/" + c.Number + "/files/exe"); got.Status != http.StatusNotFound {
		t.Errorf("a format that there is not: status %d", got.Status)
	}
	if got := webtest.As(t, x.app, x.srv, x.boss).Get("/certificates/" + c.Number + "/files/pdf"); got.Status != http.StatusNotFound {
		t.Errorf("another's: status %d", got.Status)
	}
	_, err = x.app.Store.RecordChanges(ctx, "", c.Number, []certificate.Change{{Lookup: lookups[0], Now: certificate.Current{Answer: "page 2", Source: "supplement 1"}}})
	x.ok(err)
	if got := b.Get("/certificates"); !strings.Contains(got.Body, "outdated") || !strings.Contains(got.Body, "Take the top-up quiz") {
		t.Errorf("%s", got.Body)
	}
	got := b.Post("/certificates/"+c.Number+"/top-up", nil)
	if next := b.Get(got.Header.Get("Location")); next.Status != 200 || !strings.Contains(next.Body, "Top-up "+c.Number) {
		t.Errorf("top-up: %d to %s", got.Status, got.Header.Get("Location"))
	}
}

// Every page speaks every language, with no message missing and none of the
// others' left over.
func TestEveryLanguage(t *testing.T) {
	for _, locale := range []string{"en", "de", "es", "fr"} {
		x := open(t)
		x.stock()
		x.tech.Locale = locale
		x.ok(x.app.Store.SavePerson(t.Context(), "", x.tech))
		a := x.assign(x.form("A", everyForm(0)...), func(a *quiz.Assignment) { a.Limit = time.Hour })
		b := x.browse()
		pages := []string{"/due", "/practice", "/quizzes/" + a.ID, "/certificates"}
		id := x.attempt(b, a)
		for n := range 6 {
			pages = append(pages, question(id, n+1))
		}
		pages = append(pages, "/attempts/"+id+"/review")
		see := func(path string) {
			if got := b.Get(path); got.Status != 200 || strings.Contains(got.Body, "⟦") || !strings.Contains(got.Body, `<html lang="`+locale+`"`) {
				t.Errorf("%s %s: status %d\n%s", locale, path, got.Status, got.Body)
			}
		}
		for _, p := range pages {
			see(p)
		}
		page := b.Get(question(id, 1))
		b.Post(page.Path, with(hidden(page.Body), "answer", "B"))
		b.Post("/attempts/"+id+"/hand-in", nil)
		see("/attempts/" + id + "/feedback")
		see("/attempts/" + id + "/disputes/1")
		page = b.Get("/practice/next?mode=need")
		see(page.Path)
		b.Post(page.Path, url.Values{"go": {"show"}})
		see(page.Path)
		see("/progress")
	}
}

// The slips and levels that the pages name are those that there are.
func TestEverySlipIsExplained(t *testing.T) {
	x := open(t)
	for _, locale := range []string{"en", "de", "es", "fr"} {
		p := x.app.Words.Printer(locale)
		for _, s := range resolver.Slips() {
			slug := strings.ReplaceAll(strings.ToLower(s.String()), " ", "-")
			if !p.Has("technician.did."+slug) || !p.Has("technician.next."+slug) {
				t.Errorf("%s: the slip %q is not explained", locale, s)
			}
		}
	}
}
