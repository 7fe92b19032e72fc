package demo

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"rightpage/banks"
	"rightpage/banks/resolver"
	"rightpage/grading"
)

// mind is how an invented technician answers. It is no mirror of any model of
// this program: ability is continuous, grows with explanations by less and
// less, and falls back towards where it began.
type mind struct {
	skill
	rng    *rand.Rand
	start  map[string]float64 // by skill: logits at the start
	now    map[string]float64 // and now
	last   map[string]time.Time
	weak   map[resolver.Step]float64 // logits lost at a step
	answer int                       // answers given so far
}

func newMind(s skill, rng *rand.Rand) *mind {
	m := &mind{skill: s, rng: rng, start: map[string]float64{}, now: map[string]float64{}, last: map[string]time.Time{}, weak: map[resolver.Step]float64{}}
	for _, step := range resolver.Steps() {
		if slices.Contains(s.weak, step.String()) {
			m.weak[step] = 1.6
		}
	}
	return m
}

// The constants of the invented minds.
const (
	spread   = 0.5   // of the abilities in the skills of one person, in logits
	ceiling  = 3.6   // logits above which nothing is learned
	fallback = 130.0 // days in which what was learned falls to 1/e
	careless = 0.03  // share of answers that go wrong whatever is known
	hardness = 0.6   // how much of the predicted difficulty is true
	sharp    = 1.5   // how steeply the chance to be right rises with ability
	offset   = -0.2  // what makes the questions as hard as they are, in logits
	// A chase has many steps: each must be easier than a question for itself.
	stepOffset = 1.5
)

// theta is the ability in a skill at a time.
func (m *mind) theta(skill string, at time.Time) float64 {
	start, ok := m.start[skill]
	if !ok {
		start = m.ability + spread*m.rng.NormFloat64()
		m.start[skill], m.now[skill], m.last[skill] = start, start, at
	}
	days := at.Sub(m.last[skill]).Hours() / 24
	if days > 0 {
		m.now[skill] = start + (m.now[skill]-start)*math.Exp(-days/fallback)
		m.last[skill] = at
	}
	return m.now[skill]
}

// explained adds what is learned from one explanation.
func (m *mind) explained(q *banks.Question, at time.Time, share float64) {
	theta := m.theta(q.Skill, at)
	room := max(0, 1-(theta+1)/(ceiling+1))
	m.now[q.Skill] = theta + 2*m.gain*share*min(room, 1)
}

// sheet is an answer and how long it took.
type sheet struct {
	given string
	spent time.Duration
}

// answers lets the technician answer a question.
func (m *mind) answers(q *banks.Question, at time.Time) sheet {
	m.answer++
	theta := m.theta(q.Skill, at)
	var given string
	if q.Form == banks.Chase {
		given = m.chase(q, theta)
	} else {
		given = m.single(q, theta)
	}
	return sheet{given, m.time(q, theta)}
}

// guess is the chance to be right without knowing.
func guess(form banks.Form, options int) float64 {
	switch form {
	case banks.OneOf:
		return 0.8 / float64(max(options, 2)) // the wrong options are meant to attract
	case banks.SomeOf, banks.Ordered:
		return 0.05
	}
	return 0.02
}

func logistic(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

func (m *mind) single(q *banks.Question, theta float64) string {
	wrong := grading.SlipAnswers(q)
	lost := 0.0
	for _, s := range wrong {
		lost = max(lost, m.weak[s.Step()])
	}
	g := guess(q.Form, len(q.Options))
	p := g + (1-g-careless)*logistic(sharp*(theta+offset-hardness*q.Logit-lost))
	if m.rng.Float64() < p {
		return grading.KeyAnswer(q)
	}
	for a := range wrong {
		// Who is told that an answer cannot be read gives another.
		if _, err := grading.Grade(q, a, grading.Rules{}); err != nil {
			delete(wrong, a)
		}
	}
	if len(wrong) == 0 {
		return grading.KeyAnswer(q)
	}
	return m.slip(wrong)
}

// slip picks a wrong answer, likelier one of a weak step.
func (m *mind) slip(wrong map[string]resolver.Slip) string {
	list := make([]string, 0, len(wrong))
	for a := range wrong {
		list = append(list, a)
	}
	slices.Sort(list)
	total := 0.0
	weight := func(a string) float64 { return 1 + 3*m.weak[wrong[a].Step()] }
	for _, a := range list {
		total += weight(a)
	}
	x := m.rng.Float64() * total
	for _, a := range list {
		if x -= weight(a); x < 0 {
			// A weakness that is pointed out grows less.
			m.weak[wrong[a].Step()] *= 0.985
			return a
		}
	}
	return list[len(list)-1]
}

// chase answers a chase step by step. Who has made a slip goes on with what is
// in hand.
func (m *mind) chase(q *banks.Question, theta float64) string {
	out := make([]string, len(q.Steps))
	made, variant := resolver.NoSlip, 0
	for i := range q.Steps {
		s := &q.Steps[i]
		out[i] = grading.StepAnswer(s)
		if made != resolver.NoSlip {
			for _, c := range s.Carried {
				if c.Slip == made && c.Variant == variant {
					out[i] = stepValue(s, c.Value)
				}
			}
			continue
		}
		p := logistic(theta+stepOffset-m.weak[s.Step]-hardness*q.Logit/3) - careless/2
		if m.rng.Float64() < p {
			continue
		}
		var ways []banks.Slipped
		for j, o := range s.Options {
			if !o.Right {
				ways = append(ways, banks.Slipped{Value: banks.Letter(j), Slip: o.Slip, Variant: o.Variant})
			}
		}
		ways = append(ways, s.Slipped...)
		if len(ways) == 0 {
			continue
		}
		w := ways[m.rng.IntN(len(ways))]
		out[i], made, variant = w.Value, w.Slip, w.Variant
	}
	return strings.Join(out, "|")
}

// stepValue writes a value of a step in the form that is graded.
func stepValue(s *banks.ChaseStep, value string) string {
	for i, o := range s.Options {
		if o.Value == value {
			return banks.Letter(i)
		}
	}
	if len(s.Options) > 0 {
		return grading.StepAnswer(s)
	}
	return value
}

// time is how long the technician takes: log-normal, less with skill.
func (m *mind) time(q *banks.Question, theta float64) time.Duration {
	usual := 42.0
	switch {
	case q.Form == banks.Chase:
		usual = 34 * float64(max(len(q.Steps), 1))
	case q.Form == banks.Typed || q.Form == banks.Number:
		usual = 65
	}
	learned := theta - m.start[q.Skill]
	s := usual * math.Exp(0.42*m.rng.NormFloat64()-m.pace-0.16*learned)
	return time.Duration(min(max(s, 4), 420) * float64(time.Second)).Truncate(100 * time.Millisecond)
}
