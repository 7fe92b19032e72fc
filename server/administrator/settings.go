package administrator

import (
	"math"
	"net/http"
	"strconv"

	"rightpage/quiz"
	"rightpage/server/web"
	"rightpage/server/words"
)

type settingsPage struct {
	Settings  quiz.Settings
	Aim       string // percent, as typed
	Papers    []string
	Languages []string
	Due       int // people who left longer ago than data is kept
	HasKeys   bool
	Warnings  []string
	Faults    map[string]string
}

func (p *Pages) settings(c *web.Context) error {
	s, err := p.app.Store.Settings(c.Ctx())
	if err != nil {
		return err
	}
	return p.settingsPage(c, http.StatusOK, settingsPage{Settings: s, Aim: percent(s.Aim)})
}

func percent(share float64) string { return strconv.Itoa(int(math.Round(share * 100))) }

func (p *Pages) settingsPage(c *web.Context, status int, page settingsPage) error {
	page.Papers, page.Languages, page.HasKeys = quiz.Papers(), words.Locales(), p.keys != nil
	if p.keys != nil {
		page.Warnings = p.keys.Warnings()
	}
	due, err := p.due(c)
	if err != nil {
		return err
	}
	page.Due = due
	return c.PageStatus(p.set, status, "administrator-settings", page)
}

func (p *Pages) saveSettings(c *web.Context) error {
	kept, err := p.app.Store.Settings(c.Ctx())
	if err != nil {
		return err
	}
	f, s := c.Form(), kept
	s.Organisation, s.BaseURL = f.Text("organisation", true, 200), f.Text("address", false, 200)
	s.Prefix = f.Text("prefix", true, 8)
	s.CertificateMonths = f.Int("months", 1, 120, kept.CertificateMonths)
	s.OutdatedAbove = f.Int("outdated", 0, 100, kept.OutdatedAbove)
	s.RetentionMonths = f.Int("retention", 0, 120, 0)
	s.Aim = float64(f.Int("aim", 1, 100, int(math.Round(kept.Aim*100)))) / 100
	s.Signatory, s.SignatoryRole = f.Text("signatory", false, 200), f.Text("signatory-role", false, 200)
	s.Paper = f.One("paper", quiz.Papers()...)
	s.Locale = f.One("language", append(words.Locales(), kept.Locale)...)
	version := f.Int("version", 0, 1<<30, -1)
	if version != kept.Version {
		return &quiz.Error{Code: quiz.Conflict, Text: "the settings were changed by somebody else", Mend: "open the page again, then change them"}
	}
	if f.OK() {
		// What is left to be wrong is the form of the prefix and of the address.
		if bare := s; s.Check() != nil {
			if bare.BaseURL = ""; bare.Check() == nil {
				f.Fault("address", "administrator.settings.address.wrong")
			} else {
				f.Fault("prefix", "administrator.settings.prefix.wrong")
			}
		}
	}
	if !f.OK() {
		return p.settingsPage(c, http.StatusUnprocessableEntity, settingsPage{Settings: s, Aim: f.Raw("aim"), Faults: f.Faults})
	}
	if err := p.app.Store.SaveSettings(c.Ctx(), c.Visitor.ID, &s); err != nil {
		return err
	}
	c.Flash(c.T("administrator.saved"))
	return c.Go("/settings")
}

// due counts the people who left longer ago than their data is kept.
func (p *Pages) due(c *web.Context) (int, error) {
	s, err := p.app.Store.Settings(c.Ctx())
	if err != nil || s.RetentionMonths == 0 {
		return 0, err
	}
	people, err := p.app.Store.People(c.Ctx())
	if err != nil {
		return 0, err
	}
	before, n := c.Now().AddDate(0, -s.RetentionMonths, 0), 0
	for _, x := range people {
		if !x.Left.IsZero() && x.Left.Before(before) && x.Erased.IsZero() {
			n++
		}
	}
	return n, nil
}

// retain erases at once the data of people who left long ago, which the server
// does by itself every some hours. The number of people has to be typed: it must
// be what the page said.
func (p *Pages) retain(c *web.Context) error {
	f := c.Form()
	n, err := p.due(c)
	if err != nil {
		return err
	}
	s, err := p.app.Store.Settings(c.Ctx())
	if err != nil {
		return err
	}
	if n == 0 || f.Text("confirm", true, 10) != strconv.Itoa(n) {
		f.Fault("confirm", "administrator.retention.differs", "Due", n)
		return p.settingsPage(c, http.StatusUnprocessableEntity, settingsPage{Settings: s, Aim: percent(s.Aim), Faults: f.Faults})
	}
	erased, err := p.app.Store.ApplyRetention(c.Ctx(), c.Visitor.ID, c.Now().AddDate(0, -s.RetentionMonths, 0))
	if err != nil {
		return err
	}
	c.Flash(c.T("administrator.retention.done", "Count", erased))
	return c.Go("/settings")
}

// rotate has certificates signed with a new key from now on. Those that were
// issued stay valid: the old key is known still.
func (p *Pages) rotate(c *web.Context) error {
	if p.keys == nil {
		return quiz.Errorf(quiz.NotFound, "there are no keys")
	}
	ok, err := p.account.Confirm(c, c.Form().Raw("password"))
	if err != nil {
		return err
	}
	if !ok {
		s, err := p.app.Store.Settings(c.Ctx())
		if err != nil {
			return err
		}
		return p.settingsPage(c, http.StatusUnprocessableEntity, settingsPage{Settings: s, Aim: percent(s.Aim), Faults: map[string]string{"password": c.T("administrator.password.wrong")}})
	}
	if err := p.app.Store.RecordAudit(c.Ctx(), c.Visitor.ID, "keys.rotate", "keys", nil); err != nil {
		return err
	}
	if err := p.keys.Rotate(c.Ctx(), c.Visitor.ID); err != nil {
		return err
	}
	c.Flash(c.T("administrator.keys.done"))
	return c.Go("/settings")
}
