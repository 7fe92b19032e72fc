package psychometrics

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Reliability is an estimate of the reliability of a score with its interval.
type Reliability struct {
	// Alpha is Cronbach's coefficient; for answers of 0 and 1 it is the same
	// number as KR-20.
	Alpha float64
	// Low and High bound it at confidence Level.
	Low, High, Level float64
	// Items and People it was computed from. With missing answers People is the
	// mean number of answers per item.
	Items  int
	People float64
}

// Alpha is coefficient alpha, for answers of 0 and 1 equal to KR-20,
//
//	α = k/(k−1) · (1 − Σ s_i² / s_X²)
//
// with k items, item variances s_i² and variance s_X² of the number right
// (Kuder & Richardson 1937; Cronbach 1951, both Psychometrika), and the
// interval of Feldt (1965), Psychometrika 30: with n people
// (1 − α)/(1 − α̂) has an F distribution with n−1 and (n−1)(k−1) degrees of
// freedom. level is the confidence, such as 0.95.
//
// With missing answers the variance of the score is the sum of the covariances
// each taken over the people who answered both items, and n is the mean number
// of answers per item, which makes the interval approximate; if fewer than two
// people answered some pair of items, alpha is NaN. Fewer than two items or
// people, or scores that do not vary, give NaN. Alpha can be negative; so can
// both bounds. A level outside (0, 1) gives NaN bounds.
func Alpha(r Responses, level float64) Reliability {
	return covariances(r).reliability(r, level)
}

func (c covarianceSums) reliability(r Responses, level float64) Reliability {
	people := float64(r.people)
	if !r.Complete() {
		people = float64(r.Answered()) / float64(r.items)
	}
	return feldt(alpha(r.items, c.trace, c.total), r.items, people, level)
}

// AlphaOfScores is [Alpha] for scores with partial credit: scores is people ×
// items, no value missing. The error is a [*DataError] if rows differ in
// length or a value is NaN or infinite. No people give a NaN alpha.
func AlphaOfScores(scores [][]float64, level float64) (Reliability, error) {
	if len(scores) == 0 {
		return feldt(math.NaN(), 0, 0, level), nil
	}
	k := len(scores[0])
	items := make([]moments, k)
	var total moments
	for v, row := range scores {
		if len(row) != k {
			return Reliability{}, &DataError{Row: v + 1, Err: ErrShape,
				Problem: fmt.Sprintf("has %d scores where row 1 has %d", len(row), k), Mend: "give every person one score per item"}
		}
		sum := 0.0
		for i, x := range row {
			if !finite(x) {
				return Reliability{}, &DataError{Row: v + 1, Column: i + 1, Err: ErrRange,
					Problem: fmt.Sprintf("%v is not a score", x), Mend: "leave out people or items with missing scores"}
			}
			items[i].add(x, 0)
			sum += x
		}
		total.add(sum, 0)
	}
	n := float64(len(scores))
	trace := 0.0
	for _, m := range items {
		trace += m.xx / (n - 1)
	}
	return feldt(alpha(k, trace, total.xx/(n-1)), k, n, level), nil
}

func feldt(a float64, items int, people, level float64) Reliability {
	r := Reliability{Alpha: a, Low: math.NaN(), High: math.NaN(), Level: level, Items: items, People: people}
	if math.IsNaN(a) || !(level > 0 && level < 1) || people <= 1 || items < 2 {
		return r
	}
	f := distuv.F{D1: people - 1, D2: (people - 1) * float64(items-1)}
	tail := (1 - level) / 2
	r.Low = 1 - (1-a)*f.Quantile(1-tail)
	r.High = 1 - (1-a)*f.Quantile(tail)
	return r
}

// StandardError is the standard error of measurement of a score,
//
//	SEM = sd · √(1 − ρ)
//
// in the units of sd, the standard deviation of the score. A reliability above
// 1, a negative sd or NaN gives NaN. Source: Lord & Novick (1968), ch. 3.
func StandardError(sd, reliability float64) float64 {
	if sd < 0 {
		return math.NaN()
	}
	return sd * math.Sqrt(1-reliability)
}

// ConditionalStandardError is the standard error of the number right of a
// person with the given number right of items,
//
//	√( x (k − x) / (k − 1) )
//
// It is largest in the middle. It is 0 for none or all right, which says that
// the formula has nothing to go by and not that the score is certain. Fewer
// than two items or right outside 0..items give NaN. Source: Lord (1955),
// Educational and Psychological Measurement 15.
func ConditionalStandardError(right, items int) float64 {
	if items < 2 || right < 0 || right > items {
		return math.NaN()
	}
	x, k := float64(right), float64(items)
	return math.Sqrt(x * (k - x) / (k - 1))
}

// SpearmanBrown is the reliability of a test made factor times as long with
// items of the same sort,
//
//	ρ' = f ρ / (1 + (f − 1) ρ)
//
// factor 2 turns the correlation of two halves into the reliability of the
// whole; a factor below 1 shortens. A negative factor or a reliability above 1
// gives NaN. Sources: Spearman (1910) and Brown (1910), both British J. of
// Psychology 3.
func SpearmanBrown(reliability, factor float64) float64 {
	if factor < 0 || reliability > 1 {
		return math.NaN()
	}
	return factor * reliability / (1 + (factor-1)*reliability)
}

// LengthFactor is how many times as long a test must be made to reach the
// reliability wanted; the inverse of [SpearmanBrown],
//
//	f = ρ' (1 − ρ) / (ρ (1 − ρ'))
//
// NaN unless both reliabilities are strictly between 0 and 1.
func LengthFactor(reliability, wanted float64) float64 {
	if !(reliability > 0 && reliability < 1 && wanted > 0 && wanted < 1) {
		return math.NaN()
	}
	return wanted * (1 - reliability) / (reliability * (1 - wanted))
}
