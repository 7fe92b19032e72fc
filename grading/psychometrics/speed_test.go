package psychometrics

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"runtime"
	"testing"
)

// simulate draws abilities and difficulties and then answers under the Rasch
// model. Each person answers each item with probability seen.
func simulate(seed uint64, people, items int, sd, seen float64) (r Responses, theta, difficulty []float64) {
	rng := newRand(seed)
	theta, difficulty = make([]float64, people), make([]float64, items)
	for v := range theta {
		theta[v] = sd * rng.NormFloat64()
	}
	for i := range difficulty {
		difficulty[i] = rng.NormFloat64()
	}
	centre(difficulty)
	return answersOf(rng, theta, difficulty, seen), theta, difficulty
}

func answersOf(rng *rand.Rand, theta, difficulty []float64, seen float64) Responses {
	r := New(len(theta), len(difficulty))
	for v := range theta {
		for i := range difficulty {
			if seen < 1 && rng.Float64() >= seen {
				continue
			}
			x := int8(0)
			if rng.Float64() < Probability(theta[v], difficulty[i]) {
				x = 1
			}
			r.Set(v, i, x)
		}
	}
	return r
}

func scoresCSV(r Responses) []byte {
	var b bytes.Buffer
	b.WriteString("person")
	for i := range r.ItemCount() {
		fmt.Fprintf(&b, ",q%d", i+1)
	}
	for v := range r.People() {
		fmt.Fprintf(&b, "\np%d", v+1)
		for _, x := range r.Row(v) {
			b.WriteByte(',')
			if x >= 0 {
				b.WriteByte('0' + byte(x))
			}
		}
	}
	b.WriteByte('\n')
	return b.Bytes()
}

// The whole of `stats --scores`: reading the file and every statistic.
func BenchmarkStatisticsOfAMillionResponses(b *testing.B) {
	for _, shape := range []struct {
		name          string
		people, items int
		seen          float64
	}{
		{"16667x60", 16667, 60, 1},
		{"16667x60,30%missing", 16667, 60, 0.7},
		{"50000x20", 50000, 20, 1},
		{"5000x200", 5000, 200, 1},
		{"1000x1000", 1000, 1000, 1},
	} {
		b.Run(shape.name, func(b *testing.B) {
			r, _, _ := simulate(7, shape.people, shape.items, 1, shape.seen)
			file := scoresCSV(r)
			b.ReportAllocs()
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			for b.Loop() {
				r, err := ReadScores(bytes.NewReader(file))
				if err != nil {
					b.Fatal(err)
				}
				if _, err := Summarize(r); err != nil {
					b.Fatal(err)
				}
			}
			runtime.ReadMemStats(&after)
			b.ReportMetric(float64(after.Sys)/(1<<20), "MiB-from-system")
		})
	}
}

// 2,000 × 40 with 30 % missing, by 20 forms and at random; see
// testdata/reference/README.md for eRm's time.
func BenchmarkConditional2000x40(b *testing.B) {
	for _, name := range []string{"simulated_forms", "simulated_random"} {
		b.Run(name, func(b *testing.B) {
			r := referenceAnswers(b, name+".txt")
			for b.Loop() {
				if _, err := Conditional(r); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// 10,000 people who each saw their own 20 of 500 items.
func BenchmarkConditionalEverybodyDifferent(b *testing.B) {
	r, _, _ := simulate(8, 10000, 500, 1, 0.04)
	for b.Loop() {
		if _, err := Conditional(r); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkMarginal10000x60(b *testing.B) {
	r := referenceAnswers(b, "speed-answers.txt.gz")
	for b.Loop() {
		if _, err := Marginal(r); err != nil {
			b.Fatal(err)
		}
	}
}

func newRand(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 1)) }
