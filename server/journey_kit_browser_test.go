//go:build browser

package server_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"rightpage/banks"
	"rightpage/quiz"
	"rightpage/quiz/library"
	"rightpage/server/browsertest"
)

// tab opens a tab of a person who has signed in; nil: of a stranger.
func (s *shop) tab(t testing.TB, browser context.Context, p *quiz.Person, w browsertest.Window) *browsertest.Tab {
	t.Helper()
	tab := browsertest.Open(t, browser, s.http.URL, w)
	if p != nil {
		s.signIn(t, tab, p)
	}
	return tab
}

// signIn gives a tab a session of the person.
func (s *shop) signIn(t testing.TB, tab *browsertest.Tab, p *quiz.Person) {
	t.Helper()
	token, err := s.server.App.Session(context.Background(), p.ID)
	if err != nil {
		t.Fatal(err)
	}
	tab.Cookie(s.server.App.Sessions.Cookie.Name, token)
}

// until waits for something to be so, at most ten seconds.
func until(t testing.TB, what string, is func() bool) {
	t.Helper()
	for range 200 {
		if is() {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("not within 10 s: %s", what)
}

// reads gives the text of the page; empty while another is on its way.
func reads(tab *browsertest.Tab) string {
	text, err := chromedp.Run(tab.Ctx, chromedp.Evaluate[string](`document.readyState === "complete" ? document.body.innerText : ""`))
	if err != nil {
		return ""
	}
	return text
}

// says wants words on the page, which may still be on its way.
func says(t testing.TB, tab *browsertest.Tab, words string) {
	t.Helper()
	for range 200 {
		if strings.Contains(reads(tab), words) {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("%s does not say %q:\n%s", tab.Path(), words, reads(tab))
}

// click clicks without waiting for another page.
func click(tab *browsertest.Tab, selector string) {
	tab.T.Helper()
	tab.Do(chromedp.Click(chromedp.CSS(selector)))
}

// retype puts text in the place of what a field holds.
func retype(tab *browsertest.Tab, selector, text string) {
	tab.T.Helper()
	tab.Script(fmt.Sprintf(`document.querySelector(%q).value = ""`, selector))
	tab.Type(selector, text)
}

// choose picks an option of a select by its value.
func choose(tab *browsertest.Tab, selector, value string) {
	tab.T.Helper()
	if !browsertest.Eval[bool](tab, fmt.Sprintf(`(() => { const s = document.querySelector(%q); if (![...s.options].some((o) => o.value === %q)) return false;
		s.value = %q; s.dispatchEvent(new Event("input", {bubbles: true})); s.dispatchEvent(new Event("change", {bubbles: true})); return true })()`, selector, value, value)) {
		tab.T.Fatalf("%s has no option %q", selector, value)
	}
}

// offline takes the connection of a tab away, or gives it back.
func offline(tab *browsertest.Tab, off bool) {
	tab.T.Helper()
	rule := &network.Conditions{Offline: off, DownloadThroughput: -1, UploadThroughput: -1}
	_, err := chromedp.Call(tab.Ctx, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{MatchedNetworkConditions: []*network.Conditions{rule}})
	if err == nil {
		_, err = chromedp.Call(tab.Ctx, network.OverrideNetworkState, network.OverrideNetworkStateParams{Offline: off, DownloadThroughput: -1, UploadThroughput: -1})
	}
	if err != nil {
		tab.T.Fatal(err)
	}
}

// everyForm makes a form with a question of every response form out of the
// catalog in force, and gives it with the questions in their order.
func (s *shop) everyForm(title string) *banks.TestForm {
	s.t.Helper()
	ctx := context.Background()
	entries, err := library.New(s.store, library.Options{BankSize: 2000}).InForce(ctx)
	if err != nil {
		s.t.Fatal(err)
	}
	f := &banks.TestForm{Title: title}
	var list []*banks.Question
	for _, e := range entries {
		bank, err := e.Bank(ctx)
		if err != nil {
			s.t.Fatal(err)
		}
		list = nil
		for _, form := range banks.Forms() {
			for _, q := range bank.Questions {
				if q.Form == form {
					list = append(list, q)
					break
				}
			}
		}
		if f.Catalog, f.Revision = e.Info.Title, e.Info.Revision; len(list) == len(banks.Forms()) {
			break
		}
	}
	if len(list) < len(banks.Forms())-1 {
		s.t.Fatalf("the catalogs have questions of %d response forms alone", len(list))
	}
	f.Blueprint = banks.NewBlueprint(title, len(list))
	f.Blueprint.Cut, f.Blueprint.PartialCredit = 0.7, true
	f.Variants = []banks.Variant{{Name: "A", Questions: list}}
	if err := s.store.AddForm(ctx, "", f); err != nil {
		s.t.Fatal(err)
	}
	return f
}

// assign gives a form to people.
func (s *shop) assign(f *banks.TestForm, change func(*quiz.Assignment), people ...*quiz.Person) quiz.Assignment {
	s.t.Helper()
	a := quiz.Assignment{Title: f.Title, Form: f.ID, Open: s.clock.Now().Add(-time.Hour), Attempts: 1,
		Release: quiz.Release{When: quiz.ReleaseAtEnd, Score: true, Answers: true, Key: true, Trace: true}}
	for _, p := range people {
		a.Targets = append(a.Targets, quiz.Target{Kind: quiz.ToPerson, ID: p.ID})
	}
	if change != nil {
		change(&a)
	}
	if err := s.store.SaveAssignment(context.Background(), "", &a); err != nil {
		s.t.Fatal(err)
	}
	return a
}

// begin starts an attempt.
func (s *shop) begin(a quiz.Assignment, p *quiz.Person) quiz.Attempt {
	s.t.Helper()
	x, err := s.server.Marker.Begin(context.Background(), a.ID, p.ID)
	if err != nil {
		s.t.Fatal(err)
	}
	return x
}

// answers lists what stands as the answers of an attempt, in the order of its
// questions.
func (s *shop) answers(attempt string) []string {
	s.t.Helper()
	ctx := context.Background()
	a, err := s.store.Attempt(ctx, attempt)
	if err != nil {
		s.t.Fatal(err)
	}
	all, err := s.store.Answers(ctx, attempt)
	if err != nil {
		s.t.Fatal(err)
	}
	latest := quiz.Latest(all)
	var list []string
	for _, id := range a.Questions {
		list = append(list, latest[id].Value)
	}
	return list
}

// journeyPassword is the password of everybody in the journeys.
const journeyPassword = "found on the right page"

// hire adds a person who can sign in.
func (s *shop) hire(name, login, site string, roles ...quiz.Role) *quiz.Person {
	s.t.Helper()
	p := &quiz.Person{Name: name, Site: site, Roles: roles, Locale: "en"}
	if err := s.store.SavePerson(context.Background(), "", p); err != nil {
		s.t.Fatal(err)
	}
	hash, err := quiz.DefaultPasswords().Hash(journeyPassword)
	if err != nil {
		s.t.Fatal(err)
	}
	if err := s.store.SaveAccount(context.Background(), "", &quiz.Account{Person: p.ID, Login: login, Hash: hash}); err != nil {
		s.t.Fatal(err)
	}
	return p
}

// enter signs in by the page for it.
func enter(tab *browsertest.Tab, login, password string) {
	tab.T.Helper()
	tab.Type("#f-login", login)
	tab.Type("#f-password", password)
	tab.Press("main form button")
}

// answer answers the question on the page, whatever it asks for.
func answer(tab *browsertest.Tab) {
	tab.T.Helper()
	has := func(selector string) bool {
		return browsertest.Eval[bool](tab, fmt.Sprintf("!!document.querySelector(%q)", selector))
	}
	count := func(selector string) int {
		return browsertest.Eval[int](tab, fmt.Sprintf("document.querySelectorAll(%q).length", selector))
	}
	switch {
	case has(`input[name="answer"][type="radio"]`):
		click(tab, `input[name="answer"][value="B"]`)
	case has(`input[name="answer"][type="checkbox"]`):
		click(tab, `input[name="answer"][value="A"]`)
		click(tab, `input[name="answer"][value="B"]`)
	case has(`select[name="place1"]`):
		for n := range count("fieldset.places select") {
			choose(tab, fmt.Sprintf(`select[name="place%d"]`, n+1), fmt.Sprint(n+1))
		}
	case has("#f-number"):
		retype(tab, "#f-number", "12.5")
		retype(tab, "#f-unit", "kg")
	case has("#f-step1"):
		for n := range count("ol.steps > li") {
			name := fmt.Sprintf("step%d", n+1)
			if has(fmt.Sprintf(`input[type="radio"][name=%q]`, name)) {
				click(tab, fmt.Sprintf(`input[name=%q][value="A"]`, name))
			} else {
				retype(tab, fmt.Sprintf(`input[name=%q]`, name), "page 4711")
			}
		}
	default:
		retype(tab, "#f-answer", "page 4711")
	}
}

// at waits until the tab is at a path.
func at(t testing.TB, tab *browsertest.Tab, path string) {
	t.Helper()
	for range 200 {
		if strings.Split(tab.Path(), "#")[0] == path && reads(tab) != "" {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("at %s, not %s:\n%s", tab.Path(), path, reads(tab))
}

// wellMade wants no fault on the page.
func wellMade(t testing.TB, tab *browsertest.Tab, picture string) {
	t.Helper()
	tab.Picture(picture)
	if faults := tab.Faults(); len(faults) > 0 {
		t.Errorf("%s:\n%s", tab.Path(), strings.Join(faults, "\n"))
	}
}
