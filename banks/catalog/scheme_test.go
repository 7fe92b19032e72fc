package catalog

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// testSchemes are invented: a 17-character product number, a model code with an
// open end, an engine number of digits, and two packed trouble codes.
func testSchemes() []SchemeField {
	years := func(from, through string) Range {
		a, _ := ParseDate(from)
		b, _ := ParseDate(through)
		return Range{From: a, Through: b}
	}
	rows := []SchemeField{
		{Scheme: "TFN", Kind: KindChassis, Field: "maker", First: 1, Length: 3},
		{Scheme: "TFN", Field: "maker", Value: "9TF", Means: "Tarnfell"},
		{Scheme: "TFN", Kind: KindChassis, Field: "model", First: 4, Length: 4},
		{Scheme: "TFN", Field: "model", First: 4, Length: 4, Value: "C42A", Means: "TC-42"},
		{Scheme: "TFN", Field: "model", First: 4, Length: 4, Value: "c55-a", Means: "TC-55", Range: years("2008", "2013-06")},
		{Scheme: "TFN", Field: "model", First: 4, Length: 4, Value: "C55A", Means: "TC-55 S", Range: years("2013-07", "")},
		{Scheme: "TFN", Kind: KindChassis, Field: "engine", First: 8, Length: 1},
		{Scheme: "TFN", Kind: KindChassis, Field: "check", First: 9, Length: 1, Check: CheckISO3779},
		{Scheme: "TFN", Kind: KindChassis, Field: "year", First: 10, Length: 1},
		{Scheme: "TFN", Kind: KindChassis, Field: "plant", First: 11, Length: 1},
		{Scheme: "TFN", Kind: KindChassis, Field: "serial", First: 12, Length: 6},

		{Scheme: "TM", Kind: KindModel, Field: "family", First: 1, Length: 2, Value: "TC", Means: "compact"},
		{Scheme: "TM", Kind: KindModel, Field: "size", First: 3, Length: 2},
		{Scheme: "TM", Kind: KindModel, Field: "variant", First: 5},

		{Scheme: "QN", Kind: UnitEngine, Field: "engine", First: 1, Length: 3},
		{Scheme: "QN", Kind: UnitEngine, Field: "serial", First: 4, Length: 5},
		{Scheme: "QN", Kind: UnitEngine, Field: "check", First: 9, Length: 1, Check: CheckMod10},

		{Scheme: "DM", Kind: KindTrouble, Field: "code", Pack: PackJ1939},
		{Scheme: "DM", Kind: KindTrouble, Field: "fmi", Pack: PackJ1939},
		{Scheme: "DM", Kind: KindTrouble, Field: "fmi", Value: "3", Means: "voltage above normal"},
		{Scheme: "DM", Kind: KindTrouble, Field: "fmi", Value: "4", Means: "voltage below normal"},
		{Scheme: "EM", Kind: KindTrouble, Field: "system", Pack: PackISO15031},
		{Scheme: "EM", Kind: KindTrouble, Field: "number", Pack: PackISO15031},
	}
	for y := 2006; y <= 2019; y++ {
		c, _ := ModelYearISO3779(y)
		rows = append(rows, SchemeField{Scheme: "TFN", Kind: KindChassis, Field: "year", First: 10, Length: 1, Value: string(c), Means: fmt.Sprint(y)})
	}
	return rows
}

func testDecoder(t testing.TB, name string) *Decoder {
	t.Helper()
	d, ok := New(Meta{}, Tables{Schemes: testSchemes()}).Decoder(name)
	if !ok {
		t.Fatalf("no scheme %s", name)
	}
	return d
}

func TestDecodersAreListedByKindAndName(t *testing.T) {
	c := New(Meta{}, Tables{Schemes: testSchemes()})
	got := map[string][]string{}
	for _, k := range []string{KindChassis, KindModel, UnitEngine, UnitTransmission, KindTrouble} {
		for _, d := range c.Decoders(k) {
			got[k] = append(got[k], d.Name())
			if d.Kind() != k {
				t.Errorf("%s says it is of kind %s", d.Name(), d.Kind())
			}
		}
	}
	want := map[string][]string{KindChassis: {"TFN"}, KindModel: {"TM"}, UnitEngine: {"QN"}, KindTrouble: {"DM", "EM"}}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	if _, ok := c.Decoder("none"); ok {
		t.Error("a scheme that does not exist is found")
	}
}

func TestReadTakesACodeApart(t *testing.T) {
	d := testDecoder(t, "TFN")
	code, err := d.Compose(map[string]string{"maker": "9TF", "model": "C55A", "engine": "3", "year": "D", "plant": "T", "serial": "004711"})
	if err != nil {
		t.Fatal(err)
	}
	got, err := d.Read(code, nil)
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	for _, v := range got {
		line := v.Field.Name + "=" + v.Raw
		for _, m := range v.Means {
			line += fmt.Sprintf(" [%s %s %s]", m.Text, dayText(m.Days.From), dayText(m.Days.Through))
		}
		lines = append(lines, line)
	}
	want := []string{"maker=9TF [Tarnfell … …]", "model=C55A [TC-55 2008-01-01 2013-06-30] [TC-55 S 2013-07-01 …]", "engine=3",
		"check=" + code[8:9], "year=D [2013 … …]", "plant=T", "serial=004711"}
	if diff := cmp.Diff(want, lines); diff != "" {
		t.Error(diff)
	}
	if n, ok := got[6].Number(); !ok || n != 4711 {
		t.Errorf("serial %d, %v", n, ok)
	}
	if n, ok := got[0].Number(); ok {
		t.Errorf("9TF is the number %d", n)
	}
}

func dayText(d Day) string {
	if d == MinDay || d == MaxDay {
		return "…"
	}
	return d.Date().String()
}

func TestReadSaysWhyACodeDropsOut(t *testing.T) {
	tfn := testDecoder(t, "TFN")
	good, err := tfn.Compose(map[string]string{"maker": "9TF", "model": "C42A", "engine": "3", "year": "D", "plant": "T", "serial": "004711"})
	if err != nil {
		t.Fatal(err)
	}
	// fix puts the check digit right again after a change.
	fix := func(at int, s string) string {
		b := []byte(good)
		copy(b[at-1:], s)
		c, err := CheckDigitISO3779(string(b))
		if err == nil {
			b[8] = c
		}
		return string(b)
	}
	wrong := []byte(good)
	wrong[8] = map[bool]byte{true: '1', false: '0'}[wrong[8] == '0']
	for _, tc := range []struct {
		what, scheme, code string
		want               CodeError
	}{
		{"too short", "TFN", good[:16], CodeError{Reason: WrongLength, Got: "16 characters", Want: "17 characters"}},
		{"too long", "TFN", good + "1", CodeError{Reason: WrongLength, Got: "18 characters", Want: "17 characters"}},
		{"empty", "TFN", "", CodeError{Reason: WrongLength, Got: "0 characters", Want: "17 characters"}},
		{"check digit", "TFN", string(wrong), CodeError{Reason: WrongCheckDigit, Field: "check", Position: 9, Got: string(wrong[8:9]), Want: `"` + good[8:9] + `"`}},
		{"letter O", "TFN", fix(11, "O"), CodeError{Reason: BadCharacter, Field: "plant", Position: 11, Got: "O", Want: "digits and letters other than I, O and Q"}},
		{"year 0", "TFN", fix(10, "0"), CodeError{Reason: BadCharacter, Field: "year", Position: 10, Got: "0", Want: "a model-year character: no I, O, Q, U, Z or 0"}},
		{"year not in table", "TFN", fix(10, "V"), CodeError{Reason: NotInTable, Field: "year", Position: 10, Got: "V", Want: "a value of the field's table"}},
		{"model not in table", "TFN", fix(4, "C42B"), CodeError{Reason: NotInTable, Field: "model", Position: 4, Got: "C42B", Want: "a value of the field's table"}},
		{"serial with a letter", "TFN", fix(12, "00A711"), CodeError{Reason: BadCharacter, Field: "serial", Position: 14, Got: "A", Want: "a digit"}},
		{"not ASCII", "TM", "TCé1", CodeError{Reason: BadCharacter, Field: "size", Position: 3, Got: "é", Want: "a letter, digit or other printable ASCII character"}},
		{"open end missing", "TM", "TC42", CodeError{Reason: WrongLength, Got: "4 characters", Want: "at least 5 characters"}},
		{"mod10", "QN", "402001235", CodeError{Reason: WrongCheckDigit, Field: "check", Position: 9, Got: "5", Want: `"` + mod10(t, "40200123") + `"`}},
		{"mod10 letter", "QN", "4A2001234", CodeError{Reason: BadCharacter, Field: "engine", Position: 2, Got: "A", Want: "a digit"}},
		{"failure mode not in table", "DM", "B804050A", CodeError{Reason: NotInTable, Field: "fmi", Got: "5", Want: "a value of the field's table"}},
		{"too few bytes", "DM", "B80403", CodeError{Reason: WrongLength, Got: "3 bytes", Want: "4 bytes"}},
		{"odd digits", "DM", "B804030", CodeError{Reason: WrongLength, Got: "7 characters", Want: "4 bytes as 8 hexadecimal digits"}},
		{"not hexadecimal", "EM", "01G3", CodeError{Reason: BadCharacter, Want: "2 bytes as 4 hexadecimal digits"}},
	} {
		t.Run(tc.what, func(t *testing.T) {
			d := testDecoder(t, tc.scheme)
			room := make([]FieldValue, 0, 8)
			got, err := d.Read(tc.code, room)
			var ce *CodeError
			if !errors.As(err, &ce) || len(got) != 0 {
				t.Fatalf("%q: %v, %v", tc.code, got, err)
			}
			tc.want.Scheme, tc.want.Code = tc.scheme, tc.code
			if diff := cmp.Diff(tc.want, *ce); diff != "" {
				t.Error(diff)
			}
			if d.Fits(tc.code) {
				t.Error("and yet it fits")
			}
		})
	}
}

func mod10(t *testing.T, n string) string {
	c, err := CheckDigitMod10(n)
	if err != nil {
		t.Fatal(err)
	}
	return string(c)
}

func TestOpenLastFieldTakesTheRest(t *testing.T) {
	d := testDecoder(t, "TM")
	for code, want := range map[string]string{"TC42A": "A", "TC42ABX9": "ABX9"} {
		v, err := d.Read(code, nil)
		if err != nil || v[2].Raw != want {
			t.Errorf("%s: %v, %v", code, v, err)
		}
	}
}

func TestReadAndUnpackPackedTroubleCodes(t *testing.T) {
	dm, em := testDecoder(t, "DM"), testDecoder(t, "EM")
	// SAE J1939-73 DM1 layout, worked from the bit layout.
	v, err := dm.Read(Fold("B8 04 03 0A"), nil)
	if err != nil || len(v) != 2 || v[0].Raw != "1208-3" || v[1].Raw != "3" || v[1].Means[0].Text != "voltage above normal" {
		t.Errorf("%+v, %v", v, err)
	}
	// SAE J2012 / ISO 15031-6.
	if v, err = em.Read(Fold("01 43"), nil); err != nil || len(v) != 2 || v[0].Raw != "0143" || v[1].Raw != "P" {
		t.Errorf("%+v, %v", v, err)
	}
	if tr, err := dm.Unpack("B804030A"); err != nil || tr.String() != "1208-3" {
		t.Errorf("%v, %v", tr, err)
	}
	for _, s := range []string{"", "B804030", "B804038A", "ZZZZZZZZ"} {
		if _, err := dm.Unpack(s); err == nil {
			t.Errorf("%q is unpacked", s)
		}
	}
	if _, err := testDecoder(t, "TM").Unpack("0143"); err == nil {
		t.Error("a scheme without a packing unpacks")
	}
	if n := testing.AllocsPerRun(100, func() { _, _ = dm.Unpack("B804030A") }); n != 0 {
		t.Errorf("Unpack allocates %v times", n)
	}
	for code, values := range map[string]map[string]string{
		"B804030A": {"code": "1208-3", "count": "10"},
		"B8040305": {"spn": "1208", "fmi": "3", "count": "5"},
	} {
		if got, err := dm.Compose(values); err != nil || got != code {
			t.Errorf("%v: %s, %v", values, got, err)
		}
	}
	for _, values := range []map[string]string{{"code": "P0143"}, {"spn": "x", "fmi": "3"}, {"spn": "1"}, {"code": "1208-3", "count": "128"}, {"code": "1208-5"}, {"lamp": "1"}} {
		if got, err := dm.Compose(values); err == nil {
			t.Errorf("%v composes to %s", values, got)
		}
	}
	if got, err := em.Compose(map[string]string{"system": "P", "number": "0143"}); err != nil || got != "0143" {
		t.Errorf("%s, %v", got, err)
	}
}

func TestReadAllocatesNothing(t *testing.T) {
	room := make([]FieldValue, 0, 8)
	for scheme, code := range map[string]string{"TFN": goodChassis(t), "TM": "TC42AB", "QN": "40200123" + mod10(t, "40200123")} {
		d := testDecoder(t, scheme)
		if !d.Fits(code) {
			t.Fatalf("%s does not read %s", scheme, code)
		}
		if n := testing.AllocsPerRun(100, func() { room, _ = d.Read(code, room[:0]) }); n != 0 {
			t.Errorf("%s: Read allocates %v times", scheme, n)
		}
		if n := testing.AllocsPerRun(100, func() { d.Fits(code[1:]) }); n != 0 {
			t.Errorf("%s: Fits allocates %v times on a misfit", scheme, n)
		}
	}
}

func goodChassis(t testing.TB) string {
	code, err := testDecoder(t, "TFN").Compose(map[string]string{"maker": "9TF", "model": "C55A", "engine": "3", "year": "D", "plant": "T", "serial": "004711"})
	if err != nil {
		t.Fatal(err)
	}
	return code
}

func TestComposeSaysWhatIsMissing(t *testing.T) {
	d := testDecoder(t, "TFN")
	whole := map[string]string{"maker": "9TF", "model": "C55A", "engine": "3", "year": "D", "plant": "T", "serial": "004711"}
	for _, tc := range []struct {
		field, value string
		why          Reason
	}{
		{"serial", "", NotGiven}, {"serial", "4711", WrongLength}, {"model", "C99A", NotInTable},
		{"check", "?", BadCharacter}, {"nonesuch", "1", NotInTable}, {"plant", "Q", BadCharacter},
	} {
		values := map[string]string{}
		for k, v := range whole {
			values[k] = v
		}
		values[tc.field] = tc.value
		got, err := d.Compose(values)
		var ce *CodeError
		if tc.field == "check" { // a wrong check digit that is asked for by name is refused, not mended
			tc.why = WrongCheckDigit
		}
		if !errors.As(err, &ce) || ce.Reason != tc.why {
			t.Errorf("%s=%q: %q, %v; want %s", tc.field, tc.value, got, err, tc.why)
		}
	}
	gap := New(Meta{}, Tables{Schemes: []SchemeField{{Scheme: "G", Kind: KindModel, Field: "a", First: 1, Length: 1}, {Scheme: "G", Kind: KindModel, Field: "b", First: 3, Length: 1}}})
	g, _ := gap.Decoder("G")
	if _, err := g.Compose(map[string]string{"a": "1", "b": "2"}); err == nil {
		t.Error("a position without a field is filled in silently")
	}
}

func TestRawForFindsTheValueOfItsTime(t *testing.T) {
	f, _ := testDecoder(t, "TFN").Field("model")
	built := func(s string) Days { d, _ := ParseDate(s); return d.Span() }
	for _, tc := range []struct {
		means, built, raw string
		ok                bool
	}{
		{"TC-55", "2010", "C55A", true}, {"TC-55", "2015", "", false}, {"TC-55 S", "2015", "C55A", true}, {"TC-42", "", "C42A", true}, {"TC-99", "", "", false},
	} {
		if raw, ok := f.RawFor(tc.means, built(tc.built)); raw != tc.raw || ok != tc.ok {
			t.Errorf("%s in %s: %q, %v", tc.means, tc.built, raw, ok)
		}
	}
	serial, _ := testDecoder(t, "TFN").Field("serial")
	if raw, ok := serial.RawFor("004-711", AnyDay()); !ok || raw != "004711" {
		t.Errorf("%q, %v", raw, ok)
	}
}

// A scheme with faults must not break whoever reads with it; Check reports it.
func TestFaultySchemesReadNothingOrSomethingButDoNotPanic(t *testing.T) {
	for _, rows := range [][]SchemeField{
		{{Scheme: "A", Kind: KindModel, Field: "x", First: 0, Length: 3}},
		{{Scheme: "A", Kind: KindModel, Field: "x", First: 1, Length: -3}},
		{{Scheme: "A", Kind: KindModel, Field: "x", First: 1 << 62, Length: 1 << 62}},
		{{Scheme: "A", Kind: KindModel, Field: "x", First: 1}, {Scheme: "A", Kind: KindModel, Field: "y", First: 5, Length: 1}},
		{{Scheme: "A", Kind: KindModel, Field: "x", First: 1, Length: 2, Check: CheckISO3779}},
		{{Scheme: "A", Kind: KindModel, Field: "x", First: 9, Check: CheckMod10}},
		{{Scheme: "A", Kind: KindTrouble, Field: "x", First: 1, Length: 2, Pack: "nonesuch"}},
		{{}},
	} {
		for _, d := range New(Meta{}, Tables{Schemes: rows}).decoders.byKind {
			for _, code := range []string{"", "A", "ABCDEFGHI", "12345678901234567", strings.Repeat("1", 2000)} {
				_, err := d[0].Read(code, nil)
				if (err == nil) != d[0].Fits(code) {
					t.Errorf("%v: Read says %v, Fits %v", rows, err, d[0].Fits(code))
				}
				_, _ = d[0].Compose(map[string]string{"x": code, "y": "1"})
			}
		}
	}
}

// drawScheme draws a scheme of fields side by side, some with value tables,
// some with a check digit.
func drawScheme(t *rapid.T) ([]SchemeField, map[string]string) {
	rule := rapid.SampledFrom([]string{"", CheckNone, CheckMod10, CheckISO3779}).Draw(t, "rule")
	alphabet := `[A-Z0-9]`
	switch rule {
	case CheckMod10:
		alphabet = `[0-9]`
	case CheckISO3779:
		alphabet = `[A-HJ-NPR-TV-Y1-9]`
	}
	var rows []SchemeField
	values := map[string]string{}
	add := func(name string, first, length int) {
		f := SchemeField{Scheme: "S", Kind: KindModel, Field: name, First: first, Length: length}
		rows = append(rows, f)
		n := length
		if n == 0 {
			n = rapid.IntRange(1, 4).Draw(t, "rest")
		}
		values[name] = rapid.StringMatching(fmt.Sprintf("%s{%d}", alphabet, n)).Draw(t, name)
		if rapid.Bool().Draw(t, "table") {
			f.Value, f.Means = values[name], "this one"
			rows = append(rows, f)
			f.Value, f.Means = strings.Repeat("7", n), "that one"
			rows = append(rows, f)
		}
	}
	if rule == CheckISO3779 {
		add("a", 1, 8)
		rows = append(rows, SchemeField{Scheme: "S", Kind: KindModel, Field: "check", First: 9, Length: 1, Check: rule})
		add("b", 10, 3)
		add("c", 13, 5)
		return rows, values
	}
	at := 1
	for i := range rapid.IntRange(1, 5).Draw(t, "fields") {
		n := rapid.IntRange(1, 5).Draw(t, "length")
		add(fmt.Sprint("f", i), at, n)
		at += n
	}
	switch {
	case rule == CheckMod10:
		rows = append(rows, SchemeField{Scheme: "S", Kind: KindModel, Field: "check", First: at, Length: 1, Check: rule})
	case rapid.Bool().Draw(t, "open"):
		add("rest", at, 0)
	}
	return rows, values
}

func TestReadIsTheInverseOfCompose(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows, values := drawScheme(t)
		rows = rapid.Permutation(rows).Draw(t, "order of rows")
		d, _ := New(Meta{}, Tables{Schemes: rows}).Decoder("S")
		code, err := d.Compose(values)
		if err != nil {
			t.Fatal(err)
		}
		read, err := d.Read(code, nil)
		if err != nil {
			t.Fatal(err)
		}
		got := map[string]string{}
		for _, v := range read {
			got[v.Field.Name] = v.Raw
			if len(v.Field.Values) > 0 && len(v.Means) == 0 {
				t.Fatalf("field %s has a table but no meaning", v.Field.Name)
			}
		}
		again, err := d.Compose(got)
		if err != nil || again != code {
			t.Fatalf("%s read and composed is %s, %v", code, again, err)
		}
		delete(got, "check")
		if diff := cmp.Diff(values, got); diff != "" {
			t.Fatal(diff)
		}
		// One character changed: either it does not read, or it composes to itself.
		b := []byte(code)
		i := rapid.IntRange(0, len(b)-1).Draw(t, "position")
		b[i] = rapid.StringMatching(`[A-Z0-9]`).Draw(t, "character")[0]
		if d.Fits(string(b)) {
			read, err := d.Read(string(b), nil)
			if err != nil {
				t.Fatalf("%s fits but does not read: %v", b, err)
			}
			for _, v := range read {
				got[v.Field.Name] = v.Raw
			}
			if again, err := d.Compose(got); err != nil || again != string(b) {
				t.Fatalf("%s read and composed is %s, %v", b, again, err)
			}
		}
	})
}

func FuzzReadCode(f *testing.F) {
	f.Add("9TFC55A31DT004711", 1, 3, "9TF", "iso3779", "")
	f.Add("TC42AB", 1, 0, "TC42AB", "none", "")
	f.Add("402001234", 9, 1, "", "mod10", "")
	f.Add("B804030A", 1, 1, "1208-3", "", "j1939")
	f.Add("0143", 1, 1, "", "", "iso15031")
	f.Add("é\x00", -1, 1<<30, "\xff", "x", "y")
	f.Fuzz(func(t *testing.T, code string, first, length int, value, check, pack string) {
		d, _ := New(Meta{}, Tables{Schemes: []SchemeField{
			{Scheme: "S", Kind: KindTrouble, Field: "code", First: first, Length: length, Check: check, Pack: pack},
			{Scheme: "S", Kind: KindTrouble, Field: "code", Value: value, Means: "m"},
			{Scheme: "S", Kind: KindTrouble, Field: "serial", First: 2, Length: 3},
		}}).Decoder("S")
		folded := Fold(code)
		read, err := d.Read(folded, nil)
		if (err == nil) != d.Fits(folded) {
			t.Fatalf("%q: Read says %v, Fits %v", folded, err, d.Fits(folded))
		}
		if err != nil {
			var ce *CodeError
			if !errors.As(err, &ce) || err.Error() == "" {
				t.Fatalf("%q: error %#v", folded, err)
			}
		}
		values := map[string]string{}
		for _, v := range read {
			values[v.Field.Name] = v.Raw
		}
		if made, err := d.Compose(values); err == nil && d.Pack() == "" && made != folded && len(read) > 0 {
			t.Fatalf("%q read and composed is %q", folded, made)
		}
	})
}

func BenchmarkReadChassis(b *testing.B) {
	d, code := testDecoder(b, "TFN"), goodChassis(b)
	room := make([]FieldValue, 0, 8)
	b.ReportAllocs()
	for b.Loop() {
		room, _ = d.Read(code, room[:0])
	}
}

func BenchmarkChassisMisfit(b *testing.B) {
	d, code := testDecoder(b, "TFN"), "TC42AB"
	b.ReportAllocs()
	for b.Loop() {
		d.Fits(code)
	}
}
