package progress

import (
	"context"
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"time"

	"rightpage/grading/psychometrics"
	"rightpage/quiz"
)

// State says in a word whether somebody will be ready.
type State string

// The states.
const (
	Ready        State = "ready"
	AtRisk       State = "at risk"
	NotReady     State = "not ready"
	CannotBeTold State = "too few to tell"
)

// StateOf gives the state for a forecast: the chance to reach the requirement
// with the upper end of its interval, whether the person has answered enough
// for it to be about them ([psychometrics.MinSkillAnswers] in each skill), and
// the chance that is aimed at.
//
// Ready is who reaches the aim: the chance has been averaged over all that is
// not known, so that its interval need not count against it once more. Not
// ready is who is more likely to fail, or would miss the aim even at best. Who
// is in between is at risk. A better forecast never gives a worse state.
func StateOf(probability, high float64, enough bool, aim float64) State {
	switch {
	case !enough:
		return CannotBeTold
	case probability >= aim:
		return Ready
	case probability < min(0.5, aim) || high < aim:
		return NotReady
	}
	return AtRisk
}

// PersonReadiness is the forecast for one person and one requirement.
type PersonReadiness struct {
	Person quiz.Person
	State  State
	// Forecast has the probability with its interval (90 %), and for each
	// skill of the requirement, in its order, the chance to pass it, and to
	// know it today and on the date.
	Forecast psychometrics.Readiness
	// Skills names the skills of the requirement, in its order: what the
	// indexes in Forecast.Skills' order stand for.
	Skills []RequiredSkill
	// Weakest is the index in Skills of the one least likely to be passed.
	Weakest int
	// Reason says why, in words, beginning with the chance.
	Reason []psychometrics.Statement
	// Plan is the shortest practice that brings the chance to the aim, from
	// today on; empty for who is ready.
	Plan []PlannedPractice
	// Questions is how many questions the plan has in all; Low and High enclose
	// how many will do (80 %).
	Questions, Low, High int
	// After is the chance with the plan, and Reached whether that is the aim.
	After   float64
	Reached bool
	// PlanSays says the plan in words.
	PlanSays []psychometrics.Statement
}

// RequiredSkill is one skill of a requirement, for one person.
type RequiredSkill struct {
	quiz.SkillLevel
	Answers int
	Known   float64 // the chance to know it today
	On      float64 // and on the date, without practice
	Pass    float64 // the chance to reach the level on the date
}

// PlannedPractice is one line of a plan.
type PlannedPractice struct {
	Skill     string
	Questions int
}

// Readiness forecasts for each person whether they reach a requirement on its
// date, as of a time: the share of right answers that the requirement's level
// states, in a check of [Options.CheckQuestions] questions of each skill. The
// aim is the organisation's ([quiz.Settings.Aim]).
//
// People keep their order. A requirement whose date is past is judged as of the
// date. One that asks for a skill that no kind of question trains is a
// quiz.Invalid.
func (p *Progress) Readiness(ctx context.Context, req quiz.Requirement, people []quiz.Person, at time.Time) ([]PersonReadiness, error) {
	return p.readiness(ctx, req, people, at, func(who quiz.Person) ([]Answer, error) { return p.h.of(who.ID), nil })
}

// ReleasedReadiness is Readiness as people may see their own: see [Progress.Released].
func (p *Progress) ReleasedReadiness(ctx context.Context, req quiz.Requirement, people []quiz.Person, at time.Time) ([]PersonReadiness, error) {
	return p.readiness(ctx, req, people, at, func(who quiz.Person) ([]Answer, error) { return p.released(ctx, who.ID) })
}

func (p *Progress) readiness(ctx context.Context, req quiz.Requirement, people []quiz.Person, at time.Time, of func(quiz.Person) ([]Answer, error)) ([]PersonReadiness, error) {
	if err := req.Check(); err != nil {
		return nil, err
	}
	m, err := p.Model(ctx)
	if err != nil {
		return nil, err
	}
	settings, err := p.s.Settings(ctx)
	if err != nil {
		return nil, err
	}
	f := forecast{m: m, req: req, aim: min(settings.Aim, surest), at: at, questions: p.o.CheckQuestions, draws: p.o.Draws}
	out := make([]PersonReadiness, len(people))
	for i, who := range people {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		answers, err := of(who)
		if err != nil {
			return nil, err
		}
		if out[i], err = f.of(who, answers); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// surest is the highest chance that can be aimed at.
const surest = 0.99

// forecast is what the readiness of people is told from.
type forecast struct {
	m                *Model
	req              quiz.Requirement
	aim              float64
	at               time.Time
	questions, draws int
}

// of gives the readiness of a person by their answers up to the time.
func (f forecast) of(who quiz.Person, answers []Answer) (PersonReadiness, error) {
	out := PersonReadiness{Person: who}
	model := f.m.Readiness
	if model == nil {
		// Nobody has answered anything.
		model = emptyModel(len(f.m.Skills))
	}
	at := f.at
	if at.After(f.req.Date) {
		at = f.req.Date
	}
	for len(answers) > 0 && answers[len(answers)-1].At.After(at) {
		answers = answers[:len(answers)-1]
	}
	record := psychometrics.PersonRecord{Histories: f.m.historiesOf(answers)}
	required := psychometrics.Requirement{Day: dayOf(f.req.Date)}
	for _, s := range f.req.Skills {
		k := f.m.skill(s.Skill)
		if k < 0 {
			return out, &quiz.Error{Code: quiz.Invalid, Text: fmt.Sprintf("requirement %s: no kind of question trains %q", f.req.Course, s.Skill),
				Mend: "choose skills from the list of skills"}
		}
		required.Skills = append(required.Skills, psychometrics.RequiredSkill{Skill: k, Level: s.Level, Questions: f.questions})
	}
	rng := rand.New(rand.NewPCG(hash(who.ID), hash(f.req.ID+f.req.Course)))
	r, err := model.Forecast(record, required, psychometrics.ForecastOptions{Draws: f.draws, RNG: rng})
	if err != nil {
		return out, fmt.Errorf("readiness of %s for %s: %w", who.ID, f.req.Course, err)
	}
	out.Forecast, out.Weakest = r, r.Weakest
	for i, s := range r.Skills {
		out.Skills = append(out.Skills, RequiredSkill{f.req.Skills[i], s.Answers, s.Now, s.Known, s.Pass})
	}
	out.State = StateOf(r.Probability, r.High, r.Enough, f.aim)
	out.Reason = psychometrics.SayReadiness(r, f.req.Date, f.m.Skills)
	out.After, out.Reached = r.Probability, r.Probability >= f.aim
	if out.State == Ready {
		return out, nil
	}
	plan, err := model.Plan(record, required, psychometrics.PlanOptions{Target: f.aim, Day: dayOf(at), Draws: f.draws / 5, RNG: rng})
	if err != nil {
		return out, fmt.Errorf("practice plan of %s for %s: %w", who.ID, f.req.Course, err)
	}
	for _, s := range plan.Skills {
		out.Plan = append(out.Plan, PlannedPractice{f.m.Skills[s.Skill], s.Questions})
	}
	out.Questions, out.Low, out.High = plan.Questions, plan.Low, plan.High
	out.After, out.Reached = plan.After, plan.Reached
	out.PlanSays = psychometrics.SayPlan(plan, f.m.Skills)
	return out, nil
}

// emptyModel is the model of skills of which nobody has answered a question.
func emptyModel(skills int) *psychometrics.ReadinessModel {
	m, err := psychometrics.FitReadiness([]psychometrics.PersonRecord{{Histories: make([]psychometrics.SkillHistory, skills)}},
		skills, nil, psychometrics.DefaultMasteryPrior())
	if err != nil {
		panic("progress: the prior cannot be fitted: " + err.Error())
	}
	return m
}

func hash(s string) uint64 {
	h := fnv.New64a()
	_, _ = h.Write([]byte(s))
	return h.Sum64()
}
