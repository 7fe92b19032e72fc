package account

import (
	"crypto/subtle"
	"net/http"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/store"
	"rightpage/server/web"
	"rightpage/server/words"
)

type setupForm struct {
	Off                             bool   // nobody can set up by the web
	Secret                          string // as typed
	Organisation, Site, Zone        string
	Name, Login, Mail, Number       string
	Language                        string
	Technician, Coordinator, Manage bool
	Languages                       []string
	Faults                          map[string]string
}

// setupPage is where an empty database begins, and the list of what comes next
// once somebody is there.
func (p *Pages) setupPage(c *web.Context) error {
	used, err := p.used(c.Ctx())
	switch {
	case err != nil:
		return err
	case !used:
		return c.Page(p.set, "account-setup", setupForm{Off: p.deps.SetupSecret == "", Coordinator: true,
			Language: c.Words.Locale(), Languages: words.Locales()})
	case c.Visitor == nil:
		return c.Go("/sign-in?next=/setup")
	case c.MustChange():
		return c.Go("/account/password")
	case !c.May(quiz.Administrator, quiz.Coordinator):
		return &quiz.Error{Code: quiz.Forbidden, Text: "your role does not cover this page"}
	}
	return p.checklist(c)
}

// settingUp names the claim of the one who sets up: of several browsers one gets
// it, and holds it for longer than a request can last.
const settingUp = "setting up"

var settingUpOnce = store.Rate{Burst: 1, Every: time.Minute}

func (p *Pages) setup(c *web.Context) error {
	ctx, f := c.Ctx(), c.Form()
	done := &quiz.Error{Code: quiz.Closed, Text: "rightpage is set up already", Mend: "sign in"}
	if used, err := p.used(ctx); err != nil || used {
		if err != nil {
			return err
		}
		return done
	}
	form := setupForm{Off: p.deps.SetupSecret == "", Secret: f.Text("secret", true, 100), Languages: words.Locales(),
		Organisation: f.Text("organisation", true, 200), Site: f.Text("site", true, 100), Zone: f.Text("zone", false, 60),
		Name: f.Text("name", true, 100), Login: f.Text("login", true, 100), Mail: f.Text("mail", false, 200),
		Language:   f.One("language", words.Locales()...),
		Technician: f.On("technician"), Coordinator: f.On("coordinator"), Manage: f.On("manager")}
	roles := []quiz.Role{quiz.Administrator}
	for _, r := range []struct {
		on   bool
		role quiz.Role
	}{{form.Technician, quiz.Technician}, {form.Coordinator, quiz.Coordinator}, {form.Manage, quiz.Manager}} {
		if r.on {
			roles = append(roles, r.role)
		}
	}
	site := quiz.Site{Name: form.Site, Zone: form.Zone}
	if form.Site != "" && site.Check() != nil {
		f.Fault("zone", "account.setup.zone.unknown")
	}
	person := quiz.Person{Name: form.Name, Mail: form.Mail, Roles: roles, Locale: form.Language}
	if form.Name != "" && person.Check() != nil {
		f.Fault("mail", "account.setup.mail.wrong")
	}
	p.chosen(f, f.Raw("new-password"), f.Raw("new-password-again"), form.Login, form.Name, form.Organisation)
	if p.deps.SetupSecret == "" || subtle.ConstantTimeCompare([]byte(form.Secret), []byte(p.deps.SetupSecret)) != 1 {
		f.Fault("secret", "account.setup.secret.wrong")
	}
	if !f.OK() {
		form.Faults = f.Faults
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "account-setup", form)
	}
	hash, err := p.hash(ctx, f.Raw("new-password"))
	if err != nil {
		return err
	}
	mine, _, err := c.App.Store.Allow(ctx, settingUp, settingUpOnce)
	if err != nil {
		return err
	}
	if !mine {
		return &quiz.Error{Code: quiz.Conflict, Text: "somebody else is setting up rightpage at this moment", Mend: "wait a minute, then open the start page"}
	}
	// Whoever had the claim before may have finished since the look above.
	if used, err := p.used(ctx); err != nil || used {
		if err != nil {
			return err
		}
		return done
	}
	if err := p.found(c, form, &site, &person, hash); err != nil {
		// It failed: the next try need not wait.
		_ = c.App.Store.Forgive(ctx, settingUp)
		return err
	}
	p.inUse.Store(true)
	if err := c.SignIn(&person, false); err != nil {
		return err
	}
	return c.Go("/setup")
}

// found keeps what an organisation begins with. The administrator comes last:
// until then the set-up can be done again, and takes up what is there.
func (p *Pages) found(c *web.Context, form setupForm, site *quiz.Site, person *quiz.Person, hash string) error {
	ctx, s := c.Ctx(), c.App.Store
	settings, err := s.Settings(ctx)
	if err != nil {
		return err
	}
	settings.Organisation, settings.Locale = form.Organisation, form.Language
	if err := s.SaveSettings(ctx, "", &settings); err != nil {
		return err
	}
	sites, err := s.Sites(ctx)
	if err != nil {
		return err
	}
	for _, there := range sites {
		if there.Name == site.Name {
			site.ID, site.Version = there.ID, there.Version
		}
	}
	if err := s.SaveSite(ctx, "", site); err != nil {
		return err
	}
	person.Site = site.ID
	return s.AddPerson(ctx, "", person, form.Login, hash, false)
}

// step is a step of the list of what comes next.
type step struct {
	Name string // as the end of its messages' IDs
	Path string
	Done bool
}

type checklistPage struct {
	Steps []step
	Left  int
}

func (p *Pages) checklist(c *web.Context) error {
	ctx, s := c.Ctx(), c.App.Store
	catalogs, err := s.Catalogs(ctx)
	if err != nil {
		return err
	}
	inForce := false
	for _, k := range catalogs {
		inForce = inForce || k.InForce
	}
	people, err := s.People(ctx)
	if err != nil {
		return err
	}
	forms, err := s.Forms(ctx)
	if err != nil {
		return err
	}
	assignments, err := s.Assignments(ctx)
	if err != nil {
		return err
	}
	page := checklistPage{Steps: []step{
		{"catalog", "/catalogs", inForce},
		{"people", "/people/import", len(people) > 1},
		{"form", "/forms", len(forms) > 0},
		{"assignment", "/assignments", len(assignments) > 0},
	}}
	if c.May(quiz.Administrator) {
		settings, err := s.Settings(ctx)
		if err != nil {
			return err
		}
		page.Steps = append(page.Steps, step{"settings", "/settings", settings.Version > 1})
	}
	for _, x := range page.Steps {
		if !x.Done {
			page.Left++
		}
	}
	return c.Page(p.set, "account-checklist", page)
}
