package marks

import (
	"math"
	"net/url"
	"slices"
	"strings"

	"rightpage/banks/resolver"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/marking"
	"rightpage/server/web"
)

// The outcomes to filter attempts by.
const (
	onlyPassed   = "passed"
	onlyFailed   = "failed"
	onlyUnread   = "unread"
	onlyUngraded = "ungraded"
	onlyBest     = "best"
)

func outcomes() []string {
	return []string{"", onlyPassed, onlyFailed, onlyUnread, onlyUngraded, onlyBest}
}

// gradeFilter chooses rows of the grade table.
type gradeFilter struct{ Site, Medium, Outcome string }

func filterOf(c *web.Context) gradeFilter {
	f := gradeFilter{Site: c.QueryParam("site"), Medium: c.QueryParam("medium"), Outcome: c.QueryParam("show")}
	if !slices.Contains(outcomes(), f.Outcome) {
		f.Outcome = ""
	}
	if !slices.Contains([]string{"", string(quiz.OnPaper), string(quiz.OnScreen)}, f.Medium) {
		f.Medium = ""
	}
	return f
}

// query is the filter as the address of a page has it.
func (f gradeFilter) query() url.Values {
	q := url.Values{}
	for k, v := range map[string]string{"site": f.Site, "medium": f.Medium, "show": f.Outcome} {
		if v != "" {
			q.Set(k, v)
		}
	}
	return q
}

// Any tells whether something is chosen.
func (f gradeFilter) Any() bool { return f != gradeFilter{} }

func (f gradeFilter) covers(c *web.Context, r *marking.Row) bool {
	graded := r.Attempt.State == quiz.Graded
	switch {
	case !c.Covers(&r.Person), f.Site != "" && r.Site != f.Site, f.Medium != "" && string(r.Attempt.Medium) != f.Medium:
		return false
	}
	switch f.Outcome {
	case onlyPassed:
		return graded && r.Attempt.Result.Passed
	case onlyFailed:
		return graded && !r.Attempt.Result.Passed
	case onlyUnread:
		return r.Unread > 0
	case onlyUngraded:
		return !graded
	case onlyBest:
		return r.Counts
	}
	return true
}

// gradesPage is the grade table.
type gradesPage struct {
	head
	Filter   gradeFilter
	Sites    []string
	Outcomes []string
	Columns  []gradeColumn
	Rows     []gradeRow
	Waiting  []string
	Totals   marking.Totals
	Passed   string // how many passed, in words
	Cut      float64
	Table    Taken
	Answers  Taken
}

type gradeColumn struct {
	marking.Column
	Place string
	N     int
}

// Mean is the share of points.
func (c gradeColumn) Mean() float64 {
	if c.Asked == 0 {
		return math.NaN()
	}
	return c.Points / float64(c.Asked)
}

type gradeRow struct {
	marking.Row
	Variant string
	Slips   []grading.SlipCount
}

// Graded tells whether the attempt has a score.
func (r gradeRow) Graded() bool { return r.Attempt.State == quiz.Graded }

// Share is the share of points.
func (r gradeRow) Share() float64 { return shareOf(r.Attempt.Result) }

// Expected is what to expect of the person on other questions of the kind: a
// share with its bounds, or that there are too few to tell.
func (r gradeRow) Expected() Expected {
	low, high, enough := grading.PersonResult{Points: r.Attempt.Result.Points, Of: int(r.Attempt.Result.Of)}.Expect()
	return Expected{low, high, enough}
}

// Expected is a range of shares of points.
type Expected struct {
	Low, High float64
	Enough    bool
}

func shareOf(r quiz.Result) float64 {
	if r.Of <= 0 {
		return 0
	}
	return r.Points / r.Of
}

// Mark is what a cell shows: the points, or a sign for what is no score.
type mark struct{ Sign, Word string }

// Mark of a cell of the grade table.
func (p gradesPage) Mark(x marking.Cell) mark {
	switch {
	case !x.Asked:
		return mark{}
	case x.Withdrawn:
		return mark{"×", "withdrawn"}
	case !x.Graded:
		if strings.TrimSpace(x.Raw) != "" {
			return mark{"•", "answered"}
		}
		return mark{}
	case x.Verdict == marking.Unread:
		return mark{"?", "unread"}
	case x.Verdict == grading.Blank:
		return mark{"–", "blank"}
	case x.Points >= 1:
		return mark{"1", "right"}
	case x.Points > 0:
		return mark{"½", "partly"}
	}
	return mark{"0", "wrong"}
}

func slipsOf(cells []marking.Cell) []grading.SlipCount {
	times := map[resolver.Slip]int{}
	for _, x := range cells {
		if x.Graded && x.Known && x.Slip != resolver.NoSlip {
			times[x.Slip]++
		}
	}
	var list []grading.SlipCount
	for s, n := range times {
		list = append(list, grading.SlipCount{Slip: s, Times: n})
	}
	slices.SortFunc(list, func(a, b grading.SlipCount) int {
		if a.Times != b.Times {
			return b.Times - a.Times
		}
		return int(a.Slip) - int(b.Slip)
	})
	return list
}

func (p *Pages) gradesOf(c *web.Context) (gradesPage, *marking.Results, error) {
	page := gradesPage{Filter: filterOf(c), Outcomes: outcomes()}
	r, err := p.marker.Results(c.Ctx(), c.Param("assignment"))
	if err != nil {
		return page, nil, err
	}
	page.head = headOf(c, r.Assignment, "grades")
	page.Cut, page.Totals = r.Form.Blueprint.Cut, r.Totals
	page.Passed = passShare(c, r.Totals.Passed, r.Totals.Graded)
	for i, x := range r.Columns {
		page.Columns = append(page.Columns, gradeColumn{x, placeName(r.Form, x.Places), i + 1})
	}
	for i := range r.Rows {
		x := r.Rows[i]
		if x.Site != "" && !slices.Contains(page.Sites, x.Site) {
			page.Sites = append(page.Sites, x.Site)
		}
		if page.Filter.covers(c, &x) {
			page.Rows = append(page.Rows, gradeRow{x, r.Form.Variants[x.Attempt.Variant].Name, slipsOf(x.Cells)})
		}
	}
	slices.Sort(page.Sites)
	for _, x := range r.Waiting {
		page.Waiting = append(page.Waiting, x.Name)
	}
	q := page.Filter.query()
	page.Table, page.Answers = taken(page.At("grades/table"), q), taken(page.At("grades/answers"), q)
	return page, r, nil
}

func (p *Pages) grades(c *web.Context) error {
	page, _, err := p.gradesOf(c)
	if err != nil {
		return err
	}
	return c.Page(p.set, "marks-grades", page)
}

// gradesTable is the grade table as a file: a row an attempt.
func (p *Pages) gradesTable(c *web.Context) error {
	page, _, err := p.gradesOf(c)
	if err != nil {
		return err
	}
	t := &web.Table{Name: web.FileName("grades", page.Assignment.Title), Columns: []string{c.T("marks.number"), c.T("marks.name"), c.T("marks.site"), c.T("marks.attempt"), c.T("marks.variant"),
		c.T("marks.medium"), c.T("marks.state"), c.T("marks.handedin"), c.T("marks.points"), c.T("marks.of"), c.T("marks.share"), c.T("marks.outcome"), c.T("marks.minutes"), c.T("marks.slips"), c.T("marks.unread")}}
	for _, x := range page.Columns {
		t.Columns = append(t.Columns, x.Place)
	}
	for _, r := range page.Rows {
		row := []any{r.Person.Number, r.Person.Name, r.Site, r.Attempt.Number, r.Variant, c.Words.Or("medium."+string(r.Attempt.Medium), string(r.Attempt.Medium)),
			c.Words.Or("state."+web.Slug(string(r.Attempt.State)), string(r.Attempt.State)), r.Attempt.Ended}
		if r.Graded() {
			row = append(row, r.Attempt.Result.Points, r.Attempt.Result.Of, r.Share(), passedWord(c, r.Attempt.Result.Passed))
		} else {
			row = append(row, nil, nil, nil, nil)
		}
		var slips []string
		for _, s := range r.Slips {
			slips = append(slips, c.Words.Or("slip."+web.Slug(s.Slip.String()), s.Slip.String())+" ×"+c.Words.Count(s.Times))
		}
		row = append(row, math.Round(r.Spent.Minutes()*10)/10, strings.Join(slips, "; "), r.Unread)
		for _, x := range r.Cells {
			switch {
			case x.Graded && x.Verdict != marking.Unread:
				row = append(row, x.Points)
			case x.Graded:
				row = append(row, "?")
			default:
				row = append(row, nil)
			}
		}
		t.Rows = append(t.Rows, row)
	}
	return c.Table(t)
}

// answersTable is every answer as a file: a row an answer.
func (p *Pages) answersTable(c *web.Context) error {
	page, _, err := p.gradesOf(c)
	if err != nil {
		return err
	}
	t := &web.Table{Name: web.FileName("answers", page.Assignment.Title), Columns: []string{c.T("marks.number"), c.T("marks.name"), c.T("marks.site"), c.T("marks.attempt"), c.T("marks.question"),
		c.T("marks.kind"), c.T("marks.skill"), c.T("marks.given"), c.T("marks.key"), c.T("marks.verdict"), c.T("marks.points"), c.T("marks.slip"), c.T("marks.seconds"), c.T("marks.changes")}}
	for _, r := range page.Rows {
		for i, x := range r.Cells {
			if !x.Asked {
				continue
			}
			q := page.Columns[i]
			slip := ""
			if x.Known && x.Slip != resolver.NoSlip {
				slip = c.Words.Or("slip."+web.Slug(x.Slip.String()), x.Slip.String())
			}
			row := []any{r.Person.Number, r.Person.Name, r.Site, r.Attempt.Number, q.Place, c.Words.Or("kind."+web.Slug(q.Question.Kind), q.Question.Kind),
				c.Words.Or("skill."+web.Slug(q.Question.Skill), q.Question.Skill), x.Raw, q.Question.KeyText(), "", nil, slip, math.Round(x.Spent.Seconds()), x.Changes}
			if x.Graded {
				row[9], row[10] = c.Words.Or("verdict."+web.Slug(string(x.Verdict)), string(x.Verdict)), x.Points
			} else if x.Withdrawn {
				row[9] = c.T("marks.sign.withdrawn")
			}
			t.Rows = append(t.Rows, row)
		}
	}
	return c.Table(t)
}

func passedWord(c *web.Context, passed bool) string {
	if passed {
		return c.T("marks.passed")
	}
	return c.T("marks.failed")
}
