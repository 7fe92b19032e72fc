package psychometrics

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// featured draws items with three features and a difficulty that the features
// explain but for a residual.
func featured(seed uint64, people, items int, residual, seen float64) (r Responses, features [][]float64, b, weights []float64) {
	rng := newRand(seed)
	weights = []float64{0.8, -0.5, 0.3}
	features = make([][]float64, items)
	b = make([]float64, items)
	for i := range features {
		features[i] = []float64{float64(i % 2), float64(i / 2 % 2), float64(i % 5)}
		for f, w := range features[i] {
			b[i] += weights[f] * w
		}
		b[i] += residual * rng.NormFloat64()
	}
	centre(b)
	theta := make([]float64, people)
	for v := range theta {
		theta[v] = rng.NormFloat64()
	}
	return answersOf(rng, theta, b, seen), features, b, weights
}

func mustLLTM(t testing.TB, r Responses, features [][]float64) *LLTM {
	t.Helper()
	m, err := FitLLTM(r, features)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestLLTMFindsTheWeightsThatMadeTheAnswers(t *testing.T) {
	r, features, _, weights := featured(51, 3000, 40, 0, 0.5)
	m := mustLLTM(t, r, features)
	for f := range weights {
		closeTo(t, "weight", m.Weight[f], weights[f], 4*m.SE[f])
		if m.SE[f] > 0.05 {
			t.Errorf("SE of weight %d is %v", f+1, m.SE[f])
		}
	}
	if m.DF != 40-1-3 || m.P < 0.001 {
		t.Errorf("LR %v with df %d, p %v: the model is true and 36 df are left", m.LR, m.DF, m.P)
	}
	if m.Residual > 0.05 || m.Explained < 0.99 {
		t.Errorf("residual %v, explained %v of answers that the features explain", m.Residual, m.Explained)
	}
	sum := 0.0
	for _, d := range m.Difficulty {
		sum += d
	}
	closeTo(t, "sum of difficulties", sum, 0, 1e-9)
}

// One feature per item but the last is the Rasch model with b_k fixed at zero.
func TestLLTMWithAFeatureForEachItemIsTheRaschModel(t *testing.T) {
	r, _, _ := simulate(52, 300, 6, 1, 0.8)
	features := make([][]float64, 6)
	for i := range features {
		features[i] = make([]float64, 5)
		if i < 5 {
			features[i][i] = 1
		}
	}
	m := mustLLTM(t, r, features)
	c := mustConditional(t, r)
	closeToAll(t, "difficulty", m.Difficulty, c.Difficulty, 1e-8)
	closeTo(t, "log-likelihood", m.LogLikelihood, c.LogLikelihood, 1e-8)
	for f, se := range m.SE {
		v := c.Covariance.At(f, f) - 2*c.Covariance.At(f, 5) + c.Covariance.At(5, 5)
		closeTo(t, "SE of a difference", se, math.Sqrt(v), 1e-7)
	}
	if m.DF != 0 || !math.IsNaN(m.P) || m.Rasch != nil {
		t.Errorf("a model with nothing left to test: df %d, p %v", m.DF, m.P)
	}
}

func TestLLTMDoesNotDependOnTheUnitsOfFeatures(t *testing.T) {
	r, features, _, _ := featured(53, 500, 20, 0.3, 1)
	scaled := make([][]float64, len(features))
	for i, row := range features {
		scaled[i] = []float64{1e6*row[0] + 5e7, row[1], row[2] / 1e6}
	}
	a, b := mustLLTM(t, r, features), mustLLTM(t, r, scaled)
	closeToAll(t, "difficulty", b.Difficulty, a.Difficulty, 1e-7)
	closeTo(t, "weight per unit", b.Weight[0]*1e6, a.Weight[0], 1e-7)
	closeTo(t, "residual", b.Residual, a.Residual, 1e-6)
	p, err := a.Predict([]float64{1, 0, 7}, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	q, err := b.Predict([]float64{5.1e7, 0, 7e-6}, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "prediction", q.Difficulty, p.Difficulty, 1e-6)
	closeTo(t, "SE of prediction", q.SE, p.SE, 1e-6)
}

func TestLLTMEstimatesTheResidual(t *testing.T) {
	var all moments
	for seed := range uint64(16) {
		r, features, _, _ := featured(100+seed, 1000, 60, 0.4, 1)
		m := mustLLTM(t, r, features)
		all.add(m.Residual, 0)
		if m.P > 0.01 {
			t.Errorf("p = %v although the features miss a standard deviation of 0.4", m.P)
		}
	}
	closeTo(t, "mean residual", all.meanX, 0.4, 0.04)
}

// The purpose of the model: the interval for a question that nobody has seen
// holds its difficulty as often as it says, with and without a residual.
func TestPredictionIntervalsHoldAsOftenAsTheySay(t *testing.T) {
	for _, residual := range []float64{0, 0.4} {
		inside, n := 0, 0
		for seed := range uint64(40) {
			r, features, b, _ := featured(200+seed, 600, 40, residual, 1)
			const known = 30
			columns := make([]int, known)
			for i := range columns {
				columns[i] = i
			}
			m := mustLLTM(t, r.SelectItems(columns), features[:known])
			zero := 0.0
			for _, x := range b[:known] {
				zero += x / known
			}
			for i := known; i < len(b); i++ {
				p, err := m.Predict(features[i], 0.9)
				if err != nil {
					t.Fatal(err)
				}
				if !p.ResidualKnown {
					t.Error("the residual is known here")
				}
				n++
				if d := b[i] - zero; d >= p.Low && d <= p.High {
					inside++
				}
			}
		}
		// 400 predictions, ten of each fit being alike: ± 4 % and some.
		if share := float64(inside) / float64(n); share < 0.84 || share > 0.96 {
			t.Errorf("residual %v: 90 %% intervals hold %.1f %% of %d", residual, 100*share, n)
		}
	}
}

func TestLLTMWorksWhereNobodySharesItems(t *testing.T) {
	// 2,000 people with 15 questions each, every question answered once.
	const people, each = 2000, 15
	rng := newRand(54)
	weights := []float64{1, -0.7, 0.4}
	var answers []Answer
	var features [][]float64
	for v := range people {
		theta := rng.NormFloat64()
		for range each {
			w := []float64{float64(rng.IntN(2)), float64(rng.IntN(2)), float64(rng.IntN(4))}
			b := 0.0
			for f := range w {
				b += w[f] * weights[f]
			}
			answers = append(answers, Answer{Person: 1000 + v, Item: len(features), Right: rng.Float64() < Probability(theta, b)})
			features = append(features, w)
		}
	}
	m, err := FitLLTMAnswers(answers, features)
	if err != nil {
		t.Fatal(err)
	}
	for f := range weights {
		closeTo(t, "weight", m.Weight[f], weights[f], 4*m.SE[f])
	}
	if len(m.Difficulty) != people*each || m.Rasch != nil || !math.IsNaN(m.LR) || !math.IsNaN(m.Residual) {
		t.Errorf("%d difficulties, LR %v, residual %v", len(m.Difficulty), m.LR, m.Residual)
	}
	p, err := m.Predict([]float64{1, 0, 2}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if p.ResidualKnown {
		t.Error("the residual cannot be known without the Rasch model")
	}
}

func TestLLTMOfAnswersIsThatOfTheTable(t *testing.T) {
	r, features, _, _ := featured(55, 400, 20, 0.2, 0.6)
	var answers []Answer
	for v := range r.People() {
		for i, x := range r.Row(v) {
			if x >= 0 {
				answers = append(answers, Answer{Person: v, Item: i, Right: x == 1})
			}
		}
	}
	a := mustLLTM(t, r, features)
	b, err := FitLLTMAnswers(answers, features)
	if err != nil {
		t.Fatal(err)
	}
	closeToAll(t, "weight", b.Weight, a.Weight, 1e-9)
	closeToAll(t, "SE", b.SE, a.SE, 1e-9)
	closeTo(t, "log-likelihood", b.LogLikelihood, a.LogLikelihood, 1e-7)
}

// Items that all got right have no Rasch estimate but an LLTM difficulty, and
// the test is on the others.
func TestLLTMUsesItemsThatAllGotRight(t *testing.T) {
	r, features, _, _ := featured(56, 300, 12, 0, 1)
	for v := range r.People() {
		r.Set(v, 3, 1)
	}
	m := mustLLTM(t, r, features)
	if !finite(m.Difficulty[3]) || m.Rasch == nil || !math.IsInf(m.Rasch.Difficulty[3], -1) {
		t.Fatalf("difficulty %v, Rasch %+v", m.Difficulty[3], m.Rasch)
	}
	if m.DF != 11-1-3 {
		t.Errorf("df = %d on 11 items with 3 features", m.DF)
	}
	others := append(slices.Clone(m.Rasch.Estimated[:0:0]), m.Rasch.Estimated...)
	x := make([][]float64, len(others))
	for n, i := range others {
		x[n] = features[i]
	}
	want := mustLLTM(t, r.SelectItems(others), x)
	closeTo(t, "LR", m.LR, want.LR, 1e-6)
}

func TestLLTMNamesTheFeatureThatCannotBeUsed(t *testing.T) {
	r, features, _, _ := featured(57, 100, 10, 0, 1)
	with := func(f func(i int, w []float64) []float64) [][]float64 {
		out := make([][]float64, len(features))
		for i, w := range features {
			out[i] = f(i, slices.Clone(w))
		}
		return out
	}
	_, err := FitLLTM(r, with(func(_ int, w []float64) []float64 { return append(w, 7) }))
	wantError(t, err, ErrRank, "feature 4", "same value")
	_, err = FitLLTM(r, with(func(_ int, w []float64) []float64 { return append(w, 2*w[0]-w[1]+5) }))
	wantError(t, err, ErrRank, "feature 4", "combination")
	_, err = FitLLTM(r, with(func(i int, w []float64) []float64 {
		if i == 6 {
			w[1] = math.NaN()
		}
		return w
	}))
	wantError(t, err, ErrRange, "row 7", "column 2")
	_, err = FitLLTM(r, with(func(i int, w []float64) []float64 { return w[:3-i/9] }))
	wantError(t, err, ErrShape, "row 10", "2 features where row 1 has 3")
	_, err = FitLLTM(r, features[:9])
	wantError(t, err, ErrShape, "9 rows of features for 10 items")
	_, err = FitLLTM(r, with(func(int, []float64) []float64 { return nil }))
	wantError(t, err, ErrEmpty, "no features")
	_, err = FitLLTM(New(5, 10), features)
	wantError(t, err, ErrEmpty)
	_, err = FitLLTMAnswers([]Answer{{Item: 10}}, features)
	wantError(t, err, ErrRange, "row 1", "item 10 of 10")
	_, err = FitLLTMAnswers(nil, features)
	wantError(t, err, ErrEmpty)
}

func TestLLTMRefusesCompleteSeparation(t *testing.T) {
	// Everybody gets the items with the feature wrong and the others right.
	rows := make([]string, 30)
	for v := range rows {
		rows[v] = "1100"
	}
	_, err := FitLLTM(mustRows(t, rows...), [][]float64{{0}, {0}, {1}, {1}})
	wantError(t, err, ErrDisconnected)
	// Nobody sees items with different values of the feature.
	_, err = FitLLTM(mustRows(t, "10..", "01..", "..10", "..01"), [][]float64{{0}, {0}, {1}, {1}})
	wantError(t, err, ErrDisconnected)
}

func TestPredictRefusesWrongArguments(t *testing.T) {
	r, features, _, _ := featured(58, 100, 10, 0, 1)
	m := mustLLTM(t, r, features)
	_, err := m.Predict([]float64{1}, 0.95)
	wantError(t, err, ErrShape, "1 features where the model has 3")
	_, err = m.Predict([]float64{1, math.Inf(1), 0}, 0.95)
	wantError(t, err, ErrRange, "feature 2")
	_, err = m.Predict([]float64{1, 0, 0}, 1)
	wantError(t, err, ErrRange, "level")
}

// With the residual at zero the interval is that of the weights alone.
func TestPredictionWithoutResidual(t *testing.T) {
	m := &LLTM{Weight: []float64{2}, Covariance: mat.NewSymDense(1, []float64{0.01}), scale: featureScale{mean: []float64{0.5}, sd: []float64{1}}}
	p, err := m.Predict([]float64{3}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "difficulty", p.Difficulty, 5, 1e-12)
	closeTo(t, "SE", p.SE, 0.25, 1e-12)
	closeTo(t, "upper bound", p.High, 5+1.959964*0.25, 1e-6)
}
