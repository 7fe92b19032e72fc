package psychometrics

import (
	"math"
	"testing"
)

// Source: R MASS 7.3, dose.p() on a logistic regression; see
// testdata/reference/base.R.
func TestContrastingGroupsAgreeWithR(t *testing.T) {
	var want struct {
		Contrasting struct {
			Competent     []float64
			NotYet        []float64 `json:"not_yet"`
			Cut, SE, Cost []float64
		}
	}
	referenceJSON(t, "base.json", &want)
	w := want.Contrasting
	if len(w.Cut) != 2 {
		t.Fatalf("%d cuts recorded", len(w.Cut))
	}
	for n := range w.Cut {
		got, err := ContrastingGroups(w.Competent, w.NotYet, w.Cost[n], 0.95)
		if err != nil {
			t.Fatal(err)
		}
		closeTo(t, "cut", got.Cut, w.Cut[n], 1e-6)
		closeTo(t, "SE", got.SE, w.SE[n], 1e-6)
		closeTo(t, "upper bound", got.High, got.Cut+1.959964*got.SE, 1e-5)
	}
}

func TestContrastingGroupsCountTheMisjudged(t *testing.T) {
	got, err := ContrastingGroups([]float64{4, 6, 7, 8}, []float64{2, 3, 4, 7}, 1, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if !(got.Cut > 4 && got.Cut < 7) || got.FalseFail != 1 || got.FalsePass != 1 || got.Separated {
		t.Errorf("%+v", got)
	}
	careful, err := ContrastingGroups([]float64{4, 6, 7, 8}, []float64{2, 3, 4, 7}, 5, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if careful.Cut <= got.Cut {
		t.Errorf("where a false pass is worse the cut must rise: %v, then %v", got.Cut, careful.Cut)
	}
}

func TestContrastingGroupsThatDoNotOverlap(t *testing.T) {
	got, err := ContrastingGroups([]float64{9, 8, 10}, []float64{3, 5}, 3, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if !got.Separated || got.Cut != 6.5 || !math.IsNaN(got.SE) || got.FalseFail+got.FalsePass != 0 {
		t.Errorf("%+v", got)
	}
	got, err = ContrastingGroups([]float64{6, 7, 8}, []float64{4, 5, 6}, 1, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if !got.Separated || math.Abs(got.Cut-6) > 1e-9 || got.FalsePass != 1 {
		t.Errorf("groups that touch: %+v", got)
	}
}

func TestContrastingGroupsRefuse(t *testing.T) {
	a, b := []float64{5, 7}, []float64{3, 6}
	_, err := ContrastingGroups(nil, b, 1, 0.95)
	wantError(t, err, ErrEmpty)
	_, err = ContrastingGroups(a, nil, 1, 0.95)
	wantError(t, err, ErrEmpty)
	_, err = ContrastingGroups(a, b, 0, 0.95)
	wantError(t, err, ErrRange, "cost")
	_, err = ContrastingGroups([]float64{5, math.NaN()}, b, 1, 0.95)
	wantError(t, err, ErrRange, "row 2")
	_, err = ContrastingGroups([]float64{5, 5}, []float64{5}, 1, 0.95)
	wantError(t, err, ErrConstant)
	_, err = ContrastingGroups([]float64{2, 4, 5}, []float64{3, 6, 7}, 1, 0.95)
	wantError(t, err, ErrRange, "do not score higher")
}
