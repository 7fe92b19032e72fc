package resolver_test

import (
	"testing"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// What keys the literature is said by the group: the same vehicle is looked up
// by its model for the brakes, by its engine for the fuel system and by its
// gearbox for the shift fork.
func TestGroupSaysWhichUnitKeysTheLiterature(t *testing.T) {
	book := func(id, unit string, p catalog.Pattern) catalog.Publication {
		return catalog.Publication{ID: id, Class: catalog.Repair, KeyedBy: unit, AppliesTo: p}
	}
	fork := catalog.Procedure{ID: "JG", Action: "replace", Component: "shift fork", Publication: "RG"}
	r := shop(t, publications(book("RM", "model", "T44*"), book("RE", "engine", "K4"), book("RX", "engine", "K2;K3"), book("RG", "transmission", "S2")),
		procedures(brakeDisc("JM", "RM"), fuelFilter("JE", "RE"), fuelFilter("JX", "RX"), fork))
	check(t, r, []question{
		{"model", job("replace brake disc", aT440), "found: JM in RM"},
		{"engine of the data card", job("replace fuel filter", aT440), "found: JE in RE"},
		{"gearbox of the data card", job("replace shift fork", aT440), "found: JG in RG"},
		{"another gearbox", job("replace shift fork", resolver.Vehicle{Model: "T410"}), "not covered: publication"},
		{"the engine changed during production", job("replace fuel filter", built("T420", "2018-06")), "found: JX in RX"},
		{"from the next month on", job("replace fuel filter", built("T420", "2018-07")), "found: JE in RE"},
		{"no build date: both engines", job("replace fuel filter", resolver.Vehicle{Model: "T420"}), "ambiguous: perhaps JE in RE; perhaps JX in RX"},
		{"the engine at hand tells the cards apart", job("replace fuel filter", resolver.Vehicle{Model: "T420", Engine: "K4"}), "found: JE in RE"},
		{"an engine on the bench, no vehicle", job("replace fuel filter", resolver.Vehicle{Engine: "K3 1234"}), "found: JX in RX"},
		{"an engine alone does not tell the gearbox", job("replace shift fork", resolver.Vehicle{Engine: "K4"}), "ambiguous: perhaps JG in RG"},
		{"an engine that no card of the model has", job("replace fuel filter", resolver.Vehicle{Model: "T440", Engine: "K2"}), "not covered: data card"},
	})
	q := job("replace fuel filter", aT440)
	mustContain(t, "key", verdicts(r, q, "unit:engine"), "chosen: group 21 is keyed by engine")
	mustContain(t, "key", verdicts(r, q, "unit:model"), "ruled out: group 21 is keyed by engine")
	mustContain(t, "plate to read", []string{result(r, job("replace shift fork", resolver.Vehicle{Engine: "K4"}), resolver.KeyStep)},
		"transmission not known: read its plate")
}

// A unit that is not known fits what applies to all, and only perhaps what
// applies to some.
func TestUnitNotKnown(t *testing.T) {
	book := func(id string, p catalog.Pattern) catalog.Publication {
		return catalog.Publication{ID: id, Class: catalog.Repair, KeyedBy: "loader", AppliesTo: p, Groups: []string{"60"}}
	}
	arm := func(id, pub string) catalog.Procedure {
		return catalog.Procedure{ID: id, Action: "replace", Component: "lift arm", Publication: pub}
	}
	add := func(t *catalog.Tables) {
		t.Groups = append(t.Groups, catalog.Group{Code: "60", KeyedBy: "loader"})
		t.Components = append(t.Components, catalog.Component{Term: "lift arm", Group: "60"})
	}
	all := shop(t, add, publications(book("R1", "")), procedures(arm("J1", "R1")))
	some := shop(t, add, publications(book("R1", "L1"), book("R2", "L2")), procedures(arm("J1", "R1"), arm("J2", "R2")))
	without := resolver.Vehicle{Model: "T410"}
	if got, want := ask(t, all, job("replace lift arm", without)), "found: J1 in R1"; got != want {
		t.Errorf("applies to all: got %s, want %s", got, want)
	}
	if got, want := ask(t, some, job("replace lift arm", without)), "ambiguous: perhaps J1 in R1; perhaps J2 in R2"; got != want {
		t.Errorf("applies to some: got %s, want %s", got, want)
	}
	if got, want := ask(t, some, job("replace lift arm", aT440)), "found: J1 in R1"; got != want {
		t.Errorf("on the data card: got %s, want %s", got, want)
	}
}

// A publication covers a group when it lists it or an ancestor of it.
func TestGroupCover(t *testing.T) {
	book := func(groups ...string) *resolver.Resolver {
		return shop(t, publications(catalog.Publication{ID: "R1", Class: catalog.Repair, KeyedBy: "engine", Groups: groups}), procedures(fuelFilter("J1", "R1")))
	}
	q := job("replace fuel filter", aT440) // of group 21, whose parent is 20
	for _, c := range []struct {
		name   string
		groups []string
		want   string
	}{
		{"the group", []string{"21"}, "found: J1 in R1"},
		{"its parent", []string{"20"}, "found: J1 in R1"},
		{"a sibling", []string{"22"}, "not covered: publication"},
		{"no groups: all", nil, "found: J1 in R1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := ask(t, book(c.groups...), q); got != c.want {
				t.Errorf("got %s, want %s", got, c.want)
			}
		})
	}
}

// The class of literature follows from the action.
func TestClassFollowsFromTheAction(t *testing.T) {
	procedure := func(id, action, pub string) catalog.Procedure {
		return catalog.Procedure{ID: id, Action: action, Component: "brake disc", Publication: pub}
	}
	r := shop(t, publications(catalog.Publication{ID: "R1", Class: catalog.Repair}, catalog.Publication{ID: "M1", Class: catalog.Maintenance}),
		procedures(procedure("J1", "replace", "R1"), procedure("J2", "check", "M1"), procedure("J3", "adjust", "R1"), procedure("J4", "adjust", "M1"),
			procedure("J5", "replace", "M1")))
	check(t, r, []question{
		{"repair", job("replace brake disc", aT440), "found: J1 in R1"},
		{"maintenance", job("check brake disc", aT440), "found: J2 in M1"},
		{"either", job("adjust brake disc", aT440), "ambiguous: J3 in R1; J4 in M1"},
	})
}

// Where the primary unit of a catalog is the engine there are no vehicles: the
// number of the engine is all there is to read.
func TestEngineAsPrimaryUnit(t *testing.T) {
	meta := shopMeta()
	meta.Primary = "engine"
	tables := shopTables()
	tables.Models = nil
	for i := range tables.Groups {
		tables.Groups[i].KeyedBy = ""
	}
	book := func(id string, p catalog.Pattern, ranges ...catalog.Range) catalog.Publication {
		return catalog.Publication{ID: id, Class: catalog.Repair, AppliesTo: p, Effectivity: ranges}
	}
	tables.Publications = []catalog.Publication{book("R1", "K3", serials(0, 4999)), book("R2", "K3", serials(5000, 0)), book("R3", "K4")}
	tables.Procedures = []catalog.Procedure{fuelFilter("J1", "R1"), fuelFilter("J2", "R2"), fuelFilter("J3", "R3")}
	r := resolver.New(catalog.New(meta, tables))
	check(t, r, []question{
		{"number", job("replace fuel filter", resolver.Vehicle{Engine: "K3-4999"}), "found: J1 in R1"},
		{"number beyond the break", job("replace fuel filter", resolver.Vehicle{Engine: "K3-5000"}), "found: J2 in R2"},
		{"code and serial apart", job("replace fuel filter", resolver.Vehicle{Engine: "K3", Serial: 5000}), "found: J2 in R2"},
		{"code alone", job("replace fuel filter", resolver.Vehicle{Engine: "K3"}), "ambiguous: perhaps J1 in R1; perhaps J2 in R2"},
		{"an engine without breaks", job("replace fuel filter", resolver.Vehicle{Engine: "k4"}), "found: J3 in R3"},
		{"a code that there is not", job("replace fuel filter", resolver.Vehicle{Engine: "Q7"}), "not covered: read code"},
		{"nothing to read", job("replace fuel filter", resolver.Vehicle{}), "not covered: read code"},
	})
}
