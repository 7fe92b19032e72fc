package administrator_test

import (
	"encoding/csv"
	"encoding/json"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"rightpage/quiz"
	"rightpage/server/account"
	"rightpage/server/web/webtest"
)

func form(p quiz.Person, login string) url.Values {
	v := url.Values{"name": {p.Name}, "number": {p.Number}, "mail": {p.Mail}, "site": {p.Site}, "login": {login}, "language": {"en"}, "version": {strconv.Itoa(p.Version)}}
	for _, r := range p.Roles {
		v.Add("role", string(r))
	}
	return v
}

func TestFindingPeople(t *testing.T) {
	o := open(t, account.Mailer{})
	o.give(t, o.tech, "tim.t")
	b := o.as(t, o.admin)
	names := func(query string) string {
		var list []string
		for _, m := range regexp.MustCompile(`<th scope="row"><a href="/people/[^"]*">([^<]*)</a>`).FindAllStringSubmatch(b.Get("/people?"+query).Body, -1) {
			list = append(list, m[1])
		}
		return strings.Join(list, ", ")
	}
	for query, want := range map[string]string{
		"":                    "Ada Admin, Cora Coordinator, Max Manager, Tess Technician, Tim Technician",
		"q=TECHNICIAN":        "Tess Technician, Tim Technician",
		"q=tim.T":             "Tim Technician", // by login
		"site=" + o.site.ID:   "Cora Coordinator, Tim Technician",
		"site=-":              "Ada Admin, Max Manager, Tess Technician",
		"role=technician":     "Cora Coordinator, Tess Technician, Tim Technician",
		"state=none&q=t":      "Cora Coordinator, Tess Technician",
		"state=left":          "",
		"q=nobody":            "",
		"page=99":             "Ada Admin, Cora Coordinator, Max Manager, Tess Technician, Tim Technician",
		"page=-1&q=%00%27%3B": "",
	} {
		if got := names(query); got != want {
			t.Errorf("%s: %s, want %s", query, got, want)
		}
	}
	wantStatus(t, "a technician", o.as(t, o.tech).Get("/people"), http.StatusForbidden)
	wantStatus(t, "a manager", o.as(t, o.manager).Get("/people"), http.StatusForbidden)
}

func TestAddingAndChangingAPerson(t *testing.T) {
	o := open(t, account.Mailer{})
	b := o.as(t, o.admin)
	add := form(quiz.Person{Name: "Nia New", Number: "17", Mail: "nia@wexcombe.example", Site: o.site.ID, Roles: []quiz.Role{quiz.Technician, quiz.Manager}}, "Nia")
	add.Set("key", "abcdefgh12345678")
	got := b.Post("/people/new", add)
	path := got.Header.Get("Location")
	if !strings.HasPrefix(path, "/people/") {
		t.Fatalf("status %d to %s\n%s", got.Status, path, got.Body)
	}
	wantText(t, "added", b.Get(path), "Nia New is added", "no password yet")
	wantTo(t, "sent twice", b.Post("/people/new", add), "/people")
	people, _ := o.app.Store.People(t.Context())
	if n := slices.IndexFunc(people, func(p quiz.Person) bool { return p.Name == "Nia New" }); len(people) != 6 || people[n].Number != "17" || people[n].Site != o.site.ID {
		t.Errorf("%+v", people)
	}
	id := strings.TrimPrefix(path, "/people/")
	for what, change := range map[string]func(url.Values){
		"e-number": func(v url.Values) { v.Set("number", "17") }, "e-login": func(v url.Values) { v.Set("login", "NIA") }, "e-name": func(v url.Values) { v.Set("name", " ") },
		"e-mail": func(v url.Values) { v.Set("mail", "nobody") }, "at least one role": func(v url.Values) { v.Del("role") }, "one of those offered": func(v url.Values) { v.Set("site", "nowhere") },
	} {
		v := form(quiz.Person{Name: "Zoe", Roles: []quiz.Role{quiz.Technician}}, "zoe")
		v.Set("mail", "zoe@wexcombe.example")
		change(v)
		got := b.Post("/people/new", v)
		wantStatus(t, what, got, http.StatusUnprocessableEntity)
		wantText(t, what, got, what)
		if what != "e-mail" {
			wantText(t, "what was typed stays", got, `value="zoe@wexcombe.example"`)
		}
	}
	nia, err := o.app.Store.Person(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	change := form(nia, "nia.new")
	change.Set("name", "Nia Newer")
	wantTo(t, "changing", b.Post(path, change), path)
	if a, err := o.app.Store.Account(t.Context(), "nia.new"); err != nil || a.Person != id {
		t.Errorf("%+v, %v", a, err)
	}
	change.Set("name", "Nia Older")
	wantStatus(t, "an old form", b.Post(path, change), http.StatusConflict)
	if now, _ := o.app.Store.Person(t.Context(), id); now.Name != "Nia Newer" {
		t.Errorf("the old form was saved: %s", now.Name)
	}
	wantStatus(t, "nobody", b.Post("/people/nobody", change), http.StatusNotFound)
}

// A coordinator adds and changes technicians, gives no other role, and touches
// nobody who has one: not even to get at the account.
func TestWhatACoordinatorMayDo(t *testing.T) {
	o := open(t, account.Mailer{})
	for login, p := range map[string]*quiz.Person{"ada": o.admin, "max": o.manager, "tim": o.tech, "cora": o.coordinator} {
		o.give(t, p, login)
	}
	b := o.as(t, o.coordinator)
	wantText(t, "the list", b.Get("/people"), "Ada Admin", "Tim Technician")
	tim := form(*o.tech, "tim")
	tim.Set("name", "Timothy Technician")
	wantTo(t, "a technician", b.Post("/people/"+o.tech.ID, tim), "/people/"+o.tech.ID)
	for _, role := range []string{"administrator", "manager", "coordinator"} {
		v := form(o.read(t, o.tech), "tim")
		v.Add("role", role)
		wantStatus(t, "making a technician "+role, b.Post("/people/"+o.tech.ID, v), http.StatusUnprocessableEntity)
		v = form(quiz.Person{Name: "Friend", Roles: []quiz.Role{quiz.Role(role)}}, "friend")
		wantStatus(t, "adding a "+role, b.Post("/people/new", v), http.StatusUnprocessableEntity)
	}
	for _, p := range []*quiz.Person{o.admin, o.manager, o.coordinator} {
		wantText(t, "to look at", b.Get("/people/"+p.ID), "Only an administrator")
		for _, path := range []string{"", "/leave", "/return", "/sign-out", "/mail"} {
			wantStatus(t, p.Name+path, b.Post("/people/"+p.ID+path, form(*p, "x")), http.StatusForbidden)
		}
		wantStatus(t, "a code for "+p.Name, b.Post("/people/codes", url.Values{"person": {o.tech.ID, p.ID}}), http.StatusForbidden)
		wantStatus(t, "a mail to "+p.Name, b.Post("/people/mails", url.Values{"person": {p.ID}}), http.StatusForbidden)
	}
	log, err := o.app.Store.AuditLog(t.Context(), 0, 100)
	if err != nil || slices.ContainsFunc(log, func(e quiz.Entry) bool { return e.Action == "code.issue" }) {
		t.Errorf("a code was made: %v, %v", log, err)
	}
	wantText(t, "a code for a technician", b.Post("/people/codes", url.Values{"person": {o.tech.ID}}), "Timothy Technician")
	for _, path := range []string{"/people/" + o.tech.ID + "/erase", "/people/" + o.tech.ID + "/export"} {
		wantStatus(t, path, b.Post(path, url.Values{"confirm": {"Timothy Technician"}}), http.StatusForbidden)
	}
	for _, path := range []string{"/sites", "/settings", "/audit", "/backup", "/audit/export?as=jsonl"} {
		wantStatus(t, path, b.Get(path), http.StatusForbidden)
	}
	if a := o.read(t, o.admin); a.Name != "Ada Admin" || !a.Active(o.clock.Now()) {
		t.Errorf("%+v", a)
	}
}

func TestOneTimeCodesOnPaper(t *testing.T) {
	o := open(t, account.Mailer{})
	if err := o.app.Store.SaveAccount(t.Context(), "", &quiz.Account{Person: o.tech.ID, Login: "tim", Must: true}); err != nil {
		t.Fatal(err)
	}
	o.tech.Locale = "de"
	if err := o.app.Store.SavePerson(t.Context(), "", o.tech); err != nil {
		t.Fatal(err)
	}
	b := o.as(t, o.admin)
	wantText(t, "who has none", b.Get("/people?state=waiting"), "Tim Technician", `value="`+o.tech.ID+`" aria-label="Choose Tim Technician" checked`)
	wantStatus(t, "somebody without an account", b.Post("/people/codes", url.Values{"person": {o.tech.ID, o.other.ID}}), http.StatusConflict)
	wantTo(t, "nobody ticked", b.Post("/people/codes", nil), "/people")
	page := b.Post("/people/codes", url.Values{"person": {o.tech.ID, o.tech.ID}})
	code := regexp.MustCompile(`<code>([0-9A-Z-]{14})</code>`).FindStringSubmatch(page.Body)
	if code == nil {
		t.Fatalf("no code:\n%s", page.Body)
	}
	// The slip is in the language of who gets it.
	wantText(t, "the slip", page, `<li lang="de">`, "Anmeldename", "bis 17. März 2031")
	if strings.Count(page.Body, "<code>") != 1 {
		t.Error("a code for each time ticked")
	}
	in := webtest.Visit(t, o.srv)
	wantTo(t, "used", in.Post("/code", url.Values{"code": {code[1]}, "new-password": {password}, "new-password-again": {password}}), "/")
}

func TestLeavingAndComingBack(t *testing.T) {
	o := open(t, account.Mailer{})
	o.give(t, o.tech, "tim")
	token := quiz.Token{Person: o.tech.ID, Name: "sheet", Expires: o.clock.Now().AddDate(0, 1, 0)}
	secret, err := o.app.Store.AddToken(t.Context(), o.tech.ID, &token)
	if err != nil {
		t.Fatal(err)
	}
	b, tim := o.as(t, o.admin), o.as(t, o.tech)
	wantTo(t, "leaving", b.Post("/people/"+o.tech.ID+"/leave", form(*o.tech, "")), "/people/"+o.tech.ID)
	wantTo(t, "a second click", b.Post("/people/"+o.tech.ID+"/leave", form(*o.tech, "")), "/people/"+o.tech.ID)
	wantText(t, "left", b.Get("/people/"+o.tech.ID), "has left", "The person is back")
	if got := tim.Get("/account"); !strings.HasPrefix(got.Path, "/sign-in") {
		t.Errorf("still in at %s", got.Path)
	}
	wantStatus(t, "a code", b.Post("/people/codes", url.Values{"person": {o.tech.ID}}), http.StatusConflict)
	wantTo(t, "back", b.Post("/people/"+o.tech.ID+"/return", form(o.read(t, o.tech), "")), "/people/"+o.tech.ID)
	if !o.read(t, o.tech).Active(o.clock.Now()) {
		t.Error("not back")
	}
	if _, err := o.app.Store.TokenOf(t.Context(), secret); quiz.ErrorCode(err) != quiz.Unidentified {
		t.Errorf("a token from before: %v", err)
	}
}

func TestSigningSomebodyOutEverywhere(t *testing.T) {
	o := open(t, account.Mailer{})
	one, two, b := o.as(t, o.tech), o.as(t, o.tech), o.as(t, o.admin)
	wantTo(t, "out", b.Post("/people/"+o.tech.ID+"/sign-out", nil), "/people/"+o.tech.ID)
	wantText(t, "it says how many", b.Get("/people/"+o.tech.ID), "2 sessions were ended")
	for _, x := range []*webtest.Browser{one, two} {
		if got := x.Get("/account"); !strings.HasPrefix(got.Path, "/sign-in") {
			t.Errorf("still in at %s", got.Path)
		}
	}
}

func TestAnAdministratorStays(t *testing.T) {
	o := open(t, account.Mailer{})
	b := o.as(t, o.admin)
	v := form(*o.admin, "")
	v["role"] = []string{"technician"}
	wantStatus(t, "giving the role up", b.Post("/people/"+o.admin.ID, v), http.StatusConflict)
	wantStatus(t, "leaving", b.Post("/people/"+o.admin.ID+"/leave", v), http.StatusConflict)
	wantStatus(t, "erasing oneself", b.Post("/people/"+o.admin.ID+"/erase", url.Values{"confirm": {"Ada Admin"}}), http.StatusConflict)
	webtest.Person(t, o.app, "Second Admin", "", quiz.Administrator)
	wantTo(t, "with another there", b.Post("/people/"+o.admin.ID, v), "/people/"+o.admin.ID)
}

func TestExportAndErasureOfAPersonsData(t *testing.T) {
	o := open(t, account.Mailer{})
	o.give(t, o.tech, "tim")
	b := o.as(t, o.admin)
	got := b.Post("/people/"+o.tech.ID+"/export", nil)
	if got.Status != 200 || !json.Valid([]byte(got.Body)) || !strings.Contains(got.Body, "Tim Technician") || strings.Contains(got.Body, "argon2") {
		t.Errorf("status %d: %s", got.Status, got.Body)
	}
	for _, typed := range []string{"", "tim technician", "yes"} {
		wantStatus(t, "typed "+typed, b.Post("/people/"+o.tech.ID+"/erase", url.Values{"confirm": {typed}}), http.StatusUnprocessableEntity)
	}
	if o.read(t, o.tech).Name != "Tim Technician" {
		t.Fatal("erased without the name")
	}
	wantTo(t, "typed", b.Post("/people/"+o.tech.ID+"/erase", url.Values{"confirm": {"Tim Technician"}}), "/people")
	if x := o.read(t, o.tech); x.Erased.IsZero() || strings.Contains(x.Name, "Tim") {
		t.Errorf("%+v", x)
	}
	if _, err := o.app.Store.Account(t.Context(), "tim"); quiz.ErrorCode(err) != quiz.NotFound {
		t.Errorf("the account is there still: %v", err)
	}
	wantText(t, "afterwards", b.Get("/people/"+o.tech.ID), "was erased")
	wantStatus(t, "coming back", b.Post("/people/"+o.tech.ID+"/return", nil), http.StatusConflict)
}

// What is exported can be opened in a spreadsheet: nothing in it runs.
func TestTheListOfPeopleIsSafeInSpreadsheets(t *testing.T) {
	o := open(t, account.Mailer{})
	bad := `=HYPERLINK("http://bad.example","x")`
	p := &quiz.Person{Name: bad, Number: "+1+cmd", Mail: "@x@wexcombe.example", Roles: []quiz.Role{quiz.Technician}}
	p.Mail = "-x@wexcombe.example"
	if err := o.app.Store.SavePerson(t.Context(), "", p); err != nil {
		t.Fatal(err)
	}
	b := o.as(t, o.admin)
	for _, path := range []string{"/people/export?as=csv", "/audit/export?as=csv", "/people/import/template?as=csv"} {
		got := b.Get(path)
		rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(got.Body, "\ufeff"))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range rows {
			for _, cell := range row {
				if cell != "" && strings.ContainsRune("=+-@\t\r", rune(cell[0])) {
					t.Errorf("%s: %q would be run", path, cell)
				}
			}
		}
		if strings.Contains(path, "people/export") && !strings.Contains(got.Body, "'=HYPERLINK") {
			t.Errorf("the name is not there:\n%s", got.Body)
		}
	}
}
