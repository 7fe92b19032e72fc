package catalog

import (
	"cmp"
	"fmt"
	"slices"
)

func cardChecks() family {
	return family{"data cards", checkCards, []CheckKind{
		{"card-overlap", Warning, "two data cards of one code apply to the same vehicles"},
		{"no-codes", Warning, "literature is keyed by a unit of which no code is known"},
		{"no-code", Warning, "an applies-to pattern matches no code of its unit"},
	}}
}

func checkCards(k *checker) {
	k.eachCode(UnitModel, func(code string, _ Origin, cards []int) {
		k.cardOverlaps(code, cards)
	})
	k.patternsWithoutCode()
}

// cardOverlaps compares the cards of one code in order of their first build
// date, so that each is compared only with those that reach into it.
func (k *checker) cardOverlaps(code string, cards []int) {
	type card struct {
		row int
		box box
	}
	var list []card
	for _, i := range cards {
		if b, ok := boxOf(k.t.Models[i].Range); ok {
			list = append(list, card{i, b})
		}
	}
	slices.SortStableFunc(list, func(a, b card) int { return cmp.Or(compareBoxes(a.box, b.box), cmp.Compare(a.row, b.row)) })
	var open []card
	for _, c := range list {
		open = slices.DeleteFunc(open, func(o card) bool { return o.box.d1 < c.box.d0 })
		if !k.spend(len(open)) {
			return
		}
		for _, o := range open {
			m, ok := o.box.meet(c.box)
			if !ok {
				continue
			}
			with := ""
			if at := k.t.Models[o.row].Origin; at.Row > 0 {
				with = fmt.Sprintf(" as the one in row %d", at.Row)
			}
			k.add("card-overlap", "models", k.t.Models[c.row].Origin, "built_from",
				fmt.Sprintf("this data card of %s applies to the same vehicles%s: %s", code, with, k.span(m)),
				"let the earlier card end before the later begins, by date or serial", k.codeLookups(UnitModel, code))
			break
		}
		open = append(open, c)
	}
}

// span prints a box as the literature prints limits.
func (k *checker) span(b box) string {
	if b == anyBox {
		return "at any time"
	}
	return k.meta.Limits.Format(Effectivity{b.rangeOf()})
}

// patternsWithoutCode reports the patterns that match nothing, and, once for
// each unit, that there is nothing to match.
func (k *checker) patternsWithoutCode() {
	t := k.t
	empty := map[string]bool{}
	check := func(table string, at Origin, unit string, p Pattern) {
		u := k.unit(unit)
		switch {
		case len(u.codes) == 0 && !empty[unit]:
			empty[unit] = true
			k.add("no-codes", table, at, "keyed_by", fmt.Sprintf("the record is keyed by %s, but neither a data card nor a scheme names a code of that unit", unit),
				"put the unit's codes on the data cards, or give a scheme that reads its number a value table", 0)
		case len(u.codes) > 0 && p != "" && k.matched(u, p).empty():
			k.add("no-code", table, at, "applies_to", fmt.Sprintf("the pattern %s matches no %s code of a data card or scheme", p, unit),
				k.suggest(string(p), u.codes, "correct it, or add the code to the data cards"), 0)
		}
	}
	for i := range t.Publications {
		check("publications", t.Publications[i].Origin, t.Publications[i].KeyedBy, t.Publications[i].AppliesTo)
	}
	for i := range t.Procedures {
		if p, ok := k.c.Publication(t.Procedures[i].Publication); ok {
			check("procedures", t.Procedures[i].Origin, p.KeyedBy, t.Procedures[i].AppliesTo)
		}
	}
	for i := range t.Schedule {
		check("schedule", t.Schedule[i].Origin, t.Schedule[i].KeyedBy, t.Schedule[i].AppliesTo)
	}
	for i := range t.Specifications {
		check("specifications", t.Specifications[i].Origin, t.Specifications[i].KeyedBy, t.Specifications[i].AppliesTo)
	}
	for i := range t.Guide {
		check("guide", t.Guide[i].Origin, t.Guide[i].KeyedBy, t.Guide[i].AppliesTo)
	}
	for i := range t.TroubleCodes {
		check("troublecodes", t.TroubleCodes[i].Origin, t.TroubleCodes[i].KeyedBy, t.TroubleCodes[i].AppliesTo)
	}
	for i := range t.Bulletins {
		check("bulletins", t.Bulletins[i].Origin, t.Bulletins[i].KeyedBy, t.Bulletins[i].AppliesTo)
	}
}
