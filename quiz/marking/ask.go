package marking

import "rightpage/banks"

// Ask is a question as it may be shown to somebody who is to answer it: it has
// no key, no slips and no trace.
type Ask struct {
	ID       string       `json:"id"`
	Number   int          `json:"number"` // from 1
	Kind     string       `json:"kind"`
	Skill    string       `json:"skill"`
	Form     banks.Form   `json:"form"`
	Order    []banks.Line `json:"order,omitempty"` // lines of the repair order or plate
	Stem     string       `json:"stem"`
	Options  []string     `json:"options,omitempty"` // in their order; the letter of an option is banks.Letter of its index
	Steps    []AskStep    `json:"steps,omitempty"`   // of a chase
	Hazards  []string     `json:"hazards,omitempty"`
	Cautions []string     `json:"cautions,omitempty"`
}

// AskStep is a step of a chase as it may be shown.
type AskStep struct {
	Ask     string   `json:"ask"`
	Options []string `json:"options,omitempty"` // none: typed
}

// Ask gives question n of a variant, both counted from 0, without its key;
// false if there is none.
func (f *Form) Ask(variant, n int) (Ask, bool) {
	q := f.Question(variant, n)
	if q == nil {
		return Ask{}, false
	}
	return AskOf(q, n+1), true
}

// AskOf takes from a question what may be shown to somebody who is to answer
// it. Copied field by field: what a question may hold one day is not shown
// unless it is added here.
func AskOf(q *banks.Question, number int) Ask {
	a := Ask{ID: q.ID, Number: number, Kind: q.Kind, Skill: q.Skill, Form: q.Form, Order: q.Order, Stem: q.Stem, Options: texts(q.Options),
		Hazards: q.Hazards, Cautions: q.Cautions}
	for _, s := range q.Steps {
		a.Steps = append(a.Steps, AskStep{Ask: s.Ask, Options: texts(s.Options)})
	}
	return a
}

func texts(options []banks.Option) []string {
	var out []string
	for _, o := range options {
		out = append(out, o.Text)
	}
	return out
}
