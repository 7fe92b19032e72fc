package grading

import (
	"math/bits"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"rightpage/banks"
)

// mostOptions bounds the options of a question that marks can be read for: one
// bit each.
const mostOptions = 26

// optionSet is a set of options by index.
type optionSet uint32

func (s optionSet) has(i int) bool { return s&(1<<i) != 0 }
func (s optionSet) len() int       { return bits.OnesCount32(uint32(s)) }

// choices reads the marks of a question with options.
type choices struct {
	n     int
	names map[string]int // normalised text or value → option; clash where two share it
}

func newChoices(options []banks.Option) choices {
	c := choices{n: len(options), names: make(map[string]int, 2*len(options))}
	put := func(name string, i int) {
		name = Normalise(name, Code)
		if j, taken := c.names[name]; taken && j != i {
			c.names[name] = clash
			return
		}
		c.names[name] = i
	}
	for i := range options {
		put(options[i].Value, i)
	}
	for i := range options {
		put(options[i].Text, i)
	}
	return c
}

// read reads marks: "B", "a c", "A,C", "ACD", "A and C", "(b)", "option B", or
// the options by name, as in "K1, OL", where they cannot be letters. It gives
// them in the order in which they stand, each once, and tells whether one
// stands twice. The letters win where both are possible.
func (c *choices) read(given string, into []int8) (marks []int8, set optionSet, twice int, err *Refusal) {
	twice = -1
	marks = into[:0]
	add := func(i int) {
		if set.has(i) {
			twice = i
			return
		}
		set |= 1 << i
		marks = append(marks, int8(i))
	}
	for i := 0; i < len(given); i++ {
		b := given[i]
		switch {
		case b >= 'a' && int(b-'a') < c.n:
			add(int(b - 'a'))
		case b >= 'A' && b <= 'Z' && int(b-'A') < c.n:
			add(int(b - 'A'))
		case b == ' ' || b == ',' || b == ';' || b == '.' || b == ')' || b == '(' || b == '/' || b == '-' || b == '&' || b == '+' || b == '\t' || b == '\n' || b == '\r' || b == ':' || b == '>':
		case b >= utf8.RuneSelf:
			if plain := plainMarks(given); isASCII(plain) {
				return c.read(plain, into)
			}
			return c.readWords(given, into)
		default:
			return c.readWords(given, into)
		}
	}
	if len(marks) == 0 {
		return nil, 0, -1, c.noOption(given)
	}
	return marks, set, twice, nil
}

// plainMarks folds what is not ASCII as [Normalise] does for codes, but keeps
// what parts the marks.
func plainMarks(given string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.Is(unicode.Cf, r):
			return -1
		case unicode.IsSpace(r):
			return ' '
		case r >= utf8.RuneSelf && isSeparator(r):
			return '-'
		}
		if l, ok := latinFor(unicode.ToUpper(r)); ok {
			return l
		}
		return r
	}, norm.NFKC.String(given))
}

func isASCII(s string) bool {
	for i := 0; i < len(s); i++ {
		if s[i] >= utf8.RuneSelf {
			return false
		}
	}
	return true
}

// readWords reads what is not letters of options alone.
func (c *choices) readWords(given string, into []int8) (marks []int8, set optionSet, twice int, err *Refusal) {
	for _, parts := range [...][]string{
		{given},
		strings.FieldsFunc(given, func(r rune) bool { return strings.ContainsRune(",;\n\t|&+>→", r) }),
		strings.FieldsFunc(given, func(r rune) bool { return isSeparator(r) && r != '-' || strings.ContainsRune("|&+>→", r) }),
	} {
		marks, set, twice = into[:0], 0, -1
		known := true
		for _, p := range parts {
			i, what := c.word(p)
			switch what {
			case aFiller:
			case anOption:
				if set.has(i) {
					twice = i
					continue
				}
				set |= 1 << i
				marks = append(marks, int8(i))
			default:
				known = false
			}
		}
		if known && len(marks) > 0 {
			return marks, set, twice, nil
		}
	}
	return nil, 0, -1, c.noOption(given)
}

type wordKind uint8

const (
	unknownWord wordKind = iota
	anOption
	aFiller
)

// word reads one word of an answer: the letter of an option, its value or its
// text.
func (c *choices) word(w string) (int, wordKind) {
	n := Normalise(w, Code)
	switch n {
	case "", "AND", "OPTION", "OPTIONS", "ANSWER", "ANSWERS", "LETTER", "LETTERS", "THEN":
		return 0, aFiller
	}
	if len(n) == 1 {
		if n[0] >= 'A' && int(n[0]-'A') < c.n {
			return int(n[0] - 'A'), anOption
		}
		return 0, unknownWord // a mistyped letter, rather than an option of that name
	}
	if i, ok := c.names[n]; ok && i != clash {
		return i, anOption
	}
	// "C: repair" and "C 10-R-201" name an option twice over.
	if letter, rest, found := strings.Cut(strings.TrimSpace(w), " "); found && len(strings.Trim(letter, ".:)(")) == 1 {
		i, _ := c.word(letter)
		if j, ok := c.names[Normalise(rest, Code)]; ok && i == j {
			return i, anOption
		}
	}
	return 0, unknownWord
}

func (c *choices) noOption(given string) *Refusal {
	if c.n == 0 {
		return &Refusal{"the question has no options", "make the bank again"}
	}
	return &Refusal{"“" + strings.TrimSpace(given) + "” names no option; the options are A to " + banks.Letter(c.n-1), "enter the letter of the option alone"}
}
