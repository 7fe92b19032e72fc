package psychometrics

import (
	"fmt"
	"math"
)

// SkillAnswer is one answer to a question that exercises one skill.
type SkillAnswer struct {
	// Right says whether the answer was right.
	Right bool
	// Day is when it was given, in days since any fixed origin; fractions are
	// allowed, so that two answers of one session lie minutes apart.
	Day float64
	// Difficulty is how much harder the question is than the average question
	// of this skill, in logits: its Rasch or LLTM difficulty less their mean.
	// 0 when nothing is known of it.
	Difficulty float64
}

// SkillHistory holds the answers of one person in one skill, oldest first.
// A question that was not answered is simply not in it.
type SkillHistory []SkillAnswer

// check reports the first answer that cannot be used. row is the person's row
// in the caller's list, counted from 1.
func (h SkillHistory) check(row int) error {
	for i, a := range h {
		switch {
		case math.IsNaN(a.Day) || math.IsInf(a.Day, 0):
			return &DataError{Row: row, Column: i + 1, Err: ErrRange,
				Problem: fmt.Sprintf("day %v is not a date", a.Day),
				Mend:    "give days since a fixed origin, or leave the answer out"}
		case math.IsNaN(a.Difficulty) || math.IsInf(a.Difficulty, 0):
			return &DataError{Row: row, Column: i + 1, Err: ErrRange,
				Problem: fmt.Sprintf("difficulty %v is not a number", a.Difficulty),
				Mend:    "give 0 where the difficulty is unknown"}
		case i > 0 && a.Day < h[i-1].Day:
			return &DataError{Row: row, Column: i + 1, Err: ErrRange,
				Problem: fmt.Sprintf("day %v comes before day %v of the answer ahead of it", a.Day, h[i-1].Day),
				Mend:    "sort the answers of a person by time"}
		}
	}
	return nil
}

// MasteryParameters are the five numbers of Bayesian knowledge tracing for one
// skill. A person either knows the skill or does not:
//
//	P(known before the first answer)        = Known
//	P(not known → known at each answer)     = Learn    (every answer is followed by its explanation)
//	P(right | not known)                    = Guess
//	P(wrong | known)                        = Slip
//	P(known → not known over d days)        = 1 − exp(−Forget · d)
//
// The first four are Corbett & Anderson (1995), User Modeling and User-Adapted
// Interaction 4, 253–278. Forgetting is ours to add, since their tutor was used
// within days: with a constant rate per day a gap may be cut in two without
// changing the forecast, which no other curve offers (a Markov chain in
// continuous time). Guess and Slip hold for a question of average difficulty;
// a question harder by x logits has logit P(right | state) lower by x, the
// item-difficulty variant of Pardos & Heffernan (2011), UMAP, LNCS 6787.
type MasteryParameters struct {
	Known, Learn, Guess, Slip float64
	// Forget is a rate per day; ln 2 / Forget is the half-life in days.
	Forget float64
}

// HalfLife is the number of days after which half of the people who know the
// skill have lost it, ln 2 / Forget; +Inf when nothing is forgotten.
func (p MasteryParameters) HalfLife() float64 { return math.Ln2 / p.Forget }

// validate reports the first parameter outside its range.
func (p MasteryParameters) validate() error {
	for _, v := range []struct {
		name  string
		value float64
	}{{"Known", p.Known}, {"Learn", p.Learn}, {"Guess", p.Guess}, {"Slip", p.Slip}} {
		if !(v.value >= 0 && v.value <= 1) {
			return fmt.Errorf("mastery parameter %s is %v, not a probability; give a value from 0 to 1: %w", v.name, v.value, ErrRange)
		}
	}
	if !(p.Forget >= 0) || math.IsInf(p.Forget, 1) {
		return fmt.Errorf("mastery parameter Forget is %v; give a rate per day of 0 or more: %w", p.Forget, ErrRange)
	}
	if p.Guess > 1-p.Slip {
		return fmt.Errorf("guess %v exceeds 1 − slip %v, so that knowing the skill would hinder; swap or refit: %w", p.Guess, 1-p.Slip, ErrRange)
	}
	return nil
}

// rightIf gives P(right | known) and P(right | not known) for a question that
// is harder than average by difficulty logits.
func (p MasteryParameters) rightIf(difficulty float64) (known, unknown float64) {
	if difficulty == 0 {
		return 1 - p.Slip, p.Guess
	}
	return shiftLogit(1-p.Slip, -difficulty), shiftLogit(p.Guess, -difficulty)
}

// shiftLogit moves probability p by x logits; 0 and 1 stay where they are.
func shiftLogit(p, x float64) float64 {
	// Beyond 30 logits nothing changes but overflow.
	e := math.Exp(min(max(x, -30), 30))
	return p * e / (1 - p + p*e)
}

// retain is the chance of still knowing the skill after days; a negative gap
// counts as none.
func (p MasteryParameters) retain(days float64) float64 {
	if !(days > 0) {
		return 1
	}
	return math.Exp(-p.Forget * days)
}

// MasteryStep is what is believed around one answer.
type MasteryStep struct {
	// Before is P(known) just before the answer, Right the predicted
	// P(right answer), After is P(known) once the answer has been seen and its
	// explanation read.
	Before, Right, After float64
}

// Trace follows a history answer by answer and gives one step for each:
//
//	Right  = Before·(1 − Slip) + (1 − Before)·Guess
//	seen   = Before·(1 − Slip) / Right              after a right answer
//	       = Before·Slip / (1 − Right)              after a wrong one
//	After  = seen + (1 − seen)·Learn
//	Before′ = After · exp(−Forget · days to the next answer)
//
// An empty history gives no steps. All right or all wrong answers need no
// special care. Missing answers are left out of the history. An answer that the
// parameters call impossible (a right one where Guess is 0 and Known is 0)
// leaves the belief as it was. Source: Corbett & Anderson (1995), eqs 1–3.
func (p MasteryParameters) Trace(h SkillHistory) []MasteryStep {
	steps := make([]MasteryStep, len(h))
	known := p.Known
	for i, a := range h {
		if i > 0 {
			known *= p.retain(a.Day - h[i-1].Day)
		}
		steps[i] = p.step(known, a)
		known = steps[i].After
	}
	return steps
}

func (p MasteryParameters) step(before float64, a SkillAnswer) MasteryStep {
	k, u := p.rightIf(a.Difficulty)
	right := before*k + (1-before)*u
	seen := before
	if a.Right && right > 0 {
		seen = before * k / right
	} else if !a.Right && right < 1 {
		seen = before * (1 - k) / (1 - right)
	}
	return MasteryStep{Before: before, Right: right, After: seen + (1-seen)*p.Learn}
}

// KnownAt is P(known) on a day after the history; the day counts as that of the
// last answer if it is earlier or NaN. An empty history gives Known, whatever
// the day: how long ago a person had learned the skill is not known.
func (p MasteryParameters) KnownAt(h SkillHistory, day float64) float64 {
	known := p.Known
	for i, a := range h {
		if i > 0 {
			known *= p.retain(a.Day - h[i-1].Day)
		}
		known = p.step(known, a).After
	}
	if len(h) > 0 {
		known *= p.retain(day - h[len(h)-1].Day)
	}
	return known
}

// RightAt is the chance that a question of average difficulty asked on the day
// is answered correctly. It makes MasteryParameters an [AnswerForecaster].
func (p MasteryParameters) RightAt(h SkillHistory, day float64) float64 {
	known := p.KnownAt(h, day)
	return known*(1-p.Slip) + (1-known)*p.Guess
}

// AnswerForecaster predicts the next answer of a person in a skill from the
// answers so far. [MasteryParameters] and [MovingAverage] are the two that
// [SelectMastery] chooses between.
type AnswerForecaster interface {
	RightAt(h SkillHistory, day float64) float64
}

// LogLoss is the mean of −ln P(what was answered), predicting each answer of
// each history from those before it, and the number of answers. Smaller is
// better; a coin gives ln 2 = 0.693. Predictions are kept within 1e-6 of 0 and
// 1, so that one surprise costs at most 13.8. No answers give NaN, 0.
func LogLoss(f AnswerForecaster, histories []SkillHistory) (loss float64, answers int) {
	sum := 0.0
	for _, h := range histories {
		sum += historyLoss(f, h)
		answers += len(h)
	}
	return sum / float64(answers), answers
}

// historyLoss is the summed loss of one history.
func historyLoss(f AnswerForecaster, h SkillHistory) float64 {
	sum := 0.0
	if p, ok := f.(MasteryParameters); ok {
		// One pass instead of one for each answer, and the difficulty of the
		// question is used, which RightAt cannot know.
		for i, s := range p.Trace(h) {
			sum += answerLoss(s.Right, h[i].Right)
		}
		return sum
	}
	for i, a := range h {
		sum += answerLoss(f.RightAt(h[:i], a.Day), a.Right)
	}
	return sum
}

func answerLoss(p float64, right bool) float64 {
	p = min(max(p, 1e-6), 1-1e-6)
	if right {
		return -math.Log(p)
	}
	return -math.Log1p(-p)
}
