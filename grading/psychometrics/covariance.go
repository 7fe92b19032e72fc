package psychometrics

import (
	"math"
	"math/bits"
)

// covarianceSums is what alpha needs of the items' covariance matrix C.
type covarianceSums struct {
	variance []float64 // C_ii
	row      []float64 // Σ_j C_ij, the item itself included
	trace    float64   // Σ_i C_ii
	total    float64   // Σ_ij C_ij, the variance of the number right
}

// covariances sums the sample covariance matrix (divisor n − 1) of the items.
// With missing answers each covariance is over the people who answered both
// items; a pair that fewer than two people answered makes its sums NaN.
func covariances(r Responses) covarianceSums {
	c := covarianceSums{variance: make([]float64, r.items), row: make([]float64, r.items)}
	if r.Complete() {
		c.complete(r)
	} else {
		c.pairwise(r)
	}
	for i, v := range c.variance {
		c.trace += v
		c.total += c.row[i]
	}
	return c
}

// complete uses Σ_j cov(x_i, x_j) = cov(x_i, score), linear in the cells.
func (c *covarianceSums) complete(r Responses) {
	all := make([]moments, r.items)
	for v := range r.people {
		right, _ := r.Score(v)
		for i, x := range r.Row(v) {
			all[i].add(float64(x), float64(right))
		}
	}
	for i, m := range all {
		c.variance[i] = m.xx / (m.n - 1)
		c.row[i] = m.xy / (m.n - 1)
	}
}

// pairwise counts with one bit per person, 64 people at a time.
func (c *covarianceSums) pairwise(r Responses) {
	words := (r.people + 63) / 64
	seen, right := make([]uint64, r.items*words), make([]uint64, r.items*words)
	for v := range r.people {
		bit := uint64(1) << (v & 63)
		for i, x := range r.Row(v) {
			if x >= 0 {
				seen[i*words+v>>6] |= bit
				if x == 1 {
					right[i*words+v>>6] |= bit
				}
			}
		}
	}
	for i := range r.items {
		si, ri := seen[i*words:(i+1)*words], right[i*words:(i+1)*words]
		for j := i; j < r.items; j++ {
			sj, rj := seen[j*words:(j+1)*words], right[j*words:(j+1)*words]
			var n, x, y, xy int
			for w := range si {
				n += bits.OnesCount64(si[w] & sj[w])
				x += bits.OnesCount64(ri[w] & sj[w])
				y += bits.OnesCount64(si[w] & rj[w])
				xy += bits.OnesCount64(ri[w] & rj[w])
			}
			cov := math.NaN()
			if n >= 2 {
				cov = (float64(xy) - float64(x)*float64(y)/float64(n)) / float64(n-1)
			}
			c.row[i] += cov
			if i == j {
				c.variance[i] = cov
			} else {
				c.row[j] += cov
			}
		}
	}
}

// alpha of k items from the trace and the sum of their covariances.
func alpha(k int, trace, total float64) float64 {
	if k < 2 || !(total > 1e-12) {
		return math.NaN()
	}
	return float64(k) / float64(k-1) * (1 - trace/total)
}

func (c covarianceSums) alphaWithout(i int) float64 {
	return alpha(len(c.row)-1, c.trace-c.variance[i], c.total-2*c.row[i]+c.variance[i])
}
