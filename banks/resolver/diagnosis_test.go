package resolver_test

import (
	"testing"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// A diagnosis manual with three chapters: one with a step that forks, one with
// left and right, and one to go on to.
func diagnosisShop(t *testing.T, with ...func(*catalog.Tables)) *resolver.Resolver {
	step := func(chapter, number string, change func(*catalog.TestStep)) catalog.TestStep {
		s := catalog.TestStep{Publication: "D1", Chapter: chapter, Step: number, Tests: "step " + number}
		if change != nil {
			change(&s)
		}
		return s
	}
	fails := func(chapter string, steps ...string) func(*catalog.TestStep) {
		return func(s *catalog.TestStep) { s.FailChapter, s.FailSteps = chapter, steps }
	}
	sided := func(side string, then func(*catalog.TestStep)) func(*catalog.TestStep) {
		return func(s *catalog.TestStep) {
			s.Side = side
			if then != nil {
				then(s)
			}
		}
	}
	return shop(t, append([]func(*catalog.Tables){
		publications(catalog.Publication{ID: "D1", Class: catalog.Diagnosis}, catalog.Publication{ID: "D9", Class: catalog.Diagnosis, AppliesTo: "T41*"}),
		func(t *catalog.Tables) {
			t.Guide = []catalog.GuideEntry{
				{System: "fuel supply", Complaints: []catalog.Synonym{{Term: "engine does not start"}, {Term: "loss of power"}}, Publication: "D1", Section: "4"},
				{System: "brakes", Complaints: []catalog.Synonym{{Term: "pulls to one side"}}, Publication: "D1", Section: "6"},
				{System: "starter", Complaints: []catalog.Synonym{{Term: "engine does not turn"}}, KeyedBy: "engine", AppliesTo: "K4", Publication: "D1", Section: "10"},
				{System: "starter", Complaints: []catalog.Synonym{{Term: "engine does not turn"}}, KeyedBy: "engine", AppliesTo: "K2;K3", Publication: "D1", Section: "4"},
				{System: "fuel supply", Complaints: []catalog.Synonym{{Term: "loss of power"}}, Publication: "D9", Section: "1"},
			}
			t.Tests = []catalog.TestStep{
				step("4", "1", nil), step("4", "2", fails("", "2a", "3")), step("4", "2a", nil), step("4", "3", fails("10")),
				step("4", "10", fails("6", "2")),
				step("6", "1", sided("left", fails("", "2"))), step("6", "1", sided("right", fails("10", "1"))), step("6", "2", nil),
				step("6", "3", sided("left", nil)), step("6", "3", sided("right", nil)),
				step("10", "1", nil), step("10", "2", nil),
			}
		}}, with...)...)
}

func complaint(text string) *resolver.Query {
	return &resolver.Query{Vehicle: aT440, Task: resolver.ComplaintTask, Text: text}
}

func after(q *resolver.Query, chapter, step string, o resolver.Outcome) *resolver.Query {
	q.At, q.Outcome = resolver.StepAt{Chapter: chapter, Step: step}, o
	return q
}

func onSide(q *resolver.Query, side string) *resolver.Query { q.Side = side; return q }

func TestComplaint(t *testing.T) {
	r := diagnosisShop(t)
	start := func() *resolver.Query { return complaint("engine does not start") }
	pulls := func() *resolver.Query { return complaint("pulls to one side") }
	check(t, r, []question{
		{"leads to the first step of its chapter", start(), "found: 4/1 in D1"},
		{"by the system", complaint("fuel supply"), "found: 4/1 in D1"},
		{"misspelt", complaint("engin does not strat"), "found: 4/1 in D1"},
		{"the guide's row for this engine", complaint("engine does not turn"), "found: 10/1 in D1"},
		{"nothing like it", complaint("rattles"), "not covered: component"},
		{"as expected: the next step", after(start(), "", "1", resolver.Passed), "found: 4/2 in D1"},
		{"steps are counted, not spelt: 2, 2a, 3, 10", after(start(), "", "3", resolver.Passed), "found: 4/10 in D1"},
		{"not as expected: the steps it names, each one", after(start(), "", "2", resolver.Failed), "found: 4/2a in D1; 4/3 in D1"},
		{"not as expected: the first of the chapter it names", after(start(), "", "3", resolver.Failed), "found: 10/1 in D1"},
		{"not as expected: a step of another chapter", after(start(), "", "10", resolver.Failed), "found: 6/2 in D1"},
		{"not as expected, and it names nothing: the chapter again", after(start(), "", "1", resolver.Failed), "found: 4/1 in D1"},
		{"in a chapter that the guide does not name", after(start(), "10", "1", resolver.Passed), "found: 10/2 in D1"},
		{"the chapter ends", after(start(), "", "10", resolver.Passed), "not covered: location"},
		{"a step that there is not", after(start(), "", "7", resolver.Failed), "not covered: location"},
		{"left", onSide(pulls(), "left"), "found: 6/1 left in D1"},
		{"right", onSide(pulls(), "right"), "found: 6/1 right in D1"},
		{"which side is not said", pulls(), "ambiguous: 6/1 left in D1; 6/1 right in D1"},
		{"failed on the left", after(onSide(pulls(), "left"), "", "1", resolver.Failed), "found: 6/2 in D1"},
		{"failed on the right", after(onSide(pulls(), "right"), "", "1", resolver.Failed), "found: 10/1 in D1"},
		{"passed on the right", after(onSide(pulls(), "right"), "", "1", resolver.Passed), "found: 6/2 in D1"},
		{"from a step for both sides to one with sides", after(onSide(pulls(), "right"), "", "2", resolver.Passed), "found: 6/3 right in D1"},
	})
	q := after(onSide(pulls(), "left"), "", "2", resolver.Passed)
	mustContain(t, "the other side", verdicts(r, q, "test:D1/6/3"), "ruled out: is for the right side")
}

// Two rows of the guide that fit lead to two tests: both are to be made.
func TestComplaintWithTwoChapters(t *testing.T) {
	r := diagnosisShop(t, func(t *catalog.Tables) {
		t.Guide = append(t.Guide, catalog.GuideEntry{System: "ignition", Complaints: []catalog.Synonym{{Term: "engine does not start"}}, Publication: "D1", Section: "10"})
	})
	if got, want := ask(t, r, complaint("engine does not start")), "found: 10/1 in D1; 4/1 in D1"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestTroubleCode(t *testing.T) {
	r := diagnosisShop(t, func(t *catalog.Tables) {
		t.Schemes = append(t.Schemes, catalog.SchemeField{Scheme: "DM", Kind: "trouble", Field: "code", Pack: catalog.PackJ1939})
		t.TroubleCodes = []catalog.TroubleCode{
			{System: "engine", Code: "1208-3", Publication: "D1"},
			{System: "engine", Code: "120-8", Publication: "D1"},
			{System: "gearbox", Code: "120-8", Publication: "D1"},
			{System: "engine", Code: "P0143", KeyedBy: "engine", AppliesTo: "K2;K3", Publication: "D1"},
			{System: "engine", Code: "P0143", KeyedBy: "engine", AppliesTo: "K4", Effectivity: catalog.Effectivity{serials(500, 0)}, Publication: "D1"},
			{System: "hydraulics", Code: "H-12", Publication: "D1"},
			{System: "brakes", Code: "B7", Publication: "D9"},
		}
	})
	code := func(text, system string) *resolver.Query {
		return &resolver.Query{Vehicle: aT440, Task: resolver.TroubleTask, Text: text, System: system}
	}
	engine := func(q *resolver.Query, number string) *resolver.Query { q.Vehicle.Engine = number; return q }
	check(t, r, []question{
		{"as it stands", code("1208-3", ""), "found: 1208-3 engine in D1"},
		// SAE J1939-73 DM1: SPN 1208, FMI 3, occurrence 10, worked from the bit layout.
		{"from four bytes", code("B8 04 03 0A", ""), "found: 1208-3 engine in D1"},
		{"from four bytes, as a reader writes them", code("0xB8 0x04 0x03 0x0a", ""), "found: 1208-3 engine in D1"},
		{"in words", code("SPN 1208 FMI 3", ""), "found: 1208-3 engine in D1"},
		// ISO 15031-6: 01 43 is P0143.
		{"from two bytes, for the engine at hand", engine(code("01 43", ""), "K4 500"), "found: P0143 engine in D1"},
		{"for another engine", engine(code("P0143", ""), "K4 499"), "not covered: component"},
		{"the engine's serial is not known", code("p0143", ""), "ambiguous: perhaps P0143 engine in D1"},
		{"of two systems", code("120-8", ""), "ambiguous: 120-8 engine in D1; 120-8 gearbox in D1"},
		{"the system is said", code("120-8", "Gearbox"), "found: 120-8 gearbox in D1"},
		{"the system has no such code", code("120-8", "brakes"), "not covered: component"},
		{"a code of the maker's own", code("h12", ""), "found: H-12 hydraulics in D1"},
		{"the digits are not the code: 1208 is none of them", code("1208", ""), "not covered: component"},
		{"120-83 is not 1208-3", code("120-83", ""), "not covered: component"},
		{"a publication for other models", code("B7", ""), "not covered: publication"},
		{"no code stored", code("00 00 00 00", ""), "not covered: component"},
		{"nonsense", code("the red lamp", ""), "not covered: component"},
	})
}

// Bytes that two schemes read as two codes of the table are two answers.
func TestTroubleBytesOfTwoPackings(t *testing.T) {
	with := func(packs ...string) *resolver.Resolver {
		return diagnosisShop(t, func(t *catalog.Tables) {
			for i, p := range packs {
				t.Schemes = append(t.Schemes, catalog.SchemeField{Scheme: string(rune('A' + i)), Kind: "trouble", Field: "code", Pack: p})
			}
			t.TroubleCodes = []catalog.TroubleCode{{System: "old", Code: "8-3", Publication: "D1"}, {System: "new", Code: "2048-3", Publication: "D1"}}
		})
	}
	q := &resolver.Query{Vehicle: aT440, Task: resolver.TroubleTask, Text: "00 01 03 81"} // conversion method 1: version 1 or 2
	for _, c := range []struct {
		name string
		r    *resolver.Resolver
		want string
	}{
		{"version 1", with(catalog.PackJ1939v1), "found: 8-3 old in D1"},
		{"version 2", with(catalog.PackJ1939v2), "found: 2048-3 new in D1"},
		{"either", with(catalog.PackJ1939v1, catalog.PackJ1939v2), "ambiguous: 2048-3 new in D1; 8-3 old in D1"},
		{"not said: cannot be read", with(catalog.PackJ1939), "not covered: component"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := ask(t, c.r, q); got != c.want {
				t.Errorf("got %s, want %s", got, c.want)
			}
		})
	}
}
