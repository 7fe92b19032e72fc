package main

import (
	"fmt"

	"rightpage/banks/catalog"
)

// changeValues lets values change in the midst of what was built: the row of
// the old value is cut off there, for the codes named, and a row of the new one
// is added.
func (b *builder) changeValues(name string) error {
	rows, err := readVocabulary(name, 5)
	if err != nil {
		return err
	}
	for _, r := range rows {
		c := r.cells
		eff, err := (catalog.LimitStyle{}).Parse(c[3])
		if err != nil || len(eff) != 1 {
			return r.errorf("%q is not a single limit: %v", c[3], err)
		}
		after := eff[0]
		before := catalog.Range{Through: dayBefore(after.From)}
		if after.From.IsZero() {
			before = catalog.Range{Serials: catalog.Serials{Through: after.Serials.From - 1}}
		}
		on := catalog.Pattern(c[2])
		n := 0
		for i := range b.t.Specifications {
			old := &b.t.Specifications[i]
			if old.Quantity != c[0] || old.Condition != c[1] || len(old.Effectivity) > 0 {
				continue
			}
			e := b.edition(old.Publication)
			unit := b.life(e.pub.KeyedBy)
			var changed, cut, rest []string // codes that get the new value; of them, those that had the old one too; the others
			for _, code := range e.codes {
				if !old.AppliesTo.Match(code) {
					continue
				}
				was, is := e.life(), e.life()
				had := within(&was, before) && unit.alive(code, was)
				has := on.Match(code) && within(&is, after) && unit.alive(code, is)
				switch {
				case has && had:
					cut = append(cut, code)
					changed = append(changed, code)
				case has:
					changed = append(changed, code)
				default:
					rest = append(rest, code)
				}
			}
			if len(changed) == 0 {
				continue
			}
			n++
			fresh := *old
			if err := setValue(&fresh, c[4]); err != nil {
				return r.errorf("%v", err)
			}
			if len(rest)+len(cut) == 0 {
				fresh.ID = old.ID
				*old = fresh
				continue
			}
			fresh.AppliesTo = patternFor(e.codes, changed, on)
			if len(cut) > 0 {
				fresh.Effectivity = eff
			}
			add := func(s catalog.Specification) {
				b.spec++
				s.ID = fmt.Sprintf("S-%04d", b.spec)
				b.t.Specifications = append(b.t.Specifications, s)
			}
			was := *old
			was.Effectivity = catalog.Effectivity{before}
			switch {
			case len(rest) == 0:
				old.AppliesTo, old.Effectivity = patternFor(e.codes, cut, on), was.Effectivity
			case len(cut) == 0:
				old.AppliesTo = patternFor(e.codes, rest, "")
			default:
				old.AppliesTo = patternFor(e.codes, rest, "")
				was.AppliesTo = patternFor(e.codes, cut, on)
				add(was)
			}
			add(fresh)
		}
		if n == 0 {
			return r.errorf("nothing has the value to be changed")
		}
	}
	return nil
}
