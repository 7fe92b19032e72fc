package grading

import (
	"bytes"
	"math/rand/v2"
	"slices"
	"testing"

	"rightpage/banks"
)

// benchResponse is an answer with the grader of its question.
type benchResponse struct {
	g     *Grader
	given string
}

// benchResponses makes answers as they come in: six in ten right, three wrong by
// a slip, one blank.
func benchResponses(tb testing.TB, keep func(*banks.Question) bool) []benchResponse {
	rng := rand.New(rand.NewPCG(3, 9))
	var out []benchResponse
	for _, d := range demos(tb) {
		for _, q := range d.bank {
			if !keep(q) {
				continue
			}
			g := NewGrader(q, Rules{})
			var wrong []string
			for a := range SlipAnswers(q) {
				wrong = append(wrong, a)
			}
			slices.Sort(wrong)
			if q.Form == banks.Chase {
				wrong = []string{"A|A|B|A|A|none"}
			}
			for i := range 10 {
				given := KeyAnswer(q)
				switch {
				case i == 9:
					given = ""
				case i >= 6 && len(wrong) > 0:
					given = wrong[rng.IntN(len(wrong))]
				}
				out = append(out, benchResponse{g, given})
			}
		}
	}
	rng.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	return out
}

// BenchmarkGrade grades responses to questions of both demonstration catalogs,
// of every kind in equal shares, and then of each form alone.
func BenchmarkGrade(b *testing.B) {
	run := func(name string, keep func(*banks.Question) bool) {
		b.Run(name, func(b *testing.B) {
			list := benchResponses(b, keep)
			var s Score
			refused := 0
			b.ReportAllocs()
			b.ResetTimer()
			for i := range b.N {
				r := &list[i%len(list)]
				if err := r.g.GradeInto(r.given, &s); err != nil {
					refused++
				}
			}
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "responses/s")
			if refused > b.N/100 {
				b.Fatalf("%d of %d refused", refused, b.N)
			}
		})
	}
	run("all", func(*banks.Question) bool { return true })
	for _, f := range banks.Forms() {
		run(string(f), func(q *banks.Question) bool { return q.Form == f })
	}
}

// BenchmarkNewGrader prepares the key of a question.
func BenchmarkNewGrader(b *testing.B) {
	bank := demos(b)[0].bank
	b.ReportAllocs()
	b.ResetTimer()
	for i := range b.N {
		NewGrader(bank[i%len(bank)], Rules{})
	}
}

// BenchmarkGradeCSV grades a file of 100 people with 60 answers each.
func BenchmarkGradeCSV(b *testing.B) {
	d := demos(b)[0]
	data, find := sampleFile(&d, 100, 60)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	b.ResetTimer()
	for range b.N {
		s, err := GradeCSV(bytes.NewReader(data), find, Rules{})
		if err != nil || len(s.Rows) != 6000 {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(6000*b.N)/b.Elapsed().Seconds(), "responses/s")
}
