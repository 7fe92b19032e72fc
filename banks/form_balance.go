package banks

import (
	"cmp"
	"math"
	"strings"
)

func compareText(a, b string) int { return strings.Compare(a, b) }

// compareLogit compares difficulties to the millionth.
func compareLogit(a, b float64) int { return cmp.Compare(math.Round(a*1e6), math.Round(b*1e6)) }

// balance brings the variants to the same mean difficulty. It swaps questions of
// one signature, between variants or for one that stands in none, as long as
// the sum of the squared distances of the variants' totals from their mean
// falls; the lines of the blueprint see nothing of it. What is left is at most
// half the least difference between two questions that could be swapped; the
// report says how much it is.
func (p *pool) balance(forms [][]int) {
	if len(forms) < 2 {
		return
	}
	b := &balancer{p: p, forms: forms, stands: make([]int, len(p.bank)), held: make([][]int, len(forms)), total: make([]float64, len(forms))}
	for v, in := range forms {
		b.held[v] = make([]int, p.classes)
		for _, q := range in {
			b.stands[q]++
			b.held[v][p.class[q]]++
			b.total[v] += p.bank[q].Logit
		}
		b.aim += b.total[v] / float64(len(forms))
	}
	// Each swap brings the sum down by a part of what is left; the number of
	// swaps is bounded all the same.
	for range 20 * len(forms) {
		if !b.step() {
			return
		}
	}
}

type balancer struct {
	p      *pool
	forms  [][]int
	stands []int   // question → variants in which it stands
	held   [][]int // variant, class → questions that hold it
	total  []float64
	aim    float64
}

// step makes the best swap for the variant that is furthest from the aim.
func (b *balancer) step() bool {
	v := 0
	for i := range b.total {
		if math.Abs(b.total[i]-b.aim) > math.Abs(b.total[v]-b.aim)+1e-12 {
			v = i
		}
	}
	gap := b.aim - b.total[v]
	const worth = 1e-9
	best := worth
	do := func() {}
	for i, q := range b.forms[v] {
		for _, x := range b.p.sigs[b.p.sig[q]].members {
			d := b.p.bank[x].Logit - b.p.bank[q].Logit
			if d*gap <= 0 || b.stands[x] > 0 || b.p.exposure[x] > b.p.exposure[q] || !b.fits(v, q, x) {
				continue
			}
			if gain := gap*gap - (gap-d)*(gap-d); gain > best {
				best, do = gain, func() { b.swap(v, i, x) }
			}
		}
		for w := range b.forms {
			if w == v {
				continue
			}
			other := b.aim - b.total[w]
			for j, x := range b.forms[w] {
				d := b.p.bank[x].Logit - b.p.bank[q].Logit
				if b.p.sig[x] != b.p.sig[q] || d*gap <= 0 || !b.fits(v, q, x) || !b.fits(w, x, q) {
					continue
				}
				if gain := gap*gap - (gap-d)*(gap-d) + other*other - (other+d)*(other+d); gain > best {
					best, do = gain, func() { b.swap(v, i, x); b.swap(w, j, q) }
				}
			}
		}
	}
	do()
	return best > worth
}

// fits tells whether x can take the place of q in variant v.
func (b *balancer) fits(v, q, x int) bool {
	h := b.held[v][b.p.class[x]]
	return h == 0 || h == 1 && b.p.class[x] == b.p.class[q]
}

func (b *balancer) swap(v, i, x int) {
	q := b.forms[v][i]
	b.forms[v][i] = x
	b.stands[q]--
	b.stands[x]++
	b.held[v][b.p.class[q]]--
	b.held[v][b.p.class[x]]++
	b.total[v] += b.p.bank[x].Logit - b.p.bank[q].Logit
}
