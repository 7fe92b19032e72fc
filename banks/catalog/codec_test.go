package catalog

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// drawText draws a text that a cell can hold.
func drawText(t *rapid.T, label string) string {
	s := rapid.OneOf(
		rapid.StringMatching(`[A-Z]{1,3}-[0-9]{1,4}`),
		rapid.StringMatching(`[a-zäöü]{1,8}( [a-z]{1,8}){0,2}`),
		rapid.SampledFrom([]string{"", `"`, `a"b`, "a,b", "a;b", "a\nb", "_x0041_", "0012", "1e5", "2016-03", "TRUE", "<&>'", "+5 V", "-3", "#", "α→β", "😀", "'x", "1,5", "a\tb", "_x005F_x0041_"}),
		rapid.String(),
	).Draw(t, label)
	if writable(s) != nil {
		return ""
	}
	return s
}

func drawValue(t *rapid.T, label string) string {
	s := strings.ReplaceAll(drawText(t, label), ";", "")
	if s = strings.TrimSpace(s); s == "" || writable(s) != nil {
		return "x"
	}
	return s
}

func drawValues(t *rapid.T, label string) []string {
	var out []string
	for range rapid.IntRange(0, 3).Draw(t, label+"s") {
		out = append(out, drawValue(t, label))
	}
	if writable(strings.Join(out, ";")) != nil {
		return nil
	}
	return out
}

func drawSynonyms(t *rapid.T, label string) []Synonym {
	var out []Synonym
	for _, v := range drawValues(t, label) {
		out = append(out, Synonym{rapid.SampledFrom([]string{"", "de", "de-CH", "zh-Hant", "fr"}).Draw(t, "language"), v})
	}
	return out
}

func drawEffectivity(t *rapid.T) Effectivity {
	var e Effectivity
	for range rapid.IntRange(0, 3).Draw(t, "ranges") {
		r := drawRange(t)
		if inverted(r) != nil {
			r.From, r.Serials.From = Date{}, 0
		}
		e = append(e, r)
	}
	if len(e) == 1 && e[0] == (Range{}) {
		return nil
	}
	return e
}

func drawNumber(t *rapid.T, label string) *float64 {
	if rapid.Bool().Draw(t, label+" absent") {
		return nil
	}
	// Fifteen digits are what a workbook keeps.
	x := float64(rapid.Int64Range(-1e9, 1e9).Draw(t, label)) / 1e4
	return &x
}

// drawCatalog draws a catalog with records in several tables that between them
// use every kind of column. Its keys are distinct, its references dangle.
func drawCatalog(t *rapid.T) *Catalog {
	var tb Tables
	n := func(label string) int { return rapid.IntRange(0, 3).Draw(t, label) }
	loc := func() Location {
		return Location{drawText(t, "page"), drawText(t, "sheet"), drawText(t, "frame"), drawText(t, "section")}
	}
	for i := range n("schemes") {
		r := drawRange(t)
		r.Serials = Serials{}
		if inverted(r) != nil {
			r = Range{}
		}
		tb.Schemes = append(tb.Schemes, SchemeField{Scheme: "S", Kind: drawText(t, "kind"), Field: "F", First: i, Length: rapid.IntRange(0, 17).Draw(t, "length"),
			Value: drawText(t, "value"), Means: drawText(t, "means"), Range: r, Check: rapid.SampledFrom([]string{"", "iso3779", "mod10", "none"}).Draw(t, "check"),
			Pack: rapid.SampledFrom([]string{"", "j1939", "iso15031"}).Draw(t, "pack")})
	}
	for i := range n("models") {
		r := drawRange(t)
		if inverted(r) != nil {
			r = Range{}
		}
		m := Model{Code: keyOf("M", i), SalesName: drawText(t, "sales name"), Engine: drawText(t, "engine"), Transmission: drawText(t, "transmission"), Range: r}
		for _, v := range drawValues(t, "unit") {
			m.Units = append(m.Units, UnitCode{"axle", v})
		}
		tb.Models = append(tb.Models, m)
	}
	for i := range n("components") {
		tb.Components = append(tb.Components, Component{Term: keyOf("C", i), Synonyms: drawSynonyms(t, "synonym"), Group: drawText(t, "group"), PartOf: drawText(t, "part of")})
	}
	for i := range n("publications") {
		tb.Publications = append(tb.Publications, Publication{ID: keyOf("B", i), Class: rapid.SampledFrom(Classes()).Draw(t, "class"), Title: drawText(t, "title"),
			AppliesTo: Pattern(drawText(t, "pattern")), Groups: drawValues(t, "group"), Effectivity: drawEffectivity(t), Supersedes: drawValues(t, "superseded")})
	}
	for i := range n("procedures") {
		tb.Procedures = append(tb.Procedures, Procedure{ID: keyOf("P", i), Job: drawText(t, "job"), Component: drawText(t, "component"), Publication: "B", Location: loc(),
			Effectivity: drawEffectivity(t), Hazards: drawValues(t, "hazard")})
	}
	for i := range n("services") {
		x := func(label string) float64 { return float64(rapid.IntRange(0, 1e6).Draw(t, label)) / 8 }
		tb.Schedule = append(tb.Schedule, Service{Name: keyOf("V", i), First: Counters{x("km"), x("h"), x("months")}, Every: Counters{x("km"), x("h"), x("months")},
			Operations: drawValues(t, "operation"), Effectivity: drawEffectivity(t)})
	}
	for i := range n("specifications") {
		tb.Specifications = append(tb.Specifications, Specification{ID: keyOf("S", i), Quantity: "q", Synonyms: drawSynonyms(t, "synonym"), Value: drawText(t, "value"),
			Low: drawNumber(t, "low"), High: drawNumber(t, "high"), Ambient: Band{drawNumber(t, "ambient low"), drawNumber(t, "ambient high")}, Location: loc()})
	}
	for i := range n("tests") {
		tb.Tests = append(tb.Tests, TestStep{Publication: "B", Chapter: "4", Step: keyOf("", i), Do: drawText(t, "do"), FailSteps: drawValues(t, "step"),
			Side: rapid.SampledFrom([]string{"", "left", "right"}).Draw(t, "side")})
	}
	for i := range n("bulletins") {
		b := Bulletin{ID: keyOf("U", i), Issued: drawDate(t, "issued"), Subject: drawText(t, "subject"), Effectivity: drawEffectivity(t)}
		for _, v := range drawValues(t, "target") {
			b.Amends = append(b.Amends, Target{"procedure", v})
		}
		tb.Bulletins = append(tb.Bulletins, b)
	}
	return New(Meta{Title: "T", Revision: "1", Limits: LimitStyle{Style: rapid.SampledFrom([]string{limitWords, limitArrowAfter, limitArrowBefore}).Draw(t, "style")}}, tb)
}

func keyOf(letter string, i int) string { return letter + string(rune('1'+i)) }

func TestLanguageTags(t *testing.T) {
	for s, want := range map[string]bool{"de": true, "DE": true, "gsw": true, "de-CH": true, "zh-Hant-TW": true, "": false, "d": false, "germ": false, "de-": false, "d1": false, "de-abcdefghi": false, "de CH": false} {
		if isLanguage(s) != want {
			t.Errorf("isLanguage(%q) is %v", s, !want)
		}
	}
}

func TestWriteRefusesWhatCouldNotBeReadBack(t *testing.T) {
	for name, tt := range map[string]struct {
		t    Tables
		want string
	}{
		"semicolon in a list":     {Tables{Procedures: []Procedure{{ID: "P", Publication: "B", Hazards: []string{"a;b"}}}}, `table procedures, record P, column hazards: the value "a;b" cannot stand in a list`},
		"space at the end":        {Tables{Groups: []Group{{Code: "1 "}}}, "table groups, record 1 , column group: the text begins or ends with white space"},
		"carriage return":         {Tables{Groups: []Group{{Code: "1", Title: "a\rb"}}}, "control character U+000D"},
		"NUL":                     {Tables{Groups: []Group{{Code: "1", Title: "a\x00b"}}}, "control character U+0000"},
		"not UTF-8":               {Tables{Groups: []Group{{Code: "1", Title: "a\xffb"}}}, "not UTF-8"},
		"formula":                 {Tables{Groups: []Group{{Code: "1", Title: "=A1"}}}, "begins with ="},
		"no key":                  {Tables{Groups: []Group{{Title: "x"}}}, "must not be empty"},
		"unknown class":           {Tables{Publications: []Publication{{ID: "B", Class: "novel"}}}, `"novel" is none of the words`},
		"impossible date":         {Tables{Bulletins: []Bulletin{{ID: "B", Issued: Date{2015, 2, 29}}}}, "not a date that can be written"},
		"negative counter":        {Tables{Schedule: []Service{{Name: "A", Every: Counters{Hours: -1}}}}, "less than 0"},
		"language":                {Tables{Components: []Component{{Term: "a", Synonyms: []Synonym{{"german", "b"}}}}}, "not a language tag"},
		"unit with equals sign":   {Tables{Models: []Model{{Code: "M", Units: []UnitCode{{"a=b", "c"}}}}}, "cannot be written as unit=code"},
		"target without a table":  {Tables{Bulletins: []Bulletin{{ID: "B", Amends: []Target{{"", "c"}}}}}, "cannot be written as table:key"},
		"text longer than a cell": {Tables{Groups: []Group{{Code: "1", Title: strings.Repeat("x", cellChars+1)}}}, "longer than 32767 characters"},
	} {
		c := New(Meta{}, tt.t)
		dir := t.TempDir()
		err := WriteFolder(dir, c)
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want an error with %q", name, err, tt.want)
		}
		if files := names(t, dir); len(files) != 0 {
			t.Errorf("%s: %v has been written all the same", name, files)
		}
		if err := WriteWorkbook(dir+"/book.xlsx", c); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s as a workbook: %v, want an error with %q", name, err, tt.want)
		}
	}
}
