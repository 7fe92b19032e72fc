package chart

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"math"
	"strings"
	"sync"
	"testing"
	"time"

	"rightpage/grading/psychometrics"
)

func samples(o Options) map[string]Chart {
	return map[string]Chart{
		"map of few":  sampleMap(26, 30, o),
		"map of many": sampleMap(5000, 600, o),
		"curve":       sampleCurve(o),
		"growth":      sampleGrowth(o),
		"board":       sampleBoard(o),
		"empty map":   PersonQuestionMap(nil, []float64{math.NaN()}, o),
		"empty curve": QuestionCurve("14", math.Inf(1), 0.1, nil, o),
		"empty board": ReadinessBoard([]BoardRow{{"A. Rowe", psychometrics.Readiness{Probability: math.NaN()}}}, time.Time{}, 0.8, o),
	}
}

func TestSVG(t *testing.T) {
	for name, c := range samples(Options{}) {
		t.Run(name, func(t *testing.T) {
			svg, err := c.SVG()
			if err != nil {
				t.Fatal(err)
			}
			d := xml.NewDecoder(bytes.NewReader(svg))
			var root xml.StartElement
			var texts []string
			for {
				token, err := d.Token()
				if err == io.EOF {
					break
				}
				if err != nil {
					t.Fatalf("not well-formed: %v", err)
				}
				switch e := token.(type) {
				case xml.StartElement:
					if root.Name.Local == "" {
						root = e.Copy()
					}
					if e.Name.Local == "style" || e.Name.Local == "script" {
						t.Errorf("holds a %s element", e.Name.Local)
					}
					for _, a := range e.Attr {
						if a.Name.Local == "style" {
							t.Error("holds a style attribute, which a strict content security policy blocks")
						}
						if strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") {
							t.Errorf("%s is %s", a.Name.Local, a.Value)
						}
					}
				case xml.CharData:
					texts = append(texts, string(e))
				}
			}
			attributes := map[string]string{}
			for _, a := range root.Attr {
				attributes[a.Name.Local] = a.Value
			}
			if root.Name.Local != "svg" || attributes["role"] != "img" || attributes["aria-label"] != c.Title+". "+c.Alt || attributes["viewBox"] == "" {
				t.Errorf("root is %s with %v", root.Name.Local, attributes)
			}
			if !strings.Contains(strings.Join(texts, "\n"), c.Title) {
				t.Error("the title is not drawn")
			}
			if strings.ContainsAny(c.Alt, "{[") || strings.Contains(c.Alt, "NaN") || c.Alt == "" {
				t.Errorf("text alternative: %s", c.Alt)
			}
		})
	}
}

func TestSameDataSameBytes(t *testing.T) {
	first := map[string][]byte{}
	for name, c := range samples(Options{Theme: Dark}) {
		svg, err := c.SVG()
		if err != nil {
			t.Fatal(err)
		}
		first[name] = svg
	}
	// Rendered again, from new charts and side by side.
	var wait sync.WaitGroup
	for name, c := range samples(Options{Theme: Dark}) {
		for range 3 {
			wait.Go(func() {
				svg, err := c.SVG()
				if err != nil || !bytes.Equal(svg, first[name]) {
					t.Errorf("%s differs, %v", name, err)
				}
			})
		}
	}
	wait.Wait()
}

func TestPNG(t *testing.T) {
	for name, c := range samples(Options{}) {
		data, err := c.PNG(96)
		if err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		if got, want := float64(img.Bounds().Dx()), float64(c.width)/72*96; math.Abs(got-want) > 1 {
			t.Errorf("%s is %v wide, want %v", name, got, want)
		}
		ink := 0
		for y := range img.Bounds().Dy() {
			for x := range img.Bounds().Dx() {
				if r, _, _, _ := img.At(x, y).RGBA(); r < 0x8000 {
					ink++
				}
			}
		}
		if ink < 100 {
			t.Errorf("%s is blank", name)
		}
	}
	if _, err := sampleBoard(Options{}).PNG(0); err == nil {
		t.Error("0 dots per inch are drawn")
	}
}

func TestColoursCanBeTold(t *testing.T) {
	for name, c := range map[string]palette{"light": Light.palette(), "dark": Dark.palette()} {
		for _, m := range []struct {
			what  string
			a, b  colour
			least float64
		}{
			{"text on background", c.ink, c.background, 4.5},
			{"axes and few marks on background", c.muted, c.background, 3},
			{"first marks on background", c.first, c.background, 3},
			{"second marks on background", c.second, c.background, 3},
			{"curve on its band", c.first, c.faint, 3},
			{"marks on the band", c.second, c.faint, 3},
			// Without hue they still differ in lightness.
			{"first and second", c.first, c.second, 1.35},
		} {
			if got := contrast(m.a, m.b); got < m.least {
				t.Errorf("%s, %s: contrast %.2f, want %.2f", name, m.what, got, m.least)
			}
		}
	}
	// WCAG 2.2: black on white is 21 to 1; #767676 on white is the well-known
	// grey that just reaches 4.5.
	if got := contrast(colour{}, colour{255, 255, 255}); math.Abs(got-21) > 1e-9 {
		t.Errorf("black on white %v", got)
	}
	if got := contrast(colour{0x76, 0x76, 0x76}, colour{255, 255, 255}); got < 4.5 || got > 4.6 {
		t.Errorf("#767676 on white %v", got)
	}
}

func TestMapTellsWhetherQuestionsSuit(t *testing.T) {
	people := []float64{-1, 0, 1, math.Inf(1)}
	for _, c := range []struct {
		questions []float64
		want      string
	}{
		{[]float64{-1, 0.2, 1}, "Map of 3 people and 3 questions on one scale. Ability runs from −1.0 to 1.0 logits, half of the people being below 0.0; difficulty from −1.0 to 1.0, half of the questions being below 0.2. The questions suit the people."},
		{[]float64{2}, "The questions are on the whole 2.0 logits too hard for the people."},
		{[]float64{-3, -2}, "The questions are on the whole 2.5 logits too easy for the people."},
	} {
		if got := PersonQuestionMap(people, c.questions, Options{}).Alt; !strings.HasSuffix(got, c.want) {
			t.Errorf("got  %s\nwant %s", got, c.want)
		}
	}
	for _, c := range []Chart{PersonQuestionMap(people, nil, Options{}), PersonQuestionMap([]float64{0.5}, nil, Options{}), PersonQuestionMap([]float64{1, 1, 1}, []float64{-400, 900}, Options{})} {
		if svg, err := c.SVG(); err != nil || bytes.Contains(svg, []byte("NaN")) {
			t.Errorf("%v: %s", err, c.Alt)
		}
	}
}

func TestCurvePoints(t *testing.T) {
	r, err := psychometrics.FromRows([][]int8{{1}, {0}, {1}, {psychometrics.Missing}, {0}, {1}})
	if err != nil {
		t.Fatal(err)
	}
	theta := []float64{3, -1, 1, 0, math.NaN(), 2}
	got := CurvePoints(r, 0, theta, 0, 2)
	want := []CurvePoint{
		{Ability: 0, Right: 1, Answers: 2, Expected: 0.5},
		{Ability: 2.5, Right: 2, Answers: 2, Expected: (psychometrics.Probability(2, 0) + psychometrics.Probability(3, 0)) / 2},
	}
	for i := range want {
		if math.Abs(got[i].Ability-want[i].Ability) > 1e-12 || math.Abs(got[i].Expected-want[i].Expected) > 1e-12 || got[i].Right != want[i].Right || got[i].Answers != want[i].Answers {
			t.Errorf("group %d: %+v, want %+v", i, got[i], want[i])
		}
	}
	if got := CurvePoints(r, 0, make([]float64, 6), 0, 99); len(got) != 5 {
		t.Errorf("more groups than people: %v", got)
	}
	if got := CurvePoints(psychometrics.New(3, 1), 0, make([]float64, 3), 0, 4); len(got) != 0 {
		t.Errorf("nobody answered: %v", got)
	}
}

func TestCurveTellsWhetherThePointsFit(t *testing.T) {
	alt := func(points ...CurvePoint) string {
		return QuestionCurve("Break by serial, 3", 0.5, 0.2, points, Options{}).Alt
	}
	if got, want := alt(CurvePoint{0.5, 10, 20, 0.5}, CurvePoint{Ability: 1}), "Chart of Break by serial, 3, difficulty 0.5 logits: share of right answers by ability, expected and observed: at ability 0.5, 50 % of 20 right (expected 50 %). All groups lie where the curve leads one to expect."; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if got := alt(CurvePoint{0.5, 1, 20, 0.5}); !strings.HasSuffix(got, "1 group lies off the curve by more than chance would explain.") {
		t.Error(got)
	}
	if got := alt(); !strings.HasSuffix(got, "Nothing to show yet.") {
		t.Error(got)
	}
}

func TestGrowth(t *testing.T) {
	late := time.Date(2026, time.January, 31, 23, 0, 0, 0, time.UTC)
	c, err := GrowthByMonth([]Series{
		{"North", []Month{{late, 15, 20}, {month(2025, time.November), 3, 4}, {month(2025, time.December), 0, 0}}},
		{"South", nil},
	}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if want := "Chart of right answers by month. North: Nov 2025 too few to tell (4 answers) and Jan 2026 75 % of 20. South: Nothing to show yet."; c.Alt != want {
		t.Errorf("got  %s\nwant %s", c.Alt, want)
	}
	if _, err := c.SVG(); err != nil {
		t.Error(err)
	}
	if _, err := GrowthByMonth(make([]Series, MaxSeries+1), Options{}); !errors.Is(err, psychometrics.ErrRange) {
		t.Errorf("too many series: %v", err)
	}
	c, err = GrowthByMonth(nil, Options{})
	if err != nil || c.Alt != "Nothing to show yet." {
		t.Errorf("%+v, %v", c, err)
	}
	// Ten years, one answer a month.
	var long Series
	for i := range 120 {
		long.Months = append(long.Months, Month{month(2016, time.Month(1+i)), 1, 1})
	}
	if c, err = GrowthByMonth([]Series{long}, Options{}); err != nil {
		t.Fatal(err)
	}
	if _, err := c.SVG(); err != nil {
		t.Error(err)
	}
}

func TestBoardOrderAndWords(t *testing.T) {
	r := func(p, low, high float64, enough bool) psychometrics.Readiness {
		return psychometrics.Readiness{Probability: p, Low: low, High: high, Enough: enough}
	}
	nan := math.NaN()
	c := ReadinessBoard([]BoardRow{
		{"A. Rowe", r(0.2, 0.1, 0.4, true)}, {"B. Hale", r(0.99, 0.9, 1, false)}, {"C. Finch", r(0.86, nan, nan, true)}, {"D. Moss", r(nan, nan, nan, true)},
	}, time.Date(2026, time.May, 3, 0, 0, 0, 0, time.UTC), 0.8, Options{})
	if want := "Chart of the chance to meet the requirement on 3 May 2026, for 3 people; 1 reaches the aim of 80 %. C. Finch: about 9 in 10 (close to 9 in 10). A. Rowe: about 2 in 10 (between 1 and 4 in 10). B. Hale: too few answers to tell; people like this one more than 19 in 20."; c.Alt != want {
		t.Errorf("got  %s\nwant %s", c.Alt, want)
	}
	if _, err := c.SVG(); err != nil {
		t.Error(err)
	}
}

// shout is another catalog.
type shout struct{}

func (shout) Render(s psychometrics.Statement) string {
	return strings.ToUpper(psychometrics.English{}.Render(s)) + ` <&"`
}

func TestWordsAndMarkup(t *testing.T) {
	c := sampleBoard(Options{Words: shout{}, Width: 700, Height: 500})
	svg, err := c.SVG()
	if err != nil {
		t.Fatal(err)
	}
	if c.Title != `READY BY 3 MAY 2026 <&"` || !bytes.Contains(svg, []byte("READY BY 3 MAY 2026 &lt;&amp;&#34;")) || bytes.Contains(svg, []byte("About")) {
		t.Errorf("%s", svg[:400])
	}
	if !bytes.Contains(svg, []byte(`viewBox="0 0 700 500"`)) {
		t.Error("size is not as asked")
	}
	for name, c := range samples(Options{Width: 1, Height: 1}) {
		if svg, err := c.SVG(); err != nil || !bytes.Contains(svg, []byte(`viewBox="0 0 280 80"`)) {
			t.Errorf("%s in no space: %v", name, err)
		}
	}
}

func BenchmarkBoardSVG(b *testing.B) {
	for b.Loop() {
		if _, err := sampleBoard(Options{}).SVG(); err != nil {
			b.Fatal(err)
		}
	}
}
