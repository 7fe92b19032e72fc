package psychometrics

import (
	"fmt"
	"math"
)

// ForecastBin compares what was forecast with what came about among
// forecasts of similar probability.
type ForecastBin struct {
	// From and To are the limits of the bin.
	From, To float64
	Count    int
	// Predicted is the mean forecast, Observed the share that came true; NaN in
	// an empty bin.
	Predicted, Observed float64
	// Low and High enclose the share with 95 % probability (Wilson 1927).
	Low, High float64
}

// ForecastCheck is the result of [CheckForecasts].
type ForecastCheck struct {
	Bins []ForecastBin
	// Error is the expected calibration error, Σ count/n · |observed − predicted|.
	Error float64
	// Floor is the error that chance alone would be expected to show if every
	// forecast were exact; an Error near it leaves nothing to improve.
	Floor float64
	// Brier is the mean squared difference of forecast and outcome.
	Brier float64
	Count int
}

// CheckForecasts sorts forecasts into bins of equal width and compares them with
// what happened. Expected calibration error: Naeini, Cooper & Hauskrecht
// (2015), AAAI; Brier score: Brier (1950), Monthly Weather Review 78. Floor
// takes each bin's count of successes as normal with variance Σ p(1 − p), so
// that E|observed − predicted| = √(2/π Σ p(1 − p)) / count.
//
// predicted and happened are of equal length ([ErrShape]); a forecast outside 0
// to 1 is a [*DataError]. No forecasts: [ErrEmpty]. Constant forecasts fill one
// bin. Empty bins count for nothing.
func CheckForecasts(predicted []float64, happened []bool, bins int) (ForecastCheck, error) {
	if len(predicted) != len(happened) {
		return ForecastCheck{}, fmt.Errorf("%d forecasts and %d outcomes: %w", len(predicted), len(happened), ErrShape)
	}
	if len(predicted) == 0 {
		return ForecastCheck{}, fmt.Errorf("check of no forecasts: %w", ErrEmpty)
	}
	if bins < 1 {
		return ForecastCheck{}, fmt.Errorf("%d bins; give 1 or more, 10 is usual: %w", bins, ErrRange)
	}
	c := ForecastCheck{Bins: make([]ForecastBin, bins), Count: len(predicted)}
	n := float64(len(predicted))
	variance := make([]float64, bins)
	for i, p := range predicted {
		if !(p >= 0 && p <= 1) {
			return ForecastCheck{}, &DataError{Row: i + 1, Err: ErrRange,
				Problem: fmt.Sprintf("%v is not a probability", p), Mend: "give a value from 0 to 1"}
		}
		b := min(int(p*float64(bins)), bins-1)
		bin := &c.Bins[b]
		bin.Count++
		bin.Predicted += p
		y := 0.0
		if happened[i] {
			y = 1
		}
		bin.Observed += y
		c.Brier += (p - y) * (p - y) / n
		variance[b] += p * (1 - p)
	}
	for b := range c.Bins {
		bin := &c.Bins[b]
		bin.From, bin.To = float64(b)/float64(bins), float64(b+1)/float64(bins)
		k := float64(bin.Count)
		bin.Low, bin.High = WilsonInterval(int(bin.Observed), bin.Count)
		bin.Predicted /= k
		bin.Observed /= k
		if bin.Count > 0 {
			c.Error += k / n * math.Abs(bin.Observed-bin.Predicted)
			c.Floor += math.Sqrt(2/math.Pi*variance[b]) / n
		}
	}
	return c, nil
}

// WilsonInterval is the 95 % interval of a share, right out of n,
//
//	(p + z²/2n ± z √(p(1 − p)/n + z²/4n²)) / (1 + z²/n),  z = 1.96
//
// which stays within 0 and 1 and is honest for small n and for none or all
// right. n = 0 gives 0, 1. Source: Wilson (1927), J. American Statistical
// Association 22, 209–212.
func WilsonInterval(right, n int) (low, high float64) {
	if n <= 0 {
		return 0, 1
	}
	const z = 1.959963984540054
	k := float64(n)
	p := float64(right) / k
	centre := (p + z*z/(2*k)) / (1 + z*z/k)
	half := z / (1 + z*z/k) * math.Sqrt(p*(1-p)/k+z*z/(4*k*k))
	low, high = max(centre-half, 0), min(centre+half, 1)
	// Rounding must not leave a hair's breadth at the ends.
	if right <= 0 {
		low = 0
	}
	if right >= n {
		high = 1
	}
	return low, high
}
