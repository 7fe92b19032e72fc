package resolver_test

import (
	"strings"
	"testing"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// cardShop has one book for everything, so that only the vehicle decides.
func cardShop(t *testing.T, with ...func(*catalog.Tables)) *resolver.Resolver {
	book := func(id, unit string, p catalog.Pattern) catalog.Publication {
		return catalog.Publication{ID: id, Class: catalog.Repair, KeyedBy: unit, AppliesTo: p}
	}
	return shop(t, append([]func(*catalog.Tables){
		publications(book("R1", "engine", "K3"), book("R2", "engine", "K4"), book("R3", "engine", "K2"), brakeBook("RB")),
		procedures(fuelFilter("K3", "R1"), fuelFilter("K4", "R2"), fuelFilter("K2", "R3"), brakeDisc("JB", "RB")),
	}, with...)...)
}

func TestReadingTheChassisNumber(t *testing.T) {
	r := cardShop(t)
	good := number(t, r, "T420", "J", 1234) // of 2018, in the middle of which the engine changed
	wrong := good[:8] + string('0'+(good[8]-'0'+1)%10) + good[9:]
	check(t, r, []question{
		{"model and year", job("replace fuel filter", resolver.Vehicle{Chassis: good}), "ambiguous: perhaps K3 in R1; perhaps K4 in R2"},
		{"in small letters and with spaces", job("replace brake disc", resolver.Vehicle{Chassis: strings.ToLower(good[:4] + " " + good[4:])}), "found: JB in RB"},
		{"the build date settles what the year leaves open", job("replace fuel filter", resolver.Vehicle{Chassis: good, Built: day("2018-07")}), "found: K4 in R2"},
		{"a year before the change", job("replace fuel filter", resolver.Vehicle{Chassis: number(t, r, "T420", "H", 1234)}), "found: K3 in R1"},
		{"a year after the change", job("replace fuel filter", resolver.Vehicle{Chassis: number(t, r, "T420", "K", 1234)}), "found: K4 in R2"},
		{"a build date of another year contradicts the number", job("replace fuel filter", resolver.Vehicle{Chassis: good, Built: day("2017-07")}), "not covered: read code"},
		{"wrong check digit", job("replace brake disc", resolver.Vehicle{Chassis: wrong}), "not covered: read code"},
		{"a character too few", job("replace brake disc", resolver.Vehicle{Chassis: good[1:]}), "not covered: read code"},
		{"a year that the table lacks", job("replace brake disc", resolver.Vehicle{Chassis: good[:9] + "G" + good[10:]}), "not covered: read code"},
		{"a model that no card has", job("replace brake disc", resolver.Vehicle{Chassis: number(t, r, "T999", "J", 1)}), "not covered: read code"},
		{"with the model code, the same", job("replace brake disc", resolver.Vehicle{Chassis: good, Model: "T420"}), "found: JB in RB"},
		{"with another model code", job("replace brake disc", resolver.Vehicle{Chassis: good, Model: "T440"}), "not covered: read code"},
		{"with the serial, the same", job("replace brake disc", resolver.Vehicle{Chassis: good, Serial: 1234}), "found: JB in RB"},
		{"with another serial", job("replace brake disc", resolver.Vehicle{Chassis: good, Serial: 1235}), "not covered: read code"},
	})
	q := job("replace brake disc", resolver.Vehicle{Chassis: wrong})
	mustContain(t, "check digit", verdicts(r, q, "scheme:TF"), "ruled out")
	mustContain(t, "check digit", verdicts(r, q, "scheme:TF"), "check digit")
}

func TestDataCard(t *testing.T) {
	r := cardShop(t)
	check(t, r, []question{
		{"last month of the first card", job("replace fuel filter", built("T420", "2018-06")), "found: K3 in R1"},
		{"first month of the second", job("replace fuel filter", built("T420", "2018-07")), "found: K4 in R2"},
		{"a model with one card", job("replace fuel filter", aT440), "found: K4 in R2"},
		{"model code in other spelling", job("replace fuel filter", resolver.Vehicle{Model: "t-440"}), "found: K4 in R2"},
		{"an engine that the card does not have", job("replace fuel filter", resolver.Vehicle{Model: "T420", Built: day("2018-07"), Engine: "K3"}), "not covered: data card"},
		{"a gearbox that the card does not have", job("replace fuel filter", resolver.Vehicle{Model: "T440", Transmission: "G8"}), "not covered: data card"},
		{"the engine at hand stands where its number is given", job("replace fuel filter", resolver.Vehicle{Model: "T420", Engine: "K3 77"}), "found: K3 in R1"},
		{"a model code that there is not", job("replace fuel filter", resolver.Vehicle{Model: "T444"}), "not covered: read code"},
		{"the sales name is no code", job("replace fuel filter", resolver.Vehicle{Model: "Heron 44"}), "not covered: read code"},
	})
	q := job("replace fuel filter", built("T420", "2018-07"))
	mustContain(t, "card", verdicts(r, q, "model:T420"), "ruled out: its card applies through 2018-06")
	mustContain(t, "card", verdicts(r, q, "model:T420"), "chosen: its card applies from 2018-07")
}

// A serial narrows the cards, and a card's serials stand where none is given.
func TestDataCardBySerial(t *testing.T) {
	r := cardShop(t, func(t *catalog.Tables) {
		t.Models = []catalog.Model{
			{Code: "T500", Engine: "K3", Range: serials(1, 4999)},
			{Code: "T500", Engine: "K4", Range: serials(5000, 0)},
		}
		t.Publications = append(t.Publications, catalog.Publication{ID: "RX", Class: catalog.Maintenance, Effectivity: catalog.Effectivity{serials(5000, 0)}})
		t.Procedures = append(t.Procedures, catalog.Procedure{ID: "JX", Action: "check", Component: "brake disc", Publication: "RX"})
	})
	check(t, r, []question{
		{"last serial of the first card", job("replace fuel filter", serial("T500", 4999)), "found: K3 in R1"},
		{"first serial of the second", job("replace fuel filter", serial("T500", 5000)), "found: K4 in R2"},
		{"no serial", job("replace fuel filter", resolver.Vehicle{Model: "T500"}), "ambiguous: perhaps K3 in R1; perhaps K4 in R2"},
		{"the engine tells the card, and the card the serials", job("check brake disc", resolver.Vehicle{Model: "T500", Engine: "K4"}), "found: JX in RX"},
		{"and the other one", job("check brake disc", resolver.Vehicle{Model: "T500", Engine: "K3"}), "not covered: edition"},
	})
}

// A code that has several meanings in the build dates in question is not read
// as the first of them.
func TestCodeWithSeveralMeanings(t *testing.T) {
	value := func(means, from, through string) catalog.SchemeField {
		return catalog.SchemeField{Scheme: "KN", Kind: "engine", Field: "engine", Value: "KX", Means: means, Range: dates(from, through)}
	}
	r := cardShop(t, func(t *catalog.Tables) {
		t.Schemes = append(t.Schemes, value("K3", "", "2018-06"), value("K4", "2018-07", ""))
	})
	check(t, r, []question{
		{"before the change", job("replace fuel filter", resolver.Vehicle{Engine: "KX 1", Built: day("2018-06")}), "found: K3 in R1"},
		{"after it", job("replace fuel filter", resolver.Vehicle{Engine: "KX 1", Built: day("2018-07")}), "found: K4 in R2"},
		{"not known", job("replace fuel filter", resolver.Vehicle{Engine: "KX 1"}), "ambiguous: perhaps K2 in R3; perhaps K3 in R1; perhaps K4 in R2"},
		{"the data card settles it", job("replace fuel filter", resolver.Vehicle{Model: "T440", Engine: "KX 1"}), "found: K4 in R2"},
	})
}

// Two schemes may read the same number: each reading is followed.
func TestTwoSchemesReadTheNumber(t *testing.T) {
	field := func(scheme, name string, first, length int) catalog.SchemeField {
		return catalog.SchemeField{Scheme: scheme, Kind: "chassis", Field: name, First: first, Length: length}
	}
	r := cardShop(t, func(t *catalog.Tables) {
		t.Schemes = append(t.Schemes, field("A", "model", 1, 4), field("A", "batch", 5, 4), field("B", "batch", 1, 4), field("B", "model", 5, 4))
	})
	check(t, r, []question{
		{"only one makes sense of it", job("replace fuel filter", resolver.Vehicle{Chassis: "T4401234"}), "found: K4 in R2"},
		{"both do", job("replace fuel filter", resolver.Vehicle{Chassis: "T440T410"}), "ambiguous: perhaps K2 in R3; perhaps K4 in R2"},
	})
}

// The plate alone: which data card.
func TestPlateAlone(t *testing.T) {
	r := cardShop(t)
	for _, c := range []struct {
		name string
		v    resolver.Vehicle
		want resolver.Status
	}{
		{"one card", aT440, resolver.Found},
		{"two cards", resolver.Vehicle{Model: "T420"}, resolver.Ambiguous},
		{"told apart by the date", built("T420", "2018-07"), resolver.Found},
		{"none", resolver.Vehicle{Model: "T440", Engine: "K2"}, resolver.NotCovered},
	} {
		t.Run(c.name, func(t *testing.T) {
			a, _ := r.Explain(&resolver.Query{Vehicle: c.v, Task: resolver.CardTask}, resolver.Break{})
			if a.Status != c.want || len(a.Items) != 0 {
				t.Errorf("got %s with %d places, want %s with none", a.Status, len(a.Items), c.want)
			}
		})
	}
}
