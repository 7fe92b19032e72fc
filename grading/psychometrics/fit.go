package psychometrics

import (
	"fmt"
	"math"
)

// MisfitStatistic says how far answers stray from what the Rasch model expects.
type MisfitStatistic struct {
	// Infit and Outfit are mean squares: 1 as expected, above 1 more erratic,
	// below 1 more predictable. Outfit weighs all answers alike and is moved by
	// a few surprising ones; Infit weighs them by their information.
	Infit, Outfit float64
	// InfitZ and OutfitZ are the same as approximate standard normal deviates.
	InfitZ, OutfitZ float64
	// Answers is the number of answers used.
	Answers int
}

// Misfit holds the statistics of all items and all people.
type Misfit struct {
	Items, People []MisfitStatistic
}

// Fit computes infit and outfit mean squares. difficulty has one value per
// item, theta one per person, in logits; answers of people or to items without
// a finite value are left out, so that theta from [ML] leaves out people with
// all or none right, as is usual. With x the answer, P its expectation,
// W = P(1−P) and C = W(1 − 3W) its fourth central moment,
//
//	outfit = Σ (x−P)²/W / n           var = Σ C/W² / n² − 1/n
//	infit  = Σ (x−P)² / Σ W           var = Σ (C − W²) / (Σ W)²
//	z = (u^⅓ − 1)·3/q + q/3           q² = var
//
// with sums over people for an item and over items for a person. Nobody or
// nothing to sum gives NaN. z is NaN where the variance is 0, as it is for
// outfit when every P is ½. Source: Wright & Masters (1982), Rating Scale
// Analysis, ch. 5.
//
// The error wraps [ErrShape] if there is not one difficulty per item or not one
// theta per person.
func Fit(r Responses, difficulty, theta []float64) (Misfit, error) {
	if len(difficulty) != r.items || len(theta) != r.people {
		return Misfit{}, fmt.Errorf("fit: %w: %d difficulties for %d items and %d abilities for %d people",
			ErrShape, len(difficulty), r.items, len(theta), r.people)
	}
	items, people := make([]residuals, r.items), make([]residuals, r.people)
	for v := range r.people {
		if !finite(theta[v]) {
			continue
		}
		for i, x := range r.Row(v) {
			if x < 0 || !finite(difficulty[i]) {
				continue
			}
			w := Information(theta[v], difficulty[i])
			// The residual, without the digits that x − P would lose.
			d := -Probability(theta[v], difficulty[i])
			if x == 1 {
				d = Probability(difficulty[i], theta[v])
			}
			items[i].add(d, w)
			people[v].add(d, w)
		}
	}
	out := Misfit{Items: make([]MisfitStatistic, r.items), People: make([]MisfitStatistic, r.people)}
	for i := range items {
		out.Items[i] = items[i].statistic()
	}
	for v := range people {
		out.People[v] = people[v].statistic()
	}
	return out, nil
}

type residuals struct {
	n                    int
	squares, weighted    float64 // Σ d²/W, Σ d²
	information          float64 // Σ W
	kurtosis, difference float64 // Σ C/W², Σ (C − W²)
}

func (s *residuals) add(d, w float64) {
	s.n++
	s.squares += d * d / w
	s.weighted += d * d
	s.information += w
	s.kurtosis += 1/w - 3
	s.difference += w - 4*w*w
}

func (s *residuals) statistic() MisfitStatistic {
	n := float64(s.n)
	out := MisfitStatistic{Answers: s.n, Outfit: s.squares / n, Infit: s.weighted / s.information}
	out.OutfitZ = deviate(out.Outfit, s.kurtosis/(n*n)-1/n)
	out.InfitZ = deviate(out.Infit, s.difference/(s.information*s.information))
	return out
}

// deviate is the cube root transformation of Wilson & Hilferty.
func deviate(meanSquare, variance float64) float64 {
	if !(variance > 0) {
		return math.NaN()
	}
	q := math.Sqrt(variance)
	return (math.Cbrt(meanSquare)-1)*3/q + q/3
}
