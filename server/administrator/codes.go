package administrator

import (
	"strings"
	"time"

	"rightpage/quiz"
	"rightpage/server/web"
	"rightpage/server/words"
)

// printedCode is how long a code on paper is valid.
const printedCode = 14 * 24 * time.Hour

// mostCodes bounds how many codes are made at once.
const mostCodes = 200

// slip is what is cut out for one person.
type slip struct {
	Name, Number, Site, Login, Code string
	Until                           time.Time
	Locale                          string
	Words                           *words.Printer // in the language of who gets it
}

// T gives a message in the language of who gets the slip.
func (s slip) T(id string, pairs ...any) string { return s.Words.T(id, pairs...) }

// Day writes until when the code is valid.
func (s slip) Day() string { return s.Words.Day(s.Until) }

type codesPage struct {
	Slips   []slip
	Address string // where the server is; empty: the settings do not say
}

// chosen gives the people ticked in a form; an error if one may not be touched or
// has no account, before anything is done for any of them.
func (p *Pages) chosen(c *web.Context) ([]quiz.Person, []quiz.Account, error) {
	ids := c.Form().Many("person")
	if len(ids) > mostCodes {
		return nil, nil, &quiz.Error{Code: quiz.Invalid, Text: "those are too many people at once", Mend: "choose up to 200"}
	}
	var people []quiz.Person
	var accounts []quiz.Account
	seen := map[string]bool{}
	for _, id := range ids {
		if seen[id] {
			continue
		}
		seen[id] = true
		x, err := p.app.Store.Person(c.Ctx(), id)
		if err != nil {
			return nil, nil, err
		}
		if !c.Covers(&x) || !mayTouch(c, &x) {
			return nil, nil, untouchable(&x)
		}
		a, err := p.app.Store.AccountOf(c.Ctx(), id)
		if quiz.ErrorCode(err) == quiz.NotFound {
			return nil, nil, &quiz.Error{Code: quiz.Closed, Text: x.Name + " has no account", Mend: "give a login first"}
		}
		if err != nil {
			return nil, nil, err
		}
		people, accounts = append(people, x), append(accounts, a)
	}
	return people, accounts, nil
}

// codes makes one-time codes and shows them, to be printed and cut apart. They are
// in this answer and nowhere else.
func (p *Pages) codes(c *web.Context) error {
	ctx := c.Ctx()
	people, accounts, err := p.chosen(c)
	if err != nil {
		return err
	}
	if len(people) == 0 {
		c.Flash(c.T("administrator.codes.nobody"))
		return c.Go("/people")
	}
	settings, err := p.app.Store.Settings(ctx)
	if err != nil {
		return err
	}
	sites, err := p.app.Store.Sites(ctx)
	if err != nil {
		return err
	}
	names := map[string]string{}
	for _, s := range sites {
		names[s.ID] = s.Name
	}
	page := codesPage{Address: strings.TrimSuffix(settings.BaseURL, "/")}
	for i, x := range people {
		code, err := p.app.Store.IssueCode(ctx, c.Visitor.ID, x.ID, printedCode)
		if err != nil {
			return err
		}
		w := p.app.Words.Printer(x.Locale)
		page.Slips = append(page.Slips, slip{x.Name, x.Number, names[x.Site], accounts[i].Login, code, c.Now().Add(printedCode).In(c.Zone), w.Locale(), w})
	}
	return c.Page(p.set, "administrator-codes", page)
}

// mail sends one person a code, and says whether it was sent.
func (p *Pages) mail(c *web.Context) error {
	x, err := touch(c)
	if err != nil {
		return err
	}
	a, err := p.app.Store.AccountOf(c.Ctx(), x.ID)
	if err != nil {
		return err
	}
	if err := p.account.SendCode(c.Ctx(), c.Visitor.ID, x, a.Hash == ""); err != nil {
		return err
	}
	c.Flash(c.T("administrator.mail.sent", "Name", x.Name))
	return c.Go("/people/" + x.ID)
}

// mails sends codes to those ticked who have a mail address.
func (p *Pages) mails(c *web.Context) error {
	people, _, err := p.chosen(c)
	if err != nil {
		return err
	}
	var reach []quiz.Person
	for _, x := range people {
		if x.Mail != "" {
			reach = append(reach, x)
		}
	}
	if !p.account.Mails() {
		return &quiz.Error{Code: quiz.Closed, Text: "no mails are sent by this server", Mend: "print codes"}
	}
	p.account.Invite(c.Ctx(), c.Visitor.ID, reach)
	c.Flash(c.T("administrator.mails.sent", "Count", len(reach)) + " " + c.T("administrator.mails.none", "Count", len(people)-len(reach)))
	return c.Go("/people")
}
