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

// says wants words on the page, which may still be on its way.
func says(t testing.TB, tab *browsertest.Tab, words string) {
	t.Helper()
	for range 100 {
		if strings.Contains(tab.Text(), words) {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("%s does not say %q:\n%s", tab.Path(), words, tab.Text())
}

// click clicks without waiting for another page.
func click(tab *browsertest.Tab, selector string) {
	tab.T.Helper()
	tab.Do(chromedp.Click(chromedp.CSS(selector)))
}

// retype puts text in the place of what a field holds.
func retype(tab *browsertest.Tab, selector, text string) {
	tab.T.Helper()
	tab.Do(chromedp.Clear(chromedp.CSS(selector)))
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
