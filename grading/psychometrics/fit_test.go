package psychometrics

import (
	"math"
	"testing"
)

func TestFitByHand(t *testing.T) {
	// One person at log 3 on items at 0 (P = ¾) and at log 9 (P = ¼).
	theta := []float64{math.Log(3)}
	b := []float64{0, math.Log(9)}
	fit, err := Fit(mustRows(t, "01"), b, theta)
	if err != nil {
		t.Fatal(err)
	}
	p := fit.People[0]
	// Both answers surprise: (¾)²/(3/16) = 3 each, weights 3/16.
	closeTo(t, "outfit", p.Outfit, 3, 1e-12)
	closeTo(t, "infit", p.Infit, 3, 1e-12)
	w := 3.0 / 16
	q := math.Sqrt(2*(1/w-3)/4 - 0.5)
	closeTo(t, "outfit z", p.OutfitZ, (math.Cbrt(3)-1)*3/q+q/3, 1e-12)
	q = math.Sqrt(2 * (w - 4*w*w) / (4 * w * w))
	closeTo(t, "infit z", p.InfitZ, (math.Cbrt(3)-1)*3/q+q/3, 1e-12)
	if p.Answers != 2 || fit.Items[0].Answers != 1 {
		t.Errorf("answers used: %d and %d", p.Answers, fit.Items[0].Answers)
	}
	closeTo(t, "outfit of an item", fit.Items[0].Outfit, 3, 1e-12)
}

func TestFitIsOneForAnswersFromTheModel(t *testing.T) {
	r, theta, b := simulate(31, 4000, 20, 1, 0.7)
	fit, err := Fit(r, b, theta)
	if err != nil {
		t.Fatal(err)
	}
	var infit, outfit moments
	for _, f := range fit.Items {
		closeTo(t, "infit", f.Infit, 1, 0.06)
		closeTo(t, "outfit", f.Outfit, 1, 0.15)
	}
	for _, f := range fit.People {
		infit.add(f.InfitZ, 0)
		outfit.add(f.OutfitZ, 0)
	}
	closeTo(t, "mean infit z of people", infit.meanX, 0, 0.1)
	closeTo(t, "its variance", infit.xx/infit.n, 1, 0.15)
	closeTo(t, "mean outfit z of people", outfit.meanX, 0, 0.1)
}

func TestFitLeavesOutWhatIsNotFinite(t *testing.T) {
	r := mustRows(t, "101", "011", "11.", "...")
	b := []float64{0, math.Inf(1), math.NaN()}
	theta := []float64{1, math.Inf(1), 0.5, 0}
	fit, err := Fit(r, b, theta)
	if err != nil {
		t.Fatal(err)
	}
	for v, want := range []int{1, 0, 1, 0} {
		if got := fit.People[v].Answers; got != want {
			t.Errorf("person %d: %d answers, want %d", v+1, got, want)
		}
	}
	for i, want := range []int{2, 0, 0} {
		if got := fit.Items[i].Answers; got != want {
			t.Errorf("item %d: %d answers, want %d", i+1, got, want)
		}
	}
	for name, x := range map[string]float64{"outfit": fit.People[1].Outfit, "infit": fit.People[1].Infit,
		"outfit z": fit.People[1].OutfitZ, "infit z": fit.Items[1].InfitZ} {
		closeTo(t, name+" of nothing", x, math.NaN(), 0)
	}
}

func TestFitWhereEveryAnswerIsATossUp(t *testing.T) {
	fit, err := Fit(mustRows(t, "1", "0"), []float64{0}, []float64{0, 0})
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "outfit", fit.Items[0].Outfit, 1, 1e-12)
	closeTo(t, "outfit z cannot be told", fit.Items[0].OutfitZ, math.NaN(), 0)
}

func TestFitRefusesWrongLengths(t *testing.T) {
	_, err := Fit(New(2, 3), []float64{0, 0, 0}, []float64{0})
	wantError(t, err, ErrShape, "3 difficulties for 3 items and 1 abilities for 2 people")
}
