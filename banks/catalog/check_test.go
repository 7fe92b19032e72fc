package catalog

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
)

// span reads limits for tests: "2010-01", "2019-12".
func span(t testing.TB, from, through string) Range {
	t.Helper()
	a, err := ParseDate(from)
	if err != nil {
		t.Fatal(err)
	}
	b, err := ParseDate(through)
	if err != nil {
		t.Fatal(err)
	}
	return Range{From: a, Through: b}
}

func during(t testing.TB, from, through string) Effectivity {
	return Effectivity{span(t, from, through)}
}

func serials(from, through int64) Effectivity {
	return Effectivity{{Serials: Serials{From: from, Through: through}}}
}

func number(x float64) *float64 { return &x }

// soundCatalog is a small catalog in which Check finds nothing: two invented
// models with their engines, a repair manual in two editions, a maintenance
// manual, a diagnosis manual and an engine manual.
func soundCatalog(t testing.TB) (Meta, Tables) {
	meta := Meta{
		Title: "Sound", Revision: "1", Issued: "2020-01-15",
		Actions: map[string]Action{
			"replace": {Classes: []Class{Repair}, Synonyms: []string{"renew", "de:erneuern"}},
			"inspect": {Classes: []Class{Maintenance}},
		},
		Jobs:      map[string]Job{"first service": {Service: "A"}},
		Hazards:   map[string]string{"pressure": "Relieve the pressure first."},
		Resembles: [][]string{{"21", "22"}},
	}
	model := func(field, value, means string, first, length int) SchemeField {
		return SchemeField{Scheme: "CH", Kind: KindChassis, Field: field, First: first, Length: length, Value: value, Means: means}
	}
	return meta, Tables{
		Schemes: []SchemeField{
			model("model", "", "", 1, 1), model("model", "4", "TC42", 1, 1), model("model", "5", "TC55", 1, 1),
			model("serial", "", "", 2, 5),
			{Scheme: "MC", Kind: KindModel, Field: "family", First: 1, Length: 2, Value: "TC", Means: "compact"},
			{Scheme: "MC", Kind: KindModel, Field: "size", First: 3, Length: 2},
			{Scheme: "DM", Kind: KindTrouble, Field: "code", Pack: PackJ1939},
		},
		Models: []Model{
			{Code: "TC42", SalesName: "Compact 42", Engine: "E1", Transmission: "G1", Range: span(t, "2010-01", "2019-12")},
			{Code: "TC55", SalesName: "Compact 55", Engine: "E2", Transmission: "G1", Range: span(t, "2012-01", "2019-12")},
		},
		Groups: []Group{
			{Code: "20", Title: "Fuel"}, {Code: "21", Parent: "20", Title: "Filters"}, {Code: "22", Parent: "20", Title: "Tank"},
			{Code: "10", Title: "Engine", KeyedBy: UnitEngine},
		},
		Components: []Component{
			{Term: "fuel filter", Group: "21", Synonyms: []Synonym{{Lang: "de", Term: "Kraftstofffilter"}}},
			{Term: "filter seal", PartOf: "fuel filter"},
			{Term: "fuel tank", Group: "22"},
			{Term: "cylinder head", Group: "10"},
		},
		Publications: []Publication{
			{ID: "RM1", Class: Repair, Series: "RM", Medium: "paper", Groups: []string{"20"}, Effectivity: during(t, "", "2014-06")},
			{ID: "RM2", Class: Repair, Series: "RM", Medium: "paper", Groups: []string{"20"}, Effectivity: during(t, "2014-07", "")},
			{ID: "MM", Class: Maintenance, Medium: "film"},
			{ID: "DG", Class: Diagnosis, Medium: "screen"},
			{ID: "EM", Class: Repair, KeyedBy: UnitEngine, Groups: []string{"10"}},
		},
		Procedures: []Procedure{
			{ID: "P1", Job: "Replace fuel filter", Action: "replace", Component: "fuel filter", Publication: "RM1", Location: Location{Page: "11"}, Hazards: []string{"pressure"}},
			{ID: "P2", Job: "Replace fuel filter", Action: "replace", Component: "fuel filter", Publication: "RM2", Location: Location{Page: "12"}},
			{ID: "P3", Job: "Replace tank", Action: "replace", Component: "fuel tank", Publication: "RM2", Location: Location{Page: "13"}, AppliesTo: "TC55"},
			{ID: "P4", Job: "Replace cylinder head", Action: "replace", Component: "cylinder head", Publication: "EM", Location: Location{Page: "14"}},
		},
		Schedule: []Service{
			{Name: "A", Title: "First service", First: Counters{Hours: 50}, Operations: []string{"100"}},
			{Name: "B", Title: "Service", Every: Counters{Hours: 250}, Operations: []string{"100", "110"}},
		},
		Operations: []Operation{
			{Number: "100", Title: "Drain water", Publication: "MM", Location: Location{Sheet: "1", Frame: "B2"}},
			{Number: "110", Title: "Change oil", Publication: "MM", Location: Location{Sheet: "1", Frame: "B3"}},
		},
		Specifications: []Specification{
			{ID: "S1", Quantity: "engine oil capacity", Value: "6.5", Unit: "L", Publication: "MM", Location: Location{Sheet: "2", Frame: "A1"}},
			{ID: "S2", Quantity: "oil grade", Value: "10W-30", Ambient: Band{number(-10), number(30)}, Publication: "MM", Location: Location{Sheet: "2", Frame: "A2"}},
		},
		Guide: []GuideEntry{{System: "fuel", Complaints: []Synonym{{Term: "no power"}}, Publication: "DG", Section: "4"}},
		Tests: []TestStep{
			{Publication: "DG", Chapter: "4", Step: "1", Tests: "supply", FailChapter: "5", FailSteps: []string{"1"}},
			{Publication: "DG", Chapter: "4", Step: "2", FailSteps: []string{"1"}},
			{Publication: "DG", Chapter: "5", Step: "1", Side: "left"},
		},
		TroubleCodes: []TroubleCode{{System: "engine", Code: "1208-3", Scheme: "DM", Publication: "DG", Location: Location{Section: "4"}}},
		Bulletins:    []Bulletin{{ID: "B1", Issued: Date{Year: 2016}, AppliesTo: "TC42", Amends: []Target{{"procedure", "P2"}, {"test", "DG/4/1"}, {"trouble", "engine/1208-3"}}}},
	}
}

func TestCheckFindsNothingInASoundCatalog(t *testing.T) {
	if r := Check(New(soundCatalog(t))); len(r) > 0 {
		for _, f := range r {
			t.Errorf("%s %s: %v", f.Severity, f.Code, f)
		}
	}
}

// Of the sound catalog's lookups, TC42 has 7: the fuel filter, operations 100
// and 110, two quantities, the system fuel and one trouble code; TC55 has the
// tank besides. E1 and E2 have one each, the cylinder head.

// want is a finding that a test expects: its code, the table and column that it
// is put down to, the lookups it counts, and words that it says.
type want struct {
	code, place string
	lookups     int
	says        string
}

// checkCase is a sound catalog with one change, and the findings that follow;
// none where the change is sound too.
type checkCase struct {
	what   string
	change func(m *Meta, c *Tables)
	want   []want
}

func checkCases(t testing.TB) []checkCase {
	return []checkCase{
		// keys
		{"a record without its key", func(_ *Meta, c *Tables) { c.Publications[2].ID = ""; c.Publications[2].Series = "MM" }, []want{
			{"empty", "publications/publication", 0, "no publication"},
			{"dangling", "operations/publication", 0, `"MM"`}, {"dangling", "operations/publication", 0, `"MM"`},
			{"dangling", "specifications/publication", 2, `"MM"`}, {"dangling", "specifications/publication", 2, `"MM"`},
			{"unused", "publications/publication", 0, "no record"},
			{"unlocated", "schedule/operations", 2, "100"}, {"unlocated", "schedule/operations", 2, "100"}, {"unlocated", "schedule/operations", 2, "110"},
		}},
		{"a procedure twice", func(_ *Meta, c *Tables) {
			p := c.Procedures[2]
			p.Component = "filter seal"
			c.Procedures = append(c.Procedures, p)
		}, []want{{"duplicate", "procedures/procedure", 1, "P3"}}},
		{"a group twice", func(_ *Meta, c *Tables) { c.Groups = append(c.Groups, c.Groups[1]) }, []want{{"duplicate", "groups/group", 0, "21"}}},
		{"an operation twice in one publication", func(_ *Meta, c *Tables) { c.Operations = append(c.Operations, c.Operations[0]) },
			[]want{{"duplicate", "operations/operation", 2, "100 / MM"}}},
		{"an operation in two publications", func(_ *Meta, c *Tables) {
			o := c.Operations[0]
			o.Publication, o.Location = "DG", Location{Section: "1"}
			c.Operations = append(c.Operations, o)
		}, nil},
		{"a test step twice", func(_ *Meta, c *Tables) { c.Tests = append(c.Tests, c.Tests[1]) }, []want{{"duplicate", "tests/step", 4, "2 / DG / 4"}}},
		{"a test step for each side", func(_ *Meta, c *Tables) {
			s := c.Tests[2]
			s.Side = "right"
			c.Tests = append(c.Tests, s)
		}, nil},
		{"a scheme without a name", func(_ *Meta, c *Tables) {
			c.Schemes = append(c.Schemes, SchemeField{Kind: KindPublication, Field: "x", First: 1})
		}, []want{{"empty", "schemes/scheme", 0, "no scheme"}}},

		// words
		{"a class that there is not", func(_ *Meta, c *Tables) { c.Publications[3].Class = "trouble" }, []want{{"word", "publications/class", 4, `"trouble"`}}},
		{"a class in catalog.yaml", func(m *Meta, _ *Tables) { m.Actions["inspect"] = Action{Classes: []Class{"upkeep"}} },
			[]want{{"word", "catalog.yaml/actions.inspect", 0, `"upkeep"`}}},
		{"a service of another class", func(_ *Meta, c *Tables) { c.Schedule[0].Class = Repair }, []want{
			{"word", "schedule/class", 2, `"repair"`}, {"unlocated", "schedule/operations", 2, "100"}}},
		{"a side", func(_ *Meta, c *Tables) { c.Tests[2].Side = "port" }, []want{{"word", "tests/side", 0, `"port"`}}},
		{"a kind of bulletin", func(_ *Meta, c *Tables) { c.Bulletins[0].Kind = "letter" }, []want{{"word", "bulletins/kind", 3, `"letter"`}}},
		{"a unit", func(_ *Meta, c *Tables) { c.Publications[3].KeyedBy = "axle" }, []want{
			{"unknown-unit", "publications/keyed_by", 0, `"axle"`}, {"unknown-unit", "guide/keyed_by", 0, `"axle"`}, {"unknown-unit", "troublecodes/keyed_by", 0, `"axle"`},
			{"no-codes", "publications/keyed_by", 0, "axle"}}},
		{"a further unit on the cards", func(_ *Meta, c *Tables) {
			c.Publications[3].KeyedBy = "axle"
			c.Models[0].Units = []UnitCode{{"axle", "AX1"}}
		}, nil},

		// references
		{"a parent", func(_ *Meta, c *Tables) { c.Groups[1].Parent = "29" }, []want{
			{"dangling", "groups/parent", 2, `"29"`},
			{"unreachable", "procedures/procedure", 2, "does not cover group 21"}, {"unreachable", "procedures/procedure", 2, "does not cover group 21"}}},
		{"a group", func(_ *Meta, c *Tables) { c.Components[2].Group = "29" }, []want{{"dangling", "components/group", 1, `"29"`}}},
		{"a major component", func(_ *Meta, c *Tables) { c.Components[1].PartOf, c.Components[1].Group = "pump", "21" },
			[]want{{"dangling", "components/part_of", 0, `"pump"`}}},
		{"groups of a publication", func(_ *Meta, c *Tables) { c.Publications[4].Groups = []string{"10", "19"} }, []want{{"dangling", "publications/groups", 2, `"19"`}}},
		{"a superseded publication", func(_ *Meta, c *Tables) { c.Publications[1].Supersedes = []string{"RM0"} }, []want{{"dangling", "publications/supersedes", 3, `"RM0"`}}},
		{"a publication", func(_ *Meta, c *Tables) { c.Procedures[3].Publication = "EN" }, []want{
			{"dangling", "procedures/publication", 0, `"EN"`}, {"unused", "publications/publication", 0, "EM"}}},
		{"a component, nearly", func(_ *Meta, c *Tables) { c.Procedures[2].Component = "Fuel tank" }, []want{{"dangling", "procedures/component", 1, `"Fuel tank"`}}},
		{"an action, once for all its procedures", func(_ *Meta, c *Tables) {
			for i := range c.Procedures {
				c.Procedures[i].Action = "swap"
			}
		}, []want{{"dangling", "procedures/action", 7, "4 procedures use it"}}},
		{"a hazard", func(_ *Meta, c *Tables) { c.Operations[0].Hazards = []string{"heat"} }, []want{{"dangling", "operations/hazards", 2, `"heat"`}}},
		{"a replaced procedure", func(_ *Meta, c *Tables) { c.Procedures[3].Replaces = []string{"P9"} }, []want{{"dangling", "procedures/replaces", 2, `"P9"`}}},
		{"an operation of a service", func(_ *Meta, c *Tables) { c.Schedule[1].Operations[1] = "111" }, []want{
			{"dangling", "schedule/operations", 2, `"111"`}, {"unused", "operations/operation", 0, "110"}}},
		{"a chapter of the guide", func(_ *Meta, c *Tables) { c.Guide[0].Section = "7" }, []want{{"dangling", "guide/section", 2, "chapter 7"}}},
		{"a scheme of a trouble code", func(_ *Meta, c *Tables) { c.TroubleCodes[0].Scheme = "MC" }, []want{{"dangling", "troublecodes/scheme", 2, `"MC"`}}},
		{"targets of a bulletin", func(_ *Meta, c *Tables) {
			c.Bulletins[0].Replaces = []Target{{"procedure", "P9"}, {"model", "TC42"}, {"operation", "100"}, {"publication", "EM"}, {"service", "B"}, {"specification", "S1"}}
		}, []want{{"dangling", "bulletins/replaces", 1, `"P9"`}, {"dangling", "bulletins/replaces", 1, `"model"`}}},
		{"a service of a job, a group that resembles", func(m *Meta, _ *Tables) {
			m.Jobs["first service"] = Job{Service: "Z"}
			m.Resembles = [][]string{{"21", "2x"}, {"fuel tank"}}
		}, []want{{"dangling", "catalog.yaml/jobs.first service", 0, `"Z"`}, {"dangling", "catalog.yaml/resembles", 0, `"2x"`}}},

		// cycles
		{"groups in a circle", func(_ *Meta, c *Tables) {
			c.Groups[1].Parent, c.Groups[2].Parent = "22", "21"
			c.Publications[0].Groups, c.Publications[1].Groups = []string{"21"}, []string{"21"}
		}, []want{{"circular", "groups/parent", 3, "21, 22"}}},
		{"components in a circle", func(_ *Meta, c *Tables) { c.Components[0].PartOf = "filter seal" }, []want{{"circular", "components/part_of", 2, "filter seal, fuel filter"}}},
		{"a publication that supersedes itself", func(_ *Meta, c *Tables) { c.Publications[4].Supersedes = []string{"EM"} }, []want{{"circular", "publications/supersedes", 2, "EM comes back"}}},
		{"procedures that replace each other", func(_ *Meta, c *Tables) {
			c.Procedures[0].Replaces, c.Procedures[1].Replaces = []string{"P2"}, []string{"P1"}
		},
			[]want{{"circular", "procedures/replaces", 4, "P1, P2"}}},

		// limits and values
		{"from after through", func(_ *Meta, c *Tables) { c.Bulletins[0].Effectivity = during(t, "2015-02", "2015-01") },
			[]want{{"inverted", "bulletins/from", 3, "2015-02"}}},
		{"one month from and through", func(_ *Meta, c *Tables) { c.Bulletins[0].Effectivity = during(t, "2015-01", "2015-01") }, nil},
		{"serials from after through", func(_ *Meta, c *Tables) { c.Bulletins[0].Effectivity = serials(20, 19) }, []want{{"inverted", "bulletins/from", 3, "serial 20"}}},
		{"a negative serial", func(_ *Meta, c *Tables) { c.Bulletins[0].Effectivity = serials(-1, 5) }, []want{{"serial", "bulletins/serial_from", 3, "-1"}}},
		{"low above high", func(_ *Meta, c *Tables) { s := &c.Specifications[0]; s.Value, s.Low, s.High = "", number(3), number(2) },
			[]want{{"inverted", "specifications/low", 2, "3 is above"}}},
		{"ambient from above through", func(_ *Meta, c *Tables) { c.Specifications[1].Ambient = Band{number(30), number(-10)} },
			[]want{{"inverted", "specifications/ambient_from", 2, "30 °C"}}},
		{"no value", func(_ *Meta, c *Tables) { c.Specifications[0].Value = "" }, []want{{"no-value", "specifications/value", 2, "neither"}}},
		{"a range open below", func(_ *Meta, c *Tables) { s := &c.Specifications[0]; s.Value, s.High = "", number(2) }, nil},
		{"no number", func(_ *Meta, c *Tables) { c.Specifications[0].High = number(math.Inf(1)) }, []want{{"number", "specifications/high", 2, "finite"}}},
		{"a number without a unit", func(_ *Meta, c *Tables) { c.Specifications[0].Unit = "" }, []want{{"no-unit", "specifications/unit", 2, "unit"}}},
		{"no interval", func(_ *Meta, c *Tables) { c.Schedule[1].Every = Counters{} }, []want{{"no-interval", "schedule/every_hours", 4, "service B"}}},
		{"no interval, but asked for by name", func(_ *Meta, c *Tables) { c.Schedule[0].First = Counters{} }, nil},
		{"a negative interval", func(_ *Meta, c *Tables) { c.Schedule[1].Every.Months = -6 }, []want{{"number", "schedule/every_months", 4, "above zero"}}},

		// schemes
		{"a field without a position", func(_ *Meta, c *Tables) { c.Schemes[5].First = 0 }, []want{{"bad-scheme", "schemes/first", 0, "size has no position"}, {"undecodable", "models/model", 7, "TC42"}, {"undecodable", "models/model", 8, "TC55"}}},
		{"a value of the wrong length", func(_ *Meta, c *Tables) { c.Schemes[2].Value = "55" }, []want{{"bad-scheme", "schemes/value", 0, "2 characters"}}},
		{"an unknown check rule", func(_ *Meta, c *Tables) { c.Schemes[3].Check = "mod97" }, []want{{"word", "schemes/check", 0, "mod97"}}},
		{"iso3779 on a short code", func(_ *Meta, c *Tables) {
			c.Schemes = append(c.Schemes, SchemeField{Scheme: "CH", Kind: KindChassis, Field: "check", First: 7, Length: 1, Check: CheckISO3779})
		}, []want{{"bad-scheme", "schemes/check", 0, "17 characters"}}},
		{"mod10 on a longer field", func(_ *Meta, c *Tables) { c.Schemes[3].Check = CheckMod10 }, []want{{"bad-scheme", "schemes/check", 0, "one digit"}}},
		{"two check digits", func(_ *Meta, c *Tables) {
			f := SchemeField{Scheme: "CH", Kind: KindChassis, Field: "c1", First: 7, Length: 1, Check: CheckMod10}
			g := f
			g.Field, g.First = "c2", 8
			c.Schemes = append(c.Schemes, f, g)
		}, []want{{"bad-scheme", "schemes/check", 0, "two fields"}}},
		{"rest that is not the last", func(_ *Meta, c *Tables) { c.Schemes[0].Length, c.Schemes[1].Length, c.Schemes[2].Length = 0, 0, 0 },
			[]want{{"bad-scheme", "schemes/length", 0, "takes all the rest"}}},
		{"two kinds", func(_ *Meta, c *Tables) { c.Schemes[3].Kind = UnitEngine }, []want{{"bad-scheme", "schemes/kind", 0, "kinds chassis and engine"}}},
		{"a kind that there is not", func(_ *Meta, c *Tables) { c.Schemes[6].Kind = "fault" }, []want{{"word", "schemes/kind", 0, `"fault"`},
			{"bad-scheme", "schemes/pack", 0, "only a trouble code"}, {"dangling", "troublecodes/scheme", 2, `"DM"`}}},
		{"a field of the wrong packing", func(_ *Meta, c *Tables) {
			c.Schemes = append(c.Schemes, SchemeField{Scheme: "DM", Kind: KindTrouble, Field: "number"})
		}, []want{{"bad-scheme", "schemes/field", 0, "has no field number"}}},
		{"a position in two ways", func(_ *Meta, c *Tables) { c.Schemes[1].First = 2 }, []want{{"bad-scheme", "schemes/first", 0, "position 1"}}},
		{"a year that is none", func(_ *Meta, c *Tables) {
			c.Schemes = append(c.Schemes, SchemeField{Scheme: "CH", Kind: KindChassis, Field: "year", First: 7, Length: 1, Value: "A", Means: "'10"})
		}, []want{{"bad-scheme", "schemes/means", 0, "no year"}}},
		{"positions without a field", func(_ *Meta, c *Tables) { c.Schemes[3].First = 4 }, []want{{"scheme-gap", "schemes/first", 0, "2, 3"}}},
		{"two meanings at once", func(_ *Meta, c *Tables) {
			f := c.Schemes[1]
			f.Means = "TC55"
			c.Schemes = append(c.Schemes, f)
		}, []want{{"two-meanings", "schemes/means", 15, `"TC42" and "TC55"`}}},
		{"two meanings one after the other", func(_ *Meta, c *Tables) {
			f := c.Schemes[1]
			f.Means, f.Range = "TC55", span(t, "2018-01", "")
			c.Schemes[1].Range = span(t, "", "2017-12")
			c.Schemes = append(c.Schemes, f)
		}, nil},
		{"a model code that no scheme reads", func(_ *Meta, c *Tables) {
			c.Models[0].Code, c.Schemes[1].Means = "TD42", "TD42"
			c.Bulletins[0].AppliesTo = "TD42"
		},
			[]want{{"undecodable", "models/model", 7, "TD42"}}},
		{"a model code that no chassis number yields", func(_ *Meta, c *Tables) { c.Schemes = slices.Delete(c.Schemes, 1, 2) },
			[]want{{"undecodable", "models/model", 7, "no scheme yields the code TC42"}}},
		{"a model code that a chassis number yields at other times", func(_ *Meta, c *Tables) { c.Schemes[1].Range = span(t, "", "2009-12") },
			[]want{{"undecodable", "models/model", 7, "only for build dates"}}},
		{"a model code as the characters themselves", func(_ *Meta, c *Tables) {
			c.Schemes = append(c.Schemes[3:], SchemeField{Scheme: "CH", Kind: KindChassis, Field: "model", First: 7, Length: 4}, SchemeField{Scheme: "CH", Kind: KindChassis, Field: "maker", First: 1, Length: 1})
		}, nil},
		{"a model without a card", func(_ *Meta, c *Tables) {
			f := c.Schemes[1]
			f.Value, f.Means = "6", "TC66"
			c.Schemes = append(c.Schemes, f)
		}, []want{{"no-card", "schemes/means", 0, "TC66"}}},
		{"an engine that no engine number yields", func(_ *Meta, c *Tables) {
			c.Schemes = append(c.Schemes, SchemeField{Scheme: "EN", Kind: UnitEngine, Field: "engine", First: 1, Length: 1, Value: "1", Means: "E1"},
				SchemeField{Scheme: "EN", Kind: UnitEngine, Field: "serial", First: 2})
		}, []want{{"undecodable", "models/engine", 1, "E2"}}},
		{"a trouble code written otherwise", func(_ *Meta, c *Tables) {
			c.TroubleCodes[0].Code = "1208-03"
			c.Bulletins[0].Amends[2].Key = "engine/1208-03"
		},
			[]want{{"undecodable", "troublecodes/code", 2, "as 1208-3"}}},
		{"a trouble code of another packing", func(_ *Meta, c *Tables) {
			c.TroubleCodes[0].Code = "P0143"
			c.Bulletins[0].Amends[2].Key = "engine/P0143"
		},
			[]want{{"undecodable", "troublecodes/code", 2, "another kind"}}},
		{"a publication number", func(_ *Meta, c *Tables) {
			c.Schemes = append(c.Schemes, SchemeField{Scheme: "PN", Kind: KindPublication, Field: "kind", First: 1, Length: 2}, SchemeField{Scheme: "PN", Kind: KindPublication, Field: "number", First: 3, Length: 1})
			for i := 2; i < 5; i++ {
				c.Publications[i].Series = c.Publications[i].ID
			}
		}, []want{{"undecodable", "publications/publication", 8, "MM"}, {"undecodable", "publications/publication", 4, "DG"}, {"undecodable", "publications/publication", 2, "EM"}}},

		// data cards
		{"overlapping cards", func(_ *Meta, c *Tables) {
			m := c.Models[0]
			m.Engine, m.Range = "E2", span(t, "2019-12", "")
			c.Models = append(c.Models, m)
		}, []want{{"card-overlap", "models/built_from", 7, "2019-12"}}},
		{"cards side by side", func(_ *Meta, c *Tables) {
			m := c.Models[0]
			m.Engine, m.Range = "E2", span(t, "2020-01", "")
			c.Models = append(c.Models, m)
		}, nil},
		{"a unit without a code", func(_ *Meta, c *Tables) { c.Models[0].Engine, c.Models[1].Engine = "", "" },
			[]want{{"no-codes", "publications/keyed_by", 0, "engine"}}},
		{"a pattern that matches nothing", func(_ *Meta, c *Tables) { c.Procedures[2].AppliesTo = "TC56" }, []want{{"no-code", "procedures/applies_to", 0, "TC56"}}},

		// groups and terms
		{"no group", func(_ *Meta, c *Tables) { c.Components[2].Group = "" }, []want{{"no-group", "components/group", 1, "fuel tank"}}},
		{"two groups", func(_ *Meta, c *Tables) {
			c.Components = append(c.Components, Component{Term: "fuel tank", Group: "21"})
		},
			[]want{{"two-groups", "components/group", 1, "group 21 and in group 22"}}},
		{"keyed otherwise than its group", func(_ *Meta, c *Tables) { c.Publications[4].KeyedBy = UnitModel }, []want{
			{"keyed-by", "publications/keyed_by", 2, "10 by engine"}, {"unreachable", "procedures/procedure", 2, "keyed by engine"}}},
		{"a heading keyed otherwise than the group below it", func(_ *Meta, c *Tables) {
			c.Groups[3].Parent = "30"
			c.Groups = append(c.Groups, Group{Code: "30"})
			c.Publications[4].Groups = []string{"30"}
		}, nil},
		{"a synonym of two components", func(_ *Meta, c *Tables) { c.Components[2].Synonyms = []Synonym{{Term: "Filter, fuel"}} },
			[]want{{"ambiguous-term", "components/synonyms", 3, `"fuel filter" and "fuel tank"`}}},
		{"a synonym of two quantities", func(_ *Meta, c *Tables) { c.Specifications[1].Synonyms = []Synonym{{Term: "Engine-oil capacity"}} },
			[]want{{"ambiguous-term", "specifications/synonyms", 4, `"oil grade"`}}},
		{"a synonym of two actions", func(m *Meta, _ *Tables) {
			m.Actions["inspect"] = Action{Classes: []Class{Maintenance}, Synonyms: []string{"fr:erneuern"}}
		},
			[]want{{"ambiguous-term", "catalog.yaml/actions", 7, `"erneuern"`}}},
		{"a complaint of two systems", func(_ *Meta, c *Tables) {
			g := c.Guide[0]
			g.System = "intake"
			c.Guide = append(c.Guide, g)
		}, []want{{"same-complaint", "guide/complaints", 4, `"no power"`}}},

		// editions
		{"a gap", func(_ *Meta, c *Tables) { c.Publications[1].Effectivity = during(t, "2014-09", "") },
			[]want{{"gap", "publications/from", 3, "model TC42, TC55 from 2014-07 through 2014-08 is in neither RM1 nor RM2"}}},
		{"a gap before a code was built", func(_ *Meta, c *Tables) {
			c.Publications[0].Effectivity, c.Publications[1].Effectivity = during(t, "", "2011-06"), during(t, "2011-09", "")
			c.Publications[0].AppliesTo, c.Procedures[0].AppliesTo = "TC42", "TC42"
			c.Publications = append(c.Publications, Publication{ID: "RMX", Class: Repair, AppliesTo: "TC42"})
			c.Procedures = append(c.Procedures, Procedure{ID: "P9", Action: "replace", Component: "filter seal", Publication: "RMX", Location: Location{Page: "1"}})
		}, nil},
		{"an overlap", func(_ *Meta, c *Tables) { c.Publications[1].Effectivity = during(t, "2014-06", "") },
			[]want{{"overlap", "publications/from", 2, "TC42, TC55 from 2014-06 through 2014-06"}}},
		{"an overlap that a supersession settles", func(_ *Meta, c *Tables) {
			c.Publications[1].Effectivity, c.Publications[1].Supersedes = during(t, "2014-06", ""), []string{"RM1"}
		}, nil},
		{"an overlap of other groups", func(_ *Meta, c *Tables) {
			c.Publications[1].Effectivity = nil
			c.Publications[0].Groups, c.Publications[1].Groups = []string{"22"}, []string{"21"}
			c.Procedures[0].Component, c.Procedures[2].Component = "fuel tank", "filter seal"
			c.Publications[0].Effectivity = nil
		}, nil},
		{"builds before the first edition and after the last", func(_ *Meta, c *Tables) {
			c.Publications[0].Effectivity, c.Publications[1].Effectivity = during(t, "2011-01", "2014-06"), during(t, "2014-07", "2019-11")
		}, []want{{"uncovered", "publications/from", 1, "model TC42 from 2010-01 through 2010-12"}, {"uncovered", "publications/from", 3, "from 2019-12 through 2019-12"}}},
		{"a model still built beyond the last edition", func(_ *Meta, c *Tables) {
			c.Models[0].Range, c.Publications[1].Effectivity = span(t, "2010-01", ""), during(t, "2014-07", "2019-12")
		}, []want{{"uncovered", "publications/from", 1, "model TC42 from 2020-01"}}},
		{"by date and by serial", func(_ *Meta, c *Tables) { c.Publications[1].Effectivity = serials(5000, 0) },
			[]want{{"mixed-break", "publications/from", 2, "TC42, TC55"}}},
		{"a break by both", func(_ *Meta, c *Tables) {
			c.Publications[0].Effectivity[0].Serials, c.Publications[1].Effectivity[0].Serials = Serials{Through: 4999}, Serials{From: 5000}
		}, nil},
		{"a break by both with a gap in the serials", func(_ *Meta, c *Tables) {
			c.Publications[0].Effectivity[0].Serials, c.Publications[1].Effectivity[0].Serials = Serials{Through: 4999}, Serials{From: 5001}
		}, []want{{"gap", "publications/serial_from", 3, "from no. 5000 through no. 5000"}}},
		{"editions that differ in class", func(_ *Meta, c *Tables) { c.Publications[2].Series, c.Publications[3].Series = "X", "X" }, []want{
			{"series-mismatch", "publications/series", 8, "maintenance"}, {"overlap", "publications/from", 0, "at any time"}}},

		// reach
		{"a class that the action is not looked up in", func(_ *Meta, c *Tables) { c.Procedures[3].Action = "inspect" },
			[]want{{"unreachable", "procedures/procedure", 2, "class repair"}}},
		{"a group that the publication does not cover", func(_ *Meta, c *Tables) { c.Publications[1].Groups = []string{"21"} },
			[]want{{"unreachable", "procedures/procedure", 1, "does not cover group 22"}}},
		{"no code in common", func(_ *Meta, c *Tables) {
			c.Publications[1].AppliesTo, c.Procedures[2].AppliesTo = "TC42", "TC55"
			c.Publications[0].Effectivity = nil
			c.Publications[0].AppliesTo = "TC55"
		},
			[]want{{"unreachable", "procedures/procedure", 0, "no code in common"}, {"uncovered", "publications/from", 1, "through 2014-06"}}},
		{"limits outside its publication's", func(_ *Meta, c *Tables) { c.Procedures[2].Effectivity = during(t, "2013-01", "2014-06") },
			[]want{{"unreachable", "procedures/procedure", 1, "outside those of its publication"}}},
		{"limits outside what was built", func(_ *Meta, c *Tables) { c.Procedures[2].Effectivity = during(t, "2020-01", "") },
			[]want{{"unreachable", "procedures/procedure", 1, "outside the build dates"}}},
		{"a specification outside its publication's pattern", func(_ *Meta, c *Tables) {
			c.Specifications = append(c.Specifications, Specification{ID: "S3", Quantity: "torque", Value: "9", Unit: "N·m", KeyedBy: UnitEngine, AppliesTo: "E1", Publication: "RMX", Location: Location{Page: "1"}})
			c.Publications = append(c.Publications, Publication{ID: "RMX", Class: Reference, AppliesTo: "TC55"})
		}, []want{{"unreachable", "specifications/applies_to", 0, "no vehicle in common"}}},
		{"a trouble code outside what was built", func(_ *Meta, c *Tables) { c.TroubleCodes[0].Effectivity = during(t, "", "2009-12") },
			[]want{{"unreachable", "troublecodes/applies_to", 2, "outside the build dates"}}},
		{"a superseded edition whose jobs live on", func(_ *Meta, c *Tables) {
			c.Publications[1].Effectivity, c.Publications[1].Supersedes = nil, []string{"RM1"}
		}, []want{{"superseded", "publications/publication", 0, "RM1"}}},
		{"a job lost by a supersession", func(_ *Meta, c *Tables) {
			c.Publications[1].Effectivity, c.Publications[1].Supersedes = nil, []string{"RM1"}
			c.Procedures[0].Component = "filter seal"
		}, []want{{"superseded", "publications/publication", 0, "RM1"}, {"lost", "procedures/procedure", 2, "filter seal"}}},
		{"a job lost for a time", func(_ *Meta, c *Tables) {
			c.Publications[1].Effectivity, c.Publications[1].Supersedes = during(t, "2014-01", ""), []string{"RM1"}
			c.Procedures[1].Effectivity = during(t, "2014-07", "")
		}, []want{{"lost", "procedures/procedure", 2, "fuel filter"}}},
		{"a replaced procedure", func(_ *Meta, c *Tables) {
			p := c.Procedures[3]
			p.ID, p.Replaces = "P5", []string{"P4"}
			c.Procedures = append(c.Procedures, p)
		}, []want{{"superseded", "procedures/procedure", 0, "P4"}}},
		{"a procedure replaced by another job", func(_ *Meta, c *Tables) {
			p := c.Procedures[3]
			p.ID, p.Component, p.Replaces = "P5", "block", []string{"P4"}
			c.Components = append(c.Components, Component{Term: "block", Group: "10"})
			c.Procedures = append(c.Procedures, p)
		}, []want{{"superseded", "procedures/procedure", 0, "P4"}, {"lost", "procedures/procedure", 2, "cylinder head"}}},
		{"a publication superseded by one that another unit keys", func(_ *Meta, c *Tables) {
			c.Publications = append(c.Publications, Publication{ID: "NEW", Class: Repair, Supersedes: []string{"EM"}})
			c.Procedures = append(c.Procedures, Procedure{ID: "P9", Action: "replace", Component: "filter seal", Publication: "NEW", Location: Location{Page: "1"}})
		}, []want{{"superseded", "publications/publication", 0, "EM"}, {"lost", "procedures/procedure", 2, "engine E1, E2"}}},
		{"a procedure of a publication that is superseded for some codes", func(_ *Meta, c *Tables) {
			c.Publications = append(c.Publications, Publication{ID: "EM2", Class: Repair, KeyedBy: UnitEngine, Groups: []string{"10"}, AppliesTo: "E1", Supersedes: []string{"EM"}})
			p, q := c.Procedures[3], c.Procedures[3]
			p.ID, p.Publication = "P8", "EM2"
			q.ID, q.AppliesTo, c.Procedures[3].AppliesTo = "P9", "E2", "E1"
			c.Procedures = append(c.Procedures, p, q)
		}, []want{{"superseded", "procedures/procedure", 0, "P4"}}},
		{"a job in two places", func(_ *Meta, c *Tables) {
			p := c.Procedures[3]
			p.ID, p.AppliesTo = "P5", "E2"
			c.Procedures = append(c.Procedures, p)
		}, []want{{"two-places", "procedures/procedure", 1, "P4 (EM) and in P5 (EM)"}}},
		{"a job in two places at different times", func(_ *Meta, c *Tables) {
			p := c.Procedures[3]
			p.ID, p.Effectivity = "P5", during(t, "2015-01", "")
			c.Procedures[3].Effectivity = during(t, "", "2014-12")
			c.Procedures = append(c.Procedures, p)
		}, nil},
		{"what nothing leads to", func(_ *Meta, c *Tables) {
			c.Operations = append(c.Operations, Operation{Number: "120", Publication: "MM", Location: Location{Sheet: "1", Frame: "B4"}})
			c.Tests = append(c.Tests, TestStep{Publication: "DG", Chapter: "6", Step: "1"})
			c.Publications = append(c.Publications, Publication{ID: "OLD", Class: Reference})
		}, []want{{"unused", "operations/operation", 0, "120"}, {"unused", "tests/chapter", 0, "chapter 6"}, {"unused", "publications/publication", 0, "OLD"}}},

		// places
		{"no location", func(_ *Meta, c *Tables) { c.Procedures[1].Location = Location{}; c.Operations[0].Location = Location{} },
			[]want{{"no-location", "procedures/page", 2, "P2"}, {"no-location", "operations/sheet", 2, "100"}}},
		{"a place that does not suit the medium", func(_ *Meta, c *Tables) {
			c.Procedures[1].Location, c.Operations[0].Location = Location{Frame: "A1"}, Location{Sheet: "2"}
			c.TroubleCodes[0].Location = Location{Page: "4"}
		}, []want{{"wrong-place", "procedures/page", 2, "neither page nor section"}, {"wrong-place", "operations/sheet", 2, "the frame"}, {"wrong-place", "troublecodes/section", 2, "no section"}}},
		{"a specification that stands nowhere", func(_ *Meta, c *Tables) {
			c.Specifications[0].Publication, c.Specifications[0].Location = "", Location{}
		}, nil},

		// schedule
		{"an operation that no publication describes", func(_ *Meta, c *Tables) { c.Publications[2].AppliesTo = "TC42" }, []want{
			{"unlocated", "schedule/operations", 1, "TC55"}, {"unlocated", "schedule/operations", 1, "TC55"}, {"unlocated", "schedule/operations", 1, "TC55"}}},
		{"an operation described by engine", func(_ *Meta, c *Tables) { c.Publications[2].KeyedBy = UnitEngine }, nil},
		{"a service without operations", func(_ *Meta, c *Tables) { c.Schedule[0].Operations = nil }, []want{{"no-operations", "schedule/operations", 2, "service A"}}},
		{"a service twice", func(_ *Meta, c *Tables) {
			s := c.Schedule[1]
			s.AppliesTo = "TC42"
			c.Schedule = append(c.Schedule, s)
		}, []want{{"service-overlap", "schedule/applies_to", 2, "service B"}}},
		{"a service by duty", func(_ *Meta, c *Tables) {
			s := c.Schedule[1]
			s.Duty = "heavy"
			c.Schedule[1].Duty = "light"
			c.Schedule = append(c.Schedule, s)
		}, nil},

		// tests and bulletins
		{"a failed step that sends nowhere", func(_ *Meta, c *Tables) { c.Tests[0].FailChapter = "8" }, []want{
			{"no-step", "tests/fail_chapter", 4, "chapter 8"}, {"unused", "tests/chapter", 0, "chapter 5"}}},
		{"a failed step that sends to no step", func(_ *Meta, c *Tables) { c.Tests[1].FailSteps = []string{"1", "3"} }, []want{{"no-step", "tests/fail_steps", 4, "step 3 of chapter 4"}}},
		{"a failed step that sends to the other side", func(_ *Meta, c *Tables) { c.Tests[0].Side = "right" }, []want{{"no-step", "tests/fail_steps", 4, "other side"}}},
		{"a failed step that sends to itself", func(_ *Meta, c *Tables) { c.Tests[1].FailSteps = []string{"2"} }, []want{{"self-step", "tests/fail_steps", 4, "itself"}}},
		{"a bulletin about nothing", func(_ *Meta, c *Tables) { c.Bulletins[0].Amends = nil }, []want{{"no-target", "bulletins/amends", 1, "B1"}}},
		{"a bulletin without a date", func(_ *Meta, c *Tables) { c.Bulletins[0].Issued = Date{} }, []want{{"undated", "bulletins/issued", 3, "B1"}}},
		{"a bulletin that names one record twice", func(_ *Meta, c *Tables) { c.Bulletins[0].Replaces = c.Bulletins[0].Amends[:1] }, []want{{"twice-named", "bulletins/replaces", 4, "procedure:P2"}}},
	}
}

func TestCheckFinds(t *testing.T) {
	for _, tc := range checkCases(t) {
		t.Run(tc.what, func(t *testing.T) {
			meta, tables := soundCatalog(t)
			tc.change(&meta, &tables)
			got := Check(New(meta, tables))
			left := slices.Clone(tc.want)
			for _, f := range got {
				place := f.File + "/" + f.Column
				i := slices.IndexFunc(left, func(w want) bool {
					return w.code == f.Code && w.place == place && w.lookups == f.Lookups && strings.Contains(f.What, w.says)
				})
				if i < 0 {
					t.Errorf("not expected: %s %s, %d lookups: %s; %s", f.Code, place, f.Lookups, f.What, f.Mend)
					continue
				}
				left = slices.Delete(left, i, i+1)
			}
			for _, w := range left {
				t.Errorf("missing: %+v", w)
			}
		})
	}
}

func TestEveryKindOfFindingIsListedOnceAndTested(t *testing.T) {
	kinds := map[string]bool{}
	for _, k := range CheckKinds() {
		if kinds[k.Code] || k.About == "" {
			t.Errorf("%s is listed twice or not explained", k.Code)
		}
		kinds[k.Code] = true
	}
	found := map[string]bool{"unfinished": true} // see below
	for _, tc := range checkCases(t) {
		for _, w := range tc.want {
			found[w.code] = true
			if !kinds[w.code] {
				t.Errorf("%s is not listed", w.code)
			}
		}
	}
	for k := range kinds {
		if !found[k] {
			t.Errorf("no case finds %s", k)
		}
	}
}

func TestFindingsSayWhereAndHowToMend(t *testing.T) {
	meta, tables := soundCatalog(t)
	tables.Procedures[2].Component = "Fuel tank"
	tables.Procedures[2].Origin = Origin{File: "procedures.csv", Row: 4}
	tables.Procedures[3].Component = "cylinder haed"
	r := Check(New(meta, tables))
	want := []string{
		`procedures column component: there is no component "cylinder haed" in the components table; did you mean "cylinder head"? Else add it there, or correct the cell`,
		`procedures.csv row 4 column component: there is no component "Fuel tank" in the components table; write "fuel tank" as it stands there`,
	}
	for i, f := range r {
		if i >= len(want) || f.Error() != want[i] || f.Severity != Error {
			t.Errorf("%s %s", f.Severity, f.Error())
		}
	}
	if len(r) != len(want) {
		t.Errorf("%d findings", len(r))
	}
}

// A catalog keyed by engine, without vehicles: its codes come from the value
// table of the scheme that reads the engine number.
func TestCheckNeedsNoVehicles(t *testing.T) {
	tables := Tables{
		Schemes: []SchemeField{
			{Scheme: "QN", Kind: UnitEngine, Field: "engine", First: 1, Length: 2, Value: "Q4", Means: "Q4"},
			{Scheme: "QN", Kind: UnitEngine, Field: "engine", Value: "Q6", Means: "Q6"},
			{Scheme: "QN", Kind: UnitEngine, Field: "serial", First: 3, Length: 5},
		},
		Groups:     []Group{{Code: "1"}},
		Components: []Component{{Term: "impeller", Group: "1"}},
		Publications: []Publication{
			{ID: "W1", Series: "W", Class: Repair, Effectivity: serials(1, 4999)},
			{ID: "W2", Series: "W", Class: Repair, Effectivity: serials(5000, 0)},
		},
		Procedures: []Procedure{
			{ID: "P1", Action: "replace", Component: "impeller", Publication: "W1", Location: Location{Page: "1"}},
			{ID: "P2", Action: "replace", Component: "impeller", Publication: "W2", Location: Location{Page: "1"}},
		},
	}
	meta := Meta{Primary: UnitEngine, Actions: map[string]Action{"replace": {Classes: []Class{Repair}}}}
	if r := Check(New(meta, tables)); len(r) > 0 {
		t.Errorf("%v", r)
	}
	tables.Publications[1].Effectivity = serials(5010, 0)
	r := Check(New(meta, tables))
	if len(r) != 1 || r[0].Code != "gap" || r[0].Lookups != 2 || !strings.Contains(r[0].What, "engine Q4, Q6 from no. 5000 through no. 5009") {
		t.Errorf("%v", r)
	}
}

// Records that point at each other in every way must not make Check run on.
func TestCheckEndsOnTangledCatalogs(t *testing.T) {
	const n = 3000
	meta, tables := soundCatalog(t)
	for i := range n {
		id := func(j int) string { return fmt.Sprintf("X%d", (j+n)%n) }
		tables.Groups = append(tables.Groups, Group{Code: id(i), Parent: id(i + 1)})
		tables.Components = append(tables.Components, Component{Term: id(i), PartOf: id(i + 1)})
		tables.Publications = append(tables.Publications, Publication{ID: id(i), Series: "X", Class: Repair,
			Effectivity: serials(int64(i+1), int64(i+2)), Supersedes: []string{id(i + 1), id(i + 2), id(i + 3)}})
		tables.Procedures = append(tables.Procedures, Procedure{ID: id(i), Action: "replace", Component: "fuel tank", Publication: id(i), Replaces: []string{id(i - 1), id(i + 7)}})
		tables.Schedule = append(tables.Schedule, Service{Name: "X", Every: Counters{Hours: 1}, Operations: []string{"100"}})
		tables.Tests = append(tables.Tests, TestStep{Publication: "DG", Chapter: "9", Step: fmt.Sprint(i), FailChapter: "9", FailSteps: []string{fmt.Sprint(i + 1)}})
	}
	c := New(meta, tables)
	cut := 0
	for _, f := range checkWithin(c, 100) {
		if f.Code == "unfinished" && f.Severity == Note && strings.Contains(f.What, "cut short") {
			cut++
		}
	}
	if cut == 0 {
		t.Error("a check that was cut short does not say so")
	}
	r := Check(c)
	circles := 0
	for _, f := range r {
		if f.Code == "circular" {
			circles++
		}
	}
	if circles != 4 {
		t.Errorf("%d circles, want one each of groups, components, publications and procedures", circles)
	}
}
