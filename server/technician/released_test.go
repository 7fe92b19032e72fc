package technician_test

import (
	"strings"
	"testing"

	"rightpage/quiz"
)

// Which answers to a quiz were right counts on the pages of progress once it is
// released.
func TestProgressKeepsToTheReleaseRule(t *testing.T) {
	for _, when := range []quiz.ReleaseWhen{quiz.ReleaseAtEnd, quiz.ReleaseByHand} {
		x := open(t)
		a := x.assign(x.form("Progress", everyForm(0)...), func(a *quiz.Assignment) { a.Release.When = when })
		b := x.browse()
		id := x.attempt(b, a)
		page := b.Get(question(id, 1))
		b.Post(page.Path, with(hidden(page.Body), "answer", "A", "go", "next"))
		b.Post("/attempts/"+id+"/hand-in", nil)
		shown := func() bool { return strings.Contains(b.Get("/progress").Body, "<svg") }
		if want := when == quiz.ReleaseAtEnd; shown() != want {
			t.Errorf("released %s: shown %t", when, !want)
		}
		a.Released = x.clock.Now()
		x.ok(x.app.Store.SaveAssignment(t.Context(), "", &a))
		if !shown() {
			t.Errorf("released %s: not shown after it", when)
		}
	}
}
