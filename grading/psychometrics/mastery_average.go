package psychometrics

import "fmt"

// MovingAverage predicts the next answer from the share of right answers among
// the last few, drawn towards the skill's overall share while there are few:
//
//	P(right) = (Weight·Base + right among the last n) / (Weight + n),  n ≤ Window
//
// It is the plain rival that knowledge tracing has to beat. It knows nothing of
// guessing, learning, forgetting or difficulty. Common practice, no source.
type MovingAverage struct {
	// Window is how many of the last answers count; 0 means all of them.
	Window int
	// Weight is how many answers Base counts for.
	Weight float64
	// Base is the share of right answers of everybody in the skill.
	Base float64
}

// RightAt gives the prediction; the day plays no part. An empty history gives
// Base (NaN if Weight is 0).
func (m MovingAverage) RightAt(h SkillHistory, _ float64) float64 {
	right, n := m.recent(h)
	return (m.Weight*m.Base + right) / (m.Weight + n)
}

// recent counts the right and all answers in the window.
func (m MovingAverage) recent(h SkillHistory) (right, n float64) {
	if m.Window > 0 && len(h) > m.Window {
		h = h[len(h)-m.Window:]
	}
	for _, a := range h {
		if a.Right {
			right++
		}
	}
	return right, float64(len(h))
}

// The grid that FitMovingAverage searches.
var (
	averageWindows = [...]int{2, 3, 5, 8, 12, 20, 0}
	averageWeights = [...]float64{0.5, 1, 2, 4, 8, 16}
)

// FitMovingAverage finds the window and the weight with the least log loss on
// the histories, over windows of 2, 3, 5, 8, 12, 20 and all answers and weights
// of 0.5, 1, 2, 4, 8 and 16 answers, so that the rival of knowledge tracing is
// at its best too. Base is (right + 1) / (answers + 2). No answers: [ErrEmpty].
// Constant answers need no special care. A history with days out of order or
// not finite is a [*DataError].
func FitMovingAverage(histories []SkillHistory) (MovingAverage, error) {
	right, n := 0.0, 0.0
	for i, h := range histories {
		if err := h.check(i + 1); err != nil {
			return MovingAverage{}, err
		}
		for _, a := range h {
			if a.Right {
				right++
			}
		}
		n += float64(len(h))
	}
	if n == 0 {
		return MovingAverage{}, fmt.Errorf("moving average of a skill that nobody has practised: %w", ErrEmpty)
	}
	base := (right + 1) / (n + 2)
	var best MovingAverage
	least := 0.0
	for _, window := range averageWindows {
		// One pass per window: the weights share the running counts.
		var loss [len(averageWeights)]float64
		for _, h := range histories {
			in, size := 0.0, 0
			for i, a := range h {
				for k, w := range averageWeights {
					loss[k] += answerLoss((w*base+in)/(w+float64(size)), a.Right)
				}
				if a.Right {
					in++
				}
				size++
				if window > 0 && size > window {
					if h[i-window].Right {
						in--
					}
					size--
				}
			}
		}
		for k, w := range averageWeights {
			if best.Weight == 0 || loss[k] < least {
				best, least = MovingAverage{Window: window, Weight: w, Base: base}, loss[k]
			}
		}
	}
	return best, nil
}
