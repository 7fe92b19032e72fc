package resolver_test

import (
	"encoding/json"
	"testing"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// Each slip changes the answer in the way that its text says: beside the right
// answer stands what somebody finds who makes it. Both were worked by hand.
type slipCase struct {
	name         string
	slip         resolver.Break
	r            *resolver.Resolver
	q            *resolver.Query
	right, wrong string
}

func slipCases(t *testing.T) []slipCase {
	brk := func(s resolver.Slip, variant int) resolver.Break { return resolver.Break{Slip: s, Variant: variant} }
	book := func(id string, class catalog.Class, unit string, p catalog.Pattern, groups ...string) catalog.Publication {
		return catalog.Publication{ID: id, Class: class, KeyedBy: unit, AppliesTo: p, Groups: groups}
	}
	proc := func(id, action, component, pub string) catalog.Procedure {
		return catalog.Procedure{ID: id, Action: action, Component: component, Publication: pub}
	}

	byModel := []func(*catalog.Tables){
		publications(book("R1", catalog.Repair, "model", "T410"), book("R2", catalog.Repair, "model", "T420"), book("R4", catalog.Repair, "model", "T440"),
			book("RA", catalog.Repair, "model", "A9")),
		procedures(brakeDisc("J1", "R1"), brakeDisc("J2", "R2"), brakeDisc("J4", "R4"), brakeDisc("JA", "RA")),
	}
	named := shop(t, append(byModel, func(t *catalog.Tables) {
		t.Models = append(t.Models, catalog.Model{Code: "A9", SalesName: "T 440", Engine: "K4"})
	})...)
	digits := shop(t, append(byModel, func(t *catalog.Tables) {
		value := func(v, means string) catalog.SchemeField {
			return catalog.SchemeField{Scheme: "S", Kind: "chassis", Field: "model", Value: v, Means: means}
		}
		t.Schemes = []catalog.SchemeField{
			{Scheme: "S", Kind: "chassis", Field: "plant", First: 1, Length: 1},
			{Scheme: "S", Kind: "chassis", Field: "model", First: 2, Length: 1}, value("A", "T410"), value("B", "T440"),
			{Scheme: "S", Kind: "chassis", Field: "body", First: 3, Length: 1},
			{Scheme: "S", Kind: "chassis", Field: "serial", First: 4, Length: 0},
		}
	})...)
	plain := shop(t, byModel...)
	keyed := shop(t, publications(book("RE", catalog.Repair, "engine", ""), book("RM", catalog.Repair, "model", "", "21")),
		procedures(fuelFilter("JE", "RE"), fuelFilter("JM", "RM")))
	siblings := shop(t, publications(book("R41", catalog.Repair, "model", "", "41"), book("R42", catalog.Repair, "model", "", "42")),
		procedures(proc("brake", "replace", "brake cable", "R41"), proc("steering", "replace", "steering cable", "R42")))
	parts := shop(t, publications(book("R", catalog.Repair, "engine", "")),
		procedures(proc("valve", "replace", "delivery valve", "R"), proc("pump", "replace", "injection pump", "R")))
	editions := shop(t, publications(brakeBook("R1", dates("", "2018-03")), brakeBook("R2", dates("2018-04", "2019-03")), brakeBook("R3", dates("2019-04", ""))),
		procedures(brakeDisc("J1", "R1"), brakeDisc("J2", "R2"), brakeDisc("J3", "R3")))
	bySerial := shop(t, publications(brakeBook("R1", serials(0, 4999)), brakeBook("R2", serials(5000, 0))), procedures(brakeDisc("J1", "R1"), brakeDisc("J2", "R2")))
	newer := brakeBook("R2")
	newer.Supersedes = []string{"R1"}
	superseded := shop(t, publications(brakeBook("R1"), newer), procedures(brakeDisc("J1", "R1"), brakeDisc("J2", "R2")))
	amended := shop(t, publications(brakeBook("R1")), procedures(brakeDisc("J1", "R1")),
		bulletins(replaces(bulletin("B1", "2019-01"), target("procedure", "J1")), amends(bulletin("B2", "2019-02"), target("publication", "R1"))))
	classes := shop(t, publications(book("R1", catalog.Repair, "model", ""), book("M1", catalog.Maintenance, "model", "")),
		procedures(brakeDisc("J1", "R1"), proc("JM", "check", "brake disc", "M1")))
	services := serviceShop(t)
	sooner := serviceShop(t, func(t *catalog.Tables) {
		t.Schedule = []catalog.Service{{Name: "B", First: hours(100), Every: hours(500), Operations: []string{"110"}}}
	})
	specs, diagnosis := specShop(t), diagnosisShop(t)

	disc := func(v resolver.Vehicle) *resolver.Query { return job("replace brake disc", v) }
	done := func(q *resolver.Query, service string, at catalog.Counters) *resolver.Query {
		q.Due.Done = map[string]catalog.Counters{service: at}
		return q
	}
	return []slipCase{
		{"the name on the bonnet looks like another code", brk(resolver.SalesNameAsCode, 0), named, disc(resolver.Vehicle{Model: "A9"}), "found: JA in RA", "found: J4 in R4"},
		{"one position to the right", brk(resolver.WrongDigits, 0), digits, disc(resolver.Vehicle{Chassis: "7AB123"}), "found: J1 in R1", "found: J4 in R4"},
		{"one position to the left, where no model can stand", brk(resolver.WrongDigits, 1), digits, disc(resolver.Vehicle{Chassis: "7AB123"}), "found: J1 in R1", "not covered: read code"},
		{"the next card", brk(resolver.NeighbourCard, 0), plain, disc(resolver.Vehicle{Model: "T410"}), "found: J1 in R1", "found: J2 in R2"},
		{"the card before", brk(resolver.NeighbourCard, 1), plain, disc(aT440), "found: J4 in R4", "found: J2 in R2"},
		{"by the model, though the engine keys it", brk(resolver.ModelForEngine, 0), keyed, job("replace fuel filter", aT440), "found: JE in RE", "found: JM in RM"},
		{"the cable of the group beside it", brk(resolver.SiblingGroup, 0), siblings, job("replace brake cable", aT440), "found: brake in R41", "found: steering in R42"},
		{"the whole for the part", brk(resolver.ParentForComponent, 0), parts, job("replace delivery valve", aT440), "found: valve in R", "found: pump in R"},
		{"the part for the whole", brk(resolver.ParentForComponent, 0), parts, job("replace injection pump", aT440), "found: pump in R", "found: valve in R"},
		{"from for through", brk(resolver.WrongSideLimit, 0), bySerial, disc(serial("T440", 100)), "found: J1 in R1", "found: J2 in R2"},
		{"the month of the limit taken for one beyond it", brk(resolver.LimitOffByOne, 0), editions, disc(built("T440", "2018-03")), "found: J1 in R1", "found: J2 in R2"},
		{"the month after it taken for the limit", brk(resolver.LimitOffByOne, 1), editions, disc(built("T440", "2018-04")), "found: J2 in R2", "found: J1 in R1"},
		{"the serial of the limit", brk(resolver.LimitOffByOne, 0), bySerial, disc(serial("T440", 4999)), "found: J1 in R1", "found: J2 in R2"},
		{"away from the limit it does no harm", brk(resolver.LimitOffByOne, 0), editions, disc(built("T440", "2018-09")), "found: J2 in R2", "found: J2 in R2"},
		{"the superseded one", brk(resolver.SupersededEdition, 0), superseded, disc(aT440), "found: J2 in R2", "found: J1 in R1"},
		{"the edition before", brk(resolver.SupersededEdition, 1), editions, disc(built("T440", "2018-09")), "found: J2 in R2", "found: J1 in R1"},
		{"the edition after", brk(resolver.SupersededEdition, 2), editions, disc(built("T440", "2018-09")), "found: J2 in R2", "found: J3 in R3"},
		{"no look at bulletins", brk(resolver.BulletinIgnored, 0), amended, disc(aT440), "found: B1 instead of J1 in R1, see B2", "found: J1 in R1"},
		{"maintenance literature for a repair", brk(resolver.WrongClass, 0), classes, disc(aT440), "found: J1 in R1", "found: JM in M1"},
		{"every interval from new, the first service too", brk(resolver.WrongZero, 0), sooner, dueAt(hours(500), hours(490)), "not covered: component", "found: 110 in M1"},
		{"from new, though it was done since", brk(resolver.WrongZero, 0), services, done(dueAt(hours(251), hours(249)), "S250", hours(200)), "not covered: component", "found: 120 in M1; 130 in M1"},
		{"from the last reading", brk(resolver.WrongZero, 1), services, dueAt(hours(500), hours(400)), "found: 120 in M1; 130 in M1", "not covered: component"},
		{"hours alone", brk(resolver.OneCounter, 0), services, dueAt(hoursMonths(100, 12), hoursMonths(60, 11)), "found: 120 in M1; 130 in M1", "not covered: component"},
		{"months alone", brk(resolver.OneCounter, 1), services, dueAt(hoursMonths(250, 6), hoursMonths(240, 5)), "found: 120 in M1; 130 in M1", "not covered: component"},
		{"another band", brk(resolver.WrongAmbient, 0), specs, at(spec("engine oil viscosity", aT440), 31), "found: hot in M1", "found: cold in M1"},
		{"the other wrong band", brk(resolver.WrongAmbient, 1), specs, at(spec("engine oil viscosity", aT440), 31), "found: hot in M1", "found: mild in M1"},
		// 20 °C is 68 °F: exact conversion, NIST SP 811.
		{"degrees Fahrenheit for degrees Celsius", brk(resolver.UnitMixed, 0), specs, at(spec("engine oil viscosity", aT440), 20), "found: mild in M1", "found: hot in M1"},
		{"right for left", brk(resolver.OtherSide, 0), diagnosis, onSide(complaint("pulls to one side"), "left"), "found: 6/1 left in D1", "found: 6/1 right in D1"},
		{"the chapter, but not the step", brk(resolver.ChapterForStep, 0), diagnosis, after(complaint("engine does not start"), "", "2", resolver.Failed), "found: 4/2a in D1; 4/3 in D1", "found: 4/1 in D1"},
		{"chapter 10 taken for step 10", brk(resolver.ChapterForStep, 1), diagnosis, after(complaint("engine does not start"), "", "3", resolver.Failed), "found: 10/1 in D1", "found: 4/10 in D1"},
	}
}

func TestSlipChangesTheAnswerAsItsTextSays(t *testing.T) {
	shown := map[resolver.Slip]bool{}
	for _, c := range slipCases(t) {
		shown[c.slip.Slip] = true
		t.Run(c.slip.Slip.String()+"/"+c.name, func(t *testing.T) {
			if got := ask(t, c.r, c.q); got != c.right {
				t.Errorf("without the slip\n got %s\nwant %s", got, c.right)
			}
			if got := askBroken(t, c.r, c.q, c.slip); got != c.wrong {
				t.Errorf("somebody who %s\n got %s\nwant %s", c.slip.Slip.Does(), got, c.wrong)
			}
		})
	}
	for _, s := range resolver.Slips() {
		if !shown[s] {
			t.Errorf("no test shows the slip %q", s)
		}
	}
}

// What is taught after a wrong answer needs a name, a text and a step; the names
// stand in bank files and must be read back.
func TestSlipsAreNamed(t *testing.T) {
	names := map[string]bool{}
	for _, s := range resolver.Slips() {
		if s.String() == "" || s.Does() == "" || s.NextTime() == "" || s.Variants() < 1 {
			t.Errorf("slip %d: name %q, does %q, next time %q, %d variants", s, s, s.Does(), s.NextTime(), s.Variants())
		}
		if names[s.String()] {
			t.Errorf("two slips are called %q", s)
		}
		names[s.String()] = true
		b, err := json.Marshal(s)
		if err != nil {
			t.Fatal(err)
		}
		var back resolver.Slip
		if err := json.Unmarshal(b, &back); err != nil || back != s {
			t.Errorf("%s reads back as %v (%v)", b, back, err)
		}
	}
	var s resolver.Slip
	if err := s.UnmarshalText([]byte("slip of the tongue")); err == nil {
		t.Error("a slip that there is not was read")
	}
}

// No slip at all, in any variant, is the right answer.
func TestNoSlipHasNoVariants(t *testing.T) {
	for _, c := range slipCases(t) {
		if got := askBroken(t, c.r, c.q, resolver.Break{Variant: 3}); got != c.right {
			t.Errorf("%s: got %s, want %s", c.name, got, c.right)
		}
	}
}
