package web

import (
	"context"
	"net/netip"
	"time"

	"github.com/labstack/echo/v4"

	"rightpage/quiz"
	"rightpage/quiz/store"
)

// Route is one thing that the server does. All routes are mounted by
// [App.Mount], which sees to the access.
type Route struct {
	Method, Path string // as echo has it: /people/:person
	Access       Access
	// Owner gives the ID of the person whose record the route is about; nil if it
	// is about nobody's in particular, or about the visitor's own alone.
	Owner  func(c *Context) (string, error)
	Handle func(c *Context) error
	Body   int64       // most bytes of a request; 0: MaxForm
	Rate   *store.Rate // by address, or by person who has signed in; nil: no limit but the general one
	// Token lets a personal token stand for a session; and no session counts, so
	// that no forged request needs to be feared.
	Token bool
	// Early lets somebody in who has to choose a new password before anything else.
	Early bool
	// Slow gives the route longer than others, as for a large download.
	Slow bool
}

// MaxForm bounds the requests of ordinary forms, in bytes.
const MaxForm = 1 << 20

// How long a request may take.
const (
	ordinaryTime = 20 * time.Second
	slowTime     = 5 * time.Minute
)

// Mount adds routes to a server.
func (a *App) Mount(e *echo.Echo, routes []Route) {
	for _, r := range routes {
		e.Add(r.Method, r.Path, a.guard(r))
	}
}

// guard wraps a route in everything that must be seen to before it is handled.
func (a *App) guard(r Route) echo.HandlerFunc {
	return func(ec echo.Context) error {
		c := a.context(ec, r)
		if err := a.admit(c, r); err != nil {
			return a.fail(c, err)
		}
		if err := r.Handle(c); err != nil {
			return a.fail(c, err)
		}
		return nil
	}
}

// errChangeFirst is why somebody whose password was set by another, and who has
// not chosen one yet, gets nowhere else.
var errChangeFirst = &quiz.Error{Code: quiz.Forbidden, Text: "you have to choose a new password first", Mend: "choose one, then repeat what you did"}

// errNotYours is why somebody gets nowhere whose roles do not cover a route.
var errNotYours = &quiz.Error{Code: quiz.Forbidden, Text: "your role does not cover this page", Mend: "ask the administrator if it should"}

// admit finds out who asks and whether they may.
func (a *App) admit(c *Context, r Route) error {
	ctx := c.Request().Context()
	if err := a.identify(c, r); err != nil {
		return err
	}
	if r.Rate != nil {
		who := "address " + network(c.RealIP())
		if c.Visitor != nil {
			who = "person " + c.Visitor.ID
		}
		if err := a.Allow(ctx, r.Method+" "+r.Path+" "+who, *r.Rate); err != nil {
			return err
		}
	}
	if r.Access.Public {
		return nil
	}
	if c.Visitor == nil {
		return &quiz.Error{Code: quiz.Unidentified, Text: "you are not signed in", Mend: "sign in"}
	}
	if c.MustChange() && !r.Early {
		return errChangeFirst
	}
	scope := r.Access.For(c.Visitor)
	if scope == Nobody {
		return errNotYours
	}
	c.Scope = scope
	if r.Owner == nil {
		return nil
	}
	id, err := r.Owner(c)
	if err != nil {
		return err
	}
	owner := *c.Visitor
	if id != owner.ID {
		if owner, err = a.Store.Person(ctx, id); err != nil {
			return err
		}
	}
	if !scope.Covers(c.Visitor, &owner) {
		// Whether there is such a record is none of the visitor's business.
		return &quiz.Error{Code: quiz.NotFound, Text: "there is no such record, or none that you may see"}
	}
	c.Subject = &owner
	return nil
}

// network is what uses by strangers are counted by: an address, of IPv6 the first
// 64 bits, as one line has all the addresses that begin so (RFC 6177).
func network(address string) string {
	a, err := netip.ParseAddr(address)
	if err != nil {
		return address
	}
	a = a.Unmap().WithZone("")
	if a.Is4() {
		return a.String()
	}
	p, err := a.Prefix(64)
	if err != nil {
		return address
	}
	return p.String()
}

// Allow counts one use of name and gives an error of code TooMany, with the time
// to wait, if it is one too many.
func (a *App) Allow(ctx context.Context, name string, rate store.Rate) error {
	ok, wait, err := a.Store.Allow(ctx, name, rate)
	if err != nil || ok {
		return err
	}
	return &tooMany{wait}
}

// tooMany is an error that says how long to wait.
type tooMany struct{ wait time.Duration }

func (t *tooMany) Error() string { return t.Unwrap().Error() }

func (t *tooMany) Unwrap() error {
	return &quiz.Error{Code: quiz.TooMany, Text: "too many requests", Mend: "wait " + t.wait.Round(time.Second).String()}
}
