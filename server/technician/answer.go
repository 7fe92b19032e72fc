package technician

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"rightpage/banks"
	"rightpage/quiz/marking"
	"rightpage/server/web"
)

// maxTyped bounds a typed answer in characters; a place in the literature is far
// shorter.
const maxTyped = 300

// between parts the steps of a chase in an answer, as package grading reads it.
const between = "|"

// Entry is an answer as the fields of a page hold it. Which of its fields count
// depends on the response form.
type Entry struct {
	Marks  []bool   // of the options: one, some
	Places []int    // of the options in the order, from 1; 0: none yet
	Text   string   // typed
	Number string   // number
	Unit   string   // and its unit
	Steps  []string // of a chase: the letter of an option, or what was typed
}

// entryOf gives the fields for an answer that was saved.
func entryOf(ask marking.Ask, value string) Entry {
	e := Entry{Marks: make([]bool, len(ask.Options)), Places: make([]int, len(ask.Options)), Steps: make([]string, len(ask.Steps))}
	switch ask.Form {
	case banks.OneOf, banks.SomeOf:
		for _, i := range letters(value, len(ask.Options)) {
			e.Marks[i] = true
		}
	case banks.Ordered:
		for at, i := range letters(value, len(ask.Options)) {
			e.Places[i] = at + 1
		}
	case banks.Number:
		e.Number, e.Unit = splitQuantity(value)
	case banks.Chase:
		if value != "" {
			copy(e.Steps, strings.Split(value, between))
		}
	default:
		e.Text = value
	}
	return e
}

// entryFrom reads the fields of a form that was sent. What is wrong with them is
// in the form's faults.
func entryFrom(f *web.Form, ask marking.Ask) Entry {
	e := entryOf(ask, "")
	switch ask.Form {
	case banks.OneOf, banks.SomeOf:
		for _, v := range f.Many("answer") {
			i := letter(v, len(ask.Options))
			switch {
			case v == "":
			case i < 0 || ask.Form == banks.OneOf && slices.Contains(e.Marks, true):
				f.Fault("answer", "fault.choice")
			default:
				e.Marks[i] = true
			}
		}
	case banks.Ordered:
		for i := range ask.Options {
			n, err := strconv.Atoi(f.Raw("place" + strconv.Itoa(i+1)))
			switch {
			case err != nil:
			case n < 0 || n > len(ask.Options):
				f.Fault("place"+strconv.Itoa(i+1), "fault.choice")
			case n > 0 && slices.Contains(e.Places, n):
				e.Places[i] = n
				f.Fault("place"+strconv.Itoa(i+1), "technician.fault.place", "Place", n)
			default:
				e.Places[i] = n
			}
		}
	case banks.Number:
		e.Number, e.Unit = typed(f, "number"), typed(f, "unit")
	case banks.Chase:
		for i, s := range ask.Steps {
			name := "step" + strconv.Itoa(i+1)
			if len(s.Options) == 0 {
				e.Steps[i] = strings.ReplaceAll(typed(f, name), between, " ")
				continue
			}
			if v := f.Raw(name); v != "" {
				if letter(v, len(s.Options)) < 0 {
					f.Fault(name, "fault.choice")
				} else {
					e.Steps[i] = v
				}
			}
		}
	default:
		e.Text = typed(f, "answer")
	}
	return e
}

// typed reads a line that somebody typed.
func typed(f *web.Form, field string) string {
	s := strings.TrimSpace(norm.NFC.String(f.Raw(field)))
	s = strings.Join(strings.FieldsFunc(s, func(r rune) bool { return unicode.IsControl(r) || unicode.IsSpace(r) }), " ")
	switch {
	case utf8.RuneCountInString(s) > maxTyped:
		f.Fault(field, "fault.long", "Most", maxTyped)
	case !utf8.ValidString(s):
		f.Fault(field, "fault.characters")
	}
	return s
}

// value writes the entry in the form that package grading reads; empty if
// nothing is answered.
func (e Entry) value(form banks.Form) string {
	var b strings.Builder
	switch form {
	case banks.OneOf, banks.SomeOf:
		for i, on := range e.Marks {
			if on {
				b.WriteString(banks.Letter(i))
			}
		}
	case banks.Ordered:
		for n := 1; n <= len(e.Places); n++ {
			if i := slices.Index(e.Places, n); i >= 0 {
				b.WriteString(banks.Letter(i))
			}
		}
	case banks.Number:
		return strings.TrimSpace(e.Number + " " + e.Unit)
	case banks.Chase:
		if !slices.ContainsFunc(e.Steps, func(s string) bool { return s != "" }) {
			return ""
		}
		return strings.Join(e.Steps, between)
	default:
		return e.Text
	}
	return b.String()
}

// letter is the index of an option by its letter, -1 if there is none.
func letter(s string, n int) int {
	if len(s) != 1 || s[0] < 'A' || int(s[0]-'A') >= n {
		return -1
	}
	return int(s[0] - 'A')
}

func letters(value string, n int) []int {
	var list []int
	for i := range len(value) {
		if k := letter(value[i:i+1], n); k >= 0 && !slices.Contains(list, k) {
			list = append(list, k)
		}
	}
	return list
}

// splitQuantity parts a number from its unit: the unit begins at the first word
// after which no word begins with a digit or a sign.
func splitQuantity(value string) (number, unit string) {
	words := strings.Fields(value)
	at := len(words)
	for at > 1 && !strings.ContainsRune("0123456789+-−–.,½¼¾", []rune(words[at-1])[0]) {
		at--
	}
	return strings.Join(words[:at], " "), strings.Join(words[at:], " ")
}

// Said is a part of an answer as people read it.
type Said struct {
	Label string // what was asked, for a step; the place, for an order; else the letter; may be empty
	Text  string
}

// said writes an answer as people read it; nothing for one left blank.
func said(ask marking.Ask, value string) []Said {
	if value == "" {
		return nil
	}
	var list []Said
	e := entryOf(ask, value)
	switch ask.Form {
	case banks.OneOf, banks.SomeOf:
		for i, on := range e.Marks {
			if on {
				list = append(list, Said{banks.Letter(i), ask.Options[i]})
			}
		}
	case banks.Ordered:
		for at, i := range letters(value, len(ask.Options)) {
			list = append(list, Said{fmt.Sprintf("%d.", at+1), ask.Options[i]})
		}
	case banks.Chase:
		for i, s := range ask.Steps {
			text := e.Steps[i]
			if k := letter(text, len(s.Options)); k >= 0 {
				text = s.Options[k]
			}
			list = append(list, Said{s.Ask, text})
		}
	default:
		list = append(list, Said{"", value})
	}
	if len(list) == 0 { // an answer from paper that is no letter of the options
		list = append(list, Said{"", value})
	}
	return list
}

// Fields is what the part "answer" of the templates shows: the question and
// what is filled in.
type Fields struct {
	Ask    marking.Ask
	Entry  Entry
	Faults map[string]string
	Units  []string // suggested, the same for every question
}

// newFields gives the fields of a question.
func newFields(ask marking.Ask, e Entry, faults map[string]string) Fields {
	return Fields{Ask: ask, Entry: e, Faults: faults, Units: unitChoices()}
}

// unitChoices are the units suggested while one is typed: the same for every
// question, so that they tell nothing of the key.
func unitChoices() []string {
	return []string{"mm", "cm", "m", "in", "ft", "L", "mL", "cm3", "qt", "gal", "kg", "g", "lb", "bar", "kPa", "MPa", "psi",
		"N·m", "lbf·ft", "lbf·in", "N", "kN", "kW", "hp", "A", "V", "Ohm", "kOhm", "°C", "°F", "1/min", "Hz", "L/min", "km/h", "h", "min", "s", "°", "%"}
}

// Letter is the letter of an option, for templates.
func (f Fields) Letter(i int) string { return banks.Letter(i) }

// Numbers lists 1 to the number of options, for the places of an order.
func (f Fields) Numbers() []int {
	list := make([]int, len(f.Ask.Options))
	for i := range list {
		list[i] = i + 1
	}
	return list
}

// Name is the name of a numbered field.
func (f Fields) Name(prefix string, i int) string { return prefix + strconv.Itoa(i+1) }
