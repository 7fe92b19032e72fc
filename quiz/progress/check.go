package progress

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"rightpage/banks"
	"rightpage/grading/psychometrics"
	"rightpage/quiz"
)

// How a check goes, see [psychometrics.CheckRules].
const (
	// CheckStopSE is the standard error of ability, in logits, at which a check
	// ends. A question aimed well says at most 1/4 (the Fisher information of an
	// answer that comes out either way), so that it takes 16 of them at least:
	// half an hour or so with the books. It is below
	// [psychometrics.MaxAbilitySE], so that the result can always be said.
	CheckStopSE = 0.5
	// CheckMost ends a check in which questions cannot be aimed well, since the
	// person knows nearly everything or nothing that the bank asks.
	CheckMost = 25
)

// CheckQuestion is a question that a check may ask.
type CheckQuestion struct {
	Question *banks.Question
	// Shown is to how many people it has been given, Seen whether this person
	// is one of them.
	Shown int
	Seen  bool
}

// CheckAnswer is a question of a check that was answered.
type CheckAnswer struct {
	Question *banks.Question
	Right    bool // entirely
}

// CheckState is where a check stands.
type CheckState struct {
	// End says why it has ended, or that it goes on.
	End psychometrics.CheckEnd
	// Next is the next question, nil at the end.
	Next *banks.Question
	// Ability is the estimate so far, on the scale of the questions' predicted
	// difficulties, and Average the difficulty of an average question that
	// might have been asked.
	Ability psychometrics.Ability
	Average float64
	Answers []CheckAnswer
}

// Ended tells whether the check is over.
func (s CheckState) Ended() bool { return s.End != psychometrics.CheckContinues }

// Says gives the result in words: the chance to answer an average question
// rightly with its uncertainty, or that the answers were too few to tell.
func (s CheckState) Says() psychometrics.Statement {
	return psychometrics.SayAbility(s.Ability, s.Average)
}

// Chance is the chance to answer an average question rightly, with its 90 %
// interval; 0 to 1 before the first answer.
func (s CheckState) Chance() (chance, low, high float64) {
	if s.Ability.Answered == 0 {
		return psychometrics.Probability(s.Ability.Theta, s.Average), 0, 1
	}
	at := func(k float64) float64 {
		return psychometrics.Probability(s.Ability.Theta+k*s.Ability.SE, s.Average)
	}
	return at(0), at(-1.645), at(1.645)
}

// NextInCheck says how a check goes on after the answers given: which question
// comes next, or that it has ended, and why. people is how many people there
// are, for exposure the largest share of them that is given the same question
// while there are others.
//
// Questions that the person has had before are asked only where the others
// would not make a whole check, since whoever knows the key is measured too
// high; those of this check are not asked twice. In a check of several skills
// each has an equal share. The same questions, answers and rng state give the
// same question: a check that is interrupted goes on by what was answered.
//
// No question at all, or an answer to a question that is none of them, is an
// error of package psychometrics.
func NextInCheck(questions []CheckQuestion, given []CheckAnswer, people int, exposure float64, rng *rand.Rand) (CheckState, error) {
	at := make(map[string]int, len(given))
	for i, a := range given {
		at[a.Question.ID] = i
	}
	asked := func(q *banks.Question) bool { _, ok := at[q.ID]; return ok }
	fresh := slices.DeleteFunc(slices.Clone(questions), func(q CheckQuestion) bool { return q.Seen && !asked(q.Question) })
	if len(fresh) >= CheckMost {
		questions = fresh
	}

	var skills []string
	sum, n := 0.0, 0.0
	for _, q := range questions {
		skills = append(skills, q.Question.Skill)
		if d := q.Question.Logit; !math.IsNaN(d) && !math.IsInf(d, 0) {
			sum += d
			n++
		}
	}
	skills = sortedOnce(skills)
	rules := psychometrics.CheckRules{StopSE: CheckStopSE, Most: CheckMost, Exposure: psychometrics.Exposure{Limit: exposure, People: people}}
	if n > 0 {
		rules.Start = sum / n
	}
	if len(skills) > 1 {
		rules.Shares = slices.Repeat([]float64{1}, len(skills))
	}
	bank := make([]psychometrics.CheckQuestion, len(questions))
	answers := make([]psychometrics.CheckAnswer, len(given))
	for i := range answers {
		answers[i].Question = -1 // none of the questions, unless it is found
	}
	for i, q := range questions {
		skill, _ := slices.BinarySearch(skills, q.Question.Skill)
		bank[i] = psychometrics.CheckQuestion{Difficulty: q.Question.Logit, Skill: skill, Shown: q.Shown}
		if k, ok := at[q.Question.ID]; ok {
			answers[k] = psychometrics.CheckAnswer{Question: i, Right: given[k].Right}
		}
	}
	step, err := psychometrics.NextCheck(bank, answers, rules, rng)
	if err != nil {
		return CheckState{}, err
	}
	s := CheckState{End: step.End, Ability: step.Ability, Average: rules.Start, Answers: given}
	if step.Question >= 0 {
		s.Next = questions[step.Question].Question
	}
	return s, nil
}

// Check says how a person's check of a skill goes on after the answers given;
// see [NextInCheck]. Without a skill it is of all skills of the bank but whole
// lookups, each of which is many questions in one. Questions in avoid are not
// asked. A bank without a question for it is a quiz.NotFound. rng must not be
// nil.
func (p *Progress) Check(ctx context.Context, person, skill string, bank Bank, given []CheckAnswer, avoid []string, rng *rand.Rand) (CheckState, error) {
	if err := p.h.update(ctx); err != nil {
		return CheckState{}, err
	}
	names := []string{skill}
	if skill == "" {
		names = slices.DeleteFunc(slices.Clone(bank.Skills()), func(s string) bool { return s == ChaseSkill })
		slices.Sort(names)
	}
	var questions []CheckQuestion
	var ids []string
	for _, name := range names {
		for _, q := range bank.BySkill(name) {
			isGiven := slices.ContainsFunc(given, func(a CheckAnswer) bool { return a.Question.ID == q.ID })
			if isGiven || !slices.Contains(avoid, q.ID) {
				questions = append(questions, CheckQuestion{Question: q})
				ids = append(ids, q.ID)
			}
		}
	}
	if len(questions) == 0 {
		return CheckState{}, &quiz.Error{Code: quiz.NotFound, Text: "there is no question left to check that",
			Mend: "check something else, or ask the coordinator for a larger bank"}
	}
	shown, seen, people := p.h.shown(person, ids)
	for i := range questions {
		questions[i].Shown, questions[i].Seen = shown[i], seen[i]
	}
	return NextInCheck(questions, given, people, p.o.Exposure, rng)
}
