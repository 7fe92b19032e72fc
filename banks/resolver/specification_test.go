package resolver_test

import (
	"testing"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

func number64(f float64) *float64 { return &f }

// Engine oil by ambient temperature, and a capacity with and without filter.
func specShop(t *testing.T, with ...func(*catalog.Tables)) *resolver.Resolver {
	band := func(low, high *float64) catalog.Band { return catalog.Band{Low: low, High: high} }
	return shop(t, append([]func(*catalog.Tables){
		publications(catalog.Publication{ID: "M1", Class: catalog.Maintenance}, catalog.Publication{ID: "M2", Class: catalog.Maintenance, AppliesTo: "T41*"}),
		func(t *catalog.Tables) {
			syn := []catalog.Synonym{{Term: "oil grade"}, {Lang: "de", Term: "Motorölsorte"}}
			t.Specifications = []catalog.Specification{
				{ID: "cold", Quantity: "engine oil viscosity", Synonyms: syn, Value: "5W-30", Ambient: band(nil, number64(10)), Publication: "M1"},
				{ID: "mild", Quantity: "engine oil viscosity", Value: "10W-30", Ambient: band(number64(-20), number64(30)), Publication: "M1"},
				{ID: "hot", Quantity: "engine oil viscosity", Value: "15W-40", Ambient: band(number64(30.5), nil), Publication: "M1"},
				{ID: "with", Quantity: "engine oil capacity", Value: "9.5", Unit: "L", Condition: "with filter", Publication: "M1"},
				{ID: "without", Quantity: "engine oil capacity", Value: "8.8", Unit: "L", Condition: "without filter", Publication: "M1"},
				{ID: "other", Quantity: "engine oil capacity", Value: "6.1", Unit: "L", Condition: "with filter", Publication: "M2"},
				{ID: "K3", Quantity: "idle speed", Value: "900", Unit: "1/min", KeyedBy: "engine", AppliesTo: "K3", Publication: "M1"},
				{ID: "K4", Quantity: "idle speed", Value: "850", Unit: "1/min", KeyedBy: "engine", AppliesTo: "K4", Publication: "M1"},
			}
		}}, with...)...)
}

func spec(text string, v resolver.Vehicle) *resolver.Query {
	return &resolver.Query{Vehicle: v, Task: resolver.SpecTask, Text: text}
}

func at(q *resolver.Query, celsius float64) *resolver.Query { q.Ambient = &celsius; return q }

func under(q *resolver.Query, condition string) *resolver.Query { q.Condition = condition; return q }

func TestSpecification(t *testing.T) {
	r := specShop(t)
	check(t, r, []question{
		{"in one band alone", at(spec("engine oil viscosity", aT440), -25), "found: cold in M1"},
		{"where two bands overlap", at(spec("engine oil viscosity", aT440), 0), "ambiguous: cold in M1; mild in M1"},
		{"a limit of a band belongs to it", at(spec("engine oil viscosity", aT440), -20), "ambiguous: cold in M1; mild in M1"},
		{"the upper limit too", at(spec("engine oil viscosity", aT440), 10), "ambiguous: cold in M1; mild in M1"},
		{"just above it", at(spec("engine oil viscosity", aT440), 10.5), "found: mild in M1"},
		{"above the last limit of the second", at(spec("engine oil viscosity", aT440), 31), "found: hot in M1"},
		{"in the gap between two bands", at(spec("engine oil viscosity", aT440), 30.2), "not covered: location"},
		{"no temperature: every band", spec("engine oil viscosity", aT440), "ambiguous: cold in M1; hot in M1; mild in M1"},
		{"a synonym stands for the quantity, not for its row", at(spec("oil grade", aT440), 31), "found: hot in M1"},
		{"a synonym in another language, without its dots", at(spec("Motorolsorte", aT440), 31), "found: hot in M1"},
		{"with the filter", under(spec("engine oil capacity", aT440), "with filter"), "found: with in M1"},
		{"without it", under(spec("engine oil capacity", aT440), "Without filter"), "found: without in M1"},
		{"no condition: each of them", spec("engine oil capacity", aT440), "ambiguous: with in M1; without in M1"},
		{"a condition that there is not", under(spec("engine oil capacity", aT440), "hot"), "not covered: location"},
		{"a publication that does not apply", under(spec("engine oil capacity", resolver.Vehicle{Model: "T410"}), "with filter"), "ambiguous: other in M2; with in M1"},
		{"keyed by the engine", spec("idle speed", aT440), "found: K4 in M1"},
		{"which is not settled", spec("idle speed", resolver.Vehicle{Model: "T420"}), "ambiguous: perhaps K3 in M1; perhaps K4 in M1"},
		{"misspelt", spec("ilde speed", aT440), "found: K4 in M1"},
		{"part of the name", spec("capacity", aT440), "ambiguous: with in M1; without in M1"},
		{"part of two names", under(spec("engine oil", aT440), "with filter"), "found: with in M1"},
		{"no such quantity", spec("tyre pressure", aT440), "not covered: component"},
	})
	q := at(spec("engine oil viscosity", aT440), 31)
	mustContain(t, "cold", verdicts(r, q, "specification:cold"), "ruled out: is for another ambient temperature: up to 10 °C")
	mustContain(t, "hot", verdicts(r, q, "specification:hot"), "chosen")
}

// A specification in a superseded edition is not the answer.
func TestSpecificationInSupersededEdition(t *testing.T) {
	r := specShop(t, func(t *catalog.Tables) {
		t.Publications = append(t.Publications, catalog.Publication{ID: "M3", Class: catalog.Maintenance, Supersedes: []string{"M1"}})
		t.Specifications = append(t.Specifications, catalog.Specification{ID: "new", Quantity: "idle speed", Value: "875", Publication: "M3"})
	})
	q := spec("idle speed", aT440)
	if got, want := ask(t, r, q), "found: new in M3"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	mustContain(t, "old", verdicts(r, q, "specification:K4"), "ruled out: its publication is superseded by M3")
}

// A bulletin can change a value.
func TestSpecificationAndBulletin(t *testing.T) {
	r := specShop(t, bulletins(replaces(bulletin("B1", "2019-01"), target("specification", "K4")), amends(bulletin("B2", "2019-01"), target("publication", "M1"))))
	check(t, r, []question{
		{"replaced", spec("idle speed", aT440), "found: B1 instead of K4 in M1, see B2"},
		{"its publication amended", under(spec("engine oil capacity", aT440), "without filter"), "found: without in M1, see B2"},
	})
}
