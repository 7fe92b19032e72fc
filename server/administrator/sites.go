package administrator

import (
	"net/http"
	"slices"

	"rightpage/quiz"
	"rightpage/server/web"
)

type siteEntry struct {
	quiz.Site
	People int // who are there
}

type sitesPage struct {
	Sites  []siteEntry
	Site   quiz.Site // of the form
	Faults map[string]string
}

func (p *Pages) sites(c *web.Context) error {
	return p.sitesPage(c, http.StatusOK, sitesPage{})
}

func (p *Pages) sitesPage(c *web.Context, status int, page sitesPage) error {
	list, err := p.app.Store.Sites(c.Ctx())
	if err != nil {
		return err
	}
	people, err := p.app.Store.People(c.Ctx())
	if err != nil {
		return err
	}
	for _, s := range list {
		e := siteEntry{Site: s}
		for _, x := range people {
			if x.Site == s.ID && x.Active(c.Now()) {
				e.People++
			}
		}
		page.Sites = append(page.Sites, e)
	}
	return c.PageStatus(p.set, status, "administrator-sites", page)
}

// theSite gives the site of the route; of the route without one a new one.
func (p *Pages) theSite(c *web.Context) (quiz.Site, error) {
	id := c.Param("site")
	if id == "" {
		return quiz.Site{}, nil
	}
	list, err := p.app.Store.Sites(c.Ctx())
	if err != nil {
		return quiz.Site{}, err
	}
	if i := slices.IndexFunc(list, func(s quiz.Site) bool { return s.ID == id }); i >= 0 {
		return list[i], nil
	}
	return quiz.Site{}, quiz.Errorf(quiz.NotFound, "there is no such site")
}

func (p *Pages) site(c *web.Context) error {
	s, err := p.theSite(c)
	if err != nil {
		return err
	}
	return c.Page(p.set, "administrator-site", sitesPage{Site: s})
}

func (p *Pages) saveSite(c *web.Context) error {
	s, err := p.theSite(c)
	if err != nil {
		return err
	}
	f := c.Form()
	if s.ID != "" {
		s.Version = f.Int("version", 1, 1<<30, -1)
	}
	s.Name, s.Zone = f.Text("name", true, 100), f.Text("zone", false, 60)
	if f.OK() && s.Check() != nil {
		f.Fault("zone", "administrator.sites.zone.wrong")
	}
	list, err := p.app.Store.Sites(c.Ctx())
	if err != nil {
		return err
	}
	for _, other := range list {
		if other.ID != s.ID && plainWord(other.Name) == plainWord(s.Name) {
			f.Fault("name", "administrator.sites.taken")
		}
	}
	if !f.OK() {
		page := sitesPage{Site: s, Faults: f.Faults}
		if s.ID != "" {
			return c.PageStatus(p.set, http.StatusUnprocessableEntity, "administrator-site", page)
		}
		return p.sitesPage(c, http.StatusUnprocessableEntity, page)
	}
	if err := p.app.Store.SaveSite(c.Ctx(), c.Visitor.ID, &s); err != nil {
		return err
	}
	c.Flash(c.T("administrator.saved"))
	return c.Go("/sites")
}
