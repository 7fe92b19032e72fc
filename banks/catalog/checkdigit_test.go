package catalog

import (
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestCheckDigitISO3779AgainstPublishedNumbers(t *testing.T) {
	for _, tc := range []struct {
		code   string // position 9 as published, or ? where the source leaves it to be computed
		digit  byte
		source string
	}{
		{"1G4AH59H?5G118341", '4', "49 CFR 565.15(c)(5), sample calculation: products sum 411, 411/11 = 37 4/11"},
		{"1J9RP1A36A1644345", '6', "NHTSA, Outline for New Manufacturer Information: products sum 314, 314/11 = 28 6/11"},
		{"1M8GDM9AXKP042788", 'X', "common test number, from memory"},
		{"11111111111111111", '1', "common test number, from memory"},
	} {
		got, err := CheckDigitISO3779(tc.code)
		if err != nil || got != tc.digit {
			t.Errorf("%s: %q, %v; want %q (%s)", tc.code, got, err, tc.digit, tc.source)
		}
	}
}

// The products of the sample calculation, position by position: 49 CFR
// 565.15(c)(5).
func TestISO3779SampleCalculationStepByStep(t *testing.T) {
	const code = "1G4AH59H?5G118341"
	want := []uint16{8, 49, 24, 5, 32, 15, 18, 80, 0, 45, 56, 7, 6, 40, 12, 12, 2}
	var sum uint16
	for i := range want {
		if i == 8 {
			continue
		}
		v, _ := iso3779Value(code[i])
		if got := v * iso3779Weights[i]; got != want[i] {
			t.Errorf("position %d: product %d, want %d", i+1, got, want[i])
		}
		sum += v * iso3779Weights[i]
	}
	if sum != 411 {
		t.Errorf("the products sum to %d, want 411", sum)
	}
}

// 49 CFR 565.15(c), table III.
func TestISO3779Transliteration(t *testing.T) {
	const table = "A1 B2 C3 D4 E5 F6 G7 H8 J1 K2 L3 M4 N5 P7 R9 S2 T3 U4 V5 W6 X7 Y8 Z9"
	want := map[byte]uint16{}
	for _, f := range strings.Fields(table) {
		want[f[0]] = uint16(f[1] - '0')
	}
	for c := 0; c < 256; c++ {
		v, ok := iso3779Value(byte(c))
		w, in := want[byte(c)]
		if c >= '0' && c <= '9' {
			w, in = uint16(c-'0'), true
		}
		if ok != in || v != w {
			t.Errorf("%q: value %d (%v), want %d (%v)", rune(c), v, ok, w, in)
		}
	}
}

// I, O and Q never occur; U, Z and 0 do not stand for a model year: 49 CFR
// 565.15.
func TestISO3779RefusesCharacters(t *testing.T) {
	const good = "1G4AH59H45G118341"
	for pos := 1; pos <= 17; pos++ {
		for _, c := range []byte("IOQUZ0*") {
			if pos == 9 {
				continue
			}
			b := []byte(good)
			b[pos-1] = c
			_, err := CheckDigitISO3779(string(b))
			refuse := strings.IndexByte("IOQ*", c) >= 0 || pos == 10
			var ce *CodeError
			if refuse != (err != nil) {
				t.Errorf("%c in position %d: error %v", c, pos, err)
			} else if refuse && (!errors.As(err, &ce) || ce.Reason != BadCharacter || ce.Position != pos || ce.Got != string(c)) {
				t.Errorf("%c in position %d: error %#v does not say so", c, pos, err)
			}
		}
	}
	for _, code := range []string{"", "1G4AH59H45G11834", good + "1"} {
		_, err := CheckDigitISO3779(code)
		var ce *CodeError
		if !errors.As(err, &ce) || ce.Reason != WrongLength {
			t.Errorf("%q: error %v", code, err)
		}
	}
}

// Position 10: 49 CFR 565.15(d)(1), table VII, with 30 years to a cycle.
func TestModelYearISO3779(t *testing.T) {
	for year, want := range map[int]byte{1980: 'A', 1987: 'H', 1988: 'J', 1992: 'N', 1993: 'P', 1994: 'R', 1995: 'S', 2000: 'Y',
		2001: '1', 2009: '9', 2010: 'A', 2020: 'L', 2030: 'Y', 2031: '1', 2039: '9'} {
		if c, ok := ModelYearISO3779(year); !ok || c != want {
			t.Errorf("%d: %q, want %q", year, c, want)
		}
	}
	if _, ok := ModelYearISO3779(1979); ok {
		t.Error("1979 has a character")
	}
	seen := map[byte]bool{}
	for y := 1980; y < 2010; y++ {
		c, _ := ModelYearISO3779(y)
		if seen[c] || strings.IndexByte("IOQUZ0", c) >= 0 {
			t.Errorf("%d: %q", y, c)
		}
		seen[c] = true
		if next, _ := ModelYearISO3779(y + 30); next != c {
			t.Errorf("%d and %d: %q and %q", y, y+30, c, next)
		}
	}
}

func TestCheckDigitMod10AgainstPublishedNumbers(t *testing.T) {
	for _, tc := range []struct {
		number string
		digit  byte
		source string
	}{
		{"26053179311383", '7', "3GPP TS 23.003, B.3, which takes the method from ISO/IEC 7812-1 annex B: step 2 sums to 53"},
		{"61248", '1', "the modulus-10 self-check example of IBM's manuals: digits sum to 19"},
		{"7992739871", '3', "example in the encyclopedic literature on Luhn's formula, from memory"},
		{"0", '0', "from the definition"},
	} {
		got, err := CheckDigitMod10(tc.number)
		if err != nil || got != tc.digit {
			t.Errorf("%s: %q, %v; want %q (%s)", tc.number, got, err, tc.digit, tc.source)
		}
	}
	for _, bad := range []string{"", " ", "12A4", "12é4"} {
		if _, err := CheckDigitMod10(bad); err == nil {
			t.Errorf("%q: no error", bad)
		}
	}
}

// What the two rules are for: both find every single wrong character (Luhn by
// construction; iso3779 wherever the two characters' values differ, the weights
// being prime to 11), and Luhn finds every exchange of neighbours but 09 and 90.
func TestCheckDigitsFindSlipsOfThePen(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.StringMatching(`[0-9]{2,15}`).Draw(t, "number")
		d, err := CheckDigitMod10(n)
		if err != nil {
			t.Fatal(err)
		}
		full := n + string(d)
		valid := func(s string) bool { sum, pos := luhn(s, false); return pos == 0 && sum%10 == 0 }
		if !valid(full) {
			t.Fatalf("%s is not valid with its own digit", full)
		}
		i := rapid.IntRange(0, len(full)-1).Draw(t, "position")
		b := []byte(full)
		b[i] = '0' + (b[i]-'0'+byte(rapid.IntRange(1, 9).Draw(t, "change")))%10
		if valid(string(b)) {
			t.Fatalf("%s with position %d changed to %s is still valid", full, i+1, b)
		}
		b = []byte(full)
		i = rapid.IntRange(0, len(full)-2).Draw(t, "exchange")
		b[i], b[i+1] = b[i+1], b[i]
		blind := b[i] == b[i+1] || b[i] == '0' && b[i+1] == '9' || b[i] == '9' && b[i+1] == '0'
		if valid(string(b)) != blind {
			t.Fatalf("%s with positions %d and %d exchanged: valid %v", full, i+1, i+2, valid(string(b)))
		}
	})
	rapid.Check(t, func(t *rapid.T) {
		code := []byte(rapid.StringMatching(`[A-HJ-NPR-Z0-9]{9}[A-HJ-NPR-TV-Y1-9][A-HJ-NPR-Z0-9]{7}`).Draw(t, "code"))
		before, err := CheckDigitISO3779(string(code))
		if err != nil {
			t.Fatal(err)
		}
		i := rapid.SampledFrom([]int{0, 1, 2, 3, 4, 5, 6, 7, 9, 10, 11, 12, 13, 14, 15, 16}).Draw(t, "position")
		c := rapid.StringMatching(`[A-HJ-NPR-TV-Y1-9]`).Draw(t, "character")[0]
		v, _ := iso3779Value(code[i])
		w, _ := iso3779Value(c)
		code[i] = c
		after, err := CheckDigitISO3779(string(code))
		if err != nil || (after == before) != (v == w) {
			t.Fatalf("position %d changed to %c: digit %c then %c, values %d and %d, %v", i+1, c, before, after, v, w, err)
		}
	})
}
