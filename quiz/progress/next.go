package progress

import (
	"context"
	"math/rand/v2"
	"slices"

	"rightpage/banks"
	"rightpage/banks/resolver"
	"rightpage/grading/psychometrics"
	"rightpage/quiz"
)

// Bank is where practice questions come from; package library has it.
type Bank interface {
	Skills() []string
	BySkill(skill string) []*banks.Question
}

// Why says why a practice question was chosen.
type Why struct {
	Mode  Mode   // as asked for, with the step that was found to be the weakest
	Skill string // of the question
	// Known is the chance that the skill is known, before the answer, and
	// Answers what it rests on.
	Known   float64
	Answers int
	// Step is how the person does at the step, for OneStep.
	Step StepShare
	// Information is what the answer is expected to tell, in bits.
	Information float64
	// Again: the person has had the question before; there is no other left.
	Again bool
	// Scarce: so many people have had the questions that are left that a
	// larger bank is wanted.
	Scarce bool
	// Mastered: all that was asked for is mastered; this is to keep it.
	Mastered bool
}

// Says gives Known in words.
func (w Why) Says() psychometrics.Statement {
	return psychometrics.SayMastery(w.Skill, w.Known, w.Answers)
}

// practiceTarget is the chance of knowing a skill that ends its practice by
// need: the custom (Corbett & Anderson 1995).
const practiceTarget = 0.95

// Next chooses the next practice question of a person, from the questions of
// the bank that are not among those to avoid: from the weakest skill that the
// mode leaves (whole chases are given in their own mode alone), one whose
// answer tells most, that the person has not had and not too many others have;
// see [psychometrics.NextPractice]. Practice never ends: where all is mastered
// the least sure skill is practised on.
//
// A bank that has nothing for the mode gives quiz.NotFound. rng must not be
// nil; the same rng state and answers give the same question.
func (p *Progress) Next(ctx context.Context, person string, mode Mode, bank Bank, avoid []string, rng *rand.Rand) (*banks.Question, Why, error) {
	m, err := p.Model(ctx)
	if err != nil {
		return nil, Why{}, err
	}
	answers := p.h.of(person)
	why := Why{Mode: mode}
	if mode.Kind == "" {
		why.Mode.Kind = ByNeed
	}
	var names []string
	switch why.Mode.Kind {
	case OneSkill:
		names = []string{mode.Skill}
	case Chases:
		names = []string{ChaseSkill}
	default:
		names = slices.DeleteFunc(slices.Clone(bank.Skills()), func(s string) bool { return s == ChaseSkill })
	}
	slices.Sort(names)
	has := func(*banks.Question) bool { return true }
	if why.Mode.Kind == OneStep {
		steps := StepShares(answers)
		if !mode.Chosen {
			steps = slices.DeleteFunc(steps, func(s StepShare) bool { return !bankHasStep(bank, names, s.Step) })
			step, ok := WeakestStep(steps)
			if !ok {
				// Nothing is known: begin where a lookup does.
				step, ok = firstStep(bank, names)
			}
			if !ok {
				return nil, why, noQuestion(why.Mode)
			}
			why.Mode.Step = step
		}
		why.Step = StepShare{Step: why.Mode.Step, Share: ShareOf(0, 0), Recent: ShareOf(0, 0)}
		for _, s := range steps {
			if s.Step == why.Mode.Step {
				why.Step = s
			}
		}
		has = func(q *banks.Question) bool { return canSlipAt(q, why.Mode.Step) }
	}

	day := dayOf(p.o.Now())
	histories := m.historiesOf(answers)
	var skills []psychometrics.PracticeSkill
	var pool []*banks.Question
	var questions []psychometrics.PracticeQuestion
	var ids []string
	for _, name := range names {
		all := bank.BySkill(name)
		// A skill that no kind of question has yet is one of which nothing is
		// known.
		s := psychometrics.PracticeSkill{MasteryParameters: psychometrics.DefaultMasteryPrior().Mode()}
		s.Now = s.Known
		if k := m.skill(name); k >= 0 {
			s = psychometrics.PracticeSkill{MasteryParameters: m.Mastery[k].Tracing.MasteryParameters, Now: m.knownAt(k, histories[k], day)}
		}
		mean := meanLogit(all)
		at := len(skills)
		for _, q := range all {
			if has(q) && !slices.Contains(avoid, q.ID) {
				pool = append(pool, q)
				ids = append(ids, q.ID)
				questions = append(questions, psychometrics.PracticeQuestion{Skill: at, Difficulty: q.Logit - mean})
			}
		}
		skills = append(skills, s)
	}
	if len(pool) == 0 {
		return nil, why, noQuestion(why.Mode)
	}
	shown, seen, people := p.h.shown(person, ids)
	for i := range questions {
		questions[i].Shown, questions[i].Seen = shown[i], seen[i]
	}
	rules := psychometrics.PracticeRules{Target: practiceTarget, Exposure: psychometrics.Exposure{Limit: p.o.Exposure, People: people}}
	choice, err := psychometrics.NextPractice(skills, questions, rules, rng)
	if err == nil && choice.Question < 0 {
		// Mastered: go on with what is least sure. Every skill counts as just
		// below a target that none can reach.
		why.Mastered = true
		const never = 1 - 1e-9
		for k := range skills {
			skills[k].Now = min(skills[k].Now, never-1e-9)
		}
		rules.Target = never
		choice, err = psychometrics.NextPractice(skills, questions, rules, rng)
	}
	if err != nil {
		return nil, why, err
	}
	q := pool[choice.Question]
	why.Skill, why.Known, why.Information = q.Skill, skills[choice.Skill].Now, choice.Information
	if k := m.skill(q.Skill); k >= 0 {
		why.Answers = len(histories[k])
	}
	why.Again, why.Scarce = questions[choice.Question].Seen, choice.OverLimit
	return q, why, nil
}

func noQuestion(m Mode) error {
	return &quiz.Error{Code: quiz.NotFound, Text: "there is no question left to practise " + m.String(),
		Mend: "practise something else, or ask the coordinator for a larger bank"}
}

// canSlipAt tells whether a question can be got wrong at a step of the lookup.
func canSlipAt(q *banks.Question, step resolver.Step) bool {
	at := func(s resolver.Slip) bool { return s != resolver.NoSlip && s.Step() == step }
	return slices.ContainsFunc(q.Options, func(o banks.Option) bool { return at(o.Slip) }) ||
		slices.ContainsFunc(q.Slipped, func(s banks.Slipped) bool { return at(s.Slip) })
}

func bankHasStep(bank Bank, skills []string, step resolver.Step) bool {
	return slices.ContainsFunc(skills, func(name string) bool {
		return slices.ContainsFunc(bank.BySkill(name), func(q *banks.Question) bool { return canSlipAt(q, step) })
	})
}

func firstStep(bank Bank, skills []string) (resolver.Step, bool) {
	for _, s := range resolver.Steps() {
		if bankHasStep(bank, skills, s) {
			return s, true
		}
	}
	return 0, false
}

func meanLogit(list []*banks.Question) float64 {
	if len(list) == 0 {
		return 0
	}
	sum := 0.0
	for _, q := range list {
		sum += q.Logit
	}
	return sum / float64(len(list))
}
