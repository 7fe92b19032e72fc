package psychometrics

import "math"

// tied is the difference of two difficulties below which the covariance of
// their answers is taken from the symmetric functions themselves instead of
// from a quotient that would lose its digits: at 1e-6 the quotient keeps about
// eight of them, and the direct value is off by less than one part in 1e6 (and
// exact where the difficulties are equal).
const tied = 1e-6

// conditionalMoments holds the working memory for the distribution of the
// answers of one person given the number right.
//
// Let e_i = exp(−b_i) and gamma_r the elementary symmetric function of order r,
// the sum over all r-subsets of items of the product of their e. Given r right
// answers, the probability of a set of right answers is its product over
// gamma_r (Andersen 1972). gamma grows like a binomial coefficient and its
// usual recursion by differences loses all digits for long tests, so this code
// works with the tilted probabilities
//
//	p_i = T e_i / (1 + T e_i),   q_i = 1 − p_i
//
// with T chosen so that Σ p_i is near r. Then f_s = P(Σ = s) of independent
// answers with these probabilities is at its largest near s = r, every number
// is between 0 and 1, and
//
//	log gamma_r = log f_r − r log T − Σ log q_i
//
// f is summed forwards and backwards over the items (the summation algorithm
// of Verhelst, Glas & van der Sluis 1984): additions of positive numbers only,
// so each value has full relative precision whatever the spread of
// difficulties. The probability that item i is right given r is
//
//	pi_i = p_i Σ_s F_i[s] B_{i+1}[r−1−s] / f_r
//
// with F_i over the items before i and B_{i+1} over those after it. The
// probability that both i and j are right follows from
// pi_i = e_i A + pi_ij and pi_j = e_j A + pi_ij, with the same A:
//
//	pi_ij = (e_i pi_j − e_j pi_i) / (e_i − e_j)
//
// which costs one division per pair instead of a sum over scores. For m items
// answered with r right, time is O(r (m − r)) for log gamma and pi and O(m²)
// for the covariances; nothing depends on how many other items there are or on
// anybody else having seen the same ones.
type conditionalMoments struct {
	easiness []float64 // exp(−b), all items

	p, q     []float64 // tilted probabilities, in the order of the group's items
	forward  []float64 // m+1 rows of r+1
	backward []float64
	next     []float64
	pair     []float64 // Σ F_i B_{i+2} / f_r for neighbours that are tied

	probability []float64 // pi, out
	covariance  []float64 // m × m, upper triangle by position, out
}

// setDifficulty prepares for difficulties b, which must be finite and within
// ±700 of zero.
func (c *conditionalMoments) setDifficulty(b []float64) {
	c.easiness = resize(c.easiness, len(b))
	for i, x := range b {
		c.easiness[i] = math.Exp(-x)
	}
}

// group computes log gamma_r for the items given and, as asked, their
// probabilities and covariances given r right. items must be sorted by
// difficulty (sortByDifficulty), 0 < right < len(items). logT is where to start
// looking for log T; what was found is returned.
func (c *conditionalMoments) group(items []int32, right int, logT float64, wantProbability, wantCovariance bool) (logGamma, foundLogT float64) {
	m := len(items)
	logT, sumLogQ := c.tilt(items, right, logT)

	// Count whichever of right and wrong is rarer.
	r, p, q := right, c.p, c.q
	wrong := 2*right > m
	if wrong {
		r, p, q = m-right, c.q, c.p
	}

	width := r + 1
	c.forward = resize(c.forward, (m+1)*width)
	f := c.forward
	f[0] = 1
	for i := range m {
		// Scores that can still lead to r with the items left.
		row, out := f[i*width:(i+1)*width], f[(i+1)*width:(i+2)*width]
		pi, qi := p[i], q[i]
		low, high := max(0, r-(m-1-i)), min(i+1, r)
		if low == 0 {
			out[0] = qi * row[0]
		}
		for s := max(low, 1); s <= min(high, i); s++ {
			out[s] = qi*row[s] + pi*row[s-1]
		}
		if high == i+1 {
			out[high] = pi * row[i]
		}
	}
	total := f[m*width+r]
	logGamma = math.Log(total) - float64(right)*logT - sumLogQ
	if !wantProbability && !wantCovariance {
		return logGamma, logT
	}

	c.probability = resize(c.probability, m)
	c.pair = resize(c.pair, m)
	c.backward, c.next = resize(c.backward, width), resize(c.next, width)
	back, next := c.backward, c.next
	back[0] = 1
	// back[t] is B over the n = m−1−i items after i.
	for i := m - 1; i >= 0; i-- {
		n := m - 1 - i
		row := f[i*width : (i+1)*width]
		sum := 0.0
		for s := max(0, r-1-n); s <= min(i, r-1); s++ {
			sum += row[s] * back[r-1-s]
		}
		c.probability[i] = p[i] * sum / total
		if i > 0 {
			// The neighbour before i, with both left out: F over the items
			// before i−1, B over those after i.
			c.pair[i-1] = 0
			if r >= 2 && wantCovariance {
				row := f[(i-1)*width : i*width]
				sum := 0.0
				for s := max(0, r-2-n); s <= min(i-1, r-2); s++ {
					sum += row[s] * back[r-2-s]
				}
				c.pair[i-1] = sum / total
			}
			// Only what the items before i can still complete to r is needed.
			low, high := max(0, r-i), min(n+1, r)
			if low == 0 {
				next[0] = q[i] * back[0]
			}
			for s := max(low, 1); s <= min(high, n); s++ {
				next[s] = q[i]*back[s] + p[i]*back[s-1]
			}
			if high == n+1 {
				next[high] = p[i] * back[n]
			}
			back, next = next, back
		}
	}
	if wantCovariance {
		c.pairs(items, p, wrong)
	} else if wrong {
		for i := range m {
			c.probability[i] = 1 - c.probability[i]
		}
	}
	return logGamma, logT
}

// pairs fills the covariances of right answers (those of wrong answers are the
// same) and turns the probabilities of what was counted into those of right.
func (c *conditionalMoments) pairs(items []int32, p []float64, wrong bool) {
	m := len(items)
	c.covariance = resize(c.covariance, m*m)
	prob := c.probability
	for a := range m {
		row := c.covariance[a*m : (a+1)*m]
		pa := prob[a]
		row[a] = pa * (1 - pa)
		ea := c.easiness[items[a]]
		for b := a + 1; b < m; b++ {
			eb := c.easiness[items[b]]
			// Sorted by difficulty, so ea ≥ eb.
			if ea-eb < tied*ea {
				row[b] = p[a]*p[b]*c.pair[a] - pa*prob[b]
				continue
			}
			d := ea / (ea - eb)
			if wrong {
				// For wrong answers 1/e takes the place of e.
				d = -eb / (ea - eb)
			}
			row[b] = pa*(1-prob[b]) + d*(prob[b]-pa)
		}
	}
	if wrong {
		for a := range m {
			prob[a] = 1 - prob[a]
		}
	}
}

// tilt finds log T with Σ p near right, fills p and q and returns Σ log q.
func (c *conditionalMoments) tilt(items []int32, right int, logT float64) (found, sumLogQ float64) {
	c.p, c.q = resize(c.p, len(items)), resize(c.q, len(items))
	for range 60 {
		t := math.Exp(logT)
		sum, variance, product, logs := 0.0, 0.0, 1.0, 0.0
		for n, i := range items {
			q := 1 / (1 + t*c.easiness[i])
			p := t * c.easiness[i] * q
			c.p[n], c.q[n] = p, q
			sum += p
			variance += p * q
			product *= q
			if product < 1e-250 {
				logs += math.Log(product)
				product = 1
			}
		}
		sumLogQ = logs + math.Log(product)
		off := float64(right) - sum
		// Any T gives the same answer; near r nothing underflows.
		if math.Abs(off) <= 1+math.Sqrt(variance) && product > 0 {
			break
		}
		step := off / max(variance, 1e-3)
		logT += min(max(step, -3), 3)
	}
	return logT, sumLogQ
}

// resize gives a slice of length n, reusing memory; contents are undefined.
func resize(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	return s[:n]
}
