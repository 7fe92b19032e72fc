package main

import (
	"fmt"
	"strings"

	"rightpage/banks/catalog"
)

// bulletins adds those of a section of a vocabulary.
func (b *builder) bulletins(name, section string) error {
	rows, err := readVocabulary(name, 10)
	if err != nil {
		return err
	}
	for _, r := range rows {
		if r.section != section {
			continue
		}
		c := r.cells
		n := catalog.Bulletin{ID: c[0], Kind: c[2], Subject: c[3], KeyedBy: c[4], AppliesTo: catalog.Pattern(c[5]), Instruction: c[9], Shelf: "Bulletin binder"}
		if n.Issued, err = catalog.ParseDate(c[1]); err != nil {
			return r.errorf("%v", err)
		}
		if n.Effectivity, err = (catalog.LimitStyle{}).Parse(c[6]); err != nil {
			return r.errorf("%v", err)
		}
		if n.Amends, err = b.targets(c[7], n); err != nil {
			return r.errorf("%v", err)
		}
		if n.Replaces, err = b.targets(c[8], n); err != nil {
			return r.errorf("%v", err)
		}
		if len(n.Amends)+len(n.Replaces) == 0 {
			return r.errorf("it changes nothing")
		}
		b.t.Bulletins = append(b.t.Bulletins, n)
	}
	return nil
}

// targets reads what a bulletin amends; see bulletins.txt. Of a series, the
// records of those editions are meant that the bulletin's own limits and
// pattern meet.
func (b *builder) targets(cell string, n catalog.Bulletin) ([]catalog.Target, error) {
	var out []catalog.Target
	for _, t := range split(cell, ";") {
		if head, key, ok := strings.Cut(t, ":"); ok && !strings.Contains(head, " ") {
			table := map[string]string{"op": "operation", "service": "service", "pub": "publication", "code": "trouble", "test": "test"}[head]
			if table == "" {
				return nil, fmt.Errorf("%q is not understood", t)
			}
			if head == "test" {
				p := split(key, "/")
				key = p[0] + "/" + b.chapters[p[0]][p[1]] + "/" + p[2]
			}
			out = append(out, catalog.Target{Table: table, Key: key})
			continue
		}
		what, series, ok := strings.Cut(t, "@")
		if !ok {
			return nil, fmt.Errorf("%q names no publication after @", t)
		}
		what = strings.TrimSpace(what)
		before := len(out)
		if quantity, ok := strings.CutPrefix(what, "="); ok {
			for _, s := range b.t.Specifications {
				if s.Quantity == quantity && b.concerns(s.Publication, series, s.AppliesTo, s.Effectivity, n) {
					out = append(out, catalog.Target{Table: "specification", Key: s.ID})
				}
			}
		} else {
			action, component, _ := strings.Cut(what, " ")
			for _, p := range b.t.Procedures {
				if p.Action == action && p.Component == component && b.concerns(p.Publication, series, p.AppliesTo, p.Effectivity, n) {
					out = append(out, catalog.Target{Table: "procedure", Key: p.ID})
				}
			}
		}
		if len(out) == before {
			return nil, fmt.Errorf("there is no %q for the machines of the bulletin", t)
		}
	}
	return out, nil
}

// concerns tells whether a record of a publication applies to a vehicle for
// which the bulletin does.
func (b *builder) concerns(publication, series string, applies catalog.Pattern, eff catalog.Effectivity, n catalog.Bulletin) bool {
	if publication != series && !strings.HasPrefix(publication, series+"-") {
		return false
	}
	e := b.edition(publication)
	r := e.life()
	if len(n.Effectivity) > 0 && !within(&r, n.Effectivity[0]) || len(eff) > 0 && !within(&r, eff[0]) {
		return false
	}
	if n.KeyedBy != e.pub.KeyedBy {
		return true
	}
	for _, c := range e.codes {
		if n.AppliesTo.Match(c) && applies.Match(c) && b.life(n.KeyedBy).alive(c, r) {
			return true
		}
	}
	return false
}
