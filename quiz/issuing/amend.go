package issuing

import (
	"hash/crc32"
	"slices"

	"rightpage/banks"
	"rightpage/banks/resolver"
	"rightpage/grading"
)

// steps gives the step of a lookup that questions of a kind ask for.
func steps(kind string) (resolver.Step, bool) {
	switch kind {
	case "job-class":
		return resolver.ClassifyStep, true
	case "group":
		return resolver.GroupStep, true
	case "publication":
		return resolver.PublicationStep, true
	case "edition":
		return resolver.EditionStep, true
	case "location":
		return resolver.LocationStep, true
	}
	return 0, false
}

// amended makes of a question that a revision made void one that can be asked
// by it, about the very same lookup: what it says of the catalog is brought up
// to date, and what is right now is offered in the place of one of its wrong
// options. What was right before stays on offer. It gives nil where that
// cannot be.
func (a *asker) amended(q *banks.Question) *banks.Question {
	var ans resolver.Answer
	a.r.Resolve(&q.Query, resolver.Break{}, &ans)
	if ans.Status != resolver.Found {
		return nil
	}
	c := *q
	c.Order, c.Options, c.Steps = slices.Clone(q.Order), slices.Clone(q.Options), slices.Clone(q.Steps)
	value := func(s resolver.Step) (value, text string) {
		value, text, _ = a.r.StepValue(&q.Query, &ans, s)
		return value, text
	}
	for i := range c.Order {
		if c.Order[i].Label != "Publication" {
			continue
		}
		switch q.Kind {
		case "location":
			c.Order[i].Value, _ = value(resolver.EditionStep)
		case "edition":
			_, c.Order[i].Value = value(resolver.PublicationStep)
		}
	}
	step, one := steps(q.Kind)
	switch {
	case one && q.Form == banks.OneOf:
		if v, text := value(step); !offer(c.Options, v, text, lookupID(q)) {
			return nil
		}
	case q.Form == banks.Chase:
		for i := range c.Steps {
			s := &c.Steps[i]
			if len(s.Options) == 0 {
				continue
			}
			s.Options = slices.Clone(s.Options)
			if v, text := value(s.Step); !offer(s.Options, v, text, lookupID(q)) {
				return nil
			}
		}
	}
	// The key is still the old one: the revision sets the new one, and gives
	// each wrong option the slip that leads to it now.
	d := a.change(&c)
	next := d.New
	if d.Outcome == grading.Unchanged {
		c.Revision = a.r.Catalog().Meta().Revision
		next = &c
	}
	if next == nil || d.Outcome == grading.Void || d.Outcome == grading.NeedsPerson {
		return nil
	}
	if _, err := banks.Encode(next); err != nil || next.Check() != nil {
		return nil
	}
	return next
}

// offer puts an option among others, in the place of a wrong one, unless it is
// there. It tells whether it is.
func offer(options []banks.Option, value, text, lookup string) bool {
	if value == "" || text == "" {
		return false
	}
	if slices.ContainsFunc(options, func(o banks.Option) bool { return o.Value == value }) {
		return true
	}
	if slices.ContainsFunc(options, func(o banks.Option) bool { return o.Text == text }) {
		return false // it could not be told from another
	}
	var wrong []int
	for i, o := range options {
		if !o.Right {
			wrong = append(wrong, i)
		}
	}
	if len(wrong) == 0 {
		return false
	}
	// Always the same one, but nobody learns from its place that it is right.
	at := wrong[crc32.ChecksumIEEE([]byte(lookup+text))%uint32(len(wrong))]
	options[at] = banks.Option{Text: text, Value: value}
	return true
}
