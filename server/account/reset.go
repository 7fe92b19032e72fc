package account

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"strings"
	"time"

	"golang.org/x/text/cases"

	"rightpage/quiz"
	"rightpage/server/web"
)

// How long codes sent by mail are valid.
const (
	resetCode  = time.Hour
	inviteCode = 7 * 24 * time.Hour
)

// mostOfOneMail bounds to how many accounts of one address mails are sent.
const mostOfOneMail = 5

type resetForm struct {
	Who    string
	Mail   bool
	Faults map[string]string
}

func (p *Pages) resetPage(c *web.Context) error {
	return c.Page(p.set, "account-reset", resetForm{Mail: p.deps.Mailer.On()})
}

// reset has a code sent to whoever is meant. The answer is the same whether there
// is anybody, and comes before anything is looked up.
func (p *Pages) reset(c *web.Context) error {
	f := c.Form()
	who := f.Text("who", true, 200)
	if !f.OK() || !p.deps.Mailer.On() {
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "account-reset", resetForm{who, p.deps.Mailer.On(), f.Faults})
	}
	p.later(c.Ctx(), func(ctx context.Context) error {
		people, err := p.meant(ctx, who)
		if err != nil {
			return err
		}
		for _, person := range people {
			ok, _, err := p.app.Store.Allow(ctx, "reset "+person.ID, resetByPerson)
			if err != nil {
				return err
			}
			if ok {
				if err := p.SendCode(ctx, "", person, false); err != nil {
					return err
				}
			}
		}
		return nil
	})
	return c.Page(p.set, "account-sent", nil)
}

// meant finds the people with an account and an address whose login or address it
// is.
func (p *Pages) meant(ctx context.Context, who string) ([]quiz.Person, error) {
	account, err := p.app.Store.Account(ctx, who)
	if err == nil {
		person, err := p.app.Store.Person(ctx, account.Person)
		if err != nil || person.Mail == "" || !person.Active(p.app.Now()) {
			return nil, err
		}
		return []quiz.Person{person}, nil
	}
	if quiz.ErrorCode(err) != quiz.NotFound || !strings.Contains(who, "@") {
		if quiz.ErrorCode(err) == quiz.NotFound {
			err = nil
		}
		return nil, err
	}
	people, err := p.app.Store.People(ctx)
	if err != nil {
		return nil, err
	}
	var list []quiz.Person
	fold := cases.Fold()
	for _, person := range people {
		if fold.String(person.Mail) != fold.String(who) || !person.Active(p.app.Now()) || len(list) == mostOfOneMail {
			continue
		}
		switch _, err := p.app.Store.AccountOf(ctx, person.ID); quiz.ErrorCode(err) {
		case "":
			list = append(list, person)
		case quiz.NotFound:
		default:
			return nil, err
		}
	}
	return list, nil
}

// SendCode sends a person a one-time code by mail, in the person's language: to
// choose a new password, or, if it is an invitation, the first one. There is a link
// if the settings say where the server is: never to where the request says it came
// to, which whoever asks could choose.
func (p *Pages) SendCode(ctx context.Context, actor string, person quiz.Person, invitation bool) error {
	if !p.deps.Mailer.On() || person.Mail == "" {
		return &quiz.Error{Code: quiz.Closed, Text: "no mail can be sent to " + person.Name, Mend: "print a code"}
	}
	account, err := p.app.Store.AccountOf(ctx, person.ID)
	if err != nil {
		return err
	}
	settings, err := p.app.Store.Settings(ctx)
	if err != nil {
		return err
	}
	why, valid := "account.mail.why.reset", resetCode
	if invitation {
		why, valid = "account.mail.why.invitation", inviteCode
	}
	code, err := p.app.Store.IssueCode(ctx, actor, person.ID, valid)
	if err != nil {
		return err
	}
	words := p.app.Words.Printer(person.Locale)
	pairs := []any{"Name", person.Name, "Why", words.T(why, "Login", account.Login), "Code", code, "Until", words.Time(p.app.Now().Add(valid).UTC())}
	text := words.T("account.mail.code.text", pairs...)
	if settings.BaseURL != "" {
		text = words.T("account.mail.link.text", append(pairs, "Link", strings.TrimSuffix(settings.BaseURL, "/")+"/code?code="+url.QueryEscape(code))...)
	}
	return p.deps.Mailer.Send(ctx, person.Mail, words.T("account.mail.code.subject"), text)
}

// Invite sends invitations to people, one after the other, without waiting until
// they are sent.
func (p *Pages) Invite(ctx context.Context, actor string, people []quiz.Person) {
	p.within(ctx, time.Duration(1+len(people))*mailTimeout, func(ctx context.Context) error {
		var failed []error
		for _, person := range people {
			failed = append(failed, p.SendCode(ctx, actor, person, true))
		}
		return errors.Join(failed...)
	})
}

// Mails tells whether mails are sent at all.
func (p *Pages) Mails() bool { return p.deps.Mailer.On() }

type codeForm struct {
	Code   string
	Faults map[string]string
}

// codePage shows the form alone: programs that look at links in mails before
// their reader does use nothing up.
func (p *Pages) codePage(c *web.Context) error {
	return c.Page(p.set, "account-code", codeForm{Code: c.QueryParam("code")})
}

// useCode takes a code and sets the password that was chosen. What is wrong with
// the password is said before the code is taken; what only its owner's name and
// login tell sends them on to choose another, with the code used.
func (p *Pages) useCode(c *web.Context) error {
	ctx, f := c.Ctx(), c.Form()
	code := f.Text("code", true, 40)
	p.chosen(f, f.Raw("new-password"), f.Raw("new-password-again"))
	again := func() error {
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "account-code", codeForm{code, f.Faults})
	}
	if !f.OK() {
		return again()
	}
	if err := c.App.Allow(ctx, "codes", codeByAll); err != nil {
		return err
	}
	id, err := c.App.Store.RedeemCode(ctx, code)
	if quiz.ErrorCode(err) == quiz.Unidentified {
		f.Fault("code", "account.code.wrong")
		return again()
	}
	if err != nil {
		return err
	}
	person, err := c.App.Store.Person(ctx, id)
	if err != nil {
		return err
	}
	account, err := c.App.Store.AccountOf(ctx, id)
	if err != nil {
		return err
	}
	if easy(f.Raw("new-password"), []string{account.Login, person.Name}) {
		if err := c.SignIn(&person, true); err != nil {
			return err
		}
		c.App.Sessions.Put(ctx, sessionCode, true)
		c.Flash(c.T("account.password.easy"))
		return c.Go("/account/password")
	}
	if err := p.setPassword(ctx, &person, &account, f.Raw("new-password")); err != nil {
		return err
	}
	if err := c.SignIn(&person, false); err != nil {
		return err
	}
	c.Flash(c.T("account.password.done"))
	return c.Go("/")
}
