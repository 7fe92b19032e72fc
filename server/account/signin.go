package account

import (
	"context"
	"net/http"
	"slices"

	"rightpage/quiz"
	"rightpage/server/web"
)

// home sends each to where their work is. Who has several roles gets the page of
// the one that others wait for.
func (p *Pages) home(c *web.Context) error {
	if c.Visitor == nil {
		return p.toDoor(c)
	}
	for _, first := range []struct {
		role quiz.Role
		path string
	}{{quiz.Coordinator, "/assignments"}, {quiz.Manager, "/readiness"}, {quiz.Administrator, "/people"}, {quiz.Technician, "/due"}} {
		if slices.Contains(c.Visitor.Roles, first.role) {
			return c.Go(first.path)
		}
	}
	return c.Go("/account")
}

// toDoor sends a stranger to where they get in.
func (p *Pages) toDoor(c *web.Context) error {
	used, err := p.used(c.Ctx())
	if err != nil {
		return err
	}
	if !used {
		return c.Go("/setup")
	}
	return c.Go("/sign-in")
}

// signInForm is what the page to sign in shows.
type signInForm struct {
	Login, Next string
	Mail        bool // a password can be reset by mail
	Faults      map[string]string
}

func (p *Pages) signInPage(c *web.Context) error {
	next := local(c.QueryParam("next"))
	if c.Visitor != nil {
		return c.Go(next)
	}
	if used, err := p.used(c.Ctx()); err != nil || !used {
		if err != nil {
			return err
		}
		return c.Go("/setup")
	}
	return c.Page(p.set, "account-signin", signInForm{Next: next, Mail: p.deps.Mailer.On()})
}

// signIn lets somebody in. Whether there is no such login, the password is
// another, or the person has left: the answer is the same, after as much work.
func (p *Pages) signIn(c *web.Context) error {
	ctx, f := c.Ctx(), c.Form()
	login, password, next := f.Text("login", true, 200), f.Raw("password"), local(f.Raw("next"))
	if password == "" {
		f.Fault("password", "fault.required")
	}
	again := func(status int) error {
		return c.PageStatus(p.set, status, "account-signin", signInForm{login, next, p.deps.Mailer.On(), f.Faults})
	}
	if !f.OK() {
		return again(http.StatusUnprocessableEntity)
	}
	counted := loginCount(login)
	if err := c.App.Allow(ctx, counted, signInByLogin); err != nil {
		return err
	}
	account, err := c.App.Store.Account(ctx, login)
	if err != nil && quiz.ErrorCode(err) != quiz.NotFound {
		return err
	}
	match, weak, err := p.match(ctx, password, account.Hash)
	if err != nil {
		return err
	}
	var person quiz.Person
	if match {
		if person, err = c.App.Store.Person(ctx, account.Person); err != nil {
			return err
		}
	}
	if !match || !person.Active(c.Now()) {
		// A warning, so that guessing is seen in the log; whose login it is, is not
		// in there.
		c.App.Log.WarnContext(ctx, "sign-in refused", "id", c.Response().Header().Get("X-Request-Id"))
		f.Fault("login", "account.signin.wrong")
		return again(http.StatusUnprocessableEntity)
	}
	if weak {
		if account.Hash, err = p.hash(ctx, password); err != nil {
			return err
		}
		// Somebody else may change the account at this moment: then their hash counts.
		if err := c.App.Store.SaveAccount(ctx, person.ID, &account); err != nil && quiz.ErrorCode(err) != quiz.Conflict {
			return err
		}
	}
	if err := c.App.Store.Forgive(ctx, counted); err != nil {
		return err
	}
	if err := c.SignIn(&person, account.Must); err != nil {
		return err
	}
	if err := c.App.Store.RecordAudit(ctx, person.ID, "session.begin", "person/"+person.ID, nil); err != nil {
		return err
	}
	if account.Must {
		return c.Go("/account/password")
	}
	return c.Go(next)
}

// loginCount is the name under which tries of a login are counted, however it is
// written.
func loginCount(login string) string { return "login " + quiz.FoldLogin(login) }

func (p *Pages) signOut(c *web.Context) error {
	if err := c.SignOut(); err != nil {
		return err
	}
	return c.Go("/sign-in")
}

// signedIn is where somebody ends who signed in again in another tab, to go on
// with what they had typed.
func (p *Pages) signedIn(c *web.Context) error {
	if c.MustChange() {
		return c.Go("/account/password")
	}
	return c.Page(p.set, "account-signedin", nil)
}

// match compares a password with its hash, when there is room.
func (p *Pages) match(ctx context.Context, password, hash string) (match, weak bool, err error) {
	err = p.withRoom(ctx, func() error {
		match, weak, err = p.app.Passwords.Match(password, hash)
		return err
	})
	return match, weak, err
}

// hash hashes a password, when there is room.
func (p *Pages) hash(ctx context.Context, password string) (hash string, err error) {
	err = p.withRoom(ctx, func() error {
		hash, err = p.app.Passwords.Hash(password)
		return err
	})
	return hash, err
}

func (p *Pages) withRoom(ctx context.Context, do func() error) error {
	select {
	case p.hashing <- struct{}{}:
		defer func() { <-p.hashing }()
		return do()
	case <-ctx.Done():
		return &quiz.Error{Code: quiz.Unavailable, Text: "too many people sign in at this moment", Err: ctx.Err(), Mend: "try again"}
	}
}

// Confirm tells whether the password is the visitor's own: asked again before
// what would do great harm in the hands of somebody who found a browser open.
// Wrong ones count like those at the sign-in.
func (p *Pages) Confirm(c *web.Context, password string) (bool, error) {
	ctx := c.Ctx()
	account, err := c.App.Store.AccountOf(ctx, c.Visitor.ID)
	if err != nil && quiz.ErrorCode(err) != quiz.NotFound {
		return false, err
	}
	counted := loginCount(account.Login)
	if err := c.App.Allow(ctx, counted, signInByLogin); err != nil {
		return false, err
	}
	match, _, err := p.match(ctx, password, account.Hash)
	if err != nil || !match {
		return false, err
	}
	return true, c.App.Store.Forgive(ctx, counted)
}
