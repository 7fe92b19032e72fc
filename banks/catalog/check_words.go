package catalog

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

func wordChecks() family {
	return family{"words", checkWords, []CheckKind{
		{"word", Error, "a class, kind, side, check rule or packing is not one of those there are"},
		{"unknown-unit", Error, "a record is keyed by a unit that no data card and no scheme knows"},
	}}
}

// word checks a cell that must be one of a few words.
func (k *checker) word(table string, at Origin, column, got string, want []string, lookups func() int) {
	if slices.Contains(want, got) {
		return
	}
	n := 0
	if lookups != nil {
		n = lookups()
	}
	k.add("word", table, at, column, fmt.Sprintf("%q is none of the words for this column", got), "write one of "+strings.Join(want, ", "), n)
}

func classWords() []string {
	var w []string
	for _, c := range Classes() {
		w = append(w, string(c))
	}
	return w
}

func checkWords(k *checker) {
	t := k.t
	classes := classWords()
	for _, name := range slices.Sorted(maps.Keys(k.meta.Actions)) {
		for _, c := range k.meta.Actions[name].Classes {
			k.word("catalog.yaml", Origin{}, "actions."+name, string(c), classes, nil)
		}
	}
	for i := range t.Publications {
		r := &t.Publications[i]
		k.word("publications", r.Origin, "class", string(r.Class), classes, func() int { return k.pubLookups(i) })
	}
	for i := range t.Schedule {
		r := &t.Schedule[i]
		k.word("schedule", r.Origin, "class", string(r.Class), []string{string(Maintenance), string(PreDelivery)}, func() int { return k.serviceLookups(i) })
	}
	for i := range t.Tests {
		r := &t.Tests[i]
		if r.Side != "" {
			k.word("tests", r.Origin, "side", r.Side, []string{"left", "right"}, func() int { return k.testLookups(i) })
		}
	}
	for i := range t.Bulletins {
		r := &t.Bulletins[i]
		k.word("bulletins", r.Origin, "kind", r.Kind, []string{"bulletin", "supplement"}, func() int { return k.bulletinLookups(i) })
	}
	k.unitWords()
}

// unitWords checks every keyed_by and the kinds of schemes.
func (k *checker) unitWords() {
	t := k.t
	known := map[string]bool{UnitModel: true, UnitEngine: true, UnitTransmission: true, k.meta.Primary: true}
	for i := range t.Models {
		for _, u := range t.Models[i].Units {
			known[u.Unit] = true
		}
	}
	kinds := []string{KindChassis, KindTrouble, KindPublication}
	for i := range t.Schemes {
		// A scheme that has a field of the name of its kind says how that unit's
		// number is read, and so makes it known.
		if r := &t.Schemes[i]; r.Kind == r.Field && !slices.Contains(kinds, r.Kind) {
			known[r.Kind] = true
		}
	}
	names := slices.Sorted(maps.Keys(known))
	unit := func(table string, at Origin, got string, lookups func() int) {
		if !known[got] {
			k.add("unknown-unit", table, at, "keyed_by", fmt.Sprintf("no data card and no scheme knows a unit %q", got),
				"write one of "+strings.Join(names, ", ")+", or put the unit on the data cards", lookups())
		}
	}
	none := func() int { return 0 }
	for i := range t.Groups {
		unit("groups", t.Groups[i].Origin, t.Groups[i].KeyedBy, none)
	}
	for i := range t.Publications {
		unit("publications", t.Publications[i].Origin, t.Publications[i].KeyedBy, func() int { return k.pubLookups(i) })
	}
	for i := range t.Schedule {
		unit("schedule", t.Schedule[i].Origin, t.Schedule[i].KeyedBy, func() int { return k.serviceLookups(i) })
	}
	for i := range t.Specifications {
		unit("specifications", t.Specifications[i].Origin, t.Specifications[i].KeyedBy, func() int { return k.specLookups(i) })
	}
	for i := range t.Guide {
		unit("guide", t.Guide[i].Origin, t.Guide[i].KeyedBy, func() int { return k.guideLookups(i) })
	}
	for i := range t.TroubleCodes {
		unit("troublecodes", t.TroubleCodes[i].Origin, t.TroubleCodes[i].KeyedBy, func() int { return k.troubleLookups(i) })
	}
	for i := range t.Bulletins {
		unit("bulletins", t.Bulletins[i].Origin, t.Bulletins[i].KeyedBy, func() int { return k.bulletinLookups(i) })
	}
	all := append(kinds, names...)
	for i := range t.Schemes {
		if r := &t.Schemes[i]; r.Kind != "" {
			k.word("schemes", r.Origin, "kind", r.Kind, all, nil)
		}
	}
	for i := range t.Schemes {
		r := &t.Schemes[i]
		if r.Check != "" {
			k.word("schemes", r.Origin, "check", r.Check, CheckRules(), nil)
		}
		if r.Pack != "" {
			k.word("schemes", r.Origin, "pack", r.Pack, Packs(), nil)
		}
	}
}
