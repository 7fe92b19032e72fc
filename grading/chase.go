package grading

import (
	"fmt"
	"strings"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// chase is the key of a chase: its steps, and the ways that people go who make
// a slip.
//
// A stray is the way of one slip in one of its variants. Of each the chase
// knows which answer it leads to at which step. As steps are graded it keeps the
// strays that the technician can be on, judged by the answers given so far:
//
//   - An answer that is the key is right, and ends every stray that leads
//     elsewhere at this step.
//   - A wrong answer that a stray leads to on which the technician can be is
//     right on what is in hand: it counts, as carried. Only such strays go on.
//   - Any other wrong answer is a slip made here. It ends the strays so far and
//     begins those that lead to it.
//   - A step left blank changes nothing.
type chase struct {
	steps []chaseStep
}

type chaseStep struct {
	ask     string
	choices choices
	typed   *typed
	scores  []StepScore // of each option, or of each expected typed answer
	right   []bool      // beside scores
	strays  []straySet  // beside scores: those that lead to the answer
	known   straySet    // those of which it is known that they lead astray here
	other   StepScore   // an answer that is not expected
	blank   StepScore
}

// straySet is a set of strays. What does not fit into it is not carried.
type straySet [2]uint64

func (s *straySet) add(i int) {
	if i >= 0 && i < 64*len(s) {
		s[i/64] |= 1 << (i % 64)
	}
}
func (s straySet) and(o straySet) straySet     { return straySet{s[0] & o[0], s[1] & o[1]} }
func (s straySet) or(o straySet) straySet      { return straySet{s[0] | o[0], s[1] | o[1]} }
func (s straySet) without(o straySet) straySet { return straySet{s[0] &^ o[0], s[1] &^ o[1]} }
func (s straySet) empty() bool                 { return s == straySet{} }

func newChase(q *banks.Question) *chase {
	c := &chase{steps: make([]chaseStep, len(q.Steps))}
	var strays []resolver.Break
	number := func(slip resolver.Slip, variant int) int {
		if slip == resolver.NoSlip {
			return -1
		}
		b := resolver.Break{Slip: slip, Variant: variant}
		for i := range strays {
			if strays[i] == b {
				return i
			}
		}
		strays = append(strays, b)
		return len(strays) - 1
	}
	for i := range q.Steps {
		c.steps[i] = newChaseStep(q, &q.Steps[i], number)
	}
	if !namesOwn(q) {
		c.guess(strays)
	}
	return c
}

func newChaseStep(q *banks.Question, st *banks.ChaseStep, number func(resolver.Slip, int) int) chaseStep {
	c := chaseStep{ask: st.Ask}
	base := StepScore{Step: st.Step, Right: st.KeyText()}
	c.blank, c.other = base, base
	c.blank.Verdict, c.other.Verdict = Blank, Wrong
	add := func(text string, right bool, slip resolver.Slip, variant int) {
		s := base
		s.Given, s.Verdict = text, Wrong
		if right {
			s.Verdict, s.Points = Right, 1
		} else {
			s.Slip, s.Known = slip, slip != resolver.NoSlip
		}
		var set straySet
		if !right {
			set.add(number(slip, variant))
		}
		c.scores, c.right, c.strays = append(c.scores, s), append(c.right, right), append(c.strays, set)
		c.known = c.known.or(set)
	}
	if len(st.Options) > 0 {
		c.choices = newChoices(st.Options)
		for i := range st.Options {
			o := &st.Options[i]
			add(o.Text, o.Right, o.Slip, o.Variant)
		}
		for _, k := range st.Carried {
			for i := range st.Options {
				if st.Options[i].Value == k.Value && !c.right[i] {
					c.strays[i].add(number(k.Slip, k.Variant))
					c.known = c.known.or(c.strays[i])
				}
			}
		}
		return c
	}
	var list []expected
	for _, a := range st.Accept {
		list = append(list, expected{a, true, resolver.NoSlip})
		add(a, true, resolver.NoSlip, 0)
	}
	for _, wrong := range [...][]banks.Slipped{st.Slipped, st.Carried} {
		for _, w := range wrong {
			at := -1
			for i := range list {
				if list[i].text == w.Value {
					at = i
				}
			}
			switch {
			case at < 0:
				list = append(list, expected{w.Value, false, w.Slip})
				add(w.Value, false, w.Slip, w.Variant)
			case !c.right[at]:
				c.strays[at].add(number(w.Slip, w.Variant))
				c.known = c.known.or(c.strays[at])
			}
		}
	}
	c.typed = newTyped(string(Code), list, q.About.Publication, false)
	return c
}

// namesOwn tells whether the steps of a chase list the strays of the slips that
// are made at them, too, under Carried. Then of a stray that an answer does not
// name it is known that it does not lead there.
func namesOwn(q *banks.Question) bool {
	for i := range q.Steps {
		for _, o := range q.Steps[i].Options {
			if o.Right || o.Slip == resolver.NoSlip {
				continue
			}
			for _, k := range q.Steps[i].Carried {
				if k.Value == o.Value && k.Slip == o.Slip && k.Variant == o.Variant {
					return true
				}
			}
			return false
		}
	}
	return true
}

// guess lets an answer begin the other variants of its slip as well, unless
// they are known to lead elsewhere: where several lead to one answer, a chase
// that does not list them under Carried names the first alone.
func (c *chase) guess(strays []resolver.Break) {
	for i := range c.steps {
		st := &c.steps[i]
		known := st.known
		for j := range st.scores {
			var more straySet
			for k, b := range strays {
				if slip := st.scores[j].Slip; slip != resolver.NoSlip && b.Slip == slip {
					more.add(k)
				}
			}
			st.strays[j] = st.strays[j].or(more.without(known))
		}
	}
}

// gradeChase scores the steps of a chase.
func (g *Grader) gradeChase(given string, s *Score) *Refusal {
	steps := s.Steps[:0]
	var buf [mostSteps]string
	parts, refusal := g.chase.split(given, buf[:0])
	if refusal != nil {
		return refusal
	}
	var inHand straySet
	var sum float64
	lost, unnamed := -1, false
	for i := range g.chase.steps {
		st := &g.chase.steps[i]
		answer := ""
		if i < len(parts) {
			answer = strings.TrimSpace(parts[i])
		}
		steps = append(steps, StepScore{})
		ss := &steps[i]
		if inHand, refusal = st.grade(answer, inHand, ss); refusal != nil {
			return refusal
		}
		if ss.Verdict == Wrong {
			if lost < 0 {
				lost = i
			}
			unnamed = unnamed || !ss.Known
		}
		sum += ss.Points
	}
	if all := float64(len(steps)); sum == all && lost < 0 {
		*s = g.right
		s.Given = s.Right // as it was understood
	} else {
		*s = g.wrong
		settle(s, sum/all)
		s.Given = joinGiven(steps)
	}
	s.Steps = steps
	switch {
	case s.Verdict == Right:
	case lost < 0: // nothing wrong, but something blank
		s.Says = "Not every step is answered. " + nextTime + "Answer each step, if only with what you have in hand."
		for i := range steps {
			if steps[i].Verdict == Blank {
				s.Step, s.Trace = steps[i].Step, traceAt(g.q, steps[i].Step)
				break
			}
		}
	default:
		g.explainChase(s, steps, lost, unnamed)
	}
	return nil
}

// mostSteps is how many steps of a chase are split without memory of their own.
const mostSteps = 16

// grade scores one step into s, and gives the strays that the technician can be
// on after it.
func (st *chaseStep) grade(answer string, inHand straySet, s *StepScore) (straySet, *Refusal) {
	at := -1
	if st.typed != nil {
		if isBlank(answer) && !(answer != "" && st.typed.takesDash()) {
			*s = st.blank
			return inHand, nil
		}
		h := st.typed.find(answer)
		if h.refusal != nil {
			return inHand, &Refusal{"step “" + st.ask + "”: " + h.refusal.Reason, h.refusal.Mend}
		}
		if at = h.at; at < 0 {
			*s = st.other
			s.Given = answer
			return straySet{}, nil
		}
	} else {
		if isBlank(answer) {
			*s = st.blank
			return inHand, nil
		}
		var buf [mostOptions]int8
		marks, _, _, refusal := st.choices.read(answer, buf[:0])
		if refusal != nil {
			return inHand, &Refusal{"step “" + st.ask + "”: " + refusal.Reason, refusal.Mend}
		}
		if len(marks) != 1 {
			return inHand, &Refusal{"two or more marks (" + answer + ") at the step “" + st.ask + "”", "enter the one that is meant"}
		}
		at = int(marks[0])
	}
	*s = st.scores[at]
	if st.right[at] {
		return inHand.without(st.known), nil
	}
	if on := inHand.and(st.strays[at]); !on.empty() {
		s.Verdict, s.Points, s.Slip, s.Known = Carried, 1, resolver.NoSlip, false
		return on, nil
	}
	return st.strays[at], nil
}

// split parts the steps of a chase: at | if there is one, else at line ends,
// else at semicolons, else at spaces where that gives as many answers as there
// are steps.
func (c *chase) split(given string, into []string) ([]string, *Refusal) {
	n := len(c.steps)
	given = strings.TrimSpace(given)
	parts := into
	switch {
	case strings.Contains(given, "|"):
		parts = splitAppend(parts, given, '|')
	case strings.Contains(given, "\n"):
		parts = splitAppend(parts, strings.ReplaceAll(given, "\r", ""), '\n')
	case strings.Contains(given, ";"):
		parts = splitAppend(parts, given, ';')
	default:
		if f := strings.Fields(given); len(f) == n {
			parts = append(parts, f...)
		} else {
			parts = append(parts, given)
		}
	}
	// A mark after the last step ends it.
	if len(parts) == n+1 && strings.TrimSpace(parts[n]) == "" {
		parts = parts[:n]
	}
	if len(parts) > n {
		return nil, &Refusal{fmt.Sprintf("%d answers for a chase of %d steps", len(parts), n), "give one answer a step, separated by |"}
	}
	return parts, nil
}

func splitAppend(parts []string, s string, sep byte) []string {
	for {
		i := strings.IndexByte(s, sep)
		if i < 0 {
			return append(parts, s)
		}
		parts = append(parts, s[:i])
		s = s[i+1:]
	}
}

func joinGiven(steps []StepScore) string {
	n := 0
	for i := range steps {
		n += len(steps[i].Given) + 2
	}
	var b strings.Builder
	b.Grow(n + len("–")*len(steps))
	for i := range steps {
		if i > 0 {
			b.WriteString("; ")
		}
		if steps[i].Verdict == Blank {
			b.WriteString("–")
		}
		b.WriteString(steps[i].Given)
	}
	return b.String()
}

// explainChase says where the way parted, and names every slip once.
func (g *Grader) explainChase(s *Score, steps []StepScore, lost int, unnamed bool) {
	first := &steps[lost]
	s.Slip, s.Known, s.Step = first.Slip, first.Known, first.Step
	s.Trace = traceAt(g.q, first.Step)
	s.Says = g.chase.says(steps, lost, unnamed)
}

func (c *chase) says(steps []StepScore, lost int, unnamed bool) string {
	var b strings.Builder
	b.Grow(512)
	b.WriteString("Your way parts from the right one at “")
	b.WriteString(c.steps[lost].ask)
	b.WriteString("”: the right path has ")
	b.WriteString(steps[lost].Right)
	b.WriteString(". ")
	var told [64]bool
	for i := range steps {
		slip := steps[i].Slip
		if steps[i].Verdict != Wrong || slip == resolver.NoSlip || int(slip) >= len(told) || told[slip] {
			continue
		}
		told[slip] = true
		b.WriteString("You ")
		b.WriteString(slip.Does())
		b.WriteString(". ")
		b.WriteString(nextTime)
		b.WriteString(slip.NextTime())
		b.WriteByte(' ')
	}
	if unnamed {
		b.WriteString("The slip is not recognised at ")
		more := false
		for i := range steps {
			if steps[i].Verdict == Wrong && !steps[i].Known {
				if more {
					b.WriteString(", ")
				}
				more = true
				b.WriteString("“")
				b.WriteString(c.steps[i].ask)
				b.WriteString("”")
			}
		}
		b.WriteString(". ")
		b.WriteString(nextTime)
		b.WriteString(goThrough)
	}
	return strings.TrimSpace(b.String())
}
