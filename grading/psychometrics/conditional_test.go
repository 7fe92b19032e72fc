package psychometrics

import "testing"

func TestConditionalOnTheLawTest(t *testing.T) {
	c, err := Conditional(lsat6(t))
	if err != nil {
		t.Fatal(err)
	}
	// Source: R eRm 1.0-2, RM(), on the data of Bock & Lieberman (1970).
	closeToAll(t, "difficulty", c.Difficulty, []float64{-1.2561, 0.4749, 1.2360, 0.1684, -0.6232}, 1e-4)
	closeToAll(t, "SE", c.SE, []float64{.1044, .0699, .0688, .0726, .0859}, 1e-4)
	closeTo(t, "conditional log-likelihood", c.LogLikelihood, -1091.57, 0.01)
}

func TestMarginalX(t *testing.T) {
	c, err := Marginal(lsat6(t))
	if err != nil {
		t.Fatal(err)
	}
	t.Log(c)
	closeToAll(t, "difficulty", c.Difficulty, []float64{-3.6153, -1.3224, -0.3176, -1.7301, -2.7802}, 1e-3)
	closeTo(t, "slope", c.Slope, 0.7551, 1e-4)
	closeTo(t, "ll", c.LogLikelihood, -2466.94, 1e-2)
}
