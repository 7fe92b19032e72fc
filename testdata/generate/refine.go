package main

import (
	"fmt"

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
		shared, replaced := h%31 == 0, h%37 == 1
		if !shared && !replaced {
			continue
		}
		e := b.edition(p.Publication)
		if e.pub.Class == catalog.BulletinDoc {
			continue
		}
		cut, ok := b.midst(e, p.AppliesTo, int(h>>8))
		if !ok {
			continue
		}
		later := *p
		b.procedure++
		later.ID = procedureID(b.procedure)
		later.Effectivity = catalog.Effectivity{{From: cut}}
		later.Location = e.place.place(b.partGroup(p.Component), 2)
		if replaced {
			later.Replaces = []string{p.ID}
		} else {
			p.Effectivity = catalog.Effectivity{{Through: dayBefore(cut)}}
		}
		b.t.Procedures = append(b.t.Procedures, later)
	}
	return nil
}

// midst picks a month within the life of an edition in which every code that
// it is for, and that a pattern picks, was built before and after; ok is false
// where there is none.
func (b *builder) midst(e *edition, applies catalog.Pattern, pick int) (cut catalog.Date, ok bool) {
	unit := b.life(e.pub.KeyedBy)
	var months []catalog.Date
	life := e.life()
	for d := (catalog.Date{Year: 2011, Month: 9}); d.Year < 2025; d = d.AddMonths(1) {
		fine := life.From.First() < d.First() && d.First() < life.Through.Last()
		for _, c := range e.codes {
			if !fine || !applies.Match(c) {
				continue
			}
			before, after := life, life
			before.Through, after.From = dayBefore(d), d
			fine = unit.alive(c, before) && unit.alive(c, after)
		}
		if fine {
			months = append(months, d)
		}
	}
	if len(months) == 0 {
		return cut, false
	}
	return months[pick%len(months)], true
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
