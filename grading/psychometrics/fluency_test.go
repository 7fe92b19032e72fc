package psychometrics

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// mixedModelTimes are the same numbers as in testdata/fluency.R.
func mixedModelTimes() []TimedAnswer {
	var out []TimedAnswer
	for j := range 12 {
		for i := range 4 {
			if (7*j+3*i)%10 == 9 {
				continue
			}
			y := 3.2 + 0.35*float64(i) - 0.12*float64((j*5)%7-3) +
				0.25*(float64((j*13+i*29)%17)/8-1)*(1+0.3*float64(i))
			out = append(out, TimedAnswer{Person: j, Item: i, Seconds: math.Exp(y)})
		}
	}
	return out
}

// The model is a linear mixed model of ln seconds with a random person and one
// variance per item, so a general-purpose program must find the same numbers:
// R 4.2.2, nlme 3.1-162, lme(method = "ML", weights = varIdent), script in
// testdata/fluency.R.
func TestResponseTimesAgainstMixedModel(t *testing.T) {
	m, err := FitResponseTimes(mixedModelTimes(), 12, 4, false)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []struct{ beta, sd float64 }{
		{3.183527324, 0.1363423678}, {3.476306227, 0.1921733951}, {3.904095778, 0.3213880096}, {4.265475608, 0.2812435531},
	} {
		near(t, "intensity", m.Items[i].Intensity, want.beta, 1e-5)
		near(t, "standard deviation", 1/m.Items[i].Discrimination, want.sd, 1e-5)
	}
	near(t, "SD of speed", m.SpeedSD, 0.2324321, 1e-5)
	near(t, "log-likelihood", m.LogLikelihood, -6.51260555379, 1e-7)
	for j, want := range []float64{-0.237555820, 0.089405549, -0.049724368, -0.121238818, 0.365839587, -0.045340040,
		-0.116854490, -0.210050567, 0.319381508, -0.095053554, -0.220325265, 0.321516279} {
		near(t, "speed", m.People[j].Tau, want, 1e-4)
	}
}

func simulateTimes(people, items, each int, rng *rand.Rand) (answers []TimedAnswer, beta, alpha, tau []float64) {
	beta, alpha, tau = make([]float64, items), make([]float64, items), make([]float64, people)
	for i := range beta {
		beta[i], alpha[i] = 4+0.5*rng.NormFloat64(), 1.5+rng.Float64()
	}
	for j := range tau {
		tau[j] = 0.35 * rng.NormFloat64()
		for range each {
			i := rng.IntN(items)
			answers = append(answers, TimedAnswer{Person: j, Item: i, Right: rng.Float64() < 0.7,
				Seconds: math.Exp(beta[i] - tau[j] + rng.NormFloat64()/alpha[i])})
		}
	}
	return answers, beta, alpha, tau
}

func TestResponseTimesRecoverParameters(t *testing.T) {
	answers, beta, alpha, tau := simulateTimes(300, 15, 25, rand.New(rand.NewPCG(1, 1)))
	m, err := FitResponseTimes(answers, 300, 15, true)
	if err != nil {
		t.Fatal(err)
	}
	for i := range beta {
		near(t, "intensity", m.Items[i].Intensity, beta[i], 0.1)
		near(t, "discrimination", m.Items[i].Discrimination, alpha[i], 0.2)
	}
	near(t, "SD of speed", m.SpeedSD, 0.35, 0.05)
	inside := 0
	for j, s := range m.People {
		if math.Abs(s.Tau-tau[j]) < 1.645*s.SE {
			inside++
		}
	}
	near(t, "share of 90 % intervals that hold the true speed", float64(inside)/300, 0.9, 0.05)

	// The same person, one at a time.
	var mine []TimedAnswer
	for _, a := range answers {
		if a.Person == 7 {
			mine = append(mine, a)
		}
	}
	s := m.Speed(mine)
	near(t, "speed alone", s.Tau, m.People[7].Tau, 1e-6)
	near(t, "its SE", s.SE, m.People[7].SE, 1e-6)
}

func TestFluencySaysWhetherThePageIsFoundInTime(t *testing.T) {
	answers, beta, _, _ := simulateTimes(300, 6, 30, rand.New(rand.NewPCG(2, 1)))
	m, err := FitResponseTimes(answers, 300, 6, true)
	if err != nil {
		t.Fatal(err)
	}
	at := func(tau float64, n int) []TimedAnswer {
		var out []TimedAnswer
		for k := range n {
			out = append(out, TimedAnswer{Item: k % 6, Right: true, Seconds: math.Exp(beta[k%6] - tau)})
		}
		return out
	}
	all := []int{0, 1, 2, 3, 4, 5}
	target := math.Exp(4.0)
	quick, slow := m.Fluency(at(0.7, 20), all, 0.9, target), m.Fluency(at(-0.7, 20), all, 0.9, target)
	if !(quick.Within > slow.Within+0.3 && quick.Typical < slow.Typical && quick.Rushed == 0) {
		t.Errorf("quick %+v, slow %+v", quick, slow)
	}
	near(t, "right and within", quick.RightWithin, 0.9*quick.Within, 1e-12)
	if !(quick.Low < quick.Typical && quick.Typical < quick.High && quick.Enough) {
		t.Errorf("interval of %+v", quick)
	}
	few := m.Fluency(at(0.7, 3), all, 0.9, target)
	if few.Enough || few.High/few.Low < quick.High/quick.Low {
		t.Errorf("three answers are not enough: %+v", few)
	}
	none := m.Fluency(nil, all, 0.9, target)
	near(t, "nobody's speed", none.Tau, 0, 0)
	near(t, "its SE", none.SE, m.SpeedSD, 1e-12)
	if f := m.Fluency(at(0, 9), nil, 0.9, target); !math.IsNaN(f.Within) {
		t.Errorf("no items: %+v", f)
	}

	// Two wrong answers in a twentieth of the time stand out, a right one does not.
	hasty := at(0, 20)
	for k := range 3 {
		hasty[k].Seconds /= 20
		hasty[k].Right = k == 2
	}
	if f := m.Fluency(hasty, all, 0.9, target); f.Rushed != 2 {
		t.Errorf("rushed = %d", f.Rushed)
	}
	if z := m.Residual(TimedAnswer{Item: 99, Seconds: 3}, Speed{}); !math.IsNaN(z) {
		t.Errorf("unknown item gives %v", z)
	}
}

func TestResponseTimesOnPoorData(t *testing.T) {
	if _, err := FitResponseTimes(nil, 3, 3, true); !errors.Is(err, ErrEmpty) {
		t.Errorf("no answers: %v", err)
	}
	var de *DataError
	for name, a := range map[string]TimedAnswer{
		"item outside": {Person: 0, Item: 3, Seconds: 4}, "person outside": {Person: -1, Seconds: 4},
		"no time": {Seconds: 0}, "NaN": {Seconds: math.NaN()}, "endless": {Seconds: math.Inf(1)},
	} {
		if _, err := FitResponseTimes([]TimedAnswer{{Seconds: 1}, a}, 3, 3, true); !errors.As(err, &de) || de.Row != 2 {
			t.Errorf("%s: %v", name, err)
		}
	}
	same := []TimedAnswer{{Person: 0, Item: 0, Seconds: 9}, {Person: 1, Item: 0, Seconds: 9}, {Person: 1, Item: 1, Seconds: 9}}
	m, err := FitResponseTimes(same, 3, 3, true)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "intensity of equal times", m.Items[0].Intensity, math.Log(9), 1e-9)
	if !math.IsNaN(m.Items[2].Intensity) || !math.IsNaN(m.Items[2].Discrimination) {
		t.Errorf("an item nobody answered: %+v", m.Items[2])
	}
	if p := m.People[2]; p.Tau != 0 || p.Answers != 0 || math.Abs(p.SE-m.SpeedSD) > 1e-12 {
		t.Errorf("a person without answers: %+v", p)
	}
	if _, err := FitResponseTimes([]TimedAnswer{{Seconds: 5}}, 1, 1, false); err != nil {
		t.Errorf("one answer: %v", err)
	}
}
