package grading

import (
	"rightpage/banks"
	"rightpage/banks/resolver"
)

// recognise notes the slip of a wrong answer, the line of the trace at which
// the answer left the right path, and what to do next time.
func recognise(q *banks.Question, s *Score, slip resolver.Slip) {
	s.Slip, s.Known, s.Step = slip, true, slip.Step()
	s.Trace = traceAt(q, slip.Step())
	s.Says = "You " + slip.Does() + ". " + leadsTo(s.Trace) + nextTime + slip.NextTime()
}

// unrecognised says of a wrong answer that no slip is known that leads to it.
func unrecognised(q *banks.Question, s *Score) {
	s.Slip, s.Known = resolver.NoSlip, false
	s.Step = askedStep(q)
	s.Trace = traceAt(q, s.Step)
	s.Says = notRecognised + leadsTo(s.Trace) + nextTime + goThrough
}

// slipSays names a slip, or says that it is not recognised, where the answer
// itself says what is right.
func slipSays(slip resolver.Slip) string {
	if slip == resolver.NoSlip {
		return notRecognised + nextTime + goThrough
	}
	return "You " + slip.Does() + ". " + nextTime + slip.NextTime()
}

const (
	notRecognised = "The slip is not recognised. "
	goThrough     = "Go through the trace and find the step at which your way parts from it."
)

func leadsTo(t banks.TraceLine) string {
	if t.Result == "" {
		return ""
	}
	return "At the step “" + t.Step.String() + "” the way leads to: " + t.Result + ". "
}

// traceAt is the line of the trace at which a slip made at a step shows: that
// of the step, or the first one after it, or the last.
func traceAt(q *banks.Question, step resolver.Step) banks.TraceLine {
	for _, t := range q.Trace {
		if t.Step >= step {
			return t
		}
	}
	if n := len(q.Trace); n > 0 {
		return q.Trace[n-1]
	}
	return banks.TraceLine{}
}

// askedStep is the step that a question asks for: the one whose result is the
// key, or ends it; failing that the last of the trace that finds something.
func askedStep(q *banks.Question) resolver.Step {
	key := q.KeyText()
	for _, fits := range [...]func(t banks.TraceLine) bool{
		func(t banks.TraceLine) bool { return t.Result == key },
		func(t banks.TraceLine) bool {
			return t.Result != "" && len(key) > len(t.Result) && key[len(key)-len(t.Result):] == t.Result
		},
		func(t banks.TraceLine) bool { return t.Step != resolver.AmendStep || t.Result != "none" },
		func(banks.TraceLine) bool { return true },
	} {
		for i := len(q.Trace) - 1; i >= 0; i-- {
			if fits(q.Trace[i]) {
				return q.Trace[i].Step
			}
		}
	}
	return resolver.ClassifyStep
}
