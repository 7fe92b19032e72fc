package words

import (
	"math"
	"strings"
	"testing"
	"time"
)

// Formats of CLDR 48 as ICU 78.2 gives them for en-GB, de-DE, es-ES and fr-FR
// (Intl of Node.js 20: dateStyle long and medium, year with month long and short,
// timeStyle short, NumberFormat, ListFormat), apart from what is noted.
func TestFormatsOfCLDR(t *testing.T) {
	day := time.Date(2031, time.March, 4, 15, 4, 0, 0, time.UTC)
	all := printers(t)
	for _, c := range []struct {
		locale string
		got    func(*Printer) string
		want   string
	}{
		{"en", func(p *Printer) string { return p.Day(day) }, "4 March 2031"},
		{"de", func(p *Printer) string { return p.Day(day) }, "4. März 2031"},
		{"es", func(p *Printer) string { return p.Day(day) }, "4 de marzo de 2031"},
		{"fr", func(p *Printer) string { return p.Day(day) }, "4 mars 2031"},
		{"en", func(p *Printer) string { return p.Short(day) }, "4 Mar 2031"},
		{"de", func(p *Printer) string { return p.Short(day) }, "04.03.2031"},
		{"es", func(p *Printer) string { return p.Short(day) }, "04/03/2031"}, // day and month with two digits
		{"fr", func(p *Printer) string { return p.Short(day) }, "04/03/2031"},
		{"en", func(p *Printer) string { return p.Month(day) }, "March 2031"},
		{"de", func(p *Printer) string { return p.Month(day) }, "März 2031"},
		{"es", func(p *Printer) string { return p.Month(day) }, "marzo de 2031"},
		{"fr", func(p *Printer) string { return p.Month(day) }, "mars 2031"},
		// The time joined with a comma (CLDR: at, um, a las, à).
		{"en", func(p *Printer) string { return p.Time(day) }, "4 March 2031, 15:04"},
		{"de", func(p *Printer) string { return p.Time(day) }, "4. März 2031, 15:04"},
		{"es", func(p *Printer) string { return p.Time(day) }, "4 de marzo de 2031, 15:04"},
		{"fr", func(p *Printer) string { return p.Time(day) }, "4 mars 2031, 15:04"},
		{"de", func(p *Printer) string { return p.Clock(day) }, "15:04"},
		{"en", func(p *Printer) string { return p.Count(3000) }, "3,000"},
		{"de", func(p *Printer) string { return p.Count(3000) }, "3.000"},
		{"es", func(p *Printer) string { return p.Count(3000) }, "3000"},
		{"es", func(p *Printer) string { return p.Count(9999) }, "9999"},
		{"es", func(p *Printer) string { return p.Count(12345) }, "12.345"},
		{"fr", func(p *Printer) string { return p.Count(3000) }, "3 000"}, // U+00A0 for CLDR's U+202F
		{"en", func(p *Printer) string { return p.Number(1234567.891, 2) }, "1,234,567.89"},
		{"de", func(p *Printer) string { return p.Number(1234567.891, 2) }, "1.234.567,89"},
		{"es", func(p *Printer) string { return p.Number(1234567.891, 2) }, "1.234.567,89"},
		{"fr", func(p *Printer) string { return p.Number(1234567.891, 2) }, "1 234 567,89"},
		{"es", func(p *Printer) string { return p.Number(9999.96, 1) }, "10.000"},
		{"en", func(p *Printer) string { return p.Number(-0.4, 1) }, "−0.4"}, // U+2212 for CLDR's hyphen
		{"fr", func(p *Printer) string { return p.Number(-0.04, 1) }, "0"},
		{"de", func(p *Printer) string { return p.Number(0.5, 3) }, "0,5"},
		{"en", func(p *Printer) string { return p.Share(0.855) }, "86 %"}, // CLDR: 86%; the SI puts a space (BIPM, SI Brochure, 5.4.7), as psychometrics does,
		{"de", func(p *Printer) string { return p.Share(0.855) }, "86 %"},
		{"es", func(p *Printer) string { return p.Share(0.855) }, "86 %"},
		{"fr", func(p *Printer) string { return p.Share(1) }, "100 %"},
		{"es", func(p *Printer) string { return p.Share(-0.001) }, "0 %"},
		{"en", func(p *Printer) string { return p.List("a", "b", "c") }, "a, b and c"},
		{"de", func(p *Printer) string { return p.List("a", "b", "c") }, "a, b und c"},
		{"es", func(p *Printer) string { return p.List("a", "b", "c") }, "a, b y c"},
		{"fr", func(p *Printer) string { return p.List("a", "b", "c") }, "a, b et c"},
		{"es", func(p *Printer) string { return p.List("leer", "interpretar") }, "leer e interpretar"},
		{"es", func(p *Printer) string { return p.List("x", "higiene") }, "x e higiene"},
		{"es", func(p *Printer) string { return p.List("x", "hielo") }, "x y hielo"},
		{"es", func(p *Printer) string { return p.List("x", "h") }, "x y h"},
		{"fr", func(p *Printer) string { return p.List("a", "ici") }, "a et ici"},
		{"de", func(p *Printer) string { return p.List("a") }, "a"},
		{"de", func(p *Printer) string { return p.List() }, ""},
		// Not of CLDR.
		{"de", func(p *Printer) string { return p.Number(math.NaN(), 1) + p.Share(math.Inf(1)) }, "––"},
		{"de", func(p *Printer) string {
			var never time.Time
			return p.Day(never) + p.Short(never) + p.Month(never) + p.Time(never) + p.Clock(never) + p.ShortMonth(never)
		}, ""},
	} {
		if got := plain(c.got(all[c.locale])); got != c.want {
			t.Errorf("%s: got %q, want %q", c.locale, got, c.want)
		}
	}
}

// The names of months, same source. English says Sep as psychometrics.English
// does (CLDR 48 for en-GB: Sept).
func TestMonths(t *testing.T) {
	for locale, c := range map[string]struct{ long, short string }{
		"en": {"January February March April May June July August September October November December", "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec"},
		"de": {"Januar Februar März April Mai Juni Juli August September Oktober November Dezember", "Jan. Feb. März Apr. Mai Juni Juli Aug. Sept. Okt. Nov. Dez."},
		"es": {"enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre", "ene feb mar abr may jun jul ago sept oct nov dic"},
		"fr": {"janvier février mars avril mai juin juillet août septembre octobre novembre décembre", "janv. févr. mars avr. mai juin juil. août sept. oct. nov. déc."},
	} {
		p := printers(t)[locale]
		long, short := strings.Fields(c.long), strings.Fields(c.short)
		for i := range 12 {
			at := time.Date(2031, time.Month(i+1), 1, 0, 0, 0, 0, time.UTC)
			day := map[string]string{"en": "1 " + long[i] + " 2031", "de": "1. " + long[i] + " 2031", "es": "1 de " + long[i] + " de 2031", "fr": "1 " + long[i] + " 2031"}[locale]
			if got := p.Day(at); got != day {
				t.Errorf("got %s, want %s", got, day)
			}
			if got, want := p.ShortMonth(at), short[i]+" 2031"; got != want {
				t.Errorf("got %s, want %s", got, want)
			}
		}
	}
}

func TestLasting(t *testing.T) {
	all := printers(t)
	for d, want := range map[time.Duration][4]string{
		0:                                {"0 s", "0 s", "0 s", "0 s"},
		-time.Second:                     {"0 s", "0 s", "0 s", "0 s"},
		499 * time.Millisecond:           {"0 s", "0 s", "0 s", "0 s"},
		40 * time.Second:                 {"40 s", "40 s", "40 s", "40 s"},
		59*time.Second + 600*1e6:         {"1 min", "1 Min.", "1 min", "1 min"},
		5*time.Minute + 3*time.Second:    {"5 min 3 s", "5 Min. 3 s", "5 min 3 s", "5 min 3 s"},
		time.Hour + 5*time.Minute + 1e9:  {"1 h 5 min", "1 Std. 5 Min.", "1 h 5 min", "1 h 5 min"},
		26*time.Hour + 10*time.Minute:    {"1 d 2 h", "1 T 2 Std.", "1 d 2 h", "1 j 2 h"},
		24*time.Hour + 10*time.Minute:    {"1 d 10 min", "1 T 10 Min.", "1 d 10 min", "1 j 10 min"},
		24*time.Hour + 10*time.Second:    {"1 d", "1 T", "1 d", "1 j"},
		12000 * 24 * time.Hour:           {"12,000 d", "12.000 T", "12.000 d", "12 000 j"},
		time.Hour + 59*time.Second + 6e8: {"1 h 1 min", "1 Std. 1 Min.", "1 h 1 min", "1 h 1 min"},
	} {
		for i, locale := range Locales() {
			if got := plain(all[locale].Lasting(d)); got != want[i] {
				t.Errorf("%s: %v: got %q, want %q", locale, d, got, want[i])
			}
		}
	}
}

// The language is negotiated as RFC 4647, 3.4 and RFC 9110, 12.5.4 have it.
func TestMatch(t *testing.T) {
	all, err := Load()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		preferred []string
		want      string
	}{
		{nil, "en"},
		{[]string{""}, "en"},
		{[]string{"de"}, "de"},
		{[]string{"de-AT"}, "de"},
		{[]string{"fr-CA,fr;q=0.9,en;q=0.8"}, "fr"},
		{[]string{"es-419, en;q=0.5"}, "es"},
		{[]string{"en;q=0.5, de;q=0.9"}, "de"},
		{[]string{"en;q=0, fr;q=0.1"}, "fr"},
		{[]string{"tlh, it;q=0.9, es;q=0.2"}, "es"},
		{[]string{"ja"}, "en"},
		{[]string{"*"}, "en"},
		{[]string{"no such thing;;q=x"}, "en"},
		{[]string{"gsw"}, "de"}, // Swiss German is written in German (CLDR, languageMatching)
		{[]string{"fr", "de"}, "fr"},
		{[]string{"", "de;q=0.3"}, "de"},                  // no choice of one's own, then the header
		{[]string{strings.Repeat("de,", 5000) + "x"}, ""}, // any, but no harm
	} {
		got := all.Match(c.preferred...)
		if c.want != "" && got != c.want {
			t.Errorf("%.60q: got %s, want %s", c.preferred, got, c.want)
		}
		if p := all.Printer(got); p == nil || p.Locale() != got {
			t.Errorf("%s has no printer", got)
		}
	}
	if p := all.Printer("xx"); p.Locale() != "en" {
		t.Errorf("an unknown language gets %s", p.Locale())
	}
}

func TestMessages(t *testing.T) {
	all := printers(t)
	p := all["fr"]
	for _, c := range []struct{ got, want string }{
		{p.T("faults.title", "Count", 1), "Une chose est à corriger"},
		{p.T("faults.title", "Count", 1200), "1 200 choses sont à corriger"},
		{p.T("faults.title", "Count", 1000000), "1 000 000 choses sont à corriger"},
		{p.T("fault.long", "Most", 80), "Au plus 80 caractères."},
		{p.T("chart.nothing"), "⟦chart.nothing⟧"},
		{p.Or("slip.of-a-newer-program", "of a newer program"), "of a newer program"},
		{p.Or("slip.superseded-edition", "superseded edition"), "édition remplacée"},
		{p.T("table.take"), "Emporter ce tableau :"},
	} {
		if plain(c.got) != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
	if !p.Has("faults.title") || !p.Has("layout.menu") || p.Has("chart.nothing") {
		t.Error("Has does not tell which messages there are")
	}
	// A message that another language lacks does not show in English.
	lack, err := load(mapFS{"messages/base.en.yaml": "a: English\n", "messages/base.de.yaml": "b: Deutsch\n"})
	if err != nil {
		t.Fatal(err)
	}
	if got := lack.Printer("de").T("a"); got != Missing("a") {
		t.Errorf("got %s", got)
	}
	if lack.Printer("de").Has("a") {
		t.Error("the English message counts for German")
	}
}
