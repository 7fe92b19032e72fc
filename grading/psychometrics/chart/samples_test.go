package chart

import (
	"math/rand/v2"
	"time"

	"rightpage/grading/psychometrics"
)

// The samples that the tests draw: invented people of the demo's workshop.

func month(y int, m time.Month) time.Time { return time.Date(y, m, 9, 0, 0, 0, 0, time.UTC) }

func sampleMap(people, questions int, o Options) Chart {
	rng := rand.New(rand.NewPCG(1, 1))
	theta, b := make([]float64, people), make([]float64, questions)
	for i := range theta {
		theta[i] = 0.6 + rng.NormFloat64()
	}
	for i := range b {
		b[i] = 1.2 * rng.NormFloat64()
	}
	return PersonQuestionMap(theta, b, o)
}

func sampleCurve(o Options) Chart {
	rng := rand.New(rand.NewPCG(2, 1))
	const people, b = 180, 0.4
	r := psychometrics.New(people, 1)
	theta := make([]float64, people)
	for v := range theta {
		theta[v] = 1.2 * rng.NormFloat64()
		x := int8(0)
		if rng.Float64() < psychometrics.Probability(theta[v], b) {
			x = 1
		}
		r.Set(v, 0, x)
	}
	return QuestionCurve("Edition for a build date, 14", b, 0.18, CurvePoints(r, 0, theta, b, 6), o)
}

func sampleGrowth(o Options) Chart {
	var a, b, c Series
	a.Name, b.Name, c.Name = "Wexcombe North", "Marsh Lane depot with a long name", "Upper Quay"
	for i := range 9 {
		m := month(2025, time.Month(9+i))
		a.Months = append(a.Months, Month{m, 52 + 4*i, 100})
		if i != 4 {
			b.Months = append(b.Months, Month{m, 12 + i, 30})
		}
		c.Months = append(c.Months, Month{m, 3 + i, 9 + i})
	}
	g, err := GrowthByMonth([]Series{a, b, c}, o)
	if err != nil {
		panic(err)
	}
	return g
}

func sampleBoard(o Options) Chart {
	var rows []BoardRow
	for i, name := range []string{"A. Rowe", "B. Hale", "C. Finch", "D. Moss", "E. Thorne", "F. Larch", "G. Penhallow-Whitcombe of Marsh Lane", "H. Birch", "I. Sorrel", "J. Alder", "K. Tansy", "L. Reed"} {
		p := 0.97 - 0.08*float64(i)
		rows = append(rows, BoardRow{name, psychometrics.Readiness{Probability: p, Low: max(p-0.05-0.02*float64(i), 0), High: min(p+0.08, 0.99), Enough: i%5 != 4}})
	}
	return ReadinessBoard(rows, time.Date(2026, time.May, 3, 0, 0, 0, 0, time.UTC), 0.8, o)
}
