package resolver_test

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// The tests of single rules share a small shop: three tractors of a maker that
// does not exist, their engines and gearboxes, and a component list. Each test
// puts its own literature on the shelf, no more than its rule needs.
func shopMeta() catalog.Meta {
	return catalog.Meta{
		Title: "Shop", Language: "en", Units: catalog.Units{Distance: "km", Hours: "h"},
		Actions: map[string]catalog.Action{
			"replace": {Classes: []catalog.Class{catalog.Repair}, Synonyms: []string{"renew", "take out and fit", "de:erneuern"}},
			"adjust":  {Classes: []catalog.Class{catalog.Repair, catalog.Maintenance}},
			"check":   {Classes: []catalog.Class{catalog.Maintenance}, Synonyms: []string{"inspect"}},
		},
		Jobs: map[string]catalog.Job{"pre-delivery inspection": {Service: "PDI", Synonyms: []string{"hand over"}}},
	}
}

func shopTables() catalog.Tables {
	const tf, kn = "TF", "KN"
	field := func(scheme, kind, name string, first, length int) catalog.SchemeField {
		return catalog.SchemeField{Scheme: scheme, Kind: kind, Field: name, First: first, Length: length}
	}
	value := func(scheme, kind, name, value, means string) catalog.SchemeField {
		return catalog.SchemeField{Scheme: scheme, Kind: kind, Field: name, Value: value, Means: means}
	}
	check := field(tf, "chassis", "check", 9, 1)
	check.Check = catalog.CheckISO3779
	return catalog.Tables{
		Schemes: []catalog.SchemeField{
			field(tf, "chassis", "maker", 1, 3), value(tf, "chassis", "maker", "TFX", "Shop"),
			field(tf, "chassis", "model", 4, 4), field(tf, "chassis", "body", 8, 1), check,
			field(tf, "chassis", "year", 10, 1),
			value(tf, "chassis", "year", "H", "2017"), value(tf, "chassis", "year", "J", "2018"), value(tf, "chassis", "year", "K", "2019"),
			field(tf, "chassis", "plant", 11, 1), field(tf, "chassis", "serial", 12, 6),
			field(kn, "engine", "engine", 1, 2), field(kn, "engine", "serial", 3, 0),
			value(kn, "engine", "engine", "K2", ""), value(kn, "engine", "engine", "K3", ""), value(kn, "engine", "engine", "K4", ""),
		},
		Models: []catalog.Model{
			{Code: "T410", SalesName: "Heron 41", Engine: "K2", Transmission: "G8"},
			{Code: "T420", SalesName: "Heron 42", Engine: "K3", Transmission: "G8", Range: dates("", "2018-06")},
			{Code: "T420", SalesName: "Heron 42", Engine: "K4", Transmission: "G8", Range: dates("2018-07", "")},
			{Code: "T440", SalesName: "Heron 44", Engine: "K4", Transmission: "S2", Units: []catalog.UnitCode{{Unit: "loader", Code: "L1"}}},
		},
		Groups: []catalog.Group{
			{Code: "20", Division: "Power", Title: "Engine", KeyedBy: "engine"},
			{Code: "21", Parent: "20", Division: "Power", Title: "Fuel system", KeyedBy: "engine"},
			{Code: "22", Parent: "20", Division: "Power", Title: "Cooling", KeyedBy: "engine"},
			{Code: "30", Division: "Drive", Title: "Gearbox", KeyedBy: "transmission"},
			{Code: "40", Division: "Chassis", Title: "Brakes", KeyedBy: "model"},
			{Code: "41", Parent: "40", Division: "Chassis", Title: "Parking brake", KeyedBy: "model"},
			{Code: "42", Parent: "40", Division: "Chassis", Title: "Steering", KeyedBy: "model"},
			{Code: "50", Division: "Hydraulics", Title: "Hydraulics", KeyedBy: "model"},
		},
		Components: []catalog.Component{
			{Term: "engine", Group: "20"},
			{Term: "oil filter", Group: "20", Synonyms: []catalog.Synonym{{Term: "filter cartridge"}}},
			{Term: "fuel filter", Group: "21", Synonyms: []catalog.Synonym{{Term: "diesel filter"}, {Lang: "de", Term: "Kraftstofffilter"}}},
			{Term: "injection pump", Group: "21"},
			{Term: "delivery valve", PartOf: "injection pump"},
			{Term: "radiator hose", Group: "22"},
			{Term: "shift fork", Group: "30"},
			{Term: "PTO", Group: "30"},
			{Term: "brake disc", Group: "40"},
			{Term: "brake hose", Group: "40"},
			{Term: "parking brake", Group: "41"},
			{Term: "brake cable", Group: "41", PartOf: "parking brake"},
			{Term: "steering cable", Group: "42"},
			{Term: "hydraulic filter", Group: "50", Synonyms: []catalog.Synonym{{Term: "filter cartridge"}}},
			{Term: "hydraulic pump", Group: "50"},
			{Term: "tool box"},
		},
	}
}

// shop builds the resolver of a test.
func shop(t testing.TB, with ...func(*catalog.Tables)) *resolver.Resolver {
	t.Helper()
	tables := shopTables()
	for _, f := range with {
		f(&tables)
	}
	return resolver.New(catalog.New(shopMeta(), tables))
}

func publications(p ...catalog.Publication) func(*catalog.Tables) {
	return func(t *catalog.Tables) { t.Publications = append(t.Publications, p...) }
}

func procedures(p ...catalog.Procedure) func(*catalog.Tables) {
	return func(t *catalog.Tables) { t.Procedures = append(t.Procedures, p...) }
}

func bulletins(b ...catalog.Bulletin) func(*catalog.Tables) {
	return func(t *catalog.Tables) { t.Bulletins = append(t.Bulletins, b...) }
}

// fuelFilter is a procedure for the job that most tests ask for.
func fuelFilter(id, publication string) catalog.Procedure {
	return catalog.Procedure{ID: id, Job: "Replace fuel filter", Action: "replace", Component: "fuel filter", Publication: publication}
}

func brakeDisc(id, publication string) catalog.Procedure {
	return catalog.Procedure{ID: id, Job: "Replace brake disc", Action: "replace", Component: "brake disc", Publication: publication}
}

func day(s string) catalog.Date {
	d, err := catalog.ParseDate(s)
	if err != nil {
		panic(err) // a mistake in a test's own table
	}
	return d
}

func dates(from, through string) catalog.Range {
	return catalog.Range{From: day(from), Through: day(through)}
}

func serials(from, through int64) catalog.Range {
	return catalog.Range{Serials: catalog.Serials{From: from, Through: through}}
}

func both(d, s catalog.Range) catalog.Range {
	d.Serials = s.Serials
	return d
}

// job asks for a job on a T440 unless the vehicle says otherwise.
func job(text string, v resolver.Vehicle) *resolver.Query {
	return &resolver.Query{Vehicle: v, Text: text}
}

var aT440 = resolver.Vehicle{Model: "T440"}

func built(model, date string) resolver.Vehicle {
	return resolver.Vehicle{Model: model, Built: day(date)}
}

func serial(model string, n int64) resolver.Vehicle { return resolver.Vehicle{Model: model, Serial: n} }

// ask answers a query in one line, the places in order of their names:
//
//	found: J1 in R1
//	found: B2 instead of J1 in R1, see B1
//	ambiguous: perhaps J1 in R1; perhaps J2 in R2
//	not covered: edition
//
// and makes sure that Explain gives the same answer with a trace.
func ask(t testing.TB, r *resolver.Resolver, q *resolver.Query) string {
	t.Helper()
	return askBroken(t, r, q, resolver.Break{})
}

func askBroken(t testing.TB, r *resolver.Resolver, q *resolver.Query, brk resolver.Break) string {
	t.Helper()
	var a resolver.Answer
	r.Resolve(q, brk, &a)
	explained, trace := r.Explain(q, brk)
	if x, y := answerText(r, &a), answerText(r, explained); x != y || !sameAnswer(&a, explained) {
		t.Errorf("Resolve answers %q and Explain %q", x, y)
	}
	if len(trace) == 0 && brk.Slip == resolver.NoSlip {
		t.Errorf("no trace of %q", answerText(r, &a))
	}
	return answerText(r, &a)
}

// sameAnswer compares what an answer shows to its reader.
func sameAnswer(a, b *resolver.Answer) bool {
	return a.Status == b.Status && a.FailedAt == b.FailedAt && a.Path == b.Path && slices.Equal(a.Items, b.Items) &&
		slices.Equal(a.Amendments, b.Amendments) && slices.Equal(a.Services, b.Services)
}

func answerText(r *resolver.Resolver, a *resolver.Answer) string {
	if a.Status == resolver.NotCovered {
		return "not covered: " + a.FailedAt.String()
	}
	n := newNaive(r.Catalog())
	var places []string
	for i, it := range a.Items {
		place := recordText(n, it)
		if it.Bulletin >= 0 {
			place = n.t.Bulletins[it.Bulletin].ID + " instead of " + place
		}
		if it.Partly {
			place = "perhaps " + place
		}
		for _, m := range a.Amendments {
			if int(m.Item) == i && m.Bulletin != it.Bulletin {
				place += ", see " + n.t.Bulletins[m.Bulletin].ID
				if m.Partly {
					place += " perhaps"
				}
			}
		}
		places = append(places, place)
	}
	slices.Sort(places)
	return a.Status.String() + ": " + strings.Join(places, "; ")
}

func recordText(n *naive, it resolver.Item) string {
	if it.Row < 0 {
		return it.Operation + " nowhere"
	}
	name := ""
	switch it.Table {
	case resolver.ProcedureTable:
		name = n.t.Procedures[it.Row].ID
	case resolver.OperationTable:
		name = it.Operation
	case resolver.SpecificationTable:
		name = n.t.Specifications[it.Row].ID
	case resolver.TestTable:
		s := n.t.Tests[it.Row]
		name = s.Chapter + "/" + s.Step
		if s.Side != "" {
			name += " " + s.Side
		}
	case resolver.TroubleTable:
		name = n.t.TroubleCodes[it.Row].Code
		if s := n.t.TroubleCodes[it.Row].System; s != "" {
			name += " " + s
		}
	}
	return name + " in " + n.t.Publications[it.Publication].ID
}

// verdicts lists what the trace says of a record: "ruled out: superseded by R2".
func verdicts(r *resolver.Resolver, q *resolver.Query, record string) []string {
	_, trace := r.Explain(q, resolver.Break{})
	var out []string
	for _, s := range trace {
		for _, c := range s.Considered {
			if c.Record == record {
				out = append(out, fmt.Sprintf("%s: %s", c.Verdict, c.Why))
			}
		}
	}
	return out
}

// result is what the trace says came out of a step.
func result(r *resolver.Resolver, q *resolver.Query, step resolver.Step) string {
	_, trace := r.Explain(q, resolver.Break{})
	var out []string
	for _, s := range trace {
		if s.Step == step {
			out = append(out, s.Result)
		}
	}
	return strings.Join(out, " | ")
}

func mustContain(t *testing.T, what string, got []string, want string) {
	t.Helper()
	if !slices.ContainsFunc(got, func(s string) bool { return strings.Contains(s, want) }) {
		t.Errorf("%s: the trace says %q, nothing of %q", what, got, want)
	}
}

// number writes a chassis number of the shop with its check digit.
func number(t testing.TB, r *resolver.Resolver, model, year string, serial int) string {
	t.Helper()
	d, ok := r.Catalog().Decoder("TF")
	if !ok {
		t.Fatal("the shop has no chassis scheme")
	}
	s, err := d.Compose(map[string]string{"maker": "TFX", "model": model, "body": "A", "year": year, "plant": "1", "serial": fmt.Sprintf("%06d", serial)})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// check runs a table of questions against one resolver.
type question struct {
	name string
	q    *resolver.Query
	want string
}

func check(t *testing.T, r *resolver.Resolver, questions []question) {
	t.Helper()
	for _, c := range questions {
		t.Run(c.name, func(t *testing.T) {
			if got := ask(t, r, c.q); got != c.want {
				t.Errorf("%s\n got %s\nwant %s", queryText(c.q), got, c.want)
			}
		})
	}
}

// TestShopIsSound makes sure that a test of a rule does not rest on a mistake
// in the shop itself.
func TestShopIsSound(t *testing.T) {
	r := shop(t, publications(catalog.Publication{ID: "R", Class: catalog.Repair, KeyedBy: "engine"}), procedures(fuelFilter("J", "R")))
	if got, want := ask(t, r, job("replace fuel filter", aT440)), "found: J in R"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	if reflect.DeepEqual(shopTables().Models, r.Catalog().Tables().Models) == false {
		t.Error("the data cards of the shop do not stand in the order of the catalog")
	}
}
