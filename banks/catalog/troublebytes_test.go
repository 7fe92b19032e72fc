package catalog

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestUnpackTroubleAgainstTheStandards(t *testing.T) {
	for _, tc := range []struct {
		pack   string
		bytes  []byte
		want   Trouble
		text   string
		source string
	}{
		{PackJ1939, []byte{0xB8, 0x04, 0x03, 0x0A}, Trouble{Pack: PackJ1939, SPN: 1208, FMI: 3, Count: 10, Version: 4}, "1208-3",
			"SAE J1939-73 DM1 layout, worked from the bit layout"},
		{PackJ1939, []byte{0xFF, 0xFF, 0xFF, 0x7E}, Trouble{Pack: PackJ1939, SPN: 524287, FMI: 31, Count: 126, Version: 4}, "524287-31",
			"largest values of 19, 5 and 7 bits, from the bit layout"},
		{PackJ1939, []byte{0x00, 0x00, 0x25, 0x01}, Trouble{Pack: PackJ1939, SPN: 65536, FMI: 5, Count: 1, Version: 4}, "65536-5",
			"the three bits beside the failure mode are the highest, from the bit layout"},
		// 1208 >> 3 = 151 = 0x97; the three bits left are 0. Older versions: from the bit layout.
		{PackJ1939v1, []byte{0x00, 0x97, 0x03, 0x8A}, Trouble{Pack: PackJ1939, SPN: 1208, FMI: 3, Count: 10, Version: 1}, "1208-3", "version 1"},
		{PackJ1939v2, []byte{0x97, 0x00, 0x03, 0x8A}, Trouble{Pack: PackJ1939, SPN: 1208, FMI: 3, Count: 10, Version: 2}, "1208-3", "version 2"},
		{PackJ1939v3, []byte{0xB8, 0x04, 0x03, 0x8A}, Trouble{Pack: PackJ1939, SPN: 1208, FMI: 3, Count: 10, Version: 3}, "1208-3", "version 3"},
		{PackJ1939v1, []byte{0xB8, 0x04, 0x03, 0x0A}, Trouble{Pack: PackJ1939, SPN: 1208, FMI: 3, Count: 10, Version: 4}, "1208-3",
			"conversion method 0 is version 4 whatever else the unit sends"},
		{PackISO15031, []byte{0x01, 0x43}, Trouble{Pack: PackISO15031, Number: 0x0143}, "P0143", "SAE J2012 / ISO 15031-6"},
		{PackISO15031, []byte{0x41, 0x43}, Trouble{Pack: PackISO15031, Number: 0x4143}, "C0143", "top bits 01: C"},
		{PackISO15031, []byte{0x92, 0x34}, Trouble{Pack: PackISO15031, Number: 0x9234}, "B1234", "top bits 10: B"},
		{PackISO15031, []byte{0xC1, 0x00}, Trouble{Pack: PackISO15031, Number: 0xC100}, "U0100", "top bits 11: U"},
		{PackISO15031, []byte{0xFF, 0xFF}, Trouble{Pack: PackISO15031, Number: 0xFFFF}, "U3FFF", "the digits are hexadecimal"},
	} {
		got, err := UnpackTrouble(tc.pack, tc.bytes)
		if err != nil || got != tc.want || got.String() != tc.text {
			t.Errorf("%s % X: %+v %s, %v; want %+v %s (%s)", tc.pack, tc.bytes, got, got, err, tc.want, tc.text, tc.source)
		} else if d := cmp.Diff(tc.bytes, got.Bytes()); d != "" {
			t.Errorf("%s: packed again: %s", tc.text, d)
		}
	}
}

func TestUnpackTroubleRefuses(t *testing.T) {
	for _, tc := range []struct {
		pack  string
		bytes []byte
		why   Reason
		says  string
	}{
		{PackJ1939, []byte{0, 0, 0, 0}, NothingStored, "none is stored"},
		{PackJ1939, []byte{0xFF, 0xFF, 0xFF, 0xFF}, NothingStored, "none is stored"},
		{PackISO15031, []byte{0, 0}, NothingStored, "none is stored"},
		{PackJ1939, []byte{0x00, 0x97, 0x03, 0x8A}, UnknownPacking, "1208-3 in version 1"},
		{PackJ1939, []byte{0xB8, 0x04, 0x03, 0x8A}, UnknownPacking, "1208-3 in version 3"},
		{PackJ1939, []byte{0xB8, 0x04, 0x03}, WrongLength, "4 bytes"},
		{PackISO15031, []byte{0x01, 0x43, 0x11}, WrongLength, "2 bytes"},
	} {
		_, err := UnpackTrouble(tc.pack, tc.bytes)
		var ce *CodeError
		if !errors.As(err, &ce) || ce.Reason != tc.why || !strings.Contains(err.Error(), tc.says) {
			t.Errorf("%s % X: %v; want %s, saying %q", tc.pack, tc.bytes, err, tc.why, tc.says)
		}
	}
}

func TestParseTroubleReadsWhatPeopleWrite(t *testing.T) {
	for text, want := range map[string]string{
		"1208-3": "1208-3", " 1208 - 3 ": "1208-3", "1208/3": "1208-3", "1208–3": "1208-3", "01208-03": "1208-3",
		"SPN 1208 FMI 3": "1208-3", "spn1208fmi3": "1208-3", "SPN: 1208, FMI: 3": "1208-3", "spn=1208 / fmi=3": "1208-3",
		"B8 04 03 0A": "1208-3", "b804030a": "1208-3", "0xB8 0x04 0x03 0x0A": "1208-3", "B8,04,03,0A": "1208-3",
		"P0143": "P0143", "p0143": "P0143", "p 0143": "P0143", "P-0143": "P0143", "U3fff": "U3FFF",
		"01 43": "P0143", "0143": "P0143", "41 43": "C0143",
		"B0143": "B0143", "C0 14": "U0014", "0-3": "0-3", "524287-31": "524287-31",
	} {
		got, err := ParseTrouble(text)
		if err != nil || got.String() != want {
			t.Errorf("%q: %s, %v; want %s", text, got, err, want)
		}
	}
}

func TestParseTroubleSaysWhyNot(t *testing.T) {
	for text, want := range map[string]Reason{
		"": NotACode, "oil": NotACode, "12083": NotACode, "SPN": NotACode, "-3": NotACode,
		"SPN 1208": NotGiven, "1208-": BadCharacter, "1208-x": BadCharacter, "SPN 1208 FMI": BadCharacter,
		"1208-32": BadCharacter, "524288-1": BadCharacter, "99999999999999999999-1": BadCharacter, "1-99999999999999999999": BadCharacter,
		"P4143": BadCharacter, "P01G3": BadCharacter, "P0000": NothingStored, "00 00": NothingStored, "0-0": NothingStored,
		"01 43 11": WrongLength, "B8 04 03 8A": UnknownPacking, strings.Repeat("1", 100000): NotACode,
	} {
		_, err := ParseTrouble(text)
		var ce *CodeError
		if !errors.As(err, &ce) || ce.Reason != want {
			t.Errorf("%.20q: %v, want %s", text, err, want)
		} else if len(text) <= 64 && ce.Code != text {
			t.Errorf("%q: the error names %q", text, ce.Code)
		}
	}
}

func drawTrouble(t *rapid.T) Trouble {
	if rapid.Bool().Draw(t, "two bytes") {
		tr, err := ISO15031(rapid.Uint16Min(1).Draw(t, "number"))
		if err != nil {
			t.Fatal(err)
		}
		return tr
	}
	tr, err := J1939(rapid.Uint32Range(1, maxSPN).Draw(t, "spn"), rapid.Uint8Max(maxFMI).Draw(t, "fmi"), rapid.Uint8Max(126).Draw(t, "count"))
	if err != nil {
		t.Fatal(err)
	}
	tr.Version = rapid.Uint8Range(1, 4).Draw(t, "version")
	return tr
}

func TestTroubleCodesComeBackFromBytesAndText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tr := drawTrouble(t)
		pack := tr.Pack
		if pack == PackJ1939 {
			pack = []string{PackJ1939v1, PackJ1939v2, PackJ1939v3, PackJ1939}[tr.Version-1]
		}
		if back, err := UnpackTrouble(pack, tr.Bytes()); err != nil || back != tr {
			t.Fatalf("%+v as % X comes back as %+v, %v", tr, tr.Bytes(), back, err)
		}
		text, err := ParseTrouble(strings.ToLower(tr.String()))
		if err != nil || text.String() != tr.String() {
			t.Fatalf("%s comes back as %s, %v", tr, text, err)
		}
		if tr.Pack == PackISO15031 || tr.Version == 4 {
			if read, err := ParseTrouble(tr.Hex()); err != nil || read != tr {
				t.Fatalf("%s comes back as %+v, %v", tr.Hex(), read, err)
			}
		}
		var room [11]byte
		if n := testing.AllocsPerRun(1, func() { _ = tr.AppendText(room[:0]) }); n != 0 {
			t.Fatalf("AppendText allocates %v times", n)
		}
	})
}

func FuzzParseTrouble(f *testing.F) {
	for _, s := range []string{"1208-3", "SPN 1208 FMI 3", "P0143", "B8 04 03 0A", "01 43", "FF FF FF FF", "B8 04 03 8A", "0x01 0x43", "SPN", "P–0143", "\x00", "é"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		tr, err := ParseTrouble(s)
		if err != nil {
			var ce *CodeError
			if !errors.As(err, &ce) || err.Error() == "" {
				t.Fatalf("%q: error %#v", s, err)
			}
			return
		}
		again, err := ParseTrouble(tr.String())
		if err != nil || again.String() != tr.String() {
			t.Fatalf("%q reads as %s, which reads as %s, %v", s, tr, again, err)
		}
		if back, err := UnpackTrouble(tr.Pack, tr.Bytes()); err != nil || back != tr {
			t.Fatalf("%q: % X unpacks to %+v, %v; want %+v", s, tr.Bytes(), back, err, tr)
		}
	})
}
