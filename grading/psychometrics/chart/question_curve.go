package chart

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rightpage/grading/psychometrics"
)

// CurvePoint is a group of people of like ability.
type CurvePoint struct {
	// Ability is their mean, in logits.
	Ability float64
	// Right of Answers were right.
	Right, Answers int
	// Expected is the mean of the chances that the model gives them.
	Expected float64
}

// CurvePoints sorts the people who answered an item by ability, cuts them into
// so many groups of about equal size, and counts right answers. A person whose
// ability is not finite, or who did not answer, is left out; nobody left gives
// no points. theta holds one ability per person; a length that differs from the
// number of people panics.
func CurvePoints(r psychometrics.Responses, item int, theta []float64, difficulty float64, groups int) []CurvePoint {
	var who []int
	for v := range r.People() {
		if r.At(v, item) >= 0 && !math.IsNaN(theta[v]) && !math.IsInf(theta[v], 0) {
			who = append(who, v)
		}
	}
	slices.SortStableFunc(who, func(a, b int) int {
		switch {
		case theta[a] < theta[b]:
			return -1
		case theta[a] > theta[b]:
			return 1
		}
		return 0
	})
	groups = max(min(groups, len(who)), 0)
	points := make([]CurvePoint, groups)
	for at, v := range who {
		p := &points[at*groups/len(who)]
		p.Answers++
		p.Right += int(r.At(v, item))
		p.Ability += theta[v]
		p.Expected += psychometrics.Probability(theta[v], difficulty)
	}
	for i := range points {
		points[i].Ability /= float64(points[i].Answers)
		points[i].Expected /= float64(points[i].Answers)
	}
	return points
}

// QuestionCurve draws the item characteristic of a question under the Rasch
// model, P = 1/(1 + exp(b − θ)), with the band of b ± 1.96 standard errors, and
// the shares observed in groups of like ability with their 95 % intervals
// ([psychometrics.WilsonInterval]). name is how the question is called.
//
// A difficulty that is not finite gives a chart that says there is nothing to
// show; an se of 0 or NaN gives no band. Points without answers are left out.
func QuestionCurve(name string, difficulty, se float64, points []CurvePoint, o Options) Chart {
	title := o.say(psychometrics.PhraseCurveTitle, values{"question": psychometrics.TextOf(name)})
	if math.IsNaN(difficulty) || math.IsInf(difficulty, 0) {
		return empty(title, o)
	}
	points = slices.DeleteFunc(slices.Clone(points), func(p CurvePoint) bool {
		return p.Answers <= 0 || math.IsNaN(p.Ability) || math.IsInf(p.Ability, 0)
	})
	c := Chart{Title: title, Alt: curveAlt(name, difficulty, points, o), colours: o.Theme.palette()}
	c.width, c.height = o.size(420, 280)
	p := frame(c.colours)
	p.X.Min, p.X.Max = difficulty-3.5, difficulty+3.5
	for _, q := range points {
		p.X.Min, p.X.Max = min(p.X.Min, q.Ability-0.5), max(p.X.Max, q.Ability+0.5)
	}
	p.Y.Min, p.Y.Max = 0, 1
	p.X.Tick.Marker, p.Y.Tick.Marker = wholeTicks{o}, o.percentTicks()
	p.X.Label.Text, p.Y.Label.Text = o.say(psychometrics.PhraseCurveX, nil), o.say(psychometrics.PhraseCurveY, nil)
	p.Add(c.colours.grid(0.25, 0.5, 0.75, 1), plotter(func(dc draw.Canvas, x, y func(float64) vg.Length) {
		const steps = 120
		curve := func(b float64) []vg.Point {
			out := make([]vg.Point, steps+1)
			for i := range out {
				theta := p.X.Min + (p.X.Max-p.X.Min)*float64(i)/steps
				out[i] = vg.Point{X: x(theta), Y: y(psychometrics.Probability(theta, b))}
			}
			return out
		}
		if se > 0 && !math.IsInf(se, 1) {
			band := curve(difficulty - 1.96*se)
			back := curve(difficulty + 1.96*se)
			slices.Reverse(back)
			dc.FillPolygon(c.colours.faint, append(band, back...))
		}
		// Where the chance is one half.
		dc.StrokeLine2(line(c.colours.muted, 0.7, 2, 2), x(difficulty), y(0), x(difficulty), y(0.5))
		dc.StrokeLines(line(c.colours.first, 1.6), curve(difficulty))
		for _, q := range points {
			low, high := psychometrics.WilsonInterval(q.Right, q.Answers)
			whisker(dc, line(c.colours.second, 1), x(q.Ability), y(low), y(high))
			mark(dc, disc, vg.Point{X: x(q.Ability), Y: y(float64(q.Right) / float64(q.Answers))}, 3.2, c.colours.second, c.colours.background)
		}
		// The legend stands where a rising curve leaves room.
		left, top := dc.Min.X+8, dc.Max.Y-8
		dc.StrokeLine2(line(c.colours.first, 1.6), left, top, left+16, top)
		beside(dc, c.colours, vg.Point{X: left + 21, Y: top}, o.say(psychometrics.PhraseCurveExpected, nil))
		if len(points) > 0 {
			whisker(dc, line(c.colours.second, 1), left+8, top-19, top-9)
			mark(dc, disc, vg.Point{X: left + 8, Y: top - 14}, 3.2, c.colours.second, c.colours.background)
			beside(dc, c.colours, vg.Point{X: left + 21, Y: top - 14}, o.say(psychometrics.PhraseCurveObserved, nil))
		}
	}))
	c.draw = p.Draw
	return c
}

func curveAlt(name string, difficulty float64, points []CurvePoint, o Options) string {
	list := make([]psychometrics.Statement, len(points))
	off := 0
	for i, q := range points {
		list[i] = psychometrics.Say(psychometrics.PhraseCurvePoint, values{
			"ability": psychometrics.NumberOf(q.Ability, 1), "of": psychometrics.CountOf(q.Answers),
			"share":    psychometrics.PercentOf(float64(q.Right) / float64(q.Answers)),
			"expected": psychometrics.PercentOf(q.Expected)})
		if low, high := psychometrics.WilsonInterval(q.Right, q.Answers); q.Expected < low || q.Expected > high {
			off++
		}
	}
	if len(points) == 0 {
		list = []psychometrics.Statement{psychometrics.Say(psychometrics.PhraseChartEmpty, nil)}
	}
	parts := []string{strings.ReplaceAll(o.say(psychometrics.PhraseCurveAlt, values{
		"question": psychometrics.TextOf(name), "difficulty": psychometrics.NumberOf(difficulty, 1), "points": psychometrics.ListOf(list...)}), "..", ".")}
	if len(points) > 0 {
		verdict := psychometrics.PhraseCurveFits
		if off > 0 {
			verdict = psychometrics.PhraseCurveMisfits
		}
		parts = append(parts, o.say(verdict, values{"off": psychometrics.CountOf(off)}))
	}
	return strings.Join(parts, " ")
}
