package catalog

import (
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"
)

// The names of the byte packings of a trouble code.
//
// j1939 is the layout of SAE J1939-73 message DM1 (suspect parameter number in
// 19 bits, failure mode in 5, occurrence count in 7, conversion method in 1).
// Where the conversion method is 1, the number was packed by one of three older
// versions, and which one only the maker of the control unit can say; a catalog
// that knows says so with j1939-1, j1939-2 or j1939-3. iso15031 is the two-byte
// code of ISO 15031-6 and SAE J2012.
const (
	PackJ1939    = "j1939"
	PackJ1939v1  = "j1939-1"
	PackJ1939v2  = "j1939-2"
	PackJ1939v3  = "j1939-3"
	PackISO15031 = "iso15031"
)

// Packs lists the names of the byte packings.
func Packs() []string {
	return []string{PackJ1939, PackJ1939v1, PackJ1939v2, PackJ1939v3, PackISO15031}
}

const (
	maxSPN   = 1<<19 - 1
	maxFMI   = 1<<5 - 1
	maxCount = 1<<7 - 1
)

// Trouble is a trouble code taken apart. Pack tells which fields count: SPN,
// FMI, Count and Version for j1939, Number for iso15031. Two codes are the same
// fault when their [Trouble.String] is.
type Trouble struct {
	Pack    string `json:"pack"`
	SPN     uint32 `json:"spn,omitempty"`     // suspect parameter number, 0 to 524287
	FMI     uint8  `json:"fmi"`               // failure mode identifier, 0 to 31
	Count   uint8  `json:"count,omitempty"`   // occurrences, 0 to 126; 127: not known
	Version uint8  `json:"version,omitempty"` // how the bytes pack SPN: 4, or 1 to 3 in old control units
	Number  uint16 `json:"number,omitempty"`  // the two bytes of iso15031
}

// String is the canonical text: "1208-3" (SPN and FMI), "P0143".
func (t Trouble) String() string { return string(t.AppendText(nil)) }

// AppendText appends the canonical text to b and allocates nothing when it
// fits: eleven bytes are always enough.
func (t Trouble) AppendText(b []byte) []byte {
	if t.Pack == PackISO15031 {
		const digits = "0123456789ABCDEF"
		return append(b, "PCBU"[t.Number>>14], '0'+byte(t.Number>>12&3), digits[t.Number>>8&15], digits[t.Number>>4&15], digits[t.Number&15])
	}
	b = strconv.AppendUint(b, uint64(t.SPN), 10)
	return strconv.AppendUint(append(b, '-'), uint64(t.FMI), 10)
}

// Bytes packs the code: four bytes for j1939, with the conversion method that
// goes with Version, and two for iso15031.
func (t Trouble) Bytes() []byte {
	if t.Pack == PackISO15031 {
		return []byte{byte(t.Number >> 8), byte(t.Number)}
	}
	b := []byte{byte(t.SPN), byte(t.SPN >> 8), byte(t.SPN>>16)<<5 | t.FMI&maxFMI, t.Count & maxCount}
	switch t.Version {
	case 1:
		b[0], b[1], b[2] = byte(t.SPN>>11), byte(t.SPN>>3), byte(t.SPN)<<5|t.FMI&maxFMI
	case 2:
		b[0], b[1], b[2] = byte(t.SPN>>3), byte(t.SPN>>11), byte(t.SPN)<<5|t.FMI&maxFMI
	}
	if t.Version >= 1 && t.Version <= 3 {
		b[3] |= 0x80
	}
	return b
}

// Hex writes the bytes as hexadecimal, as a reader shows them: "B8 04 03 0A".
func (t Trouble) Hex() string { return fmt.Sprintf("% X", t.Bytes()) }

// J1939 makes a trouble code from its numbers.
func J1939(spn uint32, fmi, count uint8) (Trouble, error) {
	t := Trouble{Pack: PackJ1939, SPN: spn, FMI: fmi, Count: count, Version: 4}
	text := t.String()
	switch {
	case spn > maxSPN:
		return Trouble{}, &CodeError{Code: text, Field: "spn", Reason: BadCharacter, Got: strconv.FormatUint(uint64(spn), 10), Want: "0 to 524287 (19 bits)"}
	case fmi > maxFMI:
		return Trouble{}, &CodeError{Code: text, Field: "fmi", Reason: BadCharacter, Got: strconv.Itoa(int(fmi)), Want: "0 to 31 (5 bits)"}
	case count > maxCount:
		return Trouble{}, &CodeError{Code: text, Field: "count", Reason: BadCharacter, Got: strconv.Itoa(int(count)), Want: "0 to 127 (7 bits)"}
	case spn == 0 && fmi == 0:
		return Trouble{}, &CodeError{Code: text, Reason: NothingStored, Want: "a code; parameter 0 with failure mode 0 is sent when none is stored"}
	}
	return t, nil
}

// ISO15031 makes a trouble code from its two bytes.
func ISO15031(number uint16) (Trouble, error) {
	t := Trouble{Pack: PackISO15031, Number: number}
	if number == 0 {
		return Trouble{}, &CodeError{Code: t.String(), Reason: NothingStored, Want: "a code; two zero bytes fill up a message when no more are stored"}
	}
	return t, nil
}

// unpack reads a packed code from its bytes.
func unpack(pack string, b []byte) (Trouble, Reason) {
	if pack == PackISO15031 {
		if len(b) != 2 {
			return Trouble{}, WrongLength
		}
		t := Trouble{Pack: pack, Number: uint16(b[0])<<8 | uint16(b[1])}
		if t.Number == 0 {
			return Trouble{}, NothingStored
		}
		return t, fits
	}
	if len(b) != 4 {
		return Trouble{}, WrongLength
	}
	word := uint32(b[0]) | uint32(b[1])<<8 | uint32(b[2])<<16 | uint32(b[3])<<24
	// All zero is sent when no code is stored; all ones was, by older control
	// units (SAE J1939-73, from memory).
	if b[0] == 0 && b[1] == 0 && b[2] == 0 || word == 1<<32-1 {
		return Trouble{}, NothingStored
	}
	t := Trouble{Pack: PackJ1939, Version: 4, Count: b[3] & maxCount}
	if b[3]&0x80 != 0 {
		switch pack {
		case PackJ1939v1:
			t.Version = 1
		case PackJ1939v2:
			t.Version = 2
		case PackJ1939v3:
			t.Version = 3
		default:
			return Trouble{}, UnknownPacking
		}
	}
	t.FMI = b[2] & maxFMI
	high, low := uint32(b[0]), uint32(b[1])
	switch t.Version {
	case 1: // most significant byte first, the three lowest bits beside the failure mode
		t.SPN = high<<11 | low<<3 | uint32(b[2]>>5)
	case 2: // the two bytes exchanged
		t.SPN = low<<11 | high<<3 | uint32(b[2]>>5)
	default: // least significant byte first, the three highest bits beside the failure mode
		t.SPN = high | low<<8 | uint32(b[2]>>5)<<16
	}
	return t, fits
}

// UnpackTrouble reads the bytes of a trouble code, packed as pack names. Bytes
// whose conversion method is 1 cannot be read as plain j1939: the error lists
// what they would mean in each of the older versions. Errors are of type
// [*CodeError].
func UnpackTrouble(pack string, b []byte) (Trouble, error) {
	t, why := unpack(pack, b)
	if why == fits {
		return t, nil
	}
	return Trouble{}, unpackError(pack, b, why)
}

func unpackError(pack string, b []byte, why Reason) *CodeError {
	e := &CodeError{Code: fmt.Sprintf("% X", b), Reason: why}
	switch why {
	case WrongLength:
		e.Got = fmt.Sprintf("%d bytes", len(b))
		e.Want = "4 bytes"
		if pack == PackISO15031 {
			e.Want = "2 bytes"
		}
	case UnknownPacking:
		var old []string
		for i, p := range []string{PackJ1939v1, PackJ1939v2, PackJ1939v3} {
			if t, r := unpack(p, b); r == fits {
				old = append(old, fmt.Sprintf("%s in version %d", t, i+1))
			}
		}
		e.Position = 4
		e.Want = "conversion method 0; method 1 means " + strings.Join(old, ", ") +
			": look up in the control unit's literature which version it uses"
	case NothingStored:
		e.Want = "a code; these bytes are sent when none is stored"
	}
	return e
}

// ParseTrouble reads a trouble code as people and readers write it, without
// knowing any scheme: "1208-3", "SPN 1208 FMI 3", "P0143", "p 0143", or its
// bytes as hexadecimal with or without spaces and 0x: two bytes are iso15031,
// four are j1939. Errors are of type [*CodeError].
func ParseTrouble(text string) (Trouble, error) {
	bad := func(why Reason, want string) (Trouble, error) {
		return Trouble{}, &CodeError{Code: text, Reason: why, Want: want}
	}
	if len(text) > 64 { // no code is near as long; do not work on a whole file
		return Trouble{}, &CodeError{Code: text[:16] + "…", Reason: NotACode, Want: "a trouble code"}
	}
	s := strings.ToUpper(strings.TrimSpace(text))
	s = strings.NewReplacer("\u00a0", " ", "\u2010", "-", "\u2011", "-", "\u2012", "-", "\u2013", "-").Replace(s)
	if t, err, ok := parseSPN(text, s); ok {
		return t, err
	}
	compact := strings.NewReplacer(" ", "", "\t", "", ",", "").Replace(strings.ReplaceAll(s, "0X", ""))
	if len(compact) >= 5 && compact[1] == '-' {
		compact = compact[:1] + compact[2:]
	}
	if len(compact) == 5 && strings.IndexByte("PCBU", compact[0]) >= 0 {
		n, err := strconv.ParseUint(compact[1:], 16, 16)
		if err != nil {
			return bad(BadCharacter, "a letter P, C, B or U and four hexadecimal digits")
		}
		if n > 0x3fff {
			return Trouble{}, &CodeError{Code: text, Position: 2, Reason: BadCharacter, Got: compact[1:2], Want: "0 to 3"}
		}
		t, e := ISO15031(uint16(strings.IndexByte("PCBU", compact[0]))<<14 | uint16(n))
		return t, named(e, text)
	}
	b, err := hex.DecodeString(compact)
	if err != nil || len(b) == 0 {
		return bad(NotACode, `such as "1208-3", "SPN 1208 FMI 3", "P0143" or the bytes as hexadecimal`)
	}
	switch len(b) {
	case 2:
		t, e := UnpackTrouble(PackISO15031, b)
		return t, named(e, text)
	case 4:
		t, e := UnpackTrouble(PackJ1939, b)
		return t, named(e, text)
	}
	return bad(WrongLength, "two bytes (ISO 15031-6) or four (SAE J1939-73)")
}

// named puts the code as it was written into an error.
func named(err error, text string) error {
	if e, ok := err.(*CodeError); ok {
		e.Code = text
		return e
	}
	return err
}

// parseSPN reads "1208-3" and "SPN 1208 FMI 3"; ok is false where s is neither.
func parseSPN(text, s string) (t Trouble, err error, ok bool) {
	rest, worded := strings.CutPrefix(s, "SPN")
	if worded {
		rest = strings.TrimLeft(rest, " :#=.")
	}
	n := digits(rest)
	if n == 0 {
		return t, nil, false
	}
	first, rest := rest[:n], rest[n:]
	if worded {
		rest = strings.TrimLeft(rest, " ,;-/")
		if rest, ok = strings.CutPrefix(rest, "FMI"); !ok {
			return t, &CodeError{Code: text, Field: "fmi", Reason: NotGiven, Want: "as in SPN 1208 FMI 3"}, true
		}
		rest = strings.TrimLeft(rest, " :#=.")
	} else {
		rest = strings.TrimLeft(rest, " ")
		if rest == "" || rest[0] != '-' && rest[0] != '/' {
			return t, nil, false
		}
		rest = strings.TrimLeft(rest[1:], " ")
	}
	if m := digits(rest); m == 0 || m != len(rest) {
		return t, &CodeError{Code: text, Field: "fmi", Reason: BadCharacter, Got: rest, Want: "0 to 31 (5 bits)"}, true
	}
	spn, e1 := strconv.ParseUint(first, 10, 32)
	fmi, e2 := strconv.ParseUint(rest, 10, 8)
	if e1 != nil {
		spn = maxSPN + 1
	}
	if e2 != nil {
		fmi = maxFMI + 1
	}
	t, err = J1939(uint32(spn), uint8(fmi), 0)
	return t, named(err, text), true
}
