package main

import (
	"fmt"
	"slices"
	"strings"

	"rightpage/banks/catalog"
)

// builder multiplies the vocabularies out into the tables of a catalog.
type builder struct {
	t        catalog.Tables
	groups   []groupWords
	parts    []partWords
	units    map[string]*unitLife
	editions []*edition
	serials  map[byte][]int64             // first letter of a code → where a description may change, of a maker that counts serials only
	chapters map[string]map[string]string // edition → key of a chapter → its number

	parent    map[string]string // group → parent
	groupAt   map[string]int
	partAt    map[string]int
	procedure int // last number given
	spec      int
}

func newBuilder(folder string) (*builder, error) {
	b := &builder{units: map[string]*unitLife{}, serials: map[byte][]int64{}, parent: map[string]string{}, groupAt: map[string]int{}, partAt: map[string]int{}}
	var err error
	if b.groups, err = readGroups(folder + "/groups.txt"); err != nil {
		return nil, err
	}
	if b.parts, err = readParts(folder + "/components.txt"); err != nil {
		return nil, err
	}
	for i, g := range b.groups {
		b.parent[g.group.Code], b.groupAt[g.group.Code] = g.group.Parent, i
		b.t.Groups = append(b.t.Groups, g.group)
	}
	for i, p := range b.parts {
		if _, dup := b.partAt[p.component.Term]; dup {
			return nil, fmt.Errorf("component %q is listed twice", p.component.Term)
		}
		b.partAt[p.component.Term] = i
		if _, ok := b.groupAt[p.component.Group]; !ok {
			return nil, fmt.Errorf("component %q is in group %q, which there is not", p.component.Term, p.component.Group)
		}
		b.t.Components = append(b.t.Components, p.component)
	}
	for _, p := range b.parts {
		if of := p.component.PartOf; of != "" {
			if _, ok := b.partAt[of]; !ok {
				return nil, fmt.Errorf("component %q is part of %q, which there is not", p.component.Term, of)
			}
		}
	}
	return b, nil
}

// life is the record of a unit's codes.
func (b *builder) life(unit string) *unitLife {
	u := b.units[unit]
	if u == nil {
		u = &unitLife{}
		b.units[unit] = u
	}
	return u
}

// publish makes the editions of series.
func (b *builder) publish(all ...series) error {
	for _, s := range all {
		es, err := s.editions(*b.life(s.keyed))
		if err != nil {
			return err
		}
		b.editions = append(b.editions, es...)
		for _, e := range es {
			b.t.Publications = append(b.t.Publications, e.pub)
		}
	}
	return nil
}

// wanted lists the codes of an edition that have the part.
func wanted(e *edition, patterns ...catalog.Pattern) []string {
	var out []string
next:
	for _, c := range e.codes {
		for _, p := range patterns {
			if !p.Match(c) {
				continue next
			}
		}
		out = append(out, c)
	}
	return out
}

// writeProcedures describes the work on every component in every edition of its
// class that is about it.
func (b *builder) writeProcedures() {
	for _, e := range b.editions {
		for _, g := range b.groups {
			if !e.covers(g.group.Code, b.parent) || g.group.KeyedBy != e.pub.KeyedBy {
				continue
			}
			for _, p := range b.parts {
				if p.component.Group != g.group.Code {
					continue
				}
				codes := wanted(e, g.on, p.on)
				if len(codes) == 0 {
					continue
				}
				given := p.on
				if given == "" {
					given = g.on
				}
				for _, w := range worksOf(p.work, e.pub.Class) {
					b.procedure++
					b.t.Procedures = append(b.t.Procedures, catalog.Procedure{
						ID: procedureID(b.procedure), Job: jobTitle(w.action, p.component.Term), Action: w.action, Component: p.component.Term,
						Publication: e.pub.ID, Location: e.place.place(g.group.Code, w.weight),
						AppliesTo: patternFor(e.codes, codes, given),
						Hazards:   p.hazardsIn(g),
					})
				}
			}
		}
	}
}

func procedureID(n int) string { return fmt.Sprintf("P-%05d", n) }

// worksOf lists what is done to a component in literature of a class.
func worksOf(letters string, class catalog.Class) []work {
	var out []work
	for _, l := range letters {
		if w := works[l]; w.class == class {
			out = append(out, w)
		}
	}
	slices.SortFunc(out, func(a, b work) int { return a.order - b.order })
	return out
}

func hazardsOf(lists ...[]string) []string {
	var out []string
	for _, l := range lists {
		for _, h := range l {
			if h != "" && !slices.Contains(out, h) {
				out = append(out, h)
			}
		}
	}
	return out
}

// writeOperations describes each operation in every edition of a class that is
// keyed by its unit and has a code that it is for.
func (b *builder) writeOperations(ops []operationWords, class catalog.Class, include func(e *edition, op operationWords) bool) {
	for _, e := range b.editions {
		if e.pub.Class != class {
			continue
		}
		for _, op := range ops {
			if op.unit != e.pub.KeyedBy || !include(e, op) || len(wanted(e, op.on)) == 0 {
				continue
			}
			b.t.Operations = append(b.t.Operations, catalog.Operation{
				Number: op.number, Title: op.title, Publication: e.pub.ID, Location: e.place.place("OP", 1), Hazards: op.hazards,
			})
		}
	}
}

// writeValues puts each value into every edition of reference literature that is
// about its codes and its group.
func (b *builder) writeValues(values []valueWords) {
	lastGroup, lastPlace, n := map[*edition]string{}, map[*edition]catalog.Location{}, 0
	for _, v := range values {
		for _, e := range b.editions {
			if e.pub.Class != catalog.Reference || e.pub.KeyedBy != v.spec.KeyedBy || !e.covers(v.spec.Group, b.parent) || len(e.pub.Groups) == 0 {
				continue
			}
			codes := wanted(e, v.on)
			if len(codes) == 0 {
				continue
			}
			b.spec++
			s := v.spec
			s.ID = fmt.Sprintf("S-%04d", b.spec)
			s.AppliesTo = patternFor(e.codes, codes, v.on)
			s.Publication = e.pub.ID
			// About three values stand on a page or in a section.
			if v.spec.Group != lastGroup[e] || n%3 == 0 {
				lastPlace[e] = e.place.place(v.spec.Group, 1)
			}
			n++
			lastGroup[e] = v.spec.Group
			s.Location = lastPlace[e]
			b.t.Specifications = append(b.t.Specifications, s)
		}
	}
}

// writeChapters puts the chapters of tests into the diagnosis books that they
// belong in, and the complaints into the guide. Chapters are numbered anew in
// every edition.
func (b *builder) writeChapters(chapters []chapterWords) (numbers map[string]map[string]string, err error) {
	numbers = map[string]map[string]string{}
	for _, e := range b.editions {
		if e.book == "" {
			continue
		}
		var mine []chapterWords
		for _, c := range chapters {
			if slices.ContainsFunc(c.books, func(k string) bool { return slices.Contains(strings.Fields(e.book), k) }) {
				mine = append(mine, c)
			}
		}
		if len(mine) == 0 {
			return nil, fmt.Errorf("no chapters for %s (%s)", e.pub.ID, e.book)
		}
		// The second edition of a book begins elsewhere in the list.
		turn := int(hash(e.pub.ID)) % len(mine)
		mine = append(slices.Clone(mine[turn:]), mine[:turn]...)
		number := map[string]string{}
		for i, c := range mine {
			number[c.key] = fmt.Sprint(i + 1)
		}
		numbers[e.pub.ID] = number
		for _, c := range mine {
			for _, s := range c.steps {
				t := s.step
				t.Publication, t.Chapter = e.pub.ID, number[c.key]
				if s.failChapter != "" {
					if t.FailChapter = number[s.failChapter]; t.FailChapter == "" {
						return nil, fmt.Errorf("%s: chapter %q is not in %s", s.at, s.failChapter, e.pub.ID)
					}
					if t.FailChapter == t.Chapter {
						t.FailChapter = ""
					}
				}
				b.t.Tests = append(b.t.Tests, t)
			}
			if len(c.complaints) > 0 {
				b.t.Guide = append(b.t.Guide, catalog.GuideEntry{System: c.system, Complaints: c.complaints, Publication: e.pub.ID, Section: number[c.key]})
			}
		}
	}
	return numbers, nil
}
