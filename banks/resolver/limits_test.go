package resolver_test

import (
	"testing"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// An edition of brake literature with a limit, and the one that follows it.
func brakeBook(id string, ranges ...catalog.Range) catalog.Publication {
	return catalog.Publication{ID: id, Class: catalog.Repair, KeyedBy: "model", Series: "RB", Title: "Brakes", Effectivity: ranges}
}

// A month printed with "through" still counts, and the next edition begins the
// month after (common practice, no source; ISO 8601-1 for reduced precision).
func TestLimitByMonth(t *testing.T) {
	r := shop(t, publications(brakeBook("R1", dates("", "2018-03")), brakeBook("R2", dates("2018-04", ""))),
		procedures(brakeDisc("J1", "R1"), brakeDisc("J2", "R2")))
	check(t, r, []question{
		{"month of the limit", job("replace brake disc", built("T440", "2018-03")), "found: J1 in R1"},
		{"month after it", job("replace brake disc", built("T440", "2018-04")), "found: J2 in R2"},
		{"last day of the month", job("replace brake disc", built("T440", "2018-03-31")), "found: J1 in R1"},
		{"first day after it", job("replace brake disc", built("T440", "2018-04-01")), "found: J2 in R2"},
		{"long before", job("replace brake disc", built("T440", "2016-01")), "found: J1 in R1"},
		{"long after", job("replace brake disc", built("T440", "2020-12")), "found: J2 in R2"},
	})
}

func TestLimitByDay(t *testing.T) {
	r := shop(t, publications(brakeBook("R1", dates("", "2018-03-14")), brakeBook("R2", dates("2018-03-15", ""))),
		procedures(brakeDisc("J1", "R1"), brakeDisc("J2", "R2")))
	check(t, r, []question{
		{"day of the limit", job("replace brake disc", built("T440", "2018-03-14")), "found: J1 in R1"},
		{"day after it", job("replace brake disc", built("T440", "2018-03-15")), "found: J2 in R2"},
		// Only the month is known, and the break lies within it.
		{"month of the limit", job("replace brake disc", built("T440", "2018-03")), "ambiguous: perhaps J1 in R1; perhaps J2 in R2"},
		{"month before", job("replace brake disc", built("T440", "2018-02")), "found: J1 in R1"},
		{"month after", job("replace brake disc", built("T440", "2018-04")), "found: J2 in R2"},
	})
}

func TestLimitBySerial(t *testing.T) {
	r := shop(t, publications(brakeBook("R1", serials(0, 4999)), brakeBook("R2", serials(5000, 0))),
		procedures(brakeDisc("J1", "R1"), brakeDisc("J2", "R2")))
	check(t, r, []question{
		{"serial of the limit", job("replace brake disc", serial("T440", 4999)), "found: J1 in R1"},
		{"serial after it", job("replace brake disc", serial("T440", 5000)), "found: J2 in R2"},
		{"serial not known", job("replace brake disc", aT440), "ambiguous: perhaps J1 in R1; perhaps J2 in R2"},
		{"serial from the plate", job("replace brake disc", resolver.Vehicle{Chassis: number(t, r, "T440", "J", 4999)}), "found: J1 in R1"},
		{"next plate", job("replace brake disc", resolver.Vehicle{Chassis: number(t, r, "T440", "J", 5000)}), "found: J2 in R2"},
	})
}

// Where a date and a serial limit are given both must hold.
func TestBothLimitsMustHold(t *testing.T) {
	r := shop(t, publications(brakeBook("R1", both(dates("2018-04", ""), serials(5000, 0)))), procedures(brakeDisc("J1", "R1")))
	v := func(date string, n int64) resolver.Vehicle {
		return resolver.Vehicle{Model: "T440", Built: day(date), Serial: n}
	}
	check(t, r, []question{
		{"both hold", job("replace brake disc", v("2018-04", 5000)), "found: J1 in R1"},
		{"too early", job("replace brake disc", v("2018-03", 5000)), "not covered: edition"},
		{"serial too low", job("replace brake disc", v("2018-04", 4999)), "not covered: edition"},
		{"one known to fail settles it", job("replace brake disc", v("", 4999)), "not covered: edition"},
		{"one known to hold does not", job("replace brake disc", v("", 5000)), "ambiguous: perhaps J1 in R1"},
	})
}

// A record with several ranges applies in each of them and not between.
func TestSeveralRanges(t *testing.T) {
	r := shop(t, publications(brakeBook("R1", dates("2016-01", "2016-12"), dates("2018-01", "2018-12"))), procedures(brakeDisc("J1", "R1")))
	check(t, r, []question{
		{"in the first", job("replace brake disc", built("T440", "2016-12")), "found: J1 in R1"},
		{"between", job("replace brake disc", built("T440", "2017-01")), "not covered: edition"},
		{"in the second", job("replace brake disc", built("T440", "2018-01")), "found: J1 in R1"},
		{"after", job("replace brake disc", built("T440", "2019-01")), "not covered: edition"},
		{"a year that is one of them", job("replace brake disc", built("T440", "2018")), "found: J1 in R1"},
		{"not known", job("replace brake disc", aT440), "ambiguous: perhaps J1 in R1"},
	})
}

// A date limit means the build date of the whole, a serial limit the serials of
// the unit that keys the record.
func TestSerialLimitCountsTheKeyingUnit(t *testing.T) {
	book := func(id string, ranges ...catalog.Range) catalog.Publication {
		return catalog.Publication{ID: id, Class: catalog.Repair, KeyedBy: "engine", Effectivity: ranges}
	}
	r := shop(t, publications(book("R1", serials(0, 4999)), book("R2", serials(5000, 0))), procedures(fuelFilter("J1", "R1"), fuelFilter("J2", "R2")))
	check(t, r, []question{
		{"engine serial", job("replace fuel filter", resolver.Vehicle{Model: "T440", Engine: "K4 4999"}), "found: J1 in R1"},
		{"next engine serial", job("replace fuel filter", resolver.Vehicle{Model: "T440", Engine: "K4 5000"}), "found: J2 in R2"},
		{"the vehicle's serial is none", job("replace fuel filter", serial("T440", 4999)), "ambiguous: perhaps J1 in R1; perhaps J2 in R2"},
	})
}

// Ambiguity is an answer: both candidates, and the trace says of each why it
// may or may not be the one.
func TestPartlyKnownBuildDateNamesBothEditionsAndTheReason(t *testing.T) {
	r := shop(t, publications(brakeBook("R1", dates("", "2018-03-14")), brakeBook("R2", dates("2018-03-15", ""))),
		procedures(brakeDisc("J1", "R1"), brakeDisc("J2", "R2")))
	q := job("replace brake disc", built("T440", "2018-03"))
	if got, want := ask(t, r, q), "ambiguous: perhaps J1 in R1; perhaps J2 in R2"; got != want {
		t.Fatalf("got %s, want %s", got, want)
	}
	mustContain(t, "R1", verdicts(r, q, "publication:R1"), "possible: applies through 2018-03-14")
	mustContain(t, "R2", verdicts(r, q, "publication:R2"), "possible: applies from 2018-03-15")
	mustContain(t, "what is known", verdicts(r, q, "publication:R1"), "2018-03-01 to 2018-03-31")
}

// The trace says of an edition that is ruled out which limit does it.
func TestTraceSaysWhichLimitRulesOut(t *testing.T) {
	r := shop(t, publications(brakeBook("R1", dates("", "2018-03")), brakeBook("R2", dates("2018-04", ""))),
		procedures(brakeDisc("J1", "R1"), brakeDisc("J2", "R2")))
	q := job("replace brake disc", built("T440", "2018-05"))
	mustContain(t, "R1", verdicts(r, q, "publication:R1"), "ruled out: applies through 2018-03")
	mustContain(t, "R1", verdicts(r, q, "publication:R1"), "built 2018-05")
	mustContain(t, "R2", verdicts(r, q, "publication:R2"), "chosen: applies from 2018-04")
}
