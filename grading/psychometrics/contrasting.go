package psychometrics

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// ContrastCut is the outcome of [ContrastingGroups].
type ContrastCut struct {
	// Cut is the score at which passing costs no more than failing.
	Cut float64
	// SE and the bounds of Cut at confidence Level; NaN if Separated.
	SE, Low, High, Level float64
	// Separated is true if every competent person scored above every other, so
	// that any score between them divides the groups and Cut is the middle.
	Separated bool
	// FalsePass and FalseFail count the people of the two groups who would be
	// misjudged by Cut.
	FalsePass, FalseFail int
}

// ContrastingGroups finds the cut score that divides people known from
// elsewhere to be competent from people known not to be yet. A logistic
// regression of the judgement on the score is fitted by maximum likelihood,
//
//	P(competent | x) = 1 / (1 + exp(−(α + β x)))
//
// and the cut is the score where P = c/(1 + c), with c the cost of passing a
// person who is not competent relative to failing one who is (1 if both are as
// bad, more where work can hurt someone). The standard error is by the delta
// method. Source: Livingston & Zieky (1982), Passing Scores, ch. 3; that the
// curve is logistic is common practice.
//
// The groups should be in the proportion in which such people occur, as the cut
// depends on it. Complete separation gives the middle of the gap, whatever the
// cost. Errors: [ErrEmpty] (nobody in a group), [ErrRange] (a score that is not
// finite, a [*DataError] with its row; cost not positive; competent people who
// do not score higher, so that no cut can divide them) or [ErrConstant] (all
// scores equal).
func ContrastingGroups(competent, notYet []float64, cost, level float64) (ContrastCut, error) {
	const name = "contrasting groups"
	out := ContrastCut{SE: math.NaN(), Low: math.NaN(), High: math.NaN(), Level: level}
	if len(competent) == 0 || len(notYet) == 0 {
		return out, fmt.Errorf("%s: %w: %d competent people and %d others; both are needed", name, ErrEmpty, len(competent), len(notYet))
	}
	if !(cost > 0) || !finite(cost) {
		return out, fmt.Errorf("%s: %w: relative cost %g; it must be positive", name, ErrRange, cost)
	}
	var all moments
	for _, group := range [][]float64{competent, notYet} {
		for v, x := range group {
			if !finite(x) {
				return out, &DataError{Row: v + 1, Err: ErrRange, Problem: fmt.Sprintf("%v is not a score", x), Mend: "leave out people without a score"}
			}
			all.add(x, 0)
		}
	}
	if all.xx <= 1e-18*all.n*(1+all.meanX*all.meanX) {
		return out, fmt.Errorf("%s: %w: all scores are %g", name, ErrConstant, competent[0])
	}
	if least, most := slices.Min(competent), slices.Max(notYet); least > most {
		out.Separated = true
		out.Cut = (least + most) / 2
		return out, nil
	}

	// On standardized scores, so that the start and the step sizes suit.
	sd := math.Sqrt(all.xx / all.n)
	z := func(x float64) float64 { return (x - all.meanX) / sd }
	evaluate := func(c, gradient []float64, info *mat.SymDense) float64 {
		ll := 0.0
		clear(gradient)
		info.Zero()
		add := func(x, y float64) {
			eta := c[0] + c[1]*z(x)
			p, w := Probability(eta, 0), Information(eta, 0)
			ll += y*eta - softplus(eta)
			gradient[0] += y - p
			gradient[1] += (y - p) * z(x)
			info.SetSym(0, 0, info.At(0, 0)+w)
			info.SetSym(0, 1, info.At(0, 1)+w*z(x))
			info.SetSym(1, 1, info.At(1, 1)+w*z(x)*z(x))
		}
		for _, x := range competent {
			add(x, 1)
		}
		for _, x := range notYet {
			add(x, 0)
		}
		return ll
	}
	c, info, _, _, err := maximize([]float64{0, 0}, evaluate, nil)
	// Touching groups (the lowest of one equal to the highest of the other) are
	// separated in the limit; the slope grows without bound.
	if least, most := slices.Min(competent), slices.Max(notYet); least == most && (err != nil || c[1] > 20) {
		out.Separated = true
		out.Cut = least
		out.count(competent, notYet)
		return out, nil
	}
	if err != nil {
		return out, fmt.Errorf("%s: %w", name, err)
	}
	if c[1] <= 0 {
		return out, fmt.Errorf("%s: %w: competent people do not score higher than the others (slope %.3g), so this test cannot tell them apart; check the groups",
			name, ErrRange, c[1]/sd)
	}
	at := (math.Log(cost) - c[0]) / c[1]
	out.Cut = all.meanX + sd*at
	covariance, err := invert(info)
	if err != nil {
		return out, fmt.Errorf("%s: %w", name, err)
	}
	// at = (log cost − α)/β: d at = −(dα + at dβ)/β.
	out.SE = sd * math.Sqrt(quadratic([]float64{1, at}, covariance)) / c[1]
	if level > 0 && level < 1 {
		q := distuv.UnitNormal.Quantile((1 + level) / 2)
		out.Low, out.High = out.Cut-q*out.SE, out.Cut+q*out.SE
	}
	out.count(competent, notYet)
	return out, nil
}

func (c *ContrastCut) count(competent, notYet []float64) {
	for _, x := range competent {
		if x < c.Cut {
			c.FalseFail++
		}
	}
	for _, x := range notYet {
		if x >= c.Cut {
			c.FalsePass++
		}
	}
}
