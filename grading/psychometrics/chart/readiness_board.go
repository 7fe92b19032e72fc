package chart

import (
	"math"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rightpage/grading/psychometrics"
)

// BoardRow is one person on the readiness board.
type BoardRow struct {
	Name      string
	Readiness psychometrics.Readiness
}

// ReadinessBoard draws, for each person, the chance to meet the requirement on
// the date with its 90 % interval, the most ready first, against the chance
// aimed at: a full disc where the chance reaches the aim, a ring where it does
// not, and where there are too few answers a small diamond without interval
// that says so, at the end.
//
// Chances that are NaN are left out; limits that are NaN give no interval.
// Nobody gives a chart that says there is nothing to show. Rows that tie keep
// their order.
func ReadinessBoard(rows []BoardRow, date time.Time, aim float64, o Options) Chart {
	title := o.say(psychometrics.PhraseBoardTitle, values{"date": psychometrics.DateOf(date)})
	rows = slices.DeleteFunc(slices.Clone(rows), func(r BoardRow) bool { return math.IsNaN(r.Readiness.Probability) })
	if len(rows) == 0 {
		return empty(title, o)
	}
	slices.SortStableFunc(rows, func(a, b BoardRow) int {
		x, y := a.Readiness, b.Readiness
		switch {
		case x.Enough != y.Enough:
			if x.Enough {
				return -1
			}
			return 1
		case x.Probability > y.Probability:
			return -1
		case x.Probability < y.Probability:
			return 1
		}
		return 0
	})
	c := Chart{Title: title, Alt: boardAlt(rows, date, aim, o), colours: o.Theme.palette()}
	const rowHeight = 18
	c.width, c.height = o.size(520, 102+rowHeight*float64(len(rows)))

	p := frame(c.colours)
	p.X.Min, p.X.Max = 0, 1
	p.Y.Min, p.Y.Max = -0.5, float64(len(rows))-0.5
	p.X.Tick.Marker = o.percentTicks()
	p.X.Label.Text = wrap(p.X.Label.TextStyle, o.say(psychometrics.PhraseBoardX, nil), c.width*0.6)
	p.Y.LineStyle.Width, p.Y.Tick.LineStyle.Width, p.Y.Tick.Length = 0, 0, 0
	var names plot.ConstantTicks
	place := func(i int) float64 { return float64(len(rows) - 1 - i) }
	for i, r := range rows {
		names = append(names, plot.Tick{Value: place(i), Label: clip(textStyle(c.colours.ink, 9), r.Name, c.width*0.28)})
	}
	p.Y.Tick.Marker = names
	remark := func(r BoardRow) string {
		if !r.Readiness.Enough {
			return o.say(psychometrics.PhraseBoardFewTag, nil)
		}
		return o.value(psychometrics.ChanceOf(r.Readiness.Probability))
	}
	p.Add(plotter(func(dc draw.Canvas, x, y func(float64) vg.Length) {
		for i := range rows {
			dc.StrokeLine2(line(c.colours.faint, 0.7), dc.Min.X, y(place(i)), dc.Max.X, y(place(i)))
		}
		if aim > 0 && aim < 1 {
			dc.StrokeLine2(line(c.colours.ink, 0.9, 4, 2.5), x(aim), dc.Min.Y, x(aim), dc.Max.Y+3)
			s := textStyle(c.colours.ink, 9)
			s.XAlign, s.YAlign = draw.XCenter, draw.YBottom
			dc.FillText(s, vg.Point{X: x(aim), Y: dc.Max.Y + 5}, o.say(psychometrics.PhraseBoardTarget, values{"target": psychometrics.PercentOf(aim)}))
		}
		for i, row := range rows {
			r, at := row.Readiness, y(place(i))
			if !r.Enough {
				mark(dc, diamond, vg.Point{X: x(r.Probability), Y: at}, 2.4, c.colours.background, c.colours.muted)
			} else {
				if !math.IsNaN(r.Low) && !math.IsNaN(r.High) {
					dc.StrokeLine2(line(c.colours.first, 2), x(r.Low), at, x(r.High), at)
				}
				fill := c.colours.background
				if r.Probability >= aim {
					fill = c.colours.first
				}
				mark(dc, disc, vg.Point{X: x(r.Probability), Y: at}, 4, fill, c.colours.first)
			}
			if c.width >= narrow {
				beside(dc, c.colours, vg.Point{X: dc.Max.X + 8, Y: at}, remark(row))
			}
		}
	}))
	// On a narrow board the axis alone tells the chances, and the shape of the
	// mark that there are too few answers; half of its last label needs room.
	widest := vg.Length(4)
	for _, r := range rows {
		if c.width < narrow {
			break
		}
		widest = max(widest, textStyle(c.colours.ink, 9).Width(remark(r)))
	}
	c.draw = func(dc draw.Canvas) { p.Draw(draw.Crop(dc, 0, -(widest + 12), 0, -16)) }
	return c
}

func boardAlt(rows []BoardRow, date time.Time, aim float64, o Options) string {
	ready := 0
	parts := []string{""}
	for _, row := range rows {
		r := row.Readiness
		low, high := r.Low, r.High
		if math.IsNaN(low) || math.IsNaN(high) {
			low, high = r.Probability, r.Probability
		}
		phrase := psychometrics.PhraseBoardLine
		switch {
		case !r.Enough:
			phrase = psychometrics.PhraseBoardFew
		case r.Probability >= aim:
			ready++
		}
		parts = append(parts, o.say(phrase, values{"name": psychometrics.TextOf(row.Name),
			"chance": psychometrics.ChanceOf(r.Probability), "range": psychometrics.BetweenOf(low, high)}))
	}
	parts[0] = o.say(psychometrics.PhraseBoardAlt, values{"date": psychometrics.DateOf(date), "people": psychometrics.CountOf(len(rows)),
		"ready": psychometrics.CountOf(ready), "target": psychometrics.PercentOf(aim)})
	return strings.Join(parts, " ")
}
