package catalog

import "testing"

// Two ranges that join leave no doubt about a vehicle built in either.
func TestRangesThatJoin(t *testing.T) {
	date := func(s string) Date { d, err := ParseDate(s); must(t, err); return d }
	joined := Effectivity{{Through: date("2016-06")}, {From: date("2016-07")}}
	gap := Effectivity{{Through: date("2016-05")}, {From: date("2016-07")}}
	serials := Effectivity{{Serials: Serials{Through: 100}}, {Serials: Serials{From: 101, Through: 200}}}
	mixed := Effectivity{{Through: date("2016-06"), Serials: Serials{Through: 100}}, {From: date("2016-07")}}
	for _, c := range []struct {
		name   string
		e      Effectivity
		built  string
		serial Serials
		want   Fit
	}{
		{"a year over a joint", joined, "2016", Serials{}, Within},
		{"a year over a gap", gap, "2016", Serials{}, Partly},
		{"a month in a gap", gap, "2016-06", Serials{}, Outside},
		{"serials over a joint", serials, "", Serials{From: 50, Through: 150}, Within},
		{"serials beyond the last", serials, "", Serials{From: 50, Through: 250}, Partly},
		{"no serial known", serials, "", Serials{}, Partly},
		{"a joint that holds for some serials", mixed, "2016", Serials{}, Partly},
	} {
		if got := c.e.Fit(date(c.built).Span(), c.serial); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
