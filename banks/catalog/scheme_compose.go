package catalog

import (
	"encoding/hex"
	"strconv"
	"strings"
)

// Compose builds a code from the values of its fields as they stand in the code
// (not their meanings: see [Field.RawFor]), and puts in the right check digit.
// It is the inverse of [Decoder.Read]: every field must be given, except the
// check digit, and fields that overlap must agree. A packed code takes its code
// field or its numbers, and is written as hexadecimal. Errors are of type
// [*CodeError].
func (d *Decoder) Compose(values map[string]string) (string, error) {
	for name := range values {
		if _, ok := d.Field(name); !ok && !(d.pack != "" && isPackedField(d.pack, name)) {
			return "", &CodeError{Scheme: d.name, Field: name, Reason: NotInTable, Want: "the name of a field of the scheme"}
		}
	}
	code, err := d.compose(values)
	if err != nil {
		return "", err
	}
	if _, bad := d.read(code, nil, false); bad.why != fits {
		return "", d.explain(code, bad)
	}
	return code, nil
}

func (d *Decoder) compose(values map[string]string) (string, error) {
	if d.pack != "" {
		return d.composePacked(values)
	}
	length := d.length
	for i := range d.fields {
		if f := &d.fields[i]; f.Length == 0 {
			length = max(length, f.First-1+len(Fold(values[f.Name])))
		}
	}
	code := make([]byte, length)
	for i := range d.fields {
		f := &d.fields[i]
		raw := Fold(values[f.Name])
		fail := func(why Reason, pos int, got, want string) (string, error) {
			return "", &CodeError{Scheme: d.name, Field: f.Name, Position: pos, Reason: why, Code: raw, Got: got, Want: want}
		}
		if raw == "" {
			if d.digit > 0 && f.First == d.digit && f.Length == 1 {
				continue
			}
			return fail(NotGiven, f.First, "", "a value")
		}
		if f.Length > 0 && len(raw) != f.Length {
			return fail(WrongLength, f.First, strconv.Itoa(len(raw))+" characters", strconv.Itoa(f.Length)+" characters")
		}
		for j := range len(raw) {
			at := &code[f.First-1+j]
			if *at != 0 && *at != raw[j] {
				return fail(BadCharacter, f.First+j, raw[j:j+1], strconv.Quote(string(*at))+", as another field has it")
			}
			*at = raw[j]
		}
	}
	for i, c := range code {
		if c == 0 && i+1 != d.digit {
			return "", &CodeError{Scheme: d.name, Position: i + 1, Reason: NotGiven, Want: "a field of the scheme that covers this position"}
		}
	}
	if d.digit > 0 && d.digit <= len(code) && code[d.digit-1] == 0 {
		c, ok := d.digitFor(code)
		if !ok {
			code[d.digit-1] = '0' // Compose finds out why
			c = '0'
		}
		code[d.digit-1] = c
	}
	return string(code), nil
}

// digitFor finds the check digit that makes a code right; what stands in its
// place does not matter.
func (d *Decoder) digitFor(code []byte) (byte, bool) {
	b := append([]byte(nil), code...)
	if d.check == CheckISO3779 {
		if len(b) != iso3779Length {
			return 0, false
		}
		c, why, _ := checkISO3779(string(b))
		return c, why == fits
	}
	for c := byte('0'); c <= '9'; c++ {
		b[d.digit-1] = c
		if sum, pos := luhn(string(b), false); pos == 0 && sum%10 == 0 {
			return c, true
		}
	}
	return 0, false
}

func (d *Decoder) composePacked(values map[string]string) (string, error) {
	fail := func(field, want string) (string, error) {
		return "", &CodeError{Scheme: d.name, Field: field, Reason: NotGiven, Code: values[field], Want: want}
	}
	var t Trouble
	var err error
	if d.pack == PackISO15031 {
		text := values["code"]
		if text == "" {
			text = values["system"] + values["number"]
		}
		if t, err = ParseTrouble(text); err != nil {
			return "", err
		}
		if t.Pack != PackISO15031 {
			return fail("code", "a code such as P0143")
		}
		return strings.ToUpper(hex.EncodeToString(t.Bytes())), nil
	}
	if text := values["code"]; text != "" {
		if t, err = ParseTrouble(text); err != nil {
			return "", err
		}
		if t.Pack != PackJ1939 {
			return fail("code", "a code such as 1208-3")
		}
	} else {
		spn, err := strconv.ParseUint(values["spn"], 10, 32)
		if err != nil {
			return fail("spn", "0 to 524287")
		}
		fmi, err := strconv.ParseUint(values["fmi"], 10, 8)
		if err != nil {
			return fail("fmi", "0 to 31")
		}
		if t, err = J1939(uint32(spn), uint8(fmi), 0); err != nil {
			return "", err
		}
	}
	if text := values["count"]; text != "" {
		n, err := strconv.ParseUint(text, 10, 7)
		if err != nil {
			return fail("count", "0 to 127")
		}
		t.Count = uint8(n)
	}
	switch d.pack {
	case PackJ1939v1:
		t.Version = 1
	case PackJ1939v2:
		t.Version = 2
	case PackJ1939v3:
		t.Version = 3
	}
	return strings.ToUpper(hex.EncodeToString(t.Bytes())), nil
}
