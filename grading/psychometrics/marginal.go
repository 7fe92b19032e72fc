package psychometrics

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// MarginalCalibration is a set of item parameters estimated by [Marginal].
type MarginalCalibration struct {
	// Difficulty b and Slope a of P = 1/(1 + exp(−a (z − b_i))) for a person at
	// z standard deviations from the population mean. ±Inf for an item that
	// none or all got right, NaN for one that nobody answered.
	Difficulty []float64
	// SE of Difficulty; NaN where it was not estimated.
	SE             []float64
	Slope, SlopeSE float64
	// LogLikelihood is the marginal log-likelihood of the answers to the
	// estimated items.
	LogLikelihood float64
	// People with at least one answer to an estimated item.
	People     int
	Iterations int
}

// Logits gives the difficulties a·b_i on the scale of [Probability], where
// ability has mean 0 and standard deviation Slope in the population: the
// arguments for [WLE] and, with EAP(0, Slope), for [EAP].
func (c MarginalCalibration) Logits() []float64 {
	out := make([]float64, len(c.Difficulty))
	for i, b := range c.Difficulty {
		out[i] = c.Slope * b
	}
	return out
}

// Marginal estimates difficulties and one common slope by marginal maximum
// likelihood, ability being normal in the population that the people come from,
//
//	log L = Σ_v log ∫ φ(z) Π_{i in S_v} P_i(z)^x (1 − P_i(z))^(1−x) dz
//	P_i(z) = 1 / (1 + exp(−a (z − b_i)))
//
// The integral is taken by the trapezoid rule on 81 points from −6 to 6, which
// for such smooth integrands is as exact as Gauss–Hermite quadrature with the
// same number of points. Unlike [Conditional] it uses people with none or all
// right, and it needs no link between groups of items as long as the people who
// saw each are random samples of one population; both at the price of the
// assumption about the population. Sources: Bock & Aitkin (1981), Psychometrika
// 46; Thissen (1982), Psychometrika 47. Standard errors are from the observed
// information (Louis 1982, J. Royal Statistical Society B 44); those of b by
// the delta method.
//
// Items that none or all got right are left out (see Difficulty). Errors wrap
// [ErrEmpty], [ErrConstant] (fewer than two items left, or answers so
// unrelated that the slope is zero) or [ErrNotConverged].
//
// Time per iteration is people (with different items or scores) × items
// answered × 81; the standard errors once × items answered² × 81.
func Marginal(r Responses) (MarginalCalibration, error) {
	out := MarginalCalibration{Difficulty: make([]float64, r.items), SE: make([]float64, r.items)}
	if r.Answered() == 0 {
		return out, fmt.Errorf("marginal estimation: %w: nobody answered anything", ErrEmpty)
	}
	m := newMarginalProblem(r)
	for i := range out.Difficulty {
		out.Difficulty[i], out.SE[i] = m.limits[i], math.NaN()
	}
	k := len(m.item)
	if k < 2 {
		return out, fmt.Errorf("marginal estimation: %w: fewer than two items have both right and wrong answers", ErrConstant)
	}

	// Parameters: the difficulties in logits, then the slope.
	start := make([]float64, k+1)
	for i := range m.item {
		start[i] = math.Log((m.answered[i] - m.right[i] + 0.5) / (m.right[i] + 0.5))
	}
	start[k] = 1
	n := float64(m.people)
	cache := m.cached()
	result, err := optimize.Minimize(optimize.Problem{
		Func: func(x []float64) float64 { ll, _ := cache(x); return -ll / n },
		Grad: func(grad, x []float64) {
			_, g := cache(x)
			for i := range grad {
				grad[i] = -g[i] / n
			}
		},
	}, start, &optimize.Settings{GradientThreshold: 1e-9, MajorIterations: 500}, &optimize.BFGS{})
	// The line search stops with an error where rounding hides any further
	// gain; whether that is the maximum is decided by the gradient below.
	if result == nil {
		return out, fmt.Errorf("marginal estimation: %w: %v", ErrNotConverged, err)
	}
	out.Iterations = result.MajorIterations
	x := result.X
	if x[k] < 0 { // the likelihood is even in the slope
		x[k] = -x[k]
	}
	if x[k] < 1e-2 {
		return out, fmt.Errorf("marginal estimation: %w: answers of one person are no more alike than answers of different people, so the slope is zero", ErrConstant)
	}
	var covariance *mat.SymDense
	for range 10 {
		gradient := make([]float64, k+1)
		info := mat.NewSymDense(k+1, nil)
		out.LogLikelihood = m.evaluate(x, gradient, info)
		step, err := solveCentred(info, gradient, false)
		if err != nil {
			return out, fmt.Errorf("marginal estimation: %w", err)
		}
		decrement := 0.0
		for i := range step {
			x[i] += step[i]
			decrement += step[i] * gradient[i]
		}
		if decrement < 1e-10 {
			covariance, err = invert(info)
			if err != nil {
				return out, fmt.Errorf("marginal estimation: %w", err)
			}
			break
		}
	}
	if covariance == nil {
		return out, fmt.Errorf("marginal estimation: %w", errors.Join(ErrNotConverged, err))
	}
	a := x[k]
	out.Slope, out.SlopeSE = a, math.Sqrt(covariance.At(k, k))
	out.People = m.people
	for c, i := range m.item {
		b := x[c] / a
		out.Difficulty[i] = b
		// b = d/a: db = (dd − b da)/a.
		out.SE[i] = math.Sqrt(covariance.At(c, c)-2*b*covariance.At(c, k)+b*b*covariance.At(k, k)) / a
	}
	return out, nil
}

func invert(info *mat.SymDense) (*mat.SymDense, error) {
	var chol mat.Cholesky
	if !chol.Factorize(info) {
		return nil, fmt.Errorf("%w: the information matrix is singular", ErrNotConverged)
	}
	inverse := mat.NewSymDense(info.SymmetricDim(), nil)
	if err := chol.InverseTo(inverse); err != nil {
		if _, badly := err.(mat.Condition); !badly {
			return nil, fmt.Errorf("%w: %v", ErrNotConverged, err)
		}
	}
	return inverse, nil
}

// Quadrature over the population.
const (
	nodes     = 81
	nodeReach = 6.0
)

// marginalProblem is the marginal log-likelihood as a function of the
// difficulties in logits and the slope.
type marginalProblem struct {
	item            []int     // parameter → item
	limits          []float64 // per item, where not estimated
	patterns        []answerPattern
	right, answered []float64 // per parameter
	people          int

	z, logWeight [nodes]float64
	probability  []float64 // parameters × nodes
	failure      []float64 // log(1 + exp(·)), parameters × nodes
	posterior    [nodes]float64
	low, high    int       // nodes outside have a posterior of nothing
	scores       []float64 // items + 1 × nodes between
}

func newMarginalProblem(r Responses) *marginalProblem {
	m := &marginalProblem{limits: make([]float64, r.items)}
	right, answered := make([]float64, r.items), make([]float64, r.items)
	for v := range r.people {
		for i, x := range r.Row(v) {
			if x >= 0 {
				answered[i]++
				right[i] += float64(x)
			}
		}
	}
	use := make([]bool, r.items)
	position := make([]int32, r.items)
	for i := range use {
		switch {
		case answered[i] == 0:
			m.limits[i] = math.NaN()
		case right[i] == 0:
			m.limits[i] = math.Inf(1)
		case right[i] == answered[i]:
			m.limits[i] = math.Inf(-1)
		default:
			use[i] = true
			position[i] = int32(len(m.item))
			m.item = append(m.item, i)
			m.right = append(m.right, right[i])
			m.answered = append(m.answered, answered[i])
		}
	}
	m.patterns = patternsOf(r, use, position)
	for _, p := range m.patterns {
		for _, n := range p.people {
			m.people += int(n)
		}
	}
	total := 0.0
	for q := range nodes {
		m.z[q] = -nodeReach + 2*nodeReach*float64(q)/(nodes-1)
		total += math.Exp(-m.z[q] * m.z[q] / 2)
	}
	for q, z := range m.z {
		m.logWeight[q] = -z*z/2 - math.Log(total)
	}
	m.probability = make([]float64, len(m.item)*nodes)
	m.failure = make([]float64, len(m.item)*nodes)
	return m
}

// cached evaluates value and gradient together, since an optimizer asks for
// them one after the other at the same point.
func (m *marginalProblem) cached() func(x []float64) (float64, []float64) {
	var at, gradient []float64
	var value float64
	return func(x []float64) (float64, []float64) {
		same := at != nil
		for i := range at {
			same = same && at[i] == x[i]
		}
		if !same {
			at = append(at[:0], x...)
			gradient = resize(gradient, len(x))
			value = m.evaluate(x, gradient, nil)
		}
		return value, gradient
	}
}

// evaluate gives log L, its gradient and, if info is not nil, the observed
// information: the expected information of answers and ability together less
// the variance of their score given the answers (Louis 1982).
func (m *marginalProblem) evaluate(x, gradient []float64, info *mat.SymDense) float64 {
	k := len(m.item)
	slope := x[k]
	clear(gradient)
	ll := 0.0
	for i, t := range m.right {
		ll -= t * x[i]
		gradient[i] = -t
		for q, z := range m.z {
			eta := slope*z - x[i]
			m.probability[i*nodes+q] = Probability(eta, 0)
			m.failure[i*nodes+q] = softplus(eta)
		}
	}
	if info != nil {
		info.Zero()
	}
	var expected, failure [nodes]float64
	for _, p := range m.patterns {
		clear(expected[:])
		clear(failure[:])
		for _, i := range p.items {
			floats.Add(failure[:], m.failure[int(i)*nodes:][:nodes])
			floats.Add(expected[:], m.probability[int(i)*nodes:][:nodes])
		}
		for n, right := range p.right {
			ll += p.people[n] * m.weigh(float64(right), slope, &failure)
			m.addGradient(p.items, float64(right), p.people[n], &expected, gradient)
			if info != nil {
				m.addInformation(p.items, float64(right), p.people[n], &expected, info)
			}
		}
	}
	return ll
}

// weigh computes the posterior weights of the nodes for people with the number
// right given and returns the logarithm of their marginal probability. low and
// high bound the nodes that matter.
func (m *marginalProblem) weigh(right, slope float64, failure *[nodes]float64) float64 {
	var logs [nodes]float64
	highest := math.Inf(-1)
	for q, z := range m.z {
		logs[q] = m.logWeight[q] + right*slope*z - failure[q]
		highest = max(highest, logs[q])
	}
	total := 0.0
	for q, l := range logs {
		m.posterior[q] = math.Exp(l - highest)
		total += m.posterior[q]
	}
	m.low, m.high = nodes, 0
	for q := range m.posterior {
		m.posterior[q] /= total
		if m.posterior[q] > 1e-15 {
			m.low, m.high = min(m.low, q), q+1
		}
	}
	return highest + math.Log(total)
}

func (m *marginalProblem) addGradient(items []int32, right, people float64, expected *[nodes]float64, gradient []float64) {
	posterior := m.posterior[m.low:m.high]
	for _, i := range items {
		gradient[i] += people * floats.Dot(posterior, m.probability[int(i)*nodes+m.low:][:len(posterior)])
	}
	sum := 0.0
	for q := m.low; q < m.high; q++ {
		sum += m.posterior[q] * m.z[q] * (right - expected[q])
	}
	gradient[len(gradient)-1] += people * sum
}

func (m *marginalProblem) addInformation(items []int32, right, people float64, expected *[nodes]float64, info *mat.SymDense) {
	size := info.SymmetricDim()
	k := size - 1
	raw := info.RawSymmetric().Data
	add := func(i, j int, v float64) {
		raw[min(i, j)*size+max(i, j)] += people * v
	}
	// Rows of √posterior × (score − its mean): one for each item (the part of
	// its score that depends on ability is P) and one for the slope.
	width := m.high - m.low
	rows := len(items) + 1
	m.scores = resize(m.scores, rows*width)
	index := func(a int) int {
		if a < len(items) {
			return int(items[a])
		}
		return k
	}
	for a := range rows {
		row := m.scores[a*width : (a+1)*width]
		mean := 0.0
		for n := range row {
			q := m.low + n
			if a < len(items) {
				row[n] = m.probability[index(a)*nodes+q]
			} else {
				row[n] = m.z[q] * (right - expected[q])
			}
			mean += m.posterior[q] * row[n]
		}
		for n := range row {
			row[n] = math.Sqrt(m.posterior[m.low+n]) * (row[n] - mean)
		}
	}
	for a := range rows {
		for b := a; b < rows; b++ {
			add(index(a), index(b), -floats.Dot(m.scores[a*width:(a+1)*width], m.scores[b*width:(b+1)*width]))
		}
	}
	for _, i := range items {
		p := m.probability[int(i)*nodes:][:nodes]
		var dd, ds, ss float64
		for q := m.low; q < m.high; q++ {
			w := m.posterior[q] * p[q] * (1 - p[q])
			dd += w
			ds -= w * m.z[q]
			ss += w * m.z[q] * m.z[q]
		}
		add(int(i), int(i), dd)
		add(int(i), k, ds)
		add(k, k, ss)
	}
}
