package catalog

import "unicode/utf8"

// The names of the check-digit rules that a scheme may ask for.
const (
	CheckISO3779 = "iso3779" // position 9 of a 17-character number
	CheckMod10   = "mod10"   // double-add-double over digits
	CheckNone    = "none"    // a check character that is read but not judged
)

// CheckRules lists the names of the check-digit rules.
func CheckRules() []string { return []string{CheckISO3779, CheckMod10, CheckNone} }

const iso3779Length = 17

// iso3779Weights are the factors of positions 1 to 17; position 9 is the check
// digit itself. Source: 49 CFR 565.15(c), table IV.
var iso3779Weights = [iso3779Length]uint16{8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2}

// iso3779Values are the values of the characters in 49 CFR 565.15(c), table III.
// I, O and Q have none.
var iso3779Values = [256]uint8{
	'0': 0, '1': 1, '2': 2, '3': 3, '4': 4, '5': 5, '6': 6, '7': 7, '8': 8, '9': 9,
	'A': 1, 'B': 2, 'C': 3, 'D': 4, 'E': 5, 'F': 6, 'G': 7, 'H': 8,
	'J': 1, 'K': 2, 'L': 3, 'M': 4, 'N': 5, 'P': 7, 'R': 9, 'S': 2,
	'T': 3, 'U': 4, 'V': 5, 'W': 6, 'X': 7, 'Y': 8, 'Z': 9,
}

func iso3779Value(c byte) (v uint16, ok bool) {
	v = uint16(iso3779Values[c])
	return v, v > 0 || c == '0'
}

// checkISO3779 computes the check digit of a folded code. With a reason other
// than fits, pos is the position at fault, from 1.
func checkISO3779(code string) (digit byte, why Reason, pos int) {
	if len(code) != iso3779Length {
		return 0, WrongLength, 0
	}
	var sum uint16
	for i := 0; i < iso3779Length; i++ {
		if i == 8 {
			continue
		}
		c := code[i]
		v, ok := iso3779Value(c)
		// Position 10 is the model year, which uses neither U, Z nor 0: 49 CFR
		// 565.15(d)(1), table VII.
		if !ok || i == 9 && (c == 'U' || c == 'Z' || c == '0') {
			return 0, BadCharacter, i + 1
		}
		sum += v * iso3779Weights[i]
	}
	if r := sum % 11; r < 10 {
		return '0' + byte(r), fits, 0
	}
	return 'X', fits, 0
}

// CheckDigitISO3779 computes the character that belongs in position 9 of a
// 17-character number: the sum of the transliterated characters times the
// weights of their positions, modulo 11, with X for 10. What stands in position
// 9 does not matter. The letters I, O and Q are refused everywhere, and U, Z
// and 0 in position 10, the model year.
//
// Source: 49 CFR 565.15(c), tables III and IV, for the structure that ISO 3779
// describes. Errors are of type [*CodeError].
func CheckDigitISO3779(code string) (byte, error) {
	folded := Fold(code)
	d, why, pos := checkISO3779(folded)
	if why != fits {
		return 0, &CodeError{Code: code, Position: pos, Reason: why, Got: charAt(folded, pos), Want: iso3779Want(why, pos)}
	}
	return d, nil
}

func iso3779Want(why Reason, pos int) string {
	switch {
	case why == WrongLength:
		return "17 characters"
	case pos == 10:
		return "a model-year character: no I, O, Q, U, Z or 0"
	}
	return "digits and letters other than I, O and Q"
}

// modelYears are the characters of position 10 in the order of years; they
// begin with 1980 and again with 2010. Source: 49 CFR 565.15(d)(1), table VII.
const modelYears = "ABCDEFGHJKLMNPRSTVWXY123456789"

// ModelYearISO3779 gives the character of position 10 for a model year from
// 1980 on. The characters repeat every 30 years.
func ModelYearISO3779(year int) (c byte, ok bool) {
	if year < 1980 {
		return 0, false
	}
	return modelYears[(year-1980)%len(modelYears)], true
}

// luhn sums the digits of a folded code, every second from the right doubled.
// pos is the position of the first character that is no digit, or 0.
func luhn(code string, doubleLast bool) (sum int, pos int) {
	double := doubleLast
	for i := len(code) - 1; i >= 0; i-- {
		c := code[i]
		if c < '0' || c > '9' {
			return 0, i + 1
		}
		n := int(c - '0')
		if double {
			if n *= 2; n > 9 {
				n -= 9
			}
		}
		sum += n
		double = !double
	}
	return sum, 0
}

// CheckDigitMod10 computes the digit to be written after a number of digits so
// that the whole satisfies the double-add-double rule, also known as Luhn's.
//
// Source: ISO/IEC 7812-1, annex B; H. P. Luhn, US patent 2,950,048. Errors are
// of type [*CodeError].
func CheckDigitMod10(number string) (byte, error) {
	folded := Fold(number)
	if folded == "" {
		return 0, &CodeError{Code: number, Reason: WrongLength, Want: "at least one digit"}
	}
	sum, pos := luhn(folded, true)
	if pos != 0 {
		return 0, &CodeError{Code: number, Position: pos, Reason: BadCharacter, Got: charAt(folded, pos), Want: "digits only"}
	}
	return '0' + byte((10-sum%10)%10), nil
}

// charAt is the character at a position counted from 1, or "".
func charAt(code string, pos int) string {
	if pos < 1 || pos > len(code) {
		return ""
	}
	_, n := utf8.DecodeRuneInString(code[pos-1:])
	return code[pos-1 : pos-1+n]
}
