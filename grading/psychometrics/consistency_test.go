package psychometrics

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// Source: R's optim(), integrate(), dbeta() and pbinom() on the published
// formulas; see testdata/reference/base.R. The moments are matched there by
// least squares, to about six digits.
func TestConsistencyAgreesWithR(t *testing.T) {
	type record struct {
		Scores                                              []float64
		Min, Max, Reliability, Cut                          float64
		Length                                              int
		Lower, Upper, Alpha, Beta                           float64
		Consistency, Pass, Accuracy, False_pass, False_fail float64
	}
	var want struct {
		LivingstonLewis map[string]record `json:"livingston_lewis"`
		Subkoviak       struct {
			Right                       []int
			Items, Cut                  int
			Reliability                 float64
			Consistency, Pass, Accuracy float64
		}
	}
	referenceJSON(t, "base.json", &want)
	if len(want.LivingstonLewis) != 2 || len(want.Subkoviak.Right) == 0 {
		t.Fatal("base.json is not what it should be")
	}
	for name, w := range want.LivingstonLewis {
		t.Run(name, func(t *testing.T) {
			got, err := LivingstonLewis(w.Scores, w.Min, w.Max, w.Reliability, w.Cut)
			if err != nil {
				t.Fatal(err)
			}
			if got.EffectiveLength != w.Length {
				t.Errorf("effective length %d, want %d", got.EffectiveLength, w.Length)
			}
			closeTo(t, "lower", got.TrueScore.Lower, w.Lower, 1e-3)
			closeTo(t, "upper", got.TrueScore.Upper, w.Upper, 1e-3)
			closeTo(t, "alpha", got.TrueScore.Alpha, w.Alpha, 1e-2)
			closeTo(t, "beta", got.TrueScore.Beta, w.Beta, 1e-2)
			closeTo(t, "consistency", got.Consistency, w.Consistency, 1e-4)
			closeTo(t, "pass rate", got.PassRate, w.Pass, 1e-4)
			closeTo(t, "accuracy", got.Accuracy, w.Accuracy, 1e-4)
			closeTo(t, "false pass", got.FalsePass, w.False_pass, 1e-4)
			closeTo(t, "false fail", got.FalseFail, w.False_fail, 1e-4)
		})
	}
	w := want.Subkoviak
	got, err := Subkoviak(w.Right, w.Items, w.Reliability, w.Cut)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "Subkoviak consistency", got.Consistency, w.Consistency, 1e-9)
	closeTo(t, "Subkoviak pass rate", got.PassRate, w.Pass, 1e-9)
	closeTo(t, "Subkoviak accuracy", got.Accuracy, w.Accuracy, 1e-9)
}

// betaScores draws scores of items right, twice for each person.
func betaScores(seed uint64, people, items int, d BetaDistribution) (first, second []float64, truth []float64) {
	beta := distuv.Beta{Alpha: d.Alpha, Beta: d.Beta, Src: rand.NewPCG(seed, 5)}
	rng := newRand(seed)
	draw := func(p float64) float64 {
		n := 0
		for range items {
			if rng.Float64() < p {
				n++
			}
		}
		return float64(n)
	}
	for range people {
		p := d.Lower + (d.Upper-d.Lower)*beta.Rand()
		truth = append(truth, p)
		first, second = append(first, draw(p)), append(second, draw(p))
	}
	return first, second, truth
}

// The outside world of the method: people who really take two forms, and whose
// true scores are known.
func TestConsistencyFromOneFormIsThatOfTwo(t *testing.T) {
	const people, items = 20000, 40
	for _, c := range []struct {
		name string
		d    BetaDistribution
		cut  float64
	}{
		{"spread wide", BetaDistribution{Lower: 0.2, Upper: 0.95, Alpha: 1.5, Beta: 1.2}, 24},
		{"most pass", BetaDistribution{Lower: 0.4, Upper: 1, Alpha: 3, Beta: 1.5}, 26},
		{"near the cut", BetaDistribution{Lower: 0.3, Upper: 0.9, Alpha: 6, Beta: 6}, 24},
	} {
		t.Run(c.name, func(t *testing.T) {
			first, second, truth := betaScores(81, people, items, c.d)
			var m moments
			agree, accurate := 0.0, 0.0
			right := make([]int, people)
			for v := range first {
				m.add(first[v], second[v])
				right[v] = int(first[v])
				if (first[v] >= c.cut) == (second[v] >= c.cut) {
					agree += 1.0 / people
				}
				if (first[v] >= c.cut) == (truth[v] >= c.cut/items) {
					accurate += 1.0 / people
				}
			}
			rho := m.correlation()
			got, err := LivingstonLewis(first, 0, items, rho, c.cut)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(float64(got.EffectiveLength-items)) > 3 {
				t.Errorf("effective length %d of %d items that are alike", got.EffectiveLength, items)
			}
			// "Within 1 percentage point of the actual values in most cases"
			// (Livingston & Lewis 1995, abstract).
			closeTo(t, "consistency", got.Consistency, agree, 0.01)
			closeTo(t, "accuracy", got.Accuracy, accurate, 0.01)
			closeTo(t, "the three outcomes", got.Accuracy+got.FalsePass+got.FalseFail, 1, 1e-9)

			s, err := Subkoviak(right, items, rho, int(c.cut))
			if err != nil {
				t.Fatal(err)
			}
			// It errs on the low side where most people are near the cut.
			if s.Consistency > agree+0.02 || s.Consistency < agree-0.08 {
				t.Errorf("Subkoviak's consistency is %.3f where %.3f agree", s.Consistency, agree)
			}
		})
	}
}

// Source: two-parameter fit by moments to the boys among the first 12 children
// of 6,115 families in Saxony (Geissler 1889), as worked in the literature on
// the beta-binomial distribution: α = 34.1350, β = 31.6085. From memory, with
// the counts confirmed by a stored copy.
func TestTwoParameterFitToPublishedCounts(t *testing.T) {
	counts := []int{3, 24, 104, 286, 670, 1033, 1343, 1112, 829, 478, 181, 45, 7}
	var scores []float64
	for x, c := range counts {
		for range c {
			scores = append(scores, float64(x))
		}
	}
	// Four moments give no distribution within 0 and 1.
	d, err := fitTrueScores(scores, 12)
	if err != nil {
		t.Fatal(err)
	}
	if d.Parameters != 2 || d.Lower != 0 || d.Upper != 1 {
		t.Errorf("fitted %+v", d)
	}
	closeTo(t, "alpha", d.Alpha, 34.1350, 5e-5)
	closeTo(t, "beta", d.Beta, 31.6085, 5e-5)
}

func TestFourParametersAreFoundFromTheirMoments(t *testing.T) {
	for _, d := range []BetaDistribution{
		{Lower: 0.25, Upper: 0.75, Alpha: 5, Beta: 3, Parameters: 4},
		{Lower: 0, Upper: 1, Alpha: 2, Beta: 2, Parameters: 4},
		{Lower: 0.1, Upper: 0.9, Alpha: 0.8, Beta: 2.5, Parameters: 4},
	} {
		s := d.Alpha + d.Beta
		width := d.Upper - d.Lower
		mean := d.Lower + width*d.Alpha/s
		variance := width * width * d.Alpha * d.Beta / (s * s * (s + 1))
		skewness := 2 * (d.Beta - d.Alpha) * math.Sqrt(s+1) / ((s + 2) * math.Sqrt(d.Alpha*d.Beta))
		kurtosis := 3 + 6*((d.Alpha-d.Beta)*(d.Alpha-d.Beta)*(s+1)-d.Alpha*d.Beta*(s+2))/(d.Alpha*d.Beta*(s+2)*(s+3))
		got, ok := betaFromMoments(mean, variance, skewness, kurtosis)
		if !ok && d.Lower != 0 { // rounding may push a bound of exactly 0 over
			t.Fatalf("%+v is not found", d)
		}
		closeTo(t, "lower", got.Lower, d.Lower, 1e-6)
		closeTo(t, "upper", got.Upper, d.Upper, 1e-6)
		closeTo(t, "alpha", got.Alpha, d.Alpha, 1e-5)
		closeTo(t, "beta", got.Beta, d.Beta, 1e-5)
	}
	if _, ok := betaFromMoments(0.5, 0.02, 0, 4); ok {
		t.Error("no beta distribution has such tails")
	}
}

// Two people at 8 and 2 of 10, reliability 1, cut 5, by hand.
func TestSubkoviakByHand(t *testing.T) {
	got, err := Subkoviak([]int{8, 2}, 10, 1, 5)
	if err != nil {
		t.Fatal(err)
	}
	pass := 0.0 // P(X ≥ 5), X binomial(10, 0.8)
	for x := 5; x <= 10; x++ {
		pass += distuv.Binomial{N: 10, P: 0.8}.Prob(float64(x))
	}
	other := 0.0 // and binomial(10, 0.2)
	for x := 5; x <= 10; x++ {
		other += distuv.Binomial{N: 10, P: 0.2}.Prob(float64(x))
	}
	closeTo(t, "consistency", got.Consistency, (pass*pass+(1-pass)*(1-pass)+other*other+(1-other)*(1-other))/2, 1e-9)
	closeTo(t, "accuracy", got.Accuracy, (pass+1-other)/2, 1e-9)
	rate := (pass + other) / 2
	chance := rate*rate + (1-rate)*(1-rate)
	closeTo(t, "kappa", got.Kappa, (got.Consistency-chance)/(1-chance), 1e-9)

	// Without reliability everybody is average: consistency is chance.
	got, err = Subkoviak([]int{8, 2}, 10, 0, 5)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "kappa of no reliability", got.Kappa, 0, 1e-9)
}

func TestConsistencyOfOneAndOfPerfectScores(t *testing.T) {
	got, err := Subkoviak([]int{10, 10, 10}, 10, 0.8, 6)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "all perfect: consistency", got.Consistency, 1, 1e-12)
	closeTo(t, "kappa cannot be told", got.Kappa, math.NaN(), 0)
	got, err = Subkoviak([]int{10, 0}, 10, 1, 6)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "all and none right: consistency", got.Consistency, 1, 1e-12)
	closeTo(t, "kappa", got.Kappa, 1, 1e-12)
	if _, err := Subkoviak([]int{7}, 10, 0.8, 6); err != nil {
		t.Errorf("one person: %v", err)
	}
}

func TestConsistencyRefuses(t *testing.T) {
	good := []float64{3, 5, 8}
	for _, c := range []struct {
		name                       string
		scores                     []float64
		min, max, reliability, cut float64
		want                       error
		words                      string
	}{
		{"nobody", nil, 0, 10, 0.8, 5, ErrEmpty, "fewer than two"},
		{"one", []float64{3}, 0, 10, 0.8, 5, ErrEmpty, "fewer than two"},
		{"all alike", []float64{3, 3}, 0, 10, 0.8, 5, ErrConstant, "all scores are 3"},
		{"reliability 0", good, 0, 10, 0, 5, ErrRange, "reliability 0"},
		{"reliability 1", good, 0, 10, 1, 5, ErrRange, "reliability 1"},
		{"no reliability", good, 0, 10, math.NaN(), 5, ErrRange, "reliability"},
		{"cut at the minimum", good, 0, 10, 0.8, 0, ErrRange, "cut 0"},
		{"cut above the maximum", good, 0, 10, 0.8, 11, ErrRange, "cut 11"},
		{"score above the maximum", good, 0, 7, 0.8, 5, ErrRange, "row 3"},
		{"missing score", []float64{3, math.NaN()}, 0, 10, 0.8, 5, ErrRange, "row 2"},
		{"all at the ends", []float64{0, 10, 0, 10}, 0, 10, 0.5, 5, ErrRange, "spread so widely"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := LivingstonLewis(c.scores, c.min, c.max, c.reliability, c.cut)
			wantError(t, err, c.want, c.words)
		})
	}
	_, err := fitTrueScores([]float64{1, 1, 1, 0, 2}, 2) // binomial(2, ½) or less
	wantError(t, err, ErrConstant, "true scores do not differ")
	_, err = Subkoviak(nil, 10, 0.8, 5)
	wantError(t, err, ErrEmpty)
	_, err = Subkoviak([]int{3, 11}, 10, 0.8, 5)
	wantError(t, err, ErrRange, "row 2", "11 right of 10")
	_, err = Subkoviak([]int{3}, 10, 1.2, 5)
	wantError(t, err, ErrRange, "reliability")
	_, err = Subkoviak([]int{3}, 10, 0.8, 0)
	wantError(t, err, ErrRange, "cut 0")
	_, err = Subkoviak([]int{3}, 10, 0.8, 11)
	wantError(t, err, ErrRange, "cut 11")
}
