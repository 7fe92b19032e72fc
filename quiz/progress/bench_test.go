package progress

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"rightpage/banks/kinds"
	"rightpage/quiz/store"
)

// many makes the answers of people who each answered n questions.
func many(people, n int) []store.Outcome {
	rng := rand.New(rand.NewPCG(5, 5))
	all := kinds.All()
	var list []store.Outcome
	for i := range n {
		for p := range people {
			k := all[rng.IntN(len(all))]
			o := exercise(fmt.Sprint("p", p), fmt.Sprintf("k-%d-%d", p, i), fmt.Sprint("q", rng.IntN(4000)), begin.Add(time.Duration(i*people+p)*time.Minute), rng.Float64() < 0.4+0.5*float64(i)/float64(n))
			o.Score.Kind, o.Score.Skill = k.Name, k.Skill
			list = append(list, o)
		}
	}
	return list
}

// BenchmarkFit fits the models of 26 and of 500 people with 250 answers each.
func BenchmarkFit(b *testing.B) {
	for _, people := range []int{26, 500} {
		b.Run(fmt.Sprint(people), func(b *testing.B) {
			p := practising(many(people, 250)...)
			if err := p.h.update(context.Background()); err != nil {
				b.Fatal(err)
			}
			for b.Loop() {
				if _, err := fit(context.Background(), p.h.all(), begin); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkRecord gives the record of one of 50 people.
func BenchmarkRecord(b *testing.B) {
	p := practising(many(50, 250)...)
	m, err := p.Model(context.Background())
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		m.Record("p7", p.h.of("p7"), time.UTC, begin.AddDate(0, 0, 30))
	}
}

// BenchmarkNext chooses one of 8,000 questions of two skills.
func BenchmarkNext(b *testing.B) {
	ctx := context.Background()
	p := practising(many(50, 250)...)
	p.h.every = time.Hour
	if _, err := p.Model(ctx); err != nil {
		b.Fatal(err)
	}
	bank := fakeBank{}
	for skill, list := range smallBank() {
		for i := range 200 {
			for _, q := range list {
				x := *q
				x.ID = fmt.Sprint("q", i, q.ID)
				bank[skill] = append(bank[skill], &x)
			}
		}
	}
	rng := rand.New(rand.NewPCG(1, 1))
	for b.Loop() {
		if _, _, err := p.Next(ctx, "p7", Mode{}, bank, nil, rng); err != nil {
			b.Fatal(err)
		}
	}
}
