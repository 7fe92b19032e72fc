package qti

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// asked is an interaction of an item with its declaration.
type asked struct {
	kind        string // name of the element
	response    string
	prompt      string
	ask         string // the paragraph of our own before a field
	cardinality string
	baseType    string
	choices     []choice
	correct     []string
	mapping     []mapped
}

type choice struct{ name, text string }

type mapped struct {
	key   string
	value float64
}

// interactions reads the interactions of an item in document order. plain gives
// the text of an element.
func interactions(root *node, plain func(*node) string) ([]asked, error) {
	declared := map[string]*node{}
	for _, d := range root.children("qti-response-declaration") {
		declared[d.get("identifier")] = d
	}
	var out []asked
	var err error
	ask := ""
	root.child("qti-item-body").walk(func(n *node) bool {
		if n.get("class") == askClass {
			ask = plain(n)
		}
		if !strings.HasPrefix(n.Name, "qti-") || !strings.HasSuffix(n.Name, "-interaction") || err != nil {
			return err == nil
		}
		x := asked{kind: n.Name, response: n.get("response-identifier"), ask: ask}
		ask = ""
		if p := n.child("qti-prompt"); p != nil {
			x.prompt = plain(p)
		}
		choiceElement := "qti-simple-choice"
		if n.Name == "qti-inline-choice-interaction" {
			choiceElement = "qti-inline-choice"
		}
		for _, c := range n.children(choiceElement) {
			x.choices = append(x.choices, choice{c.get("identifier"), plain(c)})
		}
		d, ok := declared[x.response]
		if !ok {
			err = fmt.Errorf("the response %.40q of an interaction is not declared", x.response)
			return false
		}
		delete(declared, x.response) // each may be bound once
		err = x.declare(d)
		out = append(out, x)
		return false
	})
	if err == nil && len(out) == 0 {
		err = errors.New("the item has no interaction: there is nothing to answer")
	}
	return out, err
}

func (x *asked) declare(d *node) error {
	x.cardinality, x.baseType = d.get("cardinality"), d.get("base-type")
	for _, v := range d.child("qti-correct-response").children("qti-value") {
		x.correct = append(x.correct, v.raw())
	}
	for _, e := range d.child("qti-mapping").children("qti-map-entry") {
		v, err := strconv.ParseFloat(e.get("mapped-value"), 64)
		if err != nil {
			return fmt.Errorf("the mapping of %.40q has the value %.40q, which is no number", x.response, e.get("mapped-value"))
		}
		x.mapping = append(x.mapping, mapped{e.get("map-key"), v})
	}
	return nil
}

// accept lists the typed answers that get full credit: those of the mapping
// with the greatest value, else the correct response.
func (x *asked) accept() []string {
	var out []string
	best := 0.0
	for _, m := range x.mapping {
		if m.value > best {
			best, out = m.value, nil
		}
		if m.value == best && best > 0 {
			out = append(out, m.key)
		}
	}
	for i := len(x.correct) - 1; i >= 0 && len(x.correct) == 1; i-- {
		if !slices.Contains(out, x.correct[i]) {
			out = append([]string{x.correct[i]}, out...)
		}
	}
	return out
}

func (x *asked) isRight(c choice) bool { return slices.Contains(x.correct, c.name) }

// join puts an item and its extension together. The item decides about all
// that people see and about the key.
func join(root *node, e *extension) (*banks.Question, error) {
	q := e.Question
	if !slices.Contains(banks.Forms(), q.Form) {
		return nil, fmt.Errorf("there is no response form %.40q; there are %v", q.Form, banks.Forms())
	}
	body := root.child("qti-item-body")
	if list := body.classed(orderClass); list != nil {
		for _, k := range list.Kids {
			switch {
			case k.Name == "dt":
				q.Order = append(q.Order, banks.Line{Label: k.raw()})
			case k.Name == "dd" && len(q.Order) > 0:
				q.Order[len(q.Order)-1].Value = k.raw()
			}
		}
	}
	for _, p := range body.classed(cautionClass).children("p") {
		q.Cautions = append(q.Cautions, p.raw())
	}
	parts, err := interactions(root, (*node).raw)
	if err != nil {
		return nil, err
	}
	if s := body.classed(stemClass); s != nil {
		q.Stem = s.raw()
	} else if q.Form != banks.Chase {
		q.Stem = parts[0].prompt
	}
	if q.Form == banks.Chase {
		return &q, joinSteps(&q, parts)
	}
	if len(parts) != 1 {
		return nil, fmt.Errorf("the item has %d interactions; a question of the form %s has one", len(parts), q.Form)
	}
	x := &parts[0]
	switch q.Form {
	case banks.OneOf, banks.SomeOf:
		if q.Options, err = joinOptions(q.Options, x); err != nil {
			return nil, err
		}
	case banks.Ordered:
		if q.Options, err = joinOptions(q.Options, x); err != nil {
			return nil, err
		}
		for _, c := range x.correct {
			i := slices.IndexFunc(x.choices, func(y choice) bool { return y.name == c })
			if i < 0 {
				return nil, fmt.Errorf("the right order names %.40q, which is no choice", c)
			}
			q.Key.Order = append(q.Key.Order, q.Options[i].Value)
		}
	case banks.Typed:
		q.Key.Accept = x.accept()
	case banks.Number:
		if len(x.correct) != 1 {
			return nil, errors.New("the item has no correct response")
		}
		if q.Key.Number, err = strconv.ParseFloat(strings.TrimSpace(x.correct[0]), 64); err != nil {
			return nil, fmt.Errorf("the correct response %.40q is no number", x.correct[0])
		}
	}
	return &q, nil
}

// joinOptions gives the choices of an interaction the values and slips of the
// extension's options, which stand under the letters of the choices. A choice
// that the extension does not know stands for its own identifier, without a
// slip; and no slip leads to a right one.
func joinOptions(known []banks.Option, x *asked) ([]banks.Option, error) {
	var out []banks.Option
	for _, c := range x.choices {
		o := banks.Option{Value: c.name}
		if i, ok := choiceIndex(c.name); ok && i < len(known) {
			o = known[i]
		}
		o.Text, o.Right = c.text, x.isRight(c)
		if o.Right {
			o.Slip, o.Variant = resolver.NoSlip, 0
		}
		out = append(out, o)
	}
	if len(out) == 0 {
		return nil, errors.New("the interaction has no choices")
	}
	return out, nil
}

func joinSteps(q *banks.Question, parts []asked) error {
	if len(parts) != len(q.Steps) {
		return fmt.Errorf("the item has %d interactions; the chase has %d steps", len(parts), len(q.Steps))
	}
	steps := slices.Clone(q.Steps)
	for i := range steps {
		s, x := &steps[i], &parts[i]
		if len(x.choices) == 0 {
			s.Ask, s.Accept, s.Options = x.ask, x.accept(), nil
			continue
		}
		s.Ask = x.prompt
		var err error
		if s.Options, err = joinOptions(s.Options, x); err != nil {
			return err
		}
	}
	q.Steps = steps
	return nil
}
