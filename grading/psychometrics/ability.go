package psychometrics

import (
	"fmt"
	"math"
)

// Ability is an estimate of one person's ability in logits.
type Ability struct {
	Theta, SE float64
	// Right of Answered items were used: those with an answer and a finite
	// difficulty.
	Right, Answered int
}

// Estimator computes an ability from answers (one per item: 0, 1 or Missing)
// and item difficulties in logits (of the same length, else [ErrShape]). Items
// whose difficulty is not finite were not calibrated and are left out.
type Estimator func(answers []int8, difficulty []float64) (Ability, error)

// ML is the maximum likelihood estimate: the theta at which the expected number
// right equals the number right,
//
//	r = Σ P_i(theta),   SE = 1/√I,  I = Σ P_i (1 − P_i)
//
// All right gives +Inf and none right −Inf, both with an infinite SE; no
// answers give NaN with an infinite SE. It is biased outwards; [WLE] is
// preferred for people, ML for residuals ([Fit]). Source: Lord (1980), ch. 4.
func ML(answers []int8, difficulty []float64) (Ability, error) {
	a, b, err := usable(answers, difficulty)
	if err != nil || a.Answered == 0 {
		return a, err
	}
	switch a.Right {
	case 0:
		a.Theta = math.Inf(-1)
		return a, nil
	case a.Answered:
		a.Theta = math.Inf(1)
		return a, nil
	}
	right := float64(a.Right)
	low, high := bracket(b)
	a.Theta = root(low, high, func(theta float64) float64 {
		sum := 0.0
		for _, bi := range b {
			sum += Probability(theta, bi)
		}
		return right - sum
	})
	a.SE = standardErrorAt(a.Theta, b)
	return a, nil
}

// WLE is Warm's weighted likelihood estimate, the theta that maximizes the
// likelihood times √I(theta), found as the root of
//
//	r − Σ P_i + J / (2 I) = 0,   I = Σ P_i Q_i,   J = Σ P_i Q_i (Q_i − P_i)
//
// with SE = 1/√I. It removes the first-order bias of the maximum likelihood
// estimate and is finite for all and for none right. Where a few items far
// apart give more than one root, the one of the highest weighted likelihood is
// taken (the lowest of equals). No answers give NaN with an infinite SE.
// Source: Warm (1989), Psychometrika 54.
func WLE(answers []int8, difficulty []float64) (Ability, error) {
	a, b, err := usable(answers, difficulty)
	if err != nil || a.Answered == 0 {
		return a, err
	}
	right := float64(a.Right)
	slope := func(theta float64) float64 {
		sum, info, j := 0.0, 0.0, 0.0
		for _, bi := range b {
			w := Information(theta, bi)
			p := Probability(theta, bi)
			sum += p
			info += w
			j += w * (1 - 2*p)
		}
		return right - sum + j/(2*info)
	}
	low, high := bracket(b)
	a.Theta = root(low, high, slope)
	// The weighted likelihood has one maximum where the information is above
	// one half throughout the plausible range; otherwise look for others.
	if standardErrorAt(a.Theta, b) > 1 || len(b) < 10 {
		a.Theta = highestRoot(low, high, slope, func(theta float64) float64 {
			ll, info := right*theta, 0.0
			for _, bi := range b {
				ll -= softplus(theta - bi)
				info += Information(theta, bi)
			}
			return ll + math.Log(info)/2
		})
	}
	a.SE = standardErrorAt(a.Theta, b)
	return a, nil
}

// EAP gives the estimator of the posterior mean of ability under a normal prior
// with the mean and standard deviation given, its SE being the posterior
// standard deviation,
//
//	E(theta | answers) = ∫ theta L(theta) φ(theta) dtheta / ∫ L(theta) φ(theta) dtheta
//
// by the trapezoid rule on 121 points over the prior mean ± 6 sd. It is finite
// for all and none right and is drawn towards the prior mean; with no answers
// it is the prior itself. sd must be positive ([ErrRange] otherwise). Source:
// Bock & Mislevy (1982), Applied Psychological Measurement 6.
func EAP(mean, sd float64) Estimator {
	return func(answers []int8, difficulty []float64) (Ability, error) {
		if !(sd > 0) || !finite(sd) || !finite(mean) {
			return Ability{}, fmt.Errorf("posterior mean: %w: prior with mean %g and standard deviation %g; the second must be positive", ErrRange, mean, sd)
		}
		a, b, err := usable(answers, difficulty)
		if err != nil {
			return a, err
		}
		const points, reach = 121, 6.0
		var logs, thetas [points]float64
		highest := math.Inf(-1)
		for q := range points {
			z := -reach + 2*reach*float64(q)/(points-1)
			theta := mean + sd*z
			l := float64(a.Right)*theta - z*z/2
			for _, bi := range b {
				l -= softplus(theta - bi)
			}
			thetas[q], logs[q] = theta, l
			highest = max(highest, l)
		}
		var weight, first, second float64
		for q, l := range logs {
			w := math.Exp(l - highest)
			d := thetas[q] - mean // about the prior mean, against cancellation
			weight += w
			first += w * d
			second += w * d * d
		}
		m := first / weight
		a.Theta = mean + m
		a.SE = math.Sqrt(max(0, second/weight-m*m))
		return a, nil
	}
}

// Abilities applies an estimator to every person, in the order of the rows.
// People with the same items and number right are computed once, since that is
// all that an estimate under the Rasch model depends on; an estimator that
// looks at anything else must not be used with it. Errors: [ErrShape] if there
// is not one difficulty per item, and those of the estimator. Nobody gives an
// empty slice.
func Abilities(r Responses, difficulty []float64, estimate Estimator) ([]Ability, error) {
	if len(difficulty) != r.items {
		return nil, fmt.Errorf("abilities: %w: %d difficulties for %d items", ErrShape, len(difficulty), r.items)
	}
	out := make([]Ability, r.people)
	known := map[string]Ability{}
	var key []byte
	for v := range r.people {
		row := r.Row(v)
		key = scoreKey(key, row, difficulty)
		a, seen := known[string(key)]
		if !seen {
			var err error
			if a, err = estimate(row, difficulty); err != nil {
				return nil, fmt.Errorf("abilities: row %d: %w", v+1, err)
			}
			known[string(key)] = a
		}
		out[v] = a
	}
	return out, nil
}

// SeparationReliability is the share of the variance of ability estimates that
// is not error,
//
//	(s² − mean SE²) / s²
//
// the Rasch counterpart of alpha, which unlike alpha is defined when people saw
// different items. People without a finite estimate are left out; fewer than
// two, or estimates that do not vary, give NaN. It is negative if error exceeds
// the spread. Source: Wright & Masters (1982), Rating Scale Analysis, ch. 5.
func SeparationReliability(abilities []Ability) float64 {
	var spread moments
	errors := 0.0
	for _, a := range abilities {
		if finite(a.Theta) && finite(a.SE) {
			spread.add(a.Theta, 0)
			errors += a.SE * a.SE
		}
	}
	variance := spread.xx / (spread.n - 1)
	if spread.n < 2 || variance <= 0 {
		return math.NaN()
	}
	return (variance - errors/spread.n) / variance
}

// usable counts the answers that can be used and lists their difficulties. The
// ability it returns is what no answers give.
func usable(answers []int8, difficulty []float64) (Ability, []float64, error) {
	a := Ability{Theta: math.NaN(), SE: math.Inf(1)}
	if len(answers) != len(difficulty) {
		return a, nil, fmt.Errorf("ability: %w: %d answers and %d difficulties", ErrShape, len(answers), len(difficulty))
	}
	b := make([]float64, 0, len(answers))
	for i, x := range answers {
		if x >= 0 && finite(difficulty[i]) {
			b = append(b, difficulty[i])
			a.Answered++
			a.Right += int(x)
		}
	}
	return a, b, nil
}

// bracket holds every finite ability estimate for the items: beyond it the
// expected score is within e^−20 of none or all right.
func bracket(b []float64) (low, high float64) {
	low, high = b[0], b[0]
	for _, x := range b {
		low, high = min(low, x), max(high, x)
	}
	reach := 20 + math.Log(float64(len(b)))
	return low - reach, high + reach
}

// root finds where f, positive at low and negative at high, crosses zero:
// bisection, made faster by the secant of the bracket where that helps
// (the Illinois rule).
func root(low, high float64, f func(float64) float64) float64 {
	fLow, fHigh := f(low), f(high)
	side := 0
	for range 200 {
		x := (low*fHigh - high*fLow) / (fHigh - fLow)
		if !(x > low && x < high) {
			x = (low + high) / 2
		}
		v := f(x)
		switch {
		case v == 0:
			return x
		case v > 0:
			low, fLow = x, v
			if side > 0 {
				fHigh /= 2
			}
			side = 1
		default:
			high, fHigh = x, v
			if side < 0 {
				fLow /= 2
			}
			side = -1
		}
		if high-low < 1e-11*(1+math.Abs(x)) || math.Abs(v) < 1e-13 {
			return x
		}
	}
	return (low + high) / 2
}

// highestRoot looks for every downward crossing of f on a grid and returns the
// one where height is largest.
func highestRoot(low, high float64, f, height func(float64) float64) float64 {
	const step = 0.25
	best, top := math.NaN(), math.Inf(-1)
	before := f(low)
	for x := low; x < high; x += step {
		to := min(x+step, high)
		after := f(to)
		if before > 0 && after <= 0 {
			at := root(x, to, f)
			if h := height(at); h > top+1e-9 {
				best, top = at, h
			}
		}
		before = after
	}
	return best
}

func standardErrorAt(theta float64, b []float64) float64 {
	info := 0.0
	for _, bi := range b {
		info += Information(theta, bi)
	}
	return 1 / math.Sqrt(info)
}

// softplus is log(1 + exp(x)) without overflow.
func softplus(x float64) float64 {
	if x > 0 {
		return x + math.Log1p(math.Exp(-x))
	}
	return math.Log1p(math.Exp(x))
}
