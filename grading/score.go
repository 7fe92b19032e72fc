package grading

import (
	"rightpage/banks"
	"rightpage/banks/resolver"
)

// Rules are what may be declared about scoring.
type Rules struct {
	AllOrNothing bool // no partial credit
}

// Verdict is how an answer was judged.
type Verdict string

// The verdicts.
const (
	Right   Verdict = "right"
	Partly  Verdict = "partly"  // some credit
	Carried Verdict = "carried" // a step: right on what was in hand after an earlier slip
	Wrong   Verdict = "wrong"
	Blank   Verdict = "blank"
)

// Score is the result of one answer to one question.
type Score struct {
	Question string          `json:"question"`
	Kind     string          `json:"kind"`
	Skill    string          `json:"skill"`
	Given    string          `json:"given"` // the answer as it was understood
	Right    string          `json:"right"` // the key
	Verdict  Verdict         `json:"verdict"`
	Points   float64         `json:"points"`          // 0 to 1
	Slip     resolver.Slip   `json:"slip,omitempty"`  // of a wrong answer; NoSlip: see Known
	Known    bool            `json:"recognised"`      // the wrong answer is one that a slip leads to
	Step     resolver.Step   `json:"step"`            // of a wrong answer: where the slip is made; not recognised: what was asked for
	Trace    banks.TraceLine `json:"trace,omitzero"`  // of a wrong answer: the line of the trace at which it left the right path
	Says     string          `json:"says,omitempty"`  // what went wrong, and one sentence on what to do next time
	Steps    []StepScore     `json:"steps,omitempty"` // of a chase
}

// StepScore is the result of one step of a chase.
type StepScore struct {
	Step    resolver.Step `json:"step"`
	Given   string        `json:"given"`
	Right   string        `json:"right"`
	Verdict Verdict       `json:"verdict"`
	Points  float64       `json:"points"`
	Slip    resolver.Slip `json:"slip,omitempty"`
	Known   bool          `json:"recognised"`
}

// Refusal is an answer that cannot be scored as it stands: it must be looked at
// by a person.
type Refusal struct {
	Reason string // what is wrong with it
	Mend   string // what to do
}

func (r *Refusal) Error() string { return r.Reason + "; " + r.Mend }
