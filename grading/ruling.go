package grading

import (
	"fmt"
	"slices"
	"strings"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// Ruling is how a dispute over a question was decided.
type Ruling struct {
	Question string `json:"question"` // ID
	// Key is the right answer, in the form in which [Grade] reads answers: the
	// letter of an option, letters, a typed answer, a number with its unit, the
	// steps of a chase separated by | (an empty step stays as it is). It is not
	// used where the question is void.
	Key string `json:"key,omitempty"`
	// Tolerance of a number, in the unit of the key; 0 leaves it as it is.
	Tolerance float64 `json:"tolerance,omitempty"`
	// Also: the old key stays right beside the new one.
	Also bool `json:"also,omitempty"`
	// Void: the question has no right answer that could be given.
	Void bool   `json:"void,omitempty"`
	Why  string `json:"why"` // what was decided, in words for those whose score changes
	By   string `json:"by,omitempty"`
}

// Rulings decides by disputes. A ruling that cannot be carried out leaves the
// question to a person, with the reason.
func Rulings(list ...Ruling) Change {
	return func(q *banks.Question) QuestionChange {
		c := QuestionChange{Question: q.ID, Kind: q.Kind, Outcome: Unchanged, OldKey: q.KeyText()}
		i := slices.IndexFunc(list, func(r Ruling) bool { return r.Question == q.ID })
		if i < 0 {
			return c
		}
		r := list[i]
		c.Why = r.Why
		if r.By != "" {
			c.Why += " (decided by " + r.By + ")"
		}
		if r.Void {
			c.Outcome = Void
			return c
		}
		n := clone(q)
		if err := rule(n, r); err != nil {
			c.Outcome, c.Why = NeedsPerson, fmt.Sprintf("the ruling %q cannot be carried out: %v", r.Key, err)
			return c
		}
		if _, err := banks.Encode(n); err != nil {
			c.Outcome, c.Why = NeedsPerson, err.Error()
			return c
		}
		if n.ID == q.ID {
			return c // the key is what it was
		}
		c.Outcome, c.New, c.NewKey = KeyChanged, n, n.KeyText()
		return c
	}
}

// rule gives a question the key of a ruling.
func rule(q *banks.Question, r Ruling) error {
	if strings.TrimSpace(r.Key) == "" {
		return fmt.Errorf("it names no key")
	}
	switch q.Form {
	case banks.OneOf, banks.SomeOf:
		set, err := ruledOptions(q.Options, r.Key, q.Form == banks.OneOf)
		if err != nil {
			return err
		}
		markRight(q.Options, set, r.Also && q.Form == banks.OneOf)
		if q.Form == banks.SomeOf {
			if r.Also {
				return fmt.Errorf("two different sets cannot both be right; decide for one")
			}
			dropSlipped(&q.Slipped, rightSet(q.Options))
		}
	case banks.Typed:
		ruledAccept(&q.Key.Accept, &q.Slipped, r.Key, r.Also)
	case banks.Number:
		if r.Also {
			return fmt.Errorf("a number has one key; decide for one, with a tolerance if need be")
		}
		v, refusal := readQuantity(r.Key)
		switch {
		case refusal != nil:
			return refusal
		case v.shape != single || v.low.n > 1:
			return fmt.Errorf("it is no single number that can be read in one way")
		case v.unitless && q.Key.Unit != "":
			return fmt.Errorf("it has no unit")
		}
		q.Key.Number, q.Key.Unit = v.low.value(), v.unit
		if r.Tolerance > 0 {
			q.Key.Tolerance = r.Tolerance
		}
	case banks.Ordered:
		if r.Also {
			return fmt.Errorf("an order has one key; decide for one")
		}
		c := newChoices(q.Options)
		marks, _, twice, refusal := c.read(r.Key, nil)
		switch {
		case refusal != nil:
			return refusal
		case twice >= 0 || len(marks) != len(q.Options):
			return fmt.Errorf("it does not name every letter once")
		}
		q.Key.Order = nil
		for _, m := range marks {
			q.Key.Order = append(q.Key.Order, q.Options[m].Value)
		}
	case banks.Chase:
		return ruleChase(q, r)
	default:
		return fmt.Errorf("the form %s is not known", q.Form)
	}
	return nil
}

func ruleChase(q *banks.Question, r Ruling) error {
	parts, refusal := newChase(q).split(r.Key, nil)
	if refusal != nil {
		return refusal
	}
	for i, p := range parts {
		if p = strings.TrimSpace(p); p == "" {
			continue
		}
		st := &q.Steps[i]
		if len(st.Options) == 0 {
			ruledAccept(&st.Accept, &st.Slipped, p, r.Also)
			continue
		}
		set, err := ruledOptions(st.Options, p, true)
		if err != nil {
			return fmt.Errorf("step “%s”: %w", st.Ask, err)
		}
		markRight(st.Options, set, r.Also)
		st.Carried = slices.DeleteFunc(st.Carried, func(c banks.Slipped) bool {
			return slices.ContainsFunc(st.Options, func(o banks.Option) bool { return o.Right && o.Value == c.Value })
		})
	}
	return nil
}

func ruledOptions(options []banks.Option, key string, one bool) (optionSet, error) {
	c := newChoices(options)
	_, set, _, refusal := c.read(key, nil)
	if refusal != nil {
		return 0, refusal
	}
	if one && set.len() != 1 {
		return 0, fmt.Errorf("it names more than one option; rule for one, or accept another beside it")
	}
	return set, nil
}

// markRight marks the options of a set as right, beside those that are or in
// their place.
func markRight(options []banks.Option, set optionSet, also bool) {
	for i := range options {
		o := &options[i]
		switch {
		case set.has(i):
			o.Right, o.Slip, o.Variant = true, resolver.NoSlip, 0
		case !also:
			o.Right = false
		}
	}
}

func rightSet(options []banks.Option) string {
	var values []string
	for _, o := range options {
		if o.Right {
			values = append(values, o.Value)
		}
	}
	return banks.OptionSet(values)
}

func dropSlipped(list *[]banks.Slipped, value string) {
	*list = slices.DeleteFunc(*list, func(s banks.Slipped) bool { return s.Value == value })
}

// ruledAccept sets what a typed answer must be. What is right now is no wrong
// answer any more.
func ruledAccept(accept *[]string, slipped *[]banks.Slipped, key string, also bool) {
	if also {
		*accept = append(*accept, key)
	} else {
		*accept = []string{key}
	}
	*slipped = slices.DeleteFunc(*slipped, func(s banks.Slipped) bool {
		return Normalise(s.Value, Code) == Normalise(key, Code)
	})
}
