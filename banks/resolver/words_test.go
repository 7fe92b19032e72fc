package resolver_test

import (
	"strings"
	"testing"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// wordShop has a procedure of each action for a handful of components in one
// book, so that only the words decide.
func wordShop(t *testing.T) *resolver.Resolver {
	var p []catalog.Procedure
	for _, c := range []string{"oil filter", "fuel filter", "injection pump", "hydraulic filter", "hydraulic pump", "brake disc", "brake hose", "radiator hose",
		"parking brake", "shift fork", "PTO"} {
		p = append(p, catalog.Procedure{ID: strings.ReplaceAll(c, " ", "-"), Action: "replace", Component: c, Publication: "R" + keyOf(c)})
	}
	p = append(p, catalog.Procedure{ID: "adjust-parking-brake", Action: "adjust", Component: "parking brake", Publication: "Rmodel"})
	return shop(t, publications(
		catalog.Publication{ID: "Rmodel", Class: catalog.Repair, KeyedBy: "model"},
		catalog.Publication{ID: "Rengine", Class: catalog.Repair, KeyedBy: "engine"},
		catalog.Publication{ID: "Rtransmission", Class: catalog.Repair, KeyedBy: "transmission"}), procedures(p...))
}

func keyOf(component string) string {
	tables := shopTables()
	for _, c := range tables.Components {
		for _, g := range tables.Groups {
			if c.Term == component && c.Group == g.Code {
				return g.KeyedBy
			}
		}
	}
	return ""
}

func TestWordsOfAJob(t *testing.T) {
	r := wordShop(t)
	for _, c := range []struct{ name, text, want string }{
		{"as it stands", "replace fuel filter", "found: fuel-filter in Rengine"},
		{"case and punctuation", "Replace: FUEL-FILTER!", "found: fuel-filter in Rengine"},
		{"another order", "filter, fuel: replace", "found: fuel-filter in Rengine"},
		{"plural", "replace brake discs", "found: brake-disc in Rmodel"},
		{"articles do not count", "please replace the fuel filter of my tractor", "not covered: component"}, // tractor does
		{"filler words", "please replace the fuel filter", "found: fuel-filter in Rengine"},
		{"synonym of the action", "renew fuel filter", "found: fuel-filter in Rengine"},
		{"synonym of several words", "take out and fit the fuel filter", "found: fuel-filter in Rengine"},
		{"synonym of the component", "replace diesel filter", "found: fuel-filter in Rengine"},
		{"in another language", "Kraftstofffilter erneuern", "found: fuel-filter in Rengine"},
		{"one edit in a short word", "replace fuel fliter", "found: fuel-filter in Rengine"},
		{"an edit in each of two words", "replace fule filtr", "found: fuel-filter in Rengine"},
		{"two edits in a long word", "replace injecton pumo", "found: injection-pump in Rengine"},
		{"two edits in a short word are too many", "replace fuul fillyer", "not covered: component"},
		{"a word of three letters must be right", "replace PTA", "not covered: component"},
		{"misspelt action", "raplace fuel filter", "found: fuel-filter in Rengine"},
		{"no action: every one that there is for the component", "parking brake", "ambiguous: adjust-parking-brake in Rmodel; parking-brake in Rmodel"},
		{"no action, and only one there is", "brake disc", "found: brake-disc in Rmodel"},
		{"part of a term", "replace radiator", "found: radiator-hose in Rengine"},
		{"part of several terms", "replace hose", "ambiguous: brake-hose in Rmodel; radiator-hose in Rengine"},
		{"nothing known", "replace flux capacitor", "not covered: component"},
		{"no words", "", "not covered: component"},
		{"only filler", "the of and", "not covered: component"},
		{"an action alone", "replace", "not covered: component"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := ask(t, r, job(c.text, aT440)); got != c.want {
				t.Errorf("%q\n got %s\nwant %s", c.text, got, c.want)
			}
		})
	}
}

// A term that two components share is never settled by picking one: both are
// answers, and the trace calls both possible.
func TestSharedSynonymIsNeverPickedSilently(t *testing.T) {
	r := wordShop(t)
	q := job("replace filter cartridge", aT440)
	if got, want := ask(t, r, q), "ambiguous: hydraulic-filter in Rmodel; oil-filter in Rengine"; got != want {
		t.Fatalf("got %s, want %s", got, want)
	}
	mustContain(t, "oil filter", verdicts(r, q, "component:oil filter"), "possible")
	mustContain(t, "hydraulic filter", verdicts(r, q, "component:hydraulic filter"), "possible")
}

// Two terms that are as near to a misspelt word are both answers too.
func TestMisspellingBetweenTwoTermsIsNeverPickedSilently(t *testing.T) {
	twin := func(t *catalog.Tables) {
		t.Components = append(t.Components, catalog.Component{Term: "rear lamp", Group: "50"}, catalog.Component{Term: "rear ramp", Group: "50"})
	}
	p := func(id, c string) catalog.Procedure {
		return catalog.Procedure{ID: id, Action: "replace", Component: c, Publication: "R"}
	}
	r := shop(t, twin, publications(catalog.Publication{ID: "R", Class: catalog.Repair}), procedures(p("J1", "rear lamp"), p("J2", "rear ramp")))
	check(t, r, []question{
		{"as near to one as to the other", job("replace rear damp", aT440), "ambiguous: J1 in R; J2 in R"},
		{"exact", job("replace rear lamp", aT440), "found: J1 in R"},
		{"nearer to one", job("replace rear rampp", aT440), "found: J2 in R"},
	})
	mustContain(t, "lamp", verdicts(r, job("replace rear rampp", aT440), "component:rear ramp"), "read as a misspelling of “rear ramp”")
}

// An exact term beats one that only resembles the text or contains it.
func TestExactTermGoesFirst(t *testing.T) {
	p := func(id, c string) catalog.Procedure {
		return catalog.Procedure{ID: id, Action: "replace", Component: c, Publication: "R"}
	}
	more := func(t *catalog.Tables) {
		t.Components = append(t.Components, catalog.Component{Term: "pump", Group: "50"}, catalog.Component{Term: "pumps drive", Group: "50"}, catalog.Component{Term: "hump", Group: "50"})
	}
	r := shop(t, more, publications(catalog.Publication{ID: "R", Class: catalog.Repair}),
		procedures(p("J1", "pump"), p("J2", "pumps drive"), p("J3", "hump")))
	if got, want := ask(t, r, job("replace pump", aT440)), "found: J1 in R"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// A part that has no group of its own belongs to that of the major component
// above it, and is not taken for that component.
func TestPartOfAMajorComponent(t *testing.T) {
	p := func(id, c string) catalog.Procedure {
		return catalog.Procedure{ID: id, Action: "replace", Component: c, Publication: "R"}
	}
	r := shop(t, publications(catalog.Publication{ID: "R", Class: catalog.Repair, KeyedBy: "engine", Groups: []string{"21"}}),
		procedures(p("J1", "injection pump"), p("J2", "delivery valve"), p("J3", "tool box")))
	check(t, r, []question{
		{"the part", job("replace delivery valve", aT440), "found: J2 in R"},
		{"the whole", job("replace injection pump", aT440), "found: J1 in R"},
		{"no group at all", job("replace tool box", aT440), "not covered: group"},
	})
	mustContain(t, "group", verdicts(r, job("replace delivery valve", aT440), "group:21"), "group of the major component injection pump")
}

// A term listed in two groups is looked for in both.
func TestComponentInTwoGroups(t *testing.T) {
	twice := func(t *catalog.Tables) {
		t.Components = append(t.Components, catalog.Component{Term: "sensor", Group: "40"}, catalog.Component{Term: "sensor", Group: "50"})
	}
	p := func(id, pub string) catalog.Procedure {
		return catalog.Procedure{ID: id, Action: "replace", Component: "sensor", Publication: pub}
	}
	book := func(id, group string) catalog.Publication {
		return catalog.Publication{ID: id, Class: catalog.Repair, Groups: []string{group}}
	}
	r := shop(t, twice, publications(book("R4", "40"), book("R5", "50")), procedures(p("J4", "R4"), p("J5", "R5")))
	if got, want := ask(t, r, job("replace sensor", aT440)), "ambiguous: J4 in R4; J5 in R5"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// A text without an answer names the step and what is nearest.
func TestNotCoveredNamesTheNearest(t *testing.T) {
	r := wordShop(t)
	for _, c := range []struct {
		name    string
		q       *resolver.Query
		step    resolver.Step
		nearest string
	}{
		{"component", job("replace fuul fillyer", aT440), resolver.ComponentStep, "fuel filter"},
		{"model code", job("replace fuel filter", resolver.Vehicle{Model: "T44"}), resolver.CodeStep, "T440"},
		{"engine code", job("replace fuel filter", resolver.Vehicle{Engine: "K5"}), resolver.CodeStep, "K2, K3 or K4"},
		{"location", job("adjust brake disc", aT440), resolver.LocationStep, "nearest: "},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got, want := ask(t, r, c.q), "not covered: "+c.step.String(); got != want {
				t.Fatalf("got %s, want %s", got, want)
			}
			mustContain(t, "nearest", []string{result(r, c.q, c.step)}, c.nearest)
		})
	}
}
