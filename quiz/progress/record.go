package progress

import (
	"context"
	"math"
	"slices"
	"time"

	"rightpage/grading"
	"rightpage/grading/psychometrics"
	"rightpage/quiz"
)

// Level says how far a skill is mastered, in the steps that people are told.
type Level string

// The levels. The limits are those of [psychometrics.SayMastery].
const (
	TooFew   Level = "too few to tell" // fewer than psychometrics.MinSkillAnswers answers
	NotYet   Level = "not yet"         // known with a chance of at most 1/4
	Open     Level = "open"            // in between
	Probable Level = "probable"        // at least 3/4
	Mastered Level = "mastered"        // at least 19/20
)

// LevelOf gives the level for a chance that the skill is known, and the number
// of answers that it rests on.
func LevelOf(known float64, answers int) Level {
	switch {
	case answers < psychometrics.MinSkillAnswers:
		return TooFew
	case known >= 0.95:
		return Mastered
	case known >= 0.75:
		return Probable
	case known <= 0.25:
		return NotYet
	}
	return Open
}

// Record is what one person has answered, and what it says.
type Record struct {
	Person string
	Share            // of all answers
	First  time.Time // the first answer; zero: none
	Last   time.Time
	Skills []Skill     // every skill of the kinds of question, by name
	Steps  []StepShare // in the order of a lookup
	Slips  []grading.SlipCount
	Months []Month
	Weeks  []Week
	Streak Streak
}

// Skill is where a person stands in one skill.
type Skill struct {
	Name string
	Share
	// Known is the chance that the skill is known today, and Expected the
	// chance of a right answer to a question of average difficulty.
	Known, Expected float64
	Level           Level
	Method          psychometrics.MasteryMethod // how Known was found
	Says            psychometrics.Statement     // Known in words
	// Fades says when half of it is lost without practice; empty where that is
	// not known.
	Fades psychometrics.Statement
	// Change compares the last 12 answers with those before; empty where there
	// are none before.
	Change  psychometrics.Statement
	Fluency psychometrics.Fluency
	// Usual is the time that people of this organisation stay below on half of
	// such questions; the target that Fluency.Within is about. 0: not known.
	Usual       time.Duration
	FluencySays []psychometrics.Statement
	Slips       []grading.SlipCount
	Months      []Month
}

// Of gives the record of a person, as of now. Somebody who answered nothing
// has a record without answers; a person that the store does not know is a
// quiz.NotFound.
func (p *Progress) Of(ctx context.Context, person string) (*Record, error) {
	zone, err := p.zone(ctx, person)
	if err != nil {
		return nil, err
	}
	m, err := p.Model(ctx)
	if err != nil {
		return nil, err
	}
	return m.Record(person, p.h.of(person), zone, p.o.Now()), nil
}

// Released gives the record of a person as the person may see it: without the
// answers to quizzes whose rule has not released which of them were right. Only
// the weeks practised on end are those of all answers.
func (p *Progress) Released(ctx context.Context, person string) (*Record, error) {
	zone, err := p.zone(ctx, person)
	if err != nil {
		return nil, err
	}
	m, err := p.Model(ctx)
	if err != nil {
		return nil, err
	}
	answers, err := p.released(ctx, person)
	if err != nil {
		return nil, err
	}
	now := p.o.Now()
	r := m.Record(person, answers, zone, now)
	r.Streak = StreakOf(Weeks(p.h.of(person), zone), now)
	return r, nil
}

// released gives the answers of a person without those of attempts of which may
// not be shown which were right.
func (p *Progress) released(ctx context.Context, person string) ([]Answer, error) {
	attempts, err := p.s.AttemptsOf(ctx, person)
	if err != nil {
		return nil, err
	}
	assignments, err := p.s.Assignments(ctx)
	if err != nil {
		return nil, err
	}
	of := map[string]quiz.Assignment{}
	for _, a := range assignments {
		of[a.ID] = a
	}
	held := map[string]bool{}
	for _, a := range attempts {
		held[a.ID] = !of[a.Assignment].Shows(a, attempts, p.o.Now()).Answers
	}
	return slices.DeleteFunc(slices.Clone(p.h.of(person)), func(a Answer) bool { return a.Quiz && held[a.Ref] }), nil
}

// zone is the time zone of the site of a person.
func (p *Progress) zone(ctx context.Context, person string) (*time.Location, error) {
	who, err := p.s.Person(ctx, person)
	if err != nil || who.Site == "" {
		return time.UTC, err
	}
	sites, err := p.s.Sites(ctx)
	if err != nil {
		return time.UTC, err
	}
	for _, s := range sites {
		if s.ID == who.Site && s.Zone != "" {
			if zone, err := time.LoadLocation(s.Zone); err == nil {
				return zone, nil
			}
		}
	}
	return time.UTC, nil
}

// Record says what the answers of a person, in order of time, say at a time.
func (m *Model) Record(person string, answers []Answer, zone *time.Location, now time.Time) *Record {
	r := &Record{Person: person, Share: shareOf(answers), Steps: StepShares(answers), Slips: SlipCounts(answers),
		Months: Months(answers, zone), Weeks: Weeks(answers, zone)}
	r.Streak = StreakOf(r.Weeks, now)
	if n := len(answers); n > 0 {
		r.First, r.Last = answers[0].At, answers[n-1].At
	}
	parts := make([][]Answer, len(m.Skills))
	for _, a := range answers {
		if k := m.skill(a.Skill); k >= 0 {
			parts[k] = append(parts[k], a)
		}
	}
	histories := m.historiesOf(answers)
	for k, name := range m.Skills {
		r.Skills = append(r.Skills, m.record(k, name, parts[k], histories[k], zone, dayOf(now)))
	}
	return r
}

func (m *Model) record(k int, name string, answers []Answer, h psychometrics.SkillHistory, zone *time.Location, day float64) Skill {
	s := Skill{Name: name, Share: shareOf(answers), Method: m.Mastery[k].Method,
		Known: m.knownAt(k, h, day), Expected: m.forecastRight(k, h, day), Slips: SlipCounts(answers), Months: Months(answers, zone)}
	s.Level = LevelOf(s.Known, len(h))
	s.Says = psychometrics.SayMastery(name, s.Known, len(h))
	if s.Method == psychometrics.MethodTracing && (s.Level == Probable || s.Level == Mastered) {
		s.Fades = psychometrics.SayFading(m.Mastery[k].Tracing.MasteryParameters)
	}
	cut := max(0, len(answers)-psychometrics.MinShareAnswers)
	before, after := shareOf(answers[:cut]), shareOf(answers[cut:])
	if before.Answers > 0 {
		s.Change = psychometrics.SayChange(before.Right, before.Answers, after.Right, after.Answers)
	}
	m.fluency(&s, answers)
	return s
}

// forecastRight is the chance of a right answer, NaN-free for skills that
// nobody has practised.
func (m *Model) forecastRight(k int, h psychometrics.SkillHistory, day float64) float64 {
	if m.Mastery[k].Answers == 0 {
		return m.Mastery[k].Tracing.RightAt(h, day)
	}
	return m.forecaster(k).RightAt(h, day)
}

// fluency adds what the response times say.
func (m *Model) fluency(s *Skill, answers []Answer) {
	var times []psychometrics.TimedAnswer
	if m.Timed {
		times = slices.DeleteFunc(m.timed(0, answers), func(t psychometrics.TimedAnswer) bool {
			return m.Times.Items[t.Item].Answers == 0 // a kind that is new since the fit
		})
	}
	if len(times) == 0 {
		s.FluencySays = psychometrics.SayFluency(psychometrics.Fluency{}, 0)
		return
	}
	var items []int
	mean, n := 0.0, 0.0
	for _, t := range times {
		items = append(items, t.Item)
	}
	items = sortedItems(items)
	for _, i := range items {
		mean += m.Times.Items[i].Intensity
		n++
	}
	usual := math.Exp(mean / n)
	s.Usual = time.Duration(usual * float64(time.Second))
	s.Fluency = m.Times.Fluency(times, items, s.Expected, usual)
	s.FluencySays = psychometrics.SayFluency(s.Fluency, usual)
}

func shareOf(answers []Answer) Share {
	right := 0
	for _, a := range answers {
		if a.Right {
			right++
		}
	}
	return ShareOf(right, len(answers))
}
