package catalog

import "fmt"

// ruledRow is a record that has a unit, a pattern and limits of its own, and stands
// in a publication.
type ruledRow struct {
	table, name string
	at          Origin
	unit        string
	pattern     Pattern
	eff         Effectivity
	publication string
	lookups     int
}

// eachRow gives the specifications, guide rows and trouble codes.
func (k *checker) eachRow(f func(ruledRow)) {
	t := k.t
	for i := range t.Specifications {
		r := &t.Specifications[i]
		f(ruledRow{"specifications", "specification " + r.ID, r.Origin, r.KeyedBy, r.AppliesTo, r.Effectivity, r.Publication, k.specLookups(i)})
	}
	for i := range t.Guide {
		r := &t.Guide[i]
		f(ruledRow{"guide", "the guide's row for " + r.System, r.Origin, r.KeyedBy, r.AppliesTo, r.Effectivity, r.Publication, k.guideLookups(i)})
	}
	for i := range t.TroubleCodes {
		r := &t.TroubleCodes[i]
		f(ruledRow{"troublecodes", "trouble code " + r.System + " " + r.Code, r.Origin, r.KeyedBy, r.AppliesTo, r.Effectivity, r.Publication, k.troubleLookups(i)})
	}
}

// unreachableRows finds specifications, guide rows and trouble codes that no
// lookup can reach.
func (k *checker) unreachableRows() {
	k.eachRow(func(r ruledRow) {
		u := k.unit(r.unit)
		own := k.matched(u, r.pattern)
		if len(u.codes) == 0 || own.empty() {
			return // no-codes or no-code says so
		}
		why := ""
		limits := regionOf(r.eff)
		p, inBook := k.c.pub[r.publication]
		if inBook {
			own = own.and(k.pubCodesIn(p, u))
		}
		switch {
		case own.empty():
			why = fmt.Sprintf("its pattern and that of its publication %s match no vehicle in common", r.publication)
		case len(limits) == 0:
			return // inverted says so
		case inBook && k.pubUnit(p) == u && !limits.meets(k.reached.pubs[p].eff) && len(k.reached.pubs[p].eff) > 0:
			why = fmt.Sprintf("its limits lie outside those of its publication %s", r.publication)
		default:
			why = k.nowhere(u, own, limits, p, inBook)
		}
		if why != "" {
			k.add("unreachable", r.table, r.at, "applies_to", fmt.Sprintf("no lookup reaches %s: %s", r.name, why),
				"correct the one or the other, or delete the row", r.lookups)
		}
	})
}

// nowhere says why limits meet no built range of any code, or "".
func (k *checker) nowhere(u *unitCodes, codes codeSet, limits region, p int, inBook bool) string {
	built, free := false, false
	same := inBook && k.pubUnit(p) == u
	codes.each(func(code int) {
		if free || !k.spend(1) {
			return
		}
		built = built || limits.meets(u.built[code].where)
		if same {
			free = limits.meets(k.pubFree(p, code))
		} else {
			free = built
		}
	})
	switch {
	case free || k.spent:
		return ""
	case !built:
		return "its limits lie outside the build dates and serials of every code that it applies to"
	case k.reached.pubs[p].overruled:
		return fmt.Sprintf("its publication %s is superseded wherever it would apply", k.t.Publications[p].ID)
	}
	return fmt.Sprintf("where it applies its publication %s does not", k.t.Publications[p].ID)
}

// unusedRecords finds what nothing leads to.
func (k *checker) unusedRecords() {
	t := k.t
	included := map[string]bool{}
	for i := range t.Schedule {
		for _, o := range t.Schedule[i].Operations {
			included[o] = true
		}
	}
	for i := range t.Operations {
		if o := &t.Operations[i]; o.Number != "" && !included[o.Number] {
			k.add("unused", "operations", o.Origin, "operation", fmt.Sprintf("no service of the schedule includes operation %s", o.Number),
				"add it to the operations of a service, or delete it", 0)
		}
	}
	k.indexChapters()
	told := map[[2]string]bool{}
	for i := range t.Tests {
		s := &t.Tests[i]
		at := [2]string{s.Publication, s.Chapter}
		if c := k.chapters[at]; !c.led && !told[at] {
			told[at] = true
			k.add("unused", "tests", s.Origin, "chapter", fmt.Sprintf("nothing leads to chapter %s of %s: no guide row, trouble code or other chapter", s.Chapter, s.Publication),
				"send a complaint or a trouble code there, or delete the chapter", 0)
		}
	}
	tested := map[string]bool{}
	for i := range t.Tests {
		tested[t.Tests[i].Publication] = true
	}
	for i := range t.Publications {
		r := &k.byPub[i]
		if n := len(r.procs) + len(r.ops) + len(r.specs) + len(r.guide) + len(r.trouble); n == 0 && !tested[t.Publications[i].ID] {
			k.add("unused", "publications", t.Publications[i].Origin, "publication", fmt.Sprintf("no record stands in publication %s", t.Publications[i].ID),
				"enter what it describes, or delete it", 0)
		}
	}
}
