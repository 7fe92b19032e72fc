package catalog

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// Dates are in the extended format of ISO 8601-1, complete or of reduced
// precision (5.2.2), in the proleptic Gregorian calendar.
func TestParseDateReadsISO8601(t *testing.T) {
	for _, tt := range []struct {
		in   string
		want Date
	}{
		{"", Date{}},
		{"2016", Date{Year: 2016}},
		{"2016-03", Date{Year: 2016, Month: 3}},
		{"2016-03-31", Date{2016, 3, 31}},
		{"1900-01-01", Date{1900, 1, 1}},
		{"2199-12-31", Date{2199, 12, 31}},
		{"2016-02-29", Date{2016, 2, 29}},
		{"2000-02-29", Date{2000, 2, 29}}, // a century that is a leap year
	} {
		if got, err := ParseDate(tt.in); err != nil || got != tt.want || got.String() != tt.in {
			t.Errorf("ParseDate(%q) = %v, %v, want %v", tt.in, got, err, tt.want)
		}
	}
	for in, want := range map[string]string{
		"2016-3":     "wrong length",
		"03/2016":    "not four digits",
		"2016/03":    "month is not two digits",
		"2016-13":    "no such month",
		"2016-00":    "no such month",
		"2015-02-29": "no such day",
		"1900-02-29": "no such day", // a century that is not a leap year
		"2016-04-31": "no such day",
		"2016-03-00": "no such day",
		"2016-0x-01": "two digits",
		"1899-12":    "outside 1900 to 2199",
		"20160301":   "wrong length",
		"２０16":       "not a date",
	} {
		if _, err := ParseDate(in); err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "write YYYY-MM") {
			t.Errorf("ParseDate(%q): error %v, want one with %q and how to mend it", in, err, want)
		}
	}
}

// The day counts are worked from the definition of the Unix epoch (POSIX,
// Seconds Since the Epoch): day 0 is 1970-01-01; 2000-03-01 is day 11017.
func TestDaysCountFromTheUnixEpoch(t *testing.T) {
	for in, want := range map[string]Day{"1970-01-01": 0, "1970-02-01": 31, "1969-12-31": -1, "2000-02-29": 11016, "2000-03-01": 11017, "2100-03-01": 47541} {
		d := mustDate(t, in)
		if d.First() != want || d.Last() != want || want.Date() != d {
			t.Errorf("%s is day %d to %d, want %d", in, d.First(), d.Last(), want)
		}
	}
}

func TestAMonthRunsFromItsFirstToItsLastDay(t *testing.T) {
	for in, want := range map[string][2]string{
		"2016-02": {"2016-02-01", "2016-02-29"},
		"2015-02": {"2015-02-01", "2015-02-28"},
		"1900-02": {"1900-02-01", "1900-02-28"},
		"2000-02": {"2000-02-01", "2000-02-29"},
		"2016-12": {"2016-12-01", "2016-12-31"},
		"2016":    {"2016-01-01", "2016-12-31"},
	} {
		d := mustDate(t, in)
		if got := [2]string{d.First().Date().String(), d.Last().Date().String()}; got != want {
			t.Errorf("%s runs from %s to %s, want %s to %s", in, got[0], got[1], want[0], want[1])
		}
	}
	var none Date
	if none.Span() != AnyDay() || none.First() != MinDay || none.Last() != MaxDay {
		t.Error("no date limits something")
	}
}

func TestEveryMonthBeginsTheDayAfterTheOneBeforeIt(t *testing.T) {
	for y := 1900; y <= 2199; y++ {
		for m := 1; m <= 12; m++ {
			d := Date{Year: int16(y), Month: int8(m)}
			if next := d.AddMonths(1); d.Last()+1 != next.First() {
				t.Fatalf("%v ends on day %d, %v begins on day %d", d, d.Last(), next, next.First())
			}
		}
	}
}

func TestAddMonthsKeepsPrecisionAndStopsAtTheEndOfTheMonth(t *testing.T) {
	for _, tt := range []struct {
		in   string
		n    int
		want string
	}{
		{"2016-01-31", 1, "2016-02-29"},
		{"2015-01-31", 1, "2015-02-28"},
		{"2016-02-29", 12, "2017-02-28"},
		{"2016-03", 12, "2017-03"},
		{"2016-12", 1, "2017-01"},
		{"2016-01", -1, "2015-12"},
		{"2016-03-15", -14, "2015-01-15"},
		{"", 5, ""},
	} {
		if got := mustDate(t, tt.in).AddMonths(tt.n).String(); got != tt.want {
			t.Errorf("%s and %d months is %s, want %s", tt.in, tt.n, got, tt.want)
		}
	}
}

// The standard library's calendar is the reference.
func TestDatesAgreeWithTheStandardLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		day := Day(rapid.IntRange(int(dayOf(1900, 1, 1)), int(dayOf(2199, 12, 31))).Draw(t, "day"))
		want := time.Unix(0, 0).UTC().AddDate(0, 0, int(day))
		d := day.Date()
		if d.String() != want.Format(time.DateOnly) {
			t.Fatalf("day %d is %s, want %s", day, d, want.Format(time.DateOnly))
		}
		if d.First() != day || d.Last() != day {
			t.Fatalf("day %d comes back as %d to %d", day, d.First(), d.Last())
		}
		if back, err := ParseDate(d.String()); err != nil || back != d {
			t.Fatalf("%s is read as %v, %v", d, back, err)
		}
	})
}

func TestDatesInJSON(t *testing.T) {
	b, err := json.Marshal(Range{From: Date{Year: 2016, Month: 3}})
	if err != nil {
		t.Fatal(err)
	}
	var r Range
	if err := json.Unmarshal(b, &r); err != nil || r.From != (Date{Year: 2016, Month: 3}) || !r.Through.IsZero() {
		t.Errorf("%s is read as %v, %v", b, r, err)
	}
	if err := json.Unmarshal([]byte(`{"from":"2016-13"}`), &r); err == nil {
		t.Error("month 13 is accepted")
	}
}

func TestSerialsMeet(t *testing.T) {
	for _, tt := range []struct {
		a, b, want Serials
		ok         bool
	}{
		{Serials{1, 5}, Serials{5, 9}, Serials{5, 5}, true},
		{Serials{1, 5}, Serials{6, 9}, Serials{}, false},
		{Serials{0, 5}, Serials{3, 0}, Serials{3, 5}, true},
		{Serials{}, Serials{}, Serials{}, true},
		{Serials{7, 0}, Serials{}, Serials{7, 0}, true},
		{Serials{7, 0}, Serials{0, 6}, Serials{}, false},
	} {
		for _, swap := range []bool{false, true} {
			a, b := tt.a, tt.b
			if swap {
				a, b = b, a
			}
			if m, ok := a.Meet(b); ok != tt.ok || ok && m != tt.want {
				t.Errorf("%v meets %v in %v, %v; want %v, %v", a, b, m, ok, tt.want, tt.ok)
			}
		}
	}
}

func FuzzDate(f *testing.F) {
	for _, s := range []string{"", "2016", "2016-03", "2016-02-29", "2015-02-29", "1900-02-29", "2199-12-31", "2016-3", "03/2016", "2016-13", "-016-01-01", "２０16"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		d, err := ParseDate(s)
		if err != nil {
			return
		}
		if d.String() != s {
			t.Fatalf("%q is read as %q", s, d)
		}
		if d.First() > d.Last() {
			t.Fatalf("%q runs from %d to %d", s, d.First(), d.Last())
		}
		// The standard library must take the same text for the same days.
		if d.IsZero() {
			return
		}
		layout := map[int]string{4: "2006", 7: "2006-01", 10: time.DateOnly}[len(s)]
		ref, err := time.Parse(layout, s)
		if err != nil || Day(ref.Unix()/86400) != d.First() && ref.Unix() >= 0 {
			t.Fatalf("%q begins on day %d, the standard library says %v, %v", s, d.First(), ref, err)
		}
	})
}
