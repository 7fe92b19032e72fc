package chart

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rightpage/grading/psychometrics"
)

// Month counts the answers of one month.
type Month struct {
	// Month is any time within it.
	Month time.Time
	// Right of Answers were right.
	Right, Answers int
}

// Series is one line of a growth chart: a person, a site or a skill.
type Series struct {
	Name   string
	Months []Month
}

// MaxSeries is the number of lines that one growth chart holds; more would no
// longer be told apart by shape and dash alone.
const MaxSeries = int(shapes)

// GrowthByMonth draws the share of right answers month by month with its 95 %
// interval ([psychometrics.WilsonInterval]). Months with fewer than
// [psychometrics.MinShareAnswers] answers are drawn as small rings without an
// interval, off the line; months without answers are left out. Series differ in
// shape, dash and colour and are named at their end.
//
// More than [MaxSeries] series is an error: draw several charts. No answers give
// a chart that says there is nothing to show.
func GrowthByMonth(series []Series, o Options) (Chart, error) {
	if len(series) > MaxSeries {
		return Chart{}, fmt.Errorf("growth chart of %d series; draw %d at a time: %w", len(series), MaxSeries, psychometrics.ErrRange)
	}
	title := o.say(psychometrics.PhraseGrowthTitle, nil)
	type point struct {
		at     int // months since year 0
		month  Month
		enough bool
	}
	lines := make([][]point, len(series))
	first, last := 0, -1
	for k, s := range series {
		for _, m := range s.Months {
			if m.Answers <= 0 {
				continue
			}
			at := m.Month.Year()*12 + int(m.Month.Month()) - 1
			if last < first {
				first, last = at, at
			}
			first, last = min(first, at), max(last, at)
			lines[k] = append(lines[k], point{at, m, m.Answers >= psychometrics.MinShareAnswers})
		}
		slices.SortStableFunc(lines[k], func(a, b point) int { return a.at - b.at })
	}
	if last < first {
		return empty(title, o), nil
	}
	monthOf := func(at int) time.Time { return time.Date(at/12, time.Month(at%12+1), 1, 0, 0, 0, 0, time.UTC) }

	c := Chart{Title: title, colours: o.Theme.palette()}
	c.width, c.height = o.size(520, 280)
	alt := []string{o.say(psychometrics.PhraseGrowthAlt, nil)}
	few := false
	for k, l := range lines {
		var list []psychometrics.Statement
		for _, p := range l {
			phrase := psychometrics.PhraseGrowthPoint
			if !p.enough {
				phrase, few = psychometrics.PhraseGrowthFew, true
			}
			list = append(list, psychometrics.Say(phrase, values{
				"month": psychometrics.MonthOf(monthOf(p.at)), "of": psychometrics.CountOf(p.month.Answers),
				"share": psychometrics.PercentOf(float64(p.month.Right) / float64(p.month.Answers))}))
		}
		if list == nil {
			list = []psychometrics.Statement{psychometrics.Say(psychometrics.PhraseChartEmpty, nil)}
		}
		text := o.say(psychometrics.PhraseGrowthLine, values{"name": psychometrics.TextOf(series[k].Name), "points": psychometrics.ListOf(list...)})
		alt = append(alt, strings.ReplaceAll(text, "..", "."))
	}
	c.Alt = strings.Join(alt, " ")

	p := frame(c.colours)
	p.X.Min, p.X.Max = -0.5, float64(last-first)+0.5
	p.Y.Min, p.Y.Max = 0, 1
	p.Y.Tick.Marker = o.percentTicks()
	p.Y.Label.Text = o.say(psychometrics.PhraseGrowthY, nil)
	var ticks plot.ConstantTicks
	every := (last-first)/7 + 1
	if c.width < narrow {
		every = (last-first)/4 + 1
	}
	for at := first; at <= last; at++ {
		t := plot.Tick{Value: float64(at - first)}
		if (at-first)%every == 0 {
			t.Label = o.value(psychometrics.MonthOf(monthOf(at)))
		}
		ticks = append(ticks, t)
	}
	p.X.Tick.Marker = ticks
	name := func(k int) string { return clip(textStyle(c.colours.ink, 9), series[k].Name, 130) }
	var named []int
	widest := vg.Length(0)
	for k := range series {
		if len(lines[k]) > 0 {
			named = append(named, k)
			widest = max(widest, textStyle(c.colours.ink, 9).Width(name(k)))
		}
	}
	note := values{"needed": psychometrics.CountOf(psychometrics.MinShareAnswers)}
	if few {
		// The note stands under the axis, which a longer one would shorten; the
		// names beside it take of its room.
		room := c.width - 80
		if c.width >= narrow {
			room -= widest + 10
		}
		p.X.Label.Text = wrap(p.X.Label.TextStyle, o.say(psychometrics.PhraseGrowthNote, note), room)
	}
	p.Add(c.colours.grid(0.25, 0.5, 0.75, 1), plotter(func(dc draw.Canvas, x, y func(float64) vg.Length) {
		type label struct {
			y    vg.Length
			text string
			k    int
		}
		var labels []label
		for k, l := range lines {
			ink, dashes := seriesStyle(c.colours, k)
			// Series stand a little beside each other, so that intervals do not hide one another.
			aside := vg.Length(float64(k)-float64(len(lines)-1)/2) * 5
			at := func(p point) vg.Point {
				return vg.Point{X: x(float64(p.at-first)) + aside, Y: y(float64(p.month.Right) / float64(p.month.Answers))}
			}
			var path []vg.Point
			for _, p := range l {
				if p.enough {
					path = append(path, at(p))
				}
			}
			dc.StrokeLines(line(ink, 1.4, dashes...), path)
			for _, p := range l {
				q := at(p)
				if !p.enough {
					mark(dc, disc, q, 2, c.colours.background, ink)
					continue
				}
				low, high := psychometrics.WilsonInterval(p.month.Right, p.month.Answers)
				whisker(dc, line(ink, 0.7), q.X, y(low), y(high))
				mark(dc, shape(k), q, 3.4, ink, c.colours.background)
			}
			if len(l) > 0 {
				labels = append(labels, label{at(l[len(l)-1]).Y, name(k), k})
			}
		}
		if c.width < narrow {
			return
		}
		slices.SortStableFunc(labels, func(a, b label) int {
			switch {
			case a.y < b.y:
				return -1
			case a.y > b.y:
				return 1
			}
			return 0
		})
		for i := range labels {
			if i > 0 {
				labels[i].y = max(labels[i].y, labels[i-1].y+12)
			}
		}
		for i := len(labels) - 1; i >= 0; i-- {
			top := dc.Max.Y - 12*vg.Length(len(labels)-1-i)
			labels[i].y = min(labels[i].y, top)
			legend(dc, c.colours, labels[i].k, vg.Point{X: dc.Max.X + 10, Y: labels[i].y}, labels[i].text)
		}
	}))
	c.draw = func(dc draw.Canvas) {
		if c.width >= narrow {
			p.Draw(draw.Crop(dc, 0, -(widest + 20), 0, 0))
			return
		}
		for i, k := range named {
			legend(dc, c.colours, k, vg.Point{X: dc.Min.X + 5, Y: dc.Max.Y - 6 - 13*vg.Length(i)}, name(k))
		}
		p.Draw(draw.Crop(dc, 0, -6, 0, -13*vg.Length(len(named))-4))
	}
	return c, nil
}

// legend is the mark of a series and its name.
func legend(dc draw.Canvas, c palette, k int, at vg.Point, name string) {
	ink, _ := seriesStyle(c, k)
	mark(dc, shape(k), at, 3.4, ink, c.background)
	beside(dc, c, vg.Point{X: at.X + 7, Y: at.Y}, name)
}

// seriesStyle gives colour and dash of a series.
func seriesStyle(c palette, k int) (colour, []float64) {
	switch k {
	case 0:
		return c.first, nil
	case 1:
		return c.second, []float64{6, 2.5}
	case 2:
		return c.ink, []float64{1.5, 2}
	}
	return c.muted, []float64{7, 2, 1.5, 2}
}
