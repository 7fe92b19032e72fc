package account

import (
	"context"
	"net/http"
	"time"

	"github.com/trustelem/zxcvbn"

	"rightpage/quiz"
	"rightpage/server/web"
)

// sessionCode is the entry of a session that says that its owner got in with a
// one-time code, and so knows no old password.
const sessionCode = "code"

type passwordForm struct {
	Login  string
	First  bool // the password has to be changed before anything else
	NoOld  bool // the old one is not asked for
	Faults map[string]string
}

func (p *Pages) passwordForm(c *web.Context, account quiz.Account) passwordForm {
	return passwordForm{Login: account.Login, First: c.MustChange(), NoOld: c.MustChange() && c.App.Sessions.GetBool(c.Ctx(), sessionCode)}
}

func (p *Pages) passwordPage(c *web.Context) error {
	account, err := c.App.Store.AccountOf(c.Ctx(), c.Visitor.ID)
	if err != nil {
		return err
	}
	return c.Page(p.set, "account-password", p.passwordForm(c, account))
}

func (p *Pages) changePassword(c *web.Context) error {
	ctx, f := c.Ctx(), c.Form()
	account, err := c.App.Store.AccountOf(ctx, c.Visitor.ID)
	if err != nil {
		return err
	}
	form := p.passwordForm(c, account)
	if !form.NoOld {
		ok, err := p.Confirm(c, f.Raw("old-password"))
		if err != nil {
			return err
		}
		if !ok {
			f.Fault("old-password", "account.password.wrong")
		}
	}
	p.chosen(f, f.Raw("new-password"), f.Raw("new-password-again"), account.Login, c.Visitor.Name)
	if f.OK() && !form.NoOld && f.Raw("old-password") == f.Raw("new-password") {
		f.Fault("new-password", "account.password.old")
	}
	if !f.OK() {
		form.Faults = f.Faults
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "account-password", form)
	}
	if err := p.setPassword(ctx, c.Visitor, &account, f.Raw("new-password")); err != nil {
		return err
	}
	if err := c.SignIn(c.Visitor, false); err != nil {
		return err
	}
	c.Flash(c.T("account.password.done"))
	if form.First {
		return c.Go("/")
	}
	return c.Go("/account")
}

// setPassword keeps a new password and ends every session of its owner.
func (p *Pages) setPassword(ctx context.Context, person *quiz.Person, account *quiz.Account, password string) error {
	hash, err := p.hash(ctx, password)
	if err != nil {
		return err
	}
	account.Hash, account.Must = hash, false
	if err := p.app.Store.SaveAccount(ctx, person.ID, account); err != nil {
		return err
	}
	if _, err := p.app.Store.Sessions().EndAll(ctx, person.ID); err != nil {
		return err
	}
	if err := p.app.Store.Forgive(ctx, loginCount(account.Login)); err != nil {
		return err
	}
	p.tellChanged(ctx, *person)
	return nil
}

// tellChanged tells the owner of a password by mail that it was changed, should
// it have been somebody else.
func (p *Pages) tellChanged(ctx context.Context, person quiz.Person) {
	if !p.deps.Mailer.On() || person.Mail == "" {
		return
	}
	words, at := p.app.Words.Printer(person.Locale), p.app.Now()
	p.later(ctx, func(ctx context.Context) error {
		return p.deps.Mailer.Send(ctx, person.Mail, words.T("account.mail.changed.subject"),
			words.T("account.mail.changed.text", "Name", person.Name, "When", words.Time(at.UTC())))
	})
}

// chosen checks a new password, typed twice. There are no rules of which letters
// it must have, but it may not be one that is guessed early: OWASP ASVS 5.0, 6.2
// (from memory).
func (p *Pages) chosen(f *web.Form, password, again string, known ...string) {
	switch {
	case quiz.CheckPassword(password, "", "") != nil:
		f.Fault("new-password", "account.password.length", "Least", quiz.MinPassword, "Most", quiz.MaxPassword)
	case easy(password, known):
		f.Fault("new-password", "account.password.easy")
	case password != again:
		f.Fault("new-password-again", "account.password.differ")
	}
}

// easy tells whether a password would be guessed soon: one of the common ones,
// the login or the name with something added, a row of keys. Wheeler, zxcvbn,
// USENIX Security 2016: a score of 2 means within 10^8 guesses.
func easy(password string, known []string) bool {
	for _, s := range known {
		if quiz.CheckPassword(password, s, s) != nil {
			return true
		}
	}
	const enough = 64 // beyond, the estimate takes long and tells nothing new
	if r := []rune(password); len(r) > enough {
		password = string(r[:enough])
	}
	return zxcvbn.PasswordStrength(password, append([]string{"rightpage"}, known...)).Score <= 2
}

// later does what the answer does not wait for, such as sending a mail: how long
// it takes tells nobody anything. [Pages.Wait] waits for it.
func (p *Pages) later(ctx context.Context, do func(context.Context) error) {
	p.within(ctx, time.Minute, do)
}

func (p *Pages) within(ctx context.Context, most time.Duration, do func(context.Context) error) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), most)
	p.sending.Go(func() {
		defer cancel()
		if err := do(ctx); err != nil {
			p.app.Log.ErrorContext(ctx, "mail", "error", err)
		}
	})
}
