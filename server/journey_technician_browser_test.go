//go:build browser

package server_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/target"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"rightpage/quiz"
	"rightpage/server/browsertest"
)

// The way of a technician: sign in, practise, work through a quiz, see what
// became of it, object to a question.
func TestJourneyOfATechnician(t *testing.T) {
	s := openShop(t)
	browser := browsertest.Start(t)
	timed := func(a *quiz.Assignment) { a.Limit = time.Hour }

	// On a phone with a connection that comes and goes, and on a second device.
	t.Run("phone", func(t *testing.T) {
		tam := s.hire("Tam Reed", "tam", "", quiz.Technician)
		a := s.assign(s.everyForm("Spring check"), timed, tam)
		tab := s.tab(t, browser, nil, browsertest.Phone())
		tab.Go("/")
		enter(tab, "tam", journeyPassword)
		at(t, tab, "/due")
		says(t, tab, "Spring check")

		tab.Press(`nav a[href="/practice"]`)
		tab.Press(`a[href^="/practice/next?mode=need"]`)
		answer(tab)
		tab.Press(`button[value="check"]`)
		if !browsertest.Eval[bool](tab, `!!document.querySelector("section.outcome .verdict")`) {
			t.Errorf("nothing is said of the exercise:\n%s", tab.Text())
		}
		wellMade(t, tab, "journey-phone-practice")

		tab.Press(`nav a[href="/due"]`)
		tab.Press(fmt.Sprintf(`a[href="/quizzes/%s"]`, a.ID))
		wellMade(t, tab, "journey-phone-start")
		tab.Press("main form button")
		id := strings.Split(tab.Path(), "/")[2]
		question := func(n int) string { return fmt.Sprintf("/attempts/%s/questions/%d", id, n) }
		at(t, tab, question(1))
		for n := range 2 {
			answer(tab)
			click(tab, `button[value="next"]`)
			at(t, tab, question(n+2))
		}

		// The connection goes; nothing that is entered is lost.
		offline(tab, true)
		answer(tab)
		says(t, tab, "No connection.")
		click(tab, `button[value="next"]`)
		time.Sleep(300 * time.Millisecond)
		at(t, tab, question(3))
		wellMade(t, tab, "journey-phone-offline")
		if got := s.answers(id); got[0] == "" || got[1] == "" || got[2] != "" {
			t.Errorf("answers while there is no connection: %q", got)
		}
		offline(tab, false)
		until(t, "the answer is sent when the connection is back", func() bool { return s.answers(id)[2] != "" })
		click(tab, `button[value="next"]`)
		at(t, tab, question(4))

		// On with a second device.
		bay := s.tab(t, browser, nil, browsertest.Desk())
		bay.Go("/due")
		enter(bay, "tam", journeyPassword)
		at(t, bay, "/due")
		bay.Press(fmt.Sprintf(`a[href="/attempts/%s"]`, id))
		at(t, bay, question(4))
		answer(bay)
		click(bay, `button[value="next"]`)
		at(t, bay, question(5))

		// Back on the phone, to the end.
		click(tab, `button[value="5"][name="go"]`)
		at(t, tab, question(5))
		answer(tab)
		click(tab, `button[value="flag"]`)
		until(t, "the question is marked", func() bool {
			return browsertest.Eval[bool](tab, `document.readyState === "complete" && document.querySelector('button[value="flag"]')?.getAttribute("aria-pressed") === "true"`)
		})
		click(tab, `button[value="next"]`)
		at(t, tab, question(6))
		answer(tab)
		click(tab, `.attempt-actions button[value="review"]`)
		at(t, tab, "/attempts/"+id+"/review")
		says(t, tab, "flagged")
		wellMade(t, tab, "journey-phone-review")
		for n, x := range s.answers(id) {
			if x == "" {
				t.Errorf("the answer to question %d is lost", n+1)
			}
		}
		click(tab, "form[data-handin] button")
		at(t, tab, "/attempts/"+id+"/feedback")
		wellMade(t, tab, "journey-phone-feedback")

		tab.Press(fmt.Sprintf(`a[href="/attempts/%s/disputes/4"]`, id))
		tab.Type("#f-reason", "Publication 40-R-220, page 3 gives another value for this one.")
		tab.Press("main form button")
		says(t, tab, "open")
		disputes, err := s.store.Disputes(t.Context(), quiz.DisputeOpen)
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, d := range disputes {
			found = found || d.Attempt == id && d.Person == tam.ID && strings.HasPrefix(d.Reason, "Publication 40-R-220")
		}
		if !found {
			t.Error("the objection has not arrived")
		}
	})

	// The same without JavaScript.
	t.Run("without script", func(t *testing.T) {
		nia := s.hire("Nia Quill", "nia", "", quiz.Technician)
		a := s.assign(s.everyForm("Spring check"), timed, nia)
		w := browsertest.Phone()
		w.NoScript = true
		tab := s.tab(t, browser, nil, w)
		tab.Go("/")
		enter(tab, "nia", journeyPassword)
		at(t, tab, "/due")
		tab.Press(`nav a[href="/practice"]`)
		tab.Press(`a[href^="/practice/next?mode=chase"]`)
		answer(tab)
		tab.Press(`button[value="check"]`)
		says(t, tab, "What came of it")
		tab.Press(`nav a[href="/due"]`)
		tab.Press(fmt.Sprintf(`a[href="/quizzes/%s"]`, a.ID))
		tab.Press("main form button")
		id := strings.Split(tab.Path(), "/")[2]
		question := func(n int) string { return fmt.Sprintf("/attempts/%s/questions/%d", id, n) }
		for n := range 6 {
			at(t, tab, question(n+1))
			answer(tab)
			if n == 2 {
				// No connection: the browser says so, and sends the answer again when the
				// page is loaded again.
				offline(tab, true)
				click(tab, `button[value="next"]`)
				time.Sleep(500 * time.Millisecond)
				if got := s.answers(id)[2]; got != "" {
					t.Errorf("saved %q without a connection", got)
				}
				offline(tab, false)
				tab.Do(chromedp.Reload())
				at(t, tab, question(4))
				if got := s.answers(id)[2]; got == "" {
					t.Error("the answer is lost")
				}
				continue
			}
			if n < 5 {
				tab.Press(`button[value="next"]`)
			} else {
				tab.Press(`.attempt-actions button[value="review"]`)
			}
		}
		at(t, tab, "/attempts/"+id+"/review")
		for n, x := range s.answers(id) {
			if x == "" {
				t.Errorf("the answer to question %d is lost", n+1)
			}
		}
		tab.Press("form[data-handin] button")
		at(t, tab, "/attempts/"+id+"/feedback")
		tab.Press(fmt.Sprintf(`a[href="/attempts/%s/disputes/1"]`, id))
		tab.Type("#f-reason", "The bulletin says otherwise.")
		tab.Press("main form button")
		says(t, tab, "open")
	})

	// The same by keyboard alone.
	t.Run("keyboard", func(t *testing.T) {
		kay := s.hire("Kay Tabor", "kay", "", quiz.Technician)
		a := s.assign(s.everyForm("Spring check"), timed, kay)
		tab := s.tab(t, browser, nil, browsertest.Desk())
		press := func(keys ...string) {
			t.Helper()
			for _, k := range keys {
				tab.Do(chromedp.KeyEvent(k))
			}
		}
		is := func(selector string) bool {
			return browsertest.Eval[bool](tab, fmt.Sprintf(`!!document.activeElement && document.activeElement.matches(%q)`, selector))
		}
		// to moves the focus on to what matches the selector, and wants it to be seen.
		to := func(selector string) {
			t.Helper()
			for range 120 {
				if is(selector) {
					if !browsertest.Eval[bool](tab, `(() => { const s = getComputedStyle(document.activeElement); return s.outlineStyle !== "none" || s.boxShadow !== "none" })()`) {
						t.Errorf("that %s has the focus cannot be seen", selector)
					}
					return
				}
				press(kb.Tab)
			}
			t.Fatalf("%s cannot be reached by keyboard at %s", selector, tab.Path())
		}
		tab.Go("/")
		to("#f-login")
		press("k", "a", "y")
		to("#f-password")
		press(strings.Split(journeyPassword, "")...)
		press(kb.Enter)
		at(t, tab, "/due")
		press(kb.Tab) // the first stop leads past the menu
		if !is(".skip") {
			t.Error("the first thing to reach is not the link past the menu")
		}
		press(kb.Enter)
		to(fmt.Sprintf(`a[href="/quizzes/%s"]`, a.ID))
		press(kb.Enter)
		at(t, tab, "/quizzes/"+a.ID)
		to(fmt.Sprintf(`form[action="/quizzes/%s"] button`, a.ID))
		press(kb.Enter)
		until(t, "the quiz begins", func() bool { return strings.HasSuffix(tab.Path(), "/questions/1") })
		id := strings.Split(tab.Path(), "/")[2]
		question := func(n int) string { return fmt.Sprintf("/attempts/%s/questions/%d", id, n) }
		has := func(selector string) bool {
			return browsertest.Eval[bool](tab, fmt.Sprintf("!!document.querySelector(%q)", selector))
		}
		count := func(selector string) int {
			return browsertest.Eval[int](tab, fmt.Sprintf("document.querySelectorAll(%q).length", selector))
		}
		for n := range 6 {
			at(t, tab, question(n+1))
			switch {
			case has(`input[name="answer"][type="radio"]`):
				to(`input[name="answer"]`)
				press(" ", kb.ArrowDown)
			case has(`input[name="answer"][type="checkbox"]`):
				to(`input[value="B"]`)
				press(" ")
			case has(`select[name="place1"]`):
				for i := range count("fieldset.places select") {
					to(fmt.Sprintf(`select[name="place%d"]`, i+1))
					press(fmt.Sprint(i + 1))
				}
			case has("#f-number"):
				to("#f-number")
				press("1", "2")
				to("#f-unit")
				press("k", "g")
			case has("#f-step1"):
				for i := range count("ol.steps > li") {
					to(fmt.Sprintf(`[name="step%d"]`, i+1))
					if is(`[type="radio"]`) {
						press(" ")
					} else {
						press("4", "7")
					}
				}
			default:
				to("#f-answer")
				press("4", "7", "1", "1")
			}
			if n < 5 {
				to(`button[value="next"]`)
			} else {
				to(`.attempt-actions button[value="review"]`)
			}
			press(kb.Enter)
		}
		at(t, tab, "/attempts/"+id+"/review")
		for n, x := range s.answers(id) {
			if x == "" {
				t.Errorf("the answer to question %d is lost", n+1)
			}
		}
		to("form[data-handin] button")
		press(kb.Enter)
		at(t, tab, "/attempts/"+id+"/feedback")
		to(fmt.Sprintf(`a[href="/attempts/%s/disputes/1"]`, id))
		press(kb.Enter)
		at(t, tab, "/attempts/"+id+"/disputes/1")
		to("#f-reason")
		press("n", "o")
		to("main form button")
		press(kb.Enter)
		says(t, tab, "open")
	})
}

// What goes wrong in the middle of a quiz is said, and nothing is lost.
func TestTroubleInAQuiz(t *testing.T) {
	s := openShop(t)
	browser := browsertest.Start(t)
	uma := s.hire("Uma Ferry", "uma", "", quiz.Technician)
	f := s.everyForm("Trouble")
	start := func() string {
		t.Helper()
		return s.begin(s.assign(f, func(a *quiz.Assignment) { a.Limit = time.Hour }, uma), uma).ID
	}
	question := func(id string, n int) string { return fmt.Sprintf("/attempts/%s/questions/%d", id, n) }

	t.Run("two tabs", func(t *testing.T) {
		id := start()
		one, two := s.tab(t, browser, uma, browsertest.Phone()), s.tab(t, browser, uma, browsertest.Desk())
		one.Go(question(id, 1))
		two.Go(question(id, 1))
		click(one, `input[value="A"]`)
		until(t, "the first is saved", func() bool { return s.answers(id)[0] == "A" })
		click(two, `input[value="B"]`)
		says(t, two, "This answer was changed in another window")
		wellMade(t, two, "trouble-two-tabs")
		if got := s.answers(id)[0]; got != "A" {
			t.Errorf("overwritten by %q", got)
		}
		click(two, "[data-conflict-theirs]")
		until(t, "the saved answer is shown", func() bool {
			return browsertest.Eval[bool](two, `document.readyState === "complete" && document.querySelector('input[value="A"]')?.checked === true`)
		})
		click(two, `input[value="C"]`)
		until(t, "the second is saved", func() bool { return s.answers(id)[0] == "C" })
		click(one, `input[value="B"]`)
		says(t, one, "This answer was changed in another window")
		click(one, "[data-conflict-mine]")
		until(t, "what is on the page is saved", func() bool { return s.answers(id)[0] == "B" })
	})

	t.Run("double click on hand in, and back", func(t *testing.T) {
		for _, script := range []bool{true, false} {
			id := start()
			w := browsertest.Phone()
			w.NoScript = !script
			tab := s.tab(t, browser, uma, w)
			tab.Go(question(id, 1))
			click(tab, `input[value="B"]`)
			click(tab, `button[value="next"]`)
			at(t, tab, question(id, 2))
			tab.Go("/attempts/" + id + "/review")
			tab.Script(`(() => { const b = document.querySelector("form[data-handin] button"); b.click(); b.click() })()`)
			at(t, tab, "/attempts/"+id+"/feedback")
			a, err := s.store.Attempt(t.Context(), id)
			if err != nil {
				t.Fatal(err)
			}
			if g, err := s.store.Gradings(t.Context(), id); err != nil || len(g) != 1 || a.State != quiz.Graded {
				t.Errorf("script %v: %d gradings, state %s, %v", script, len(g), a.State, err)
			}
			// Back to the page of handing in, and to a question.
			tab.Do(chromedp.NavigateBack())
			time.Sleep(300 * time.Millisecond)
			if browsertest.Eval[bool](tab, `!!document.querySelector("form[data-handin] button")`) {
				click(tab, "form[data-handin] button")
			}
			at(t, tab, "/attempts/"+id+"/feedback")
			tab.Do(chromedp.NavigateBack())
			tab.Go(question(id, 1))
			if script { // looking for faults takes one
				wellMade(t, tab, "trouble-back")
			}
			if browsertest.Eval[bool](tab, `!!document.querySelector('button[value="next"]')`) {
				t.Errorf("script %v: a question can be answered after handing in", script)
			}
			if got := s.answers(id)[0]; got != "B" {
				t.Errorf("script %v: the answer became %q", script, got)
			}
		}
	})

	t.Run("the session ends", func(t *testing.T) {
		id := start()
		tab := s.tab(t, browser, uma, browsertest.Phone())
		tab.Go(question(id, 3))
		if _, err := s.store.Sessions().EndAll(t.Context(), uma.ID); err != nil {
			t.Fatal(err)
		}
		tab.Type("#f-answer", "page 12")
		says(t, tab, "Your session has ended.")
		wellMade(t, tab, "trouble-session")
		// Signing in where the link leads, and back to the question.
		other := again(t, tab, "[data-signin-link] a")
		enter(other, "uma", journeyPassword)
		says(t, other, "You are signed in")
		tab.Script(`dispatchEvent(new Event("focus"))`) // as coming back to the tab does
		until(t, "the answer is sent", func() bool { return s.answers(id)[2] == "page 12" })
	})

	t.Run("the session ends, without script", func(t *testing.T) {
		id := start()
		w := browsertest.Phone()
		w.NoScript = true
		tab := s.tab(t, browser, uma, w)
		tab.Go(question(id, 3))
		if _, err := s.store.Sessions().EndAll(t.Context(), uma.ID); err != nil {
			t.Fatal(err)
		}
		tab.Type("#f-answer", "page 13")
		tab.Press(`button[value="next"]`)
		tab.Picture("trouble-session-kept")
		other := again(t, tab, `main a[href^="/sign-in"]`)
		enter(other, "uma", journeyPassword)
		tab.Press("main form button")
		at(t, tab, question(id, 4))
		if got := s.answers(id)[2]; got != "page 13" {
			t.Errorf("the answer is %q", got)
		}
	})

	t.Run("the clock of the device is wrong", func(t *testing.T) {
		id := start()
		tab := s.tab(t, browser, uma, browsertest.Phone())
		// Seven hours fast; and it is put right while the page is open.
		_, err := chromedp.Call(tab.Ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: `(() => {
			const Real = Date; window.ahead = 7 * 3600e3;
			window.Date = class extends Real { constructor(...a) { if (a.length) super(...a); else super(Real.now() + window.ahead) } static now() { return Real.now() + window.ahead } };
		})()`})
		if err != nil {
			t.Fatal(err)
		}
		left := func() string { return browsertest.Eval[string](tab, `document.querySelector(".left").textContent`) }
		for range 2 {
			tab.Go(question(id, 1))
			if ahead := browsertest.Eval[float64](tab, `Date.now()`) - float64(time.Now().UnixMilli()); ahead < 6*3600e3 {
				t.Fatalf("the clock of the browser is %.0f ms ahead", ahead)
			}
			if got := left(); !strings.Contains(got, "59:") && !strings.Contains(got, "1:00:00") && !strings.Contains(got, "60:00") {
				t.Errorf("with a fast clock the time left is %q", got)
			}
			tab.Script(`window.ahead = -20 * 3600e3`)
			time.Sleep(1100 * time.Millisecond)
			if got := left(); !strings.Contains(got, "59:") && !strings.Contains(got, "60:00") {
				t.Errorf("after the clock was put back the time left is %q", got)
			}
			click(tab, `input[value="B"]`)
			until(t, "the answer is saved", func() bool { return s.answers(id)[0] == "B" })
		}
	})
}

// again follows a link that opens another tab, with the same cookies.
func again(t testing.TB, tab *browsertest.Tab, selector string) *browsertest.Tab {
	t.Helper()
	opened := chromedp.WaitNewTarget(tab.Ctx, func(*target.Info) bool { return true })
	click(tab, selector)
	var id target.ID
	select {
	case id = <-opened:
	case <-time.After(10 * time.Second):
		t.Fatalf("%s at %s opens no tab", selector, tab.Path())
	}
	ctx, cancel := chromedp.NewContext(tab.Ctx, chromedp.WithTargetID(id))
	t.Cleanup(cancel)
	other := &browsertest.Tab{T: t, Ctx: ctx, Base: tab.Base}
	other.Do(chromedp.WaitReady(chromedp.CSS("#f-login")))
	return other
}
