package resolver_test

import (
	"slices"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// targets gives the names by which a bulletin can name a find.
func (n *naive) targets(f find) []catalog.Target {
	var t []catalog.Target
	switch f.rec.table {
	case resolver.ProcedureTable:
		t = append(t, catalog.Target{Table: "procedure", Key: n.t.Procedures[f.rec.row].ID})
	case resolver.OperationTable:
		t = append(t, catalog.Target{Table: "operation", Key: f.rec.op})
	case resolver.SpecificationTable:
		t = append(t, catalog.Target{Table: "specification", Key: n.t.Specifications[f.rec.row].ID})
	case resolver.TestTable:
		s := &n.t.Tests[f.rec.row]
		t = append(t, catalog.Target{Table: "test", Key: s.Publication + "/" + s.Chapter + "/" + s.Step})
	case resolver.TroubleTable:
		c := &n.t.TroubleCodes[f.rec.row]
		t = append(t, catalog.Target{Table: "trouble", Key: c.System + "/" + c.Code})
	}
	if f.rec.pub >= 0 {
		t = append(t, catalog.Target{Table: "publication", Key: n.t.Publications[f.rec.pub].ID})
	}
	if f.service >= 0 {
		t = append(t, catalog.Target{Table: "service", Key: n.t.Schedule[f.service].Name})
	}
	return t
}

// amend gives the places where a find is to be read on a branch, with their
// fits, and notes the bulletins that name it.
func (n *naive) amend(b naiveBranch, f find, amendments map[naiveAmendment]bool) map[naivePlace]catalog.Fit {
	if f.rec.row < 0 {
		return map[naivePlace]catalog.Fit{{f.rec, -1}: f.fit} // listed without a place: nothing to amend
	}
	names := n.targets(f)
	named := func(list []catalog.Target) bool {
		return slices.ContainsFunc(list, func(t catalog.Target) bool { return slices.Contains(names, t) })
	}
	later := func(i, j int) bool { // i later than j
		x, y := &n.t.Bulletins[i], &n.t.Bulletins[j]
		if dx, dy := x.Issued.First(), y.Issued.First(); dx != dy {
			return dx > dy
		}
		return x.ID > y.ID
	}
	instead := -1
	var partly []int
	for i := range n.t.Bulletins {
		bu := &n.t.Bulletins[i]
		fit := b.fit(bu.KeyedBy, bu.AppliesTo, bu.Effectivity)
		amends, replaces := named(bu.Amends), named(bu.Replaces)
		if fit == catalog.Outside || !amends && !replaces {
			continue
		}
		amendments[naiveAmendment{f.rec, i, replaces}] = true
		switch {
		case !replaces:
		case fit == catalog.Partly:
			partly = append(partly, i)
		case instead < 0 || later(i, instead):
			instead = i
		}
	}
	places := map[naivePlace]catalog.Fit{{f.rec, instead}: f.fit}
	for _, i := range partly {
		if instead < 0 || later(i, instead) {
			places[naivePlace{f.rec, instead}] = catalog.Partly
			places[naivePlace{f.rec, i}] = catalog.Partly
		}
	}
	return places
}
