package psychometrics

import (
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"
)

// PersonFit says how usual one person's pattern of answers is for somebody of
// that ability: whether the hard questions are, by and large, the ones got
// wrong.
type PersonFit struct {
	Ability Ability
	// LZ is lz*: about standard normal for usual patterns, well below 0 where
	// easy questions are missed and hard ones hit. NaN where it is not defined.
	LZ float64
	// P is the chance of a value this low from a person to whom the model
	// applies: by simulation given the number right where draws were asked
	// for, otherwise by the normal distribution.
	P float64
	// Enough is false for fewer than [MinFitAnswers] answers, and where LZ is
	// not defined.
	Enough bool
}

// MinFitAnswers is the number of answers below which an unusual pattern cannot
// be told. At a false-alarm rate of 5 % seven in ten patterns given wholly at
// random are noticed among 15 answers, and fewer than half among 8 (measured in
// the tests).
const MinFitAnswers = 15

// FitPerson computes lz* of one person's answers (0, 1 or Missing) to questions
// of known Rasch difficulties. lz is the standardised log-likelihood of the
// pattern (Drasgow, Levine & Williams 1985); Snijders (2001), Psychometrika 66,
// 331–342, corrects its mean and variance for ability being estimated, here by
// [WLE]. For the Rasch model, with P, Q at the estimate:
//
//	lz* = Σ (x − P) w̃ / √Σ P Q w̃²,   w̃_i = b̄ − b_i,   b̄ = Σ P Q b / Σ P Q
//
// that is, the agreement of residuals with easiness. Its lower tail is heavier
// than the normal one in short tests. draws above 0 gives P instead by drawing
// that many patterns with the same number right, whose distribution under the
// Rasch model depends on no ability (Rasch 1960; Ponocny 2001), as (1 + number
// at most as high) / (1 + draws), so that the false-alarm rate is the nominal
// one at any length; 999 is usual. rng is used for the draws alone.
//
// A low P is a reason to look again (a skipped page, a sheet shifted by a line,
// questions known beforehand, somebody unwell), not a verdict.
//
// All right, all wrong, no answers, or questions of one difficulty: LZ and P
// are NaN. Questions without a finite difficulty are left out. Lengths that do
// not match: [ErrShape].
func FitPerson(answers []int8, difficulty []float64, draws int, rng *rand.Rand) (PersonFit, error) {
	f := PersonFit{LZ: math.NaN(), P: math.NaN()}
	if draws < 0 || draws > 0 && rng == nil {
		return f, fmt.Errorf("person fit with %d draws; give 0 or more, and a source of random numbers: %w", draws, ErrRange)
	}
	var err error
	if f.Ability, err = WLE(answers, difficulty); err != nil {
		return f, err
	}
	if f.Ability.Right == 0 || f.Ability.Right == f.Ability.Answered {
		return f, nil
	}
	var b, p []float64
	var x []bool
	info, mean := 0.0, 0.0
	for i, a := range answers {
		if a < 0 || !finite(difficulty[i]) {
			continue
		}
		b = append(b, difficulty[i])
		x = append(x, a == 1)
		p = append(p, Probability(f.Ability.Theta, difficulty[i]))
		v := Information(f.Ability.Theta, difficulty[i])
		info += v
		mean += v * difficulty[i]
	}
	mean /= info
	expected, variance := 0.0, 0.0
	for i := range b {
		w := mean - b[i]
		expected += p[i] * w
		variance += p[i] * (1 - p[i]) * w * w
	}
	if variance < 1e-12 {
		return f, nil
	}
	lz := func(x []bool) float64 {
		sum := -expected
		for i, right := range x {
			if right {
				sum += mean - b[i]
			}
		}
		return sum / math.Sqrt(variance)
	}
	f.LZ = lz(x)
	f.Enough = len(b) >= MinFitAnswers
	if draws == 0 {
		f.P = distuv.UnitNormal.CDF(f.LZ)
		return f, nil
	}
	s := newPatternSampler(b, f.Ability.Theta, f.Ability.Right)
	low := 1
	for range draws {
		s.draw(x, rng)
		// Ties are settled against the alarm, a hair's breadth allowed.
		if lz(x) <= f.LZ+1e-9 {
			low++
		}
	}
	f.P = float64(low) / float64(draws+1)
	return f, nil
}

// patternSampler draws patterns of right answers with a fixed total under the
// Rasch model, question by question: the chance that question i is right given
// that k of the questions from i on are is ε_i γ(k−1; i+1…) / γ(k; i…).
type patternSampler struct {
	right  int
	chance [][]float64 // [question][right answers left]
}

func newPatternSampler(b []float64, theta float64, right int) *patternSampler {
	n := len(b)
	s := &patternSampler{right: right, chance: make([][]float64, n)}
	// γ of the questions from i on, computed with ε = exp(θ − b)/(1 + exp(θ − b))
	// against 1/(1 + exp(θ − b)), so that every term is a probability and none
	// overflows; the ratio is the same.
	after := make([]float64, right+1)
	after[0] = 1
	for i := n - 1; i >= 0; i-- {
		p := Probability(theta, b[i])
		q := Probability(b[i], theta)
		now := make([]float64, right+1)
		s.chance[i] = make([]float64, right+1)
		for k := range now {
			now[k] = q * after[k]
			if k > 0 {
				hit := p * after[k-1]
				now[k] += hit
				if now[k] > 0 {
					s.chance[i][k] = hit / now[k]
				}
			}
		}
		after = now
	}
	return s
}

func (s *patternSampler) draw(x []bool, rng *rand.Rand) {
	left := s.right
	for i := range x {
		x[i] = rng.Float64() < s.chance[i][left]
		if x[i] {
			left--
		}
	}
}
