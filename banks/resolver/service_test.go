package resolver_test

import (
	"slices"
	"strings"
	"testing"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// serviceShop has a first service, two regular ones and an extra operation with
// an interval of its own; that the counter that comes first governs is common
// practice, no source.
func serviceShop(t *testing.T, with ...func(*catalog.Tables)) *resolver.Resolver {
	return shop(t, append([]func(*catalog.Tables){
		publications(catalog.Publication{ID: "M1", Class: catalog.Maintenance}, catalog.Publication{ID: "PD", Class: catalog.PreDelivery}),
		func(t *catalog.Tables) {
			t.Schedule = []catalog.Service{
				{Name: "F", Title: "First service", First: catalog.Counters{Hours: 50}, Operations: []string{"110"}},
				{Name: "S250", Title: "250-hour service", Every: catalog.Counters{Hours: 250, Months: 12}, Operations: []string{"120", "130"}},
				{Name: "S1000", Title: "1000-hour service", Every: catalog.Counters{Hours: 1000, Months: 24}, Operations: []string{"120", "140"}},
				{Name: "X", Title: "Coolant", Every: catalog.Counters{Months: 36}, Operations: []string{"150"}},
				{Name: "PDI", Title: "Pre-delivery sheet", Class: catalog.PreDelivery, Operations: []string{"210", "220"}},
			}
			for _, n := range []string{"110", "120", "130", "140", "150", "160"} {
				t.Operations = append(t.Operations, catalog.Operation{Number: n, Publication: "M1"})
			}
			t.Operations = append(t.Operations, catalog.Operation{Number: "210", Publication: "PD"}, catalog.Operation{Number: "220", Publication: "PD"})
		}}, with...)...)
}

func hours(h float64) catalog.Counters { return catalog.Counters{Hours: h} }

func hoursMonths(h, m float64) catalog.Counters { return catalog.Counters{Hours: h, Months: m} }

func dueAt(now, last catalog.Counters) *resolver.Query {
	return &resolver.Query{Vehicle: aT440, Task: resolver.DueTask, Due: resolver.Reading{Now: now, Last: last}}
}

// servicesOf names the services of an answer.
func servicesOf(r *resolver.Resolver, q *resolver.Query) string {
	a, _ := r.Explain(q, resolver.Break{})
	var names []string
	for _, s := range a.Services {
		names = append(names, r.Catalog().Tables().Schedule[s].Name)
	}
	slices.Sort(names)
	return strings.Join(names, " ")
}

func TestServicesDue(t *testing.T) {
	r := serviceShop(t)
	for _, c := range []struct {
		name      string
		now, last catalog.Counters
		want      string
	}{
		{"nothing yet", hours(49), hours(1), ""},
		{"the first service, at its point", hours(50), hours(10), "F"},
		{"the first service, passed since the last reading", hours(60), hours(49), "F"},
		{"the first service is done once only", hours(100), hours(50), ""},
		{"a regular one, at its point", hours(250), hours(200), "S250"},
		{"not before", hours(249), hours(200), ""},
		{"its point was the last reading", hours(300), hours(250), ""},
		{"its second point", hours(500), hours(400), "S250"},
		{"two at once", hours(1000), hours(900), "S1000 S250"},
		{"more than one point passed: once all the same", hours(760), hours(240), "S250"},
		{"months come first", hoursMonths(100, 12), hoursMonths(60, 11), "S250"},
		{"hours come first", hoursMonths(250, 6), hoursMonths(240, 5), "S250"},
		{"neither has come", hoursMonths(249, 11), hoursMonths(60, 10), ""},
		{"by months alone, both and the extra one", hoursMonths(700, 72), hoursMonths(690, 71), "S1000 S250 X"},
		{"the extra operation at its own interval", catalog.Counters{Months: 36}, catalog.Counters{Months: 35}, "S250 X"},
		{"no last reading: one shortest interval before", hours(1100), catalog.Counters{}, "S1000 S250"},
		{"no last reading: not further back", hours(1251), catalog.Counters{}, "S250"},
		{"last reading of the hours alone: the months count from one shortest interval before", hoursMonths(260, 25), hours(250), "S1000 S250"},
		{"a counter that was not read does not count", hours(100), hours(60), ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			q := dueAt(c.now, c.last)
			ask(t, r, q)
			if got := servicesOf(r, q); got != c.want {
				t.Errorf("at %v, last %v: got %q, want %q", c.now, c.last, got, c.want)
			}
		})
	}
}

// A service that was done at a reading of its own counts from there.
func TestServiceDoneAtItsOwnReading(t *testing.T) {
	r := serviceShop(t)
	for _, c := range []struct {
		name string
		now  catalog.Counters
		done map[string]catalog.Counters
		want string
	}{
		{"early: the next is due an interval later", hours(250), map[string]catalog.Counters{"S250": hours(200)}, ""},
		{"that interval is over", hours(450), map[string]catalog.Counters{"S250": hours(200)}, "S250"},
		{"and has been for long", hours(800), map[string]catalog.Counters{"S250": hours(200)}, "S250"},
		{"by months", hoursMonths(300, 20), map[string]catalog.Counters{"S250": hoursMonths(200, 8)}, "S250"},
		{"the months of the last time are not known", hoursMonths(300, 20), map[string]catalog.Counters{"S250": hours(200)}, ""},
		{"the others count from new", hours(1001), map[string]catalog.Counters{"S250": hours(900)}, "S1000"},
		{"the first service was done", hours(51), map[string]catalog.Counters{"F": hours(48)}, ""},
		{"it was not", hours(51), nil, "F"},
	} {
		t.Run(c.name, func(t *testing.T) {
			q := dueAt(c.now, hoursMonths(c.now.Hours-2, max(0, c.now.Months-1)))
			q.Due.Done = c.done
			ask(t, r, q)
			if got := servicesOf(r, q); got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

// With First and Every the first point is First and the others follow from it.
func TestFirstServiceSooner(t *testing.T) {
	r := serviceShop(t, func(t *catalog.Tables) {
		t.Schedule = []catalog.Service{{Name: "B", First: hours(100), Every: hours(500), Operations: []string{"110"}},
			{Name: "M", First: catalog.Counters{Hours: 100, Months: 3}, Every: hours(400), Operations: []string{"120"}}}
	})
	for _, c := range []struct {
		now, last catalog.Counters
		want      string
	}{
		{hours(100), hours(90), "B M"},
		{hours(500), hours(490), "M"},  // M: 100, 500, 900 …
		{hours(600), hours(510), "B"},  // B: 100, 600, 1100 …
		{hours(1100), hours(910), "B"}, // M: 900, 1300
		{hoursMonths(20, 3), hoursMonths(10, 2), "M"},
		{hoursMonths(120, 6), hoursMonths(110, 5), ""}, // the months have one point alone
	} {
		q := dueAt(c.now, c.last)
		ask(t, r, q)
		if got := servicesOf(r, q); got != c.want {
			t.Errorf("at %v, last %v: got %q, want %q", c.now, c.last, got, c.want)
		}
	}
}

func TestOperationsOfServices(t *testing.T) {
	r := serviceShop(t)
	check(t, r, []question{
		{"by name", job("S250", aT440), "found: 120 in M1; 130 in M1"},
		{"by title", job("the 250 hour service", aT440), "found: 120 in M1; 130 in M1"},
		{"due: an operation of two services stands once", dueAt(hours(1000), hours(900)), "found: 120 in M1; 130 in M1; 140 in M1"},
		{"the pre-delivery sheet by the name of the job", job("Pre-delivery inspection", aT440), "found: 210 in PD; 220 in PD"},
		{"by a synonym", job("hand over", aT440), "found: 210 in PD; 220 in PD"},
		{"by its own title", job("pre-delivery sheet", aT440), "found: 210 in PD; 220 in PD"},
		{"nothing is due", dueAt(hours(100), hours(60)), "not covered: component"},
	})
}

// Pre-delivery work is asked for by name and never due by a reading, whatever
// interval somebody may have written there.
func TestPreDeliveryIsNeverDue(t *testing.T) {
	r := serviceShop(t, func(t *catalog.Tables) { t.Schedule[4].Every = hours(10) })
	q := dueAt(hours(1000), hours(900))
	if got, want := servicesOf(r, q), "S1000 S250"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// The publication of an operation is of the class of the service, fits and is
// not superseded; an operation that none holds is listed without a place.
func TestPlaceOfAnOperation(t *testing.T) {
	r := serviceShop(t, publications(
		catalog.Publication{ID: "M2", Class: catalog.Maintenance, AppliesTo: "T440", Supersedes: []string{"M1"}},
		catalog.Publication{ID: "R1", Class: catalog.Repair}),
		func(t *catalog.Tables) {
			t.Operations = append(t.Operations, catalog.Operation{Number: "120", Publication: "M2"}, catalog.Operation{Number: "130", Publication: "R1"})
		})
	check(t, r, []question{
		{"superseded, and another class", job("S250", aT440), "found: 120 in M2; 130 nowhere"},
		{"the newer edition does not apply", job("S250", resolver.Vehicle{Model: "T410"}), "found: 120 in M1; 130 in M1"},
		{"none has a place", job("F", aT440), "not covered: publication"},
	})
}

func TestDuty(t *testing.T) {
	r := serviceShop(t, func(t *catalog.Tables) {
		t.Schedule = append(t.Schedule, catalog.Service{Name: "S250", Duty: "heavy", Every: hours(100), Operations: []string{"160"}})
	})
	with := func(q *resolver.Query, duty string) *resolver.Query { q.Duty = duty; return q }
	check(t, r, []question{
		{"named: its row and the one for every duty", with(job("S250", aT440), "heavy"), "found: 120 in M1; 130 in M1; 160 in M1"},
		{"in other letters", with(job("S250", aT440), "Heavy"), "found: 120 in M1; 130 in M1; 160 in M1"},
		{"another", with(job("S250", aT440), "light"), "found: 120 in M1; 130 in M1"},
		{"not named: perhaps", job("S250", aT440), "ambiguous: 120 in M1; 130 in M1; perhaps 160 in M1"},
		{"due for the duty", with(dueAt(hours(100), hours(60)), "heavy"), "found: 160 in M1"},
		{"not due for another", with(dueAt(hours(100), hours(60)), "light"), "not covered: component"},
	})
}

// Rows of a service may apply to some vehicles, and are keyed by a unit.
func TestServiceRowsByModelAndEngine(t *testing.T) {
	r := serviceShop(t, func(t *catalog.Tables) {
		t.Schedule = []catalog.Service{
			{Name: "S250", AppliesTo: "T44*", Every: hours(250), Operations: []string{"110"}},
			{Name: "S250", AppliesTo: "T42*;T41*", Every: hours(200), Operations: []string{"120"}},
			{Name: "V", KeyedBy: "engine", AppliesTo: "K4", Every: hours(250), Operations: []string{"130"}},
		}
	})
	check(t, r, []question{
		{"one model", dueAt(hours(250), hours(240)), "found: 110 in M1; 130 in M1"},
		{"another, before the engine changed", &resolver.Query{Vehicle: built("T420", "2018-06"), Task: resolver.DueTask, Due: resolver.Reading{Now: hours(410), Last: hours(390)}}, "found: 120 in M1"},
		{"the engine is not settled", &resolver.Query{Vehicle: resolver.Vehicle{Model: "T420"}, Task: resolver.DueTask, Due: resolver.Reading{Now: hours(1000), Last: hours(990)}}, "ambiguous: 120 in M1; perhaps 130 in M1"},
	})
}

// Several services can bear one title: all of them are meant.
func TestServicesOfOneTitle(t *testing.T) {
	r := serviceShop(t, func(t *catalog.Tables) { t.Schedule[0].Title = "Coolant" })
	if got, want := ask(t, r, job("coolant", aT440)), "found: 110 in M1; 150 in M1"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestTraceSaysWhyAServiceIsDue(t *testing.T) {
	r := serviceShop(t)
	q := dueAt(hoursMonths(100, 12), hoursMonths(60, 11))
	mustContain(t, "S250", verdicts(r, q, "service:S250"), "chosen: due at 12 months")
	mustContain(t, "S1000", verdicts(r, q, "service:S1000"), "ruled out: no point of its hours lies after 60 and not after 100")
	mustContain(t, "F", verdicts(r, q, "service:F"), "ruled out")
}

// Services are often called by letters (common practice, no source); the first
// of them is an article too.
func TestServiceCalledA(t *testing.T) {
	r := serviceShop(t, func(t *catalog.Tables) {
		t.Schedule = []catalog.Service{{Name: "A", Title: "Service A", Operations: []string{"110"}}, {Name: "B", Title: "Service B", Operations: []string{"120"}}}
	})
	check(t, r, []question{
		{"by its letter", job("A", aT440), "found: 110 in M1"},
		{"by its title", job("service A", aT440), "found: 110 in M1"},
		{"the other", job("service B", aT440), "found: 120 in M1"},
		{"a service, no matter which, is none", job("service", aT440), "not covered: component"},
	})
}
