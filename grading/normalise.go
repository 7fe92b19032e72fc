package grading

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// Charset says what a typed answer is made of, and so which look-alike
// characters can be taken for one another without doubt.
type Charset string

// The charsets of typed answers.
const (
	Digits Charset = "digits" // 0–9 alone: O and Q are 0; I, L and | are 1; Z is 2; S is 5; B is 8
	VIN    Charset = "vin"    // no I, O, Q (49 CFR 565.15, ISO 3779): these are 1, 0, 0
	Code   Charset = "code"   // Latin letters and digits: their look-alikes stay apart
	Text   Charset = "text"   // words
)

// charsetFor is the charset to read an answer by: the declared one, unless a
// text that the question itself accepts or expects holds a character that the
// charset forbids. Then the declaration is too narrow, and to replace anything
// could make two answers one.
func charsetFor(declared string, texts ...string) Charset {
	c := Charset(declared)
	for _, t := range texts {
		for _, r := range t {
			switch {
			case c == VIN && strings.ContainsRune("IOQioq", r),
				c == Digits && (r < '0' || r > '9') && !isSeparator(r):
				return Code
			}
		}
	}
	return c
}

// Normalise brings a typed answer to the form in which answers are compared:
// compatibility forms folded (NFKC), invisible characters dropped, upper case.
//
// Words (Text) are parted by one space each. Everywhere else separators are
// dropped, except that one between two digits stays as a hyphen where letters
// can occur: 1208-3 is not 120-83, while QE.5, QE 5 and QE5 are one. In a
// charset that forbids a character, the character that it was surely meant for
// stands in its place: digits for the letters that look like them (a lower-case
// b or q could be 6 or 9 as well and stays), and Latin letters for Cyrillic and
// Greek ones. Where both exist nothing is replaced.
func Normalise(answer string, c Charset) string {
	var buf [64]byte
	return string(appendNormal(buf[:0], answer, c))
}

// appendNormal appends what [Normalise] gives. Answers in ASCII cost no memory
// beyond dst.
func appendNormal(dst []byte, answer string, c Charset) []byte {
	for i := 0; i < len(answer); i++ {
		if answer[i] >= utf8.RuneSelf {
			return appendUnicode(dst, answer, c)
		}
	}
	return appendASCII(dst, answer, c)
}

// appendUnicode folds what is not ASCII. Upper case, and separators that are
// dropped from between a letter and a mark that combines with it, can make new
// compositions, so that all is repeated until nothing changes.
func appendUnicode(dst []byte, answer string, c Charset) []byte {
	s := answer
	for range 8 {
		t := string(appendASCII(nil, foldUnicode(s, c), c))
		if t == s {
			break
		}
		s = t
	}
	return append(dst, s...)
}

func foldUnicode(s string, c Charset) string {
	return norm.NFKC.String(strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Cf, r) {
			return -1
		}
		if c != Text && r != 'ı' && r != 'ſ' { // these would become I and S
			if l, ok := latinFor(unicode.ToUpper(r)); ok {
				return l
			}
		}
		if c == Digits && (r == 'b' || r == 'q') {
			return r
		}
		return unicode.ToUpper(r)
	}, norm.NFKC.String(s)))
}

// appendASCII normalises what is left after folding. Characters beyond ASCII
// are passed on, separators among them dropped.
func appendASCII(dst []byte, s string, c Charset) []byte {
	start := len(dst)
	parted := false
	for _, r := range s {
		if c == Text && (unicode.IsSpace(r) || isQuote(r)) || c != Text && isSeparator(r) {
			parted = true
			continue
		}
		if parted && len(dst) > start {
			switch {
			case c == Text:
				dst = append(dst, ' ')
			case c != Digits && c != VIN && isDigit(rune(dst[len(dst)-1])) && isDigit(r):
				dst = append(dst, '-')
			}
		}
		parted = false
		switch c {
		case Digits:
			r = digitFor(r)
		case VIN:
			switch r {
			case 'O', 'Q', 'o', 'q':
				r = '0'
			case 'I', 'i':
				r = '1'
			}
		}
		if r >= 'a' && r <= 'z' && (c != Digits || r != 'b' && r != 'q') {
			r -= 'a' - 'A'
		}
		dst = utf8.AppendRune(dst, r)
	}
	return dst
}

func isDigit(r rune) bool { return r >= '0' && r <= '9' }

// isSeparator tells whether a character only parts the others of a code.
func isSeparator(r rune) bool {
	switch r {
	case '-', '.', '/', ',', ';', ':', '_', '\\', '(', ')', '[', ']', '{', '}', '#', '·', '•', '–', '—', '‐', '‑', '‒', '―', '−', '⁄', '∕':
		return true
	}
	return isQuote(r) || unicode.IsSpace(r)
}

func isQuote(r rune) bool {
	switch r {
	case '"', '\'', '`', '´', '“', '”', '„', '‘', '’', '‚', '«', '»', '‹', '›':
		return true
	}
	return false
}

// digitFor gives the digit that a character was meant for where only digits
// can stand.
func digitFor(r rune) rune {
	switch r {
	case 'O', 'o', 'Q':
		return '0'
	case 'I', 'i', 'L', 'l', '|':
		return '1'
	case 'Z', 'z':
		return '2'
	case 'S', 's':
		return '5'
	case 'B':
		return '8'
	}
	return r
}

// latinFor gives the Latin capital that a Cyrillic or Greek capital looks like.
func latinFor(r rune) (rune, bool) {
	switch r {
	case 'А', 'Α':
		return 'A', true
	case 'В', 'Β':
		return 'B', true
	case 'С':
		return 'C', true
	case 'Е', 'Ε':
		return 'E', true
	case 'Н', 'Η':
		return 'H', true
	case 'І', 'Ι':
		return 'I', true
	case 'Ј':
		return 'J', true
	case 'К', 'Κ':
		return 'K', true
	case 'М', 'Μ':
		return 'M', true
	case 'Ν':
		return 'N', true
	case 'О', 'Ο':
		return 'O', true
	case 'Р', 'Ρ':
		return 'P', true
	case 'Ѕ':
		return 'S', true
	case 'Т', 'Τ':
		return 'T', true
	case 'Υ':
		return 'Y', true
	case 'Х', 'Χ':
		return 'X', true
	case 'Ζ':
		return 'Z', true
	}
	return r, false
}
