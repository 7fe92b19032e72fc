package catalog

import (
	"cmp"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode"
)

// The words for [LimitStyle.Style].
const (
	limitWords       = "words"
	limitArrowAfter  = "arrow-after"
	limitArrowBefore = "arrow-before"
)

// AllLimits is how an effectivity that limits nothing is printed.
const AllLimits = "all"

// withDefaults fills in what the style leaves out, as [New] does.
func (l LimitStyle) withDefaults() LimitStyle {
	tidy := func(word, otherwise string) string {
		return cmp.Or(strings.Join(strings.Fields(word), " "), otherwise)
	}
	return LimitStyle{Style: cmp.Or(l.Style, limitWords), From: tidy(l.From, "from"), Through: tidy(l.Through, "through"),
		Serial: tidy(l.Serial, "no."), Arrow: tidy(l.Arrow, "→")}
}

// Check tells why limits in this style could not be read back: an unknown
// style, or a word that is mistaken for another, for a number or for a
// separator.
func (l LimitStyle) Check() error {
	l = l.withDefaults()
	words := []string{AllLimits, l.Serial}
	switch l.Style {
	case limitWords:
		words = append(words, l.From, l.Through)
	case limitArrowAfter, limitArrowBefore:
		words = append(words, l.Arrow)
	default:
		return fmt.Errorf("%q is not a style of limits; write words, arrow-after or arrow-before", l.Style)
	}
	for i, w := range words {
		if err := legible(w); err != nil {
			return fmt.Errorf("the word %q cannot stand in a limit: %w", w, err)
		}
		if k := strings.IndexFunc(w, func(r rune) bool { return unicode.IsDigit(r) || r == ',' || r == ';' }); k >= 0 {
			return fmt.Errorf("the word %q cannot stand in a limit; write it without digits, commas and semicolons", w)
		}
		for _, v := range words[:i] {
			a, b := strings.ToLower(v), strings.ToLower(w)
			if strings.HasPrefix(a, b) || strings.HasPrefix(b, a) {
				return fmt.Errorf("the words %q and %q of the limits cannot be told apart; let neither begin with the other", v, w)
			}
		}
	}
	return nil
}

// Format prints an effectivity in this style. Ranges are separated by
// semicolons. Within a range, date limits and serial limits are separated by a
// comma; all of them must hold. What limits nothing is printed as [AllLimits].
//
//	words         from 2016-03 through 2018-02, from no. 1200; from no. 9000
//	arrow-after   2016-03 → 2018-02, no. 1200 →; no. 9000 →
//	arrow-before  → 2016-03, 2018-02 →, → no. 1200; → no. 9000
//
// Dates are in the extended form of ISO 8601-1. The three styles are common
// practice in service literature, no source.
func (l LimitStyle) Format(e Effectivity) string {
	l = l.withDefaults()
	if len(e) == 0 {
		return AllLimits
	}
	var b strings.Builder
	for i, r := range e {
		if i > 0 {
			b.WriteString("; ")
		}
		l.formatRange(&b, r)
	}
	return b.String()
}

func (l LimitStyle) formatRange(b *strings.Builder, r Range) {
	start := b.Len()
	l.formatPair(b, r.From.String(), r.Through.String())
	serial := func(n int64) string {
		if n == 0 {
			return ""
		}
		return l.Serial + " " + strconv.FormatInt(n, 10)
	}
	if r.Serials != (Serials{}) {
		if b.Len() > start {
			b.WriteString(", ")
		}
		l.formatPair(b, serial(r.Serials.From), serial(r.Serials.Through))
	}
	if b.Len() == start {
		b.WriteString(AllLimits)
	}
}

// formatPair prints a from limit and a through limit, either of which may be
// empty.
func (l LimitStyle) formatPair(b *strings.Builder, from, through string) {
	write := func(parts ...string) {
		for i, p := range parts {
			if i > 0 {
				b.WriteByte(' ')
			}
			b.WriteString(p)
		}
	}
	both := from != "" && through != ""
	switch l.Style {
	case limitArrowAfter:
		switch {
		case both:
			write(from, l.Arrow, through)
		case from != "":
			write(from, l.Arrow)
		case through != "":
			write(l.Arrow, through)
		}
	case limitArrowBefore:
		if from != "" {
			write(l.Arrow, from)
		}
		if both {
			b.WriteString(", ")
		}
		if through != "" {
			write(through, l.Arrow)
		}
	default:
		if from != "" {
			write(l.From, from)
		}
		if both {
			b.WriteByte(' ')
		}
		if through != "" {
			write(l.Through, through)
		}
	}
}

// maxRanges bounds the ranges of one cell.
const maxRanges = 1000

// Parse reads what [LimitStyle.Format] prints. It takes any amount of white
// space and either case, and the word for a serial may be left out where the
// limit before it in the same pair has it. The empty text and [AllLimits] are
// the empty Effectivity; Parse gives an open range only among several. It does
// not judge whether from comes before through.
func (l LimitStyle) Parse(s string) (Effectivity, error) {
	l = l.withDefaults()
	if err := l.Check(); err != nil {
		return nil, err
	}
	p := limitParser{from: strings.ToLower(l.From), through: strings.ToLower(l.Through), serial: strings.ToLower(l.Serial), arrow: strings.ToLower(l.Arrow), style: l.Style}
	s = strings.ToLower(strings.Join(strings.Fields(s), " "))
	if s == "" || s == AllLimits {
		return nil, nil
	}
	if n := strings.Count(s, ";"); n >= maxRanges {
		return nil, fmt.Errorf("%d ranges are given; at most %d are allowed in one record", n+1, maxRanges)
	}
	var e Effectivity
	for part := range strings.SplitSeq(s, ";") {
		part = strings.TrimSpace(part)
		r, err := p.parseRange(part)
		if err != nil {
			fault := cellFault{what: fmt.Sprintf("%q is not a limit: %s", clip(part), err), mend: "write it like " + strconv.Quote(l.example())}
			return nil, fault
		}
		e = append(e, r)
	}
	if len(e) == 1 && e[0] == (Range{}) {
		return nil, nil
	}
	return e, nil
}

// example is a limit as this style prints it, for messages.
func (l LimitStyle) example() string {
	return l.Format(Effectivity{{From: Date{Year: 2016, Month: 3}, Through: Date{Year: 2018, Month: 2}, Serials: Serials{From: 1200}}})
}

// limitParser holds the words of a style in lower case.
type limitParser struct{ from, through, serial, arrow, style string }

// side tells which limit a value is.
type side uint8

const (
	noSide side = iota
	fromSide
	throughSide
)

func (p limitParser) parseRange(s string) (Range, error) {
	var r Range
	if s == AllLimits {
		return r, nil
	}
	for item := range strings.SplitSeq(s, ",") {
		var err error
		if p.style == limitWords {
			err = p.parseWords(&r, strings.TrimSpace(item))
		} else {
			err = p.parseArrows(&r, strings.TrimSpace(item))
		}
		if err != nil {
			return r, err
		}
	}
	return r, nil
}

// parseWords reads "from X", "through Y" or both in this order.
func (p limitParser) parseWords(r *Range, s string) error {
	last, serial := noSide, false
	for s != "" {
		at := noSide
		if rest, ok := strings.CutPrefix(s, p.from); ok {
			at, s = fromSide, rest
		} else if rest, ok := strings.CutPrefix(s, p.through); ok {
			at, s = throughSide, rest
		} else {
			return fmt.Errorf("%q stands where %q or %q is expected", clip(s), p.from, p.through)
		}
		if at <= last {
			return errors.New("the order is from, then through")
		}
		last = at
		v, rest, err := p.value(s, serial)
		if err != nil {
			return err
		}
		if err := v.set(r, at); err != nil {
			return err
		}
		serial, s = v.isSerial, strings.TrimSpace(rest)
	}
	if last == noSide {
		return errors.New("a limit is empty")
	}
	return nil
}

// parseArrows reads one limit with its arrow or, where the arrow stands after a
// from limit, two limits with one arrow between them.
func (p limitParser) parseArrows(r *Range, s string) error {
	after := p.style == limitArrowAfter
	side := func(arrowFirst bool) side {
		if arrowFirst != after {
			return fromSide
		}
		return throughSide
	}
	if s == "" {
		return errors.New("a limit is empty")
	}
	if rest, ok := strings.CutPrefix(s, p.arrow); ok {
		v, rest, err := p.value(rest, false)
		if err != nil {
			return err
		}
		if rest != "" {
			return fmt.Errorf("%q follows the limit", clip(rest))
		}
		return v.set(r, side(true))
	}
	v, rest, err := p.value(s, false)
	if err != nil {
		return err
	}
	rest, ok := strings.CutPrefix(strings.TrimSpace(rest), p.arrow)
	if !ok {
		return fmt.Errorf("it has no %s", p.arrow)
	}
	if err := v.set(r, side(false)); err != nil {
		return err
	}
	if rest = strings.TrimSpace(rest); rest == "" {
		return nil
	}
	if !after {
		return fmt.Errorf("%q follows the limit", clip(rest))
	}
	w, rest, err := p.value(rest, v.isSerial)
	if err != nil {
		return err
	}
	if rest != "" {
		return fmt.Errorf("%q follows the limit", clip(rest))
	}
	return w.set(r, throughSide)
}

// limitValue is the date or the serial of a limit.
type limitValue struct {
	date     Date
	serial   int64
	isSerial bool
}

// value reads a date, or a serial where its word stands before it or serial
// says that the limit before it was one.
func (p limitParser) value(s string, serial bool) (v limitValue, rest string, err error) {
	s = strings.TrimSpace(s)
	if after, ok := strings.CutPrefix(s, p.serial); ok {
		serial, s = true, strings.TrimSpace(after)
	}
	n := 0
	for n < len(s) && (s[n] >= '0' && s[n] <= '9' || s[n] == '-' && n+1 < len(s) && s[n+1] >= '0' && s[n+1] <= '9' && n > 0) {
		n++
	}
	if n == 0 {
		if s == "" {
			return v, "", errors.New("a date or serial is missing")
		}
		return v, "", fmt.Errorf("%q stands where a date or %s and a serial is expected", clip(s), p.serial)
	}
	v.isSerial = serial
	if serial {
		v.serial, err = parseSerial(s[:n])
	} else {
		v.date, err = ParseDate(s[:n])
	}
	if err != nil {
		what, _, _ := strings.Cut(err.Error(), "; ")
		return v, "", errors.New(what)
	}
	return v, strings.TrimSpace(s[n:]), nil
}

func (v limitValue) set(r *Range, at side) error {
	twice := errors.New("the same limit is given twice")
	if v.isSerial {
		field := &r.Serials.From
		if at == throughSide {
			field = &r.Serials.Through
		}
		if *field != 0 {
			return twice
		}
		*field = v.serial
		return nil
	}
	field := &r.From
	if at == throughSide {
		field = &r.Through
	}
	if !field.IsZero() {
		return twice
	}
	*field = v.date
	return nil
}

// clip shortens a text from a file for a message.
func clip(s string) string {
	const n = 60
	if utf16Len(s) <= n {
		return s
	}
	r := []rune(s[:min(len(s), 4*n)])
	return string(r[:min(len(r), n)]) + "…"
}
