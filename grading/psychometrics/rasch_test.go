package psychometrics

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestProbabilityAtKnownPoints(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct{ theta, b, want float64 }{
		{0, 0, 0.5},
		{math.Log(3), 0, 0.75},
		{0, math.Log(4), 0.2},
		{1000, 0, 1},
		{-1000, 0, 0},
		{-700, 0, math.Exp(-700)}, // not lost to 1 + exp(700)
		{inf, 0, 1}, {-inf, 0, 0}, {0, inf, 0}, {0, -inf, 1},
		{inf, inf, math.NaN()}, {math.NaN(), 0, math.NaN()},
	} {
		closeTo(t, "probability", Probability(c.theta, c.b), c.want, 1e-15*math.Max(c.want, 1e-300))
	}
}

func TestInformationAtKnownPoints(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct{ theta, b, want float64 }{
		{2, 2, 0.25},
		{math.Log(3), 0, 0.1875},
		{40, 0, math.Exp(-40)}, // 1 − P would be 0
		{inf, 0, 0}, {0, inf, 0}, {math.NaN(), 0, math.NaN()},
	} {
		closeTo(t, "information", Information(c.theta, c.b), c.want, 1e-15)
	}
}

func TestProbabilityOfRightAndWrongSumToOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		theta, b := rapid.Float64Range(-30, 30).Draw(t, "theta"), rapid.Float64Range(-30, 30).Draw(t, "b")
		p, q := Probability(theta, b), Probability(b, theta)
		if math.Abs(p+q-1) > 1e-15 {
			t.Errorf("P + Q = %v", p+q)
		}
		if i := Information(theta, b); math.Abs(i-p*q) > 1e-15 {
			t.Errorf("information %v, P Q = %v", i, p*q)
		}
	})
}
