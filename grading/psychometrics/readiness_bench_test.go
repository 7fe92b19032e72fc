package psychometrics

import (
	"math/rand/v2"
	"testing"
)

// benchmarkRecords are people in six skills with about 25 answers in each.
func benchmarkRecords(people int) []PersonRecord {
	rng := rand.New(rand.NewPCG(1, 1))
	out := make([]PersonRecord, people)
	for k := range 6 {
		p := MasteryParameters{Known: 0.3, Learn: 0.1 + 0.02*float64(k), Guess: 0.2, Slip: 0.1, Forget: 0.01}
		for j, h := range practise(p, people, 8, 0, rng) {
			out[j].Histories = append(out[j].Histories, h)
		}
	}
	return out
}

func BenchmarkFitReadiness500People(b *testing.B) {
	people := benchmarkRecords(500)
	for b.Loop() {
		if _, err := FitReadiness(people, 6, nil, DefaultMasteryPrior()); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkForecastWithInterval(b *testing.B) {
	people := benchmarkRecords(50)
	m, err := FitReadiness(people, 6, nil, DefaultMasteryPrior())
	if err != nil {
		b.Fatal(err)
	}
	r := courseRequirements()[2]
	r.Day = 500
	rng := rand.New(rand.NewPCG(2, 2))
	for b.Loop() {
		if _, err := m.Forecast(people[0], r, ForecastOptions{Draws: 200, RNG: rng}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkNextPractice1000Questions(b *testing.B) {
	p := DefaultMasteryPrior().Mode()
	skills := []PracticeSkill{{p, 0.4}, {p, 0.6}, {p, 0.3}}
	rng := rand.New(rand.NewPCG(3, 3))
	questions := make([]PracticeQuestion, 1000)
	for i := range questions {
		questions[i] = PracticeQuestion{Skill: i % 3, Difficulty: rng.NormFloat64()}
	}
	rules := PracticeRules{Target: 0.95, Exposure: Exposure{Limit: 0.3, People: 50}}
	for b.Loop() {
		if _, err := NextPractice(skills, questions, rules, rng); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFindAlike100People(b *testing.B) {
	c := examRoom(100, 40, 4, 0, 0, rand.New(rand.NewPCG(4, 4)))
	for b.Loop() {
		if _, err := FindAlike(c, 0.05); err != nil {
			b.Fatal(err)
		}
	}
}
