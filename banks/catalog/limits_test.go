package catalog

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func mustDate(t testing.TB, s string) Date {
	t.Helper()
	d, err := ParseDate(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// How the three styles print limits is common practice in service literature,
// no source; the dates are ISO 8601-1 extended form.
func TestFormatPrintsLimitsInTheStyleOfTheLiterature(t *testing.T) {
	d := func(s string) Date { return mustDate(t, s) }
	german := LimitStyle{Style: "words", From: "ab", Through: "bis einschl.", Serial: "Fz.-Nr."}
	stop := LimitStyle{Style: "arrow-after", Serial: "S/N", Arrow: "->"}
	for _, tt := range []struct {
		style LimitStyle
		e     Effectivity
		want  string
	}{
		{LimitStyle{}, nil, "all"},
		{LimitStyle{}, Effectivity{{From: d("2016-03")}}, "from 2016-03"},
		{LimitStyle{}, Effectivity{{Through: d("2018-02-28")}}, "through 2018-02-28"},
		{LimitStyle{}, Effectivity{{From: d("2016-03"), Through: d("2018")}}, "from 2016-03 through 2018"},
		{LimitStyle{}, Effectivity{{Serials: Serials{1200, 3400}}}, "from no. 1200 through no. 3400"},
		{LimitStyle{}, Effectivity{{From: d("2016-03"), Serials: Serials{0, 3400}}}, "from 2016-03, through no. 3400"},
		{LimitStyle{}, Effectivity{{Through: d("2014-12")}, {From: d("2016-03")}}, "through 2014-12; from 2016-03"},
		{LimitStyle{}, Effectivity{{}, {From: d("2016-03")}}, "all; from 2016-03"},
		{german, Effectivity{{From: d("2016-03"), Through: d("2018-02"), Serials: Serials{1200, 0}}}, "ab 2016-03 bis einschl. 2018-02, ab Fz.-Nr. 1200"},

		{LimitStyle{Style: "arrow-after"}, Effectivity{{From: d("2016-03")}}, "2016-03 →"},
		{LimitStyle{Style: "arrow-after"}, Effectivity{{Through: d("2018-02")}}, "→ 2018-02"},
		{LimitStyle{Style: "arrow-after"}, Effectivity{{From: d("2016-03"), Through: d("2018-02"), Serials: Serials{1200, 3400}}}, "2016-03 → 2018-02, no. 1200 → no. 3400"},
		{stop, Effectivity{{Serials: Serials{From: 1200}}, {Serials: Serials{Through: 99}}}, "S/N 1200 ->; -> S/N 99"},

		{LimitStyle{Style: "arrow-before"}, Effectivity{{From: d("2016-03")}}, "→ 2016-03"},
		{LimitStyle{Style: "arrow-before"}, Effectivity{{Through: d("2018-02")}}, "2018-02 →"},
		{LimitStyle{Style: "arrow-before"}, Effectivity{{From: d("2016-03"), Through: d("2018-02"), Serials: Serials{1200, 3400}}}, "→ 2016-03, 2018-02 →, → no. 1200, no. 3400 →"},
	} {
		if got := tt.style.Format(tt.e); got != tt.want {
			t.Errorf("%v in style %q is printed %q, want %q", tt.e, tt.style.Style, got, tt.want)
		}
		back, err := tt.style.Parse(tt.want)
		if err != nil {
			t.Errorf("reading %q back: %v", tt.want, err)
		} else if d := cmp.Diff(tt.e, back); d != "" {
			t.Errorf("reading %q back: %s", tt.want, d)
		}
	}
}

// The same print means opposite limits in the two arrow styles: the catalog
// must say which its literature uses.
func TestTheArrowStylesAreMirrorImages(t *testing.T) {
	after, err := LimitStyle{Style: "arrow-after"}.Parse("2016-03 →")
	if err != nil {
		t.Fatal(err)
	}
	before, err := LimitStyle{Style: "arrow-before"}.Parse("2016-03 →")
	if err != nil {
		t.Fatal(err)
	}
	if after[0].From != before[0].Through || !after[0].Through.IsZero() || !before[0].From.IsZero() {
		t.Errorf("got %v and %v", after, before)
	}
}

func TestParseIsLenientAboutSpaceCaseAndTheSecondSerialWord(t *testing.T) {
	for _, tt := range []struct {
		style    LimitStyle
		in, same string
	}{
		{LimitStyle{}, "  FROM  2016-03\tThrough 2018-02 ", "from 2016-03 through 2018-02"},
		{LimitStyle{}, "from no.1200 through 3400", "from no. 1200 through no. 3400"},
		{LimitStyle{}, "from no. 2000 through 2010", "from no. 2000 through no. 2010"},
		{LimitStyle{}, "from 2000 through 2010", "from 2000 through 2010"},
		{LimitStyle{}, "from 2016-03,through no. 4", "from 2016-03, through no. 4"},
		{LimitStyle{}, " ALL ", "all"},
		{LimitStyle{}, "", "all"},
		{LimitStyle{Style: "arrow-after"}, "2016-03→2018-02", "2016-03 → 2018-02"},
		{LimitStyle{Style: "arrow-after"}, "no. 5 → 9", "no. 5 → no. 9"},
		{LimitStyle{Style: "arrow-after", Arrow: "-"}, "2016-03-", "2016-03 -"},
		{LimitStyle{Style: "arrow-after", Arrow: "-"}, "- 2016-03", "- 2016-03"},
	} {
		e, err := tt.style.Parse(tt.in)
		if err != nil {
			t.Errorf("%q: %v", tt.in, err)
			continue
		}
		if got := tt.style.Format(e); got != tt.same {
			t.Errorf("%q is read as %q, want %q", tt.in, got, tt.same)
		}
	}
}

func TestParseSaysWhatIsWrong(t *testing.T) {
	arrow := LimitStyle{Style: "arrow-before"}
	for _, tt := range []struct {
		style    LimitStyle
		in, want string
	}{
		{LimitStyle{}, "2016-03", `"2016-03" stands where "from" or "through" is expected`},
		{LimitStyle{}, "until 2016-03", `"until 2016-03" stands where`},
		{LimitStyle{}, "from 2016-13", "there is no such month"},
		{LimitStyle{}, "from 2015-02-29", "that month has no such day"},
		{LimitStyle{}, "from no. 0", "a serial limit of 0 limits nothing"},
		{LimitStyle{}, "from no. 99999999999999999999", "is not a serial"},
		{LimitStyle{}, "from", "a date or serial is missing"},
		{LimitStyle{}, "from soon", `"soon" stands where a date or no. and a serial is expected`},
		{LimitStyle{}, "from 2016, from 2017", "the same limit is given twice"},
		{LimitStyle{}, "through 2016 from 2015", "the order is from, then through"},
		{LimitStyle{}, "from 2016;", "a limit is empty"},
		{LimitStyle{}, ",", "a limit is empty"},
		{arrow, "2016-03", "it has no →"},
		{arrow, "→ 2016-03 →", `"→" follows the limit`},
		{arrow, "2016-03 → 2018-02", `"2018-02" follows the limit`},
		{LimitStyle{Style: "arrow-after"}, "2016 → 2018 →", `"→" follows the limit`},
		{LimitStyle{Style: "arrows"}, "all", `"arrows" is not a style of limits`},
		{LimitStyle{}, strings.Repeat("all;", maxRanges) + "all", "1001 ranges are given; at most 1000"},
	} {
		_, err := tt.style.Parse(tt.in)
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%.40q: error %v, want one with %q", tt.in, err, tt.want)
		}
	}
	_, err := LimitStyle{Style: "arrow-after"}.Parse("soon")
	if want := `write it like "2016-03 → 2018-02, no. 1200 →"`; err == nil || !strings.HasSuffix(err.Error(), want) {
		t.Errorf("error %v does not say how to mend it", err)
	}
}

func TestLimitStylesThatCannotBeReadBackAreRefused(t *testing.T) {
	for _, tt := range []struct {
		style LimitStyle
		want  string
	}{
		{LimitStyle{Style: "roman"}, "not a style"},
		{LimitStyle{From: "ab", Through: "Abwärts"}, "cannot be told apart"},
		{LimitStyle{From: "x", Through: "X"}, "cannot be told apart"},
		{LimitStyle{Serial: "al"}, "cannot be told apart"},
		{LimitStyle{From: "type 2"}, "without digits, commas and semicolons"},
		{LimitStyle{Through: "up to, including"}, "without digits, commas and semicolons"},
		{LimitStyle{Style: "arrow-after", Arrow: ";"}, "without digits, commas and semicolons"},
		{LimitStyle{From: "a\x00"}, "control character"},
	} {
		if err := tt.style.Check(); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%+v: %v, want an error with %q", tt.style, err, tt.want)
		}
	}
	for _, s := range []LimitStyle{{}, {Style: "arrow-after"}, {Style: "arrow-before", Arrow: "»"}, {From: "von", Through: "bis"}} {
		if err := s.Check(); err != nil {
			t.Errorf("%+v: %v", s, err)
		}
	}
}

// drawDate draws a date at any precision, or none.
func drawDate(t *rapid.T, label string) Date {
	precision := rapid.IntRange(0, 3).Draw(t, label+" precision")
	if precision == 0 {
		return Date{}
	}
	d := Date{Year: int16(rapid.IntRange(1900, 2199).Draw(t, label+" year"))}
	if precision > 1 {
		d.Month = int8(rapid.IntRange(1, 12).Draw(t, label+" month"))
	}
	if precision > 2 {
		d.Day = int8(rapid.IntRange(1, daysIn(int(d.Year), int(d.Month))).Draw(t, label+" day"))
	}
	return d
}

func drawRange(t *rapid.T) Range {
	serial := func(label string) int64 {
		if rapid.Bool().Draw(t, label+" open") {
			return 0
		}
		return rapid.Int64Range(1, 1<<63-1).Draw(t, label)
	}
	return Range{From: drawDate(t, "from"), Through: drawDate(t, "through"), Serials: Serials{serial("first serial"), serial("last serial")}}
}

// drawLimitStyle draws a style with any words that can be told apart.
func drawLimitStyle(t *rapid.T) LimitStyle {
	word := rapid.StringMatching(`|[\pL.:|/ ()→»>-]{1,8}`)
	l := LimitStyle{Style: rapid.SampledFrom([]string{"", limitWords, limitArrowAfter, limitArrowBefore}).Draw(t, "style"),
		From: word.Draw(t, "from word"), Through: word.Draw(t, "through word"), Serial: word.Draw(t, "serial word"), Arrow: word.Draw(t, "arrow")}
	if l.Check() != nil {
		t.Skip("words that Check refuses")
	}
	return l
}

func TestWhatFormatPrintsParseReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLimitStyle(t)
		var e Effectivity
		for range rapid.IntRange(0, 4).Draw(t, "ranges") {
			e = append(e, drawRange(t))
		}
		if len(e) == 1 && e[0] == (Range{}) {
			e = nil // limits nothing, as the empty effectivity
		}
		s := l.Format(e)
		got, err := l.Parse(s)
		if err != nil {
			t.Fatalf("%q: %v", s, err)
		}
		if d := cmp.Diff(e, got); d != "" {
			t.Fatalf("%q: %s", s, d)
		}
	})
}

func FuzzLimits(f *testing.F) {
	for _, s := range []string{"all", "from 2016-03 through 2018-02, from no. 1200; from no. 9000", "2016-03 → 2018-02, no. 1200 →", "→ 2016-03, 2018-02 →", "from no. 5 through 9", ";", "from 2016-0३"} {
		for _, style := range []string{"words", "arrow-after", "arrow-before"} {
			f.Add(style, "", s)
			f.Add(style, "-", s)
		}
	}
	f.Fuzz(func(t *testing.T, style, word, s string) {
		l := LimitStyle{Style: style, From: word, Arrow: word}
		e, err := l.Parse(s)
		if err != nil {
			return
		}
		again, err := l.Parse(l.Format(e))
		if err != nil {
			t.Fatalf("%q is read as %v, printed as %q and not read back: %v", s, e, l.Format(e), err)
		}
		if d := cmp.Diff(e, again); d != "" {
			t.Fatalf("%q: %s", s, d)
		}
	})
}
