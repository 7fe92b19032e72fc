package psychometrics

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestAlphaOfTheLawTest(t *testing.T) {
	a := Alpha(lsat6(t), 0.95)
	// Source: R psych 2.2.9, alpha(), on the data of Bock & Lieberman (1970).
	closeTo(t, "KR-20", a.Alpha, 0.2950, 5e-5)
	if !(a.Low < a.Alpha && a.Alpha < a.High) || a.Items != 5 || a.People != 1000 {
		t.Errorf("%+v", a)
	}
}

// KR-20 as Kuder and Richardson wrote it, with divisors n.
func TestAlphaOfRightAndWrongIsKR20(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, _, _ := simulate(rapid.Uint64().Draw(t, "seed"), rapid.IntRange(3, 60).Draw(t, "people"), rapid.IntRange(2, 12).Draw(t, "items"), 1, 1)
		n, k := float64(r.People()), float64(r.ItemCount())
		sum, squares, pq := 0.0, 0.0, 0.0
		for v := range r.People() {
			x, _ := r.Score(v)
			sum += float64(x)
			squares += float64(x * x)
		}
		for _, s := range ItemStatistics(r) {
			pq += s.P * (1 - s.P)
		}
		variance := squares/n - sum*sum/n/n
		if variance < 1e-9 {
			return
		}
		want := k / (k - 1) * (1 - pq/variance)
		if got := Alpha(r, 0.95).Alpha; math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
			t.Errorf("alpha = %v, KR-20 = %v", got, want)
		}
	})
}

func TestAlphaOfScoresIsAlphaOfAnswers(t *testing.T) {
	r, _, _ := simulate(71, 80, 9, 1, 1)
	scores := make([][]float64, r.People())
	for v := range scores {
		for _, x := range r.Row(v) {
			scores[v] = append(scores[v], float64(x))
		}
	}
	got, err := AlphaOfScores(scores, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	want := Alpha(r, 0.9)
	closeTo(t, "alpha", got.Alpha, want.Alpha, 1e-12)
	closeTo(t, "lower bound", got.Low, want.Low, 1e-12)
	closeTo(t, "upper bound", got.High, want.High, 1e-12)
	for _, row := range scores {
		for i := range row {
			row[i] = 3*row[i] + 2 // a scale common to all items changes nothing
		}
	}
	got, err = AlphaOfScores(scores, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "alpha of points", got.Alpha, want.Alpha, 1e-12)
}

func TestAlphaWithMissingAnswersSumsPairwiseCovariances(t *testing.T) {
	r := mustRows(t, "11.", "101", "010", "00.", "111")
	covariance := func(i, j int) float64 {
		var m moments
		for v := range r.People() {
			if r.At(v, i) >= 0 && r.At(v, j) >= 0 {
				m.add(float64(r.At(v, i)), float64(r.At(v, j)))
			}
		}
		return m.xy / (m.n - 1)
	}
	trace, total := 0.0, 0.0
	for i := range 3 {
		trace += covariance(i, i)
		for j := range 3 {
			total += covariance(i, j)
		}
	}
	a := Alpha(r, 0.95)
	closeTo(t, "alpha", a.Alpha, 1.5*(1-trace/total), 1e-12)
	closeTo(t, "people", a.People, 13.0/3, 1e-12)
}

func TestAlphaThatIsNotDefined(t *testing.T) {
	for name, r := range map[string]Responses{
		"nothing":                            {},
		"nobody":                             New(0, 3),
		"one item":                           mustRows(t, "1", "0"),
		"one person":                         mustRows(t, "10"),
		"all alike":                          mustRows(t, "11", "11"),
		"scores alike":                       mustRows(t, "10", "01"),
		"two items seen by nobody in common": mustRows(t, "1.1", "0.0", ".11", ".00"),
	} {
		a := Alpha(r, 0.95)
		closeTo(t, name, a.Alpha, math.NaN(), 0)
		closeTo(t, name+", lower bound", a.Low, math.NaN(), 0)
	}
	a := Alpha(lsat6(t), 1)
	closeTo(t, "bounds at level 1", a.Low, math.NaN(), 0)
	empty, err := AlphaOfScores(nil, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "alpha of no scores", empty.Alpha, math.NaN(), 0)
	_, err = AlphaOfScores([][]float64{{1, 2}, {1}}, 0.95)
	wantError(t, err, ErrShape, "row 2")
	_, err = AlphaOfScores([][]float64{{1, 2}, {1, math.NaN()}}, 0.95)
	wantError(t, err, ErrRange, "row 2", "column 2")
}

// Parallel items by construction: alpha is the reliability, and the interval
// holds it as often as it says.
func TestFeldtsIntervalHoldsAsOftenAsItSays(t *testing.T) {
	const runs, people, items = 400, 40, 6
	// Score x_vi = true_v + noise, noise variance 2: reliability 6/(6 + 2).
	const truth = 0.75
	rng := newRand(72)
	inside := 0
	for range runs {
		scores := make([][]float64, people)
		for v := range scores {
			ability := rng.NormFloat64()
			for range items {
				scores[v] = append(scores[v], ability+math.Sqrt2*rng.NormFloat64())
			}
		}
		a, err := AlphaOfScores(scores, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		if a.Low <= truth && truth <= a.High {
			inside++
		}
	}
	// 360 ± 6 (one standard deviation).
	if inside < 340 || inside > 380 {
		t.Errorf("%d of %d intervals at 90 %% hold the reliability", inside, runs)
	}
}

func TestSpearmanBrown(t *testing.T) {
	for _, c := range []struct{ rho, factor, want float64 }{
		{0.6, 2, 0.75},
		{0.75, 0.5, 0.6},
		{0.5, 4, 0.8},
		{0.9, 1, 0.9},
		{0, 5, 0},
		{1, 3, 1},
		{0.5, 0, 0},
		{0.5, -1, math.NaN()},
		{1.1, 2, math.NaN()},
	} {
		closeTo(t, "reliability", SpearmanBrown(c.rho, c.factor), c.want, 1e-12)
	}
	closeTo(t, "length", LengthFactor(0.6, 0.75), 2, 1e-12)
	for _, c := range [][2]float64{{0, 0.5}, {0.5, 1}, {1, 0.5}, {0.5, 0}, {math.NaN(), 0.5}} {
		closeTo(t, "length", LengthFactor(c[0], c[1]), math.NaN(), 0)
	}
	rapid.Check(t, func(t *rapid.T) {
		rho, wanted := rapid.Float64Range(0.01, 0.99).Draw(t, "rho"), rapid.Float64Range(0.01, 0.99).Draw(t, "wanted")
		if got := SpearmanBrown(rho, LengthFactor(rho, wanted)); math.Abs(got-wanted) > 1e-9 {
			t.Errorf("a test made as long as it says has reliability %v, want %v", got, wanted)
		}
	})
}

func TestStandardErrors(t *testing.T) {
	closeTo(t, "SEM", StandardError(10, 0.91), 3, 1e-12)
	closeTo(t, "SEM of a perfect test", StandardError(10, 1), 0, 0)
	closeTo(t, "SEM with a negative alpha", StandardError(2, -0.21), 2.2, 1e-12)
	closeTo(t, "SEM of an impossible reliability", StandardError(10, 1.1), math.NaN(), 0)
	closeTo(t, "SEM of a negative SD", StandardError(-1, 0.5), math.NaN(), 0)
	closeTo(t, "CSEM in the middle", ConditionalStandardError(10, 20), math.Sqrt(100.0/19), 1e-12)
	closeTo(t, "CSEM of all right", ConditionalStandardError(20, 20), 0, 0)
	for _, c := range [][2]int{{1, 1}, {-1, 20}, {21, 20}} {
		closeTo(t, "CSEM", ConditionalStandardError(c[0], c[1]), math.NaN(), 0)
	}
}

// Lord (1957): with KR-21 as reliability the mean squared conditional error is
// the squared SEM (divisor n for the variance).
func TestConditionalErrorsAverageToTheSEM(t *testing.T) {
	r := lsat6(t)
	const k = 5.0
	var m moments
	sum := 0.0
	for v := range r.People() {
		x, n := r.Score(v)
		m.add(float64(x), 0)
		c := ConditionalStandardError(x, n)
		sum += c * c
	}
	variance := m.xx / m.n
	kr21 := k / (k - 1) * (1 - m.meanX*(k-m.meanX)/(k*variance))
	sem := StandardError(math.Sqrt(variance), kr21)
	closeTo(t, "mean squared error", sum/m.n, sem*sem, 1e-9)
}
