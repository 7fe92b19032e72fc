package coordinator

import (
	"cmp"
	"context"
	"net/http"
	"slices"
	"strings"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/marking"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

// assignmentPage is the page of an assignment: what was given to whom, and who
// is how far.
type assignmentPage struct {
	quiz.Assignment
	State       string
	FormTitle   string
	Revision    string
	Questions   int
	Variants    int
	Who         string   // who assigned it
	To          []string // sites and people, by name
	ToRoles     []string
	Rows        []monitorRow
	Seen        time.Time // when this was looked up
	Addressed   int
	Waiting     int // have not begun
	Working     int
	Ended       int
	Overdue     int
	FeedbackOut bool // released by hand
	Larger      []accommodated
}

// PageTitle names the page.
func (p assignmentPage) PageTitle() string { return p.Title }

// Live tells whether anything can still change by itself.
func (p assignmentPage) Live() bool { return p.State == open && (p.Waiting > 0 || p.Working > 0) }

// accommodated is an accommodation with the name of the person.
type accommodated struct {
	quiz.Accommodation
	Name string
}

// monitorRow is one person at an assignment, with the last attempt.
type monitorRow struct {
	Person, Name, Site string
	Attempt            string // ID; empty: none yet
	State              string // of the attempt; empty: not begun
	Number             int
	Answered, Of       int
	Started, Ended     time.Time
	Deadline           time.Time
	Left               time.Duration
	Limited            bool // the attempt ends by itself
	Overdue            bool // time is up, and it has not been ended yet
	Paper              bool
	Gone               bool // not addressed any more, or left
}

// assigned reads the assignment of a route, and its form.
func (p *Pages) assigned(c *web.Context) (quiz.Assignment, *marking.Form, error) {
	a, err := p.store.Assignment(c.Ctx(), c.Param("assignment"))
	if err != nil {
		return a, nil, err
	}
	f, err := p.marker.Form(c.Ctx(), a.Form)
	return a, f, err
}

func (p *Pages) assignment(c *web.Context) error {
	ctx := c.Ctx()
	a, f, err := p.assigned(c)
	if err != nil {
		return err
	}
	people, err := p.store.People(ctx)
	if err != nil {
		return err
	}
	sites, err := p.store.Sites(ctx)
	if err != nil {
		return err
	}
	page := assignmentPage{Assignment: a, State: stateOf(&a, c.Now()), FormTitle: f.Title, Revision: f.Revision, Questions: len(f.Variants[0].Questions), Variants: len(f.Variants),
		Seen: c.Now(), FeedbackOut: !a.Released.IsZero()}
	names, places := map[string]string{}, map[string]string{}
	for _, x := range people {
		names[x.ID] = x.Name
	}
	for _, s := range sites {
		places[s.ID] = s.Name
	}
	page.Who = names[a.By]
	for _, t := range a.Targets {
		switch t.Kind {
		case quiz.ToRole:
			page.ToRoles = append(page.ToRoles, t.ID)
		case quiz.ToSite:
			page.To = append(page.To, cmp.Or(places[t.ID], t.ID))
		default:
			page.To = append(page.To, cmp.Or(names[t.ID], t.ID))
		}
	}
	for _, x := range a.Accommodations {
		page.Larger = append(page.Larger, accommodated{x, cmp.Or(names[x.Person], x.Person)})
	}
	if page.Rows, err = p.watch(ctx, &a, people, places, c.Now()); err != nil {
		return err
	}
	for _, r := range page.Rows {
		if !r.Gone {
			page.Addressed++
		}
		switch {
		case r.State == "":
			page.Waiting++
		case r.Overdue:
			page.Overdue++
		case quiz.State(r.State).Ended():
			page.Ended++
		default:
			page.Working++
		}
	}
	if c.QueryParam("as") != "" {
		return c.Table(page.table(c))
	}
	return c.Page(p.set, "coordinator-assignment", page)
}

// table is who is how far as a file.
func (p assignmentPage) table(c *web.Context) *web.Table {
	t := &web.Table{Name: web.FileName(p.Title), Columns: []string{c.T("coordinator.monitor.name"), c.T("coordinator.monitor.site"), c.T("coordinator.catalogs.state"),
		c.T("coordinator.monitor.answered"), c.T("coordinator.effect.questions"), c.T("coordinator.monitor.started"), c.T("coordinator.monitor.endedat")}}
	for _, r := range p.Rows {
		var answered, of any
		if r.State == string(quiz.Started) {
			answered, of = r.Answered, r.Of
		}
		t.Rows = append(t.Rows, []any{r.Name, r.Site, r.State, answered, of, r.Started, r.Ended})
	}
	return t
}

// watch tells how far everybody is: those addressed, and those who have an
// attempt for another reason.
func (p *Pages) watch(ctx context.Context, a *quiz.Assignment, people []quiz.Person, places map[string]string, now time.Time) ([]monitorRow, error) {
	attempts, err := p.store.AttemptsAt(ctx, a.ID)
	if err != nil {
		return nil, err
	}
	last := map[string]*quiz.Attempt{}
	for i := range attempts {
		if x := &attempts[i]; last[x.Person] == nil || x.Number > last[x.Person].Number {
			last[x.Person] = x
		}
	}
	var rows []monitorRow
	for _, x := range people {
		addressed := x.Active(now) && a.For(x)
		t := last[x.ID]
		if !addressed && t == nil {
			continue
		}
		r := monitorRow{Person: x.ID, Name: x.Name, Site: places[x.Site], Gone: !addressed}
		if t != nil {
			r.Attempt, r.State, r.Number, r.Of = t.ID, string(t.State), t.Number, len(t.Questions)
			r.Started, r.Ended, r.Deadline, r.Paper = t.Started, t.Ended, t.Deadline, t.Medium == quiz.OnPaper
			r.Left, r.Limited = t.Left(now)
			r.Overdue = t.Overdue(now)
			if t.State == quiz.Started {
				if r.Answered, err = p.answered(ctx, t.ID); err != nil {
					return nil, err
				}
			}
		}
		rows = append(rows, r)
	}
	slices.SortFunc(rows, func(a, b monitorRow) int {
		return cmp.Or(strings.Compare(a.Name, b.Name), strings.Compare(a.Person, b.Person))
	})
	return rows, nil
}

// answered counts the questions of an attempt that have an answer.
func (p *Pages) answered(ctx context.Context, attempt string) (int, error) {
	list, err := p.store.Answers(ctx, attempt)
	if err != nil {
		return 0, err
	}
	n := 0
	for _, r := range quiz.Latest(list) {
		if strings.TrimSpace(r.Value) != "" {
			n++
		}
	}
	return n, nil
}

// Mine tells whether the attempt of a row is under way, so that it can be given
// more time.
func (r monitorRow) Mine() bool { return r.State == string(quiz.Started) && r.Limited && !r.Overdue }

// timePage is the page on which one person is given more time.
type timePage struct {
	Attempt quiz.Attempt
	Title   string
	Name    string
	Left    time.Duration
	Minutes string
	Faults  map[string]string
	Key     string
}

func (p *Pages) moreTime(c *web.Context) error {
	return p.showTime(c, http.StatusOK, "10", nil)
}

func (p *Pages) showTime(c *web.Context, status int, minutes string, faults map[string]string) error {
	ctx := c.Ctx()
	t, err := p.store.Attempt(ctx, c.Param("attempt"))
	if err != nil {
		return err
	}
	a, err := p.store.Assignment(ctx, t.Assignment)
	if err != nil {
		return err
	}
	if err := t.Working(c.Now()); err != nil {
		return err
	}
	if t.Deadline.IsZero() {
		return &quiz.Error{Code: quiz.Closed, Text: "the attempt has no time limit", Mend: "there is nothing to extend"}
	}
	left, _ := t.Left(c.Now())
	return c.PageStatus(p.set, status, "coordinator-time", timePage{t, a.Title, c.Subject.Name, left, minutes, faults, web.NewKey()})
}

// mostMinutes is the most time that is given at once.
const mostMinutes = 240

// giveTime gives the person more time, once for a page however often it is sent.
func (p *Pages) giveTime(c *web.Context) error {
	ctx, id := c.Ctx(), c.Param("attempt")
	f := c.Form()
	n := f.Int("minutes", 1, mostMinutes, 0)
	if n == 0 {
		f.Fault("minutes", "fault.number", "Least", 1, "Most", mostMinutes)
	}
	if !f.OK() {
		return p.showTime(c, http.StatusUnprocessableEntity, f.Raw("minutes"), f.Faults)
	}
	back := "/assignments/" + c.Param("assignment")
	once := "extend " + id + " " + f.Key()
	first, _, err := p.store.Allow(ctx, once, store.Rate{Burst: 1, Every: 24 * time.Hour})
	if err != nil {
		return err
	}
	if !first {
		return c.Go(back) // it was given
	}
	if _, err := p.store.ExtendAttempt(ctx, c.Visitor.ID, id, time.Duration(n)*time.Minute); err != nil {
		if forget := p.store.Forgive(ctx, once); forget != nil {
			return forget
		}
		return err
	}
	c.Flash(c.T("coordinator.time.done", "Name", c.Subject.Name, "Count", n))
	return c.Go(back)
}
