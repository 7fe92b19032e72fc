//go:build browser

package coordinator_test

import (
	"context"
	"encoding/base64"
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"rightpage/quiz"
	"rightpage/server/browsertest"
	"rightpage/server/web/webtest"
)

// tab opens a tab of the coordinator.
func (s *shop) tab(browser context.Context, w browsertest.Window) *browsertest.Tab {
	s.t.Helper()
	b := browsertest.Open(s.t, browser, s.server.URL, w)
	token, err := s.app.Session(s.t.Context(), s.cora.ID)
	if err != nil {
		s.t.Fatal(err)
	}
	b.Cookie(s.app.Sessions.Cookie.Name, token)
	return b
}

// until waits for something on a page to be so, at most for a time.
func until(t testing.TB, most time.Duration, what string, is func() bool) {
	t.Helper()
	for range int(most / (100 * time.Millisecond)) {
		if is() {
			return
		}
		time.Sleep(100 * time.Millisecond)
	}
	t.Fatalf("not within %s: %s", most, what)
}

// busy has a quiz assigned, of which Ann has answered some questions and Bob has
// handed in, and a revision that is not in force; it gives every page to look at.
func (s *shop) busy() (pages map[string]string, assignment string) {
	s.t.Helper()
	ctx := s.t.Context()
	for _, n := range []string{"Dora Finch", "Emil Sand", "Fay Holloway-Brackenridge"} {
		webtest.Person(s.t, s.app, n, s.north.ID, quiz.Technician)
	}
	id := s.assign(func(v url.Values) {
		for name, x := range map[string]string{"a-person": s.ann.ID, "a-percent": "25", "a-minutes": "5", "a-close": "2031-03-12T18:00", "a-reason": "reads slowly"} {
			v.Add(name, x)
		}
	})
	at, err := s.marker.Begin(ctx, id, s.ann.ID)
	if err != nil {
		s.t.Fatal(err)
	}
	for i, q := range at.Questions[:5] {
		if _, _, err := s.app.Store.SaveAnswer(ctx, quiz.Save{Attempt: at.ID, Question: q, Key: fmt.Sprintf("answer-key-%d", i), Value: "A"}); err != nil {
			s.t.Fatal(err)
		}
	}
	bob, err := s.marker.Begin(ctx, id, s.bob.ID)
	if err == nil {
		_, err = s.marker.HandIn(ctx, bob.ID, "hand-in-key-1")
	}
	if err != nil {
		s.t.Fatal(err)
	}
	list, err := s.app.Store.Catalogs(ctx)
	if err != nil {
		s.t.Fatal(err)
	}
	before, after := list[0].ID, s.upload("quillan-next")
	a, err := s.app.Store.Assignment(ctx, id)
	if err != nil {
		s.t.Fatal(err)
	}
	return map[string]string{
		"catalogs": "/catalogs", "catalog": "/catalogs/" + after, "in force": "/catalogs/" + before, "report": "/catalogs/" + after + "/report",
		"difference": "/catalogs/" + after + "/against/" + before, "quizzes": "/forms", "editor": "/forms/new", "quiz": "/forms/" + a.Form + "?key=1",
		"assignments": "/assignments", "assign": "/assignments/new?form=" + a.Form, "change": "/assignments/" + id + "/edit", "assignment": "/assignments/" + id,
		"time": "/assignments/" + id + "/attempts/" + at.ID + "/time", "print": "/assignments/" + id + "/print",
	}, id
}

// Every page breaks no rule of accessibility, fits its window, in both themes
// and widths, and its script raises no error.
func TestPagesAreWellMade(t *testing.T) {
	s := openShop(t)
	pages, _ := s.busy()
	browser := browsertest.Start(t)
	for _, w := range []browsertest.Window{browsertest.Phone(), browsertest.Desk(), {Width: 390, Height: 800, Dark: true}, {Width: 1280, Height: 900, Dark: true}} {
		b := s.tab(browser, w)
		for name, path := range pages {
			b.Go(path)
			b.Script("document.querySelectorAll('details').forEach((d) => d.open = true)")
			for _, f := range b.Faults() {
				t.Errorf("%s at %d px, dark %t: %s", name, w.Width, w.Dark, f)
			}
			b.Picture(fmt.Sprintf("coordinator-%s-%d-%t", name, w.Width, w.Dark))
		}
	}
}

func TestQuestionsAreCountedWhileTheBlueprintIsEdited(t *testing.T) {
	s := openShop(t)
	s.inForce("quillan")
	b := s.tab(browsertest.Start(t), browsertest.Desk())
	b.Go("/forms/new")
	says := func(id, text string) func() bool {
		return func() bool {
			return strings.Contains(browsertest.Eval[string](b, "document.getElementById('"+id+"').innerText"), text)
		}
	}
	set := func(value string) {
		b.Script("document.getElementById('f-questions').value = ''")
		b.Type("#f-questions", value)
	}
	until(t, time.Second, "20 questions can be had", says("counts", "Yes: a quiz of 20 questions"))
	set("25")
	until(t, 5*time.Second, "lines that nobody touched follow", says("counts", "Yes: a quiz of 25 questions"))
	b.Script(`(() => { const want = [...document.querySelectorAll("input.want")].find((x) => x.value); want.value = "3"; want.dispatchEvent(new Event("input", {bubbles: true})); })()`)
	until(t, 5*time.Second, "lines that add up to fewer are told", says("counts", "add up to"))
	set("12")
	until(t, 5*time.Second, "lines that add up to more are told", says("faults", ", but the quiz has 12"))
	if got := browsertest.Eval[string](b, "document.activeElement.id"); got != "f-questions" {
		t.Errorf("the focus is at %q, not in the field that was typed into", got)
	}
}

func TestTheMonitorKeepsItselfUpToDate(t *testing.T) {
	s := openShop(t)
	pages, id := s.busy()
	b := s.tab(browsertest.Start(t), browsertest.Desk())
	b.Go(pages["assignment"])
	b.Script("document.querySelector('a.more').focus()")
	zed := webtest.Person(t, s.app, "Zed Late", "", quiz.Technician)
	if _, err := s.marker.Begin(t.Context(), id, zed.ID); err != nil {
		t.Fatal(err)
	}
	until(t, 15*time.Second, "who begins is seen", func() bool {
		return browsertest.Eval[bool](b, "document.getElementById('monitor').innerText.includes('Zed Late')")
	})
	if got := browsertest.Eval[string](b, "document.getElementById('said').innerText"); !strings.Contains(got, "2 at work") {
		t.Errorf("what is said is %q", got)
	}
	if got := browsertest.Eval[string](b, "document.activeElement.className"); got != "more" {
		t.Errorf("the focus is at %q, not where it was", got)
	}
}

func TestARefusedCatalogIsShownInTheBrowser(t *testing.T) {
	s := openShop(t)
	browser := browsertest.Start(t)
	for _, w := range []browsertest.Window{browsertest.Phone(), {Width: 1280, Height: 900, Dark: true}} {
		b := s.tab(browser, w)
		b.Go("/catalogs")
		b.Script(`(() => { const bytes = Uint8Array.from(atob("` + base64.StdEncoding.EncodeToString(broken(t)) + `"), (c) => c.charCodeAt(0));
			const files = new DataTransfer(); files.items.add(new File([bytes], "quillan.zip")); document.getElementById("f-file").files = files.files; })()`)
		b.Press(`form[action="/catalogs"] button`)
		if text := b.Text(); !strings.Contains(text, "Nothing of it was kept") {
			t.Errorf("the page says %s", text)
		}
		for _, f := range b.Faults() {
			t.Errorf("at %d px: %s", w.Width, f)
		}
		b.Picture(fmt.Sprintf("coordinator-refused-%d", w.Width))
		b.Press(`button[name="severity"][value="error"]`)
		if text := b.Text(); !strings.Contains(text, "All findings") || !strings.Contains(text, "publications.csv") {
			t.Errorf("the errors alone: %s", text)
		}
	}
}
