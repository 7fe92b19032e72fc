package api

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"rightpage/quiz"
	"rightpage/quiz/progress"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

// Deps are what the interface reads from, beside the store of the pages.
type Deps struct {
	Progress *progress.Progress
}

// Pages is the interface.
type Pages struct {
	app      *web.App
	progress *progress.Progress
	ledger   *ledger
	document []byte // the OpenAPI document
}

// New makes the interface.
func New(app *web.App, d Deps) (*Pages, error) {
	if d.Progress == nil {
		return nil, quiz.Errorf(quiz.Internal, "the interface for programs has nothing to read progress from")
	}
	p := &Pages{app: app, progress: d.Progress, ledger: &ledger{s: app.Store}}
	var err error
	p.document, err = p.describe()
	return p, err
}

// base is what the addresses of the interface begin with.
const base = "/api/v1"

// often is how often one person may ask one endpoint: a program that reads page
// after page is not held up, one that runs wild is.
var often = store.Rate{Burst: 120, Every: 250 * time.Millisecond}

// endpoint is one address of the interface: what is served and what the
// document says of it.
type endpoint struct {
	path    string // below base, as echo has it
	id      string // operationId
	summary string
	about   string
	tag     string
	access  web.Access
	owner   func(c *web.Context) (string, error)
	query   []parameter
	headers []parameter // that a request must have
	answer  any         // what it answers with, for its schema
	or      any         // what else it may answer with; nil: nothing
	handle  func(c *web.Context) (any, error)
}

// parameter is one of a query, or a header.
type parameter struct {
	name, about string
	schema      map[string]any
}

// Who sees the records of whom, as on the pages.
var (
	forEverybody = web.Everybody()
	ofPeople     = web.Access{Technician: web.Own, Coordinator: web.All, Manager: web.Site, Administrator: web.All}
	ofWork       = web.Access{Technician: web.Own, Coordinator: web.All, Manager: web.Site}
)

func (p *Pages) endpoints() []endpoint {
	return slices.Concat(p.peopleEndpoints(), p.workEndpoints(), p.readinessEndpoints(), p.certificateEndpoints(),
		[]endpoint{p.statementsEndpoint(), {
			path: "/openapi.json", id: "getDescription", tag: "About", summary: "This document", access: web.Access{Public: true},
			answer: json.RawMessage(nil), handle: func(*web.Context) (any, error) { return json.RawMessage(p.document), nil },
		}})
}

// Routes gives what is served.
func (p *Pages) Routes() []web.Route {
	var routes []web.Route
	paths := map[string]bool{}
	for _, e := range p.endpoints() {
		paths[base+e.path] = true
		for _, method := range []string{http.MethodGet, http.MethodHead} { // RFC 9110, 9.1: both, always
			routes = append(routes, web.Route{Method: method, Path: base + e.path, Access: e.access, Owner: e.owner, Token: true, Rate: &often,
				Handle: func(c *web.Context) error { return p.serve(c, e) }})
		}
	}
	for _, method := range []string{http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete} {
		routes = append(routes, web.Route{Method: method, Path: base + "/*", Access: web.Access{Public: true}, Token: true, Handle: p.nowhere})
	}
	return routes
}

// nowhere answers what no endpoint takes.
func (p *Pages) nowhere(c *web.Context) error {
	if m := c.Request().Method; m != http.MethodGet && m != http.MethodHead {
		c.Response().Header().Set(echo.HeaderAllow, "GET, HEAD")
		return c.Problem(http.StatusMethodNotAllowed, quiz.Invalid, "this interface reads, and changes nothing", "make changes on the pages")
	}
	return c.Problem(http.StatusNotFound, quiz.NotFound, "there is nothing at this address", "see "+base+"/openapi.json")
}

// queryError is a query that cannot be answered.
type queryError struct{ text, mend string }

func (e *queryError) Error() string { return e.text + "; " + e.mend }

// serve answers at an endpoint.
func (p *Pages) serve(c *web.Context, e endpoint) error {
	answer, err := p.answer(c, e)
	var q *queryError
	switch {
	case errors.As(err, &q):
		return c.Problem(http.StatusBadRequest, quiz.Invalid, q.text, q.mend)
	case err != nil:
		return err
	}
	body, err := json.Marshal(answer)
	if err != nil {
		return err
	}
	h := c.Response().Header()
	if h.Get(echo.HeaderCacheControl) == "" {
		h.Set(echo.HeaderCacheControl, "private, no-cache") // kept, and asked about each time
	}
	h.Add(echo.HeaderVary, echo.HeaderAuthorization)
	// Weak, as it is of the JSON before it is compressed (RFC 9110, 8.8.1).
	sum := sha256.Sum256(body)
	tag := `W/"` + base64.RawURLEncoding.EncodeToString(sum[:12]) + `"`
	h.Set("ETag", tag)
	if matches(c.Request().Header.Values("If-None-Match"), tag) {
		return c.NoContent(http.StatusNotModified)
	}
	return c.JSONBlob(http.StatusOK, body)
}

func (p *Pages) answer(c *web.Context, e endpoint) (any, error) {
	for name := range c.QueryParams() {
		if !slices.ContainsFunc(e.query, func(q parameter) bool { return q.name == name }) {
			return nil, &queryError{"there is no parameter " + name + " here", "see " + base + "/openapi.json"}
		}
	}
	return e.handle(c)
}

// matches tells whether a tag is among those of If-None-Match, by the weak
// comparison that RFC 9110, 13.1.2 asks for.
func matches(lines []string, tag string) bool {
	weak := func(s string) string { return strings.TrimPrefix(strings.TrimSpace(s), "W/") }
	for _, line := range lines {
		for have := range strings.SplitSeq(line, ",") {
			if weak(have) == weak(tag) || strings.TrimSpace(have) == "*" {
				return true
			}
		}
	}
	return false
}
