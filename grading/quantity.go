package grading

import (
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// numeral is a number as somebody wrote it. A mark followed by exactly three
// digits can part decimals or thousands; then it has two readings.
type numeral struct {
	readings [2]reading
	n        int // readings that there are, most usual first
}

// reading is one way to read a numeral.
type reading struct {
	value    float64
	decimals int // digits behind the decimal mark
}

// value is the first reading.
func (n numeral) value() float64 { return n.readings[0].value }

// scanNumeral reads the number at the beginning of a text and gives what is
// left. It reads 1500, 1 500, 1'500, 0,8 and 0.8, .5, 12.500,5, −15, 1/2,
// 1 1/2 and ½.
func scanNumeral(text string) (n numeral, rest string, ok bool) {
	s := strings.TrimLeft(text, " ")
	sign := 1.0
	for _, minus := range [...]string{"-", "−", "–"} {
		if r, found := strings.CutPrefix(s, minus); found {
			s, sign = r, -1
			break
		}
	}
	if sign > 0 {
		s = strings.TrimPrefix(s, "+")
	}
	s = strings.TrimLeft(s, " ")
	if v, r, found := scanFraction(s); found {
		n.readings[0] = reading{sign * v, exactly}
		n.n = 1
		return n, r, true
	}
	var digits [32]byte
	d := digits[:0]
	points, commas, last := 0, 0, byte(0)
	spaced := false // thousands are parted by spaces
	i := 0
scan:
	for i < len(s) && len(d) < cap(digits) {
		switch c := s[i]; {
		case c >= '0' && c <= '9':
			d = append(d, c)
			i++
		case (c == '.' || c == ',') && i+1 < len(s) && s[i+1] >= '0' && s[i+1] <= '9':
			if c == '.' {
				points++
			} else {
				commas++
			}
			last = c
			d = append(d, c)
			i++
		default:
			// Thousands parted by a space or an apostrophe: three digits follow
			// and no fourth.
			w := groupMark(s[i:])
			if w > 0 && three(s[i+w:]) && points+commas == 0 && (spaced || len(d) > 0 && len(d) <= 3 && d[0] != '0') {
				d = append(d, s[i+w:i+w+3]...)
				i += w + 3
				spaced = true
				continue
			}
			break scan
		}
	}
	if len(d) == 0 || i < len(s) && s[i] >= '0' && s[i] <= '9' {
		return n, text, false
	}
	if (points > 0 || commas > 0) && i < len(s) && (s[i] == '.' || s[i] == ',') {
		i++ // "15.5." ends a sentence
	} else if i+1 == len(s) && (s[i] == '.' || s[i] == ',') {
		i++
	}
	if n, ok = readings(d, points, commas, last, sign); !ok {
		return n, text, false
	}
	return n, s[i:], true
}

// exactly stands for the decimals of a fraction: it is not rounded.
const exactly = -1

// readings reads digits with marks among them.
func readings(d []byte, points, commas int, last byte, sign float64) (n numeral, ok bool) {
	add := func(decimal byte) {
		text := make([]byte, 0, 32)
		decimals, after := 0, false
		for _, c := range d {
			switch {
			case c == decimal && decimal != 0:
				text = append(text, '.')
				after = true
			case c == '.' || c == ',':
			default:
				text = append(text, c)
				if after {
					decimals++
				}
			}
		}
		if v, err := strconv.ParseFloat(string(text), 64); err == nil && !math.IsInf(v, 0) {
			n.readings[n.n] = reading{sign * v, decimals}
			n.n++
		}
	}
	switch {
	case points+commas == 0:
		add(0)
	case points > 0 && commas > 0:
		// The mark of the other kind parts thousands.
		if last == '.' && points > 1 || last == ',' && commas > 1 {
			return n, false
		}
		at := strings.LastIndexByte(string(d), last)
		if !grouped(d[:at]) {
			return n, false
		}
		add(last)
	case points+commas > 1:
		if !grouped(d) {
			return n, false
		}
		add(0)
	default:
		add(last)
		if grouped(d) {
			add(0)
		}
	}
	return n, n.n > 0
}

// grouped tells whether marks part digits into thousands: one to three digits,
// none of them a leading zero, then groups of three.
func grouped(d []byte) bool {
	run, first := 0, true
	for i := 0; i <= len(d); i++ {
		if i < len(d) && d[i] != '.' && d[i] != ',' {
			run++
			continue
		}
		if first && (run < 1 || run > 3 || d[0] == '0') || !first && run != 3 {
			return false
		}
		run, first = 0, false
	}
	return true
}

// groupMark gives the length of a space or apostrophe that can part thousands.
func groupMark(s string) int {
	r, w := utf8.DecodeRuneInString(s)
	switch r {
	case ' ', '\u00a0', '\u2009', '\u202f', '\'', '’':
		return w
	}
	return 0
}

func three(s string) bool {
	for i := range 3 {
		if i >= len(s) || s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return len(s) == 3 || s[3] < '0' || s[3] > '9'
}

// scanFraction reads 3/4, 1 3/4 and what ½ folds to, but not the 1/ of 1/min.
func scanFraction(s string) (value float64, rest string, ok bool) {
	whole, r, found := scanInteger(s)
	if !found {
		return 0, s, false
	}
	top := whole
	if t, r2, more := scanInteger(strings.TrimLeft(r, " -")); more && len(r) > 0 && (r[0] == ' ' || r[0] == '-') {
		top, r = t, r2
	} else {
		whole = 0
	}
	r, found = cutSlash(r)
	if !found {
		return 0, s, false
	}
	bottom, r, found := scanInteger(r)
	if !found || bottom == 0 || len(r) > 0 && (r[0] == '/' || r[0] == '.' || r[0] == ',') {
		return 0, s, false
	}
	return whole + top/bottom, r, true
}

func cutSlash(s string) (string, bool) {
	if r, ok := strings.CutPrefix(s, "/"); ok {
		return r, true
	}
	return strings.CutPrefix(s, "⁄")
}

func scanInteger(s string) (float64, string, bool) {
	i := 0
	for i < len(s) && i < 9 && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	n, err := strconv.Atoi(s[:i])
	return float64(n), s[i:], err == nil
}

// quantity is a value, a range or a limit with its unit.
type quantity struct {
	shape    shape
	low      numeral // the value, or the lower end
	high     numeral // of a range, or the upper limit
	unit     string
	unitless bool // no unit was written
}

type shape uint8

const (
	single shape = iota
	between
	atLeast
	atMost
)

// parseQuantity reads "34 N·m", "0,8 mm", "2 to 6 mm", "2–6mm", "4 ± 2 mm",
// "at most 0.1 mm", "≤0.1 mm", "min. 2 bar". What stands behind the number is
// taken for the unit, whatever it is. It tells whether there is a number.
func parseQuantity(text string) (quantity, bool) {
	var q quantity
	s := strings.TrimSpace(text)
	for i := 0; i < len(s); i++ {
		if s[i] >= utf8.RuneSelf {
			s = strings.TrimSpace(keepFractions(s))
			break
		}
	}
	if s != "" && !isDigit(rune(s[0])) {
		s = q.cutWords(s)
	}
	n, rest, ok := scanNumeral(s)
	if !ok {
		return q, false
	}
	q.low, q.high = n, n
	if q.shape == single {
		if m, r, middle, found := scanEnd(rest); found {
			q.shape, q.high = between, m
			if middle {
				q.low, q.high = aroundOf(n, m)
			}
			rest = r
		}
	}
	rest = strings.TrimSpace(rest)
	if _, known := unitOf(rest); q.shape == single && !known { // min alone is a unit
		for _, w := range [...]struct {
			word string
			shape
		}{{"minimum", atLeast}, {"min.", atLeast}, {"min", atLeast}, {"or more", atLeast}, {"at least", atLeast},
			{"maximum", atMost}, {"max.", atMost}, {"max", atMost}, {"or less", atMost}, {"at most", atMost}} {
			r, found := cutSuffixFold(rest, w.word)
			if found {
				rest, q.shape = strings.TrimRight(r, " ,("), w.shape
				break
			}
		}
	}
	q.unit = strings.TrimSpace(strings.Trim(rest, "()[]"))
	q.unitless = q.unit == ""
	return q, true
}

// cutWords cuts the words before a number, and takes the shape from them.
func (q *quantity) cutWords(s string) string {
	s = cutAnyFold(s, "=", "≈", "~", "ca.", "ca", "approximately", "approx.", "approx", "about")
	limited := func(sh shape, words ...string) bool {
		r := cutAnyFold(s, words...)
		if r == s {
			return false
		}
		s, q.shape = r, sh
		return true
	}
	_ = limited(atLeast, "at least", "not less than", "no less than", "minimum", "min.", "min", "≥", ">=", ">") ||
		limited(atMost, "at most", "not more than", "no more than", "up to", "maximum", "max.", "max", "≤", "<=", "<")
	if q.shape == single {
		s = cutAnyFold(s, "between", "from")
	}
	return s
}

// keepFractions folds compatibility forms, so that ½ becomes 1⁄2, with a space
// before it where a digit stands there: 1½ is not 11⁄2.
func keepFractions(s string) string {
	var b strings.Builder
	last := rune(0)
	for _, r := range s {
		if unicode.Is(unicode.Cf, r) {
			continue
		}
		if unicode.Is(unicode.No, r) && isDigit(last) && strings.ContainsRune(norm.NFKC.String(string(r)), '⁄') {
			b.WriteByte(' ')
		}
		b.WriteRune(r)
		last = r
	}
	return strings.ReplaceAll(norm.NFKC.String(b.String()), "…", "...")
}

// scanEnd reads the other end of a range: "to 6", "–6", "mm to 6", or the
// deviation of "± 2".
func scanEnd(s string) (n numeral, rest string, deviation, ok bool) {
	t := strings.TrimLeft(s, " ")
	// A unit written at both ends: "2 mm to 6 mm".
	if w, r := leadingUnit(t); w != "" {
		if n, rest, deviation, ok = scanEnd(r); ok {
			if u := strings.TrimSpace(rest); u != "" && !sameUnit(w, u) {
				return n, s, false, false
			}
			if strings.TrimSpace(rest) == "" {
				rest = w
			}
			return n, rest, deviation, true
		}
		return n, s, false, false
	}
	for _, mark := range [...]string{"±", "+/-", "+-"} {
		if r, found := strings.CutPrefix(t, mark); found {
			n, rest, ok = scanNumeral(r)
			return n, rest, true, ok
		}
	}
	for _, mark := range [...]string{"to ", "and ", "through ", "...", "..", "-", "–", "—", "−", "÷"} {
		if len(t) >= len(mark) && strings.EqualFold(t[:len(mark)], mark) {
			n, rest, ok = scanNumeral(t[len(mark):])
			return n, rest, false, ok
		}
	}
	return n, s, false, false
}

// leadingUnit cuts a known unit that is followed by a word or mark of a range.
func leadingUnit(s string) (word, rest string) {
	for _, mark := range [...]string{" to ", " and ", " - ", "-", "–", "...", "±"} {
		if i := strings.Index(s, mark); i > 0 {
			if w := strings.TrimSpace(s[:i]); w != "" {
				if _, known := unitOf(w); known {
					return w, s[i:]
				}
			}
		}
	}
	return "", s
}

func aroundOf(n, m numeral) (low, high numeral) {
	a, b := n.readings[0], m.readings[0]
	d := max(a.decimals, b.decimals)
	low.readings[0], high.readings[0] = reading{a.value - b.value, d}, reading{a.value + b.value, d}
	low.n, high.n = 1, 1
	return low, high
}

// cutAnyFold cuts the first of the prefixes that stands at the beginning,
// whatever its case. A word must end there.
func cutAnyFold(s string, prefixes ...string) string {
	for _, p := range prefixes {
		if len(s) < len(p) || !strings.EqualFold(s[:len(p)], p) {
			continue
		}
		rest := s[len(p):]
		if first, _ := utf8.DecodeRuneInString(rest); unicode.IsLetter(rune(p[len(p)-1])) && unicode.IsLetter(first) {
			continue
		}
		return strings.TrimLeft(rest, " :")
	}
	return s
}

func cutSuffixFold(s, suffix string) (string, bool) {
	if len(s) < len(suffix) || !strings.EqualFold(s[len(s)-len(suffix):], suffix) {
		return s, false
	}
	rest := s[:len(s)-len(suffix)]
	if rest != "" && rest[len(rest)-1] != ' ' && rest[len(rest)-1] != ',' && rest[len(rest)-1] != '(' {
		return s, false
	}
	return strings.TrimRight(rest, " "), true
}
