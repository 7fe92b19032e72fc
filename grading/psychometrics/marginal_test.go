package psychometrics

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

func TestMarginalOnTheLawTest(t *testing.T) {
	c, err := Marginal(lsat6(t))
	if err != nil {
		t.Fatal(err)
	}
	// Source: Rizopoulos (2006), J. Statistical Software 17(5), from memory, on
	// the data of Bock & Lieberman (1970).
	closeToAll(t, "difficulty", c.Difficulty, []float64{-3.6153, -1.3224, -0.3176, -1.7301, -2.7802}, 1e-4)
	closeTo(t, "slope", c.Slope, 0.7551, 1e-4)
	closeTo(t, "log-likelihood", c.LogLikelihood, -2466.94, 0.005)
	if c.People != 1000 {
		t.Errorf("%d people, want 1000: none and all right count here", c.People)
	}
}

// The likelihood by another quadrature, and standard errors by differences.
func TestMarginalIsAMaximum(t *testing.T) {
	r, _, _ := simulate(41, 150, 5, 1.3, 0.8)
	c, err := Marginal(r)
	if err != nil {
		t.Fatal(err)
	}
	k := len(c.Difficulty)
	x := append(slices.Clone(c.Difficulty), c.Slope)
	value := directMarginal(r, x)
	closeTo(t, "log-likelihood", c.LogLikelihood, value, 1e-6)
	const h = 1e-3
	info := make([][]float64, k+1)
	at := func(i, j int, di, dj float64) float64 {
		y := slices.Clone(x)
		y[i] += di
		y[j] += dj
		return directMarginal(r, y)
	}
	for i := range info {
		info[i] = make([]float64, k+1)
		closeTo(t, "slope of the likelihood", (at(i, i, h, 0)-at(i, i, -h, 0))/(2*h), 0, 1e-4)
		for j := range info[i] {
			info[i][j] = -(at(i, j, h, h) - at(i, j, h, -h) - at(i, j, -h, h) + at(i, j, -h, -h)) / (4 * h * h)
		}
	}
	covariance := inverted(t, info)
	for i := range k {
		closeTo(t, "SE", c.SE[i], math.Sqrt(covariance[i][i]), 1e-3*c.SE[i])
	}
	closeTo(t, "SE of slope", c.SlopeSE, math.Sqrt(covariance[k][k]), 1e-3)
}

func directMarginal(r Responses, x []float64) float64 {
	k := len(x) - 1
	ll := 0.0
	for v := range r.People() {
		ll += math.Log(quad.Fixed(func(z float64) float64 {
			p := distuv.UnitNormal.Prob(z)
			for i, y := range r.Row(v) {
				switch y {
				case 1:
					p *= Probability(x[k]*z, x[k]*x[i])
				case 0:
					p *= Probability(x[k]*x[i], x[k]*z)
				}
			}
			return p
		}, -8, 8, 80, quad.Legendre{}, 0))
	}
	return ll
}

// inverted is Gauss–Jordan elimination, for small matrices in tests.
func inverted(t *testing.T, a [][]float64) [][]float64 {
	t.Helper()
	n := len(a)
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, 2*n)
		copy(m[i], a[i])
		m[i][n+i] = 1
	}
	for i := range m {
		for p := i + 1; p < n; p++ {
			if math.Abs(m[p][i]) > math.Abs(m[i][i]) {
				m[i], m[p] = m[p], m[i]
			}
		}
		pivot := m[i][i]
		for c := range m[i] {
			m[i][c] /= pivot
		}
		for p := range m {
			if factor := m[p][i]; p != i {
				for c := range m[p] {
					m[p][c] -= factor * m[i][c]
				}
			}
		}
	}
	for i := range m {
		m[i] = m[i][n:]
	}
	return m
}

func TestMarginalFindsWhatMadeTheAnswers(t *testing.T) {
	const sd = 1.4
	r, _, b := simulate(42, 1000, 30, sd, 0.5)
	c, err := Marginal(r)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "slope", c.Slope, sd, 4*c.SlopeSE)
	for i, d := range c.Logits() {
		closeTo(t, "difficulty in logits", d, b[i], 4*c.SE[i]*c.Slope)
	}
}

// The two kinds of estimates agree but for where zero is.
func TestMarginalAndConditionalAgree(t *testing.T) {
	r, _, _ := simulate(43, 3000, 20, 1, 1)
	m, err := Marginal(r)
	if err != nil {
		t.Fatal(err)
	}
	d := m.Logits()
	centre(d)
	closeToAll(t, "difficulty", d, mustConditional(t, r).Difficulty, 0.02)
}

func TestMarginalNeedsNoLink(t *testing.T) {
	a, _, _ := simulate(44, 1500, 4, 1, 1)
	r := New(3000, 8)
	for v := range 1500 {
		for i := range 4 {
			r.Set(v, i, a.At(v, i))
			r.Set(1500+v, 4+i, a.At(v, i))
		}
	}
	if _, err := Conditional(r); err == nil {
		t.Error("the conditional estimate needs a link")
	}
	c, err := Marginal(r)
	if err != nil {
		t.Fatal(err)
	}
	closeToAll(t, "the same answers twice", c.Difficulty[4:], c.Difficulty[:4], 1e-6)
}

func TestMarginalLeavesOutItemsWithoutVariation(t *testing.T) {
	base, _, _ := simulate(45, 500, 4, 1.5, 1)
	r := New(500, 7)
	for v := range 500 {
		for i := range 4 {
			r.Set(v, i, base.At(v, i))
		}
		r.Set(v, 4, 1)
		r.Set(v, 5, 0)
	}
	c, err := Marginal(r)
	if err != nil {
		t.Fatal(err)
	}
	want, err := Marginal(base)
	if err != nil {
		t.Fatal(err)
	}
	closeToAll(t, "difficulty", c.Difficulty, append(slices.Clone(want.Difficulty), math.Inf(-1), math.Inf(1), math.NaN()), 1e-6)
	closeTo(t, "log-likelihood", c.LogLikelihood, want.LogLikelihood, 1e-6)
	for i := 4; i < 7; i++ {
		closeTo(t, "SE", c.SE[i], math.NaN(), 0)
	}
}

func TestMarginalRefusesWhatHasNoEstimate(t *testing.T) {
	_, err := Marginal(Responses{})
	wantError(t, err, ErrEmpty)
	_, err = Marginal(mustRows(t, "11", "11", "01", "11"))
	wantError(t, err, ErrConstant, "fewer than two items")
	// Whoever is right on one is wrong on the other.
	var rows []string
	for range 50 {
		rows = append(rows, "10", "01")
	}
	_, err = Marginal(mustRows(t, rows...))
	wantError(t, err, ErrConstant, "slope is zero")
}
