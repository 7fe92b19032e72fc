package grading

import (
	"strconv"
	"strings"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// KeyAnswer writes the right answer to a question in the form that [Grade]
// reads.
func KeyAnswer(q *banks.Question) string {
	switch q.Form {
	case banks.Typed:
		if len(q.Key.Accept) > 0 {
			return q.Key.Accept[0]
		}
	case banks.Number:
		return strconv.FormatFloat(q.Key.Number, 'f', -1, 64) + " " + q.Key.Unit
	case banks.Ordered:
		return lettersOf(q.Options, func(o banks.Option, want string) bool { return o.Value == want }, q.Key.Order...)
	case banks.Chase:
		steps := make([]string, len(q.Steps))
		for i := range q.Steps {
			steps[i] = StepAnswer(&q.Steps[i])
		}
		return strings.Join(steps, " | ")
	}
	if q.Form == banks.OneOf {
		return firstRight(q.Options)
	}
	return lettersOf(q.Options, func(o banks.Option, _ string) bool { return o.Right }, "")
}

// firstRight is the letter of a right option: a ruling can have let more than
// one be right.
func firstRight(options []banks.Option) string {
	for i, o := range options {
		if o.Right {
			return banks.Letter(i)
		}
	}
	return ""
}

// StepAnswer writes the right answer to a step of a chase.
func StepAnswer(s *banks.ChaseStep) string {
	if len(s.Options) == 0 {
		return s.KeyText()
	}
	return firstRight(s.Options)
}

// SlipAnswers lists wrong answers to a question in the form that [Grade]
// reads, each with the slip that leads to it. A chase has none: its slips are
// made step by step.
func SlipAnswers(q *banks.Question) map[string]resolver.Slip {
	out := map[string]resolver.Slip{}
	switch q.Form {
	case banks.OneOf:
		for i, o := range q.Options {
			if !o.Right {
				out[banks.Letter(i)] = o.Slip
			}
		}
	case banks.SomeOf:
		for _, s := range q.Slipped {
			out[lettersOf(q.Options, func(o banks.Option, want string) bool { return o.Value == want }, strings.Split(s.Value, ";")...)] = s.Slip
		}
	case banks.Typed, banks.Number:
		for _, s := range q.Slipped {
			out[s.Value] = s.Slip
		}
	}
	return out
}

func lettersOf(options []banks.Option, is func(o banks.Option, want string) bool, wants ...string) string {
	var b strings.Builder
	for _, want := range wants {
		for i, o := range options {
			if is(o, want) {
				b.WriteString(banks.Letter(i))
			}
		}
	}
	return b.String()
}
