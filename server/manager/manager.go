// Package manager is the pages of who answers for people being ready: the
// readiness board, the requirements of courses, the calendar of certificates that
// expire, and the monthly recognition of progress.
//
// A manager who belongs to a site sees the people of that site; one who belongs
// to none, and the coordinator, sees everybody.
package manager

import (
	"context"
	"embed"
	"net/http"
	"slices"
	"time"

	"rightpage/banks/kinds"
	"rightpage/quiz"
	"rightpage/quiz/issuing"
	"rightpage/quiz/progress"
	"rightpage/server/web"
)

//go:embed pages/*.html
var files embed.FS

// Deps is what the pages work with.
type Deps struct {
	Progress *progress.Progress
	Issuer   *issuing.Issuer
}

// Pages are the pages.
type Pages struct {
	app  *web.App
	deps Deps
	set  *web.PageSet
}

// New makes the pages.
func New(app *web.App, d Deps) (*Pages, error) {
	set, err := app.Pages(files)
	if err != nil {
		return nil, err
	}
	return &Pages{app: app, deps: d, set: set}, nil
}

// managers is the access of these pages.
func managers() web.Access { return web.Access{Manager: web.Site, Coordinator: web.All} }

// Menu lists the entries of the menu.
func Menu() []web.MenuItem {
	return []web.MenuItem{
		{Path: "/readiness", Label: "manager.menu.readiness", Access: managers()},
		{Path: "/calendar", Label: "manager.menu.calendar", Access: managers()},
		{Path: "/recognition", Label: "manager.menu.recognition", Access: managers()},
	}
}

// Routes lists the routes.
func (p *Pages) Routes() []web.Route {
	get := func(path string, h func(*web.Context) error) web.Route {
		return web.Route{Method: http.MethodGet, Path: path, Access: managers(), Handle: h}
	}
	post := func(path string, h func(*web.Context) error) web.Route {
		return web.Route{Method: http.MethodPost, Path: path, Access: managers(), Handle: h}
	}
	slow := func(r web.Route) web.Route { r.Slow = true; return r }
	return []web.Route{
		get("/readiness", p.courses),
		slow(get("/readiness/:requirement", p.board)),
		slow(get("/readiness/:requirement/table", p.boardTable)),
		slow(get("/readiness/:requirement/report", p.boardReport)),
		get("/requirements/new", p.newRequirement),
		post("/requirements", p.saveRequirement),
		get("/requirements/:requirement", p.editRequirement),
		get("/calendar", p.calendar),
		get("/calendar/table", p.calendarTable),
		slow(get("/recognition", p.recognition)),
	}
}

// today is the day in the visitor's zone, as a date in UTC.
func today(c *web.Context) time.Time {
	y, m, d := c.Now().In(c.Zone).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// requirementOf finds the requirement of the address.
func (p *Pages) requirementOf(c *web.Context) (quiz.Requirement, error) {
	return p.findRequirement(c, c.Param("requirement"))
}

// findRequirement finds a requirement whose course is not long past and that is
// the visitor's business.
func (p *Pages) findRequirement(c *web.Context, id string) (quiz.Requirement, error) {
	list, err := p.app.Store.Requirements(c.Ctx(), today(c).AddDate(-1, 0, 0))
	if err != nil {
		return quiz.Requirement{}, err
	}
	i := slices.IndexFunc(list, func(r quiz.Requirement) bool { return r.ID == id })
	if i >= 0 {
		ours, err := p.ours(c, list[i])
		if err != nil || ours {
			return list[i], err
		}
	}
	return quiz.Requirement{}, quiz.Errorf(quiz.NotFound, "there is no such requirement, or none that you may see")
}

// ours tells whether a requirement can concern somebody whom the visitor may see.
func (p *Pages) ours(c *web.Context, r quiz.Requirement) (bool, error) {
	if c.Scope == web.All || c.Visitor.Site == "" {
		return true, nil
	}
	people, err := p.app.Store.People(c.Ctx())
	return slices.ContainsFunc(r.Targets, func(t quiz.Target) bool {
		switch t.Kind {
		case quiz.ToRole:
			return true
		case quiz.ToSite:
			return t.ID == c.Visitor.Site
		}
		return slices.ContainsFunc(people, func(x quiz.Person) bool { return x.ID == t.ID && c.Covers(&x) })
	}), err
}

// concerned lists the people whom a requirement concerns and whom the visitor may
// see.
func (p *Pages) concerned(c *web.Context, r quiz.Requirement) ([]quiz.Person, error) {
	all, err := p.app.Store.People(c.Ctx())
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(all, func(x quiz.Person) bool {
		return !x.Active(c.Now()) || !r.For(x) || !c.Covers(&x)
	}), nil
}

// siteNames gives the names of the sites by ID.
func (p *Pages) siteNames(ctx context.Context) (map[string]string, []quiz.Site, error) {
	list, err := p.app.Store.Sites(ctx)
	if err != nil {
		return nil, nil, err
	}
	names := map[string]string{}
	for _, s := range list {
		names[s.ID] = s.Name
	}
	return names, list, nil
}

// skills lists the skills that questions train, each once.
func skills() []string {
	var out []string
	for _, k := range kinds.All() {
		if !slices.Contains(out, k.Skill) {
			out = append(out, k.Skill)
		}
	}
	slices.Sort(out)
	return out
}
