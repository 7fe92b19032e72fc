//go:build browser

package technician_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"rightpage/quiz"
	"rightpage/server/browsertest"
)

// tab opens a tab of the technician.
func (x *shop) tab(browser context.Context, w browsertest.Window) *browsertest.Tab {
	x.t.Helper()
	b := browsertest.Open(x.t, browser, x.srv.URL, w)
	token, err := x.app.Session(x.t.Context(), x.tech.ID)
	x.ok(err)
	b.Cookie(x.app.Sessions.Cookie.Name, token)
	return b
}

// until waits for something to be so, at most five seconds.
func until(t testing.TB, what string, is func() bool) {
	t.Helper()
	for range 100 {
		if is() {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("not within 5 s: %s", what)
}

// Every page breaks no rule of accessibility, fits its window, in both themes
// and widths, and its script raises no error.
func TestPagesAreWellMade(t *testing.T) {
	x := open(t)
	browser := browsertest.Start(t)
	x.stock()
	w := x.browse()
	a := x.assign(x.form("Spring check of fuel and cooling", everyForm(0)...), func(a *quiz.Assignment) {
		a.Limit, a.Close = time.Hour, x.clock.Now().Add(48*time.Hour)
	})
	done := x.assign(x.form("Last month's check", everyForm(1)...), nil)
	x.assign(x.form("Next week's check", typed(0), typed(1)), func(a *quiz.Assignment) { a.Open = x.clock.Now().Add(24 * time.Hour) })
	before := x.attempt(w, done)
	for n, fields := range rightFields() { // answers of the other key: all forms of being wrong
		page := w.Get(question(before, n+1))
		w.Post(page.Path, merge(hidden(page.Body), fields))
	}
	w.Post("/attempts/"+before+"/hand-in", nil)
	x.ok(x.app.Store.AddNotices(t.Context(), []quiz.Notice{{Person: x.tech.ID, At: x.clock.Now(), Kind: quiz.NoticeCertificate, Subject: "certificate/WX-1", Detail: map[string]string{"number": "WX-1"}}}))
	id := x.attempt(w, a)
	page := w.Get("/practice/next?mode=chase")
	answered := w.Get("/practice/next?mode=need")
	w.Post(answered.Path, with(anyAnswer(answered.Body), "go", "check"))
	pages := map[string]string{"due": "/due", "start": "/quizzes/" + a.ID, "review": "/attempts/" + id + "/review", "feedback": "/attempts/" + before + "/feedback",
		"dispute": "/attempts/" + before + "/disputes/3", "practice": "/practice", "exercise": page.Path, "answered": answered.Path,
		"progress": "/progress", "certificates": "/certificates"}
	for n, form := range []string{"one", "some", "typed", "number", "order", "chase"} {
		pages["question-"+form] = question(id, n+1)
	}
	for _, look := range []struct {
		name string
		w    browsertest.Window
	}{{"phone", browsertest.Phone()}, {"desk-dark", browsertest.Window{Width: 1280, Height: 900, Dark: true}}} {
		tab := x.tab(browser, look.w)
		for name, path := range pages {
			tab.Go(path)
			tab.Picture("technician-" + name + "-" + look.name)
			if faults := tab.Faults(); len(faults) > 0 {
				t.Errorf("%s, %s:\n%s", name, look.name, strings.Join(faults, "\n"))
			}
		}
	}
}

// With a script each answer is saved as it is given; what cannot be sent is kept
// and sent later, and a change in two tabs is shown in the second.
func TestAnswersAreSavedAsTheyAreGiven(t *testing.T) {
	x := open(t)
	browser := browsertest.Start(t)
	a := x.assign(x.form("Autosave", everyForm(0)...), func(a *quiz.Assignment) { a.Limit = time.Hour })
	id := x.attempt(x.browse(), a)
	tab := x.tab(browser, browsertest.Window{Width: 390, Height: 800})
	tab.Go(question(id, 1))
	tab.Do(chromedp.Click(chromedp.CSS(`input[value="B"]`)))
	until(t, "the answer is saved", func() bool { return x.answers(id)[0] == "B" })
	until(t, "and it is said so", func() bool { return strings.Contains(tab.Text(), "Saved at") })
	if left := browsertest.Eval[string](tab, `document.querySelector(".left").textContent`); !strings.Contains(left, "59:5") && !strings.Contains(left, "1:00:00") {
		t.Errorf("the time left is shown as %q", left)
	}

	// A second tab with the old answer.
	second := browsertest.Open(t, browser, x.srv.URL, browsertest.Phone())
	token, err := x.app.Session(t.Context(), x.tech.ID)
	x.ok(err)
	second.Cookie(x.app.Sessions.Cookie.Name, token)
	second.Go(question(id, 1))
	tab.Do(chromedp.Click(chromedp.CSS(`input[value="A"]`)))
	until(t, "the first tab has saved", func() bool { return x.answers(id)[0] == "A" })
	second.Do(chromedp.Click(chromedp.CSS(`input[value="C"]`)))
	until(t, "the second is told", func() bool {
		return strings.Contains(second.Text(), "Edition 1") && strings.Contains(second.Text(), "Take what is saved")
	})
	second.Picture("technician-conflict-phone")
	if faults := second.Faults(); len(faults) > 0 {
		t.Error(strings.Join(faults, "\n"))
	}
	if got := x.answers(id)[0]; got != "A" {
		t.Errorf("overwritten by %q", got)
	}
	second.Do(chromedp.Click(chromedp.CSS(`[data-conflict-mine]`)))
	until(t, "the choice is saved", func() bool { return x.answers(id)[0] == "C" })

	// The connection is lost while a typed answer is given, and moving on waits.
	tab.Go(question(id, 3))
	tab.Script(`window.realFetch = fetch; window.fetch = () => Promise.reject(new TypeError("no network"))`)
	tab.Type("#f-answer", "page 4711")
	until(t, "it is said that there is no connection", func() bool { return strings.Contains(tab.Text(), "No connection.") })
	tab.Do(chromedp.Click(chromedp.CSS(`button[value="next"]`)))
	time.Sleep(300 * time.Millisecond)
	if tab.Path() != question(id, 3) || x.answers(id)[2] != "" {
		t.Errorf("moved on to %s without the answer", tab.Path())
	}
	tab.Picture("technician-offline-phone")
	// The page is closed and opened again: the answer is still there, and is sent.
	tab.Go(question(id, 3))
	if got := browsertest.Eval[string](tab, `document.getElementById("f-answer").value`); got != "page 4711" {
		t.Errorf("the answer came back as %q", got)
	}
	until(t, "it is sent", func() bool { return x.answers(id)[2] == "page 4711" })

	// The session ends: the answer waits for signing in again.
	_, err = x.app.Store.Sessions().EndAll(t.Context(), x.tech.ID)
	x.ok(err)
	tab.Do(chromedp.Click(chromedp.CSS(`#f-answer`)))
	tab.Type("#f-answer", "9")
	until(t, "it is said that the session has ended", func() bool { return strings.Contains(tab.Text(), "Your session has ended.") })
	tab.Picture("technician-session-phone")
	if token, err = x.app.Session(t.Context(), x.tech.ID); err != nil {
		t.Fatal(err)
	}
	tab.Cookie(x.app.Sessions.Cookie.Name, token)
	tab.Script(`dispatchEvent(new Event("focus"))`)
	until(t, "it is sent after signing in", func() bool { return x.answers(id)[2] == "page 47119" })
}

// Two places of an order are never the same: they change.
func TestPlacesChange(t *testing.T) {
	x := open(t)
	browser := browsertest.Start(t)
	a := x.assign(x.form("Order", everyForm(0)...), nil)
	id := x.attempt(x.browse(), a)
	tab := x.tab(browser, browsertest.Phone())
	tab.Go(question(id, 5))
	for i, place := range []string{"1", "2", "1"} {
		tab.Script(`(() => { const s = document.getElementById("f-place` + string(rune('1'+i)) + `"); s.value = "` + place + `"; s.dispatchEvent(new Event("change", {bubbles: true})) })()`)
	}
	until(t, "the order is saved", func() bool { return x.answers(id)[4] == "CB" })
}

// The whole quiz with a keyboard alone.
func TestAQuizByKeyboard(t *testing.T) {
	x := open(t)
	browser := browsertest.Start(t)
	a := x.assign(x.form("Keyboard", everyForm(0)...), nil)
	id := x.attempt(x.browse(), a)
	tab := x.tab(browser, browsertest.Desk())
	press := func(keys ...string) {
		t.Helper()
		for _, k := range keys {
			tab.Do(chromedp.KeyEvent(k))
		}
	}
	// to moves the focus on to what matches the selector.
	to := func(selector string) {
		t.Helper()
		for range 60 {
			if browsertest.Eval[bool](tab, `document.activeElement.matches('`+selector+`')`) {
				return
			}
			press(kb.Tab)
		}
		t.Fatalf("%s cannot be reached by keyboard", selector)
	}
	tab.Go(question(id, 1))
	to(`input[name="answer"]`)
	press(" ", kb.ArrowDown) // to the second option
	to(`button[value="next"]`)
	press(kb.Enter)
	until(t, "the next question", func() bool { return tab.Path() == question(id, 2) })
	to(`input[value="A"]`)
	press(" ")
	to(`input[value="C"]`)
	press(" ")
	to(`button[value="next"]`)
	press(kb.Enter)
	until(t, "the third question", func() bool { return tab.Path() == question(id, 3) })
	to(`#f-answer`)
	press("4", "7", "1", "1", kb.Enter) // Enter goes on
	until(t, "the fourth question", func() bool { return tab.Path() == question(id, 4) })
	if got := x.answers(id); got[0] != "B" || got[1] != "AC" || got[2] != "4711" {
		t.Errorf("answers %q", got)
	}
	tab.Go("/attempts/" + id + "/review")
	to(`form[data-handin] button`)
	press(kb.Enter)
	until(t, "it is handed in", func() bool { return tab.Path() == "/attempts/"+id+"/feedback" })
}

// When time is up the page sends what it has and goes to what became of it.
func TestThePageEndsWithTheTime(t *testing.T) {
	x := open(t)
	browser := browsertest.Start(t)
	a := x.assign(x.form("Seconds", everyForm(0)...), func(a *quiz.Assignment) { a.Limit = time.Minute })
	id := x.attempt(x.browse(), a)
	x.clock.Move(57 * time.Second)
	tab := x.tab(browser, browsertest.Phone())
	tab.Go(question(id, 1))
	tab.Do(chromedp.Click(chromedp.CSS(`input[value="A"]`)))
	until(t, "the time runs out", func() bool { return strings.Contains(tab.Text(), "Time is up.") })
	x.clock.Move(10 * time.Second)
	for range 3 {
		if tab.Path() != "/attempts/"+id+"/feedback" {
			time.Sleep(3 * time.Second)
		}
	}
	if got := tab.Text(); tab.Path() != "/attempts/"+id+"/feedback" || !strings.Contains(got, "Time was up") || x.answers(id)[0] != "A" {
		t.Errorf("at %s:\n%s", tab.Path(), got)
	}
}

// Nothing is handed in while an answer waits on the device: it is sent first,
// and one that was changed elsewhere is pointed out.
func TestHandingInWaitsForWhatIsNotSaved(t *testing.T) {
	x := open(t)
	browser := browsertest.Start(t)
	a := x.assign(x.form("Waiting", everyForm(0)...), nil)
	id := x.attempt(x.browse(), a)
	tab := x.tab(browser, browsertest.Desk())
	queue := func(n, base, answer string) {
		t.Helper()
		tab.Script(`localStorage.setItem("rightpage answers ` + id + `", JSON.stringify({"` + n + `": {key: "waiting` + n + base + `", base: ` + base + `, spent: 1, fields: [["answer", "` + answer + `"]]}}))`)
	}
	tab.Go("/attempts/" + id + "/review")
	queue("1", "7", "B") // of a version that there is not
	tab.Do(chromedp.Click(chromedp.CSS(`form[data-handin] button`)))
	until(t, "the question is named", func() bool { return strings.Contains(tab.Text(), "look at these questions first: 1") })
	if got, err := x.app.Store.Attempt(t.Context(), id); err != nil || got.State != quiz.Started {
		t.Fatalf("%s, %v", got.State, err)
	}
	queue("1", "0", "C")
	tab.Do(chromedp.Click(chromedp.CSS(`form[data-handin] button`)))
	until(t, "it is handed in", func() bool { return tab.Path() == "/attempts/"+id+"/feedback" })
	if got := x.answers(id)[0]; got != "C" {
		t.Errorf("handed in with %q", got)
	}
}
