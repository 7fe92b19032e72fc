package words

import (
	"bytes"
	"image/png"
	"math"
	"testing"
	"time"

	"rightpage/grading/psychometrics"
	"rightpage/grading/psychometrics/chart"
)

// charts draws one chart of each sort in a language, with names of the demo's
// workshop that have letters beyond ASCII.
func charts(t testing.TB, o chart.Options) map[string]chart.Chart {
	t.Helper()
	date := time.Date(2026, time.May, 3, 0, 0, 0, 0, time.UTC)
	theta, b := make([]float64, 26), make([]float64, 40)
	for i := range theta {
		theta[i] = math.Sin(float64(i)) * 2
	}
	for i := range b {
		b[i] = math.Cos(float64(i)) - 1
	}
	var long, short chart.Series
	long.Name, short.Name = "Dépôt de Quéñaldar an der Förde, lang", "Ünterau"
	for i := range 9 {
		at := time.Date(2025, time.Month(9+i), 9, 0, 0, 0, 0, time.UTC)
		long.Months = append(long.Months, chart.Month{Month: at, Right: 12 + i, Answers: 30})
		short.Months = append(short.Months, chart.Month{Month: at, Right: 3 + i, Answers: 7 + i})
	}
	growth, err := chart.GrowthByMonth([]chart.Series{long, short}, o)
	if err != nil {
		t.Fatal(err)
	}
	var rows []chart.BoardRow
	for i, name := range []string{"Á. Núñez", "B. Groß", "Ç. Lefèvre-Beaulieu de la Grève", "D. Öztürk"} {
		rows = append(rows, chart.BoardRow{Name: name, Readiness: psychometrics.Readiness{Probability: 0.97 - 0.3*float64(i), Low: 0.9 - 0.3*float64(i), High: 0.99 - 0.3*float64(i), Enough: i != 3}})
	}
	points := []chart.CurvePoint{{Ability: -1, Right: 9, Answers: 30, Expected: 0.2}, {Ability: 1.5, Right: 20, Answers: 30, Expected: 0.75}}
	return map[string]chart.Chart{
		"map":    chart.PersonQuestionMap(theta, b, o),
		"growth": growth,
		"board":  chart.ReadinessBoard(rows, date, 0.8, o),
		"curve":  chart.QuestionCurve("Ausgabe für ein Baudatum, 14", 0.4, 0.18, points, o),
	}
}

// Words that are longer than the English ones are not cut at the edge: a margin
// of a few dots stays empty all around.
func TestWordsFitInCharts(t *testing.T) {
	const margin = 4
	for locale, p := range printers(t) {
		for _, width := range []float64{0, 340, 700} {
			for name, c := range charts(t, chart.Options{Words: p, Width: width}) {
				data, err := c.PNG(96)
				if err != nil {
					t.Fatal(err)
				}
				img, err := png.Decode(bytes.NewReader(data))
				if err != nil {
					t.Fatal(err)
				}
				r := img.Bounds()
				paper := img.At(r.Min.X, r.Min.Y)
				cut := 0
				for y := r.Min.Y; y < r.Max.Y; y++ {
					for x := r.Min.X; x < r.Max.X; x++ {
						edge := x < r.Min.X+margin || x >= r.Max.X-margin || y < r.Min.Y+margin || y >= r.Max.Y-margin
						if edge && img.At(x, y) != paper {
							cut++
						}
					}
				}
				if cut > 0 {
					t.Errorf("%s: the %s chart of width %v has %d dots in its margin", locale, name, width, cut)
				}
			}
		}
	}
}
