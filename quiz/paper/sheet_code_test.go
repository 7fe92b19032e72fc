package paper

import (
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestSheetCodeText(t *testing.T) {
	c := SheetCode{Quiz: "AUT31", Variant: "B", Person: "T-014", Page: 1, Pages: 2, Layout: 0xFC305558}
	// CRC-32 of the text before the last slash by Python's zlib.crc32, which
	// is the ISO 3309 / ITU-T V.42 checksum.
	const want = "RP1/AUT31/B/T-014/1-2/FC305558/E81B7CCF"
	if got := c.String(); got != want {
		t.Errorf("%s, want %s", got, want)
	}
	back, err := ParseSheetCode(want)
	if err != nil || back != c {
		t.Errorf("%+v, %v", back, err)
	}
}

func TestSheetCodeRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		id := func(name string, most int) string {
			return rapid.StringMatching(`[A-Za-z0-9._:-]{1,18}`).Draw(t, name)
		}
		c := SheetCode{Quiz: id("quiz", 18), Variant: id("variant", 18), Person: id("person", 18), Layout: rapid.Uint32().Draw(t, "layout")}
		c.Pages = rapid.IntRange(1, maxSheetPages).Draw(t, "pages")
		c.Page = rapid.IntRange(1, c.Pages).Draw(t, "page")
		if err := c.Validate(); err != nil {
			t.Fatal(err)
		}
		text := c.String()
		if len(text) > maxSheetCode {
			t.Fatalf("%d characters", len(text))
		}
		if back, err := ParseSheetCode(text); err != nil || back != c {
			t.Fatalf("%q gives %+v, %v", text, back, err)
		}
		// One character changed anywhere is found out.
		i := rapid.IntRange(0, len(text)-1).Draw(t, "place")
		with := rapid.SampledFrom(strings.Split("0A9Fz/-.", "")).Draw(t, "with")
		if with == text[i:i+1] {
			return
		}
		if _, err := ParseSheetCode(text[:i] + with + text[i+1:]); err == nil {
			t.Fatalf("%q taken with %q at %d", text, with, i)
		}
	})
}

func TestParseSheetCodeSaysWhatIsWrong(t *testing.T) {
	tests := []struct{ name, in, want string }{
		{"empty", "", "does not begin with RP1/"},
		{"another code", "https://example.org/", "does not begin with RP1/"},
		{"too long", "RP1/" + strings.Repeat("A", 100), "longer than any"},
		{"parts", "RP1/A/B", "has 3 parts"},
		{"checksum", "RP1/AUT31/B/T-014/1-2/FC305558/E81B7CC0", "checksum does not fit"},
		{"small hexadecimal", "RP1/AUT31/B/T-014/1-2/FC305558/e81b7ccf", "eight hexadecimal digits"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := ParseSheetCode(tt.in)
			var code *SheetCodeError
			if !errors.As(err, &code) || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("%v, want %q", err, tt.want)
			}
		})
	}
}

func FuzzParseSheetCode(f *testing.F) {
	f.Add("RP1/AUT31/B/T-014/1-2/FC305558/E81B7CCF")
	f.Add("RP1/A/B/C/01-2/FC305558/00000000")
	f.Add("RP1///////")
	f.Add("\xff/\x00")
	f.Fuzz(func(t *testing.T, s string) {
		c, err := ParseSheetCode(s)
		if err != nil {
			return
		}
		if c.String() != s {
			t.Errorf("%q read, written %q", s, c)
		}
		if err := c.Validate(); err != nil {
			t.Errorf("%q read, not valid: %v", s, err)
		}
	})
}
