package chart

import (
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rightpage/grading/psychometrics"
)

// PersonQuestionMap draws abilities of people above and difficulties of
// questions below one axis of logits, so that it shows at a glance whether the
// questions suit the people: where a person and a question are level, half of
// the answers are right (Wright & Masters 1982, Rating Scale Analysis). Few
// people or questions are drawn one mark each, many as bars; either half has a
// scale of its own. A thin line marks each median.
//
// Values that are NaN or infinite are left out. One half may be empty; both
// empty gives a chart that says there is nothing to show.
func PersonQuestionMap(abilities, difficulties []float64, o Options) Chart {
	people, questions := finiteSorted(abilities), finiteSorted(difficulties)
	title := o.say(psychometrics.PhraseMapTitle, nil)
	if len(people)+len(questions) == 0 {
		return empty(title, o)
	}
	c := Chart{Title: title, Alt: mapAlt(people, questions, o), colours: o.Theme.palette()}
	c.width, c.height = o.size(480, 300)

	all := append(slices.Clone(people), questions...)
	low, high := slices.Min(all), slices.Max(all)
	// Few values are easier to see in fewer, wider stacks.
	step := binWidth(high-low, 32)
	if len(all) <= 80 {
		step = binWidth(high-low, 20)
	}
	first := math.Floor(low/step) - 1
	bins := int(math.Ceil(high/step)+1-first) + 1
	count := func(values []float64) []int {
		n := make([]int, bins)
		for _, v := range values {
			n[int(math.Floor(v/step)-first)]++
		}
		return n
	}
	up, down := count(people), count(questions)

	p := frame(c.colours)
	p.X.Min, p.X.Max = first*step, (first+float64(bins))*step
	p.Y.Min, p.Y.Max = -1, 1
	p.HideY()
	p.X.Tick.Marker = wholeTicks{o}
	p.X.Label.Text = wrap(p.X.Label.TextStyle, o.say(psychometrics.PhraseMapAxis, nil), c.width-40)
	p.Add(plotter(func(dc draw.Canvas, x, y func(float64) vg.Length) {
		zero := y(0)
		half := dc.Max.Y - zero - 15 // room for the headings
		drawHalf(dc, up, half, 1, disc, c.colours.first, c.colours, x, zero, first, step)
		drawHalf(dc, down, half, -1, diamond, c.colours.second, c.colours, x, zero, first, step)
		dc.StrokeLine2(line(c.colours.ink, 0.9), dc.Min.X, zero, dc.Max.X, zero)
		median := func(values []float64, to vg.Length) {
			if len(values) > 0 {
				at := x(middle(values))
				dc.StrokeLine2(line(c.colours.ink, 0.8, 2, 2), at, zero, at, to)
			}
		}
		median(people, dc.Max.Y-13)
		median(questions, dc.Min.Y+13)

		s := textStyle(c.colours.ink, 9)
		s.YAlign = draw.YTop
		dc.FillText(s, vg.Point{X: dc.Min.X, Y: dc.Max.Y}, o.say(psychometrics.PhraseMapPeople, values{"people": psychometrics.CountOf(len(people))}))
		s.YAlign = draw.YBottom
		dc.FillText(s, vg.Point{X: dc.Min.X, Y: dc.Min.Y}, o.say(psychometrics.PhraseMapQuestions, values{"questions": psychometrics.CountOf(len(questions))}))
	}))
	c.draw = func(dc draw.Canvas) {
		p.Draw(draw.Crop(dc, 0, 0, 13, 0))
		s := textStyle(c.colours.ink, 9)
		s.YAlign = draw.YBottom
		dc.FillText(s, vg.Point{X: dc.Min.X + 2, Y: dc.Min.Y}, "← "+o.say(psychometrics.PhraseMapLow, nil))
		s.XAlign = draw.XRight
		dc.FillText(s, vg.Point{X: dc.Max.X, Y: dc.Min.Y}, o.say(psychometrics.PhraseMapHigh, nil)+" →")
	}
	return c
}

// drawHalf draws one half as stacked marks where they fit, as bars otherwise.
func drawHalf(dc draw.Canvas, counts []int, half vg.Length, sign vg.Length, s shape, fill colour, c palette, x func(float64) vg.Length, zero vg.Length, first, step float64) {
	most := slices.Max(counts)
	if most == 0 {
		return
	}
	width := x(step) - x(0)
	room := min(half/vg.Length(most), width)
	for i, n := range counts {
		if n == 0 {
			continue
		}
		left := x((first + float64(i)) * step)
		if room >= 5 {
			size := min(room, 15)
			for k := range n {
				at := vg.Point{X: left + width/2, Y: zero + sign*(size*(vg.Length(k)+0.5)+1)}
				mark(dc, s, at, size*0.38, fill, fill)
			}
			continue
		}
		top := zero + sign*half*vg.Length(n)/vg.Length(most)
		dc.FillPolygon(fill, []vg.Point{{X: left + 0.5, Y: zero}, {X: left + width - 0.5, Y: zero}, {X: left + width - 0.5, Y: top}, {X: left + 0.5, Y: top}})
	}
}

// binWidth gives a round width with which the spread takes at most so many bins.
func binWidth(spread, bins float64) float64 {
	for _, w := range []float64{0.1, 0.2, 0.25, 0.5, 1} {
		if spread/w <= bins {
			return w
		}
	}
	return math.Ceil(spread / bins)
}

// wholeTicks marks whole logits.
type wholeTicks struct{ o Options }

// Ticks gives about ten whole numbers at most.
func (w wholeTicks) Ticks(low, high float64) []plot.Tick {
	step := max(math.Ceil((high-low)/10), 1)
	var ticks []plot.Tick
	for v := math.Ceil(low/step) * step; v <= high+1e-9; v += step {
		ticks = append(ticks, plot.Tick{Value: v, Label: w.o.value(psychometrics.NumberOf(v, 0))})
	}
	return ticks
}

func mapAlt(people, questions []float64, o Options) string {
	v := values{"people": psychometrics.CountOf(len(people)), "questions": psychometrics.CountOf(len(questions))}
	set := func(name string, list []float64) {
		low, mid, high := math.NaN(), math.NaN(), math.NaN()
		if len(list) > 0 {
			low, mid, high = list[0], middle(list), list[len(list)-1]
		}
		v["low"+name], v["mid"+name], v["high"+name] = psychometrics.NumberOf(low, 1), psychometrics.NumberOf(mid, 1), psychometrics.NumberOf(high, 1)
	}
	set("Person", people)
	set("Question", questions)
	text := o.say(psychometrics.PhraseMapAlt, v)
	if len(people) == 0 || len(questions) == 0 {
		return text
	}
	d := middle(questions) - middle(people)
	verdict := psychometrics.PhraseMapOnTarget
	// At one logit 27 of 100 or 73 of 100 answers are right, where a test
	// tells a fifth less than on target.
	switch {
	case d > 1:
		verdict = psychometrics.PhraseMapTooHard
	case d < -1:
		verdict = psychometrics.PhraseMapTooEasy
	}
	return text + " " + o.say(verdict, values{"distance": psychometrics.NumberOf(math.Abs(d), 1)})
}

// finiteSorted copies the finite values in ascending order.
func finiteSorted(values []float64) []float64 {
	var out []float64
	for _, v := range values {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			out = append(out, v)
		}
	}
	slices.Sort(out)
	return out
}

// middle is the median of sorted values.
func middle(sorted []float64) float64 {
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}
