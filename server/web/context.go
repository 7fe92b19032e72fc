package web

import (
	"context"
	"errors"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"rightpage/quiz"
	"rightpage/server/words"
)

// Context is one request: who asks, in which language, and what was found out
// while they were let in.
type Context struct {
	echo.Context
	App     *App
	Visitor *quiz.Person // who has signed in; nil: nobody
	Subject *quiz.Person // whose record the route is about, where it has an Owner
	Scope   Scope        // whose records the visitor may see by this route
	Words   *words.Printer
	Zone    *time.Location

	session bool // the request has a session: it is not one by a personal token
}

// Ctx is the context of the request, for calls that wait.
func (c *Context) Ctx() context.Context { return c.Request().Context() }

// Now is the time by the server's clock.
func (c *Context) Now() time.Time { return c.App.Now() }

// Covers tells whether the visitor may see the records of a person by this route:
// what lists of many people's records are filtered with.
func (c *Context) Covers(owner *quiz.Person) bool {
	return c.Visitor != nil && c.Scope.Covers(c.Visitor, owner)
}

// May tells whether any role of the visitor is among those.
func (c *Context) May(roles ...quiz.Role) bool {
	return c.Visitor != nil && slices.ContainsFunc(roles, c.Visitor.Has)
}

// T gives a message in the language of the visitor.
func (c *Context) T(id string, pairs ...any) string { return c.Words.T(id, pairs...) }

// context makes the context of a request. Until the visitor is known the
// language is that of the browser.
func (a *App) context(ec echo.Context, r Route) *Context {
	c := &Context{Context: ec, App: a, Zone: time.UTC, session: !r.Token}
	c.Words = a.Words.Printer(a.Words.Match(c.cookie("language"), ec.Request().Header.Get("Accept-Language")))
	return c
}

func (c *Context) cookie(name string) string {
	k, err := c.Cookie(c.App.cookieName(name))
	if err != nil {
		return ""
	}
	return k.Value
}

// Remember sets a cookie that holds a setting of the browser, such as the
// language, for a year.
func (c *Context) Remember(name, value string) {
	c.SetCookie(&http.Cookie{Name: c.App.cookieName(name), Value: value, Path: "/", MaxAge: 365 * 24 * 3600,
		Secure: c.App.Secure, HttpOnly: true, SameSite: http.SameSiteLaxMode})
}

// identify finds out who asks.
func (a *App) identify(c *Context, r Route) error {
	ctx := c.Ctx()
	var id string
	if r.Token {
		secret, ok := strings.CutPrefix(c.Request().Header.Get(echo.HeaderAuthorization), "Bearer ")
		if !ok {
			if r.Access.Public {
				return nil
			}
			return &quiz.Error{Code: quiz.Unidentified, Text: "there is no personal token in the request",
				Mend: "send the header Authorization: Bearer TOKEN"}
		}
		token, err := a.Store.TokenOf(ctx, secret)
		if err != nil {
			return err
		}
		id = token.Person
	} else {
		if id = a.Sessions.GetString(ctx, sessionPerson); id == "" {
			return nil
		}
		// The table of sessions has the last word: a session that was ended from
		// elsewhere while a request of its own was under way is nobody's.
		owner, err := a.Store.Sessions().Person(ctx, a.Sessions.Token(ctx))
		if err != nil {
			return err
		}
		seen := time.Unix(a.Sessions.GetInt64(ctx, sessionSeen), 0)
		if now := a.Now(); owner != id || now.Sub(seen) > sessionIdle {
			return a.Sessions.Destroy(ctx)
		} else if now.Sub(seen) > sessionNote {
			a.Sessions.Put(ctx, sessionSeen, now.Unix())
		}
	}
	p, err := a.Store.Person(ctx, id)
	switch {
	case errors.Is(err, &quiz.Error{Code: quiz.NotFound}) || err == nil && !p.Active(a.Now()):
		if !r.Token {
			return a.Sessions.Destroy(ctx)
		}
		return &quiz.Error{Code: quiz.Unidentified, Text: "the person of the token has left"}
	case err != nil:
		return err
	}
	c.Visitor = &p
	c.Words = a.Words.Printer(p.Locale)
	c.Zone = a.zone(ctx, p.Site)
	return nil
}

// The entries of a session.
const (
	sessionPerson = "person"
	sessionSeen   = "seen"  // Unix time of the last use, to the nearest sessionNote
	sessionMust   = "must"  // the password has to be changed before anything else
	sessionFlash  = "flash" // what the next page is to say
	sessionNote   = 5 * time.Minute
)

// zone is the time zone of a site.
func (a *App) zone(ctx context.Context, site string) *time.Location {
	if site == "" {
		return time.UTC
	}
	zones, err := a.Store.Sites(ctx)
	if err != nil {
		return time.UTC
	}
	for _, s := range zones {
		if s.ID == site {
			if l, err := time.LoadLocation(s.Zone); err == nil {
				return l
			}
		}
	}
	return time.UTC
}

// SignIn begins a session for a person. Its token is new, so that nobody who
// knew the one before gets in with it.
func (c *Context) SignIn(p *quiz.Person, mustChange bool) error {
	ctx, m := c.Ctx(), c.App.Sessions
	if err := m.Destroy(ctx); err != nil {
		return err
	}
	if err := m.RenewToken(ctx); err != nil {
		return err
	}
	m.SetDeadline(ctx, c.Now().Add(sessionLife)) // by the server's clock
	m.Put(ctx, sessionPerson, p.ID)
	m.Put(ctx, sessionSeen, c.Now().Unix())
	if mustChange {
		m.Put(ctx, sessionMust, true)
	}
	token, expires, err := m.Commit(ctx)
	if err != nil {
		return err
	}
	if err := c.App.Store.Sessions().Bind(ctx, token, p.ID, expires); err != nil {
		return err
	}
	c.Visitor = p
	return nil
}

// SignOut ends the session.
func (c *Context) SignOut() error { return c.App.Sessions.Destroy(c.Ctx()) }

// MustChange tells whether the visitor has to choose a new password first, and
// Changed that it is done.
func (c *Context) MustChange() bool { return c.session && c.App.Sessions.GetBool(c.Ctx(), sessionMust) }

// Changed notes that the visitor has chosen a new password.
func (c *Context) Changed() { c.App.Sessions.Remove(c.Ctx(), sessionMust) }

// Flash has the next page say something: what was done, as a rule.
func (c *Context) Flash(text string) { c.App.Sessions.Put(c.Ctx(), sessionFlash, text) }

// Go sends the browser to another page after a change.
func (c *Context) Go(path string) error { return c.Redirect(http.StatusSeeOther, path) }

// WantsJSON tells whether the request comes from a script or another program
// that asks for JSON rather than for a page.
func (c *Context) WantsJSON() bool {
	return !c.session || strings.HasPrefix(c.Request().Header.Get(echo.HeaderAccept), echo.MIMEApplicationJSON)
}

// Session makes a session for a person outside a request, and gives its token:
// for tests, and for the demonstration's link that signs in.
func (a *App) Session(ctx context.Context, person string) (string, error) {
	ctx, err := a.Sessions.Load(ctx, "")
	if err != nil {
		return "", err
	}
	a.Sessions.SetDeadline(ctx, a.Now().Add(sessionLife))
	a.Sessions.Put(ctx, sessionPerson, person)
	a.Sessions.Put(ctx, sessionSeen, a.Now().Unix())
	token, expires, err := a.Sessions.Commit(ctx)
	if err != nil {
		return "", err
	}
	return token, a.Store.Sessions().Bind(ctx, token, person, expires)
}
