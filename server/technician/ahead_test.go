package technician_test

import (
	"strings"
	"testing"
	"time"

	"rightpage/quiz"
)

// Feedback of one quiz gives no key of another that asks the same and is still
// to be done, however it comes to ask the same.
func TestFeedbackTellsNoKeyOfAQuizAhead(t *testing.T) {
	x := open(t)
	f := x.form("First", everyForm(0)...)
	first := x.assign(f, nil)
	b := x.browse()
	id := x.attempt(b, first)
	page := b.Get(question(id, 1))
	b.Post(page.Path, with(hidden(page.Body), "answer", "B", "go", "next"))
	b.Post("/attempts/"+id+"/hand-in", nil)
	feedback := "/attempts/" + id + "/feedback"
	keys := func() int {
		t.Helper()
		n := 0
		for _, path := range []string{feedback, "/attempts/" + id + "/disputes/1", "/attempts/" + id + "/disputes/4"} {
			body := b.Get(path).Body
			n += strings.Count(body, "4711 N·m") + strings.Count(body, "secret 0") + strings.Count(body, "limit off by one")
		}
		return n
	}
	all := keys()
	if all == 0 {
		t.Fatal("nothing is shown to begin with")
	}
	// Another form with one of the questions, which opens next week.
	next := x.assign(x.form("Second", quantity(0)), func(a *quiz.Assignment) { a.Open = x.clock.Now().AddDate(0, 0, 7) })
	if body := b.Get(feedback).Body; strings.Contains(body, "4711 N·m") || strings.Count(body, "still to do") != 1 || !strings.Contains(body, "limit off by one") {
		t.Error("the one question that is still to come is not the one that is kept")
	}
	// The same form once more.
	again := x.assign(f, nil)
	if n := keys(); n != 0 {
		t.Errorf("%d keys, traces and slips are told before the same quiz is done", n)
	}
	working := x.attempt(b, again)
	if n := keys(); n != 0 {
		t.Errorf("%d are told while it is under way", n)
	}
	b.Post("/attempts/"+working+"/hand-in", nil)
	x.clock.Move(8 * 24 * time.Hour)
	b = x.browse()
	b.Post("/attempts/"+x.attempt(b, next)+"/hand-in", nil)
	if n := keys(); n != all {
		t.Errorf("%d of %d are shown when all is done", n, all)
	}
}
