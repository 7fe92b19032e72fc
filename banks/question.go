package banks

import (
	"rightpage/banks/resolver"
)

// Form is how a question is answered.
type Form string

// The response forms.
const (
	OneOf   Form = "one"    // one option
	SomeOf  Form = "some"   // every option that is right, and no other
	Typed   Form = "typed"  // a code or a place, typed
	Number  Form = "number" // a number with its unit
	Ordered Form = "order"  // the options in their right order
	Chase   Form = "chase"  // a whole lookup, each step answered and scored
)

// Forms lists the response forms in a fixed order.
func Forms() []Form { return []Form{OneOf, SomeOf, Typed, Number, Ordered, Chase} }

// Line is a line of the repair order or of the plate that a question shows.
type Line struct {
	Label string `json:"label"`
	Value string `json:"value"`
}

// Option is something to choose. Value identifies what it stands for; Text is
// what people read.
type Option struct {
	Text    string        `json:"text"`
	Value   string        `json:"value"`
	Right   bool          `json:"right,omitempty"`
	Slip    resolver.Slip `json:"slip,omitempty"` // the slip that leads here; NoSlip for a right option
	Variant int           `json:"variant,omitempty"`
}

// Slipped is a wrong answer that a slip leads to, where it is no single option:
// a typed answer, a number, or for SomeOf the values of the options that are
// marked, sorted and joined by semicolons.
type Slipped struct {
	Value   string        `json:"value"`
	Slip    resolver.Slip `json:"slip"`
	Variant int           `json:"variant,omitempty"`
}

// Key is the right answer. Which fields count depends on the form: for options
// the Right marks of the options (for Ordered, the options stand in Key.Order).
type Key struct {
	Accept    []string `json:"accept,omitempty"`    // Typed: the first is the one to show
	Number    float64  `json:"number,omitempty"`    // Number: value in Unit
	Unit      string   `json:"unit,omitempty"`      // UCUM-like symbol
	Tolerance float64  `json:"tolerance,omitempty"` // in Unit, inclusive
	Order     []string `json:"order,omitempty"`     // Ordered: option values in the right order
	// Charset says what a typed answer is made of, which decides what looks
	// alike and may be taken for it: digits, vin (no I, O, Q), code, or text.
	Charset string `json:"charset,omitempty"`
}

// ChaseStep is one step of a chase: a small question of its own.
type ChaseStep struct {
	Step    resolver.Step `json:"step"`
	Ask     string        `json:"ask"`
	Options []Option      `json:"options,omitempty"` // empty: typed
	Accept  []string      `json:"accept,omitempty"`
	Slipped []Slipped     `json:"slipped,omitempty"` // typed: wrong answers with a known slip
	// Carried gives what every slip leads to at this step: the answer that is
	// right on what a technician has in hand who made the slip before.
	Carried []Slipped `json:"carried,omitempty"`
}

// TraceLine is one step of the short trace that goes with a question.
type TraceLine struct {
	Step   resolver.Step `json:"step"`
	Result string        `json:"result"`
}

// About says what a question is about, for blueprints and coverage.
type About struct {
	Group       string   `json:"group,omitempty"`
	Within      []string `json:"within,omitempty"` // the groups above Group, nearest first
	Model       string   `json:"model,omitempty"`  // code of the model, or of the primary unit
	Publication string   `json:"publication,omitempty"`
	Record      string   `json:"record,omitempty"` // table:key of the record asked about
}

// Question is one exercise with its key. It is complete in itself: it can be
// asked, graded and explained without the catalog; Query is what to ask the
// resolver to compute the key again.
type Question struct {
	ID       string         `json:"id"` // hash of everything below
	Catalog  string         `json:"catalog"`
	Revision string         `json:"revision"`
	Kind     string         `json:"kind"`
	Skill    string         `json:"skill"`
	Form     Form           `json:"form"`
	Features []string       `json:"features,omitempty"` // rules that it exercises, sorted
	Logit    float64        `json:"logit"`              // difficulty predicted from the features
	Boundary bool           `json:"boundary,omitempty"` // at the first or last month or serial of a limit
	About    About          `json:"about"`
	Order    []Line         `json:"order,omitempty"`
	Stem     string         `json:"stem"`
	Options  []Option       `json:"options,omitempty"`
	Key      Key            `json:"key,omitzero"`
	Slipped  []Slipped      `json:"slipped,omitempty"`
	Steps    []ChaseStep    `json:"steps,omitempty"`
	Trace    []TraceLine    `json:"trace"`
	Hazards  []string       `json:"hazards,omitempty"`
	Cautions []string       `json:"cautions,omitempty"`
	Query    resolver.Query `json:"query"`
	Made     Made           `json:"made"`
}

// Made says how a question was made, so that it can be made again.
type Made struct {
	Site    Site   `json:"site"`
	Seed    uint64 `json:"seed"`
	Options int    `json:"options"`
}

// KeyText is the right answer as people read it.
func (q *Question) KeyText() string {
	switch q.Form {
	case Typed:
		if len(q.Key.Accept) > 0 {
			return q.Key.Accept[0]
		}
	case Number:
		return formatNumber(q.Key.Number) + " " + q.Key.Unit
	case Ordered:
		return joinTexts(q.Key.Order, func(v string) string { return q.optionText(v) }, ", then ")
	case Chase:
		return joinTexts(q.Steps, func(s ChaseStep) string { return s.KeyText() }, "; ")
	}
	var right []string
	for _, o := range q.Options {
		if o.Right {
			right = append(right, o.Text)
		}
	}
	return joinTexts(right, func(s string) string { return s }, ", ")
}

// KeyText is the right answer to a step as people read it.
func (s *ChaseStep) KeyText() string {
	for _, o := range s.Options {
		if o.Right {
			return o.Text
		}
	}
	if len(s.Accept) > 0 {
		return s.Accept[0]
	}
	return ""
}

func (q *Question) optionText(value string) string {
	for _, o := range q.Options {
		if o.Value == value {
			return o.Text
		}
	}
	return value
}

// Letter is the letter under which the option of index i is printed.
func Letter(i int) string { return string(rune('A' + i)) }
