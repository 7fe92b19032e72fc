//go:build browser

package server_test

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"rightpage/banks"
	"rightpage/quiz"
	"rightpage/server/browsertest"
	"rightpage/server/web"
	"rightpage/server/web/webtest"
)

// sight is a page as somebody sees it.
type sight struct {
	name string // of its pictures
	who  string // role, or "stranger"
	path string
	do   string // a script that makes the state to look at
	next bool   // the script leads to another page
	more bool   // others saw the same page before, with other eyes
}

// gallery collects what there is to see.
type gallery struct {
	s      *shop
	people map[string]*quiz.Person // by who
	list   []sight
}

func (g *gallery) add(who, name, path string) {
	g.list = append(g.list, sight{name: name, who: who, path: path})
}

// wrong adds a form as it is after being sent with nothing in it, or with what
// the script fills in.
func (g *gallery) wrong(who, name, path, fill string) {
	g.list = append(g.list, sight{name: name, who: who, path: path, next: true, do: fill + `;
		(() => { const f = document.querySelector("main form[method=post]"); f.noValidate = true; f.requestSubmit() })()`})
}

// nameOf makes the name of a picture of a route.
func nameOf(route string) string {
	name := strings.NewReplacer("/", "-", ":", "").Replace(strings.Trim(route, "/"))
	if name == "" {
		return "start"
	}
	return name
}

// Every page that anybody may see, and the states it can be in, breaks no rule
// of accessibility in either theme, is no wider than a phone or a desk, and
// raises no error of its script.
func TestPagesOfEveryRole(t *testing.T) {
	g := newGallery(t)
	browser := browsertest.Start(t)
	tabs := map[string]*browsertest.Tab{}
	seen := map[string]bool{}
	only := os.Getenv("RIGHTPAGE_SIGHTS") // looks at those alone whose name has this in it
	for _, x := range g.list {
		if !strings.Contains(x.name, only) {
			continue
		}
		tab := tabs[x.who]
		if tab == nil {
			tab = g.s.tab(t, browser, g.people[x.who], browsertest.Phone())
			tabs[x.who] = tab
		}
		g.s.clock.Move(2 * time.Second) // so that no limit of how often is met
		tab.Look(browsertest.Phone())
		tab.Go(x.path)
		if x.do != "" {
			before := browsertest.Eval[float64](tab, `performance.timeOrigin`)
			if wrong := browsertest.Eval[string](tab, "(() => { try { "+x.do+"; return '' } catch (e) { return String(e) } })()"); wrong != "" {
				t.Errorf("%s (%s): %s", x.name, tab.Path(), wrong)
				continue
			}
			if x.next {
				until(t, x.name+": another page", func() bool {
					return browsertest.Eval[bool](tab, fmt.Sprintf(`performance.timeOrigin !== %f && document.readyState === "complete"`, before))
				})
			}
		}
		look(t, tab, x.name+"-"+x.who, !x.more)
		seen[x.name] = true
	}
	t.Logf("%d pages, %d sights", len(seen), len(g.list))
	if only == "" && len(seen) < 60 {
		t.Errorf("only %d pages were seen", len(seen))
	}
}

// look looks at a page in both themes and widths; if it was looked at thoroughly
// before, as somebody else sees it, the rules are tried once.
func look(t *testing.T, tab *browsertest.Tab, name string, thorough bool) {
	t.Helper()
	wide := browsertest.Desk()
	for _, v := range []struct {
		name string
		w    browsertest.Window
		axe  bool
	}{
		{"phone", browsertest.Phone(), true}, {"desk", wide, false},
		{"desk-dark", browsertest.Window{Width: wide.Width, Height: wide.Height, Dark: true}, true},
		{"phone-dark", browsertest.Window{Width: browsertest.Phone().Width, Height: browsertest.Phone().Height, Dark: true}, false},
	} {
		tab.Look(v.w)
		tab.Picture(name + "-" + v.name)
		faults := tab.Wide()
		if v.axe && (thorough || !v.w.Dark) {
			faults = tab.Faults()
		}
		if len(faults) > 0 {
			t.Errorf("%s (%s), %s:\n%s", name, tab.Path(), v.name, strings.Join(faults, "\n"))
		}
	}
}

func newGallery(t *testing.T) *gallery {
	t.Helper()
	s := openShop(t)
	r := s.records()
	g := &gallery{s: s, people: map[string]*quiz.Person{}}
	// The technician with most to see: a graded attempt and a certificate.
	for i := range s.people {
		p := &s.people[i]
		if r.attempts[p.ID] != "" && r.numbers[p.ID] != "" && len(p.Roles) == 1 && p.Has(quiz.Technician) && p.Active(s.clock.Now()) {
			g.people["technician"] = p
		}
	}
	tech := g.people["technician"]
	if tech == nil {
		t.Fatal("no technician of the demonstration has a graded attempt and a certificate")
	}
	for _, l := range s.demo.Logins {
		if l.Role != quiz.Technician {
			g.people[string(l.Role)] = s.person(l.Person.ID)
		}
	}
	if c, err := s.store.Certificate(t.Context(), r.numbers[tech.ID]); err == nil {
		r.values["number"], r.values["code"] = c.Number, c.Code
	}
	next := s.as(tech).Get("/practice/next?mode=need")
	r.values["ref"] = strings.TrimPrefix(next.Path, "/practice/exercises/")

	// Every route, as each role that may see it.
	for _, route := range s.server.Routes() {
		if route.Method != http.MethodGet || route.Token {
			continue
		}
		g.route(r, route)
	}
	g.states()
	return g
}

// route adds a route as everybody sees it who may and who gets a page.
func (g *gallery) route(r *records, route web.Route) {
	whose := []string{"stranger"}
	if !route.Access.Public {
		whose = nil
		for _, role := range quiz.Roles() {
			if route.Access.Of(role) != web.Nobody {
				whose = append(whose, string(role))
			}
		}
	}
	more := false
	for _, who := range whose {
		visitor := g.people[who]
		owner := g.people["technician"]
		if route.Owner != nil && route.Access.Of(quiz.Role(who)) == web.Own {
			owner = visitor
		}
		path, ok := r.path(route, owner)
		if !ok || strings.Contains(route.Path, ":ref") && who != string(quiz.Technician) {
			continue // the visitor has no such record
		}
		if strings.Contains(route.Path, ":number") && route.Access.Public {
			path = strings.NewReplacer(":number", r.values["number"], ":code", r.values["code"]).Replace(route.Path)
		}
		b := webtest.Visit(g.s.t, g.s.http)
		if visitor != nil {
			b = g.s.as(visitor)
		}
		g.s.clock.Move(5 * time.Second)
		req, err := http.NewRequest(http.MethodGet, g.s.http.URL+path, nil)
		if err != nil {
			g.s.t.Fatal(err)
		}
		a := b.Do(req)
		if a.Status == http.StatusOK && strings.HasPrefix(a.Header.Get("Content-Type"), "text/html") {
			g.list = append(g.list, sight{name: nameOf(route.Path), who: who, path: path, more: more})
			more = true
		}
	}
}

// states adds what pages look like at other times than in the demonstration.
func (g *gallery) states() {
	s, t := g.s, g.s.t
	ctx := context.Background()
	tech := g.people["technician"]
	f := s.everyForm("Spring check of every form of answer")
	timed := func(a *quiz.Assignment) { a.Limit, a.Close = 3*time.Hour, s.clock.Now().Add(48*time.Hour) }
	a := s.assign(f, timed, tech)
	under := s.begin(a, tech)
	for n, q := range f.Variants[0].Questions {
		g.add("technician", "question-"+string(q.Form), fmt.Sprintf("/attempts/%s/questions/%d", under.ID, n+1))
	}
	g.add("technician", "quiz-under-way", "/quizzes/"+a.ID)
	g.add("technician", "review-under-way", "/attempts/"+under.ID+"/review")
	g.add("coordinator", "monitor-under-way", "/assignments/"+a.ID)
	g.add("coordinator", "more-time", "/assignments/"+a.ID+"/attempts/"+under.ID+"/time")
	g.wrong("coordinator", "more-time-wrong", "/assignments/"+a.ID+"/attempts/"+under.ID+"/time", `document.getElementById("f-minutes").value = "-4"`)

	// One that was handed in, all of it wrong, with every part of feedback; one
	// whose feedback is not out; and one that was not opened yet.
	f2 := s.everyForm("All wrong")
	done := s.begin(s.assign(f2, nil, tech), tech)
	for i, q := range done.Questions {
		value := map[banks.Form]string{banks.OneOf: "D", banks.SomeOf: "AB", banks.Typed: "nothing of the kind", banks.Number: "1", banks.Ordered: "BA", banks.Chase: ""}[f2.Variants[0].Questions[i].Form]
		if value == "" {
			continue
		}
		if _, _, err := s.store.SaveAnswer(ctx, quiz.Save{Attempt: done.ID, Question: q, Key: webtest.Key(i), Value: value, Spent: time.Minute}); err != nil {
			t.Fatal(err)
		}
	}
	closed := s.begin(s.assign(s.everyForm("Kept back"), func(a *quiz.Assignment) { a.Release = quiz.Release{When: quiz.ReleaseByHand, Score: true} }, tech), tech)
	for n, x := range []quiz.Attempt{done, closed} {
		if _, err := s.server.Marker.HandIn(ctx, x.ID, webtest.Key(100+n)); err != nil {
			t.Fatal(err)
		}
	}
	g.add("technician", "feedback-all-wrong", "/attempts/"+done.ID+"/feedback")
	g.add("technician", "feedback-kept-back", "/attempts/"+closed.ID+"/feedback")
	g.add("technician", "dispute", "/attempts/"+done.ID+"/disputes/3")
	g.wrong("technician", "dispute-wrong", "/attempts/"+done.ID+"/disputes/3", "")
	g.add("technician", "due-much", "/due")
	later := s.assign(f, func(a *quiz.Assignment) { a.Open = s.clock.Now().AddDate(0, 0, 7) }, tech)
	g.add("technician", "quiz-later", "/quizzes/"+later.ID)
	g.add("technician", "practice-chase", "/practice/next?mode=chase")
	g.list = append(g.list, sight{name: "practice-answered", who: "technician", path: "/practice/next?mode=need", next: true,
		do: `(() => { const f = document.querySelector("main form[method=post]"); f.requestSubmit(f.querySelector('[value="show"]')) })()`})

	g.add("technician", "check-question", "/practice/check/start")
	check := s.as(tech)
	at := check.Get("/practice/check/start").Path
	for range 4 {
		at = check.Get(check.Post(at, url.Values{"go": {"unknown"}}).Header.Get("Location")).Path
	}
	g.add("technician", "check-stopped", check.Get(check.Post(at, url.Values{"go": {"stop"}}).Header.Get("Location")).Path)
	at = check.Get("/practice/check/start").Path
	for strings.Contains(check.Get(at).Body, `value="unknown"`) {
		at = check.Get(check.Post(at, url.Values{"go": {"unknown"}}).Header.Get("Location")).Path
	}
	g.add("technician", "check-ended", at)

	// Somebody new, with nothing anywhere.
	newcomer := s.add("Nell Unwritten", "", quiz.Technician)
	g.people["newcomer"] = newcomer
	for _, path := range []string{"/due", "/practice", "/progress", "/certificates", "/account", "/account/tokens"} {
		g.add("newcomer", "empty"+nameOf(path), path)
	}

	// Forms with faults.
	for name, path := range map[string]string{"sign-in": "/sign-in", "code": "/code"} {
		g.wrong("stranger", name+"-wrong", path, "")
	}
	g.wrong("technician", "password-wrong", "/account/password", "")
	g.wrong("technician", "tokens-wrong", "/account/tokens", "")
	g.wrong("administrator", "person-wrong", "/people/new", "")
	g.wrong("administrator", "site-wrong", "/sites", `document.getElementById("f-zone").value = "Nowhere/Land"`)
	g.wrong("administrator", "erase-wrong", "/people/"+newcomer.ID+"/erase", "")
	g.wrong("administrator", "settings-wrong", "/settings", `for (const x of document.querySelectorAll("main form:first-of-type input:not([type=hidden])")) x.value = "-7"`)
	g.wrong("administrator", "backup-wrong", "/backup", "")
	g.wrong("manager", "requirement-wrong", "/requirements/new", "")
	g.wrong("coordinator", "assign-wrong", "/assignments/new", "")
	g.list = append(g.list, sight{name: "blueprint-wrong", who: "coordinator", path: "/forms/new", next: true, do: `(() => { const f = document.getElementById("blueprint"); f.noValidate = true;
		f.elements.title.value = ""; f.elements.questions.value = "0"; f.requestSubmit(f.querySelector('[value="make"]')) })()`})
	file := func(who, name, path, file, kind, content string) {
		g.wrong(who, name, path, fmt.Sprintf(`(() => { const d = new DataTransfer(); d.items.add(new File([%q], %q, {type: %q})); document.querySelector("main input[type=file]").files = d.files })()`, content, file, kind))
	}
	file("administrator", "import-preview", "/people/import", "people.csv", "text/csv", "name,number,mail,site,roles,login,language\nIda Example,901,,,technician,ida901,en\nOtto Example,902,not a mail,Atlantis,pilot,x,xx\n")
	file("administrator", "import-wrong", "/people/import", "people.csv", "text/csv", "this is no list")
	file("coordinator", "catalog-refused", "/catalogs", "catalog.zip", "application/zip", "no zip at all")

	// Errors.
	g.add("stranger", "error-sign-in", "/due")
	g.add("technician", "error-forbidden", "/people")
	g.add("technician", "error-not-found", "/attempts/none")
	g.add("stranger", "verify-unknown", "/verify?"+url.Values{"number": {"T-1"}, "code": {"wrong"}}.Encode())
	for _, c := range s.standings() {
		g.add("stranger", "verify-"+string(c.Number), "/verify/"+c.Number+"/"+c.Code)
	}
}

// standings gives a certificate of each standing.
func (s *shop) standings() []quiz.Certified {
	s.t.Helper()
	list, err := s.store.Certificates(context.Background())
	if err != nil {
		s.t.Fatal(err)
	}
	var out []quiz.Certified
	var had []string
	for _, c := range list {
		now := s.server.Issuer.Standing(context.Background(), c)
		if !slices.Contains(had, string(now.State)) {
			had = append(had, string(now.State))
			out = append(out, c)
		}
	}
	return out
}

// In each language the pages that are used most are no wider than a phone.
func TestLanguagesFitAPhone(t *testing.T) {
	s := openShop(t)
	browser := browsertest.Start(t)
	r := s.records()
	people := map[string]*quiz.Person{"stranger": nil}
	for _, l := range s.demo.Logins {
		people[string(l.Role)] = s.person(l.Person.ID)
	}
	tech := people["technician"]
	x := s.begin(s.assign(s.everyForm("Spring check"), nil, tech), tech)
	pages := map[string][]string{
		"stranger":      {"/sign-in", "/verify"},
		"technician":    {"/due", "/practice", "/practice/next?mode=chase", "/progress", "/certificates", "/attempts/" + x.ID + "/questions/1", "/attempts/" + x.ID + "/questions/6", "/attempts/" + x.ID + "/review", "/attempts/" + r.attempts[tech.ID] + "/feedback"},
		"coordinator":   {"/assignments", "/assignments/" + r.values["assignment"], "/assignments/new", "/forms/new", "/forms", "/catalogs", "/catalogs/" + r.values["catalog"]},
		"manager":       {"/readiness", "/readiness/" + r.values["requirement"], "/calendar", "/recognition", "/requirements/new"},
		"administrator": {"/people", "/people/new", "/people/import", "/sites", "/settings", "/audit", "/backup", "/account"},
	}
	for who, list := range pages {
		tab := s.tab(t, browser, people[who], browsertest.Phone())
		for _, language := range []string{"en", "de", "es", "fr"} {
			tab.Go(list[0])
			if got := browsertest.Eval[string](tab, `document.documentElement.lang`); got != language {
				before := browsertest.Eval[float64](tab, `performance.timeOrigin`)
				choose(tab, `footer select[name="language"]`, language)
				until(t, "the page in "+language, func() bool {
					return browsertest.Eval[bool](tab, fmt.Sprintf(`performance.timeOrigin !== %f && document.readyState === "complete" && document.documentElement?.lang === %q`, before, language))
				})
			}
			for _, path := range list {
				s.clock.Move(2 * time.Second)
				tab.Go(path)
				tab.Picture("language-" + language + "-" + who + "-" + nameOf(strings.Split(path, "?")[0]))
				if faults := tab.Wide(); len(faults) > 0 {
					t.Errorf("%s, %s: %s", path, language, strings.Join(faults, "\n"))
				}
			}
		}
	}
}
