package technician

import (
	"slices"
	"time"

	"rightpage/banks"
	"rightpage/banks/resolver"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/marking"
)

// Outcome is a question that was answered, with as much of what came of it as
// may be shown: the part "outcome" of the templates.
type Outcome struct {
	Ask   marking.Ask
	Given []Said
	Spent time.Duration

	Shown     quiz.Shown
	Kept      bool // the question is in a quiz that the person has still to do
	Withdrawn bool
	Verdict   grading.Verdict
	Points    float64
	Slip      resolver.Slip // NoSlip: none, or not recognised
	Steps     []OutcomeStep
	Right     string
	Trace     []TraceMark

	Dispute    *quiz.Dispute
	MayDispute bool
	Path       string // to dispute it
}

// OutcomeStep is a step of a chase.
type OutcomeStep struct {
	Ask, Given string
	Verdict    grading.Verdict
	Right      string // if it may be shown
}

// TraceMark is a step of the way to the key.
type TraceMark struct {
	banks.TraceLine
	Lost bool // here the answer left the way
}

// Missed tells whether the answer was not entirely right.
func (o Outcome) Missed() bool {
	return o.Shown.Answers && !o.Withdrawn && o.Verdict != grading.Right && o.Verdict != marking.Unread
}

// Recognised tells whether the slip is known.
func (o Outcome) Recognised() bool { return o.Slip != resolver.NoSlip }

// At is the step of the lookup at which the answer left the way.
func (o Outcome) At() resolver.Step {
	for _, t := range o.Trace {
		if t.Lost {
			return t.Step
		}
	}
	return o.Slip.Step()
}

// HasStep tells whether it is known at which step the answer left the way.
func (o Outcome) HasStep() bool {
	return o.Recognised() || slices.ContainsFunc(o.Trace, func(t TraceMark) bool { return t.Lost })
}

// trace marks in the trace of a question where an answer left the way: at the
// step, or the first after it that the trace has, or the last.
func trace(lines []banks.TraceLine, missed bool, step resolver.Step) []TraceMark {
	list := make([]TraceMark, len(lines))
	at := len(lines) - 1
	for i, l := range lines {
		list[i].TraceLine = l
		if l.Step >= step && i < at {
			at = i
		}
	}
	if missed && at >= 0 {
		list[at].Lost = true
	}
	return list
}

// outcomeOf gives the outcome of a practice question, all of which may be shown
// once it is answered.
func outcomeOf(q *banks.Question, s grading.Score, given string, spent time.Duration) Outcome {
	o := Outcome{Ask: marking.AskOf(q, 1), Spent: spent, Shown: quiz.Shown{Score: true, Answers: true, Key: true, Trace: true},
		Verdict: s.Verdict, Points: s.Points, Slip: s.Slip, Right: q.KeyText()}
	if given != "" {
		o.Given = []Said{{"", given}}
	}
	for i, st := range s.Steps {
		x := OutcomeStep{Given: st.Given, Verdict: st.Verdict, Right: st.Right}
		if i < len(o.Ask.Steps) {
			x.Ask = o.Ask.Steps[i].Ask
		}
		o.Steps = append(o.Steps, x)
	}
	if len(s.Steps) == 0 { // left blank as a whole
		for i := range q.Steps {
			o.Steps = append(o.Steps, OutcomeStep{Ask: q.Steps[i].Ask, Verdict: grading.Blank, Right: q.Steps[i].KeyText()})
		}
	}
	o.Trace = trace(q.Trace, o.Missed() && s.Verdict != grading.Blank, s.Step)
	return o
}

// outcomeIn gives the outcome of a question of an attempt.
func outcomeIn(r marking.ReviewRow, v marking.Review) Outcome {
	o := Outcome{Ask: r.Ask, Given: said(r.Ask, r.Given), Spent: r.Spent, Shown: v.Shown, Withdrawn: r.Withdrawn, Verdict: r.Verdict, Points: r.Points,
		Slip: r.Slip, Right: r.Right, Dispute: r.Dispute, MayDispute: v.Attempt.State == quiz.Graded && r.Dispute == nil}
	for i, st := range r.Steps {
		x := OutcomeStep{Given: st.Given, Verdict: st.Verdict, Right: st.Right}
		if i < len(r.Ask.Steps) {
			x.Ask = r.Ask.Steps[i].Ask
		}
		o.Steps = append(o.Steps, x)
	}
	o.Trace = trace(r.Trace, o.Missed() && r.Verdict != grading.Blank, r.Step)
	if r.Kept {
		o.Shown, o.Kept = quiz.Shown{}, true
		if o.Dispute != nil { // what was decided can name the key
			d := *o.Dispute
			d.Verdict, o.Dispute = "", &d
		}
	}
	return o
}
