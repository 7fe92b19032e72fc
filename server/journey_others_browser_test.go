//go:build browser

package server_test

import (
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"rightpage/quiz"
	"rightpage/quiz/issuing"
	"rightpage/quiz/store"
	"rightpage/server"
	"rightpage/server/browsertest"
	"rightpage/server/web/webtest"
)

// The way of a manager: who is ready for which course, what it takes, which
// certificates expire, who deserves a word; on paper too.
func TestJourneyOfAManager(t *testing.T) {
	s := openShop(t)
	browser := browsertest.Start(t)
	s.hire("Mab Orton", "mab", s.demo.Sites[0].ID, quiz.Manager)
	tab := s.tab(t, browser, nil, browsertest.Desk())
	tab.Go("/")
	enter(tab, "mab", journeyPassword)
	at(t, tab, "/readiness")
	tab.Press(`main a[href^="/readiness/"]`)
	says(t, tab, "Shortest practice")
	board := tab.Path()
	wellMade(t, tab, "journey-manager-board")
	wantPDF(t, tab, `a[href^="/readiness/"][href*="/report"]`)
	printed(t, tab)

	// A manager of all sites chooses one.
	all := s.tab(t, browser, s.hire("Ann Orton", "ann", "", quiz.Manager, quiz.Coordinator), browsertest.Desk())
	all.Go(board)
	site := s.demo.Sites[0]
	choose(all, `main select[name="site"]`, site.ID)
	all.Press("main form.row button")
	says(t, all, site.Name)
	for _, other := range s.demo.Sites[1:] {
		if browsertest.Eval[bool](all, `[...document.querySelectorAll("main tbody th small")].some((x) => x.textContent === "`+other.Name+`")`) {
			t.Errorf("people of %s among those of %s", other.Name, site.Name)
		}
	}

	// A course is planned.
	tab.Go("/readiness")
	tab.Press(`a[href="/requirements/new"]`)
	tab.Type("#f-course", "Steering, one day away")
	tab.Script(`document.getElementById("f-date").value = "2031-06-10"`)
	click(tab, `.levels:first-of-type input`)
	tab.Type(`.levels:first-of-type input`, "60")
	click(tab, `input[name="target"][value^="site:"]`)
	wellMade(t, tab, "journey-manager-plan")
	if !browsertest.Eval[bool](tab, `!!document.querySelector("input[name=target]:checked")`) {
		t.Error("a click on the site chooses nothing")
	}
	tab.Press("main form > button")
	says(t, tab, "Steering, one day away")
	wellMade(t, tab, "journey-manager-course")

	tab.Press(`nav a[href="/calendar"]`)
	says(t, tab, "Last day")
	printed(t, tab)
	tab.Press(`nav a[href="/recognition"]`)
	says(t, tab, "Recognition")
	tab.Press(`a[href^="/recognition?month="]`)
	says(t, tab, "Recognition")
	printed(t, tab)
}

// printed wants the page to print without what is for a screen.
func printed(t testing.TB, tab *browsertest.Tab) {
	t.Helper()
	pdf, err := chromedp.Run(tab.Ctx, chromedp.PrintToPDF())
	if err != nil || len(pdf) < 2000 {
		t.Errorf("printing %s: %d bytes, %v", tab.Path(), len(pdf), err)
	}
	if dir := os.Getenv("RIGHTPAGE_PICTURES"); dir != "" {
		name := strings.ReplaceAll(strings.Split(tab.Path(), "?")[0], "/", "-")
		if err := os.WriteFile(filepath.Join(dir, "printed"+name+".pdf"), pdf, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// The way of an administrator: a list of people comes in, each gets a code, and
// one of them signs in with it.
func TestJourneyOfAnAdministrator(t *testing.T) {
	s := openShop(t)
	browser := browsertest.Start(t)
	s.hire("Ada Minster", "ada", "", quiz.Administrator)
	tab := s.tab(t, browser, nil, browsertest.Desk())
	tab.Go("/")
	enter(tab, "ada", journeyPassword)
	at(t, tab, "/people")
	tab.Press(`a[href="/people/import"]`)
	list := filepath.Join(t.TempDir(), "people.csv")
	write := func(text string) {
		if err := os.WriteFile(list, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write("name;number;site;roles;login\nIda Lorne;J901;Atlantis;technician;ida.lorne\n")
	upload(tab, "#f-file", list)
	tab.Press("main form button")
	says(t, tab, "Atlantis")
	wellMade(t, tab, "journey-admin-import-faults")
	tab.Press(`main a[href="/people/import"]`)
	write("name;number;site;roles;login\nIda Lorne;J901;" + s.demo.Sites[0].Name + ";technician;ida.lorne\nOwen Pask;J902;" + s.demo.Sites[0].Name + ";technician;owen.pask\n")
	upload(tab, "#f-file", list)
	tab.Press("main form button")
	says(t, tab, "Owen Pask")
	wellMade(t, tab, "journey-admin-import")
	tab.Press(`form[action="/people/import/add"] button`)

	// Codes for those who have not chosen a password yet.
	tab.Go("/people?q=J901")
	click(tab, `input[name="person"]`)
	tab.Press(`form[action="/people/codes"] button`)
	wellMade(t, tab, "journey-admin-codes")
	printed(t, tab)
	code := browsertest.Eval[string](tab, `document.querySelector("ul.slips code").textContent`)

	ida := s.tab(t, browser, nil, browsertest.Phone())
	ida.Go("/")
	ida.Press(`main a[href="/code"]`)
	redeem(ida, code, "the cart before the horse")
	at(t, ida, "/due")
	wellMade(t, ida, "journey-admin-new-password")
	ida.Press(`header a[href="/account"]`)
	says(t, ida, "Ida Lorne")
	// The code is spent, and the password holds.
	again := s.tab(t, browser, nil, browsertest.Phone())
	again.Go("/code")
	redeem(again, code, "somebody else's password here")
	wellMade(t, again, "journey-admin-code-spent")
	at(t, again, "/code")
	again.Go("/sign-in")
	enter(again, "IDA.LORNE", "the cart before the horse")
	at(t, again, "/due")
}

// redeem chooses a password with a code.
func redeem(tab *browsertest.Tab, code, password string) {
	tab.T.Helper()
	tab.Type("#f-code", code)
	tab.Type("#f-new-password", password)
	tab.Type("#f-new-password-again", password)
	tab.Press("main form button")
}

// From an empty database to a first quiz that somebody works on.
func TestJourneyOfSettingUp(t *testing.T) {
	ctx := t.Context()
	dir := t.TempDir()
	clock := webtest.NewClock(webtest.Start())
	db, err := store.Open(ctx, filepath.Join(dir, "new.db"), store.Options{Now: clock.Now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	if err := db.Migrate(ctx); err != nil {
		t.Fatal(err)
	}
	keys, err := issuing.OpenKeys(filepath.Join(dir, "keys.json"), "")
	if err != nil {
		t.Fatal(err)
	}
	srv, err := server.New(ctx, server.Config{Store: db, Keys: keys, SetupSecret: "secret-on-the-terminal", Now: clock.Now})
	if err != nil {
		t.Fatal(err)
	}
	h := httptest.NewServer(srv)
	t.Cleanup(h.Close)
	browser := browsertest.Start(t)
	tab := browsertest.Open(t, browser, h.URL, browsertest.Desk())
	tab.Go("/")
	at(t, tab, "/setup")
	wellMade(t, tab, "journey-setup")
	for selector, text := range map[string]string{"#f-secret": "secret-on-the-terminal", "#f-organisation": "Lowmere Boats", "#f-site": "Lowmere", "#f-name": "Lou Marsh", "#f-login": "lou",
		"#f-new-password": journeyPassword, "#f-new-password-again": journeyPassword} {
		retype(tab, selector, text)
	}
	for _, role := range []string{"coordinator", "technician", "manager"} {
		if !browsertest.Eval[bool](tab, `document.querySelector('input[name="`+role+`"]').checked`) {
			click(tab, `input[name="`+role+`"]`)
		}
	}
	tab.Press("main form > button")
	says(t, tab, "What comes next")
	wellMade(t, tab, "journey-setup-list")

	// The catalog.
	tab.Go("/catalogs")
	upload(tab, "#f-file", catalogFile(t, "quillan", "quillan.zip", nil))
	tab.Press("main form button")
	tab.Press(`form[action$="/force"] button`)
	says(t, tab, "in force")
	// People.
	tab.Go("/people/new")
	tab.Type("#f-name", "Kit Sandar")
	tab.Type("#f-login", "kit")
	if !browsertest.Eval[bool](tab, `document.querySelector('input[name="role"][value="technician"]').checked`) {
		click(tab, `input[name="role"][value="technician"]`)
	}
	tab.Press("main form .actions button")
	tab.Go("/people?q=kit")
	click(tab, `input[name="person"]`)
	tab.Press(`form[action="/people/codes"] button`)
	code := browsertest.Eval[string](tab, `document.querySelector("ul.slips code").textContent`)
	// The first quiz.
	tab.Go("/forms/new")
	retype(tab, "#f-title", "First look into the books")
	retype(tab, "#f-questions", "5")
	tab.Press(`button[name="do"][value="even"]`)
	tab.Press(`button[name="do"][value="make"]`)
	tab.Press(`a[href^="/assignments/new"]`)
	click(tab, `input[name="role"][value="technician"]`)
	tab.Press("main form p.actions button")
	says(t, tab, "Kit Sandar")
	wellMade(t, tab, "journey-setup-assigned")

	kit := browsertest.Open(t, browser, h.URL, browsertest.Phone())
	kit.Go("/code")
	redeem(kit, code, "a boat in every harbour")
	at(t, kit, "/due")
	kit.Press(`main a[href^="/quizzes/"]`)
	kit.Press("main form button")
	for range 5 {
		answer(kit)
		click(kit, ".attempt-actions button:first-child")
		here := kit.Path()
		until(t, "the next page", func() bool { return kit.Path() != here && reads(kit) != "" })
	}
	click(kit, "form[data-handin] button")
	until(t, "it is handed in", func() bool { return strings.HasSuffix(kit.Path(), "/feedback") })
	wellMade(t, kit, "journey-setup-handed-in")
}
