package manager

import (
	"bytes"
	"net/http"
	"slices"
	"time"

	"rightpage/grading/psychometrics"
	"rightpage/grading/psychometrics/chart"
	"rightpage/quiz"
	"rightpage/quiz/paper"
	"rightpage/quiz/progress"
	"rightpage/server/web"
)

// states lists the states from the best to the one that says least.
func states() []progress.State {
	return []progress.State{progress.Ready, progress.AtRisk, progress.NotReady, progress.CannotBeTold}
}

// stateCount is how many people are in a state.
type stateCount struct {
	State progress.State
	Count int
}

func countStates(list []progress.PersonReadiness) []stateCount {
	var out []stateCount
	for _, s := range states() {
		n := 0
		for _, r := range list {
			if r.State == s {
				n++
			}
		}
		out = append(out, stateCount{s, n})
	}
	return out
}

// mark is how a state is shown besides its word.
func mark(s progress.State) string {
	switch s {
	case progress.Ready:
		return "good"
	case progress.AtRisk:
		return "warn"
	case progress.NotReady:
		return "bad"
	}
	return "muted"
}

// course is a requirement with who is ready for it.
type course struct {
	quiz.Requirement
	Counts []stateCount
	People int
	Days   int // until the course; negative: it is over
}

func (p *Pages) courses(c *web.Context) error {
	day := today(c)
	list, err := p.app.Store.Requirements(c.Ctx(), day)
	if err != nil {
		return err
	}
	var out []course
	for _, r := range list {
		if ours, err := p.ours(c, r); err != nil || !ours {
			if err != nil {
				return err
			}
			continue
		}
		people, err := p.concerned(c, r)
		if err != nil {
			return err
		}
		ready, err := p.deps.Progress.Readiness(c.Ctx(), r, people, c.Now())
		if err != nil {
			return err
		}
		out = append(out, course{r, countStates(ready), len(people), int(r.Date.Sub(day).Hours() / 24)})
	}
	return c.Page(p.set, "readiness", map[string]any{"Courses": out})
}

// line is a person on the board.
type line struct {
	progress.PersonReadiness
	Site, Mark   string
	Reason, Plan string
}

// boardView is the board of one course.
type boardView struct {
	quiz.Requirement
	Lines                   []line
	Counts                  []stateCount
	Sites                   []quiz.Site
	Site                    string // the filter
	Aim                     float64
	Light, Dark             []byte // the chart
	NarrowLight, NarrowDark []byte // for a phone
	Alt                     string
}

// PageTitle is the title of the page: that of the course.
func (b *boardView) PageTitle() string { return b.Course }

func (p *Pages) readBoard(c *web.Context) (*boardView, error) {
	r, err := p.requirementOf(c)
	if err != nil {
		return nil, err
	}
	people, err := p.concerned(c, r)
	if err != nil {
		return nil, err
	}
	names, sites, err := p.siteNames(c.Ctx())
	if err != nil {
		return nil, err
	}
	v := &boardView{Requirement: r, Site: c.QueryParam("site")}
	for _, s := range sites {
		if slices.ContainsFunc(people, func(x quiz.Person) bool { return x.Site == s.ID }) {
			v.Sites = append(v.Sites, s)
		}
	}
	if v.Site != "" {
		people = slices.DeleteFunc(people, func(x quiz.Person) bool { return x.Site != v.Site })
	}
	list, err := p.deps.Progress.Readiness(c.Ctx(), r, people, c.Now())
	if err != nil {
		return nil, err
	}
	settings, err := p.app.Store.Settings(c.Ctx())
	if err != nil {
		return nil, err
	}
	v.Aim, v.Counts = settings.Aim, countStates(list)
	rank := func(s progress.State) int { return slices.Index(states(), s) }
	slices.SortStableFunc(list, func(a, b progress.PersonReadiness) int {
		if d := rank(a.State) - rank(b.State); d != 0 {
			return d
		}
		switch {
		case a.Forecast.Probability > b.Forecast.Probability:
			return -1
		case a.Forecast.Probability < b.Forecast.Probability:
			return 1
		}
		return 0
	})
	for _, x := range list {
		v.Lines = append(v.Lines, line{x, names[x.Person.Site], mark(x.State),
			psychometrics.RenderAll(c.Words, x.Reason...), psychometrics.RenderAll(c.Words, x.PlanSays...)})
	}
	return v, nil
}

// narrowChart is the width of charts for a phone held upright, in points.
const narrowChart = 300

func (p *Pages) board(c *web.Context) error {
	v, err := p.readBoard(c)
	if err != nil {
		return err
	}
	if len(v.Lines) > 0 {
		rows := make([]chart.BoardRow, len(v.Lines))
		for i, l := range v.Lines {
			rows[i] = chart.BoardRow{Name: l.Person.Name, Readiness: l.Forecast}
		}
		for _, t := range []struct {
			theme chart.Theme
			width float64
			to    *[]byte
		}{{chart.Light, 0, &v.Light}, {chart.Dark, 0, &v.Dark}, {chart.Light, narrowChart, &v.NarrowLight}, {chart.Dark, narrowChart, &v.NarrowDark}} {
			drawn := chart.ReadinessBoard(rows, v.Date, v.Aim, chart.Options{Theme: t.theme, Words: c.Words, Width: t.width})
			if *t.to, err = drawn.SVG(); err != nil {
				return err
			}
			v.Alt = drawn.Alt
		}
	}
	return c.Page(p.set, "board", v)
}

func (p *Pages) boardTable(c *web.Context) error {
	v, err := p.readBoard(c)
	if err != nil {
		return err
	}
	t := &web.Table{Name: "readiness", Columns: []string{c.T("manager.person"), c.T("manager.number"), c.T("manager.site"), c.T("manager.state"),
		c.T("manager.chance"), c.T("manager.low"), c.T("manager.high"), c.T("manager.reason"), c.T("manager.questions"), c.T("manager.plan")}}
	for _, l := range v.Lines {
		t.Rows = append(t.Rows, []any{l.Person.Name, l.Person.Number, l.Site, c.Words.Or("readiness."+web.Slug(string(l.State)), string(l.State)),
			l.Forecast.Probability, l.Forecast.Low, l.Forecast.High, l.Reason, l.Questions, l.Plan})
	}
	return c.Table(t)
}

func (p *Pages) boardReport(c *web.Context) error {
	v, err := p.readBoard(c)
	if err != nil {
		return err
	}
	settings, err := p.app.Store.Settings(c.Ctx())
	if err != nil {
		return err
	}
	size, err := paper.ParsePageSize(settings.Paper)
	if err != nil {
		return err
	}
	verdict := map[progress.State]paper.ReadinessState{progress.Ready: paper.Ready, progress.AtRisk: paper.Close,
		progress.NotReady: paper.NotReady, progress.CannotBeTold: paper.NoData}
	var wanted []string
	for _, s := range v.Skills {
		wanted = append(wanted, c.Words.Or("skill."+web.Slug(s.Skill), s.Skill)+" "+c.Words.Share(s.Level))
	}
	one := paper.CourseReadiness{Course: v.Course, Starts: v.Date, Requirement: c.Words.List(wanted...), Threshold: v.Aim}
	for _, l := range v.Lines {
		one.People = append(one.People, paper.PersonReadiness{Person: l.Person.Name, Site: l.Site, State: verdict[l.State],
			Probability: l.Forecast.Probability, Low: l.Forecast.Low, High: l.Forecast.High, Why: l.Reason, Needs: l.Plan})
	}
	var b bytes.Buffer
	organisation := settings.Organisation
	if organisation == "" {
		organisation = "rightpage"
	}
	err = paper.WriteReadinessReport(&b, paper.ReadinessReport{Size: size, Organisation: organisation, Day: today(c), Confidence: 0.9, Courses: []paper.CourseReadiness{one}})
	if err != nil {
		return err
	}
	return c.File("readiness-"+v.Date.Format(time.DateOnly)+".pdf", "application/pdf", b.Bytes())
}

// requirementForm is a requirement being written.
type requirementForm struct {
	ID, Course, Date string
	Version          int
	Levels           map[string]string // skill → per cent; empty: not asked for
	Targets          map[string]bool   // kind:id
	Skills           []string
	Sites            []quiz.Site
	People           []quiz.Person
	Roles            []quiz.Role
	Faults           map[string]string
}

func (p *Pages) newForm(c *web.Context) (*requirementForm, error) {
	_, sites, err := p.siteNames(c.Ctx())
	if err != nil {
		return nil, err
	}
	all, err := p.app.Store.People(c.Ctx())
	if err != nil {
		return nil, err
	}
	all = slices.DeleteFunc(all, func(x quiz.Person) bool { return !x.Active(c.Now()) || !c.Covers(&x) || !x.Has(quiz.Technician) })
	return &requirementForm{Skills: skills(), Sites: sites, People: all, Roles: quiz.Roles(), Levels: map[string]string{}, Targets: map[string]bool{}, Faults: map[string]string{}}, nil
}

func (p *Pages) newRequirement(c *web.Context) error {
	f, err := p.newForm(c)
	if err != nil {
		return err
	}
	f.Targets[string(quiz.ToRole)+":"+string(quiz.Technician)] = true
	return c.Page(p.set, "requirement", f)
}

func (p *Pages) editRequirement(c *web.Context) error {
	r, err := p.requirementOf(c)
	if err != nil {
		return err
	}
	f, err := p.newForm(c)
	if err != nil {
		return err
	}
	f.ID, f.Course, f.Date, f.Version = r.ID, r.Course, r.Date.Format(time.DateOnly), r.Version
	for _, s := range r.Skills {
		f.Levels[s.Skill] = percent(s.Level)
	}
	for _, t := range r.Targets {
		f.Targets[string(t.Kind)+":"+t.ID] = true
	}
	return c.Page(p.set, "requirement", f)
}

func (p *Pages) saveRequirement(c *web.Context) error {
	f, err := p.newForm(c)
	if err != nil {
		return err
	}
	in := c.Form()
	r := quiz.Requirement{ID: in.Raw("id"), Version: in.Int("version", 0, 1<<30, 0),
		Course: in.Text("course", true, 200), Date: in.Date("date")}
	kept, err := p.kept(c, &r, in)
	if err != nil {
		return err
	}
	if r.Version == 0 && kept.Version > 0 {
		return c.Go("/readiness/" + r.ID) // a second click
	}
	if r.Date.IsZero() {
		in.Fault("date", "fault.required")
	}
	for i, s := range f.Skills {
		field := skillField(i)
		f.Levels[s] = in.Raw(field)
		if level := in.Int(field, 1, 100, 0); level > 0 {
			r.Skills = append(r.Skills, quiz.SkillLevel{Skill: s, Level: float64(level) / 100})
		}
	}
	if len(r.Skills) == 0 {
		in.Fault(skillField(0), "manager.fault.skills")
	}
	for _, t := range in.Many("target") {
		kind, id, ok := cutTarget(t)
		if !ok {
			in.Fault("target", "fault.choice")
			continue
		}
		to := quiz.Target{Kind: kind, ID: id}
		if kind == quiz.ToPerson && !slices.ContainsFunc(f.People, func(x quiz.Person) bool { return x.ID == id }) && !slices.Contains(kept.Targets, to) {
			in.Fault("target", "fault.choice")
			continue
		}
		f.Targets[t] = true
		r.Targets = append(r.Targets, to)
	}
	unseen, err := p.unseen(c, kept)
	if err != nil {
		return err
	}
	for _, t := range unseen {
		if !slices.Contains(r.Targets, t) {
			r.Targets = append(r.Targets, t)
		}
	}
	if len(r.Targets) == 0 {
		in.Fault("target", "manager.fault.targets")
	}
	if in.OK() {
		if err := p.app.Store.SaveRequirement(c.Ctx(), c.Visitor.ID, &r); err != nil {
			return err
		}
		c.Flash(c.T("manager.saved", "Course", r.Course))
		return c.Go("/readiness/" + r.ID)
	}
	if r.Version > 0 {
		f.ID = r.ID
	}
	f.Version, f.Course, f.Date, f.Faults = r.Version, in.Raw("course"), in.Raw("date"), in.Faults
	return c.PageStatus(p.set, http.StatusUnprocessableEntity, "requirement", f)
}

// kept gives the requirement that a form changes as it is kept. A new one gets
// its ID from the key of the form, so that sending it twice makes one.
func (p *Pages) kept(c *web.Context, r *quiz.Requirement, in *web.Form) (quiz.Requirement, error) {
	if r.ID != "" && r.Version > 0 {
		return p.findRequirement(c, r.ID)
	}
	r.ID, r.Version = "r"+in.Key(), 0
	found, err := p.findRequirement(c, r.ID)
	if quiz.ErrorCode(err) == quiz.NotFound {
		return quiz.Requirement{}, nil
	}
	return found, err
}

// unseen lists the people whom a requirement concerns and whom the visitor does
// not see: the form does not show them, and sending it does not drop them.
func (p *Pages) unseen(c *web.Context, r quiz.Requirement) ([]quiz.Target, error) {
	people, err := p.app.Store.People(c.Ctx())
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(slices.Clone(r.Targets), func(t quiz.Target) bool {
		return t.Kind != quiz.ToPerson || !slices.ContainsFunc(people, func(x quiz.Person) bool { return x.ID == t.ID && !c.Covers(&x) })
	}), nil
}
