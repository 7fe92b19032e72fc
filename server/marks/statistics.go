package marks

import (
	"cmp"
	"context"
	"math"
	"net/url"
	"slices"
	"strconv"

	"rightpage/grading"
	"rightpage/grading/psychometrics"
	"rightpage/grading/psychometrics/chart"
	"rightpage/quiz"
	"rightpage/quiz/marking"
	"rightpage/server/web"
)

// statisticsPage is what answers tell of the questions and of the quiz.
type statisticsPage struct {
	head
	*marking.Statistics
	Whole      bool // over all assignments of the form
	More       int  // other assignments of the form
	Tests      []testRow
	Items      []itemRow
	Look       []lookRow
	Compared   []comparisonRow
	People     []personRow
	Alike      []string
	Map        drawing
	Why        []thresholdRow
	Tables     map[string]Taken
	Cut        float64
	WholeQuery string
	AnyPattern bool
}

// testRow is the score on a variant as a page shows it.
type testRow struct {
	Name                       string
	People, Questions, Passed  int
	Pass                       string // how many passed, in words
	Mean, SD, Median           float64
	Alpha, AlphaLow, AlphaHigh float64
	SEM, Consistency, Accuracy float64
	HasAlpha, HasConsistency   bool
	TooFew                     string
}

// Known tells whether a figure can be told, and Float gives it to the templates.
func (h head) Known(x psychometrics.Number) bool { return known(x) }

// Float gives a figure as templates write numbers.
func (h head) Float(x psychometrics.Number) float64 { return float64(x) }

type itemRow struct {
	marking.ItemStatistics
	N          int
	Place      string
	Share      string
	Sorts      string
	Known      bool // the share can be told
	Looks      int
	Misfit     bool
	Surprising bool
	Steady     bool
	OptionRows []optionRow
}

type optionRow struct {
	marking.OptionLine
	Right bool
	Slip  string
}

type lookRow struct {
	marking.Look
	Place, Says string
	N           int
	Names       []string
	Attempts    []attemptLink
}

type attemptLink struct{ Path, Name string }

type comparisonRow struct {
	By, Reference, Focal string
	Says                 []string
	Told                 int // questions that can be told
	Flagged              []flaggedItem
}

type flaggedItem struct {
	N                    int
	Place, Letter, Class string
	Delta, SE            float64
}

type personRow struct {
	marking.PersonAbility
	Says, Pattern string
	Path          string
	Odd           bool
}

type thresholdRow struct {
	Says  string
	Value float64
}

// drawing is a chart in both themes and two widths; the style sheet shows the one
// that suits.
type drawing struct {
	Light, Dark, NarrowLight, NarrowDark []byte
	Alt                                  string
}

// narrowChart is the width of charts for a phone held upright, in points.
const narrowChart = 300

func draw(c *web.Context, make func(chart.Options) chart.Chart) (drawing, error) {
	var d drawing
	for _, x := range []struct {
		to    *[]byte
		theme chart.Theme
		width float64
	}{{&d.Light, chart.Light, 0}, {&d.Dark, chart.Dark, 0}, {&d.NarrowLight, chart.Light, narrowChart}, {&d.NarrowDark, chart.Dark, narrowChart}} {
		drawn := make(chart.Options{Theme: x.theme, Width: x.width, Words: c.Words})
		svg, err := drawn.SVG()
		if err != nil {
			return d, err
		}
		*x.to = svg
		d.Alt = drawn.Alt
	}
	return d, nil
}

// The infit and outfit that leave a question useful, in mean squares: Wright and
// Linacre (1994), Rasch Measurement Transactions 8:3, 370 (from memory).
const leastFit, mostFit = 0.7, 1.3

func (p *Pages) statisticsOf(c *web.Context) (statisticsPage, error) {
	ctx := c.Ctx()
	h, err := p.head(c, "statistics")
	if err != nil {
		return statisticsPage{}, err
	}
	page := statisticsPage{head: h, Whole: c.QueryParam("over") == "form", Tables: map[string]Taken{}}
	if page.Whole {
		page.Statistics, err = p.marker.FormStatistics(ctx, h.Assignment.Form)
		page.WholeQuery = "?over=form"
	} else {
		page.Statistics, err = p.marker.Statistics(ctx, h.Assignment.ID)
	}
	if err != nil {
		return page, err
	}
	all, err := p.store.Assignments(ctx)
	if err != nil {
		return page, err
	}
	for _, a := range all {
		if a.Form == h.Assignment.Form && a.ID != h.Assignment.ID {
			page.More++
		}
	}
	st := page.Statistics
	page.Cut = st.Form.Blueprint.Cut
	query := url.Values{}
	if page.Whole {
		query.Set("over", "form")
	}
	for _, t := range []string{"questions", "options", "fairness", "people"} {
		page.Tables[t] = taken(page.At("statistics/table/"+t), query)
	}
	for _, v := range st.Variants {
		page.Tests = append(page.Tests, testRow{Name: v.Name, People: v.People, Questions: v.Questions, Passed: v.Passed, Pass: passShare(c, v.Passed, v.People), Mean: float64(v.Mean), SD: float64(v.SD), Median: float64(v.Median),
			Alpha: float64(v.Alpha), AlphaLow: float64(v.AlphaLow), AlphaHigh: float64(v.AlphaHigh), SEM: float64(v.SEM), Consistency: float64(v.Consistency), Accuracy: float64(v.Accuracy),
			HasAlpha: known(v.Alpha), HasConsistency: known(v.Consistency), TooFew: v.TooFew})
	}
	for i := range st.Items {
		page.Items = append(page.Items, p.itemRow(c, st, i))
	}
	if err := p.lookRows(c, &page); err != nil {
		return page, err
	}
	for i := range st.Comparisons {
		x := &st.Comparisons[i]
		x.Reference, x.Focal = groupName(c, x.By, x.Reference), groupName(c, x.By, x.Focal)
		row := comparisonRow{By: x.By, Reference: x.Reference, Focal: x.Focal}
		if n := fewest(x.Items); n >= 0 {
			row.Says = append(row.Says, c.Words.Render(psychometrics.SayComparison(x.Items[n], x.Reference, x.Focal)))
		}
		for _, it := range x.Items {
			if it.Class != psychometrics.TooFewToTell {
				row.Told++
			}
			if it.Class == psychometrics.Moderate || it.Class == psychometrics.Large {
				row.Flagged = append(row.Flagged, flaggedItem{N: it.Item + 1, Place: page.Items[it.Item].Place, Letter: it.Class.Letter(), Class: classWord(it.Class), Delta: it.Delta, SE: it.SE})
			}
		}
		page.Compared = append(page.Compared, row)
	}
	for _, a := range st.Abilities {
		if !c.Covers(&a.Person) {
			continue
		}
		row := personRow{PersonAbility: a, Says: c.Words.Render(a.Says), Pattern: c.Words.Render(a.Pattern), Path: attemptPath(a.Attempt), Odd: a.Pattern.Phrase == psychometrics.PhraseFitLook}
		page.AnyPattern = page.AnyPattern || row.Odd
		page.People = append(page.People, row)
	}
	slices.SortFunc(page.People, func(a, b personRow) int { return byPerson(a.Person, b.Person) })
	for _, s := range st.Alike {
		page.Alike = append(page.Alike, c.Words.Render(s))
	}
	for _, t := range st.Thresholds {
		page.Why = append(page.Why, thresholdRow{c.Words.Render(t.Reason), t.Value})
	}
	return page, nil
}

// fewest is the question to say of a comparison that there are too few answers:
// that with the most, where none can be told; -1 if one can.
func fewest(items []psychometrics.ItemComparison) int {
	at := -1
	for i, it := range items {
		switch {
		case it.Class != psychometrics.TooFewToTell:
			return -1
		case at < 0 || it.FocalAnswers > items[at].FocalAnswers:
			at = i
		}
	}
	return at
}

// groupName is the name of a group as the visitor reads it: sites have names of
// their own.
func groupName(c *web.Context, by, name string) string {
	switch {
	case name == "the others":
		return c.T("marks.fair.others")
	case by == marking.ByLocale:
		return c.Words.Or("language."+name, name)
	case by == marking.ByMedium:
		return c.Words.Or("medium."+name, name)
	}
	return name
}

func attemptPath(a quiz.Attempt) string { return "/assignments/" + a.Assignment + "/grades/" + a.ID }

func classWord(k psychometrics.EffectClass) string {
	switch k {
	case psychometrics.Negligible:
		return "negligible"
	case psychometrics.Moderate:
		return "moderate"
	case psychometrics.Large:
		return "large"
	}
	return "few"
}

func known(x psychometrics.Number) bool { return !math.IsNaN(float64(x)) && !math.IsInf(float64(x), 0) }

func (p *Pages) itemRow(c *web.Context, st *marking.Statistics, i int) itemRow {
	it := st.Items[i]
	row := itemRow{ItemStatistics: it, N: i + 1, Place: placeName(st.Form, it.Places), Share: c.Words.Render(it.Share), Sorts: c.Words.Render(it.Sorts), Known: known(it.P)}
	row.Surprising = known(it.Outfit) && (float64(it.Outfit) > mostFit || float64(it.Infit) > mostFit)
	row.Steady = known(it.Infit) && float64(it.Infit) < leastFit
	row.Misfit = row.Surprising || row.Steady
	for _, l := range st.Look {
		if l.Item == i && !aboutPeople(l.Reason) {
			row.Looks++
		}
	}
	for _, o := range it.Options {
		x := optionRow{OptionLine: o, Right: o.Option.Right}
		if !o.Option.Right {
			x.Slip = o.Option.Slip.String()
		}
		row.OptionRows = append(row.OptionRows, x)
	}
	return row
}

// passShare says what the share of people who passed tells of others like them:
// the 95 % interval by Wilson (1927), or that there are too few to tell.
func passShare(c *web.Context, passed, people int) string {
	if people < psychometrics.MinShareAnswers {
		return c.T("marks.pass.few", "Count", people, "Needed", psychometrics.MinShareAnswers)
	}
	low, high := psychometrics.WilsonInterval(passed, people)
	return c.T("marks.pass.between", "Low", c.Words.Share(low), "High", c.Words.Share(high))
}

func aboutPeople(reason string) bool {
	return reason == marking.LookPattern || reason == marking.LookAlike
}

func (p *Pages) lookRows(c *web.Context, page *statisticsPage) error {
	for _, l := range page.Statistics.Look {
		row := lookRow{Look: l}
		if l.Says.Phrase != "" {
			row.Says = c.Words.Render(l.Says)
		}
		if !aboutPeople(l.Reason) {
			row.N, row.Place = l.Item+1, page.Items[l.Item].Place
		}
		hidden := false
		for i, who := range l.People {
			hidden = hidden || !c.Covers(&who)
			if i < len(l.Attempts) {
				a, err := p.store.Attempt(c.Ctx(), l.Attempts[i])
				if err != nil {
					return err
				}
				row.Attempts = append(row.Attempts, attemptLink{attemptPath(a), who.Name})
			}
		}
		if !hidden {
			page.Look = append(page.Look, row)
		}
	}
	return nil
}

func (p *Pages) statistics(c *web.Context) error {
	page, err := p.statisticsOf(c)
	if err != nil {
		return err
	}
	var abilities, difficulties []float64
	for _, a := range page.Abilities {
		if a.Enough {
			abilities = append(abilities, a.Ability.Theta)
		}
	}
	for _, it := range page.Statistics.Items {
		difficulties = append(difficulties, float64(it.Difficulty))
	}
	if page.Map, err = draw(c, func(o chart.Options) chart.Chart { return chart.PersonQuestionMap(abilities, difficulties, o) }); err != nil {
		return err
	}
	return c.Page(p.set, "marks-statistics", page)
}

// questionPage is the statistics of one question.
type questionPage struct {
	head
	Item     itemRow
	Key      keyed
	Curve    drawing
	HasCurve bool
	Looks    []lookRow
	Of       int
	Query    string
	Compared []comparedRow
	Groups   []string
}

type comparedRow struct {
	By, Reference, Focal string
	Says                 string
	Letter               string
}

func (p *Pages) question(c *web.Context) error {
	page, err := p.statisticsOf(c)
	if err != nil {
		return err
	}
	n, err := strconv.Atoi(c.Param("n"))
	if err != nil || n < 1 || n > len(page.Items) {
		return quiz.Errorf(quiz.NotFound, "the quiz has no question %s", c.Param("n"))
	}
	it := page.Items[n-1]
	q := questionPage{head: page.head, Item: it, Of: len(page.Items), Query: page.WholeQuery, Groups: it.Groups}
	q.Key = keyed{Question: it.Question, Number: n, Place: it.Place}
	for _, l := range page.Look {
		if l.N == n {
			q.Looks = append(q.Looks, l)
		}
	}
	for _, x := range page.Comparisons {
		i := x.Items[n-1]
		q.Compared = append(q.Compared, comparedRow{x.By, x.Reference, x.Focal, c.Words.Render(psychometrics.SayComparison(i, x.Reference, x.Focal)), i.Class.Letter()})
	}
	if q.HasCurve = known(it.Difficulty); q.HasCurve {
		points, err := p.curvePoints(c.Ctx(), page.Statistics, n-1)
		if err != nil {
			return err
		}
		if q.Curve, err = draw(c, func(o chart.Options) chart.Chart {
			return chart.QuestionCurve(it.Place, float64(it.Difficulty), float64(it.SE), points, o)
		}); err != nil {
			return err
		}
	}
	return c.Page(p.set, "marks-question", q)
}

// curveGroups is how many groups of like ability a curve shows.
const curveGroups = 4

// curvePoints gives what was observed of a question in groups of like ability.
func (p *Pages) curvePoints(ctx context.Context, st *marking.Statistics, item int) ([]chart.CurvePoint, error) {
	id := st.Form.Questions()[item].ID
	right := map[string]int8{} // by attempt
	for _, a := range st.Assignments {
		all, err := p.store.GradingsAt(ctx, a.ID)
		if err != nil {
			return nil, err
		}
		for attempt, g := range all {
			for _, s := range g.Scores {
				switch {
				case s.Question != id || s.Verdict == marking.Unread:
				case s.Verdict == grading.Right:
					right[attempt] = 1
				default:
					right[attempt] = 0
				}
			}
		}
	}
	r := psychometrics.New(len(st.Abilities), 1)
	theta := make([]float64, len(st.Abilities))
	for v, a := range st.Abilities {
		theta[v] = a.Ability.Theta
		if x, ok := right[a.Attempt.ID]; ok {
			r.Set(v, 0, x)
		}
	}
	return chart.CurvePoints(r, 0, theta, float64(st.Items[item].Difficulty), curveGroups), nil
}

func num(x psychometrics.Number) any {
	if !known(x) {
		return nil
	}
	return float64(x)
}

// statisticsTable is one of the tables as a file.
func (p *Pages) statisticsTable(c *web.Context) error {
	page, err := p.statisticsOf(c)
	if err != nil {
		return err
	}
	which := c.Param("table")
	t := &web.Table{Name: web.FileName(which, page.Assignment.Title)}
	switch which {
	case "questions":
		t.Columns = []string{c.T("marks.question"), c.T("marks.kind"), c.T("marks.skill"), c.T("marks.stat.answered"), c.T("marks.stat.right"), c.T("marks.stat.partly"), c.T("marks.unread"),
			c.T("marks.stat.p"), c.T("marks.stat.low"), c.T("marks.stat.high"), c.T("marks.stat.rest"), c.T("marks.stat.difficulty"), c.T("marks.stat.se"), c.T("marks.stat.predicted"),
			c.T("marks.stat.infit"), c.T("marks.stat.outfit"), c.T("marks.stat.outfitz"), c.T("marks.stat.median"), c.T("marks.stat.disputes"), c.T("marks.stat.words")}
		for _, x := range page.Items {
			var median any
			if x.Median > 0 {
				median = math.Round(x.Median.Seconds())
			}
			t.Rows = append(t.Rows, []any{x.Place, c.Words.Or("kind."+web.Slug(x.Question.Kind), x.Question.Kind), c.Words.Or("skill."+web.Slug(x.Question.Skill), x.Question.Skill), x.Answered, x.Right, x.Partly, x.Unread,
				num(x.P), num(x.Low), num(x.High), num(x.ItemRest), num(x.Difficulty), num(x.SE), x.Predicted, num(x.Infit), num(x.Outfit), num(x.OutfitZ), median, x.Disputes, x.Share + " " + x.Sorts})
		}
	case "options":
		t.Columns = []string{c.T("marks.question"), c.T("marks.option"), c.T("marks.text"), c.T("marks.key"), c.T("marks.slip"), c.T("marks.stat.chosen"), c.T("marks.share"), c.T("marks.stat.lowest"), c.T("marks.stat.middle"), c.T("marks.stat.highest"), c.T("marks.stat.rest")}
		for _, x := range page.Items {
			for _, o := range x.OptionRows {
				right := ""
				if o.Right {
					right = c.T("marks.yes")
				}
				slip := ""
				if o.Slip != "" {
					slip = c.Words.Or("slip."+web.Slug(o.Slip), o.Slip)
				}
				row := []any{x.Place, o.Letter, o.Option.Text, right, slip, o.Chosen, num(o.Share)}
				for g := range 3 {
					if g < len(o.ByGroup) {
						row = append(row, o.ByGroup[g])
					} else {
						row = append(row, nil)
					}
				}
				t.Rows = append(t.Rows, append(row, num(o.Sorts)))
			}
			for _, w := range x.Wrong {
				slip := ""
				if w.Slip != "" {
					slip = c.Words.Or("slip."+web.Slug(w.Slip), w.Slip)
				}
				t.Rows = append(t.Rows, []any{x.Place, nil, w.Given, "", slip, w.Times, nil, nil, nil, nil, nil})
			}
		}
	case "fairness":
		t.Columns = []string{c.T("marks.fair.by"), c.T("marks.fair.reference"), c.T("marks.fair.focal"), c.T("marks.question"), c.T("marks.fair.answers"), c.T("marks.fair.focalanswers"), c.T("marks.fair.delta"), c.T("marks.stat.se"), c.T("marks.fair.class")}
		for _, x := range page.Comparisons {
			for _, i := range x.Items {
				row := []any{c.Words.Or("marks.by."+x.By, x.By), x.Reference, x.Focal, page.Items[i.Item].Place, i.ReferenceAnswers, i.FocalAnswers, nil, nil, c.Words.Or("marks.class."+classWord(i.Class), i.Class.Letter())}
				if i.Class != psychometrics.TooFewToTell {
					row[6], row[7] = i.Delta, i.SE
				}
				t.Rows = append(t.Rows, row)
			}
		}
	case "people":
		t.Columns = []string{c.T("marks.number"), c.T("marks.name"), c.T("marks.points"), c.T("marks.of"), c.T("marks.stat.ability"), c.T("marks.stat.se"), c.T("marks.stat.words"), c.T("marks.stat.pattern")}
		for _, x := range page.People {
			row := []any{x.Person.Number, x.Person.Name, x.Attempt.Result.Points, x.Attempt.Result.Of, nil, nil, x.Says, x.Pattern}
			if x.Enough {
				row[4], row[5] = x.Ability.Theta, x.Ability.SE
			}
			t.Rows = append(t.Rows, row)
		}
	default:
		return quiz.Errorf(quiz.NotFound, "there is no table %s", cmp.Or(which, "without a name"))
	}
	return c.Table(t)
}
