//go:build browser

package marks_test

import (
	"context"
	"fmt"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rightpage/quiz"
	"rightpage/server/browsertest"
	"rightpage/server/web/webtest"
)

func (s *shop) tab(browser context.Context, w browsertest.Window) *browsertest.Tab {
	s.t.Helper()
	b := browsertest.Open(s.t, browser, s.server.URL, w)
	token, err := s.app.Session(s.t.Context(), s.cora.ID)
	s.ok(err)
	b.Cookie(s.app.Sessions.Cookie.Name, token)
	return b
}

// Every page breaks no rule of accessibility, fits its window, in both themes
// and widths, and its script raises no error.
func TestPagesAreWellMade(t *testing.T) {
	s := openShop(t)
	browser := browsertest.Start(t)
	a := s.assign("Finding the page, spring", 1, everyForm())
	s.paper(a, s.ann, "B", "AC", "page 4711", "85 Nm", "BAC", "A|4711")
	unread := s.paper(a, s.bob, "AB", "A", "page 1147", "58 Nm", "CAB", "B|1147")
	d := s.dispute(a)
	late := s.person("Tobias Renwick-Featherstonehaugh", "T-77", "")
	for i := range 31 {
		s.paper(a, s.person(fmt.Sprintf("Person %02d", i), "", ""), []string{"A", "B", "C"}[i%3], "AC", "page 4711", "85 Nm", "BAC", "A|4711")
	}
	s.b.Post("/certified/issue", url.Values{"assignment": {a.ID}, "attempt": {s.attempts(a)[0].ID, s.attempts(a)[1].ID}})
	list, err := s.app.Store.Certificates(t.Context())
	s.ok(err)
	if len(list) == 0 {
		t.Fatal("no certificate was issued")
	}
	img, layout := s.printed(a, late, false)[0], s.layout(a, false)
	fill(img, layout[0], map[string]string{"1": "AB", "2": "AC", "3": "~"}, 0.8)
	at := "/assignments/" + a.ID
	s.b.Upload(at+"/scans", nil, webtest.File{Field: "files", Name: "monday.png", Data: pngOf(t, img)}, webtest.File{Field: "files", Name: "notes.txt", Data: []byte("no picture")})
	pages := map[string]string{"grades": at + "/grades", "attempt": at + "/grades/" + unread.ID, "correct": at + "/grades/" + unread.ID + "/correct", "paper": at + "/paper", "several": at + "/paper?who=person",
		"entry": at + "/paper/" + late.ID, "scans": at + "/scans", "sheet": at + "/scans/" + late.ID, "statistics": at + "/statistics", "question": at + "/statistics/questions/1", "question-typed": at + "/statistics/questions/3",
		"judges": at + "/statistics/judges", "regrade": at + "/regrade", "disputes": "/disputes", "dispute": "/disputes/" + d.ID, "certified": "/certified", "issue": "/certified/issue?assignment=" + a.ID, "certificate": "/certified/" + list[0].Number}
	for _, look := range []struct {
		name string
		w    browsertest.Window
	}{{"phone", browsertest.Phone()}, {"phone-dark", browsertest.Window{Width: 390, Height: 800, Dark: true}}, {"desk-dark", browsertest.Window{Width: 1280, Height: 900, Dark: true}}, {"desk", browsertest.Desk()}} {
		tab := s.tab(browser, look.w)
		for name, path := range pages {
			tab.Go(path)
			tab.Picture("marks-" + name + "-" + look.name)
			if faults := tab.Faults(); len(faults) > 0 {
				t.Errorf("%s, %s:\n%s", name, look.name, strings.Join(faults, "\n"))
			}
		}
		// What a regrade and a dispute would change.
		tab.Go(at + "/regrade?n=1")
		tab.Type("#f-key", "A")
		tab.Type("#f-reason", "the supplement says so")
		tab.Press(`form:has(#f-key) button[value="preview"]`)
		tab.Picture("marks-preview-" + look.name)
		if faults := tab.Faults(); len(faults) > 0 || !strings.Contains(tab.Text(), "Nothing has changed yet.") {
			t.Errorf("preview, %s:\n%s", look.name, strings.Join(faults, "\n"))
		}
	}
}

// A sheet is typed by keyboard alone: Enter goes on, and in the end saves.
func TestTypedByKeyboardAlone(t *testing.T) {
	s := openShop(t)
	browser := browsertest.Start(t)
	a := s.assign("Editions", 1, someEditions(3))
	tab := s.tab(browser, browsertest.Desk())
	tab.Go("/assignments/" + a.ID + "/paper")
	press := func(keys string) { tab.Do(chromedp.KeyEvent(keys)) }
	tab.Type("#f-who", "t-02")
	tab.Press("form.who button")
	// Before its script has run, Enter looks whether the answers can be read, as it
	// does without scripts.
	for range 100 {
		if browsertest.Eval[string](tab, "document.readyState") == "complete" {
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	for _, key := range []string{"a", "b", "c"} {
		press(key)
		// The event alone: the tool sends the character even where the page has
		// taken the key, which no keyboard does.
		tab.Script(`document.activeElement.dispatchEvent(new KeyboardEvent("keydown", {key: "Enter", bubbles: true, cancelable: true}))`)
	}
	if on := browsertest.Eval[string](tab, "document.activeElement.textContent"); on != "Save and go on" {
		t.Fatalf("after the last answer the keyboard is on %q: %s", on, browsertest.Eval[string](tab, `[...document.querySelectorAll("input[data-enter]")].map((x) => x.id + "=" + x.value).join(" ") + " at " + document.activeElement.id`))
	}
	tab.Press("button[data-save]")
	list := s.attempts(a)
	if len(list) != 1 || list[0].Person != s.bob.ID || !slices.Equal(s.answers(list[0]), []string{"A", "B", "C"}) {
		t.Errorf("recorded %+v", list)
	}
	if list[0].Medium != quiz.OnPaper {
		t.Errorf("worked on %s", list[0].Medium)
	}
}
