package psychometrics

import "math"

// Probability is the chance that a person of ability theta answers an item of
// difficulty b correctly under the Rasch model,
//
//	P = 1 / (1 + exp(b − theta))
//
// Both are logits. Infinite arguments give the limits 0 and 1; NaN, or two
// infinities of the same sign, give NaN. Source: Rasch (1960), Probabilistic
// Models for Some Intelligence and Attainment Tests.
func Probability(theta, b float64) float64 {
	d := theta - b
	if d < 0 {
		// Dividing by 1 + exp(−d) would overflow first on this side.
		e := math.Exp(d)
		return e / (1 + e)
	}
	return 1 / (1 + math.Exp(-d))
}

// Information is the Fisher information that the answer of a person at theta
// to an item at b carries about theta,
//
//	I = P (1 − P)
//
// It is at most 1/4, where theta equals b. Infinite arguments give 0, NaN
// gives NaN. Source: Lord (1980), Applications of Item Response Theory, ch. 5.
func Information(theta, b float64) float64 {
	// Taken from |theta − b| because 1 − P loses its digits as P nears 1.
	e := math.Exp(-math.Abs(theta - b))
	return e / ((1 + e) * (1 + e))
}
