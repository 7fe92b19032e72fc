package psychometrics

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Stratum counts the answers of people of like standing to one question.
type Stratum struct {
	ReferenceRight, ReferenceWrong, FocalRight, FocalWrong int
}

// MantelHaenszelTest is the result of [MantelHaenszel].
type MantelHaenszelTest struct {
	// OddsRatio is the common odds ratio of a right answer, reference to
	// focal: above 1 where the reference group does better. Low and High
	// enclose it with 95 % probability.
	OddsRatio, Low, High float64
	// LogSE is the standard error of its logarithm.
	LogSE float64
	// ChiSquare (1 degree of freedom, with continuity correction) and P test
	// that the ratio is 1 in every stratum.
	ChiSquare, P float64
	// Strata counts the strata that bear on the result: both groups present
	// and both answers given.
	Strata int
}

// MantelHaenszel compares two groups within strata. With A, B the right and
// wrong answers of the reference group, C, D of the focal group, and T their
// sum in a stratum:
//
//	α = Σ AD/T / Σ BC/T
//	χ² = (|Σ A − Σ E(A)| − ½)² / Σ Var(A),  E(A) = (A+B)(A+C)/T,
//	Var(A) = (A+B)(C+D)(A+C)(B+D) / (T²(T − 1))
//
// and the variance of ln α by Robins, Breslow & Greenland (1986), Biometrics
// 42, 311–323. Source: Mantel & Haenszel (1959), J. National Cancer Institute
// 22, 719–748.
//
// Strata with one group, one kind of answer or fewer than 2 answers are left
// out of the count; they contribute nothing. No usable stratum gives NaN
// throughout. If the groups never overlap the wrong way round, α is 0 or +Inf
// and its standard error and interval NaN.
func MantelHaenszel(strata []Stratum) MantelHaenszelTest {
	var m MantelHaenszelTest
	var r, s, pr, psqr, qs, a, e, v float64
	for _, t := range strata {
		ta, tb, tc, td := float64(t.ReferenceRight), float64(t.ReferenceWrong), float64(t.FocalRight), float64(t.FocalWrong)
		n := ta + tb + tc + td
		if ta+tb == 0 || tc+td == 0 || ta+tc == 0 || tb+td == 0 {
			continue
		}
		m.Strata++
		ri, si := ta*td/n, tb*tc/n
		p, q := (ta+td)/n, (tb+tc)/n
		r += ri
		s += si
		pr += p * ri
		psqr += p*si + q*ri
		qs += q * si
		a += ta
		e += (ta + tb) * (ta + tc) / n
		v += (ta + tb) * (tc + td) * (ta + tc) * (tb + td) / (n * n * (n - 1))
	}
	nan := math.NaN()
	if m.Strata == 0 {
		return MantelHaenszelTest{OddsRatio: nan, Low: nan, High: nan, LogSE: nan, ChiSquare: nan, P: nan}
	}
	m.OddsRatio = r / s
	// The correction must not overshoot a difference smaller than itself.
	d := max(math.Abs(a-e)-0.5, 0)
	m.ChiSquare = d * d / v
	m.P = distuv.ChiSquared{K: 1}.Survival(m.ChiSquare)
	if r == 0 || s == 0 {
		m.LogSE, m.Low, m.High = nan, nan, nan
		return m
	}
	m.LogSE = math.Sqrt(pr/(2*r*r) + psqr/(2*r*s) + qs/(2*s*s))
	m.Low, m.High = m.OddsRatio*math.Exp(-1.959963984540054*m.LogSE), m.OddsRatio*math.Exp(1.959963984540054*m.LogSE)
	return m
}
