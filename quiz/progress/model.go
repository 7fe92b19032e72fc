package progress

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"rightpage/banks/kinds"
	"rightpage/grading/psychometrics"
)

// Model is what everybody's answers together say about the skills: how each is
// tracked, how fast it is learned and forgotten, how long an answer takes. It
// does not change once made.
type Model struct {
	Fitted  time.Time
	Answers int
	Skills  []string // sorted; the order of everything below
	// Mastery says how each skill is tracked, and by how much the one way
	// predicts better than the other. Skills that nobody answered yet have
	// no answers, and the parameters of the prior.
	Mastery []psychometrics.MasterySelection
	// Readiness is nil while nobody has answered anything.
	Readiness *psychometrics.ReadinessModel
	// Times is the model of response times by kind of question; Timed tells
	// whether there is one.
	Times psychometrics.ResponseTimeModel
	Timed bool

	kinds []string
}

// skill gives the index of a skill, −1 if there is none of that name.
func (m *Model) skill(name string) int {
	if i, ok := slices.BinarySearch(m.Skills, name); ok {
		return i
	}
	return -1
}

// forecaster gives what predicts answers in a skill.
func (m *Model) forecaster(skill int) psychometrics.AnswerForecaster {
	return m.Mastery[skill].Forecaster()
}

// knownAt is the chance that the skill is known. Where the moving average is
// kept the expected share of right answers is brought to the same scale by the
// share that comes from guessing and slipping.
func (m *Model) knownAt(skill int, h psychometrics.SkillHistory, day float64) float64 {
	s := m.Mastery[skill]
	if s.Method == psychometrics.MethodTracing || s.Answers == 0 {
		return s.Tracing.KnownAt(h, day)
	}
	guess, right := s.Tracing.Guess, 1-s.Tracing.Slip
	if right <= guess {
		return s.Average.RightAt(h, day)
	}
	return min(max((s.Average.RightAt(h, day)-guess)/(right-guess), 0), 1)
}

// dayOf counts days since 1970, with fractions.
func dayOf(t time.Time) float64 { return float64(t.UnixMicro()) / 86400e6 }

// historiesOf parts a person's answers by skill. How hard each question was is
// left out: until the organisation has fitted the weights of its own questions
// that is a guess, see banks.StartingWeights.
func (m *Model) historiesOf(answers []Answer) []psychometrics.SkillHistory {
	h := make([]psychometrics.SkillHistory, len(m.Skills))
	for _, a := range answers {
		k := m.skill(a.Skill)
		if k < 0 {
			continue
		}
		h[k] = append(h[k], psychometrics.SkillAnswer{Right: a.Right, Day: dayOf(a.At)})
	}
	return h
}

// longest is the longest time for one answer that is taken at its word: who
// takes longer went away from the screen. Common practice, no source.
const longest = 30 * time.Minute

// timed gives the times of a person's answers that tell something.
func (m *Model) timed(person int, answers []Answer) []psychometrics.TimedAnswer {
	var list []psychometrics.TimedAnswer
	for _, a := range answers {
		item, ok := slices.BinarySearch(m.kinds, a.Kind)
		if ok && a.Spent > 0 && a.Spent <= longest && !a.Blank {
			list = append(list, psychometrics.TimedAnswer{Person: person, Item: item, Seconds: a.Spent.Seconds(), Right: a.Right})
		}
	}
	return list
}

// folds is how many parts people are dealt into to compare ways to track a
// skill.
const folds = 5

// fit makes a model from everybody's answers. The same answers give the same
// model.
func fit(ctx context.Context, answers [][]Answer, now time.Time) (*Model, error) {
	m := &Model{Fitted: now}
	for _, k := range kinds.All() {
		m.Skills = append(m.Skills, k.Skill)
		m.kinds = append(m.kinds, k.Name)
	}
	for _, list := range answers {
		m.Answers += len(list)
		for _, a := range list {
			m.Skills = append(m.Skills, a.Skill)
			m.kinds = append(m.kinds, a.Kind)
		}
		// Thousands of answers would make a long list of few names.
		m.Skills, m.kinds = sortedOnce(m.Skills), sortedOnce(m.kinds)
	}
	m.Skills, m.kinds = sortedOnce(m.Skills), sortedOnce(m.kinds)

	prior := psychometrics.DefaultMasteryPrior()
	records := make([]psychometrics.PersonRecord, len(answers))
	var times []psychometrics.TimedAnswer
	for i, list := range answers {
		records[i].Histories = m.historiesOf(list)
		times = append(times, m.timed(i, list)...)
	}
	methods := make([]psychometrics.MasteryMethod, len(m.Skills))
	m.Mastery = make([]psychometrics.MasterySelection, len(m.Skills))
	for k, name := range m.Skills {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		of := make([]psychometrics.SkillHistory, len(records))
		n := 0
		for i := range records {
			of[i] = records[i].Histories[k]
			n += len(of[i])
		}
		if n == 0 {
			m.Mastery[k].Method = psychometrics.MethodTracing
			m.Mastery[k].Tracing.MasteryParameters = prior.Mode()
			methods[k] = psychometrics.MethodTracing
			continue
		}
		s, err := psychometrics.SelectMastery(of, prior, folds, rand.New(rand.NewPCG(uint64(k), 7)))
		if err != nil {
			return nil, fmt.Errorf("skill %q: %w", name, err)
		}
		m.Mastery[k], methods[k] = s, s.Method
	}
	if len(records) > 0 {
		r, err := psychometrics.FitReadiness(records, len(m.Skills), methods, prior)
		if err != nil {
			return nil, fmt.Errorf("readiness: %w", err)
		}
		m.Readiness = r
	}
	if len(times) > 0 {
		t, err := psychometrics.FitResponseTimes(times, len(answers), len(m.kinds), true)
		if err != nil {
			return nil, fmt.Errorf("response times: %w", err)
		}
		m.Times, m.Timed = t, true
	}
	return m, nil
}

func sortedOnce(list []string) []string {
	slices.Sort(list)
	return slices.Compact(list)
}

func sortedItems(list []int) []int {
	slices.Sort(list)
	return slices.Compact(list)
}
