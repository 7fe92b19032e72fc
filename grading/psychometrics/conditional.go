package psychometrics

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// Calibration is a set of item difficulties estimated by [Conditional].
type Calibration struct {
	// Difficulty has one value per item, in logits; those estimated sum to
	// zero. An item that every informative person got right is −Inf, one that
	// every one got wrong +Inf, one that no informative person answered NaN.
	Difficulty []float64
	// SE has the standard error of each difficulty; NaN where not estimated.
	SE []float64
	// Covariance of the difficulties, items × items, under the constraint that
	// they sum to zero (so it has rank one less than the number estimated).
	// Rows and columns of items not estimated are zero.
	Covariance *mat.SymDense
	// Estimated lists the items that were estimated, in order.
	Estimated []int
	// LogLikelihood is the conditional log-likelihood at the estimates, over
	// informative people and estimated items.
	LogLikelihood float64
	// People is the number of informative people: those with at least one right
	// and one wrong answer to estimated items. Others carry no information
	// about differences between items.
	People int
	// Iterations of Newton's method.
	Iterations int
}

// Conditional estimates item difficulties of the Rasch model by conditional
// maximum likelihood,
//
//	log L(b) = − Σ_i t_i b_i − Σ_v log gamma_{r_v}(exp(−b_i), i in S_v)
//
// with t_i the number of people right on item i, r_v the number right of person
// v, S_v the set of items that v answered and gamma_r the elementary symmetric
// function of order r. Each person enters with the items that the person
// answered, so incomplete designs need nothing special. No assumption is made
// about the distribution of ability.
//
// Sources: Andersen (1972), J. Royal Statistical Society B 34; Verhelst, Glas &
// van der Sluis (1984), Computational Statistics Quarterly 1; existence of the
// maximum: Fischer (1981), Psychometrika 46.
//
// Cost per iteration of Newton's method (five or so are enough): for a person
// with m answers and r right, r(m−r) + m²/2, once for all people with the same
// items and score; then k³/3 to solve for k items. It does not matter whether
// people share items lists: 10,000 people each with their own 20 of 2,000 items
// cost 10,000 × 20². Memory: about 48 k² bytes. For k beyond some thousands use
// [FitLLTM], which never forms a k × k matrix.
//
// Items without an estimate (everybody right, everybody wrong, nobody) are left
// out, repeatedly, since leaving one out can make another so; see
// [Calibration.Difficulty]. People with none or all right are left out too.
//
// Errors wrap [ErrEmpty] (no answers), [ErrConstant] (fewer than two items
// left), [ErrDisconnected] (the items fall into groups of which nobody failed
// one and passed the other; the message lists the groups) or [ErrNotConverged].
func Conditional(r Responses) (Calibration, error) {
	active := make([]bool, r.items)
	for i := range active {
		active[i] = true
	}
	return conditionalOn(r, active, nil)
}

// conditionalOn estimates the items for which active is true, starting from the
// difficulties near if there are any.
func conditionalOn(r Responses, active []bool, near []float64) (Calibration, error) {
	out := Calibration{Difficulty: make([]float64, r.items), SE: make([]float64, r.items)}
	if r.Answered() == 0 {
		return out, fmt.Errorf("conditional estimation: %w: nobody answered anything", ErrEmpty)
	}
	use, limits := estimable(r, active)
	k := 0
	position := make([]int32, r.items) // item → parameter
	for i := range use {
		out.Difficulty[i], out.SE[i] = limits[i], math.NaN()
		if use[i] {
			position[i] = int32(k)
			out.Estimated = append(out.Estimated, i)
			k++
		}
	}
	out.Covariance = mat.NewSymDense(r.items, nil)
	if k < 2 {
		return out, fmt.Errorf("conditional estimation: %w: fewer than two items have both right and wrong answers from people who have both", ErrConstant)
	}
	if parts := linkedParts(r, use); len(parts) > 1 {
		return out, fmt.Errorf("conditional estimation: %w: %s; link them with people who answer items of both, or estimate each group by itself",
			ErrDisconnected, describeParts(r, parts))
	}

	p := newConditionalProblem(r, use, position, k)
	out.People = int(p.people)
	start := make([]float64, k)
	for i := range start {
		start[i] = math.Log((p.answered[i] - p.right[i] + 0.5) / (p.right[i] + 0.5))
	}
	for a, i := range out.Estimated {
		if near != nil && finite(near[i]) {
			start[a] = near[i]
		}
	}
	centre(start)
	b, info, ll, n, err := maximize(start, p.evaluate, centre)
	out.Iterations, out.LogLikelihood = n, ll
	if err != nil {
		return out, fmt.Errorf("conditional estimation: %w", err)
	}
	inverse, err := invertCentred(info)
	if err != nil {
		return out, fmt.Errorf("conditional estimation: %w", err)
	}
	for a, i := range out.Estimated {
		out.Difficulty[i] = b[a]
		out.SE[i] = math.Sqrt(inverse.At(a, a))
		for c := a; c < k; c++ {
			out.Covariance.SetSym(i, out.Estimated[c], inverse.At(a, c))
		}
	}
	return out, nil
}

// conditionalProblem is the log-likelihood as a function of k difficulties.
type conditionalProblem struct {
	k               int
	patterns        []answerPattern // items are parameter numbers
	right, answered []float64       // per parameter, among informative people
	people          float64

	patternSums
	quotient []float64 // e_i / (e_i − e_j) by rank, k × k
	sums     []float64 // of minus second derivatives, by rank, k × k
	at       []int     // ranks of the items of a pattern, rising
}

func newConditionalProblem(r Responses, use []bool, position []int32, k int) *conditionalProblem {
	p := &conditionalProblem{k: k, right: make([]float64, k), answered: make([]float64, k)}
	p.patterns = informative(patternsOf(r, use, position))
	for _, q := range p.patterns {
		for _, n := range q.people {
			p.people += n
		}
	}
	right, answered := countInformative(r, use)
	for i, u := range use {
		if u {
			p.right[position[i]] = float64(right[i])
			p.answered[position[i]] = float64(answered[i])
		}
	}
	return p
}

// evaluate gives log L, its gradient and minus its second derivatives.
func (p *conditionalProblem) evaluate(b, gradient []float64, info *mat.SymDense) float64 {
	ll := 0.0
	for i, t := range p.right {
		ll -= t * b[i]
		gradient[i] = -t
	}
	p.rankBy(b)
	p.sums = resize(p.sums, p.k*p.k)
	clear(p.sums)
	p.quotients(b)
	for _, q := range p.patterns {
		ll -= p.add(q, b, gradient)
	}
	for a, i := range p.order {
		row := p.sums[a*p.k : (a+1)*p.k]
		for c := a; c < p.k; c++ {
			info.SetSym(int(i), int(p.order[c]), row[c])
		}
	}
	return ll
}

func (p *conditionalProblem) quotients(b []float64) {
	p.quotient = resize(p.quotient, p.k*p.k)
	e := make([]float64, p.k)
	for a, i := range p.order {
		e[a] = math.Exp(-b[i])
	}
	for a := range e {
		row := p.quotient[a*p.k : (a+1)*p.k]
		for c := a + 1; c < p.k; c++ {
			row[c] = e[a] / (e[a] - e[c]) // infinite for ties, where it is not used
		}
	}
}

// add adds the people of one pattern to the gradient and to sums and returns
// Σ people × log γ. The covariance of items a and c given the number right is
// π_ac − π_a π_c = π_a + quotient_ac (π_c − π_a) − π_a π_c.
func (p *conditionalProblem) add(q answerPattern, b, gradient []float64) float64 {
	logGamma := p.sum(q, b)
	m, scores := len(q.items), len(q.right)
	if cap(p.at) < m {
		p.at = make([]int, m)
	}
	p.at = p.at[:m]
	for a, i := range q.items {
		p.at[a] = int(p.rank[i])
		gradient[i] += p.mean[a]
	}
	for a, rank := range p.at {
		sums, quotient := p.sums[rank*p.k:(rank+1)*p.k], p.quotient[rank*p.k:(rank+1)*p.k]
		pa, ma := p.weigh(q, a), p.mean[a]
		sums[rank] += ma - floats.Dot(p.weighted, pa)
		d := a + 1
		if p.isTied[a] {
			joint := p.easiness[a] * floats.Dot(q.people, p.between[a*scores:(a+1)*scores])
			for ; d < m && p.easiness[a]-p.easiness[d] < tied*p.easiness[a]; d++ {
				sums[p.at[d]] += ma - joint - floats.Dot(p.weighted, p.probability[d*scores:(d+1)*scores])
			}
		}
		if scores == 1 { // the usual case when everybody sees other items
			x := pa[0]
			means := p.mean[d:m]
			for n, r := range p.at[d:m] {
				md := means[n]
				sums[r] += ma + quotient[r]*(md-ma) - x*md
			}
			continue
		}
		for ; d < m; d++ {
			r := p.at[d]
			sums[r] += ma + quotient[r]*(p.mean[d]-ma) - floats.Dot(p.weighted, p.probability[d*scores:(d+1)*scores])
		}
	}
	return logGamma
}

// maximize climbs a concave log-likelihood by Newton's method with step
// halving. A general optimizer is not used: the function is concave, its second
// derivatives are at hand, and Newton's own decrement tells when to stop in
// units of standard errors. project removes what is not identified (it may be
// nil); info must then be invertible after adding a constant to every cell.
func maximize(start []float64, evaluate func(x, gradient []float64, info *mat.SymDense) float64, project func([]float64)) (x []float64, info *mat.SymDense, value float64, iterations int, err error) {
	const (
		limit     = 100
		precision = 1e-9 // of the squared distance to the maximum, in standard errors
		farthest  = 300  // logits; no difficulty is that far from the others
	)
	k := len(start)
	x = append([]float64(nil), start...)
	gradient, trial, trialGradient := make([]float64, k), make([]float64, k), make([]float64, k)
	info = mat.NewSymDense(k, nil)
	value = evaluate(x, gradient, info)
	for iterations = 1; iterations <= limit; iterations++ {
		step, err := solveCentred(info, gradient, project != nil)
		if err != nil {
			return x, info, value, iterations, err
		}
		if project != nil {
			project(step)
		}
		decrement := 0.0
		for i := range step {
			decrement += step[i] * gradient[i]
		}
		done := decrement < precision
		accepted := false
		for scale := 1.0; scale > 1e-10; scale /= 2 {
			far := false
			for i := range trial {
				trial[i] = x[i] + scale*step[i]
				far = far || !(math.Abs(trial[i]) < farthest)
			}
			if far {
				continue
			}
			v := evaluate(trial, trialGradient, info)
			// Near the maximum rounding decides, hence the allowance.
			if v >= value-1e-12*math.Abs(value) {
				value, accepted = v, true
				x, trial = trial, x
				gradient, trialGradient = trialGradient, gradient
				break
			}
		}
		if !accepted {
			return x, info, value, iterations, fmt.Errorf("%w: no step improves the likelihood after %d iterations", ErrNotConverged, iterations)
		}
		if done {
			return x, info, value, iterations, nil
		}
	}
	return x, info, value, iterations, fmt.Errorf("%w within %d iterations", ErrNotConverged, limit)
}

// solveCentred solves info · step = gradient. If singular is true, info has the
// constant vector as its null space, which is filled first.
func solveCentred(info *mat.SymDense, gradient []float64, singular bool) ([]float64, error) {
	k := info.SymmetricDim()
	var chol mat.Cholesky
	if !factorize(&chol, info, singular) {
		return nil, fmt.Errorf("%w: the information matrix is singular; some figures cannot be told apart from this data", ErrNotConverged)
	}
	step := mat.NewVecDense(k, nil)
	// The condition number of sparse designs is large but harmless: the step is
	// tested against the likelihood.
	if err := chol.SolveVecTo(step, mat.NewVecDense(k, gradient)); err != nil {
		if _, badly := err.(mat.Condition); !badly {
			return nil, fmt.Errorf("%w: %v", ErrNotConverged, err)
		}
	}
	return step.RawVector().Data, nil
}

func factorize(chol *mat.Cholesky, info *mat.SymDense, singular bool) bool {
	if !singular {
		return chol.Factorize(info)
	}
	filled, _ := filledNull(info)
	return chol.Factorize(filled)
}

// filledNull adds c/k to every cell, which gives the constant vector the
// eigenvalue c (the mean of the diagonal) and changes nothing else.
func filledNull(info *mat.SymDense) (filled *mat.SymDense, c float64) {
	k := info.SymmetricDim()
	for i := range k {
		c += info.At(i, i)
	}
	c /= float64(k)
	filled = mat.NewSymDense(k, nil)
	for i := range k {
		for j := i; j < k; j++ {
			filled.SetSym(i, j, info.At(i, j)+c/float64(k))
		}
	}
	return filled, c
}

// invertCentred is the pseudo-inverse of an information matrix whose null space
// is the constant vector: the covariance under the constraint of sum zero.
func invertCentred(info *mat.SymDense) (*mat.SymDense, error) {
	k := info.SymmetricDim()
	filled, c := filledNull(info)
	var chol mat.Cholesky
	if !chol.Factorize(filled) {
		return nil, fmt.Errorf("%w: the information matrix is singular", ErrNotConverged)
	}
	inverse := mat.NewSymDense(k, nil)
	if err := chol.InverseTo(inverse); err != nil {
		if _, badly := err.(mat.Condition); !badly {
			return nil, fmt.Errorf("%w: %v", ErrNotConverged, err)
		}
	}
	for i := range k {
		for j := i; j < k; j++ {
			inverse.SetSym(i, j, inverse.At(i, j)-1/(c*float64(k)))
		}
	}
	return inverse, nil
}

// centre subtracts the mean.
func centre(x []float64) {
	mean := 0.0
	for _, v := range x {
		mean += v
	}
	mean /= float64(len(x))
	for i := range x {
		x[i] -= mean
	}
}

// estimable finds which of the active items have both right and wrong answers
// from informative people, leaving out items and people in turn until nothing
// changes. limits says what stands in place of an estimate: ±Inf or NaN.
func estimable(r Responses, active []bool) (use []bool, limits []float64) {
	use = append([]bool(nil), active...)
	limits = make([]float64, r.items)
	for i := range limits {
		limits[i] = math.NaN()
	}
	for {
		right, answered := countInformative(r, use)
		changed := false
		for i := range use {
			if !use[i] {
				continue
			}
			switch {
			case answered[i] == 0:
				use[i], changed = false, true
			case right[i] == 0:
				use[i], changed, limits[i] = false, true, math.Inf(1)
			case right[i] == answered[i]:
				use[i], changed, limits[i] = false, true, math.Inf(-1)
			}
		}
		if !changed {
			return use, limits
		}
	}
}

// countInformative counts the right answers and the answers to each item in use
// by people who have both right and wrong answers to such items.
func countInformative(r Responses, use []bool) (right, answered []int) {
	right, answered = make([]int, r.items), make([]int, r.items)
	for v := range r.people {
		row := r.Row(v)
		n, score := 0, 0
		for i, x := range row {
			if x >= 0 && use[i] {
				n++
				score += int(x)
			}
		}
		if score == 0 || score == n {
			continue
		}
		for i, x := range row {
			if x >= 0 && use[i] {
				answered[i]++
				right[i] += int(x)
			}
		}
	}
	return right, answered
}

// linkedParts divides the items in use into the largest sets within which every
// two items are compared, directly or through others, in both directions: some
// person right on one and wrong on the other, and the reverse. The conditional
// likelihood has a maximum exactly if there is one such set (Fischer 1981). It
// walks from item to people right on it to items they got wrong, so time is
// linear in the answers per part.
func linkedParts(r Responses, use []bool) [][]int {
	var parts [][]int
	left := append([]bool(nil), use...)
	columns := columnIndex(r, use)
	for first := range left {
		if !left[first] {
			continue
		}
		forward := reach(r, use, columns, first, 1)
		backward := reach(r, use, columns, first, 0)
		var part []int
		for i := range left {
			if left[i] && forward[i] && backward[i] {
				part = append(part, i)
				left[i] = false
			}
		}
		parts = append(parts, part)
	}
	return parts
}

// columnIndex lists for each item in use the people who answered it.
func columnIndex(r Responses, use []bool) [][]int32 {
	columns := make([][]int32, r.items)
	for v := range r.people {
		for i, x := range r.Row(v) {
			if x >= 0 && use[i] {
				columns[i] = append(columns[i], int32(v))
			}
		}
	}
	return columns
}

// reach walks from an item to the people whose answer to it is x and on to the
// items to which they gave the other answer.
func reach(r Responses, use []bool, columns [][]int32, from int, x int8) []bool {
	items, people := make([]bool, r.items), make([]bool, r.people)
	items[from] = true
	queue := []int{from}
	for len(queue) > 0 {
		i := queue[len(queue)-1]
		queue = queue[:len(queue)-1]
		for _, v := range columns[i] {
			row := r.Row(int(v))
			if people[v] || row[i] != x {
				continue
			}
			people[v] = true
			for j, y := range row {
				if y == 1-x && use[j] && !items[j] {
					items[j] = true
					queue = append(queue, j)
				}
			}
		}
	}
	return items
}

// describeParts lists the groups of items by label, or by column number where
// there are no labels, at most a few of each.
func describeParts(r Responses, parts [][]int) string {
	const most = 6
	var b strings.Builder
	fmt.Fprintf(&b, "%d groups: ", len(parts))
	for n, part := range parts {
		if n == most {
			fmt.Fprintf(&b, " and %d more", len(parts)-n)
			break
		}
		if n > 0 {
			b.WriteString(" | ")
		}
		for m, i := range part {
			if m == most {
				fmt.Fprintf(&b, " and %d more", len(part)-m)
				break
			}
			if m > 0 {
				b.WriteString(", ")
			}
			b.WriteString(r.itemLabel(i))
		}
	}
	return b.String()
}

// itemLabel names a column for messages.
func (r Responses) itemLabel(i int) string {
	if len(r.Items) > 0 {
		return fmt.Sprintf("%q", r.Items[i])
	}
	return fmt.Sprintf("item %d", i+1)
}
