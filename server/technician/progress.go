package technician

import (
	"cmp"
	"slices"
	"time"

	"rightpage/grading/psychometrics"
	"rightpage/grading/psychometrics/chart"
	"rightpage/quiz/progress"
	"rightpage/server/web"
)

// Both is a chart in both themes; the style sheet shows the one that suits.
type Both struct {
	Light, Dark []byte
	Alt         string
}

// inBoth draws a chart in both themes.
func inBoth(c *web.Context, width float64, draw func(chart.Options) (chart.Chart, error)) (Both, error) {
	var b Both
	for _, theme := range []chart.Theme{chart.Light, chart.Dark} {
		x, err := draw(chart.Options{Theme: theme, Width: width, Words: c.Words})
		if err != nil {
			return b, err
		}
		svg, err := x.SVG()
		if err != nil {
			return b, err
		}
		b.Alt = x.Alt
		if theme == chart.Dark {
			b.Dark = svg
		} else {
			b.Light = svg
		}
	}
	return b, nil
}

// SkillRow is a skill on the page of a person's progress, in words.
type SkillRow struct {
	Name    string
	Level   progress.Level
	Answers int
	Says    string   // how sure it is that it is known
	Share   string   // how many answers were right, with its interval
	Change  string   // against before
	Fades   string   // how soon it fades
	Times   []string // how long a lookup takes
	Slips   []string // names, the most frequent first
	Mode    string   // to practise it
}

// StepRow is a step of a lookup.
type StepRow struct {
	Name  string
	Says  string
	Late  string // of the last answers
	Share progress.Share
	Mode  string
}

type progressPage struct {
	Record *progress.Record
	All    string
	Skills []SkillRow
	None   []string // skills without answers
	Steps  []StepRow
	Slips  []SlipRow
	Growth Both // wide
	Narrow Both // for a phone
	Weeks  []progress.Week
}

// SlipRow is a slip and how often it was made.
type SlipRow struct {
	Name  string
	Times int
}

// slipsShown is how many slips of a skill are named.
const slipsShown = 2

// weeksShown is how many of the last weeks are listed.
const weeksShown = 8

// progress is what the visitor can do.
func (p *Pages) progress(c *web.Context) error {
	r, err := p.deps.Progress.Released(c.Ctx(), c.Visitor.ID)
	if err != nil {
		return err
	}
	v := progressPage{Record: r, All: c.Words.Render(r.Says())}
	for _, s := range r.Skills {
		if s.Answers == 0 {
			v.None = append(v.None, s.Name)
			continue
		}
		v.Skills = append(v.Skills, skillRow(c, s))
	}
	for _, s := range r.Steps {
		v.Steps = append(v.Steps, StepRow{Name: s.Step.String(), Says: c.Words.Render(s.Says()), Late: c.Words.Render(s.Recent.Says()), Share: s.Share,
			Mode: progress.Mode{Kind: progress.OneStep, Step: s.Step, Chosen: true}.String()})
	}
	for _, s := range r.Slips {
		v.Slips = append(v.Slips, SlipRow{s.Slip.String(), s.Times})
	}
	v.Weeks = r.Weeks[max(0, len(r.Weeks)-weeksShown):]
	if r.Answers > 0 {
		series := growth(c, r)
		draw := func(o chart.Options) (chart.Chart, error) { return chart.GrowthByMonth(series, o) }
		if v.Growth, err = inBoth(c, 0, draw); err != nil {
			return err
		}
		if v.Narrow, err = inBoth(c, narrowChart, draw); err != nil {
			return err
		}
	}
	return c.Page(p.set, "technician-progress", v)
}

// narrowChart is the width of charts for a phone held upright, in points.
const narrowChart = 300

func skillRow(c *web.Context, s progress.Skill) SkillRow {
	x := SkillRow{Name: s.Name, Level: s.Level, Answers: s.Answers, Says: c.Words.Render(s.Says), Share: c.Words.Render(s.Share.Says()),
		Mode: progress.Mode{Kind: progress.OneSkill, Skill: s.Name}.String()}
	if s.Name == progress.ChaseSkill {
		x.Mode = progress.Mode{Kind: progress.Chases}.String()
	}
	for _, say := range []struct {
		to *string
		s  psychometrics.Statement
	}{{&x.Change, s.Change}, {&x.Fades, s.Fades}} {
		if say.s.Phrase != "" {
			*say.to = c.Words.Render(say.s)
		}
	}
	for _, say := range s.FluencySays {
		x.Times = append(x.Times, c.Words.Render(say))
	}
	for _, slip := range s.Slips[:min(len(s.Slips), slipsShown)] {
		x.Slips = append(x.Slips, slip.Slip.String())
	}
	return x
}

// growth gives the lines of the chart: all answers together, and the skills
// answered most.
func growth(c *web.Context, r *progress.Record) []chart.Series {
	months := func(list []progress.Month) []chart.Month {
		var out []chart.Month
		for _, m := range list {
			out = append(out, chart.Month{Month: m.Starts, Right: m.Right, Answers: m.Answers})
		}
		return out
	}
	series := []chart.Series{{Name: c.T("technician.progress.all"), Months: months(r.Months)}}
	skills := slices.Clone(r.Skills)
	slices.SortStableFunc(skills, func(a, b progress.Skill) int { return cmp.Compare(b.Answers, a.Answers) })
	for _, s := range skills {
		if len(series) == skillLines || s.Answers < psychometrics.MinShareAnswers {
			break
		}
		series = append(series, chart.Series{Name: c.Words.Or("skill."+slug(s.Name), s.Name), Months: months(s.Months)})
	}
	return series
}

// skillLines is how many lines the chart of growth has at most: more cross too
// often to be followed. Common practice, no source.
const skillLines = min(4, chart.MaxSeries)

// Practised tells whether a week counts, for templates.
func (v progressPage) Practised(w progress.Week) bool { return w.Practised() }

// WeekEnd is the last day of a week.
func (v progressPage) WeekEnd(w progress.Week) time.Time { return w.Starts.AddDate(0, 0, 6) }
