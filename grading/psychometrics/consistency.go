package psychometrics

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

// Classification says how far pass and fail can be trusted.
type Classification struct {
	// Consistency is the probability that a person would get the same result on
	// another form of the same test; Kappa is the part of it beyond chance,
	// (Consistency − Chance) / (1 − Chance), with Chance the consistency of two
	// unrelated forms with these pass rates. Kappa is NaN if everybody or
	// nobody is expected to pass.
	Consistency, Chance, Kappa float64
	// Accuracy is the probability that the result is the one that the person's
	// true score deserves; FalsePass and FalseFail are the two ways in which it
	// is not. The three sum to one.
	Accuracy, FalsePass, FalseFail float64
	// PassRate is the expected share of people who pass.
	PassRate float64
	// EffectiveLength is the number of right-or-wrong items that would give the
	// same reliability; for Subkoviak the number of items.
	EffectiveLength int
	// TrueScore is the distribution of true scores that was fitted; zero for
	// Subkoviak, which fits none.
	TrueScore BetaDistribution
}

// BetaDistribution is a beta distribution on [Lower, Upper].
type BetaDistribution struct {
	Lower, Upper, Alpha, Beta float64
	// Parameters that were fitted to moments: 4, or 2 where four moments gave
	// no valid distribution and Lower and Upper were set to 0 and 1.
	Parameters int
}

// LivingstonLewis estimates consistency and accuracy of pass or fail from one
// administration of a test with any kind of scoring. scores has one value per
// person between minimum and maximum; people with cut or more pass; reliability
// is that of the score, strictly between 0 and 1.
//
// The method: the test is taken to work like ñ right-or-wrong items, the
// effective length
//
//	ñ = [(μ − min)(max − μ) − ρ σ²] / [σ² (1 − ρ)]
//
// rounded; true scores, as shares of max − min, have a four-parameter beta
// distribution with the mean, variance, skewness and kurtosis that the scores
// on the ñ scale imply (by their factorial moments); the score on another form,
// given the true score τ, is binomial(ñ, τ), and it passes if it is at least
// ñ (cut − min)/(max − min). Consistency is E[p² + (1−p)²] with p the
// probability of passing given τ; accuracy is E[p] over τ at or above the cut
// plus E[1−p] over τ below it. Where four moments give no distribution within
// 0 and 1, two parameters are fitted.
//
// Sources: Livingston & Lewis (1995), J. Educational Measurement 32; beta
// moments: Lord (1965), Psychometrika 30; consistency from the fitted model
// rather than from adjusted margins: Hanson (1991), ACT Research Report 91-5.
//
// Errors: [ErrEmpty] (fewer than two people), [ErrConstant] (scores do not
// vary), [ErrRange] (a score outside minimum..maximum, a [*DataError] with its
// row; reliability, cut not above minimum and at most maximum, or an effective
// length below 2).
func LivingstonLewis(scores []float64, minimum, maximum, reliability, cut float64) (Classification, error) {
	const name = "Livingston–Lewis"
	m, err := checkScores(name, scores, minimum, maximum, reliability, cut)
	if err != nil {
		return Classification{}, err
	}
	variance := m.xx / m.n
	ratio := ((m.meanX-minimum)*(maximum-m.meanX) - reliability*variance) / (variance * (1 - reliability))
	length := int(math.Round(ratio))
	if length < 2 {
		return Classification{}, fmt.Errorf("%s: %w: scores spread so widely between %g and %g cannot have a reliability as low as %g; check all three",
			name, ErrRange, minimum, maximum, reliability)
	}
	scaled := make([]float64, len(scores))
	for v, x := range scores {
		scaled[v] = (x - minimum) / (maximum - minimum) * float64(length)
	}
	dist, err := fitTrueScores(scaled, length)
	if err != nil {
		return Classification{}, fmt.Errorf("%s: %w", name, err)
	}
	share := (cut - minimum) / (maximum - minimum)
	out := classify(dist, length, share)
	out.EffectiveLength, out.TrueScore = length, dist
	return out, nil
}

// Subkoviak estimates consistency and accuracy of pass or fail from one
// administration of items that are right or wrong. right has the number right
// of each person out of items; people with cut or more pass. Each person's
// chance to answer an item right is estimated by regression to the mean,
//
//	p_v = ρ x_v/k + (1 − ρ) x̄/k
//
// the score on another form is binomial(k, p_v), and with P_v its probability
// of reaching the cut, consistency is the mean of P_v² + (1 − P_v)². Accuracy,
// which is not in the source, takes p_v ≥ cut/k as the result deserved.
// Source: Subkoviak (1976), J. Educational Measurement 13. It is simpler than
// [LivingstonLewis] and needs no distribution to be fitted, so that it never
// fails on small numbers; as regressed scores vary less than true ones, it errs
// on the low side where most people are near the cut.
//
// Errors: [ErrEmpty] (nobody), [ErrRange] (a number right outside 0..items, a
// [*DataError] with its row; reliability outside 0..1; cut outside 1..items).
func Subkoviak(right []int, items int, reliability float64, cut int) (Classification, error) {
	const name = "Subkoviak"
	if len(right) == 0 {
		return Classification{}, fmt.Errorf("%s: %w: no scores", name, ErrEmpty)
	}
	if !(reliability >= 0 && reliability <= 1) {
		return Classification{}, fmt.Errorf("%s: %w: reliability %g; it must be from 0 to 1", name, ErrRange, reliability)
	}
	if cut < 1 || cut > items {
		return Classification{}, fmt.Errorf("%s: %w: cut %d of %d items; it must be from 1 to the number of items", name, ErrRange, cut, items)
	}
	k, mean := float64(items), 0.0
	for v, x := range right {
		if x < 0 || x > items {
			return Classification{}, &DataError{Row: v + 1, Err: ErrRange,
				Problem: fmt.Sprintf("%d right of %d items", x, items), Mend: "check the number of items"}
		}
		mean += float64(x) / float64(len(right))
	}
	out := Classification{EffectiveLength: items}
	for _, x := range right {
		p := (reliability*float64(x) + (1-reliability)*mean) / k
		// A share equal to the cut deserves to pass; allow for rounding.
		out.weigh(1/float64(len(right)), reaches(items, p, cut), p*k >= float64(cut)-1e-9)
	}
	out.finish()
	return out, nil
}

func checkScores(name string, scores []float64, minimum, maximum, reliability, cut float64) (moments, error) {
	var m moments
	if len(scores) < 2 {
		return m, fmt.Errorf("%s: %w: fewer than two scores", name, ErrEmpty)
	}
	if !(reliability > 0 && reliability < 1) {
		return m, fmt.Errorf("%s: %w: reliability %g; it must be above 0 and below 1", name, ErrRange, reliability)
	}
	if !(minimum < maximum) || !(cut > minimum && cut <= maximum) {
		return m, fmt.Errorf("%s: %w: cut %g with scores from %g to %g; the cut must be above the minimum and at most the maximum",
			name, ErrRange, cut, minimum, maximum)
	}
	for v, x := range scores {
		if !(x >= minimum && x <= maximum) {
			return m, &DataError{Row: v + 1, Err: ErrRange,
				Problem: fmt.Sprintf("score %g is outside %g to %g", x, minimum, maximum), Mend: "check the minimum and maximum, and leave out people without a score"}
		}
		m.add(x, 0)
	}
	if m.xx <= 1e-18*m.n*(maximum-minimum)*(maximum-minimum) {
		return m, fmt.Errorf("%s: %w: all scores are %g", name, ErrConstant, scores[0])
	}
	return m, nil
}

// fitTrueScores fits the distribution of true shares to scores on the scale of
// length right-or-wrong items. E[τ^j] is the mean of the j-th factorial power
// of the score over that of the length.
func fitTrueScores(scores []float64, length int) (BetaDistribution, error) {
	var raw [5]float64
	n := float64(length)
	for _, x := range scores {
		power := 1.0
		for j := 1; j <= 4 && j <= length; j++ {
			power *= (x - float64(j-1)) / (n - float64(j-1))
			raw[j] += power / float64(len(scores))
		}
	}
	mean := raw[1]
	variance := raw[2] - mean*mean
	if variance <= 1e-12 { // only by the rounding of the length
		return BetaDistribution{}, fmt.Errorf("%w: the scores vary no more than by chance, so true scores do not differ", ErrConstant)
	}
	if length >= 4 {
		third := raw[3] - 3*mean*raw[2] + 2*mean*mean*mean
		fourth := raw[4] - 4*mean*raw[3] + 6*mean*mean*raw[2] - 3*mean*mean*mean*mean
		if d, ok := betaFromMoments(mean, variance, third/math.Pow(variance, 1.5), fourth/(variance*variance)); ok {
			return d, nil
		}
	}
	sum := mean*(1-mean)/variance - 1
	if sum <= 0 {
		return BetaDistribution{}, fmt.Errorf("%w: the scores vary more than true scores between none and all right could", ErrRange)
	}
	return BetaDistribution{Upper: 1, Alpha: mean * sum, Beta: (1 - mean) * sum, Parameters: 2}, nil
}

// betaFromMoments finds the four-parameter beta distribution with these
// moments; ok is false if there is none within 0 and 1.
func betaFromMoments(mean, variance, skewness, kurtosis float64) (d BetaDistribution, ok bool) {
	g, s2 := kurtosis, skewness*skewness
	r := 6 * (g - s2 - 1) / (6 + 3*s2 - 2*g)
	root := 1 - 24*(r+1)/((r+2)*(r+3)*g-3*(r-6)*(r+1))
	if !(r > 0) || !(root >= -1e-9) {
		return d, false
	}
	half := math.Sqrt(max(0, root)) // 0 for symmetric distributions
	a, b := r/2*(1-half), r/2*(1+half)
	if skewness < 0 {
		a, b = b, a
	}
	if !(a > 0 && b > 0) {
		return d, false
	}
	width := math.Sqrt(variance * (a + b + 1) / (a * b))
	d = BetaDistribution{Lower: mean - a*width, Upper: mean + b*width, Alpha: a, Beta: b, Parameters: 4}
	return d, finite(d.Lower) && finite(d.Upper) && d.Lower >= 0 && d.Upper <= 1
}

// classify integrates over the distribution of true shares, separately below
// and above the cut, in terms of its distribution function u: E[g(τ)] =
// ∫ g(Q(u)) du has no poles where the density has.
func classify(d BetaDistribution, length int, cut float64) Classification {
	const points = 100
	beta := distuv.Beta{Alpha: d.Alpha, Beta: d.Beta}
	need := int(math.Ceil(float64(length)*cut - 1e-9))
	at := beta.CDF(min(max((cut-d.Lower)/(d.Upper-d.Lower), 0), 1))
	var out Classification
	x, w := make([]float64, points), make([]float64, points)
	for _, part := range []struct {
		low, high float64
		pass      bool
	}{{0, at, false}, {at, 1, true}} {
		if part.high <= part.low {
			continue
		}
		quad.Legendre{}.FixedLocations(x, w, part.low, part.high)
		for i := range x {
			share := d.Lower + (d.Upper-d.Lower)*beta.Quantile(x[i])
			out.weigh(w[i], reaches(length, share, need), part.pass)
		}
	}
	out.finish()
	return out
}

// weigh adds people who pass with probability p and deserve to or not.
func (c *Classification) weigh(weight, p float64, deserved bool) {
	c.PassRate += weight * p
	c.Consistency += weight * (p*p + (1-p)*(1-p))
	if deserved {
		c.Accuracy += weight * p
		c.FalseFail += weight * (1 - p)
	} else {
		c.Accuracy += weight * (1 - p)
		c.FalsePass += weight * p
	}
}

func (c *Classification) finish() {
	c.Chance = c.PassRate*c.PassRate + (1-c.PassRate)*(1-c.PassRate)
	c.Kappa = (c.Consistency - c.Chance) / (1 - c.Chance)
}

// reaches is the probability that a binomial(n, p) count is need or more, for
// need from 1 to n.
func reaches(n int, p float64, need int) float64 {
	switch {
	case p <= 0:
		return 0
	case p >= 1:
		return 1
	}
	// P(X ≥ c) is the distribution function of beta(c, n−c+1) at p.
	return distuv.Beta{Alpha: float64(need), Beta: float64(n - need + 1)}.CDF(p)
}
