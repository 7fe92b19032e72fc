package psychometrics

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// answersWith gives the first right of n items right and the others wrong.
func answersWith(right, n int) []int8 {
	out := make([]int8, n)
	for i := range right {
		out[i] = 1
	}
	return out
}

func mustEstimate(t testing.TB, e Estimator, answers []int8, b []float64) Ability {
	t.Helper()
	a, err := e(answers, b)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// With k items of difficulty 0, Warm's estimate is log((r + ½)/(k − r + ½)).
func TestWLEOfEqualItemsHasAClosedForm(t *testing.T) {
	for _, k := range []int{1, 2, 5, 30, 200} {
		for r := 0; r <= k; r += max(1, k/7) {
			a := mustEstimate(t, WLE, answersWith(r, k), make([]float64, k))
			closeTo(t, "theta", a.Theta, math.Log((float64(r)+0.5)/(float64(k-r)+0.5)), 1e-9)
			p := Probability(a.Theta, 0)
			closeTo(t, "SE", a.SE, 1/math.Sqrt(float64(k)*p*(1-p)), 1e-8)
			if a.Right != r || a.Answered != k {
				t.Errorf("used %d of %d, want %d of %d", a.Right, a.Answered, r, k)
			}
		}
	}
}

func TestMLOfEqualItemsIsTheLogOdds(t *testing.T) {
	a := mustEstimate(t, ML, answersWith(15, 20), make([]float64, 20))
	closeTo(t, "theta", a.Theta, math.Log(3), 1e-9)
	closeTo(t, "SE", a.SE, 1/math.Sqrt(20*0.1875), 1e-8)
}

func TestMLOfNoneAndAllRightIsInfinite(t *testing.T) {
	b := []float64{-1, 0, 1}
	none, all := mustEstimate(t, ML, answersWith(0, 3), b), mustEstimate(t, ML, answersWith(3, 3), b)
	closeTo(t, "none right", none.Theta, math.Inf(-1), 0)
	closeTo(t, "all right", all.Theta, math.Inf(1), 0)
	closeTo(t, "SE of none", none.SE, math.Inf(1), 0)
	closeTo(t, "SE of all", all.SE, math.Inf(1), 0)
}

// Source: R's optimize() and integrate() on the published formulas; see
// testdata/reference/base.R.
func TestAbilitiesAgreeWithR(t *testing.T) {
	var want struct {
		Ability struct {
			Difficulty, WLE, EAP, Prior []float64
			EAPSD                       []float64 `json:"eap_sd"`
		}
	}
	referenceJSON(t, "base.json", &want)
	w := want.Ability
	k := len(w.Difficulty)
	if len(w.WLE) != k+1 || len(w.EAP) != k+1 {
		t.Fatalf("%d and %d recorded estimates for %d items", len(w.WLE), len(w.EAP), k)
	}
	for r := range w.WLE {
		closeTo(t, "WLE", mustEstimate(t, WLE, answersWith(r, k), w.Difficulty).Theta, w.WLE[r], 1e-5)
		a := mustEstimate(t, EAP(w.Prior[0], w.Prior[1]), answersWith(r, k), w.Difficulty)
		closeTo(t, "EAP", a.Theta, w.EAP[r], 1e-6)
		closeTo(t, "posterior SD", a.SE, w.EAPSD[r], 5e-6) // as far as integrate() can be trusted
	}
}

func TestWLEMaximizesTheWeightedLikelihood(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := rapid.SliceOfN(rapid.Float64Range(-6, 6), 1, 30).Draw(t, "b")
		r := rapid.IntRange(0, len(b)).Draw(t, "right")
		a, err := WLE(answersWith(r, len(b)), b)
		if err != nil {
			t.Fatal(err)
		}
		height := func(theta float64) float64 {
			ll, info := float64(r)*theta, 0.0
			for _, bi := range b {
				ll -= softplus(theta - bi)
				info += Information(theta, bi)
			}
			return ll + math.Log(info)/2
		}
		top := height(a.Theta)
		for theta := -16.0; theta <= 16; theta += 0.05 {
			if height(theta) > top+1e-8 {
				t.Fatalf("theta %v is better (%v) than %v (%v)", theta, height(theta), a.Theta, top)
			}
		}
	})
}

// Two items five logits apart and one right: two maxima of the same height, and
// the middle between them is the worst place.
func TestWLEOfTwoMaximaTakesTheLower(t *testing.T) {
	a := mustEstimate(t, WLE, []int8{1, 0}, []float64{-2.5, 2.5})
	if !(a.Theta < -0.5) {
		t.Errorf("theta = %v, want the maximum near the easier item", a.Theta)
	}
}

func TestAbilityUsesOnlyAnswersToCalibratedItems(t *testing.T) {
	inf := math.Inf(1)
	answers := []int8{1, Missing, 0, 1, 0, 1}
	b := []float64{-0.5, 3, 0.7, math.NaN(), inf, -inf}
	for name, e := range map[string]Estimator{"WLE": WLE, "ML": ML, "EAP": EAP(0, 1)} {
		got := mustEstimate(t, e, answers, b)
		want := mustEstimate(t, e, []int8{1, 0}, []float64{-0.5, 0.7})
		if got != want {
			t.Errorf("%s: %+v, want %+v", name, got, want)
		}
	}
}

func TestAbilityOfNoAnswersIsUnknown(t *testing.T) {
	none := []int8{Missing, Missing}
	for name, e := range map[string]Estimator{"WLE": WLE, "ML": ML} {
		a := mustEstimate(t, e, none, []float64{0, 1})
		if !math.IsNaN(a.Theta) || !math.IsInf(a.SE, 1) || a.Answered != 0 {
			t.Errorf("%s of no answers: %+v", name, a)
		}
	}
	a := mustEstimate(t, EAP(0.4, 1.5), none, []float64{0, 1})
	closeTo(t, "EAP is the prior mean", a.Theta, 0.4, 1e-9)
	closeTo(t, "and its SD", a.SE, 1.5, 1e-4)
}

func TestEAPIsFiniteForPerfectScoresAndDrawnToThePrior(t *testing.T) {
	b := []float64{-1, 0, 1}
	for r := 0; r <= 3; r++ {
		strong := mustEstimate(t, EAP(0, 0.3), answersWith(r, 3), b)
		weak := mustEstimate(t, EAP(0, 3), answersWith(r, 3), b)
		if !finite(strong.Theta) || !finite(weak.Theta) || math.Abs(strong.Theta) > math.Abs(weak.Theta) {
			t.Errorf("%d right: %v under a strong prior, %v under a weak one", r, strong.Theta, weak.Theta)
		}
	}
}

func TestEstimatorsRefuseWrongArguments(t *testing.T) {
	for name, e := range map[string]Estimator{"WLE": WLE, "ML": ML, "EAP": EAP(0, 1)} {
		if _, err := e([]int8{1}, []float64{0, 1}); err == nil {
			t.Errorf("%s accepts 1 answer and 2 difficulties", name)
		} else {
			wantError(t, err, ErrShape, "1 answers and 2 difficulties")
		}
	}
	for _, sd := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		_, err := EAP(0, sd)([]int8{1}, []float64{0})
		wantError(t, err, ErrRange)
	}
	_, err := Abilities(New(2, 3), []float64{1}, WLE)
	wantError(t, err, ErrShape, "1 difficulties for 3 items")
}

func TestAbilitiesAreThoseOfEachPerson(t *testing.T) {
	r, _, b := simulate(21, 200, 70, 1.5, 0.15)
	for name, e := range map[string]Estimator{"WLE": WLE, "ML": ML, "EAP": EAP(0, 1.5)} {
		all, err := Abilities(r, b, e)
		if err != nil {
			t.Fatal(err)
		}
		for v, got := range all {
			want := mustEstimate(t, e, r.Row(v), b)
			closeTo(t, name, got.Theta, want.Theta, 1e-9)
			closeTo(t, name+" SE", got.SE, want.SE, 1e-8)
		}
	}
	none, err := Abilities(Responses{}, nil, WLE)
	if err != nil || len(none) != 0 {
		t.Errorf("abilities of nobody: %v, %v", none, err)
	}
}

// What Warm's estimate is for: nearly no bias where maximum likelihood has some.
func TestWLEHasLessBiasThanML(t *testing.T) {
	const people, items, theta = 20000, 20, 1.5
	able := make([]float64, people)
	for v := range able {
		able[v] = theta
	}
	b := make([]float64, items)
	for i := range b {
		b[i] = -2 + 4*float64(i)/(items-1)
	}
	rng := newRand(22)
	r := answersOf(rng, able, b, 1)
	warm, err := Abilities(r, b, WLE)
	if err != nil {
		t.Fatal(err)
	}
	plain, err := Abilities(r, b, ML)
	if err != nil {
		t.Fatal(err)
	}
	var w, m moments
	for v := range warm {
		if finite(plain[v].Theta) {
			w.add(warm[v].Theta, 0)
			m.add(plain[v].Theta, 0)
		}
	}
	var all moments
	for _, a := range warm {
		all.add(a.Theta, 0)
	}
	if math.Abs(all.meanX-theta) > 0.02 {
		t.Errorf("mean WLE %v, want %v ± 0.02", all.meanX, theta)
	}
	if m.meanX < w.meanX+0.03 {
		t.Errorf("mean ML %v is not further out than WLE %v", m.meanX, w.meanX)
	}
}

func TestSeparationReliability(t *testing.T) {
	closeTo(t, "variance 1, error ¼", SeparationReliability([]Ability{
		{Theta: -1, SE: 0.5}, {Theta: 0, SE: 0.5}, {Theta: 1, SE: 0.5},
		{Theta: math.Inf(1), SE: math.Inf(1)}, {Theta: math.NaN(), SE: math.Inf(1)}, // left out
	}), 0.75, 1e-12)
	for name, a := range map[string][]Ability{
		"nobody": nil, "one": {{Theta: 1, SE: 1}}, "all alike": {{Theta: 1, SE: 1}, {Theta: 1, SE: 1}},
	} {
		closeTo(t, name, SeparationReliability(a), math.NaN(), 0)
	}
	// It estimates the squared correlation of estimate and truth.
	r, theta, b := simulate(23, 5000, 25, 1, 1)
	able, err := Abilities(r, b, WLE)
	if err != nil {
		t.Fatal(err)
	}
	var m moments
	for v, a := range able {
		m.add(a.Theta, theta[v])
	}
	rho := m.correlation()
	closeTo(t, "squared correlation with the truth", SeparationReliability(able), rho*rho, 0.02)
}
