package catalog

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Limits are inclusive: common practice, no source. A month as from means its
// first day, as through its last: ISO 8601-1 reduced precision.
func TestLimitsAreInclusive(t *testing.T) {
	d := func(s string) Date { return mustDate(t, s) }
	r := Range{From: d("2016-03"), Through: d("2018-02"), Serials: Serials{1200, 3400}}
	for _, tt := range []struct {
		built  string
		serial int64
		want   Fit
	}{
		{"2016-03-01", 2000, Within},
		{"2016-02-29", 2000, Outside},
		{"2018-02-28", 2000, Within},
		{"2018-03-01", 2000, Outside},
		{"2017-01-01", 1200, Within},
		{"2017-01-01", 1199, Outside},
		{"2017-01-01", 3400, Within},
		{"2017-01-01", 3401, Outside},
		{"2016-02", 1199, Outside}, // both must hold
		{"2016-02", 1200, Outside},
		{"2016-03", 1200, Within},
		{"2016", 2000, Partly}, // a year of which January and February are outside
		{"2017", 2000, Within},
		{"", 2000, Partly},
		{"2016", 1199, Outside},
	} {
		if got := r.Fit(d(tt.built).Span(), Serials{tt.serial, tt.serial}); got != tt.want {
			t.Errorf("built %s, serial %d: %v, want %v", tt.built, tt.serial, got, tt.want)
		}
	}
}

func TestOpenSidesLimitNothing(t *testing.T) {
	var none Effectivity
	if none.Fit(AnyDay(), Serials{}) != Within {
		t.Error("the empty effectivity does not apply to all")
	}
	from := Range{From: Date{Year: 2016}}
	if from.Fit(Days{from.From.First(), MaxDay}, Serials{}) != Within || from.Fit(AnyDay(), Serials{}) != Partly {
		t.Error("an open through is wrong")
	}
	serial := Range{Serials: Serials{From: 10}}
	if serial.Fit(AnyDay(), Serials{From: 10}) != Within || serial.Fit(AnyDay(), Serials{Through: 9}) != Outside || serial.Fit(AnyDay(), Serials{}) != Partly {
		t.Error("an open last serial is wrong")
	}
}

func TestARecordOfSeveralRangesAppliesInEach(t *testing.T) {
	e := Effectivity{{Through: mustDate(t, "2014-12")}, {From: mustDate(t, "2016-03")}}
	for built, want := range map[string]Fit{"2014-12": Within, "2015": Outside, "2016-02": Outside, "2016-03": Within, "2014": Within, "2016": Partly} {
		if got := e.Fit(mustDate(t, built).Span(), Serials{}); got != want {
			t.Errorf("built %s: %v, want %v", built, got, want)
		}
	}
}

// edition is one of a row of editions that share out time between them.
type edition struct {
	limits Range
	months [2]int // first and last month, counted from 1900-01
}

func month(n int) Date { return Date{Year: int16(1900 + n/12), Month: int8(n%12 + 1)} }

// drawEditions cuts the months from 1900 to 2199 into consecutive editions; the
// limits are printed at month or at day precision, the outermost may be open.
func drawEditions(t *rapid.T) []edition {
	const last = 300*12 - 1
	cuts := rapid.SliceOfNDistinct(rapid.IntRange(1, last), 0, 12, rapid.ID).Draw(t, "cuts")
	slices.Sort(cuts)
	cuts = append(cuts, last+1)
	var eds []edition
	first := 0
	for i, c := range cuts {
		e := edition{months: [2]int{first, c - 1}, limits: Range{From: month(first), Through: month(c - 1)}}
		if rapid.Bool().Draw(t, "from to the day") {
			e.limits.From = e.limits.From.First().Date()
		}
		if rapid.Bool().Draw(t, "through to the day") {
			e.limits.Through = e.limits.Through.Last().Date()
		}
		if i == 0 && rapid.Bool().Draw(t, "open from") {
			e.limits.From = Date{}
		}
		if c == last+1 && rapid.Bool().Draw(t, "open through") {
			e.limits.Through = Date{}
		}
		eds = append(eds, e)
		first = c
	}
	return eds
}

func TestConsecutiveEditionsShareOutTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		eds := drawEditions(t)
		style := LimitStyle{Style: rapid.SampledFrom([]string{limitWords, limitArrowAfter, limitArrowBefore}).Draw(t, "style")}
		// The limits go through print, as they do in a catalog.
		for i := range eds {
			e, err := style.Parse(style.Format(Effectivity{eds[i].limits}))
			if err != nil {
				t.Fatal(err)
			}
			eds[i].limits = Range{}
			if len(e) == 1 {
				eds[i].limits = e[0]
			}
		}
		count := func(built Days) (within, outside int, at int) {
			for i, e := range eds {
				switch e.limits.Fit(built, Serials{}) {
				case Within:
					within, at = within+1, i
				case Outside:
					outside++
				}
			}
			return within, outside, at
		}
		// Every boundary month, its neighbours and its first and last day fall in
		// exactly one edition, the one it belongs to.
		for i, e := range eds {
			for _, m := range e.months {
				for _, built := range []Days{month(m).Span(), month(m).First().Date().Span(), month(m).Last().Date().Span()} {
					if within, outside, at := count(built); within != 1 || outside != len(eds)-1 || at != i {
						t.Fatalf("%v (edition %d) lies within %d editions, outside of %d of %d", month(m), i, within, outside, len(eds))
					}
				}
			}
		}
		// So does any other day.
		day := Day(rapid.IntRange(int(dayOf(1900, 1, 1)), int(dayOf(2199, 12, 31))).Draw(t, "day"))
		if within, outside, _ := count(Days{day, day}); within != 1 || outside != len(eds)-1 {
			t.Fatalf("day %v lies within %d editions", day.Date(), within)
		}
	})
}

func TestConsecutiveEditionsShareOutSerials(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cuts := rapid.SliceOfNDistinct(rapid.Int64Range(2, 1<<40), 0, 12, rapid.ID).Draw(t, "cuts")
		slices.Sort(cuts)
		var eds []Serials
		first := int64(1)
		for _, c := range cuts {
			eds = append(eds, Serials{first, c - 1})
			first = c
		}
		eds = append(eds, Serials{first, 0})
		probe := func(n int64) {
			within := 0
			for _, e := range eds {
				if FitSerials(Serials{n, n}, e) == Within {
					within++
				}
			}
			if within != 1 {
				t.Fatalf("serial %d lies within %d editions", n, within)
			}
		}
		for _, c := range cuts {
			probe(c - 1)
			probe(c)
		}
		probe(rapid.Int64Range(1, 1<<41).Draw(t, "serial"))
	})
}

// Fit of an interval is what the days in it, asked one by one, say together.
func TestFitOfAnIntervalSumsUpItsDays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		day := rapid.IntRange(-40, 40)
		span := func(label string) Days {
			a, b := day.Draw(t, label), day.Draw(t, label)
			return Days{Day(min(a, b)), Day(max(a, b))}
		}
		known, limit := span("known"), span("limit")
		in, out := 0, 0
		for d := known.From; d <= known.Through; d++ {
			if d >= limit.From && d <= limit.Through {
				in++
			} else {
				out++
			}
		}
		want := Partly
		if out == 0 {
			want = Within
		} else if in == 0 {
			want = Outside
		}
		if got := FitDays(known, limit); got != want {
			t.Fatalf("%v in %v: %v, want %v", known, limit, got, want)
		}
		if got := FitSerials(Serials{int64(known.From) + 50, int64(known.Through) + 50}, Serials{int64(limit.From) + 50, int64(limit.Through) + 50}); got != want {
			t.Fatalf("serials %v in %v: %v, want %v", known, limit, got, want)
		}
		if meet := known.Meet(limit); meet.Empty() != (in == 0) {
			t.Fatalf("%v meets %v in %v, but shares %d days", known, limit, meet, in)
		}
	})
}
