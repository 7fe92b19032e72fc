package grading

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// Charset says what a typed answer is made of, and so which look-alike
// characters can be taken for one another without doubt.
type Charset string

// The charsets of typed answers.
const (
	Digits Charset = "digits" // 0–9 alone: O and Q are 0; I, L and | are 1; and so on
	VIN    Charset = "vin"    // no I, O, Q (49 CFR 565.15): these are 1, 0, 0
	Code   Charset = "code"   // letters and digits: look-alikes stay apart
	Text   Charset = "text"   // words
)

// Normalise brings a typed answer to the form in which answers are compared:
// compatibility forms folded (NFKC), upper case, without separators. In a
// charset that forbids a character, the character that it was surely meant for
// stands in its place; where both exist nothing is replaced.
func Normalise(answer string, c Charset) string {
	s := strings.ToUpper(norm.NFKC.String(answer))
	if c == Text {
		return strings.Join(strings.FieldsFunc(s, func(r rune) bool {
			return unicode.IsSpace(r) || strings.ContainsRune(`"'“”‘’„`, r)
		}), " ")
	}
	return strings.Map(func(r rune) rune {
		if isSeparator(r) {
			return -1
		}
		switch c {
		case Digits:
			return digitFor(r)
		case VIN:
			switch r {
			case 'O', 'Q':
				return '0'
			case 'I':
				return '1'
			}
		}
		return r
	}, s)
}

func isSeparator(r rune) bool {
	switch r {
	case '-', '.', '/', ',', ';', ':', '_', '\\', '·', '–', '—', '‐', '‑':
		return true
	}
	return unicode.IsSpace(r)
}

// digitFor gives the digit that a character was meant for where only digits
// can stand.
func digitFor(r rune) rune {
	switch r {
	case 'O', 'Q', 'D':
		return '0'
	case 'I', 'L', '|', '!':
		return '1'
	case 'Z':
		return '2'
	case 'S':
		return '5'
	case 'B':
		return '8'
	}
	return r
}
