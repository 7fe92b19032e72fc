package main

import (
	"fmt"
	"strings"

	"rightpage/banks/catalog"
)

// refine makes the books uneven, as real ones are: here and there a job is done
// differently from a month in the midst of an edition on, either as two
// descriptions that share out the time, or as a later one that replaces an
// earlier one printed without an end.
func (b *builder) refine() error {
	n := len(b.t.Procedures)
	for i := range n {
		p := &b.t.Procedures[i]
		switch p.Action {
		case "replace", "adjust", "remove", "overhaul":
		default:
			continue
		}
		h := hash(p.ID + p.Component)
		shared, replaced, twice := h%31 == 0, h%37 == 1, h%61 == 2
		if !shared && !replaced && !twice {
			continue
		}
		e := b.edition(p.Publication)
		if e.pub.Class == catalog.BulletinDoc {
			continue
		}
		before, after, ok := b.midst(e, e.life(), p.AppliesTo, int(h>>8))
		if !ok {
			continue
		}
		earlier, span := catalog.Effectivity{before}, catalog.Effectivity{after}
		if twice {
			// The later way was given up again: the earlier applies in two ranges.
			between := e.life()
			within(&between, after)
			end, rest, ok := b.midst(e, between, p.AppliesTo, int(h>>16))
			if !ok {
				continue
			}
			earlier, span = append(earlier, rest), catalog.Effectivity{after}
			within(&span[0], end)
		}
		later := *p
		b.procedure++
		later.ID = procedureID(b.procedure)
		later.Effectivity = span
		later.Location = e.place.place(b.partGroup(p.Component), 2)
		if replaced && !shared && !twice {
			later.Replaces = []string{p.ID}
		} else {
			p.Effectivity = earlier
		}
		b.t.Procedures = append(b.t.Procedures, later)
	}
	return nil
}

// midst picks a point within a part of the life of an edition such that every
// code that it is for, and that a pattern picks, was built before and after: a
// month; or a serial where the maker counts nothing else, and half the time in a
// book on a single line of machines. ok is false where there is none.
func (b *builder) midst(e *edition, part catalog.Range, applies catalog.Pattern, pick int) (before, after catalog.Range, ok bool) {
	var points [][2]catalog.Range
	try := func(before, after catalog.Range) {
		for _, r := range []catalog.Range{before, after} {
			life := part
			if !within(&life, r) {
				return
			}
			for _, c := range e.codes {
				if applies.Match(c) && !b.life(e.pub.KeyedBy).alive(c, life) {
					return
				}
			}
		}
		points = append(points, [2]catalog.Range{before, after})
	}
	if len(b.serials) > 0 {
		for _, s := range b.serials[e.codes[0][0]] {
			try(catalog.Range{Serials: catalog.Serials{Through: s - 1}}, catalog.Range{Serials: catalog.Serials{From: s}})
		}
	} else {
		line, single := strings.CutSuffix(string(e.pub.AppliesTo), "*")
		single = single && len(line) == 1 && e.pub.KeyedBy == catalog.UnitModel && len(e.pub.ID)%2 == pick%2 && part.From.IsZero() && part.Through.IsZero()
		for d := (catalog.Date{Year: 2011, Month: 9}); d.Year < 2025; d = d.AddMonths(1) {
			if single {
				s := tarnfellLine(line).serialAt(d.String())
				try(catalog.Range{Serials: catalog.Serials{Through: s - 1}}, catalog.Range{Serials: catalog.Serials{From: s}})
				continue
			}
			try(catalog.Range{Through: dayBefore(d)}, catalog.Range{From: d})
		}
	}
	if len(points) == 0 {
		return before, after, false
	}
	p := points[pick%len(points)]
	return p[0], p[1], true
}

// within narrows r to what it has in common with x; false where that is
// nothing.
func within(r *catalog.Range, x catalog.Range) bool {
	if r.From.First() < x.From.First() {
		r.From = x.From
	}
	if r.Through.Last() > x.Through.Last() {
		r.Through = x.Through
	}
	s, ok := r.Serials.Meet(x.Serials)
	r.Serials = s
	return ok && r.From.First() <= r.Through.Last()
}

// life is the range of an edition. Where a newer one supersedes it, its life
// ends when that one begins.
func (e *edition) life() catalog.Range {
	if e.ends.IsZero() && len(e.pub.Effectivity) == 0 {
		return catalog.Range{}
	}
	r := catalog.Range{}
	if len(e.pub.Effectivity) > 0 {
		r = e.pub.Effectivity[0]
	}
	if !e.ends.IsZero() {
		r.Through = e.ends
	}
	return r
}

func (b *builder) partGroup(component string) string {
	return b.parts[b.partAt[component]].component.Group
}

// edition finds an edition that there must be.
func (b *builder) edition(id string) *edition {
	for _, e := range b.editions {
		if e.pub.ID == id {
			return e
		}
	}
	panic(fmt.Sprintf("there is no edition %s", id))
}

// writeInto puts values into one reference book. They may be keyed by another
// unit than the book.
func (b *builder) writeInto(book string, grades []valueWords) error {
	e := b.edition(book)
	for _, v := range grades {
		b.spec++
		s := v.spec
		s.ID, s.AppliesTo, s.Publication = fmt.Sprintf("S-%04d", b.spec), v.on, e.pub.ID
		s.Location = e.place.place(v.spec.Group, 1)
		b.t.Specifications = append(b.t.Specifications, s)
	}
	return nil
}
