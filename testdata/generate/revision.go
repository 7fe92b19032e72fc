package main

import (
	"fmt"
	"slices"
	"strings"

	"rightpage/banks/catalog"
)

// snapshot copies the tables as they stand. Their records are not shared with
// the builder as far as later revisions change them.
func (b *builder) snapshot() catalog.Tables {
	t := b.t
	t.Schemes, t.Models, t.Groups, t.Components = slices.Clone(t.Schemes), slices.Clone(t.Models), slices.Clone(t.Groups), slices.Clone(t.Components)
	t.Publications, t.Procedures, t.Schedule, t.Operations = slices.Clone(t.Publications), slices.Clone(t.Procedures), slices.Clone(t.Schedule), slices.Clone(t.Operations)
	t.Specifications, t.Guide, t.Tests, t.TroubleCodes = slices.Clone(t.Specifications), slices.Clone(t.Guide), slices.Clone(t.Tests), slices.Clone(t.TroubleCodes)
	t.Bulletins = slices.Clone(t.Bulletins)
	return t
}

// publication finds the record of an edition, to be changed.
func (b *builder) publication(id string) *catalog.Publication {
	for i := range b.t.Publications {
		if b.t.Publications[i].ID == id {
			return &b.t.Publications[i]
		}
	}
	panic(fmt.Sprintf("there is no publication %s", id))
}

// setLimits gives an edition other limits.
func (b *builder) setLimits(id string, r catalog.Range) {
	e := catalog.Effectivity{r}
	b.publication(id).Effectivity = e
	b.edition(id).pub.Effectivity = e
}

// moveBreak moves the break by date between two editions to another month.
func (b *builder) moveBreak(older, newer, date string) {
	from := must(catalog.ParseDate(date))
	o, n := b.edition(older).life(), b.edition(newer).life()
	o.Through, n.From = dayBefore(from), from
	b.setLimits(older, o)
	b.setLimits(newer, n)
}

// correctPages moves every so many-th procedure of an edition by one page, as a
// list of errata does.
func (b *builder) correctPages(id string, every uint32) {
	for i := range b.t.Procedures {
		p := &b.t.Procedures[i]
		if p.Publication != id || hash(p.ID+id)%every != 0 || p.Location.Page == "" {
			continue
		}
		prefix, number := "", p.Location.Page
		if k := strings.LastIndexByte(number, '-'); k >= 0 {
			prefix, number = number[:k+1], number[k+1:]
		}
		var n int
		if _, err := fmt.Sscan(number, &n); err == nil {
			p.Location.Page = fmt.Sprintf("%s%d", prefix, n+1)
		}
	}
}

// correctValue puts right what a specification says.
func (b *builder) correctValue(quantity, condition, publication string, on catalog.Pattern, value string) error {
	n := 0
	for i := range b.t.Specifications {
		s := &b.t.Specifications[i]
		if s.Quantity == quantity && s.Condition == condition && s.Publication == publication && (on == "" || s.AppliesTo == on) {
			if err := setValue(s, value); err != nil {
				return err
			}
			n++
		}
	}
	if n == 0 {
		return fmt.Errorf("there is no %s (%s) in %s", quantity, condition, publication)
	}
	return nil
}

// reprint puts a new edition in the place of one: for the same vehicles, with
// everything on new pages. The old one stays on the list, superseded and
// without contents.
func (b *builder) reprint(older, newer, medium, revision string) {
	old := b.edition(older)
	pub := old.pub
	pub.ID, pub.Medium, pub.Revision, pub.Supersedes = newer, medium, revision, []string{older}
	pub.Shelf = strings.NewReplacer(", literature room", ", workshop screen").Replace(pub.Shelf)
	e := &edition{pub: pub, codes: old.codes, book: old.book, ends: old.ends, place: placer{medium: medium, seed: newer, next: 6 + int(hash(newer)%9)}}
	b.editions = append(b.editions, e)
	b.t.Publications = append(b.t.Publications, pub)
	for i := range b.t.Procedures {
		if p := &b.t.Procedures[i]; p.Publication == older {
			p.Publication, p.Location = newer, e.place.place(b.partGroup(p.Component), 2)
		}
	}
	for i := range b.t.Operations {
		if o := &b.t.Operations[i]; o.Publication == older {
			o.Publication, o.Location = newer, e.place.place("OP", 1)
		}
	}
}

// nextEdition begins a new edition at a build date: the last one ends the month
// before, and everything in it whose limits are still open is described again.
func (b *builder) nextEdition(older, newer, date, medium, revision string) {
	old := b.edition(older)
	from := must(catalog.ParseDate(date))
	r := old.life()
	pub := old.pub
	old.ends = catalog.Date{}
	closed := r
	closed.Through = dayBefore(from)
	b.setLimits(older, closed)
	r.From = from
	pub.ID, pub.Medium, pub.Revision, pub.Effectivity, pub.Supersedes = newer, medium, revision, catalog.Effectivity{r}, nil
	unit := b.life(pub.KeyedBy)
	e := &edition{pub: pub, book: old.book, place: placer{medium: medium, seed: newer, next: 5 + int(hash(newer)%9)}}
	for _, c := range unit.codes {
		if pub.AppliesTo.Match(c) && unit.alive(c, r) {
			e.codes = append(e.codes, c)
		}
	}
	b.editions = append(b.editions, e)
	b.t.Publications = append(b.t.Publications, pub)
	live := func(applies catalog.Pattern, eff catalog.Effectivity) bool {
		for _, c := range e.codes {
			if applies.Match(c) {
				return len(eff) == 0 || slices.ContainsFunc(eff, func(x catalog.Range) bool { return x.Through.IsZero() && x.Serials.Through == 0 })
			}
		}
		return false
	}
	superseded := map[string]bool{}
	for _, p := range b.t.Procedures {
		if p.Publication == older {
			for _, id := range p.Replaces {
				superseded[id] = true
			}
		}
	}
	for _, p := range slices.Clone(b.t.Procedures) {
		if p.Publication != older || superseded[p.ID] || !live(p.AppliesTo, p.Effectivity) {
			continue
		}
		b.procedure++
		p.ID, p.Publication, p.Effectivity, p.Replaces = procedureID(b.procedure), newer, nil, nil
		p.Location = e.place.place(b.partGroup(p.Component), 2)
		b.t.Procedures = append(b.t.Procedures, p)
	}
	for _, o := range slices.Clone(b.t.Operations) {
		if o.Publication == older {
			o.Publication, o.Location = newer, e.place.place("OP", 1)
			b.t.Operations = append(b.t.Operations, o)
		}
	}
}
