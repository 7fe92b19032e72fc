// Package administrator is the pages about people and their accounts, sites,
// settings, the audit log and backups.
//
// Administrators may do everything here. Coordinators see the people, and add,
// change and import technicians; they give no other role, and touch nobody who
// has one: whoever could would make themselves administrator in two steps.
package administrator

import (
	"context"
	"embed"
	"net/http"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/store"
	"rightpage/server/account"
	"rightpage/server/web"
)

//go:embed pages/*.html
var files embed.FS

// Keys are the keys that certificates are signed with.
type Keys interface {
	Warnings() []string
	Rotate(ctx context.Context, actor string) error
}

// Deps is what the pages need besides what all pages share.
type Deps struct {
	Account *account.Pages // sends codes, and asks for passwords again
	Keys    Keys           // nil: no certificates are issued
}

// Pages are the pages.
type Pages struct {
	app     *web.App
	account *account.Pages
	keys    Keys
	set     *web.PageSet
}

// New makes the pages.
func New(app *web.App, d Deps) (*Pages, error) {
	set, err := app.Pages(files)
	if err != nil {
		return nil, err
	}
	return &Pages{app: app, account: d.Account, keys: d.Keys, set: set}, nil
}

// Who may use the pages.
var (
	forPeople = web.Access{Coordinator: web.All, Administrator: web.All}
	forRest   = web.Access{Administrator: web.All}
)

// Menu lists the entries of the menu.
func Menu() []web.MenuItem {
	return []web.MenuItem{
		{Path: "/people", Label: "administrator.people.title", Access: forPeople},
		{Path: "/sites", Label: "administrator.sites.title", Access: forRest},
		{Path: "/settings", Label: "administrator.settings.title", Access: forRest},
		{Path: "/audit", Label: "administrator.audit.title", Access: forRest},
		{Path: "/backup", Label: "administrator.backup.title", Access: forRest},
	}
}

// The bounds of uploads, in bytes.
const (
	maxList   = 2 << 20
	maxBackup = 1 << 30
	formRoom  = 64 << 10 // what is in a form besides its file
)

// How often things may be done.
var (
	changes  = store.Rate{Burst: 60, Every: time.Second}
	codes    = store.Rate{Burst: 30, Every: 5 * time.Second}
	lists    = store.Rate{Burst: 30, Every: 5 * time.Second}
	heavy    = store.Rate{Burst: 6, Every: 30 * time.Second}
	listings = store.Rate{Burst: 60, Every: time.Second}
)

// Routes lists the routes.
func (p *Pages) Routes() []web.Route {
	person := func(c *web.Context) (string, error) { return c.Param("person"), nil }
	about := func(method, path string, a web.Access, do func(*web.Context) error, rate *store.Rate) web.Route {
		return web.Route{Method: method, Path: "/people/:person" + path, Access: a, Owner: person, Handle: do, Rate: rate}
	}
	get, post := http.MethodGet, http.MethodPost
	export := about(post, "/export", forRest, p.exportPerson, &heavy)
	export.Slow = true
	return []web.Route{
		{Method: get, Path: "/people", Access: forPeople, Handle: p.people, Rate: &listings},
		{Method: get, Path: "/people/export", Access: forPeople, Handle: p.peopleTable, Rate: &heavy},
		{Method: get, Path: "/people/new", Access: forPeople, Handle: p.newPerson},
		{Method: post, Path: "/people/new", Access: forPeople, Handle: p.addPerson, Rate: &changes},
		{Method: post, Path: "/people/codes", Access: forPeople, Handle: p.codes, Rate: &codes},
		{Method: post, Path: "/people/mails", Access: forPeople, Handle: p.mails, Rate: &codes},
		{Method: get, Path: "/people/import", Access: forPeople, Handle: p.importPage},
		{Method: get, Path: "/people/import/template", Access: forPeople, Handle: p.importTemplate},
		{Method: post, Path: "/people/import", Access: forPeople, Handle: p.importPreview, Rate: &lists, Body: maxList + formRoom},
		{Method: post, Path: "/people/import/add", Access: forPeople, Handle: p.importAdd, Rate: &lists, Body: 4 * maxList, Slow: true},
		about(get, "", forPeople, p.person, nil),
		about(post, "", forPeople, p.savePerson, &changes),
		about(post, "/leave", forPeople, p.leave, &changes),
		about(post, "/return", forPeople, p.comeBack, &changes),
		about(post, "/sign-out", forPeople, p.signOutEverywhere, &changes),
		about(post, "/mail", forPeople, p.mail, &codes),
		export,
		about(get, "/erase", forRest, p.erasePage, nil),
		about(post, "/erase", forRest, p.erase, &changes),
		{Method: get, Path: "/sites", Access: forRest, Handle: p.sites},
		{Method: post, Path: "/sites", Access: forRest, Handle: p.saveSite, Rate: &changes},
		{Method: get, Path: "/sites/:site", Access: forRest, Handle: p.site},
		{Method: post, Path: "/sites/:site", Access: forRest, Handle: p.saveSite, Rate: &changes},
		{Method: get, Path: "/settings", Access: forRest, Handle: p.settings},
		{Method: post, Path: "/settings", Access: forRest, Handle: p.saveSettings, Rate: &changes},
		{Method: post, Path: "/settings/retention", Access: forRest, Handle: p.retain, Rate: &heavy, Slow: true},
		{Method: post, Path: "/settings/keys", Access: forRest, Handle: p.rotate, Rate: &heavy},
		{Method: get, Path: "/audit", Access: forRest, Handle: p.audit, Rate: &listings},
		{Method: post, Path: "/audit/verify", Access: forRest, Handle: p.verifyAudit, Rate: &heavy, Slow: true},
		{Method: get, Path: "/audit/export", Access: forRest, Handle: p.exportAudit, Rate: &heavy, Slow: true},
		{Method: get, Path: "/backup", Access: forRest, Handle: p.backup},
		{Method: post, Path: "/backup", Access: forRest, Handle: p.makeBackup, Rate: &heavy, Slow: true},
		{Method: post, Path: "/backup/verify", Access: forRest, Handle: p.verifyBackup, Rate: &heavy, Body: maxBackup, Slow: true},
	}
}

// mayTouch tells whether the visitor may change a person and the person's account.
func mayTouch(c *web.Context, person *quiz.Person) bool {
	if !person.Erased.IsZero() {
		return false
	}
	if c.May(quiz.Administrator) {
		return true
	}
	for _, r := range person.Roles {
		if r != quiz.Technician {
			return false
		}
	}
	return true
}

// touch gives the person of the route, if the visitor may change them.
func touch(c *web.Context) (quiz.Person, error) {
	if !mayTouch(c, c.Subject) {
		return quiz.Person{}, untouchable(c.Subject)
	}
	return *c.Subject, nil
}

func untouchable(person *quiz.Person) error {
	if !person.Erased.IsZero() {
		return quiz.Errorf(quiz.Closed, "the data of this person was erased")
	}
	return &quiz.Error{Code: quiz.Forbidden, Text: person.Name + " is more than a technician", Mend: "ask an administrator"}
}

// mayGive lists the roles that the visitor may give.
func mayGive(c *web.Context) []quiz.Role {
	if c.May(quiz.Administrator) {
		return quiz.Roles()
	}
	return []quiz.Role{quiz.Technician}
}

// lastAdministrator refuses what would leave nobody to administer.
func (p *Pages) lastAdministrator(c *web.Context, without string) error {
	people, err := p.app.Store.People(c.Ctx())
	if err != nil {
		return err
	}
	for _, x := range people {
		if x.ID != without && x.Has(quiz.Administrator) && x.Active(c.Now()) {
			return nil
		}
	}
	return &quiz.Error{Code: quiz.Closed, Text: "there would be no administrator left", Mend: "make somebody else administrator first"}
}
