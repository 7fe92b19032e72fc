package grading

import (
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

func TestNormalise(t *testing.T) {
	for _, c := range []struct {
		charset  Charset
		in, want string
		why      string
	}{
		{Code, " qe.5 ", "QE5", "case and separators"},
		{Code, "QE 5", "QE5", "a space is a separator"},
		{Code, "40-R-212-B", "40R212B", "hyphens"},
		{Code, "40 R 212 B", "40R212B", ""},
		{Code, "40–R–212–B", "40R212B", "en dashes, as word processors set them"},
		{Code, "1208-3", "1208-3", "a mark between digits parts two numbers"},
		{Code, "1208 3", "1208-3", ""},
		{Code, "1208/3", "1208-3", ""},
		{Code, "120-83", "120-83", "and is not another number"},
		{Code, "12083", "12083", "nor none"},
		{Code, "Ｗ２０２Ａ", "W202A", "full width"},
		{Code, "W202\u200bA", "W202A", "an invisible space from a web page"},
		{Code, "W202\u00adA", "W202A", "a soft hyphen"},
		{Code, "В1208", "B1208", "a Cyrillic В"},
		{Code, "OIQ01", "OIQ01", "where letters and digits both occur, none is replaced"},
		{VIN, "gtfp22ff3fs2o68o4", "GTFP22FF3FS206804", "no letter O in the charset"},
		{VIN, "GTFPI2FF3FS20Q8O4", "GTFP12FF3FS200804", "nor I, nor Q"},
		{VIN, "GTF P22 FF3-FS 206804", "GTFP22FF3FS206804", "grouped for reading"},
		{VIN, "GTFB8SZ2", "GTFB8SZ2", "B, S and Z stay: the charset has them and 8, 5, 2"},
		{Digits, "1O2 98Z", "102982", "letters for digits"},
		{Digits, "l02982", "102982", "a lower-case l"},
		{Digits, "B0S", "805", ""},
		{Digits, "b0q", "b0q", "a lower-case b could be a 6, a q a 9: nothing is replaced"},
		{Text, "  SAE   5w-30 ", "SAE 5W-30", "words"},
		{Text, "“left”", "LEFT", "quotation marks"},
	} {
		if got := Normalise(c.in, c.charset); got != c.want {
			t.Errorf("%s %q: %q, want %q %s", c.charset, c.in, got, c.want, c.why)
		}
	}
}

// What a charset forbids decides what may be replaced; a key that holds such a
// character shows that the charset was declared too narrow.
func TestCharsetFor(t *testing.T) {
	for _, c := range []struct {
		declared string
		texts    []string
		want     Charset
	}{
		{"vin", []string{"GTFP22FF3FS206804"}, VIN},
		{"vin", []string{"PN2C2GA", "Q11A"}, Code}, // a loader code with a Q
		{"digits", []string{"206804"}, Digits},
		{"digits", []string{"2O6804"}, Code},
		{"code", []string{"Q11A"}, Code},
	} {
		if got := charsetFor(c.declared, c.texts...); got != c.want {
			t.Errorf("%s %v: %s, want %s", c.declared, c.texts, got, c.want)
		}
	}
}

// Every code of the demonstration catalogs has a normal form of its own: no two
// are taken for one.
func TestCodesStayApart(t *testing.T) {
	for _, d := range demos(t) {
		tables := d.src.T
		codes := map[string][]string{}
		add := func(table, code string) {
			if code != "" {
				codes[table] = append(codes[table], code)
			}
		}
		for i := range tables.Publications {
			add("publications", tables.Publications[i].ID)
		}
		for i := range tables.Groups {
			add("groups", tables.Groups[i].Code)
		}
		for i := range tables.Models {
			m := &tables.Models[i]
			add("models", m.Code)
			add("engines", m.Engine)
			add("transmissions", m.Transmission)
			for _, u := range m.Units {
				add(u.Unit, u.Code)
			}
		}
		for i := range tables.TroubleCodes {
			add("trouble codes", tables.TroubleCodes[i].Code)
		}
		for i := range tables.Bulletins {
			add("bulletins", tables.Bulletins[i].ID)
		}
		for i := range tables.Operations {
			add("operations", tables.Operations[i].Number)
		}
		for table, list := range codes {
			seen := map[string]string{}
			for _, c := range list {
				n := Normalise(c, Code)
				if other, taken := seen[n]; taken && other != c {
					t.Errorf("%s %s: %q and %q are both %q", d.name, table, c, other, n)
				}
				seen[n] = c
			}
		}
	}
}

func TestNormaliseIsStable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		checkNormalise(t, rapid.String().Draw(t, "answer"), rapid.SampledFrom([]Charset{Digits, VIN, Code, Text}).Draw(t, "charset"))
	})
}

// fataler is what *testing.T and *rapid.T share.
type fataler interface {
	Fatalf(format string, args ...any)
}

// checkNormalise checks what holds for any answer: normalising again changes
// nothing, and case, spaces around it and invisible characters do not count.
func checkNormalise(t fataler, answer string, c Charset) {
	n := Normalise(answer, c)
	if !utf8.ValidString(n) && utf8.ValidString(answer) {
		t.Fatalf("%q became %q, which is not UTF-8", answer, n)
	}
	if again := Normalise(n, c); again != n {
		t.Fatalf("%q: %q, and normalised again %q", answer, n, again)
	}
	if got := Normalise(" \t"+answer+"\u00a0 ", c); got != n {
		t.Fatalf("%q with spaces around it: %q, want %q", answer, got, n)
	}
	if c != Digits { // b and q
		ascii := strings.Map(func(r rune) rune {
			if r < utf8.RuneSelf {
				return r
			}
			return -1
		}, answer)
		if a, b := Normalise(strings.ToLower(ascii), c), Normalise(strings.ToUpper(ascii), c); a != b {
			t.Fatalf("%q: %q in lower case, %q in upper", ascii, a, b)
		}
	}
}

func FuzzNormalise(f *testing.F) {
	for _, s := range []string{"QE.5", "GTFP22FF3FS206804", "1208-3", "ﬀ½", "İstanbul ı ſ", "ǅ\u0345", "\xff\xfe", "В\u200b1208", "a\u0301\u00ad-1"} {
		for i := range 4 {
			f.Add(s, uint8(i))
		}
	}
	f.Fuzz(func(t *testing.T, answer string, n uint8) {
		checkNormalise(t, answer, [...]Charset{Digits, VIN, Code, Text}[n%4])
	})
}
