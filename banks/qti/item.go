package qti

import (
	"fmt"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// item writes a question as an assessment item.
func item(q *banks.Question) (*node, error) {
	if err := q.Check(); err != nil {
		return nil, err
	}
	w := &itemWriter{q: q}
	parts := w.parts()
	root := el("qti-assessment-item", at(
		"xmlns", itemSpace, "xmlns:xsi", instanceSpace, "xsi:schemaLocation", itemSpace+" "+itemSchema,
		"identifier", "Q-"+q.ID, "title", q.Kind, "time-dependent", "false", "tool-name", "rightpage", "tool-version", "1",
	))
	for i := range parts {
		root.add(parts[i].declaration)
	}
	root.add(outcome(scoreOutcome, "float", "0"), outcome(maxScoreOutcome, "float", "1"))
	for i := range parts {
		root.add(el("qti-outcome-declaration", at("identifier", numbered(feedbackOutcome, i, len(parts)), "cardinality", "single", "base-type", "identifier")))
		if len(parts) > 1 {
			root.add(outcome(numbered(scoreOutcome, i, len(parts)), "float", "0"))
		}
	}
	root.add(el("qti-outcome-declaration", at("identifier", solutionOutcome, "cardinality", "single", "base-type", "identifier")))
	root.add(w.body(parts), w.processing(parts))
	for i := range parts {
		for _, s := range parts[i].slips {
			root.add(feedback(numbered(feedbackOutcome, i, len(parts)), slipName(s), el("p", nil, text("You "+s.Does()+". Next time: "+s.NextTime()))))
		}
	}
	list := el("ol", nil)
	for _, t := range q.Trace {
		list.add(el("li", nil, text(t.Step.String()+": "+t.Result)))
	}
	shown := []*node{el("p", nil, text("Right: "+q.KeyText()))}
	if len(list.Kids) > 0 {
		shown = append(shown, list)
	}
	root.add(feedback(solutionOutcome, solutionShown, shown...))
	return root, nil
}

func outcome(name, baseType, value string) *node {
	return el("qti-outcome-declaration", at("identifier", name, "cardinality", "single", "base-type", baseType),
		el("qti-default-value", nil, el("qti-value", nil, text(value))))
}

func feedback(outcome, name string, kids ...*node) *node {
	return el("qti-modal-feedback", at("outcome-identifier", outcome, "identifier", name, "show-hide", "show"), el("qti-content-body", nil, kids...))
}

// part is one interaction with what belongs to it.
type part struct {
	declaration *node
	shown       []*node // in the body
	score       *node   // an expression that is true where the answer is right; nil: the mapping scores
	wrong       []lead  // answers that a slip leads to
	slips       []resolver.Slip
}

// lead is an expression that is true for an answer, and the slip that leads to
// it.
type lead struct {
	when *node
	slip resolver.Slip
}

type itemWriter struct{ q *banks.Question }

func (w *itemWriter) parts() []part {
	q := w.q
	switch q.Form {
	case banks.OneOf:
		return []part{choices("RESPONSE", q.Stem, q.Options, 1)}
	case banks.SomeOf:
		return []part{w.someOf()}
	case banks.Ordered:
		return []part{w.ordered()}
	case banks.Typed:
		return []part{typed("RESPONSE", "", q.Key.Accept, q.Slipped)}
	case banks.Number:
		return []part{w.number()}
	}
	out := make([]part, len(q.Steps))
	for i := range q.Steps {
		s := &q.Steps[i]
		name := numbered("RESPONSE", i, len(q.Steps))
		if len(s.Options) > 0 {
			out[i] = choices(name, s.Ask, s.Options, 1)
		} else {
			out[i] = typed(name, s.Ask, s.Accept, s.Slipped)
		}
	}
	return out
}

func (p *part) leads(when *node, slip resolver.Slip) {
	if slip == resolver.NoSlip {
		return
	}
	p.wrong = append(p.wrong, lead{when, slip})
	for _, s := range p.slips {
		if s == slip {
			return
		}
	}
	p.slips = append(p.slips, slip)
}

func variable(name string) *node { return el("qti-variable", at("identifier", name)) }
func correct(name string) *node  { return el("qti-correct", at("identifier", name)) }
func base(kind, value string) *node {
	return el("qti-base-value", at("base-type", kind), text(value))
}
func matches(name, kind, value string) *node {
	return el("qti-match", nil, variable(name), base(kind, value))
}
func matchesText(name, value string) *node {
	return el("qti-string-match", at("case-sensitive", "false"), variable(name), base("string", value))
}

func choiceList(options []banks.Option, prompt string) []*node {
	var kids []*node
	if prompt != "" {
		kids = append(kids, el("qti-prompt", nil, text(prompt)))
	}
	for i, o := range options {
		kids = append(kids, el("qti-simple-choice", at("identifier", choiceName(i)), text(o.Text)))
	}
	return kids
}

func values(names []string) *node {
	n := el("qti-correct-response", nil)
	for _, v := range names {
		n.add(el("qti-value", nil, text(v)))
	}
	return n
}

// choices is an interaction with one option to choose.
func choices(name, prompt string, options []banks.Option, most int) part {
	p := part{score: el("qti-match", nil, variable(name), correct(name))}
	var right []string
	for i, o := range options {
		if o.Right {
			right = append(right, choiceName(i))
		} else {
			p.leads(matches(name, "identifier", choiceName(i)), o.Slip)
		}
	}
	p.declaration = el("qti-response-declaration", at("identifier", name, "cardinality", "single", "base-type", "identifier"), values(right))
	p.shown = []*node{el("qti-choice-interaction", at("response-identifier", name, "max-choices", fmt.Sprint(most), "shuffle", "false"), choiceList(options, prompt)...)}
	return p
}

func (w *itemWriter) someOf() part {
	const name = "RESPONSE"
	q := w.q
	var p part
	var right []string
	for i, o := range q.Options {
		if o.Right {
			right = append(right, choiceName(i))
		}
	}
	gain, loss := 1/float64(len(right)), 0.0
	if wrong := len(q.Options) - len(right); wrong > 0 {
		loss = 1 / float64(wrong)
	}
	mapping := el("qti-mapping", at("lower-bound", "0", "upper-bound", "1", "default-value", "0"))
	for i, o := range q.Options {
		v := -loss
		if o.Right {
			v = gain
		}
		mapping.add(el("qti-map-entry", at("map-key", choiceName(i), "mapped-value", number(v))))
	}
	p.declaration = el("qti-response-declaration", at("identifier", name, "cardinality", "multiple", "base-type", "identifier"), values(right), mapping)
	p.shown = []*node{el("qti-choice-interaction", at("response-identifier", name, "max-choices", "0", "shuffle", "false"), choiceList(q.Options, q.Stem)...)}
	for _, s := range q.Slipped {
		set := el("qti-multiple", nil)
		for i, o := range q.Options {
			if inSet(s.Value, o.Value) {
				set.add(base("identifier", choiceName(i)))
			}
		}
		if len(set.Kids) > 0 {
			p.leads(el("qti-match", nil, variable(name), set), s.Slip)
		}
	}
	for i, o := range q.Options {
		if !o.Right {
			p.leads(el("qti-member", nil, base("identifier", choiceName(i)), variable(name)), o.Slip)
		}
	}
	return p
}

func (w *itemWriter) ordered() part {
	const name = "RESPONSE"
	q := w.q
	names := map[string]string{}
	for i, o := range q.Options {
		names[o.Value] = choiceName(i)
	}
	var right []string
	for _, v := range q.Key.Order {
		right = append(right, names[v])
	}
	return part{
		score:       el("qti-match", nil, variable(name), correct(name)),
		declaration: el("qti-response-declaration", at("identifier", name, "cardinality", "ordered", "base-type", "identifier"), values(right)),
		shown:       []*node{el("qti-order-interaction", at("response-identifier", name, "shuffle", "false"), choiceList(q.Options, q.Stem)...)},
	}
}

// typed is a field for text. Every answer to accept is in the mapping.
func typed(name, ask string, accept []string, slipped []banks.Slipped) part {
	var p part
	mapping := el("qti-mapping", at("lower-bound", "0", "upper-bound", "1", "default-value", "0"))
	for _, a := range accept {
		mapping.add(el("qti-map-entry", at("map-key", a, "mapped-value", "1", "case-sensitive", "false")))
	}
	p.declaration = el("qti-response-declaration", at("identifier", name, "cardinality", "single", "base-type", "string"), values(accept[:1]), mapping)
	if ask != "" {
		p.shown = append(p.shown, el("p", at("class", askClass), text(ask)))
	}
	p.shown = append(p.shown, el("p", nil, el("qti-text-entry-interaction", at("response-identifier", name, "expected-length", fmt.Sprint(fieldLength(accept))))))
	for _, s := range slipped {
		p.leads(matchesText(name, s.Value), s.Slip)
	}
	return p
}

// fieldLength is a length for a field that does not give the answer away: a
// multiple of ten.
func fieldLength(accept []string) int {
	most := 0
	for _, a := range accept {
		most = max(most, len([]rune(a)))
	}
	return (most/10 + 1) * 10
}

func (w *itemWriter) number() part {
	const name = "RESPONSE"
	k := &w.q.Key
	var p part
	equal := func(to *node) *node {
		if k.Tolerance == 0 {
			return el("qti-equal", at("tolerance-mode", "exact"), variable(name), to)
		}
		t := number(k.Tolerance)
		return el("qti-equal", at("tolerance-mode", "absolute", "tolerance", t+" "+t), variable(name), to)
	}
	p.score = equal(correct(name))
	p.declaration = el("qti-response-declaration", at("identifier", name, "cardinality", "single", "base-type", "float"), values([]string{number(k.Number)}))
	field := el("p", nil, el("qti-text-entry-interaction", at("response-identifier", name, "expected-length", "10")))
	if k.Unit != "" {
		field.add(text(" "), el("span", at("class", unitClass), text(k.Unit)))
	}
	p.shown = []*node{field}
	for _, s := range w.q.Slipped {
		if v, ok := sameUnit(s.Value, k.Unit); ok {
			p.leads(equal(base("float", number(v))), s.Slip)
		}
	}
	return p
}

func (w *itemWriter) body(parts []part) *node {
	q := w.q
	b := el("qti-item-body", nil)
	if len(q.Order) > 0 {
		list := el("dl", at("class", orderClass))
		for _, l := range q.Order {
			list.add(el("dt", nil, text(l.Label)), el("dd", nil, text(l.Value)))
		}
		b.add(list)
	}
	if len(q.Cautions) > 0 {
		box := el("div", at("class", cautionClass))
		for _, c := range q.Cautions {
			box.add(el("p", nil, text(c)))
		}
		b.add(box)
	}
	switch q.Form {
	case banks.Typed, banks.Number, banks.Chase:
		if q.Stem != "" {
			b.add(el("p", at("class", stemClass), text(q.Stem)))
		}
	}
	for i := range parts {
		b.add(el("div", nil, parts[i].shown...))
	}
	return b
}

func set(name string, value *node) *node {
	return el("qti-set-outcome-value", at("identifier", name), value)
}

// processing says how the answers are scored and which feedback they get.
func (w *itemWriter) processing(parts []part) *node {
	n := len(parts)
	r := el("qti-response-processing", nil)
	for i := range parts {
		p := &parts[i]
		score := numbered(scoreOutcome, i, n)
		if p.score == nil {
			r.add(set(score, el("qti-map-response", at("identifier", numbered("RESPONSE", i, n)))))
		} else {
			r.add(el("qti-response-condition", nil, el("qti-response-if", nil, p.score, set(score, base("float", "1")))))
		}
		if len(p.wrong) > 0 {
			// Full credit gets no feedback about slips.
			cond := el("qti-response-condition", nil, el("qti-response-if", nil,
				el("qti-gte", nil, variable(score), base("float", "1")),
				set(numbered(feedbackOutcome, i, n), el("qti-null", nil))))
			for _, l := range p.wrong {
				cond.add(el("qti-response-else-if", nil, l.when, set(numbered(feedbackOutcome, i, n), base("identifier", slipName(l.slip)))))
			}
			r.add(cond)
		}
	}
	if n > 1 {
		sum := el("qti-sum", nil)
		for i := range parts {
			sum.add(variable(numbered(scoreOutcome, i, n)))
		}
		r.add(set(scoreOutcome, el("qti-divide", nil, sum, base("float", number(float64(n))))))
	}
	r.add(set(solutionOutcome, base("identifier", solutionShown)))
	return r
}
