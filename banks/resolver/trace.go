package resolver

import "fmt"

// Verdict says what became of a record that was considered.
type Verdict uint8

// The verdicts.
const (
	RuledOut Verdict = iota
	Possible         // fits only a part of what the vehicle may be
	Chosen
)

// String names the verdict.
func (v Verdict) String() string { return [...]string{"ruled out", "possible", "chosen"}[v] }

// MarshalText writes the name.
func (v Verdict) MarshalText() ([]byte, error) { return []byte(v.String()), nil }

// Considered is a record that was looked at in a step.
type Considered struct {
	Record  string  `json:"record"` // table:key
	Label   string  `json:"label,omitempty"`
	Verdict Verdict `json:"verdict"`
	Why     string  `json:"why"`
}

// TraceStep is one step of a lookup: the rule, what went in, what was
// considered and what came out.
type TraceStep struct {
	Step       Step         `json:"step"`
	Branch     string       `json:"branch,omitempty"` // where the vehicle or the component is not settled
	Rule       string       `json:"rule"`
	Input      string       `json:"input"`
	Considered []Considered `json:"considered,omitempty"`
	Result     string       `json:"result"`
}

// Trace is how an answer was reached.
type Trace []TraceStep

// tracer collects a trace. A nil tracer collects nothing; callers test for nil
// before they build what they would hand over, so that a lookup without trace
// does not pay for one.
type tracer struct {
	steps  []*TraceStep
	branch string
}

func (t *tracer) step(s Step, rule, input string) *TraceStep {
	st := &TraceStep{Step: s, Branch: t.branch, Rule: rule, Input: input}
	t.steps = append(t.steps, st)
	return st
}

func (t *tracer) trace() Trace {
	out := make(Trace, len(t.steps))
	for i, s := range t.steps {
		out[i] = *s
	}
	return out
}

func (s *TraceStep) consider(record, label string, v Verdict, format string, args ...any) {
	s.Considered = append(s.Considered, Considered{record, label, v, fmt.Sprintf(format, args...)})
}
