package psychometrics

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// CheckQuestion is a calibrated question of an adaptive check.
type CheckQuestion struct {
	// Difficulty is on the Rasch scale.
	Difficulty float64
	// Skill is used to keep the shares of skills; 0 where there is but one.
	Skill int
	// Shown is to how many people it has been shown.
	Shown int
}

// CheckAnswer is one answer given in an adaptive check.
type CheckAnswer struct {
	// Question is its index in the bank.
	Question int
	Right    bool
}

// CheckRules governs [NextCheck].
type CheckRules struct {
	// StopSE is the standard error of ability, in logits, at which the check
	// ends; 0.4 takes about 25 well-aimed questions and is about the precision
	// of a fixed form of 30.
	StopSE float64
	// Least and Most bound the number of questions; Most 0 means the bank.
	Least, Most int
	// Start is the ability assumed before the first answer.
	Start float64
	// Among is the number of best questions to pick one from at random; 0
	// means 5.
	Among    int
	Exposure Exposure
	// Shares, where given, is the share of questions that each skill is to
	// have; the skill furthest behind its share is asked next (Kingsbury & Zara
	// 1989). They need not sum to 1.
	Shares []float64
}

// CheckEnd says why an adaptive check ended.
type CheckEnd int

const (
	// CheckContinues: it has not ended.
	CheckContinues CheckEnd = iota
	// CheckPrecise: the standard error is at most StopSE.
	CheckPrecise
	// CheckLongEnough: Most questions have been asked.
	CheckLongEnough
	// CheckExhausted: the bank holds no other question.
	CheckExhausted
)

// CheckStep is the result of [NextCheck].
type CheckStep struct {
	End CheckEnd
	// Question is the index of the next question in the bank, −1 at the end.
	Question int
	// Ability is Warm's estimate so far; before the first answer Theta is
	// Start and SE is infinite.
	Ability Ability
	// OverLimit is as in [PracticeChoice].
	OverLimit bool
}

// NextCheck estimates ability from the answers given so far by [WLE] and picks
// the next question of an adaptive check, or ends it: once Least questions are
// answered and
//
//	SE = 1/√Σ P(1 − P) ≤ StopSE
//
// or Most questions are. The next question is one of the best Among, at random,
// by Fisher information P(1 − P) at the present estimate, among those not asked
// and not shown to too many people. Sources: Wainer (2000), Computerized
// Adaptive Testing, ch. 5; Kingsbury & Zara (1989).
//
// It keeps no state: the caller stores bank and answers, so a check interrupted
// may go on after a restart. All right and all wrong answers have finite
// estimates. Questions without a finite difficulty are never asked. An empty
// bank: [ErrEmpty]. An answer to a question outside the bank or answered
// before: a [*DataError]. rng must not be nil.
func NextCheck(bank []CheckQuestion, given []CheckAnswer, rules CheckRules, rng *rand.Rand) (CheckStep, error) {
	step := CheckStep{Question: -1}
	if len(bank) == 0 {
		return step, fmt.Errorf("adaptive check of an empty bank: %w", ErrEmpty)
	}
	if !(rules.StopSE > 0) || rules.Least < 0 || rules.Most < 0 || !finite(rules.Start) {
		return step, fmt.Errorf("adaptive check stops at a standard error of %v between %d and %d questions from ability %v; give a standard error above 0: %w",
			rules.StopSE, rules.Least, rules.Most, rules.Start, ErrRange)
	}
	if err := rules.Exposure.validate(); err != nil {
		return step, err
	}
	asked := make([]bool, len(bank))
	answers, difficulty := make([]int8, len(given)), make([]float64, len(given))
	perSkill := make([]int, len(rules.Shares))
	for i, a := range given {
		if a.Question < 0 || a.Question >= len(bank) || asked[a.Question] {
			return step, &DataError{Row: i + 1, Err: ErrRange,
				Problem: fmt.Sprintf("question %d is not in the bank of %d or was answered before", a.Question, len(bank)),
				Mend:    "give each question's index in the bank once"}
		}
		asked[a.Question] = true
		if a.Right {
			answers[i] = 1
		}
		difficulty[i] = bank[a.Question].Difficulty
		if s := bank[a.Question].Skill; s >= 0 && s < len(perSkill) {
			perSkill[s]++
		}
	}
	var err error
	if step.Ability, err = WLE(answers, difficulty); err != nil {
		return step, err
	}
	if step.Ability.Answered == 0 {
		step.Ability.Theta = rules.Start
	}
	n := len(given)
	switch {
	case n >= rules.Least && step.Ability.SE <= rules.StopSE:
		step.End = CheckPrecise
		return step, nil
	case rules.Most > 0 && n >= rules.Most:
		step.End = CheckLongEnough
		return step, nil
	}

	var left, allowed []int
	for i, q := range bank {
		if asked[i] || !finite(q.Difficulty) {
			continue
		}
		left = append(left, i)
		if rules.Exposure.allows(q.Shown) {
			allowed = append(allowed, i)
		}
	}
	if len(left) == 0 {
		step.End = CheckExhausted
		return step, nil
	}
	list := allowed
	if len(list) == 0 {
		step.OverLimit = true
		least := math.MaxInt
		for _, i := range left {
			least = min(least, bank[i].Shown)
		}
		list = slices.DeleteFunc(left, func(i int) bool { return bank[i].Shown > least })
	}
	list = behindShare(bank, list, rules.Shares, perSkill, n)
	among := rules.Among
	if among < 1 {
		among = 5
	}
	step.Question = pickAmong(list, among, rng, func(i int) float64 { return Information(step.Ability.Theta, bank[i].Difficulty) })
	return step, nil
}

// behindShare keeps the questions of the skill that is furthest behind its
// share and has questions left; all of them where no shares are given.
func behindShare(bank []CheckQuestion, list []int, shares []float64, perSkill []int, asked int) []int {
	total := 0.0
	for _, s := range shares {
		total += s
	}
	if !(total > 0) {
		return list
	}
	best, behind := -1, math.Inf(-1)
	for k, s := range shares {
		d := s/total*float64(asked+1) - float64(perSkill[k])
		if s > 0 && d > behind && slices.ContainsFunc(list, func(i int) bool { return bank[i].Skill == k }) {
			best, behind = k, d
		}
	}
	if best < 0 {
		return list
	}
	return slices.DeleteFunc(slices.Clone(list), func(i int) bool { return bank[i].Skill != best })
}
