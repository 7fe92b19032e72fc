package grading

import (
	"strings"
	"unicode"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// Grader grades answers to one question. What does not depend on the answer is
// prepared once, so that a Grader is the way to grade many answers to a
// question; it does not change and is safe for use by many goroutines.
type Grader struct {
	q     *banks.Question
	rules Rules

	blank, right Score // ready to be copied
	wrong        Score // not recognised
	choices      choices
	options      []Score // of form OneOf: the score of each option
	keys         optionSet
	sets         map[optionSet]resolver.Slip // of form SomeOf: what a slip marks
	order        []int8                      // of form Ordered: the options in their right order
	typed        *typed
	measured     measured
	chase        *chase
	unknown      *Refusal // the form is not one that can be graded
}

// NewGrader prepares to grade answers to a question.
func NewGrader(q *banks.Question, rules Rules) *Grader {
	g := &Grader{q: q, rules: rules}
	base := Score{Question: q.ID, Kind: q.Kind, Skill: q.Skill, Right: q.KeyText()}
	g.blank, g.right, g.wrong = base, base, base
	g.blank.Verdict, g.blank.Says = Blank, "Not answered."
	g.right.Verdict, g.right.Points = Right, 1
	g.wrong.Verdict = Wrong
	unrecognised(q, &g.wrong)
	if len(q.Options) > mostOptions {
		g.unknown = &Refusal{"the question has more options than letters", "make the bank again"}
		return g
	}
	switch q.Form {
	case banks.OneOf:
		g.choices = newChoices(q.Options)
		g.options = make([]Score, len(q.Options))
		for i := range q.Options {
			o := &q.Options[i]
			g.options[i] = g.wrong
			if o.Right {
				g.options[i] = g.right
			} else if o.Slip != resolver.NoSlip {
				recognise(q, &g.options[i], o.Slip)
			}
			g.options[i].Given = o.Text
		}
	case banks.SomeOf:
		g.prepareSome()
	case banks.Ordered:
		g.prepareOrder()
	case banks.Typed:
		g.typed = typedQuestion(q)
	case banks.Number:
		g.prepareNumber()
	case banks.Chase:
		g.chase = newChase(q)
	default:
		g.unknown = &Refusal{"the question has the form " + string(q.Form) + ", which this grader does not know", "grade it with the version that made the bank"}
	}
	return g
}

// Grade scores an answer: see the function [Grade].
func (g *Grader) Grade(given string) (Score, error) {
	var s Score
	err := g.GradeInto(given, &s)
	return s, err
}

// GradeInto scores an answer into s. What s held before is lost, but for the
// memory of its Steps, which is used again: keep a copy of them, not the slice.
// With an error the score says nothing but which question it is of.
func (g *Grader) GradeInto(given string, s *Score) error {
	steps := s.Steps[:0]
	defer func() {
		if len(s.Steps) == 0 {
			s.Steps = steps // to be used again
		}
	}()
	if g.unknown != nil {
		*s = Score{Question: g.q.ID, Kind: g.q.Kind, Skill: g.q.Skill}
		return g.unknown
	}
	if isBlank(given) && !(g.typed != nil && g.typed.takesDash() && strings.TrimSpace(given) != "") {
		*s = g.blank
		return nil
	}
	var refusal *Refusal
	switch g.q.Form {
	case banks.OneOf:
		refusal = g.gradeOne(given, s)
	case banks.SomeOf:
		refusal = g.gradeSome(given, s)
	case banks.Ordered:
		refusal = g.gradeOrder(given, s)
	case banks.Typed:
		refusal = g.gradeTyped(given, s)
	case banks.Number:
		refusal = g.gradeNumber(given, s)
	case banks.Chase:
		s.Steps = steps
		refusal = g.gradeChase(given, s)
	}
	if refusal != nil {
		*s = g.unscored(given)
		return refusal
	}
	if g.rules.AllOrNothing && s.Points < 1 {
		s.Points = 0
		if s.Verdict == Partly {
			s.Verdict = Wrong
		}
	}
	return nil
}

// unscored is the score of an answer that is refused: none.
func (g *Grader) unscored(given string) Score {
	return Score{Question: g.q.ID, Kind: g.q.Kind, Skill: g.q.Skill, Given: strings.TrimSpace(given), Right: g.right.Right}
}

// isBlank tells whether an answer says nothing: spaces, dashes and the marks
// between the steps of a chase alone.
func isBlank(given string) bool {
	for i := 0; i < len(given); i++ {
		switch c := given[i]; {
		case c == ' ' || c == '-' || c == '|' || c == '\t' || c == '\n' || c == '\r' || c == '_':
		case c < 0x80:
			return false
		default:
			for _, r := range given[i:] {
				if !unicode.IsSpace(r) && !unicode.Is(unicode.Cf, r) && !strings.ContainsRune("–—−-|_", r) {
					return false
				}
			}
			return true
		}
	}
	return true
}

// settle turns points into a verdict.
func settle(s *Score, points float64) {
	switch {
	case points >= 1:
		s.Points, s.Verdict = 1, Right
	case points > 0:
		s.Points, s.Verdict = points, Partly
	default:
		s.Points, s.Verdict = 0, Wrong
	}
}

func (g *Grader) gradeOne(given string, s *Score) *Refusal {
	var buf [mostOptions]int8
	marks, _, _, refusal := g.choices.read(given, buf[:0])
	if refusal != nil {
		return refusal
	}
	if len(marks) != 1 {
		return &Refusal{"two or more marks (" + strings.TrimSpace(given) + ") where one option is asked for", "look at the sheet and enter the one that is meant, or leave it blank"}
	}
	*s = g.options[marks[0]]
	return nil
}

func (g *Grader) gradeTyped(given string, s *Score) *Refusal {
	h := g.typed.find(given)
	if h.refusal != nil {
		return h.refusal
	}
	*s = g.wrong
	switch {
	case h.at >= 0 && g.typed.expected[h.at].right:
		*s = g.right
	case h.slip != resolver.NoSlip:
		recognise(g.q, s, h.slip)
		s.Says = joinSays(s.Says, h.says)
	case h.says != "":
		s.Says = h.says
	}
	s.Given = strings.TrimSpace(given)
	return nil
}

func (g *Grader) prepareNumber() {
	exact := func(v float64) numeral {
		return numeral{readings: [2]reading{{value: v}}, n: 1}
	}
	k := g.q.Key
	g.measured = measured{
		key:       amount{quantity{low: exact(k.Number), high: exact(k.Number), unit: k.Unit}, resolver.NoSlip},
		tolerance: k.Tolerance,
	}
	for _, s := range g.q.Slipped {
		if q, ok := parseQuantity(s.Value); ok {
			g.measured.slipped = append(g.measured.slipped, amount{q, s.Slip})
		}
	}
}

func (g *Grader) gradeNumber(given string, s *Score) *Refusal {
	q, refusal := readQuantity(given)
	if refusal != nil {
		return refusal
	}
	f := g.measured.find(q)
	// A range or a limit is no answer here, unless a slip leads to it: the value
	// beside the right one in a table may be one.
	if q.shape != single && f.rank != slipped {
		return &Refusal{"“" + strings.TrimSpace(given) + "” is a range or a limit where one number is asked for", "ask which number is meant"}
	}
	if f.refusal != nil {
		return &Refusal{"“" + strings.TrimSpace(given) + "”: " + f.refusal.Reason, f.refusal.Mend}
	}
	*s = g.wrong
	switch says := f.says(q, g.measured.key.quantity); {
	case f.rank == rightOne:
		*s = g.right
	case f.slip != resolver.NoSlip:
		recognise(g.q, s, f.slip)
		s.Says = joinSays(s.Says, says)
	case says != "":
		s.Says = says
	}
	s.Given = strings.TrimSpace(given)
	return nil
}

func joinSays(a, b string) string {
	if b == "" {
		return a
	}
	return a + " " + b
}
