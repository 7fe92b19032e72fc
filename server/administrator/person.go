package administrator

import (
	"net/http"
	"slices"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/store"
	"rightpage/server/account"
	"rightpage/server/web"
	"rightpage/server/words"
)

// personPage is the form of a person, and what can be done with one who is there.
type personPage struct {
	Person    quiz.Person // as typed
	Was       quiz.Person // as kept; no ID: a new one
	Login     string
	HadLogin  bool
	State     string
	Site      string // name
	Touch     bool
	Admin     bool // the visitor is an administrator
	Self      bool
	Mails     bool
	Reach     bool
	Sites     []quiz.Site
	May       []quiz.Role // the roles that the visitor may give
	Languages []string
	Faults    map[string]string
}

func (p personPage) title(c *web.Context) string {
	if p.Was.ID == "" {
		return c.T("administrator.person.new")
	}
	return p.Was.Name
}

// titled is a page with a title of its own.
type titled struct {
	personPage
	title string
}

// PageTitle is the title of the page.
func (t titled) PageTitle() string { return t.title }

func (p *Pages) showPerson(c *web.Context, status int, page personPage) error {
	sites, err := p.app.Store.Sites(c.Ctx())
	if err != nil {
		return err
	}
	page.Sites, page.May, page.Languages, page.Mails = sites, mayGive(c), words.Locales(), p.account.Mails()
	page.Admin, page.Self = c.May(quiz.Administrator), page.Was.ID == c.Visitor.ID
	for _, s := range sites {
		if s.ID == page.Was.Site {
			page.Site = s.Name
		}
	}
	page.Touch = page.Was.ID == "" || mayTouch(c, &page.Was)
	return c.PageStatus(p.set, status, "administrator-person", titled{page, page.title(c)})
}

func (p *Pages) newPerson(c *web.Context) error {
	s, err := p.app.Store.Settings(c.Ctx())
	if err != nil {
		return err
	}
	return p.showPerson(c, http.StatusOK, personPage{Person: quiz.Person{Roles: []quiz.Role{quiz.Technician}, Locale: s.Locale, Site: c.Visitor.Site}})
}

func (p *Pages) person(c *web.Context) error {
	page, err := p.kept(c, *c.Subject)
	if err != nil {
		return err
	}
	return p.showPerson(c, http.StatusOK, page)
}

// kept gives the page of a person as they are.
func (p *Pages) kept(c *web.Context, person quiz.Person) (personPage, error) {
	page := personPage{Person: person, Was: person}
	a, err := p.app.Store.AccountOf(c.Ctx(), person.ID)
	if err != nil && quiz.ErrorCode(err) != quiz.NotFound {
		return page, err
	}
	page.Login, page.HadLogin, page.State = a.Login, a.Login != "", accountState(a)
	switch {
	case !person.Erased.IsZero():
		page.State = stateErased
	case !person.Active(c.Now()):
		page.State = stateLeft
	}
	page.Reach = page.HadLogin && page.State != stateLeft && page.State != stateErased
	return page, nil
}

// read reads the form of a person and says what is wrong with it.
func (p *Pages) read(c *web.Context, page *personPage) error {
	ctx, f := c.Ctx(), c.Form()
	x := &page.Person
	x.Name, x.Number, x.Mail = f.Text("name", true, 100), f.Text("number", false, 40), f.Text("mail", false, 200)
	page.Login = f.Text("login", page.HadLogin, 100)
	x.Site = f.Raw("site")
	x.Locale = f.One("language", append(words.Locales(), x.Locale)...)
	x.Roles = nil
	given := f.Many("role")
	for _, r := range quiz.Roles() {
		if !slices.Contains(given, string(r)) {
			continue
		}
		if !slices.Contains(mayGive(c), r) {
			f.Fault("role", "administrator.person.role.forbidden")
		}
		x.Roles = append(x.Roles, r)
	}
	if len(x.Roles) == 0 {
		f.Fault("role", "administrator.person.role.none")
	}
	sites, err := p.app.Store.Sites(ctx)
	if err != nil {
		return err
	}
	if x.Site != "" && !slices.ContainsFunc(sites, func(s quiz.Site) bool { return s.ID == x.Site }) {
		f.Fault("site", "fault.choice")
	}
	if f.OK() && x.Check() != nil {
		f.Fault("mail", "administrator.person.mail.wrong")
	}
	people, err := p.app.Store.People(ctx)
	if err != nil {
		return err
	}
	for _, other := range people {
		if x.Number != "" && other.Number == x.Number && other.ID != x.ID {
			f.Fault("number", "administrator.person.number.taken", "Name", other.Name)
		}
	}
	if page.Login != "" {
		a, err := p.app.Store.Account(ctx, page.Login)
		if err != nil && quiz.ErrorCode(err) != quiz.NotFound {
			return err
		}
		if err == nil && a.Person != x.ID {
			f.Fault("login", "administrator.person.login.taken")
		}
	}
	page.Faults = f.Faults
	return nil
}

func (p *Pages) addPerson(c *web.Context) error {
	undo, err := p.once(c, "person", c.Form().Key())
	if err != nil {
		return err
	}
	if undo == nil {
		c.Flash(c.T("administrator.twice"))
		return c.Go("/people")
	}
	var page personPage
	if err := p.read(c, &page); err != nil {
		undo()
		return err
	}
	if len(page.Faults) > 0 {
		undo()
		return p.showPerson(c, http.StatusUnprocessableEntity, page)
	}
	if err := p.app.Store.AddPeople(c.Ctx(), c.Visitor.ID, []store.Newcomer{{Person: &page.Person, Login: page.Login}}); err != nil {
		undo()
		return err
	}
	c.Flash(c.T("administrator.person.added", "Name", page.Person.Name))
	return c.Go("/people/" + page.Person.ID)
}

func (p *Pages) savePerson(c *web.Context) error {
	ctx := c.Ctx()
	was, err := touch(c)
	if err != nil {
		return err
	}
	page, err := p.kept(c, was)
	if err != nil {
		return err
	}
	f := c.Form()
	version := f.Int("version", 1, 1<<30, 0)
	if err := p.read(c, &page); err != nil {
		return err
	}
	a, err := p.app.Store.AccountOf(ctx, was.ID)
	if err != nil && quiz.ErrorCode(err) != quiz.NotFound {
		return err
	}
	if version != was.Version {
		return &quiz.Error{Code: quiz.Conflict, Text: was.Name + " was changed by somebody else", Mend: "open the page again, then change it"}
	}
	if len(page.Faults) > 0 {
		return p.showPerson(c, http.StatusUnprocessableEntity, page)
	}
	if was.Has(quiz.Administrator) && !page.Person.Has(quiz.Administrator) {
		if err := p.lastAdministrator(c, was.ID); err != nil {
			return err
		}
	}
	// The account first: a login that somebody took meanwhile leaves all as it was.
	if page.Login != "" && quiz.FoldLogin(page.Login) != a.Login {
		a.Person, a.Login = was.ID, page.Login
		if a.Hash == "" {
			a.Must = true
		}
		if err := p.app.Store.SaveAccount(ctx, c.Visitor.ID, &a); err != nil {
			return err
		}
	}
	if err := p.app.Store.SavePerson(ctx, c.Visitor.ID, &page.Person); err != nil {
		return err
	}
	c.Flash(c.T("administrator.saved"))
	return c.Go("/people/" + was.ID)
}

// leave notes that a person has left, and comeBack that the person is back. Nothing
// is lost by either but the ways in.
func (p *Pages) leave(c *web.Context) error {
	x, err := touch(c)
	if err != nil {
		return err
	}
	if x.Has(quiz.Administrator) {
		if err := p.lastAdministrator(c, x.ID); err != nil {
			return err
		}
	}
	if x.Active(c.Now()) {
		x.Left, x.Version = c.Now(), c.Form().Int("version", 1, 1<<30, x.Version)
		if err := p.app.Store.SavePerson(c.Ctx(), c.Visitor.ID, &x); err != nil {
			return err
		}
	}
	if _, err := p.app.Store.Sessions().EndAll(c.Ctx(), x.ID); err != nil {
		return err
	}
	if err := p.revokeTokens(c, x.ID); err != nil {
		return err
	}
	c.Flash(c.T("administrator.person.left.done", "Name", x.Name))
	return c.Go("/people/" + x.ID)
}

// revokeTokens makes the personal tokens of a person void: somebody who comes
// back makes others.
func (p *Pages) revokeTokens(c *web.Context, person string) error {
	list, err := p.app.Store.Tokens(c.Ctx(), person)
	if err != nil {
		return err
	}
	for _, t := range list {
		if t.Alive(c.Now()) {
			if err := p.app.Store.RevokeToken(c.Ctx(), c.Visitor.ID, t.ID); err != nil {
				return err
			}
		}
	}
	return nil
}

func (p *Pages) comeBack(c *web.Context) error {
	x, err := touch(c)
	if err != nil {
		return err
	}
	if !x.Active(c.Now()) {
		x.Left, x.Version = time.Time{}, c.Form().Int("version", 1, 1<<30, x.Version)
		if err := p.app.Store.SavePerson(c.Ctx(), c.Visitor.ID, &x); err != nil {
			return err
		}
	}
	c.Flash(c.T("administrator.saved"))
	return c.Go("/people/" + x.ID)
}

func (p *Pages) signOutEverywhere(c *web.Context) error {
	x, err := touch(c)
	if err != nil {
		return err
	}
	n, err := p.app.Store.Sessions().EndAll(c.Ctx(), x.ID)
	if err != nil {
		return err
	}
	if err := p.app.Store.RecordAudit(c.Ctx(), c.Visitor.ID, "session.end", "person/"+x.ID, map[string]any{"sessions": n}); err != nil {
		return err
	}
	c.Flash(c.T("administrator.person.out", "Count", n))
	return c.Go("/people/" + x.ID)
}

func (p *Pages) exportPerson(c *web.Context) error { return account.Export(c, c.Subject) }

type erasePage struct {
	Person  quiz.Person
	Faults  map[string]string
	Blocked bool // it is the visitor
}

func (p *Pages) erasePage(c *web.Context) error {
	return c.Page(p.set, "administrator-erase", erasePage{Person: *c.Subject, Blocked: c.Subject.ID == c.Visitor.ID})
}

// erase erases a person's data, once the person's name was typed: it cannot be
// undone.
func (p *Pages) erase(c *web.Context) error {
	x, f := *c.Subject, c.Form()
	if x.ID == c.Visitor.ID {
		return &quiz.Error{Code: quiz.Closed, Text: "you cannot erase yourself", Mend: "let another administrator do it"}
	}
	if f.Text("confirm", true, 200) != x.Name {
		f.Fault("confirm", "administrator.erase.differs")
	}
	if !f.OK() {
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "administrator-erase", erasePage{Person: x, Faults: f.Faults})
	}
	if err := p.app.Store.ErasePerson(c.Ctx(), c.Visitor.ID, x.ID); err != nil {
		return err
	}
	c.Flash(c.T("administrator.erase.done"))
	return c.Go("/people")
}
