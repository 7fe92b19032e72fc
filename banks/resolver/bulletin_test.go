package resolver_test

import (
	"testing"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

func bulletin(id, issued string, ranges ...catalog.Range) catalog.Bulletin {
	return catalog.Bulletin{ID: id, Issued: day(issued), Subject: "Brake disc", Effectivity: ranges}
}

func amends(b catalog.Bulletin, targets ...catalog.Target) catalog.Bulletin {
	b.Amends = targets
	return b
}

func replaces(b catalog.Bulletin, targets ...catalog.Target) catalog.Bulletin {
	b.Replaces = targets
	return b
}

func target(table, key string) catalog.Target { return catalog.Target{Table: table, Key: key} }

func TestBulletin(t *testing.T) {
	j1, r1 := target("procedure", "J1"), target("publication", "R1")
	for _, c := range []struct {
		name string
		b    []catalog.Bulletin
		want string
	}{
		{"amends: the record stands", []catalog.Bulletin{amends(bulletin("B1", "2019-01"), j1)}, "found: J1 in R1, see B1"},
		{"replaces: the bulletin is the place", []catalog.Bulletin{replaces(bulletin("B1", "2019-01"), j1)}, "found: B1 instead of J1 in R1"},
		{"names the publication", []catalog.Bulletin{amends(bulletin("B1", "2019-01"), r1)}, "found: J1 in R1, see B1"},
		{"names another procedure", []catalog.Bulletin{replaces(bulletin("B1", "2019-01"), target("procedure", "J9"))}, "found: J1 in R1"},
		{"not for this one", []catalog.Bulletin{replaces(bulletin("B1", "2019-01", dates("", "2018-04")), j1)}, "found: J1 in R1"},
		{"for this one, just", []catalog.Bulletin{replaces(bulletin("B1", "2019-01", dates("", "2018-05")), j1)}, "found: B1 instead of J1 in R1"},
		{"of two that replace the one issued last counts", []catalog.Bulletin{
			replaces(bulletin("B1", "2019-02"), j1), replaces(bulletin("B2", "2019-01"), j1)}, "found: B1 instead of J1 in R1, see B2"},
		{"issued on the same day: the greater number", []catalog.Bulletin{
			replaces(bulletin("B1", "2019-01"), j1), replaces(bulletin("B2", "2019-01"), j1)}, "found: B2 instead of J1 in R1, see B1"},
		{"a day is later than the month that holds its first", []catalog.Bulletin{
			replaces(bulletin("B1", "2019-01-02"), j1), replaces(bulletin("B2", "2019-01"), j1)}, "found: B1 instead of J1 in R1, see B2"},
		{"an amendment beside a replacement", []catalog.Bulletin{
			replaces(bulletin("B1", "2019-01"), j1), amends(bulletin("B2", "2018-01"), j1)}, "found: B1 instead of J1 in R1, see B2"},
		{"replaces, for a part of what it may be", []catalog.Bulletin{replaces(bulletin("B1", "2019-01", serials(300, 0)), j1)},
			"ambiguous: perhaps B1 instead of J1 in R1; perhaps J1 in R1"},
		{"amends, for a part of what it may be: the place is certain", []catalog.Bulletin{amends(bulletin("B1", "2019-01", serials(300, 0)), j1)},
			"found: J1 in R1, see B1 perhaps"},
		{"may be replaced, but for certain by a later one", []catalog.Bulletin{
			replaces(bulletin("B1", "2019-01", serials(300, 0)), j1), replaces(bulletin("B2", "2019-02"), j1)},
			"found: B2 instead of J1 in R1, see B1 perhaps"},
		{"replaced for certain, and perhaps by a later one", []catalog.Bulletin{
			replaces(bulletin("B1", "2019-02", serials(300, 0)), j1), replaces(bulletin("B2", "2019-01"), j1)},
			"ambiguous: perhaps B1 instead of J1 in R1; perhaps B2 instead of J1 in R1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := shop(t, publications(brakeBook("R1")), procedures(brakeDisc("J1", "R1")), bulletins(c.b...))
			if got := ask(t, r, job("replace brake disc", built("T440", "2018-05"))); got != c.want {
				t.Errorf("got %s, want %s", got, c.want)
			}
		})
	}
}

// A bulletin has a keying unit of its own: one for an engine is found for a job
// that is keyed by the model.
func TestBulletinKeyedByAnotherUnit(t *testing.T) {
	b := amends(bulletin("B1", "2019-01"), target("procedure", "J1"))
	b.KeyedBy, b.AppliesTo = "engine", "K4"
	r := shop(t, publications(brakeBook("R1")), procedures(brakeDisc("J1", "R1")), bulletins(b))
	check(t, r, []question{
		{"engine of the data card", job("replace brake disc", aT440), "found: J1 in R1, see B1"},
		{"another engine", job("replace brake disc", resolver.Vehicle{Model: "T410"}), "found: J1 in R1"},
		{"two cards, one with the engine", job("replace brake disc", resolver.Vehicle{Model: "T420"}), "found: J1 in R1, see B1 perhaps"},
	})
}

func TestBulletinNamesOperationAndService(t *testing.T) {
	with := func(b catalog.Bulletin) *resolver.Resolver {
		return shop(t, publications(catalog.Publication{ID: "M1", Class: catalog.Maintenance}), func(t *catalog.Tables) {
			t.Operations = []catalog.Operation{{Number: "110", Publication: "M1"}, {Number: "120", Publication: "M1"}}
			t.Schedule = []catalog.Service{{Name: "S250", Operations: []string{"110", "120"}}}
		}, bulletins(b))
	}
	q := job("S250", aT440)
	for _, c := range []struct {
		name string
		b    catalog.Bulletin
		want string
	}{
		{"an operation", replaces(bulletin("B1", "2019-01"), target("operation", "120")), "found: 110 in M1; B1 instead of 120 in M1"},
		{"a service", amends(bulletin("B1", "2019-01"), target("service", "S250")), "found: 110 in M1, see B1; 120 in M1, see B1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := ask(t, with(c.b), q); got != c.want {
				t.Errorf("got %s, want %s", got, c.want)
			}
		})
	}
}

func TestTraceExplainsBulletins(t *testing.T) {
	j1 := target("procedure", "J1")
	r := shop(t, publications(brakeBook("R1")), procedures(brakeDisc("J1", "R1")), bulletins(
		replaces(bulletin("B1", "2019-02"), j1), replaces(bulletin("B2", "2019-01"), j1), amends(bulletin("B3", "2019-01", dates("", "2017")), j1)))
	q := job("replace brake disc", built("T440", "2018-05"))
	mustContain(t, "B1", verdicts(r, q, "bulletin:B1"), "chosen: replaces it, issued 2019-02")
	mustContain(t, "B2", verdicts(r, q, "bulletin:B2"), "ruled out: replaces it, but a later bulletin does so too")
	mustContain(t, "B3", verdicts(r, q, "bulletin:B3"), "ruled out: applies through 2017")
}
