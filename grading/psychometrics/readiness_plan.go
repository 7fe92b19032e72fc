package psychometrics

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// PlanOptions governs [ReadinessModel.Plan].
type PlanOptions struct {
	// Target is the chance of reaching the requirement that the plan aims at,
	// above 0 and below 1; 0.8 is sensible.
	Target float64
	// Day is when the practice takes place: what is learned then is forgotten
	// at the usual rate up to the requirement's day. A day before a history's
	// last answer counts as that day.
	Day float64
	// MaxQuestions ends the search; 0 means 400.
	MaxQuestions int
	// Draws and RNG give the range of the number of questions, as in
	// [ForecastOptions]; 0 gives no range.
	Draws int
	RNG   *rand.Rand
}

// PlannedPractice is one line of a plan.
type PlannedPractice struct {
	Skill, Questions int
}

// PracticePlan is the result of [ReadinessModel.Plan].
type PracticePlan struct {
	// Skills lists what to practise, most questions first; skills that need
	// none are left out.
	Skills []PlannedPractice
	// Untraced lists the required skills tracked by [MethodAverage]: how fast
	// they are learned is not known, so nothing can be planned for them.
	Untraced []int
	// Questions is their sum. Low and High enclose the sum that would do if
	// the skills' parameters were known exactly, with 80 % probability; equal
	// to Questions without draws.
	Questions, Low, High int
	// Before and After are the chances without and with the plan.
	Before, After float64
	// Reached is false where the target cannot be had, because slips and what
	// is forgotten by the day leave too little, or where MaxQuestions did not
	// do; Ceiling is the chance that endless practice on Day would give. A plan
	// for a target above the ceiling goes nine tenths of the way to it.
	Reached bool
	Ceiling float64
}

// Plan finds the fewest practice questions, each followed by its explanation,
// after which a person reaches a requirement with the target chance. m
// questions in a skill on Day turn a chance κ of knowing it into
//
//	1 − (1 − κ)(1 − Learn)^m
//
// whatever is answered, since before the practice the answers are unknown; what
// is then known is forgotten at the skill's rate up to the requirement's day,
// and the chances are combined as in [ReadinessModel.Forecast]. One question at
// a time goes to the skill where it raises the whole chance most. Given ability
// the logarithm of the chance is a sum of concave functions of the numbers of
// questions, for which this is exactly the shortest plan (Fox 1966, Operations
// Research 14, 210–216); averaging over ability can cost a question. Skills
// tracked by [MethodAverage] have no learning rate and are listed as Untraced.
//
// A target already met gives an empty plan. Errors are those of Forecast, and
// [ErrRange] for a target outside 0 to 1.
func (m *ReadinessModel) Plan(p PersonRecord, r Requirement, o PlanOptions) (PracticePlan, error) {
	if err := m.checkRequirement(r); err != nil {
		return PracticePlan{}, err
	}
	if err := m.checkRecord(p); err != nil {
		return PracticePlan{}, err
	}
	if !(o.Target > 0 && o.Target < 1) {
		return PracticePlan{}, fmt.Errorf("plan aims at a chance of %v; give a value above 0 and below 1: %w", o.Target, ErrRange)
	}
	if math.IsNaN(o.Day) || o.Day > r.Day {
		return PracticePlan{}, fmt.Errorf("plan practises on day %v, the requirement is due on day %v; give a day up to that one: %w", o.Day, r.Day, ErrRange)
	}
	if o.Draws > 0 && o.RNG == nil {
		return PracticePlan{}, fmt.Errorf("%d draws need a source of random numbers: %w", o.Draws, ErrRange)
	}
	if o.MaxQuestions == 0 {
		o.MaxQuestions = 400
	}
	var f forecaster
	out := m.plan(&f, m.Skills, p, r, o)
	out.Low, out.High = out.Questions, out.Questions
	if o.Draws == 0 || len(out.Skills) == 0 {
		return out, nil
	}
	skills := slices.Clone(m.Skills)
	totals := make([]int, o.Draws)
	for d := range totals {
		for k := range skills {
			skills[k] = m.Skills[k].draw(m.Skills[k].root(), o.RNG)
		}
		totals[d] = m.plan(&f, skills, p, r, o).Questions
	}
	slices.Sort(totals)
	at := func(share float64) int { return totals[int(share*float64(len(totals)-1)+0.5)] }
	// The drawn totals need not straddle the plan's own; a range that leaves
	// the plan out would only puzzle its reader.
	out.Low, out.High = min(at(0.1), out.Questions), max(at(0.9), out.Questions)
	return out, nil
}

// planLine is what one more question does to one line of the requirement.
type planLine struct {
	traced    bool
	known     []float64 // at each ability, after the questions planned so far, on the day of practice
	learn     []float64
	kept      float64
	yes, no   float64
	fixed     []float64 // pass chances that practice does not change
	questions int
}

func (l *planLine) pass(q int, known float64) float64 {
	if !l.traced {
		return l.fixed[q]
	}
	known *= l.kept
	return known*l.yes + (1-known)*l.no
}

func (m *ReadinessModel) plan(f *forecaster, skills []SkillModel, p PersonRecord, r Requirement, o PlanOptions) PracticePlan {
	f.run(m, skills, p, r)
	lines := make([]planLine, len(r.Skills))
	for i, req := range r.Skills {
		s, h := &skills[req.Skill], p.Histories[req.Skill]
		l := &lines[i]
		l.fixed = f.pass[i]
		l.known, l.learn = make([]float64, len(f.x)), make([]float64, len(f.x))
		if s.Method != MethodTracing {
			continue
		}
		l.traced = true
		mean := s.at(0)
		day, until := o.Day, 1.0
		if len(h) > 0 {
			day = max(day, h[len(h)-1].Day)
			until = mean.retain(day - h[len(h)-1].Day)
		}
		l.kept = mean.retain(r.Day - day)
		l.yes, l.no = req.passes(1-s.Slip), req.passes(s.Guess)
		for q, x := range f.x {
			l.known[q] = f.after[i][q] * until
			l.learn[q] = s.at(x).Learn
		}
	}
	now := func(i, q int) float64 { return lines[i].known[q] }
	chance := func(known func(i, q int) float64) float64 {
		sum := 0.0
		for q, w := range f.weight {
			for i := range lines {
				w *= lines[i].pass(q, known(i, q))
			}
			sum += w
		}
		return sum
	}
	out := PracticePlan{Before: chance(now), Ceiling: chance(func(int, int) float64 { return 1 })}
	out.After = out.Before
	aim := o.Target
	if out.Ceiling < aim {
		// The rest of the way would take ever more questions for ever less.
		aim = out.Before + 0.9*(out.Ceiling-out.Before)
	}
	for out.After < aim && out.Questions < o.MaxQuestions {
		best, gain := -1, out.After
		for i := range lines {
			if !lines[i].traced {
				continue
			}
			c := chance(func(j, q int) float64 {
				k := lines[j].known[q]
				if j == i {
					k += (1 - k) * lines[i].learn[q]
				}
				return k
			})
			if c > gain {
				best, gain = i, c
			}
		}
		if best < 0 {
			break
		}
		l := &lines[best]
		for q := range l.known {
			l.known[q] += (1 - l.known[q]) * l.learn[q]
		}
		l.questions++
		out.Questions++
		out.After = gain
	}
	out.Reached = out.After >= o.Target
	for i := range lines {
		if !lines[i].traced {
			out.Untraced = append(out.Untraced, r.Skills[i].Skill)
		}
		if n := lines[i].questions; n > 0 {
			out.Skills = append(out.Skills, PlannedPractice{Skill: r.Skills[i].Skill, Questions: n})
		}
	}
	slices.SortStableFunc(out.Skills, func(a, b PlannedPractice) int { return b.Questions - a.Questions })
	return out
}
