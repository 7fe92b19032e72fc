package resolver_test

import (
	"testing"

	"rightpage/banks/catalog"
)

func TestSupersededEdition(t *testing.T) {
	newer := func(class catalog.Class, ranges ...catalog.Range) catalog.Publication {
		p := brakeBook("R2", ranges...)
		p.Class, p.Supersedes = class, []string{"R1"}
		return p
	}
	q := job("replace brake disc", built("T440", "2018-05"))
	for _, c := range []struct {
		name  string
		newer catalog.Publication
		want  string
	}{
		{"both would apply: the newer takes its place", newer(catalog.Repair), "found: J2 in R2"},
		{"the newer does not apply: the older stands", newer(catalog.Repair, dates("2018-06", "")), "found: J1 in R1"},
		{"the newer applies perhaps: both are candidates", newer(catalog.Repair, dates("2018-05-15", "")), "ambiguous: J1 in R1; perhaps J2 in R2"},
		{"one of another class takes no place", newer(catalog.Maintenance), "found: J1 in R1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := shop(t, publications(brakeBook("R1"), c.newer), procedures(brakeDisc("J1", "R1"), brakeDisc("J2", "R2")))
			if got := ask(t, r, q); got != c.want {
				t.Errorf("got %s, want %s", got, c.want)
			}
		})
	}
}

// A superseded edition is ruled out even where the newer one does not hold the
// job: the literature has withdrawn it.
func TestSupersededEditionIsNotUsedForWhatTheNewerLacks(t *testing.T) {
	newer := brakeBook("R2")
	newer.Supersedes = []string{"R1"}
	r := shop(t, publications(brakeBook("R1"), newer), procedures(brakeDisc("J1", "R1")))
	q := job("replace brake disc", aT440)
	if got, want := ask(t, r, q), "not covered: location"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	mustContain(t, "R1", verdicts(r, q, "publication:R1"), "superseded by R2")
}

func TestChainOfSupersession(t *testing.T) {
	second, third := brakeBook("R2"), brakeBook("R3")
	second.Supersedes, third.Supersedes = []string{"R1"}, []string{"R2"}
	r := shop(t, publications(brakeBook("R1"), second, third),
		procedures(brakeDisc("J1", "R1"), brakeDisc("J2", "R2"), brakeDisc("J3", "R3")))
	if got, want := ask(t, r, job("replace brake disc", aT440)), "found: J3 in R3"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestReplacedProcedure(t *testing.T) {
	with := func(change func(p *catalog.Procedure)) catalog.Procedure {
		p := brakeDisc("J2", "R1")
		p.Replaces = []string{"J1"}
		change(&p)
		return p
	}
	for _, c := range []struct {
		name  string
		newer catalog.Procedure
		want  string
	}{
		{"in the same book", with(func(*catalog.Procedure) {}), "found: J2 in R1"},
		{"for other models", with(func(p *catalog.Procedure) { p.AppliesTo = "T41*" }), "found: J1 in R1"},
		{"for some of the vehicles in question", with(func(p *catalog.Procedure) { p.Effectivity = catalog.Effectivity{serials(300, 0)} }),
			"ambiguous: J1 in R1; perhaps J2 in R1"},
		{"in a book that does not apply", with(func(p *catalog.Procedure) { p.Publication = "R9" }), "found: J1 in R1"},
		{"in another book that applies", with(func(p *catalog.Procedure) { p.Publication = "R2" }), "found: J2 in R2"},
		{"one that is for another job takes its place all the same", with(func(p *catalog.Procedure) { p.Component = "brake hose" }),
			"not covered: location"},
	} {
		t.Run(c.name, func(t *testing.T) {
			other := brakeBook("R9")
			other.AppliesTo = "T410"
			r := shop(t, publications(brakeBook("R1"), brakeBook("R2"), other), procedures(brakeDisc("J1", "R1"), c.newer))
			q := job("replace brake disc", aT440)
			if got := ask(t, r, q); got != c.want {
				t.Errorf("got %s, want %s", got, c.want)
			}
		})
	}
}

// Where the edition is not settled, a page of it that another page of the same
// edition replaces cannot be the answer all the same.
func TestReplacedProcedureOfAnEditionThatIsNotSettled(t *testing.T) {
	newer := brakeDisc("J2", "R1")
	newer.Replaces = []string{"J1"}
	r := shop(t, publications(brakeBook("R1", dates("", "2018-05-14")), brakeBook("R3", dates("2018-05-15", ""))),
		procedures(brakeDisc("J1", "R1"), newer, brakeDisc("J3", "R3")))
	if got, want := ask(t, r, job("replace brake disc", built("T440", "2018-05"))), "ambiguous: perhaps J2 in R1; perhaps J3 in R3"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}
