package manager

import (
	"slices"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/server/web"
)

// ahead is how far the calendar looks.
const ahead = 12 // months

// entry is a certificate in the calendar.
type entry struct {
	quiz.Certified
	Site  string
	State certificate.State
	Days  int // left; negative: it has expired
}

// month is a month of the calendar.
type month struct {
	Starts  time.Time
	Entries []entry
}

// readCalendar lists the certificates that expire within the next months, and
// those that expired in the last one, by month.
func (p *Pages) readCalendar(c *web.Context) ([]month, error) {
	day := today(c)
	first := time.Date(day.Year(), day.Month()-1, 1, 0, 0, 0, 0, time.UTC)
	list, err := p.app.Store.CertificatesExpiring(c.Ctx(), first, first.AddDate(0, ahead+2, 0))
	if err != nil {
		return nil, err
	}
	people, err := p.app.Store.People(c.Ctx())
	if err != nil {
		return nil, err
	}
	names, _, err := p.siteNames(c.Ctx())
	if err != nil {
		return nil, err
	}
	policy, err := p.deps.Issuer.Policy(c.Ctx())
	if err != nil {
		return nil, err
	}
	var out []month
	for _, x := range list {
		i := slices.IndexFunc(people, func(y quiz.Person) bool { return y.ID == x.PersonID })
		if i < 0 || !people[i].Active(c.Now()) || !c.Covers(&people[i]) {
			continue
		}
		s := x.Standing(policy, c.Now())
		if s.State == certificate.Revoked {
			continue
		}
		starts := time.Date(x.Expires.Year(), x.Expires.Month(), 1, 0, 0, 0, 0, time.UTC)
		if len(out) == 0 || !out[len(out)-1].Starts.Equal(starts) {
			out = append(out, month{Starts: starts})
		}
		m := &out[len(out)-1]
		m.Entries = append(m.Entries, entry{x, names[people[i].Site], s.State, int(x.Expires.Sub(day).Hours() / 24)})
	}
	return out, nil
}

func (p *Pages) calendar(c *web.Context) error {
	months, err := p.readCalendar(c)
	if err != nil {
		return err
	}
	return c.Page(p.set, "calendar", map[string]any{"Months": months, "Today": today(c)})
}

func (p *Pages) calendarTable(c *web.Context) error {
	months, err := p.readCalendar(c)
	if err != nil {
		return err
	}
	t := &web.Table{Name: "expiring-certificates", Columns: []string{c.T("manager.lastday"), c.T("manager.person"), c.T("manager.site"),
		c.T("manager.certificate"), c.T("manager.quiz"), c.T("manager.standing")}}
	for _, m := range months {
		for _, e := range m.Entries {
			t.Rows = append(t.Rows, []any{e.Expires.Format(time.DateOnly), e.Person, e.Site, e.Number, e.Quiz, c.Words.Or("standing."+web.Slug(string(e.State)), string(e.State))})
		}
	}
	return c.Table(t)
}
