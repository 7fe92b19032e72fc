package technician_test

import (
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"rightpage/banks"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/library"
	"rightpage/quiz/progress"
	"rightpage/server/technician"
	"rightpage/server/web/webtest"
)

// answerInCheck answers the question of a page, rightly if wanted, and gives the
// page that follows.
func (x *shop) answerInCheck(b *webtest.Browser, page webtest.Answer, bank *library.Bank, right bool) webtest.Answer {
	x.t.Helper()
	x.clock.Move(time.Minute)
	fields := url.Values{"go": {"unknown"}}
	if right {
		if v := fieldsOfKey(bank, page.Body); v != nil {
			fields = with(v, "go", "answer")
		}
	}
	got := b.Post(page.Path, fields)
	if got.Status != http.StatusSeeOther {
		x.t.Fatalf("status %d\n%s", got.Status, got.Body)
	}
	return b.Get(got.Header.Get("Location"))
}

// fieldsOfKey gives the fields that answer the question of a page rightly, nil
// if the page does not tell which question of the bank it is.
func fieldsOfKey(bank *library.Bank, body string) url.Values {
	for _, q := range bank.Questions {
		if q.Form != banks.OneOf || !strings.Contains(body, escaped(q.Stem)) ||
			slices.ContainsFunc(q.Order, func(l banks.Line) bool { return !strings.Contains(body, "<dd>"+escaped(l.Value)+"</dd>") }) ||
			slices.ContainsFunc(q.Options, func(o banks.Option) bool {
				return !strings.Contains(body, `<span lang="en">`+escaped(o.Text)+"</span>")
			}) {
			continue
		}
		return url.Values{"answer": {grading.KeyAnswer(q)}}
	}
	return nil
}

var escaped = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&#34;", "'", "&#39;", "+", "&#43;").Replace

// A check asks until the result is sure enough, tells nothing of right and
// wrong until then, and then says the chance with its uncertainty and shows all
// that was asked. The answers count for progress.
func TestCheckYourself(t *testing.T) {
	x := open(t)
	e := x.stock()
	bank, err := e.Bank(t.Context())
	x.ok(err)
	b := x.browse()
	choice := b.Get("/practice/check")
	for _, want := range []string{"16 to 25 questions", "/practice/check/start?skill=editions&amp;catalog=" + e.Info.ID, "not as an examination"} {
		if !strings.Contains(choice.Body, want) {
			t.Errorf("there is no %q on\n%s", want, choice.Body)
		}
	}
	b.Seen = &bytes.Buffer{}
	page := b.Get("/practice/check/start?skill=editions")
	n := 0
	for ; strings.Contains(page.Body, "Check under way"); n++ {
		if !strings.Contains(page.Body, fmt.Sprintf("Question %d of 16 to 25", n+1)) || !strings.HasPrefix(page.Path, "/practice/checks/") {
			t.Fatalf("question %d at %s:\n%s", n+1, page.Path, page.Body)
		}
		if again := b.Get(page.Path); stem(again.Body) != stem(page.Body) {
			t.Error("reloaded, another question is asked")
		}
		for _, q := range bank.Questions {
			if bytes.Contains(b.Seen.Bytes(), []byte(q.ID)) {
				t.Fatal("the ID of a question was sent before the end")
			}
		}
		for _, word := range []string{"Right answer", "The way to the answer", "The slip", "Verdict", `class="state`} {
			if strings.Contains(b.Seen.String(), word) {
				t.Fatalf("%q was sent before the end", word)
			}
		}
		page = x.answerInCheck(b, page, bank, n%2 == 0)
	}
	if n < 16 || n > progress.CheckMost {
		t.Errorf("the check has %d questions", n)
	}
	for _, want := range []string{"Result of the check", "Chance to answer an average question rightly", "in 10)", fmt.Sprintf("It took %d questions", n), "It ended", "Right answer", "The way to the answer", "took 1 min"} {
		if !strings.Contains(page.Body, want) {
			t.Errorf("at the end there is no %q:\n%s", want, page.Body)
		}
	}
	if right, ok := strings.CutPrefix(regexp.MustCompile(`questions; \d+`).FindString(page.Body), "questions; "); !ok || right == "0" {
		t.Errorf("%q right of %d, of which every other was answered by its key where it is one of several", right, n)
	}
	if got := strings.Count(page.Body, `<article class="outcome"`); got != n {
		t.Errorf("%d of %d questions are shown at the end", got, n)
	}
	list, err := x.app.Store.PracticeOf(t.Context(), x.tech.ID, time.Time{})
	x.ok(err)
	if len(list) != n {
		t.Errorf("%d outcomes of %d answers", len(list), n)
	}
	if record, err := x.p.Of(t.Context(), x.tech.ID); err != nil || record.Answers != n {
		t.Errorf("progress has %+v, %v", record.Share, err)
	}
	// The address of the result stays.
	if again := b.Get(page.Path); again.Body == "" || !strings.Contains(again.Body, fmt.Sprintf("It took %d questions", n)) {
		t.Error("the result is gone when it is reloaded")
	}
}

// Keys do not leave the server before the end of a check: pages of banks that
// differ in their keys alone would be the same, which is what the parts "ask"
// and "answer" are tested for; here, that a wrong and a right answer lead to
// pages that tell nothing of which it was.
func TestACheckTellsNothingOfTheLastAnswer(t *testing.T) {
	x := open(t)
	e := x.stock()
	bank, err := e.Bank(t.Context())
	x.ok(err)
	b := x.browse()
	page := b.Get("/practice/check/start")
	for right := range 6 {
		page = x.answerInCheck(b, page, bank, right%2 == 0)
		for _, word := range []string{"wrong", "Right", "verdict", "points"} {
			if strings.Contains(page.Body, word) {
				t.Errorf("%q on\n%s", word, page.Body)
			}
		}
	}
}

// The first answer to a question counts; an answer sent twice, and a page gone
// back to, lead on to the same next question, on another server, too.
func TestACheckGoesOnFromAnyServer(t *testing.T) {
	x := open(t)
	x.stock()
	b := x.browse()
	first := b.Get("/practice/check/start?skill=groups")
	if got := b.Post(first.Path, url.Values{"go": {"answer"}}); got.Status != http.StatusUnprocessableEntity || !strings.Contains(got.Body, "say that you do not know") {
		t.Errorf("without an answer: status %d", got.Status)
	}
	second := b.Get(b.Post(first.Path, url.Values{"go": {"unknown"}}).Header.Get("Location"))
	again := b.Get(b.Post(first.Path, with(anyAnswer(first.Body), "go", "answer")).Header.Get("Location"))
	back := b.Get(first.Path)
	pages, err := technician.New(x.app, technician.Deps{Marker: x.m, Library: x.l, Progress: progress.New(x.app.Store, progress.Options{Now: x.clock.Now, Every: -1}),
		Issuer: issuer{x}, Secret: []byte("a secret of the tests")})
	x.ok(err)
	other := webtest.As(t, x.app, webtest.Serve(t, x.app, pages.Routes()), x.tech).Get(first.Path)
	for name, p := range map[string]webtest.Answer{"sent twice": again, "gone back to": back, "another server": other} {
		if stem(p.Body) != stem(second.Body) || !strings.Contains(p.Body, "Question 2 of") {
			t.Errorf("%s: leads to\n%s", name, p.Body)
		}
	}
	list, err := x.app.Store.PracticeOf(t.Context(), x.tech.ID, time.Time{})
	x.ok(err)
	if len(list) != 1 || list[0].Score.Verdict != grading.Blank {
		t.Errorf("outcomes %+v", list)
	}
	// Another person's, a made-up one, and one of an exercise.
	stranger := webtest.As(t, x.app, x.srv, webtest.Person(t, x.app, "Other", "", quiz.Technician))
	exercise := strings.TrimPrefix(b.Get("/practice/next?mode=need").Path, "/practice/exercises/")
	exercise, _, _ = strings.Cut(exercise, "?")
	for _, got := range []webtest.Answer{stranger.Get(first.Path), b.Get("/practice/checks/AAAA"), b.Get("/practice/checks/" + exercise)} {
		if got.Path != "/practice/check" || !strings.Contains(got.Body, "not under way any more") {
			t.Errorf("leads to %s", got.Path)
		}
	}
	if got := b.Get("/practice/check/start?skill=nonsense"); got.Status != http.StatusNotFound {
		t.Errorf("a skill that there is not: status %d", got.Status)
	}
}

// Who stops sees what can be said: that it is too little to tell.
func TestACheckStopped(t *testing.T) {
	x := open(t)
	e := x.stock()
	bank, err := e.Bank(t.Context())
	x.ok(err)
	b := x.browse()
	page := b.Get("/practice/check/start?skill=editions")
	if got := b.Post(page.Path, url.Values{"go": {"stop"}}); got.Header.Get("Location") != "/practice" {
		t.Errorf("stopped before the first answer: %d to %s", got.Status, got.Header.Get("Location"))
	}
	for range 3 {
		page = x.answerInCheck(b, page, bank, true)
	}
	end := b.Get(b.Post(page.Path, url.Values{"go": {"stop"}}).Header.Get("Location"))
	for _, want := range []string{"Too few answers to tell how able: 3 answers so far", "You stopped it", "It took 3 questions"} {
		if !strings.Contains(end.Body, want) {
			t.Errorf("there is no %q:\n%s", want, end.Body)
		}
	}
}

// A check does not give away the keys of a quiz that is still to be done.
func TestACheckLeavesOutQuestionsOfAQuizToDo(t *testing.T) {
	x := open(t)
	e := x.stock()
	bank, err := e.Bank(t.Context())
	x.ok(err)
	b := x.browse()
	page := b.Get("/practice/check/start?skill=editions")
	page = x.answerInCheck(b, page, bank, false)
	x.assign(x.form("All of them", bank.BySkill("editions")...), nil)
	// The question under way is one of them: nothing is left to ask, and the
	// one answered is one as well.
	got := b.Get(page.Path)
	if strings.Contains(got.Body, `<form method="post" action="/practice/check`) {
		t.Errorf("asks at %s\n%s", got.Path, got.Body)
	}
	if !strings.Contains(got.Body, "in a quiz that you have still to do") || strings.Contains(got.Body, "Right answer") {
		t.Errorf("the key of what was answered is shown at %s:\n%s", got.Path, got.Body)
	}
	if got := b.Get("/practice/check/start?skill=editions"); got.Path != "/practice/check" || !strings.Contains(got.Body, "No question is left for that.") {
		t.Errorf("a check begins at %s", got.Path)
	}
}

func TestCheckInEveryLanguage(t *testing.T) {
	for _, locale := range []string{"en", "de", "es", "fr"} {
		x := open(t)
		e := x.stock()
		bank, err := e.Bank(t.Context())
		x.ok(err)
		x.tech.Locale = locale
		x.ok(x.app.Store.SavePerson(t.Context(), "", x.tech))
		b := x.browse()
		page := b.Get("/practice/check/start")
		see := func(p webtest.Answer) {
			if p.Status != 200 || strings.Contains(p.Body, "⟦") || !strings.Contains(p.Body, `<html lang="`+locale+`"`) {
				t.Errorf("%s %s: status %d\n%s", locale, p.Path, p.Status, p.Body)
			}
		}
		see(b.Get("/practice/check"))
		see(page)
		page = x.answerInCheck(b, page, bank, true)
		see(b.Get(b.Post(page.Path, url.Values{"go": {"stop"}}).Header.Get("Location")))
	}
}

func TestCheckWithoutACatalog(t *testing.T) {
	x := open(t)
	b := x.browse()
	if got := b.Get("/practice/check"); got.Status != 200 || !strings.Contains(got.Body, "There is no catalog") {
		t.Errorf("status %d", got.Status)
	}
	if got := b.Get("/practice/check/start"); got.Path != "/practice/check" {
		t.Errorf("a check at %s", got.Path)
	}
}
