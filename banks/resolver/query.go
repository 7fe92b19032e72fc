package resolver

import (
	"fmt"

	"rightpage/banks/catalog"
)

// Vehicle is what is known of the vehicle or engine at hand.
type Vehicle struct {
	Chassis      string       `json:"chassis,omitempty"`
	Model        string       `json:"model,omitempty"` // model code
	Built        catalog.Date `json:"built,omitzero"`
	Serial       int64        `json:"serial,omitempty"`
	Engine       string       `json:"engine,omitempty"`       // engine number or engine code
	Transmission string       `json:"transmission,omitempty"` // number or code
}

// Reading is the state of the counters at which services are asked for.
//
// A service that has Every is due at the points First, First+Every,
// First+2·Every … of each counter that it has (First missing: Every), counted
// from new; a counter that has First but no Every has that one point. The
// service is due when a point of any counter lies after the last reading and
// not after the present one: whichever comes first governs. A counter of Last
// that is not given stands at one shortest regular interval (of the services
// that fit) before the present reading. A service with First alone is done
// once, at its single point. A counter of Now that is not given does not count.
//
// Done names services that were carried out at a reading of their own; for
// them the interval counts from that reading: due when the present reading is
// at least Every beyond it on any counter that both readings give; a once-only
// service in Done is not due again.
type Reading struct {
	Now  catalog.Counters            `json:"now"`
	Last catalog.Counters            `json:"last,omitzero"`
	Done map[string]catalog.Counters `json:"done,omitempty"`
}

// Task is the kind of lookup.
type Task uint8

// The kinds of lookup.
const (
	JobTask       Task = iota // Query.Text is a job
	ComplaintTask             // Query.Text is a complaint
	DueTask                   // Query.Due is a reading
	TroubleTask               // Query.Text is a trouble code
	SpecTask                  // Query.Text is a quantity
	CardTask                  // the vehicle alone: read the plate and find the data card
)

var taskNames = [...]string{"job", "complaint", "due", "trouble", "spec", "card"}

// String names the kind of lookup by the word of the command line.
func (t Task) String() string { return taskNames[t] }

// MarshalText writes the name.
func (t Task) MarshalText() ([]byte, error) { return []byte(t.String()), nil }

// UnmarshalText reads what MarshalText writes.
func (t *Task) UnmarshalText(b []byte) error {
	for i, n := range taskNames {
		if n == string(b) {
			*t = Task(i)
			return nil
		}
	}
	return fmt.Errorf("there is no kind of lookup %q; there are %v", b, taskNames)
}

// Outcome is the result of a test step.
type Outcome uint8

// The results of a test step.
const (
	NotRun Outcome = iota
	Passed
	Failed
)

var outcomeNames = [...]string{"", "passed", "failed"}

// MarshalText writes passed, failed or nothing.
func (o Outcome) MarshalText() ([]byte, error) { return []byte(outcomeNames[o]), nil }

// UnmarshalText reads what MarshalText writes.
func (o *Outcome) UnmarshalText(b []byte) error {
	for i, n := range outcomeNames {
		if n == string(b) {
			*o = Outcome(i)
			return nil
		}
	}
	return fmt.Errorf("the outcome of a test step is passed or failed, not %q", b)
}

// StepAt is a place in a chapter of tests.
type StepAt struct {
	Chapter string `json:"chapter"`
	Step    string `json:"step"`
}

// Query is one lookup.
type Query struct {
	Vehicle   Vehicle  `json:"vehicle"`
	Task      Task     `json:"task"`
	Text      string   `json:"text,omitempty"`
	System    string   `json:"system,omitempty"` // with TroubleTask
	Due       Reading  `json:"due,omitzero"`
	Duty      string   `json:"duty,omitempty"`
	Ambient   *float64 `json:"ambient,omitempty"` // °C, with SpecTask
	Condition string   `json:"condition,omitempty"`
	At        StepAt   `json:"at,omitzero"` // with ComplaintTask: the step just done; Chapter "" is the guide's
	Outcome   Outcome  `json:"outcome,omitempty"`
	Side      string   `json:"side,omitempty"` // left, right
}
