package psychometrics

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// MasteryMethod names the way in which the level of a skill is tracked.
type MasteryMethod int

const (
	// MethodAverage is the moving average: the plain method, kept unless the
	// other is shown to be better.
	MethodAverage MasteryMethod = iota
	// MethodTracing is Bayesian knowledge tracing with forgetting.
	MethodTracing
)

// String gives "moving average" or "knowledge tracing".
func (m MasteryMethod) String() string {
	if m == MethodTracing {
		return "knowledge tracing"
	}
	return "moving average"
}

// MasterySelection is what [SelectMastery] found.
type MasterySelection struct {
	// Method is the one to use.
	Method MasteryMethod
	// TracingLoss and AverageLoss are mean log losses of answers of people who
	// took no part in the fit. NaN if there were too few people to compare.
	TracingLoss, AverageLoss float64
	// Gain is AverageLoss − TracingLoss, above 0 where tracing predicts
	// better; SE is its standard error over people.
	Gain, SE        float64
	People, Answers int
	// Tracing and Average are fitted to all histories.
	Tracing MasteryFit
	Average MovingAverage
}

// Forecaster gives the method chosen, ready to predict.
func (s MasterySelection) Forecaster() AnswerForecaster {
	if s.Method == MethodTracing {
		return s.Tracing.MasteryParameters
	}
	return s.Average
}

// minPeopleToCompare is the number of people below which SelectMastery keeps
// the plain method: the standard error of the gain rests on as many
// differences, and with fewer than 8 it is itself wrong by a quarter or more
// (the standard deviation of n values is known to 1/√(2(n − 1)), 27 % at 8).
const minPeopleToCompare = 8

// SelectMastery decides by cross-validation whether knowledge tracing earns its
// place in a skill. People with at least one answer are dealt into folds in a
// random order; both methods are fitted to the people outside a fold and
// predict every answer of the people inside it from that person's earlier
// answers. Tracing is chosen if its log loss is smaller by more than one
// standard error of the difference (over people), since where they tie the
// simpler one is easier to explain (the one-standard-error rule of Breiman et
// al. 1984).
//
// folds is at least 2 and is lowered to the number of people; 5 is usual. With
// fewer than 8 people nothing is compared and the moving average is kept, the
// losses being NaN. No answers: [ErrEmpty]. Constant answers leave nothing to
// explain and the moving average is kept.
func SelectMastery(histories []SkillHistory, prior MasteryPrior, folds int, rng *rand.Rand) (MasterySelection, error) {
	if folds < 2 {
		return MasterySelection{}, fmt.Errorf("%d folds cannot hold anybody out; give 2 or more: %w", folds, ErrRange)
	}
	var s MasterySelection
	var err error
	if s.Tracing, err = FitMastery(histories, prior); err != nil {
		return MasterySelection{}, err
	}
	if s.Average, err = FitMovingAverage(histories); err != nil {
		return MasterySelection{}, err
	}
	var used []SkillHistory
	for _, h := range histories {
		if len(h) > 0 {
			used = append(used, h)
			s.Answers += len(h)
		}
	}
	s.People = len(used)
	if s.People < minPeopleToCompare {
		s.TracingLoss, s.AverageLoss, s.Gain, s.SE = math.NaN(), math.NaN(), math.NaN(), math.NaN()
		return s, nil
	}
	folds = min(folds, s.People)
	order := rng.Perm(s.People)
	tracing, average := make([]float64, s.People), make([]float64, s.People)
	for f := range folds {
		var train []SkillHistory
		var held []int
		for at, i := range order {
			if at%folds == f {
				held = append(held, i)
			} else {
				train = append(train, used[i])
			}
		}
		fit, err := FitMastery(train, prior)
		if err != nil {
			return MasterySelection{}, fmt.Errorf("fold %d of %d: %w", f+1, folds, err)
		}
		plain, err := FitMovingAverage(train)
		if err != nil {
			return MasterySelection{}, fmt.Errorf("fold %d of %d: %w", f+1, folds, err)
		}
		for _, i := range held {
			tracing[i] = historyLoss(fit.MasteryParameters, used[i])
			average[i] = historyLoss(plain, used[i])
		}
	}
	n := float64(s.Answers)
	for i := range used {
		s.TracingLoss += tracing[i] / n
		s.AverageLoss += average[i] / n
	}
	s.Gain = s.AverageLoss - s.TracingLoss
	// Standard error of a ratio of sums over people (Cochran 1977, §6.3):
	// answers of one person hang together, so people are what is counted.
	ss := 0.0
	for i, h := range used {
		d := average[i] - tracing[i] - s.Gain*float64(len(h))
		ss += d * d
	}
	s.SE = math.Sqrt(ss*float64(s.People)/float64(s.People-1)) / n
	right := 0
	for _, h := range used {
		for _, a := range h {
			if a.Right {
				right++
			}
		}
	}
	constant := right == 0 || right == s.Answers
	if s.Gain > s.SE && !constant {
		s.Method = MethodTracing
	}
	return s, nil
}
