package banks

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// maxOptions is how many options a question can have: they are printed under
// the letters A to Z.
const maxOptions = 26

// Check tells whether the question can be asked and graded: that its form is
// known, that it has what the form needs, and that its key is among it. It does
// not ask whether the key is right; for that the catalog is needed.
func (q *Question) Check() error {
	if q.Stem == "" && q.Form != Chase {
		return errors.New("the question has no stem")
	}
	if len(q.Options) > maxOptions {
		return fmt.Errorf("the question has %d options; the letters end at %d", len(q.Options), maxOptions)
	}
	switch q.Form {
	case OneOf:
		return checkOptions(q.Options, 1)
	case SomeOf:
		return checkOptions(q.Options, len(q.Options))
	case Typed:
		return checkAccept(q.Key.Accept)
	case Number:
		if !(q.Key.Tolerance >= 0) || math.IsInf(q.Key.Number, 0) || math.IsNaN(q.Key.Number) {
			return fmt.Errorf("the key %v ± %v is no number with a tolerance", q.Key.Number, q.Key.Tolerance)
		}
		return nil
	case Ordered:
		return q.checkOrder()
	case Chase:
		if len(q.Steps) == 0 {
			return errors.New("the chase has no steps")
		}
		for i := range q.Steps {
			if err := q.Steps[i].check(); err != nil {
				return fmt.Errorf("step %d: %w", i+1, err)
			}
		}
		return nil
	}
	return fmt.Errorf("there is no response form %q; there are %v", q.Form, Forms())
}

func (s *ChaseStep) check() error {
	if len(s.Options) > maxOptions {
		return fmt.Errorf("it has %d options; the letters end at %d", len(s.Options), maxOptions)
	}
	if len(s.Options) > 0 {
		return checkOptions(s.Options, 1)
	}
	return checkAccept(s.Accept)
}

// checkOptions wants different options of which one to most are right, and at
// least one is not.
func checkOptions(options []Option, most int) error {
	right := 0
	for i, o := range options {
		if strings.TrimSpace(o.Text) == "" {
			return fmt.Errorf("option %s has no text", Letter(i))
		}
		if o.Right {
			right++
		}
		for j := range i {
			if options[j].Value == o.Value {
				return fmt.Errorf("options %s and %s stand for the same", Letter(j), Letter(i))
			}
		}
	}
	if right == 0 || right > most {
		return fmt.Errorf("%d of %d options are right", right, len(options))
	}
	return nil
}

func checkAccept(accept []string) error {
	if len(accept) == 0 || strings.TrimSpace(accept[0]) == "" {
		return errors.New("the key is empty")
	}
	return nil
}

func (q *Question) checkOrder() error {
	if len(q.Options) < 2 || len(q.Key.Order) != len(q.Options) {
		return fmt.Errorf("%d options are put into an order of %d", len(q.Options), len(q.Key.Order))
	}
	var values []string
	for i, o := range q.Options {
		if strings.TrimSpace(o.Text) == "" {
			return fmt.Errorf("option %s has no text", Letter(i))
		}
		values = append(values, o.Value)
	}
	order := slices.Clone(q.Key.Order)
	slices.Sort(values)
	slices.Sort(order)
	if !slices.Equal(values, order) || len(slices.Compact(values)) != len(order) {
		return errors.New("the right order does not hold each option once")
	}
	return nil
}
