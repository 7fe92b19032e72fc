package marks

import (
	"cmp"
	"context"
	"embed"
	"html/template"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"rightpage/banks"
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

// Pages are the pages of marks and certificates.
type Pages struct {
	app     *web.App
	store   *store.Store
	library *library.Library
	marker  *marking.Marker
	issuer  *issuing.Issuer
	set     *web.PageSet
	turn    chan struct{} // scans of one upload at a time are read: pictures take memory
}

// New makes the pages.
func New(app *web.App, d Deps) (*Pages, error) {
	set, err := app.Pages(files)
	if err != nil {
		return nil, err
	}
	return &Pages{app: app, store: app.Store, library: d.Library, marker: d.Marker, issuer: d.Issuer, set: set, turn: make(chan struct{}, 1)}, nil
}

func coordinators() web.Access { return web.Access{Coordinator: web.All} }

// Menu lists the entries of the menu.
func Menu() []web.MenuItem {
	return []web.MenuItem{
		{Path: "/disputes", Label: "marks.menu.disputes", Access: coordinators()},
		{Path: "/certified", Label: "marks.menu.certified", Access: coordinators()},
	}
}

// Reading scans costs the server something: not more often than this.
func scanRate() *store.Rate { return &store.Rate{Burst: 20, Every: 15 * time.Second} }

// Routes lists the routes.
func (p *Pages) Routes() []web.Route {
	get := func(path string, h func(*web.Context) error) web.Route {
		return web.Route{Method: http.MethodGet, Path: path, Access: coordinators(), Handle: h}
	}
	post := func(path string, h func(*web.Context) error) web.Route {
		return web.Route{Method: http.MethodPost, Path: path, Access: coordinators(), Handle: h}
	}
	slow := func(r web.Route) web.Route { r.Slow = true; return r }
	of := func(owner func(*web.Context) (string, error), r web.Route) web.Route { r.Owner = owner; return r }
	named := func(c *web.Context) (string, error) { return c.Param("person"), nil }
	scan := slow(post("/assignments/:assignment/scans", p.uploadScans))
	scan.Body, scan.Rate = maxScans+1<<20, scanRate()
	code := of(p.ownerOfScan, slow(post("/assignments/:assignment/scans/pages/:scan/code", p.readByCode)))
	code.Rate = scanRate()
	judged := post("/assignments/:assignment/statistics/judges", p.uploadJudges)
	judged.Body = 4 << 20
	return []web.Route{
		p.showsKey(get("/assignments/:assignment/grades", p.grades)),
		p.showsKey(get("/assignments/:assignment/grades/table", p.gradesTable)),
		p.showsKey(get("/assignments/:assignment/grades/answers", p.answersTable)),
		p.showsKey(of(p.ownerOfAttempt, get("/assignments/:assignment/grades/:attempt", p.attempt))),
		p.showsKey(of(p.ownerOfAttempt, post("/assignments/:assignment/grades/:attempt/read", p.readAs))),
		p.showsKey(of(p.ownerOfAttempt, get("/assignments/:assignment/grades/:attempt/correct", p.correctPage))),
		p.showsKey(of(p.ownerOfAttempt, post("/assignments/:assignment/grades/:attempt/correct", p.correct))),

		get("/assignments/:assignment/paper", p.choosePerson),
		of(named, get("/assignments/:assignment/paper/:person", p.paperPage)),
		of(named, post("/assignments/:assignment/paper/:person", p.savePaper)),

		get("/assignments/:assignment/scans", p.scans),
		scan,
		of(named, get("/assignments/:assignment/scans/:person", p.sheet)),
		of(named, post("/assignments/:assignment/scans/:person", p.recordSheet)),
		of(p.ownerOfScan, get("/assignments/:assignment/scans/pages/:scan/image", p.scanImage)),
		of(p.ownerOfScan, get("/assignments/:assignment/scans/pages/:scan/crop/:n", p.scanCrop)),
		of(p.ownerOfScan, post("/assignments/:assignment/scans/pages/:scan/refuse", p.refuseScan)),
		code,

		p.showsKey(slow(get("/assignments/:assignment/statistics", p.statistics))),
		p.showsKey(slow(get("/assignments/:assignment/statistics/questions/:n", p.question))),
		p.showsKey(slow(get("/assignments/:assignment/statistics/table/:table", p.statisticsTable))),
		slow(get("/assignments/:assignment/statistics/judges", p.judges)),
		slow(get("/assignments/:assignment/statistics/judges/page", p.judgesPage)),
		judged,

		p.showsKey(get("/assignments/:assignment/regrade", p.regradePage)),
		p.showsKey(slow(post("/assignments/:assignment/regrade", p.regrade))),

		get("/disputes", p.disputes),
		p.showsKey(of(p.ownerOfDispute, get("/disputes/:dispute", p.dispute))),
		p.showsKey(of(p.ownerOfDispute, slow(post("/disputes/:dispute", p.decide)))),

		get("/certified", p.certified),
		get("/certified/table", p.certifiedTable),
		get("/certified/issue", p.issuePage),
		slow(post("/certified/issue", p.issue)),
		of(p.ownerOfCertificate, get("/certified/:number", p.certificate)),
		of(p.ownerOfCertificate, get("/certified/:number/files/:kind", p.certificateFile)),
		of(p.ownerOfCertificate, post("/certified/:number/revoke", p.revoke)),
		of(p.ownerOfCertificate, slow(post("/certified/:number/top-up", p.topUp))),
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

// head is what every page about an assignment begins with.
type head struct {
	Assignment quiz.Assignment
	Here       string // which of the pages
	Name       string // of the page, in the visitor's language
	Key        string
}

// At is the address of a page about the assignment.
func (h head) At(page string) string { return "/assignments/" + h.Assignment.ID + "/" + page }

// PageTitle names the page.
func (h head) PageTitle() string { return h.Name + " – " + h.Assignment.Title }

// Parts lists the pages about an assignment.
func (h head) Parts() []string {
	return []string{"grades", "paper", "scans", "statistics", "regrade"}
}

func headOf(c *web.Context, a quiz.Assignment, here string) head {
	return head{Assignment: a, Here: here, Name: c.Words.Or("marks.page."+here, here), Key: web.NewKey()}
}

func (p *Pages) head(c *web.Context, here string) (head, error) {
	a, err := p.store.Assignment(c.Ctx(), c.Param("assignment"))
	return headOf(c, a, here), err
}

// once tells whether a form with a key is sent for the first time. Who is told
// so and then fails must forget it.
func (p *Pages) once(ctx context.Context, what, key string) (first bool, forget func() error, err error) {
	name := "once " + what + " " + key
	first, _, err = p.store.Allow(ctx, name, store.Rate{Burst: 1, Every: 24 * time.Hour})
	return first, func() error { return p.store.Forgive(ctx, name) }, err
}

// answered turns an error that the visitor can do something about into a text
// for the page, and leaves others as they are.
func answered(err error) (string, error) {
	switch quiz.ErrorCode(err) {
	case "":
		return "", nil
	case quiz.Invalid, quiz.Closed, quiz.Conflict, quiz.Forbidden, quiz.NotFound:
		return err.Error(), nil
	}
	return "", err
}

// take is the address of a table to take away, with the filter of the page.
func take(path string, query url.Values) func(as string) template.URL {
	return func(as string) template.URL {
		q := url.Values{}
		for k, v := range query {
			q[k] = v
		}
		q.Set("as", as)
		return template.URL(path + "?" + q.Encode())
	}
}

// Taken is a table to take away, with the filter of the page.
type Taken struct{ CSV, XLSX template.URL }

func taken(path string, query url.Values) Taken {
	at := take(path, query)
	return Taken{at("csv"), at("xlsx")}
}

// placeName names a question by its place: "3", or where a form has several
// variants "A3 · B7".
func placeName(f *marking.Form, places []int) string {
	if len(places) == 1 {
		return strconv.Itoa(places[0])
	}
	var list []string
	for v, n := range places {
		if n > 0 {
			list = append(list, f.Variants[v].Name+strconv.Itoa(n))
		}
	}
	return strings.Join(list, " · ")
}

// keyed is a question as a coordinator sees it, with its key.
type keyed struct {
	Question *banks.Question
	Number   int
	Place    string
	Touched  bool // its key was corrected
}

// byPerson orders people by name.
func byPerson(a, b quiz.Person) int {
	return cmp.Or(strings.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name)), strings.Compare(a.ID, b.ID))
}

// siteNames gives the names of the sites by ID.
func (p *Pages) siteNames(ctx context.Context) (map[string]string, error) {
	list, err := p.store.Sites(ctx)
	if err != nil {
		return nil, err
	}
	m := map[string]string{}
	for _, s := range list {
		m[s.ID] = s.Name
	}
	return m, nil
}

// peopleByID gives everybody by ID, those who left too.
func (p *Pages) peopleByID(ctx context.Context) (map[string]quiz.Person, error) {
	list, err := p.store.People(ctx)
	if err != nil {
		return nil, err
	}
	m := make(map[string]quiz.Person, len(list))
	for _, x := range list {
		m[x.ID] = x
	}
	return m, nil
}

// inTurn does what takes much memory when nobody else on this server does.
func (p *Pages) inTurn(ctx context.Context, do func() error) error {
	select {
	case p.turn <- struct{}{}:
		defer func() { <-p.turn }()
		return do()
	case <-ctx.Done():
		return &quiz.Error{Code: quiz.Unavailable, Text: "other scans are being read", Err: ctx.Err(), Mend: "try again when they are done"}
	}
}
