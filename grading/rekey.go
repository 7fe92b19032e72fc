package grading

import (
	"fmt"
	"slices"
	"strings"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// Outcome is what becomes of a question when the catalog changes or a dispute
// is decided.
type Outcome string

// The outcomes.
const (
	Unchanged   Outcome = "unchanged"
	KeyChanged  Outcome = "key changed"
	Void        Outcome = "void"           // it no longer has a right answer that could be given
	NeedsPerson Outcome = "needs a person" // it cannot be decided without looking
)

// QuestionChange says what becomes of a question, and why.
type QuestionChange struct {
	Question  string          `json:"question"`
	Kind      string          `json:"kind"`
	Outcome   Outcome         `json:"outcome"`
	OldKey    string          `json:"old_key"`
	NewKey    string          `json:"new_key,omitempty"`
	Why       string          `json:"why,omitempty"`
	Responses int             `json:"responses"`       // that were given to it
	Since     string          `json:"since,omitempty"` // the revision of the catalog by which it is so
	New       *banks.Question `json:"-"`               // with KeyChanged: the question with its new key
}

// Change decides what becomes of a question.
type Change func(q *banks.Question) QuestionChange

// Revision decides by a new revision of the catalog: the question's own query
// is asked again, and the key is read from the answer as the kind of question
// does it. Where what the question states, such as the edition in which it asks
// for a page, is no longer so, or the new right answer is not among those that
// it offers, it is void. Where the lookup has become ambiguous, or the question
// is from another catalog, a person must look.
func Revision(r *resolver.Resolver) Change {
	meta := r.Catalog().Meta()
	return func(q *banks.Question) QuestionChange {
		c := QuestionChange{Question: q.ID, Kind: q.Kind, Outcome: Unchanged, OldKey: q.KeyText()}
		if q.Catalog != meta.Title {
			c.Outcome, c.Why = NeedsPerson, fmt.Sprintf("it was made from the catalog %q, not from %q", q.Catalog, meta.Title)
			return c
		}
		k, f, a, err := lookUp(r, q)
		if no, ok := err.(*noKey); ok {
			c.Outcome, c.Since, c.Why = Void, meta.Revision, "revision "+meta.Revision+": "+no.why
			if no.person {
				c.Outcome = NeedsPerson
			}
			return c
		}
		if f.agrees(q) {
			return c
		}
		b := rekeying{r: r, k: k, f: f, a: a, q: clone(q)}
		b.q.Revision = meta.Revision
		if why := b.apply(); why != nil {
			c.Outcome, c.Since, c.Why = Void, meta.Revision, "revision "+meta.Revision+": "+why.why
			if why.person {
				c.Outcome = NeedsPerson
			}
			return c
		}
		if _, err := banks.Encode(b.q); err != nil {
			c.Outcome, c.Why = NeedsPerson, err.Error()
			return c
		}
		c.Outcome, c.Since, c.New, c.NewKey = KeyChanged, meta.Revision, b.q, b.q.KeyText()
		c.Why = fmt.Sprintf("revision %s gives %s, not %s", meta.Revision, c.NewKey, c.OldKey)
		if way := traceChange(q, b.q); way != "" && q.Form == banks.Chase {
			c.Why = fmt.Sprintf("revision %s goes another way: %s", meta.Revision, way)
		} else if way != "" {
			c.Why += " (" + way + ")"
		}
		return c
	}
}

// clone copies what a new key changes.
func clone(q *banks.Question) *banks.Question {
	c := *q
	c.Options = slices.Clone(q.Options)
	c.Slipped = slices.Clone(q.Slipped)
	c.Key.Accept, c.Key.Order = slices.Clone(q.Key.Accept), slices.Clone(q.Key.Order)
	c.Trace = slices.Clone(q.Trace)
	c.Steps = slices.Clone(q.Steps)
	for i := range c.Steps {
		s := &c.Steps[i]
		s.Options, s.Accept = slices.Clone(s.Options), slices.Clone(s.Accept)
		s.Slipped, s.Carried = slices.Clone(s.Slipped), slices.Clone(s.Carried)
	}
	return &c
}

// rekeying gives a question the key that was found, and its wrong answers the
// slips that lead to them now.
type rekeying struct {
	r      *resolver.Resolver
	k      kindReading
	f      found
	a      *resolver.Answer
	q      *banks.Question
	strays []strayFound
}

// strayFound is what a slip leads to in the new revision.
type strayFound struct {
	b resolver.Break
	f found
}

func (b *rekeying) apply() *noKey {
	b.stray()
	q := b.q
	switch q.Form {
	case banks.OneOf:
		if !relabel(q.Options, b.f.values, func(s *strayFound) []string { return s.f.values }, b.strays) {
			return &noKey{why: "none of the options is right; the right answer is " + b.f.texts[0]}
		}
	case banks.SomeOf:
		return b.applySome()
	case banks.Ordered:
		q.Key.Order = b.f.values
	case banks.Typed:
		q.Key.Accept = []string{b.f.texts[0]}
		q.Slipped = reslip(q.Slipped, b.f.texts[0], func(s *strayFound) string { return s.f.texts[0] }, b.strays)
	case banks.Number:
		n, unit, ok := b.f.number()
		if !ok {
			return &noKey{why: "the value is no single number any more, but " + b.f.texts[0], person: true}
		}
		q.Key.Number, q.Key.Unit = n, unit
		q.Slipped = reslip(q.Slipped, b.f.texts[0], func(s *strayFound) string { return s.f.texts[0] }, b.strays)
	case banks.Chase:
		if why := b.applyChase(); why != nil {
			return why
		}
	}
	b.retrace()
	return nil
}

// stray runs the lookup with each slip.
func (b *rekeying) stray() {
	if b.k.bare {
		return
	}
	var a resolver.Answer
	for _, slip := range resolver.Slips() {
		for v := range slip.Variants() {
			brk := resolver.Break{Slip: slip, Variant: v}
			b.r.Resolve(&b.q.Query, brk, &a)
			if f, err := b.k.key(b.r, b.q, &a); err == nil {
				b.strays = append(b.strays, strayFound{brk, f})
			}
		}
	}
}

// relabel marks the right options, and gives each wrong one a slip that leads
// to it now: its own if it still does. One that no slip leads to keeps its own,
// but the one that was right has none. It tells whether there is a right one.
func relabel(options []banks.Option, keys []string, values func(*strayFound) []string, strays []strayFound) bool {
	any := false
	for i := range options {
		o := &options[i]
		if slices.Contains(keys, o.Value) {
			o.Right, o.Slip, o.Variant = true, resolver.NoSlip, 0
			any = true
			continue
		}
		o.Right = false
		best := -1
		for j := range strays {
			s := &strays[j]
			if !slices.Contains(values(s), o.Value) {
				continue
			}
			if s.b == (resolver.Break{Slip: o.Slip, Variant: o.Variant}) {
				best = -1
				break
			}
			if best < 0 {
				best = j
			}
		}
		if best >= 0 {
			o.Slip, o.Variant = strays[best].b.Slip, strays[best].b.Variant
		}
	}
	return any
}

// reslip lists the wrong answers that slips lead to now, then those that they
// led to before.
func reslip(before []banks.Slipped, key string, text func(*strayFound) string, strays []strayFound) []banks.Slipped {
	var out []banks.Slipped
	add := func(s banks.Slipped) {
		if s.Value != "" && !strings.EqualFold(s.Value, key) && !slices.ContainsFunc(out, func(o banks.Slipped) bool { return strings.EqualFold(o.Value, s.Value) }) {
			out = append(out, s)
		}
	}
	for i := range strays {
		add(banks.Slipped{Value: text(&strays[i]), Slip: strays[i].b.Slip, Variant: strays[i].b.Variant})
	}
	for _, s := range before {
		add(s)
	}
	return out
}

// applySome marks the options that are right now. What is right but not on
// offer does not count: the question asks for those on offer.
func (b *rekeying) applySome() *noKey {
	q := b.q
	if !relabel(q.Options, b.f.values, func(s *strayFound) []string { return s.f.values }, b.strays) {
		return &noKey{why: "none of the options is right; right is " + strings.Join(b.f.texts, ", ")}
	}
	offered := func(values []string) []string {
		return slices.DeleteFunc(slices.Clone(values), func(v string) bool {
			return !slices.ContainsFunc(q.Options, func(o banks.Option) bool { return o.Value == v })
		})
	}
	key := banks.OptionSet(offered(b.f.values))
	q.Slipped = nil
	for _, s := range b.strays {
		set := banks.OptionSet(offered(s.f.values))
		if set != "" && set != key && !slices.ContainsFunc(q.Slipped, func(o banks.Slipped) bool { return o.Value == set }) {
			q.Slipped = append(q.Slipped, banks.Slipped{Value: set, Slip: s.b.Slip, Variant: s.b.Variant})
		}
	}
	return nil
}

func (b *rekeying) applyChase() *noKey {
	for i := range b.q.Steps {
		st := &b.q.Steps[i]
		f := b.f.steps[i]
		at := func(s *strayFound) *found { return &s.f.steps[i] }
		st.Carried = nil
		typed := len(st.Options) == 0
		if typed {
			st.Accept = []string{f.texts[0]}
			st.Slipped = reslip(st.Slipped, f.texts[0], func(s *strayFound) string { return at(s).texts[0] }, b.strays)
		} else if !relabel(st.Options, f.values, func(s *strayFound) []string { return at(s).values }, b.strays) {
			return &noKey{why: "at the step “" + st.Ask + "” none of the options is right; the right answer is " + f.texts[0]}
		}
		for j := range b.strays {
			s := &b.strays[j]
			value := at(s).values[0]
			if value == f.values[0] {
				continue
			}
			if typed {
				value = at(s).texts[0]
			}
			st.Carried = append(st.Carried, banks.Slipped{Value: value, Slip: s.b.Slip, Variant: s.b.Variant})
		}
	}
	return nil
}

// retrace writes the short trace of the new answer.
func (b *rekeying) retrace() {
	q := b.q
	if !b.k.traced || b.a == nil {
		step := askedStep(q)
		q.Trace = []banks.TraceLine{{Step: step, Result: q.KeyText()}}
		return
	}
	last := resolver.ClassifyStep
	for _, t := range q.Trace {
		last = max(last, t.Step)
	}
	q.Trace = nil
	for _, step := range resolver.Steps() {
		if _, text, ok := b.r.StepValue(&q.Query, b.a, step); ok && step <= last {
			q.Trace = append(q.Trace, banks.TraceLine{Step: step, Result: text})
		}
	}
}

// traceChange says at which steps the lookup goes another way now.
func traceChange(before, after *banks.Question) string {
	var parts []string
	for _, b := range before.Trace {
		for _, a := range after.Trace {
			if a.Step == b.Step && a.Result != b.Result && a.Result != after.KeyText() {
				parts = append(parts, a.Step.String()+": "+b.Result+" → "+a.Result)
			}
		}
	}
	return strings.Join(parts, "; ")
}
