package coordinator

import (
	"cmp"
	"context"
	"embed"
	"net/http"
	"strings"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/issuing"
	"rightpage/quiz/library"
	"rightpage/quiz/marking"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

//go:embed pages/*.html
var files embed.FS

// Deps is what the pages work with.
type Deps struct {
	Library *library.Library
	Marker  *marking.Marker
	Issuer  *issuing.Issuer
}

// Pages are the pages of the coordinator.
type Pages struct {
	app         *web.App
	store       *store.Store
	library     *library.Library
	marker      *marking.Marker
	issuer      *issuing.Issuer
	set         *web.PageSet
	comparisons *comparisons
}

// New makes the pages.
func New(app *web.App, d Deps) (*Pages, error) {
	set, err := app.Pages(files)
	if err != nil {
		return nil, err
	}
	return &Pages{app: app, store: app.Store, library: d.Library, marker: d.Marker, issuer: d.Issuer, set: set, comparisons: newComparisons()}, nil
}

// coordinators is the access of all pages of this package.
func coordinators() web.Access { return web.Access{Coordinator: web.All} }

// Menu lists the entries of the menu.
func Menu() []web.MenuItem {
	return []web.MenuItem{
		{Path: "/assignments", Label: "coordinator.menu.assignments", Access: coordinators()},
		{Path: "/forms", Label: "coordinator.menu.forms", Access: coordinators()},
		{Path: "/catalogs", Label: "coordinator.menu.catalogs", Access: coordinators()},
	}
}

// maxUploadBody lets uploads that are too large through up to a point, so that
// their sender is told so beside the field.
const maxUploadBody = 2*library.MaxUpload + 1<<20

// maxReport bounds the request that carries a report of a refused catalog.
const maxReport = 8 << 20

// Uploads and comparisons cost the server something: not more often than this.
func uploadRate() *store.Rate { return &store.Rate{Burst: 20, Every: 15 * time.Second} }

// Routes lists the routes.
func (p *Pages) Routes() []web.Route {
	get := func(path string, h func(*web.Context) error) web.Route {
		return web.Route{Method: http.MethodGet, Path: path, Access: coordinators(), Handle: h}
	}
	post := func(path string, h func(*web.Context) error) web.Route {
		return web.Route{Method: http.MethodPost, Path: path, Access: coordinators(), Handle: h}
	}
	slow := func(r web.Route) web.Route { r.Slow = true; return r }
	upload := slow(post("/catalogs", p.uploadCatalog))
	upload.Body, upload.Rate = maxUploadBody, uploadRate()
	report := post("/catalogs/refused", p.refusedReport)
	report.Body = maxReport
	take := post("/forms/import", p.importBlueprint)
	more := func(r web.Route) web.Route { r.Owner = p.ownerOfAttempt; return r }
	return []web.Route{
		get("/catalogs", p.catalogs),
		upload,
		report,
		slow(get("/catalogs/:catalog", p.catalog)),
		get("/catalogs/:catalog/report", p.report),
		slow(get("/catalogs/:catalog/file", p.catalogFile)),
		slow(post("/catalogs/:catalog/force", p.putInForce)),
		slow(get("/catalogs/:catalog/against/:other", p.difference)),
		slow(get("/catalogs/:catalog/against/:other/records", p.recordsTable)),
		slow(get("/catalogs/:catalog/against/:other/lookups", p.lookupsTable)),
		slow(get("/catalogs/:catalog/against/:other/notice", p.notice)),

		get("/forms", p.forms),
		slow(get("/forms/new", p.newForm)),
		slow(post("/forms/new", p.editForm)),
		take,
		get("/forms/:form", p.form),
		get("/forms/:form/blueprint", p.formBlueprint),
		slow(get("/forms/:form/print", p.printForm)),

		get("/assignments", p.assignments),
		get("/assignments/new", p.newAssignment),
		post("/assignments/new", p.addAssignment),
		get("/assignments/:assignment", p.assignment),
		get("/assignments/:assignment/edit", p.editAssignment),
		post("/assignments/:assignment/edit", p.saveAssignment),
		post("/assignments/:assignment/release", p.releaseFeedback),
		get("/assignments/:assignment/print", p.printPage),
		slow(get("/assignments/:assignment/booklets", p.booklets)),
		more(get("/assignments/:assignment/attempts/:attempt/time", p.moreTime)),
		more(post("/assignments/:assignment/attempts/:attempt/time", p.giveTime)),
	}
}

// ownerOfAttempt gives whose attempt a route is about.
func (p *Pages) ownerOfAttempt(c *web.Context) (string, error) {
	a, err := p.store.Attempt(c.Ctx(), c.Param("attempt"))
	if err == nil && a.Assignment != c.Param("assignment") {
		err = quiz.Errorf(quiz.NotFound, "there is no such attempt at this assignment")
	}
	return a.Person, err
}

// names gives the names of all people by ID, those who left too.
func (p *Pages) names(ctx context.Context) (map[string]string, error) {
	people, err := p.store.People(ctx)
	if err != nil {
		return nil, err
	}
	m := make(map[string]string, len(people))
	for _, x := range people {
		m[x.ID] = x.Name
	}
	return m, nil
}

// byName orders people by name.
func byName(a, b quiz.Person) int {
	return cmp.Or(strings.Compare(a.Name, b.Name), strings.Compare(a.ID, b.ID))
}
