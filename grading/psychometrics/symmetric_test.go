package psychometrics

import (
	"fmt"
	"math"
	"math/big"
	"math/bits"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// allMoments runs compute for every score from 1 to m−1.
func allMoments(difficulty []float64) *conditionalMoments {
	b := slices.Clone(difficulty)
	slices.Sort(b)
	scores := make([]int, len(b)-1)
	for k := range scores {
		scores[k] = k + 1
	}
	c := &conditionalMoments{}
	c.compute(b, scores)
	return c
}

// both is the probability that items n < l are right at score index k.
func (c *conditionalMoments) both(n, l, k int) float64 {
	pn, pl := c.probability[n*c.scores+k], c.probability[l*c.scores+k]
	if c.easiness[n]-c.easiness[l] < tied*c.easiness[n] {
		return pn - c.easiness[n]*c.between[n*c.scores+k]
	}
	return pn - c.easiness[n]*(pn-pl)/(c.easiness[n]-c.easiness[l])
}

func TestSymmetricFunctionsAgainstCountingSubsets(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.IntRange(2, 9).Draw(t, "items")
		b := make([]float64, m)
		for i := range b {
			b[i] = rapid.Float64Range(-4, 4).Draw(t, "b")
			if i > 0 && rapid.Bool().Draw(t, "tie") {
				b[i] = b[i-1]
			}
		}
		slices.Sort(b)
		c := allMoments(b)
		for r := 1; r < m; r++ {
			gamma := 0.0
			single := make([]float64, m)
			pair := make([]float64, m*m)
			for set := range 1 << m {
				if bits.OnesCount(uint(set)) != r {
					continue
				}
				product := 1.0
				for i := range m {
					if set>>i&1 == 1 {
						product *= math.Exp(-b[i])
					}
				}
				gamma += product
				for i := range m {
					for j := range m {
						if set>>i&1 == 1 && set>>j&1 == 1 {
							pair[i*m+j] += product
						}
					}
					if set>>i&1 == 1 {
						single[i] += product
					}
				}
			}
			if got, want := c.logGamma[r-1], math.Log(gamma); math.Abs(got-want) > 1e-12*(1+math.Abs(want)) {
				t.Errorf("log γ_%d = %v, want %v", r, got, want)
			}
			for i := range m {
				if got, want := c.probability[i*c.scores+r-1], single[i]/gamma; math.Abs(got-want) > 1e-13 {
					t.Errorf("P(item %d | %d right) = %v, want %v", i, r, got, want)
				}
				for j := i + 1; j < m; j++ {
					// The quotient loses digits in proportion to the closeness.
					allowed := 1e-13 + 1e-15/math.Max(tied, math.Abs(b[i]-b[j]))
					if math.Abs(b[i]-b[j]) < 2*tied && b[i] != b[j] {
						allowed = 2e-6
					}
					if got, want := c.both(i, j, r-1), pair[i*m+j]/gamma; math.Abs(got-want) > allowed {
						t.Errorf("P(items %d and %d | %d right) = %v, want %v", i, j, r, got, want)
					}
				}
			}
		}
	})
}

// The recursion by differences fails here: with 200 items all its digits are
// gone. Reference: the plain recursion in 2,000-bit arithmetic.
func TestSymmetricFunctionsOfLongTestsKeepTheirDigits(t *testing.T) {
	for _, c := range []struct {
		items  int
		spread float64
	}{{60, 3}, {200, 4}, {200, 40}, {500, 0}} {
		t.Run(fmt.Sprintf("%d items over ±%g", c.items, c.spread), func(t *testing.T) {
			b := make([]float64, c.items)
			for i := range b {
				b[i] = c.spread * (2*float64(i)/float64(c.items-1) - 1)
			}
			got := allMoments(b)
			gamma := bigGamma(b)
			first := bigGamma(b[1:]) // without item 0
			middle := c.items / 2
			without := bigGamma(slices.Delete(slices.Clone(b), middle, middle+1))
			for _, r := range []int{1, 2, c.items / 4, c.items / 2, c.items - 2, c.items - 1} {
				ratio := func(part []*big.Float, e float64) float64 {
					x := new(big.Float).Mul(part[r-1], big.NewFloat(e))
					f, _ := x.Quo(x, gamma[r]).Float64()
					return f
				}
				at := func(i int) float64 { return got.probability[i*got.scores+r-1] }
				relative(t, fmt.Sprintf("P(easiest | %d right)", r), at(0), ratio(first, math.Exp(-b[0])), 1e-12)
				relative(t, fmt.Sprintf("P(middle | %d right)", r), at(middle), ratio(without, math.Exp(-b[middle])), 1e-12)
				closeTo(t, fmt.Sprintf("log γ_%d", r), got.logGamma[r-1], bigLog(gamma[r]), 1e-10)
			}
		})
	}
}

func relative(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	closeTo(t, what, got, want, tolerance*math.Abs(want))
}

func bigGamma(b []float64) []*big.Float {
	g := make([]*big.Float, len(b)+2)
	for s := range g {
		g[s] = new(big.Float).SetPrec(2000)
	}
	g[0].SetInt64(1)
	for n, x := range b {
		e := new(big.Float).SetPrec(2000).SetFloat64(math.Exp(-x))
		for s := n + 1; s >= 1; s-- {
			g[s].Add(g[s], new(big.Float).SetPrec(2000).Mul(e, g[s-1]))
		}
	}
	return g
}

func bigLog(x *big.Float) float64 {
	m := new(big.Float)
	exponent := x.MantExp(m)
	f, _ := m.Float64()
	return math.Log(f) + float64(exponent)*math.Ln2
}

func TestConditionalProbabilitiesSumToTheScore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.IntRange(2, 80).Draw(t, "items")
		b := make([]float64, m)
		for i := range b {
			b[i] = rapid.Float64Range(-20, 20).Draw(t, "b")
		}
		c := allMoments(b)
		for r := 1; r < m; r++ {
			sum := 0.0
			for i := range m {
				p := c.probability[i*c.scores+r-1]
				if !(p >= 0 && p <= 1) {
					t.Fatalf("P(item %d | %d right) = %v", i, r, p)
				}
				sum += p
			}
			if math.Abs(sum-float64(r)) > 1e-12*float64(m) {
				t.Errorf("probabilities given %d right sum to %v", r, sum)
			}
		}
	})
}
