// Package chart draws the figures of package psychometrics: a map of people and
// questions on one scale, the curve of one question with what was observed,
// growth by month, and a board of who is ready.
//
//	c, err := chart.ReadinessBoard(rows, date, 0.8, chart.Options{Theme: chart.Dark})
//	svg, err := c.SVG()   // for a page
//	png, err := c.PNG(200) // for paper
//	c.Alt                 // the same in words, for those who do not see it
//
// Every chart tells its groups apart by shape, place or line as well as by
// colour, so that it can be read in black and white and with any colour vision;
// colours keep a contrast of at least 4.5 for text and 3 for marks against the
// background in both themes (WCAG 2.2, 1.4.3 and 1.4.11; tested). The same data
// give the same bytes.
//
// All words come from [psychometrics.Words], so that a message catalog can
// replace them. SVG uses presentation attributes alone, no style sheet or style
// attribute, so that it may stand inside a page with a strict content security
// policy. Data that cannot be drawn (NaN, infinite) are left out; where nothing
// is left the chart says that there is nothing to show yet.
package chart

import (
	"bytes"
	"fmt"
	"html"
	"regexp"
	"strings"

	xfnt "golang.org/x/image/font"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	"rightpage/grading/psychometrics"
)

// Options say how a chart looks. The zero value is a light chart of a sensible
// size in English.
type Options struct {
	Theme Theme
	// Width and Height are in points (1/72 inch); 0 means the chart's own, and
	// less than 280 × 80 is raised to that. Below 430 wide the charts drop
	// or move what would not fit, for a phone held upright.
	Width, Height float64
	// Words renders titles, labels and the text alternative; nil is English.
	Words psychometrics.Words
}

func (o Options) words() psychometrics.Words {
	if o.Words == nil {
		return psychometrics.English{}
	}
	return o.Words
}

// Chart is a drawing and the text that stands for it. It may be rendered
// several times, and from several goroutines.
type Chart struct {
	// Title is the heading drawn at the top.
	Title string
	// Alt tells in words what the drawing shows, the title not repeated.
	Alt string

	width, height vg.Length
	colours       palette
	draw          func(draw.Canvas)
}

// paint fills the background and draws.
func (c Chart) paint(canvas vg.CanvasSizer) {
	dc := draw.New(canvas)
	dc.SetColor(c.colours.background)
	dc.Fill(dc.Rectangle.Path())
	dc = draw.Crop(dc, 10, -10, 8, -8)
	title := textStyle(c.colours.ink, 11.5)
	title.Font.Weight = xfnt.WeightBold
	title.YAlign = draw.YTop
	dc.FillText(title, vg.Point{X: dc.Min.X, Y: dc.Max.Y}, c.Title)
	c.draw(draw.Crop(dc, 0, 0, 0, -22))
}

// SVG renders the chart as a self-contained svg element, which is also a file.
func (c Chart) SVG() ([]byte, error) {
	canvas := vgsvg.New(c.width, c.height)
	c.paint(canvas)
	var raw bytes.Buffer
	if _, err := canvas.WriteTo(&raw); err != nil {
		return nil, fmt.Errorf("chart %q: writing SVG: %w", c.Title, err)
	}
	return tidy(raw.Bytes(), c.Title+". "+c.Alt), nil
}

// PNG renders the chart as an image with so many dots per inch; 96 suits a
// screen, 200 paper.
func (c Chart) PNG(dpi int) ([]byte, error) {
	if dpi < 10 || dpi > 1200 {
		return nil, fmt.Errorf("chart %q at %d dots per inch; give 10 to 1200", c.Title, dpi)
	}
	canvas := vgimg.NewWith(vgimg.UseWH(c.width, c.height), vgimg.UseDPI(dpi))
	c.paint(canvas)
	var out bytes.Buffer
	if _, err := (vgimg.PngCanvas{Canvas: canvas}).WriteTo(&out); err != nil {
		return nil, fmt.Errorf("chart %q: writing PNG: %w", c.Title, err)
	}
	return out.Bytes(), nil
}

var (
	styleAttribute = regexp.MustCompile(`\s*style="([^"]*)"`)
	opening        = regexp.MustCompile(`(?s)^.*?<svg ([^>]*?)\s*xmlns:xlink="[^"]*">`)
)

// tidy turns style attributes into presentation attributes, names fonts of like
// metrics for readers without Liberation, and adds the text alternative.
func tidy(svg []byte, alt string) []byte {
	out := opening.ReplaceAll(svg, []byte(`<svg $1 role="img" aria-label="`+strings.ReplaceAll(html.EscapeString(alt), "$", "$$")+`">`))
	out = styleAttribute.ReplaceAllFunc(out, func(match []byte) []byte {
		var b strings.Builder
		for _, property := range strings.Split(string(styleAttribute.FindSubmatch(match)[1]), ";") {
			name, value, ok := strings.Cut(property, ":")
			name, value = strings.TrimSpace(name), strings.TrimSpace(value)
			switch {
			case !ok || name == "font-variant" || name == "font-style" && value == "normal" || name == "font-weight" && value == "normal":
				continue
			case name == "font-family":
				value = "Liberation Sans, Arial, Helvetica, sans-serif"
			}
			fmt.Fprintf(&b, ` %s="%s"`, name, value)
		}
		return []byte(b.String())
	})
	return out
}

// textStyle is sans-serif text of a size in points.
func textStyle(c colour, size float64) draw.TextStyle {
	return draw.TextStyle{
		Color:   c,
		Font:    font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Length(size)},
		Handler: text.Plain{Fonts: font.DefaultCache},
	}
}

// frame is a plot with the quiet look all charts share: no box, thin axes, a
// faint grid.
func frame(c palette) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = c.background
	p.TextHandler = text.Plain{Fonts: font.DefaultCache}
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Color = c.muted
		a.LineStyle.Color = c.muted
		a.LineStyle.Width = 0.6
		a.Tick.Color = c.muted
		a.Tick.LineStyle.Color = c.muted
		a.Tick.LineStyle.Width = 0.6
		a.Tick.Length = 3
		tick := a.Tick.Label
		a.Tick.Label = textStyle(c.ink, 9)
		a.Tick.Label.XAlign, a.Tick.Label.YAlign, a.Tick.Label.Rotation = tick.XAlign, tick.YAlign, tick.Rotation
		label := a.Label.TextStyle
		a.Label.TextStyle = textStyle(c.ink, 9)
		a.Label.TextStyle.XAlign, a.Label.TextStyle.YAlign, a.Label.TextStyle.Rotation = label.XAlign, label.YAlign, label.Rotation
		a.Label.Padding = 4
		a.Padding = 2
	}
	return p
}

// size gives the canvas size: the options' or the chart's own.
func (o Options) size(width, height float64) (vg.Length, vg.Length) {
	if o.Width > 0 {
		width = o.Width
	}
	if o.Height > 0 {
		height = o.Height
	}
	return vg.Length(max(width, 280)), vg.Length(max(height, 80))
}

// empty is the chart of no data.
func empty(title string, o Options) Chart {
	c := Chart{Title: title, Alt: o.say(psychometrics.PhraseChartEmpty, nil), colours: o.Theme.palette()}
	c.width, c.height = o.size(420, 80)
	c.draw = func(dc draw.Canvas) {
		s := textStyle(c.colours.ink, 9.5)
		s.YAlign = draw.YTop
		dc.FillText(s, vg.Point{X: dc.Min.X, Y: dc.Max.Y - 6}, c.Alt)
	}
	return c
}

// value renders a value alone.
func (o Options) value(v psychometrics.Value) string {
	return o.say(psychometrics.PhraseChartValue, values{"value": v})
}

type values = map[string]psychometrics.Value

func (o Options) say(p psychometrics.Phrase, v values) string {
	return o.words().Render(psychometrics.Say(p, v))
}

// percentTicks marks an axis from 0 to 1 in quarters.
func (o Options) percentTicks() plot.ConstantTicks {
	var ticks plot.ConstantTicks
	for i := range 5 {
		share := float64(i) / 4
		ticks = append(ticks, plot.Tick{Value: share, Label: o.value(psychometrics.PercentOf(share))})
	}
	return ticks
}

// plotter is a plot.Plotter from a function.
type plotter func(c draw.Canvas, x, y func(float64) vg.Length)

// Plot draws on the canvas of the plot.
func (f plotter) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	f(c, x, y)
}

func line(c colour, width float64, dashes ...float64) draw.LineStyle {
	s := draw.LineStyle{Color: c, Width: vg.Length(width)}
	for _, d := range dashes {
		s.Dashes = append(s.Dashes, vg.Length(d))
	}
	return s
}

// grid draws faint lines across at the values given.
func (c palette) grid(values ...float64) plotter {
	return func(dc draw.Canvas, _, y func(float64) vg.Length) {
		for _, v := range values {
			dc.StrokeLine2(line(c.faint, 0.7), dc.Min.X, y(v), dc.Max.X, y(v))
		}
	}
}

// beside writes text to the right of a point, level with a mark there.
func beside(dc draw.Canvas, c palette, at vg.Point, txt string) {
	s := textStyle(c.ink, 9)
	s.YAlign = draw.YCenter
	// Centring counts descenders, which few words have.
	at.Y += 1.4
	dc.FillText(s, at, txt)
}

// narrow is the width below which charts keep their side free of words.
const narrow = 430

// wrap breaks text at its spaces, but not at no-break spaces, into lines that fit
// a width.
func wrap(s draw.TextStyle, txt string, width vg.Length) string {
	lines := []string{""}
	for _, word := range strings.FieldsFunc(txt, func(r rune) bool { return r == ' ' || r == '\n' }) {
		last := &lines[len(lines)-1]
		switch {
		case *last == "":
			*last = word
		case s.Width(*last+" "+word) <= width:
			*last += " " + word
		default:
			lines = append(lines, word)
		}
	}
	return strings.Join(lines, "\n")
}

// clip shortens a name to a width.
func clip(s draw.TextStyle, name string, width vg.Length) string {
	if s.Width(name) <= width {
		return name
	}
	r := []rune(name)
	for len(r) > 1 && s.Width(strings.TrimRight(string(r), " ")+"…") > width {
		r = r[:len(r)-1]
	}
	return strings.TrimRight(string(r), " ") + "…"
}

// whisker is an interval with small caps, upright.
func whisker(dc draw.Canvas, s draw.LineStyle, x, low, high vg.Length) {
	dc.StrokeLine2(s, x, low, x, high)
	dc.StrokeLine2(s, x-2, low, x+2, low)
	dc.StrokeLine2(s, x-2, high, x+2, high)
}
