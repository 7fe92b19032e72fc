package manager

import (
	"time"

	"rightpage/quiz/progress"
	"rightpage/server/web"
)

// recognised is the page of a month.
type recognised struct {
	progress.Recognition
	Sites        map[string]string
	Before, Next time.Time // months to go to; zero: there is none
}

func (p *Pages) recognition(c *web.Context) error {
	now := c.Now().In(c.Zone)
	this := time.Date(now.Year(), now.Month(), 1, 0, 0, 0, 0, c.Zone)
	at := this.AddDate(0, -1, 0) // the last month that is over
	if m, err := time.ParseInLocation("2006-01", c.QueryParam("month"), c.Zone); err == nil && !m.After(this) && m.Year() > 1970 {
		at = m
	}
	r, err := p.deps.Progress.Recognition(c.Ctx(), at)
	if err != nil {
		return err
	}
	names, _, err := p.siteNames(c.Ctx())
	if err != nil {
		return err
	}
	v := recognised{Recognition: r, Sites: names, Before: at.AddDate(0, -1, 0)}
	if at.Before(this) {
		v.Next = at.AddDate(0, 1, 0)
	}
	return c.Page(p.set, "recognition", v)
}
