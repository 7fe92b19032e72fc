package credential

import (
	"encoding/binary"
	"math"
	"strconv"
	"strings"
	"testing"
)

// RFC 8785, sections 3.2.2 to 3.2.4: the sample and the sorting example.
func TestCanonicalFormOfRFC8785(t *testing.T) {
	tests := []struct{ name, in, want string }{
		{"section 3.2.2",
			`{
  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
  "literals": [null, true, false]
}`,
			`{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`},
		{"section 3.2.3",
			`{
  "\u20ac": "Euro Sign",
  "\r": "Carriage Return",
  "\ufb33": "Hebrew Letter Dalet With Dagesh",
  "1": "One",
  "\ud83d\ude00": "Emoji: Grinning Face",
  "\u0080": "Control",
  "\u00f6": "Latin Small Letter O With Diaeresis"
}`,
			"{\"\\r\":\"Carriage Return\",\"1\":\"One\",\"\u0080\":\"Control\",\"ö\":\"Latin Small Letter O With Diaeresis\"," +
				"\"€\":\"Euro Sign\",\"\U0001F600\":\"Emoji: Grinning Face\",\"\uFB33\":\"Hebrew Letter Dalet With Dagesh\"}"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := canonical([]byte(tt.in))
			if err != nil {
				t.Fatal(err)
			}
			if string(got) != tt.want {
				t.Errorf("\n got %s\nwant %s", got, tt.want)
			}
		})
	}
}

// RFC 8785, appendix B: IEEE 754 bit patterns and their JSON text.
func TestCanonicalNumbersOfRFC8785(t *testing.T) {
	for bits, want := range map[string]string{
		"0000000000000000": "0", "8000000000000000": "0",
		"0000000000000001": "5e-324", "8000000000000001": "-5e-324",
		"7fefffffffffffff": "1.7976931348623157e+308", "ffefffffffffffff": "-1.7976931348623157e+308",
		"4340000000000000": "9007199254740992", "c340000000000000": "-9007199254740992",
		"4430000000000000": "295147905179352830000",
		"44b52d02c7e14af5": "9.999999999999997e+22", "44b52d02c7e14af6": "1e+23", "44b52d02c7e14af7": "1.0000000000000001e+23",
		"444b1ae4d6e2ef4e": "999999999999999700000", "444b1ae4d6e2ef4f": "999999999999999900000", "444b1ae4d6e2ef50": "1e+21",
		"3eb0c6f7a0b5ed8c": "9.999999999999997e-7", "3eb0c6f7a0b5ed8d": "0.000001",
		"41b3de4355555553": "333333333.3333332", "41b3de4355555554": "333333333.33333325", "41b3de4355555555": "333333333.3333333",
		"41b3de4355555556": "333333333.3333334", "41b3de4355555557": "333333333.33333343",
		"becbf647612f3696": "-0.0000033333333333333333", "43143ff3c1cb0959": "1424953923781206.2",
	} {
		number := math.Float64frombits(binary.BigEndian.Uint64(unhex(t, bits)))
		in := strconv.FormatFloat(number, 'e', 17, 64) // more digits than needed
		if got, err := canonical([]byte("[" + in + "]")); err != nil || string(got) != "["+want+"]" {
			t.Errorf("%s: got %s, %v; want [%s]", bits, got, err, want)
		}
	}
}

func TestCanonicalRefuses(t *testing.T) {
	for name, in := range map[string]string{
		"duplicate names":              `{"a":1,"a":2}`,
		"duplicate names, one escaped": `{"a":1,"\u0061":2}`,
		"lone surrogate":               `["\ud800"]`,
		"not UTF-8":                    "[\"\xff\"]",
		"control character":            "[\"\x01\"]",
		"trailing comma":               `[1,]`,
		"two values":                   `{} {}`,
		"byte order mark":              "\ufeff{}",
		"number out of range":          `[1e999]`,
		"too large":                    `"` + strings.Repeat("x", maxCredential) + `"`,
		"too deep":                     strings.Repeat("[", maxDepth+1) + strings.Repeat("]", maxDepth+1),
		"empty":                        "",
	} {
		if out, err := canonical([]byte(in)); err == nil {
			t.Errorf("%s: got %.40q, want an error", name, out)
		}
	}
	if _, err := canonical([]byte(strings.Repeat("[", maxDepth) + strings.Repeat("]", maxDepth))); err != nil {
		t.Errorf("as deep as allowed: %v", err)
	}
	if _, err := canonical([]byte(`["[[[[\"[[[[\\"]`)); err != nil {
		t.Errorf("brackets in a text do not nest: %v", err)
	}
}
