package demo

import (
	"fmt"
	"time"

	"rightpage/banks"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/progress"
)

// planPractice plans the sessions of everybody who practises on their own.
func (f *filler) planPractice() {
	for i, p := range f.people {
		if p.skill.weekly == 0 {
			continue
		}
		rng := p.mind.rng
		away := map[int]bool{1 + rng.IntN(weeksBack-1): true, 1 + rng.IntN(weeksBack-1): true} // on holiday
		for week := weeksBack - 1; week >= 0; week-- {
			if p.since > 0 && week >= p.since || week <= p.left || away[week] {
				continue
			}
			left := int(p.skill.weekly*(0.6+0.8*rng.Float64()) + rng.Float64())
			for weekday := rng.IntN(3); weekday < 5 && left > 0; weekday += 1 + rng.IntN(3) {
				n := min(left, 4+rng.IntN(6))
				left -= n
				// Nobody practises at the same minute, so that everything has
				// one order.
				at := f.day(week, weekday, 7+rng.IntN(9), rng.IntN(60)).Add(time.Duration(i) * time.Second)
				if at.Before(f.present.Add(-time.Hour)) {
					f.at(at, "practice of "+p.Name, func(at time.Time) error { return f.practise(p, at, n) })
				}
			}
		}
	}
}

// practise lets somebody do exercises of the catalog in force.
func (f *filler) practise(p *person, at time.Time, n int) error {
	bank, err := f.revisions[f.force].Bank(f.ctx)
	if err != nil {
		return err
	}
	for i := range n {
		q := p.choose(bank.Skills(), bank.BySkill)
		if q == nil {
			return nil
		}
		given := p.mind.answers(q, at)
		at = at.Add(given.spent + 12*time.Second)
		score, err := grading.Grade(q, given.given, grading.Rules{})
		if err != nil {
			return fmt.Errorf("question %s answered with %q: %w", q.ID, given.given, err)
		}
		p.learn(q, score, at, 1)
		f.out.Practice++
		x := quiz.Practice{Person: p.ID, Key: fmt.Sprintf("practice-%s-%d-%02d", p.number, at.Unix(), i), At: at, Spent: given.spent, Score: score}
		if _, err := f.s.SavePractice(f.ctx, x); err != nil {
			return err
		}
	}
	return nil
}

// learn is what an answer leaves behind in a person. Share is how much of the
// explanation is read.
func (p *person) learn(q *banks.Question, s grading.Score, at time.Time, share float64) {
	p.mind.explained(q, at, share)
	t := p.tally[q.Skill]
	if t == nil {
		t = &tally{}
		p.tally[q.Skill] = t
	}
	t.right += s.Points
	t.answers++
	p.asked[q.ID] = true
}

// choose chooses an exercise: mostly of the weakest skill, sometimes of any,
// now and then a whole lookup.
func (p *person) choose(skills []string, of func(string) []*banks.Question) *banks.Question {
	rng := p.mind.rng
	skill := progress.ChaseSkill
	switch x := rng.Float64(); {
	case x < 0.45:
		least := 2.0
		for _, s := range skills {
			share := 0.4 + 0.2*rng.Float64()
			if t := p.tally[s]; t != nil {
				share = (t.right + 2*share) / (t.answers + 2)
			}
			if s != progress.ChaseSkill && share < least {
				skill, least = s, share
			}
		}
	case x < 0.88:
		skill = skills[rng.IntN(len(skills))]
	}
	list := of(skill)
	if len(list) == 0 {
		return nil
	}
	for range 30 {
		if q := list[rng.IntN(len(list))]; !p.asked[q.ID] {
			return q
		}
	}
	return list[rng.IntN(len(list))]
}
