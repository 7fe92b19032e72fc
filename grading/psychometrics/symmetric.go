package psychometrics

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// tied is the relative difference of easiness below which the covariance of two
// answers is taken from a recursion of its own instead of from a quotient that
// would lose its digits: at 1e-6 the quotient keeps about eight of them, and
// the recursion is exact where the difficulties are equal and off by less than
// one part in 1e6 where they are only nearly so.
const tied = 1e-6

// conditionalMoments computes the distribution of the answers of people to a
// set of items given their number right, and holds the memory for it.
//
// Let e_1 ≥ e_2 ≥ … be exp(−b) of the m items and γ_r the elementary symmetric
// function of order r, the sum over all r-subsets of items of the product of
// their e. Given r right answers, a set of right answers has the probability of
// its product over γ_r (Andersen 1972). γ grows like a binomial coefficient,
// and the textbook recursion for it with one item left out subtracts and loses
// all digits for long tests. Three things avoid both:
//
// The ratios h_s = γ_s / γ_{s−1} are computed instead of γ. Adding an item e
// turns them into
//
//	h'_s = (h_s + e) · h_{s−1} / (h_{s−1} + e)
//
// with additions, products and quotients of positive numbers only, so that each
// keeps full relative precision and none overflows, whatever the length and the
// spread of difficulties. log γ_r = Σ_{s≤r} log h_s.
//
// The probability that item i is right given r obeys
//
//	π_i(r) = c · (1 − π_i(r−1)),   c = e_i / h_r
//
// from π_i(0) = 0, which multiplies errors by c, and the same read backwards
// from π_i(m) = 1, which divides them by c. As h falls with r, c rises, so each
// item is run forwards while c ≤ 1 and backwards while c > 1: errors always
// shrink. All scores together take m² steps.
//
// The probability that both i and j are right is π_ij = π_i − e_i A with
// A = γ_{r−1} of the items without i and j, over γ_r, and
//
//	A = (π_i − π_j) / (e_i − e_j)
//
// so covariances need no sums over subsets. For ties the divided difference is
// itself run through the recursion: A(r) = (1 − π_i(r−1) − e_j A(r−1)) / h_r.
//
// Sources: the summation algorithm and its stability, Verhelst, Glas & van der
// Sluis (1984), Computational Statistics Quarterly 1; π_ij from π_i and π_j for
// fixed-size sampling, Chen, Dempster & Liu (1994), Biometrika 81.
type conditionalMoments struct {
	m, scores int
	easiness  []float64 // of the items, largest first
	inverse   []float64 // 1 / easiness
	ratio     []float64 // h_1 … h_m at 1 … m
	turn      []int     // at s: the first item with c ≤ 1
	state     []float64
	joint     []float64 // A of items n and n+1 where they are tied
	isTied    []bool    // items n and n+1 are; the last is false

	logGamma []float64 // per score
	// probability of item n at score index k is at n·scores + k; between has A
	// of n and n+1 in the same place where isTied.
	probability []float64
	between     []float64
}

// compute takes the difficulties of m items, smallest first, and the scores
// wanted, rising, each above 0 and below m.
func (c *conditionalMoments) compute(difficulty []float64, wanted []int) {
	m := len(difficulty)
	c.m, c.scores = m, len(wanted)
	c.easiness, c.inverse = resize(c.easiness, m), resize(c.inverse, m)
	for n, b := range difficulty {
		c.easiness[n] = math.Exp(-b)
		c.inverse[n] = 1 / c.easiness[n]
	}
	anyTied := false
	if cap(c.isTied) < m {
		c.isTied = make([]bool, m)
		c.turn = make([]int, m+1)
	}
	c.isTied, c.turn = c.isTied[:m], c.turn[:m+1]
	for n := range m {
		c.isTied[n] = n+1 < m && c.easiness[n]-c.easiness[n+1] < tied*c.easiness[n]
		anyTied = anyTied || c.isTied[n]
	}
	c.ratios()
	c.logGamma = resize(c.logGamma, len(wanted))
	c.logs(wanted)

	c.probability = resize(c.probability, m*len(wanted))
	c.between = resize(c.between, m*len(wanted))
	c.state, c.joint = resize(c.state, m), resize(c.joint, m)
	c.upward(wanted, anyTied)
	c.downward(wanted, anyTied)
}

// ratios fills ratio.
func (c *conditionalMoments) ratios() {
	c.ratio = resize(c.ratio, c.m+1)
	h := c.ratio
	for n, e := range c.easiness {
		h[n+1] = 0
		upper := h[n+1] + e
		for s := n + 1; s >= 2; s-- {
			lower := h[s-1] + e
			h[s] = upper * h[s-1] / lower
			upper = lower
		}
		h[1] = upper
	}
}

// logs fills logGamma, taking a logarithm only when the product of ratios
// leaves the middle of the range of numbers.
func (c *conditionalMoments) logs(wanted []int) {
	product, sum := 1.0, 0.0
	s := 0
	for k, r := range wanted {
		for ; s < r; s++ {
			product *= c.ratio[s+1]
			if product > 1e150 || product < 1e-150 {
				sum += math.Log(product)
				product = 1
			}
		}
		c.logGamma[k] = sum + math.Log(product)
	}
}

// upward runs from score 0 the items for which that is stable.
func (c *conditionalMoments) upward(wanted []int, anyTied bool) {
	e, state, joint := c.easiness, c.state, c.joint
	clear(state)
	clear(joint)
	from, k := 0, 0
	for s := 1; s <= c.m; s++ {
		h := c.ratio[s]
		for from < c.m && e[from] > h {
			from++
		}
		c.turn[s] = from
		if k == len(wanted) {
			continue // only the turns are still wanted
		}
		g := 1 / h
		if anyTied {
			for n := from; n < c.m; n++ {
				if c.isTied[n] {
					joint[n] = g * (1 - state[n] - e[n+1]*joint[n])
				}
			}
		}
		part := state[from:]
		for n, x := range e[from:] {
			part[n] = x * g * (1 - part[n])
		}
		if wanted[k] == s {
			for n := from; n < c.m; n++ {
				c.probability[n*c.scores+k] = state[n]
				c.between[n*c.scores+k] = joint[n]
			}
			k++
		}
	}
}

// downward runs the others from score m; state holds 1 − π.
func (c *conditionalMoments) downward(wanted []int, anyTied bool) {
	state, joint := c.state, c.joint
	clear(state)
	clear(joint)
	k := len(wanted) - 1
	for s := c.m; k >= 0; s-- {
		h := c.ratio[s]
		to := c.turn[s]
		part := state[:to]
		for n, x := range c.inverse[:to] {
			part[n] = (1 - part[n]) * h * x
		}
		if anyTied {
			for n := range to {
				if c.isTied[n] {
					joint[n] = (state[n] - joint[n]*h) * c.inverse[n+1]
				}
			}
		}
		if wanted[k] == s-1 {
			for n := range c.turn[s-1] {
				c.probability[n*c.scores+k] = 1 - state[n]
				c.between[n*c.scores+k] = joint[n]
			}
			k--
		}
	}
}

// patternSums adds up the moments of people who answered the same items.
type patternSums struct {
	conditionalMoments
	order, rank []int32   // of all items by difficulty
	sorted      []float64 // difficulties of the pattern's items, smallest first
	mean        []float64 // Σ people × probability, by item of the pattern
	weighted    []float64 // people × probability of one item, by score
}

func (p *patternSums) rankBy(difficulty []float64) {
	p.order, p.rank = ranking(difficulty, p.order, p.rank)
}

// sum sorts the pattern's items by rank, computes the moments at its scores and
// mean, and returns Σ people × log γ.
func (p *patternSums) sum(q answerPattern, difficulty []float64) float64 {
	sortByRank(q.items, p.rank)
	m, scores := len(q.items), len(q.right)
	p.sorted, p.mean, p.weighted = resize(p.sorted, m), resize(p.mean, m), resize(p.weighted, scores)
	for a, i := range q.items {
		p.sorted[a] = difficulty[i]
	}
	p.compute(p.sorted, q.right)
	for a := range m {
		p.mean[a] = floats.Dot(q.people, p.probability[a*scores:(a+1)*scores])
	}
	return floats.Dot(q.people, p.logGamma)
}

// weigh sets weighted for the a-th item and returns its probabilities.
func (p *patternSums) weigh(q answerPattern, a int) []float64 {
	row := p.probability[a*p.scores : (a+1)*p.scores]
	for k, x := range row {
		p.weighted[k] = x * q.people[k]
	}
	return row
}

// resize gives a slice of length n, reusing memory; contents are undefined.
func resize(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	return s[:n]
}
