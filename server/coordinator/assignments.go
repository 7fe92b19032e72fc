package coordinator

import (
	"cmp"
	"context"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/marking"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

// The states of an assignment.
const (
	planned = "planned"
	open    = "open"
	closed  = "closed"
)

// stateOf tells the state of an assignment. One that somebody may work at for
// longer than the others is open until then.
func stateOf(a *quiz.Assignment, now time.Time) string {
	end := a.Close
	for _, x := range a.Accommodations {
		if x.Close.After(end) && !end.IsZero() {
			end = x.Close
		}
	}
	switch {
	case now.Before(a.Open):
		return planned
	case !end.IsZero() && now.After(end):
		return closed
	}
	return open
}

// assignmentList is the page of all assignments.
type assignmentList struct {
	Rows  []assignmentRow
	Forms int
}

type assignmentRow struct {
	quiz.Assignment
	State     string
	Addressed int // people, those who left not counted
	Working   int
	Ended     int // people with an attempt that ended
}

func (p *Pages) assignments(c *web.Context) error {
	ctx := c.Ctx()
	list, err := p.store.Assignments(ctx)
	if err != nil {
		return err
	}
	people, err := p.store.People(ctx)
	if err != nil {
		return err
	}
	forms, err := p.store.Forms(ctx)
	if err != nil {
		return err
	}
	page := assignmentList{Forms: len(forms)}
	for _, a := range list {
		row := assignmentRow{Assignment: a, State: stateOf(&a, c.Now())}
		for _, x := range people {
			if x.Active(c.Now()) && a.For(x) {
				row.Addressed++
			}
		}
		attempts, err := p.store.AttemptsAt(ctx, a.ID)
		if err != nil {
			return err
		}
		ended := map[string]bool{}
		for _, x := range attempts {
			switch {
			case x.State.Ended():
				ended[x.Person] = true
			case x.State == quiz.Started:
				row.Working++
			}
		}
		row.Ended = len(ended)
		page.Rows = append(page.Rows, row)
	}
	// What is open comes first, then what is to come, then what is over.
	rank := map[string]int{open: 0, planned: 1, closed: 2}
	slices.SortStableFunc(page.Rows, func(a, b assignmentRow) int { return cmp.Compare(rank[a.State], rank[b.State]) })
	if c.QueryParam("as") != "" {
		return c.Table(page.table(c))
	}
	return c.Page(p.set, "coordinator-assignments", page)
}

// table is the list as a file. States are given by their names in the program.
func (l assignmentList) table(c *web.Context) *web.Table {
	t := &web.Table{Name: "assignments", Columns: []string{c.T("coordinator.assign.quiz"), c.T("coordinator.catalogs.state"), c.T("coordinator.assign.opens"),
		c.T("coordinator.assign.closes"), c.T("coordinator.assign.addressed"), c.T("coordinator.assign.working"), c.T("coordinator.assign.ended")}}
	for _, r := range l.Rows {
		t.Rows = append(t.Rows, []any{r.Title, r.State, r.Open, r.Close, r.Addressed, r.Working, r.Ended})
	}
	return t
}

// assignmentEditor is the page on which an assignment is made or changed. What
// was typed stands in it as it was typed.
type assignmentEditor struct {
	ID             string // empty: a new one
	Version        int
	Key            string // of a new one: it becomes its ID
	Title, Form    string
	Open, Close    string // as the fields have them, in the visitor's zone
	Limit          string // minutes
	Attempts       string
	When, From     string // release
	Score          bool
	Answers        bool
	ShowKey        bool
	Trace          bool
	Roles          []choice
	Sites          []choice
	People         []choice
	Accommodations []accommodationRow
	Forms          []store.FormInfo
	Fixed          bool // people have begun: the form cannot be changed
	Stale          bool // somebody else changed it in the meantime
	Faults         map[string]string
}

type choice struct {
	ID, Name, Site string
	On             bool
}

// accommodationRow is a line of the table of accommodations.
type accommodationRow struct {
	N                                       int
	Person, Percent, Minutes, Close, Reason string
}

// spareAccommodations is how many empty lines stand below those filled in.
const spareAccommodations = 2

// mostPercent is the most that an accommodation adds to the time limit.
const mostPercent = 300

const fieldTime = "2006-01-02T15:04"

func (p *Pages) newAssignment(c *web.Context) error {
	ctx := c.Ctx()
	now := c.Now().In(c.Zone)
	e := &assignmentEditor{Key: web.NewKey(), Form: c.QueryParam("form"), Attempts: "1", When: string(quiz.ReleaseAtClose), Score: true, Answers: true, ShowKey: true, Trace: true,
		Open: now.Format(fieldTime), Close: time.Date(now.Year(), now.Month(), now.Day()+14, 18, 0, 0, 0, c.Zone).Format(fieldTime)}
	if e.Form != "" {
		f, err := p.marker.Form(ctx, e.Form)
		if err != nil {
			return err
		}
		e.Title, e.Limit = f.Title, fieldMinutes(time.Duration(f.Blueprint.TimeLimit)*time.Minute)
	}
	return p.showAssignmentEditor(c, http.StatusOK, e, nil)
}

// showAssignmentEditor shows the editor with everything that can be chosen.
func (p *Pages) showAssignmentEditor(c *web.Context, status int, e *assignmentEditor, targets []quiz.Target) error {
	ctx := c.Ctx()
	var err error
	if e.Forms, err = p.store.Forms(ctx); err != nil {
		return err
	}
	sites, err := p.store.Sites(ctx)
	if err != nil {
		return err
	}
	people, err := p.store.People(ctx)
	if err != nil {
		return err
	}
	on := func(kind quiz.TargetKind, id string) bool {
		return slices.Contains(targets, quiz.Target{Kind: kind, ID: id})
	}
	for _, r := range quiz.Roles() {
		e.Roles = append(e.Roles, choice{ID: string(r), On: on(quiz.ToRole, string(r))})
	}
	names := map[string]string{}
	for _, s := range sites {
		names[s.ID] = s.Name
		e.Sites = append(e.Sites, choice{ID: s.ID, Name: s.Name, On: on(quiz.ToSite, s.ID)})
	}
	for _, x := range people {
		if x.Active(c.Now()) || on(quiz.ToPerson, x.ID) {
			e.People = append(e.People, choice{x.ID, x.Name, names[x.Site], on(quiz.ToPerson, x.ID)})
		}
	}
	slices.SortFunc(e.People, func(a, b choice) int { return cmp.Or(strings.Compare(a.Name, b.Name), strings.Compare(a.ID, b.ID)) })
	for range spareAccommodations {
		e.Accommodations = append(e.Accommodations, accommodationRow{})
	}
	for i := range e.Accommodations {
		e.Accommodations[i].N = i
	}
	return c.PageStatus(p.set, status, "coordinator-assign", e)
}

// readAssignment reads the fields over an assignment as it is kept, or over a new
// one.
func (p *Pages) readAssignment(c *web.Context, a quiz.Assignment) (*assignmentEditor, quiz.Assignment, *web.Form) {
	f := c.Form()
	e := &assignmentEditor{ID: a.ID, Title: f.Raw("title"), Form: f.Raw("form"), Open: f.Raw("open"), Close: f.Raw("close"), Limit: f.Raw("limit"), Attempts: f.Raw("attempts"),
		When: f.Raw("when"), From: f.Raw("from"), Score: f.On("score"), Answers: f.On("answers"), ShowKey: f.On("showkey"), Trace: f.On("trace"), Faults: f.Faults}
	a.Title = f.Text("title", true, 120)
	a.Form = f.Text("form", true, 100)
	a.Open, a.Close = f.Time("open"), f.Time("close")
	if a.Open.IsZero() {
		f.Fault("open", "fault.required")
	}
	if !a.Close.IsZero() && !a.Close.After(a.Open) {
		f.Fault("close", "coordinator.assign.close.fault")
	}
	a.Limit = time.Duration(f.Int("limit", 0, int(quiz.MaxLimit/time.Minute), 0)) * time.Minute
	a.Attempts = f.Int("attempts", 1, quiz.MaxAttempts, 1)
	a.Targets = nil
	for _, t := range []struct {
		field string
		kind  quiz.TargetKind
	}{{"role", quiz.ToRole}, {"site", quiz.ToSite}, {"person", quiz.ToPerson}} {
		for _, id := range f.Many(t.field) {
			a.Targets = append(a.Targets, quiz.Target{Kind: t.kind, ID: id})
		}
	}
	if len(a.Targets) == 0 {
		f.Fault("targets", "coordinator.assign.targets.fault")
	}
	a.Release = quiz.Release{When: quiz.ReleaseWhen(f.One("when", string(quiz.ReleaseAtClose), string(quiz.ReleaseAtEnd), string(quiz.ReleaseFrom), string(quiz.ReleaseByHand), string(quiz.ReleaseNever))),
		From: f.Time("from"), Score: e.Score, Answers: e.Answers, Key: e.ShowKey, Trace: e.Trace}
	switch {
	case a.Release.When == quiz.ReleaseFrom && a.Release.From.IsZero():
		f.Fault("from", "fault.required")
	case a.Release.When != quiz.ReleaseFrom:
		a.Release.From = time.Time{}
	}
	if a.Release.When == quiz.ReleaseAtClose && a.Close.IsZero() {
		f.Fault("when", "coordinator.assign.when.fault")
	}
	if a.Release.When != quiz.ReleaseByHand {
		a.Released = time.Time{}
	}
	a.Accommodations = nil
	e.Accommodations = readAccommodations(f, &a, c.Zone)
	return e, a, f
}

// readAccommodations reads the lines of the table of accommodations.
func readAccommodations(f *web.Form, a *quiz.Assignment, zone *time.Location) []accommodationRow {
	who, percent, minutes, until, why := f.Many("a-person"), f.Many("a-percent"), f.Many("a-minutes"), f.Many("a-close"), f.Many("a-reason")
	n := min(len(who), len(percent), len(minutes), len(until), len(why), 1000)
	var rows []accommodationRow
	for i := range n {
		row := accommodationRow{len(rows), who[i], percent[i], minutes[i], until[i], strings.TrimSpace(why[i])}
		if row.Person == "" && row.Percent == "" && row.Minutes == "" && row.Close == "" && row.Reason == "" {
			continue
		}
		rows = append(rows, row)
		x := quiz.Accommodation{Person: row.Person, Reason: row.Reason}
		field := func(name string) string { return "a-" + name + "-" + strconv.Itoa(row.N) }
		if x.Person == "" {
			f.Fault(field("person"), "coordinator.assign.person.fault")
		} else if slices.ContainsFunc(a.Accommodations, func(y quiz.Accommodation) bool { return y.Person == x.Person }) {
			f.Fault(field("person"), "coordinator.assign.twice.fault")
		}
		var ok bool
		if x.Percent, ok = parseNumber(row.Percent, mostPercent); !ok {
			f.Fault(field("percent"), "fault.number", "Least", 0, "Most", mostPercent)
		}
		extra, ok := parseNumber(row.Minutes, int(quiz.MaxLimit/time.Minute))
		if x.Extra = time.Duration(extra) * time.Minute; !ok {
			f.Fault(field("minutes"), "fault.number", "Least", 0, "Most", int(quiz.MaxLimit/time.Minute))
		}
		if x.Close, ok = parseLocal(row.Close, zone); !ok {
			f.Fault(field("close"), "fault.time")
		} else if !x.Close.IsZero() && (a.Close.IsZero() || !x.Close.After(a.Close)) {
			f.Fault(field("close"), "coordinator.assign.later.fault")
		}
		if len([]rune(x.Reason)) > 200 {
			f.Fault(field("reason"), "fault.long", "Most", 200)
		}
		a.Accommodations = append(a.Accommodations, x)
	}
	return rows
}

// addAssignment makes an assignment. The key of the form becomes its ID: a
// second click finds it made.
func (p *Pages) addAssignment(c *web.Context) error {
	ctx := c.Ctx()
	e, a, f := p.readAssignment(c, quiz.Assignment{})
	e.Key = f.Key()
	p.checkForm(ctx, f, a.Form)
	if err := a.Check(); f.OK() && err != nil {
		f.Fault("title", "coordinator.assign.refused", "Why", err.Error())
	}
	if !f.OK() {
		return p.showAssignmentEditor(c, http.StatusUnprocessableEntity, e, a.Targets)
	}
	a.ID = "a" + e.Key
	if made, err := p.store.Assignment(ctx, a.ID); err == nil && made.By == c.Visitor.ID {
		return c.Go("/assignments/" + made.ID)
	}
	if err := p.store.SaveAssignment(ctx, c.Visitor.ID, &a); err != nil {
		if made, again := p.store.Assignment(ctx, a.ID); again == nil && made.By == c.Visitor.ID {
			return c.Go("/assignments/" + made.ID) // two clicks at once
		}
		return err
	}
	if err := p.tell(ctx, &a, c.Now()); err != nil {
		return err
	}
	c.Flash(c.T("coordinator.assign.done", "Title", a.Title))
	return c.Go("/assignments/" + a.ID)
}

// checkForm faults a form that there is not.
func (p *Pages) checkForm(ctx context.Context, f *web.Form, id string) {
	if id == "" {
		return
	}
	if _, err := p.marker.Form(ctx, id); err != nil {
		f.Fault("form", "fault.choice")
	}
}

// tell tells the people of an assignment of it, each once.
func (p *Pages) tell(ctx context.Context, a *quiz.Assignment, now time.Time) error {
	if stateOf(a, now) == closed {
		return nil
	}
	people, err := p.store.People(ctx)
	if err != nil {
		return err
	}
	var list []quiz.Notice
	for _, x := range people {
		if x.Active(now) && a.For(x) {
			detail := map[string]string{marking.DetailAssignment: a.Title, "open": a.Open.UTC().Format(time.RFC3339)}
			if end := a.ClosesFor(x.ID); !end.IsZero() {
				detail["close"] = end.UTC().Format(time.RFC3339)
			}
			list = append(list, quiz.Notice{ID: "assignment/" + a.ID + "/" + x.ID, Person: x.ID, Kind: quiz.NoticeAssignment, Subject: "assignment/" + a.ID, Detail: detail})
		}
	}
	return p.store.AddNotices(ctx, list)
}

func (p *Pages) editAssignment(c *web.Context) error {
	a, err := p.store.Assignment(c.Ctx(), c.Param("assignment"))
	if err != nil {
		return err
	}
	local := func(t time.Time) string {
		if t.IsZero() {
			return ""
		}
		return t.In(c.Zone).Format(fieldTime)
	}
	e := &assignmentEditor{ID: a.ID, Version: a.Version, Title: a.Title, Form: a.Form, Open: local(a.Open), Close: local(a.Close), Limit: fieldMinutes(a.Limit),
		Attempts: fieldNumber(a.Attempts), When: string(a.Release.When), From: local(a.Release.From), Score: a.Release.Score, Answers: a.Release.Answers,
		ShowKey: a.Release.Key, Trace: a.Release.Trace}
	for _, x := range a.Accommodations {
		e.Accommodations = append(e.Accommodations, accommodationRow{Person: x.Person, Percent: fieldNumber(x.Percent), Minutes: fieldMinutes(x.Extra), Close: local(x.Close), Reason: x.Reason})
	}
	if e.Fixed, err = p.begun(c.Ctx(), a.ID); err != nil {
		return err
	}
	return p.showAssignmentEditor(c, http.StatusOK, e, a.Targets)
}

// begun tells whether somebody has an attempt at an assignment.
func (p *Pages) begun(ctx context.Context, id string) (bool, error) {
	list, err := p.store.AttemptsAt(ctx, id)
	return len(list) > 0, err
}

// saveAssignment changes an assignment, unless somebody else did in the meantime:
// then what was typed is shown again, to be saved over the other's on purpose.
func (p *Pages) saveAssignment(c *web.Context) error {
	ctx := c.Ctx()
	kept, err := p.store.Assignment(ctx, c.Param("assignment"))
	if err != nil {
		return err
	}
	fixed, err := p.begun(ctx, kept.ID)
	if err != nil {
		return err
	}
	e, a, f := p.readAssignment(c, kept)
	e.Fixed = fixed
	e.Version = f.Int("version", 1, 1<<30, kept.Version)
	if fixed && a.Form != kept.Form {
		f.Fault("form", "coordinator.assign.fixed")
	}
	p.checkForm(ctx, f, a.Form)
	if err := a.Check(); f.OK() && err != nil {
		f.Fault("title", "coordinator.assign.refused", "Why", err.Error())
	}
	if !f.OK() {
		return p.showAssignmentEditor(c, http.StatusUnprocessableEntity, e, a.Targets)
	}
	a.Version = e.Version
	if err := p.store.SaveAssignment(ctx, c.Visitor.ID, &a); quiz.ErrorCode(err) == quiz.Conflict {
		if kept, err = p.store.Assignment(ctx, kept.ID); err != nil {
			return err
		}
		e.Stale, e.Version = true, kept.Version
		return p.showAssignmentEditor(c, http.StatusConflict, e, a.Targets)
	} else if err != nil {
		return err
	}
	if err := p.tell(ctx, &a, c.Now()); err != nil {
		return err
	}
	c.Flash(c.T("coordinator.assign.saved", "Title", a.Title))
	return c.Go("/assignments/" + a.ID)
}

// releaseFeedback shows people what the release rule lets them see, now.
func (p *Pages) releaseFeedback(c *web.Context) error {
	ctx := c.Ctx()
	a, err := p.store.Assignment(ctx, c.Param("assignment"))
	if err != nil {
		return err
	}
	if a.Release.When == quiz.ReleaseByHand && !a.Released.IsZero() {
		return c.Go("/assignments/" + a.ID) // a second click
	}
	if f := c.Form(); f.Int("version", 1, 1<<30, 0) != a.Version {
		return &quiz.Error{Code: quiz.Conflict, Text: "the assignment was changed in the meantime", Mend: "look at it again, then release its feedback"}
	}
	a.Release.When, a.Release.From, a.Released = quiz.ReleaseByHand, time.Time{}, c.Now()
	if err := p.store.SaveAssignment(ctx, c.Visitor.ID, &a); err != nil {
		return err
	}
	c.Flash(c.T("coordinator.release.done"))
	return c.Go("/assignments/" + a.ID)
}
