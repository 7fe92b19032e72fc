package main

import (
	"embed"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"rightpage/banks/catalog"
)

//go:embed vocabulary
var vocabularies embed.FS

// line is a row of a vocabulary: its cells, and where it stands, for messages.
type line struct {
	at      string // file:line
	section string // text within the last [section]
	head    []string
	cells   []string
}

func (l line) errorf(format string, args ...any) error {
	return fmt.Errorf("%s: %s", l.at, fmt.Sprintf(format, args...))
}

// readVocabulary reads a file of rows whose cells are separated by bars. A line
// that begins with # is a remark. A line [name] | a | b opens a section.
func readVocabulary(name string, cells int) ([]line, error) {
	data, err := vocabularies.ReadFile("vocabulary/" + name)
	if err != nil {
		return nil, err
	}
	var rows []line
	section, head := "", []string(nil)
	for i, text := range strings.Split(string(data), "\n") {
		at := fmt.Sprintf("%s:%d", name, i+1)
		if text = strings.TrimSpace(text); text == "" || strings.HasPrefix(text, "#") {
			continue
		}
		if rest, ok := strings.CutPrefix(text, "["); ok {
			s, tail, ok := strings.Cut(rest, "]")
			if !ok {
				return nil, fmt.Errorf("%s: a section without its closing bracket", at)
			}
			section, head = s, split(tail, "|")
			continue
		}
		c := split(text, "|")
		if len(c) != cells {
			return nil, fmt.Errorf("%s: %d cells, want %d", at, len(c), cells)
		}
		rows = append(rows, line{at, section, head, c})
	}
	return rows, nil
}

// split cuts s and trims every part; the empty text has no parts.
func split(s, sep string) []string {
	if strings.TrimSpace(s) == "" {
		return nil
	}
	parts := strings.Split(s, sep)
	for i := range parts {
		parts[i] = strings.TrimSpace(parts[i])
	}
	return parts
}

// terms reads synonyms: "term, de:Begriff".
func terms(s, sep string) []catalog.Synonym {
	var out []catalog.Synonym
	for _, t := range split(s, sep) {
		if t == "" {
			continue
		}
		if lang, rest, ok := strings.Cut(t, ":"); ok && len(lang) == 2 {
			out = append(out, catalog.Synonym{Lang: lang, Term: rest})
			continue
		}
		out = append(out, catalog.Synonym{Term: t})
	}
	return out
}

// groupWords is a row of groups.txt.
type groupWords struct {
	group   catalog.Group
	hazards []string
	on      catalog.Pattern // codes of the keying unit that have it at all
}

func readGroups(name string) ([]groupWords, error) {
	rows, err := readVocabulary(name, 7)
	if err != nil {
		return nil, err
	}
	var out []groupWords
	for _, r := range rows {
		c := r.cells
		out = append(out, groupWords{
			group:   catalog.Group{Code: c[0], Parent: c[1], Division: c[2], Title: c[3], KeyedBy: c[4]},
			hazards: split(c[5], ";"),
			on:      catalog.Pattern(c[6]),
		})
	}
	return out, nil
}

// partWords is a row of components.txt: a component and the work done on it.
type partWords struct {
	component catalog.Component
	work      string   // letters, see works
	hazards   []string // besides those of its group
	instead   bool     // hazards stand in place of those of its group
	on        catalog.Pattern
}

// hazardsIn lists the hazards of work on the part, which stands in a group.
func (p partWords) hazardsIn(g groupWords) []string {
	if p.instead {
		return hazardsOf(p.hazards)
	}
	return hazardsOf(g.hazards, p.hazards)
}

// readParts reads components.txt; each section is a group.
func readParts(name string) ([]partWords, error) {
	rows, err := readVocabulary(name, 7)
	if err != nil {
		return nil, err
	}
	var out []partWords
	for _, r := range rows {
		c := r.cells
		p := partWords{component: catalog.Component{Term: c[0], Group: r.section}, work: c[1]}
		for i, lang := range []string{"de", "es", "fr"} {
			if c[2+i] != "" {
				p.component.Synonyms = append(p.component.Synonyms, catalog.Synonym{Lang: lang, Term: c[2+i]})
			}
		}
		p.component.Synonyms = append(terms(c[5], ","), p.component.Synonyms...)
		for key, value := range options(c[6], "of:", "on:", "!", "=") {
			switch key {
			case "of:":
				p.component.PartOf = value
			case "on:":
				p.on = catalog.Pattern(value)
			case "!":
				p.hazards = append(p.hazards, value)
			case "=":
				p.instead = true
				if value != "none" {
					p.hazards = append(p.hazards, value)
				}
			default:
				return nil, r.errorf("%q is not understood", value)
			}
		}
		for _, letter := range p.work {
			if _, ok := works[letter]; !ok {
				return nil, r.errorf("work letter %q is not known", letter)
			}
		}
		for _, pair := range []string{"rf", "aA"} {
			if strings.Contains(p.work, pair[:1]) && strings.Contains(p.work, pair[1:]) {
				return nil, r.errorf("%q is described twice under one action", p.component.Term)
			}
		}
		out = append(out, p)
	}
	return out, nil
}

// options cuts a text at its marks: "of:fuel tank !lifting" gives (of:, fuel
// tank) and (!, lifting). Text before the first mark comes with an empty mark.
func options(s string, marks ...string) func(yield func(mark, value string) bool) {
	return func(yield func(mark, value string) bool) {
		mark, words := "", []string(nil)
		flush := func() bool {
			ok := mark == "" && len(words) == 0 || yield(mark, strings.Join(words, " "))
			words = nil
			return ok
		}
		for _, w := range strings.Fields(s) {
			i := slices.IndexFunc(marks, func(m string) bool { return strings.HasPrefix(w, m) })
			if i >= 0 {
				if !flush() {
					return
				}
				mark, w = marks[i], strings.TrimPrefix(w, marks[i])
			}
			words = append(words, w)
		}
		flush()
	}
}

// work is what a letter of a component's work means.
type work struct {
	action string
	class  catalog.Class
	weight int // pages
	order  int
}

var works = map[rune]work{
	'k': {"check", catalog.Maintenance, 1, 1},
	'c': {"clean", catalog.Maintenance, 1, 2},
	'l': {"lubricate", catalog.Maintenance, 1, 3},
	'A': {"adjust", catalog.Maintenance, 1, 4},
	'g': {"change", catalog.Maintenance, 2, 5},
	'f': {"replace", catalog.Maintenance, 1, 6},
	'i': {"inspect", catalog.Repair, 1, 7},
	'u': {"measure", catalog.Repair, 1, 8},
	'a': {"adjust", catalog.Repair, 2, 9},
	'b': {"bleed", catalog.Repair, 1, 10},
	'm': {"remove", catalog.Repair, 3, 11},
	'r': {"replace", catalog.Repair, 2, 12},
	'o': {"overhaul", catalog.Repair, 6, 13},
	't': {"test", catalog.Diagnosis, 2, 14},
	's': {"calibrate", catalog.Diagnosis, 1, 15},
}

// jobTitle is the heading of a procedure.
func jobTitle(action, component string) string {
	verb := strings.ToUpper(action[:1]) + action[1:]
	if action == "remove" {
		verb = "Remove and install"
	}
	return verb + " " + component
}

// operationWords is a row of operations.txt.
type operationWords struct {
	number, title, unit string
	on                  catalog.Pattern
	hazards             []string
}

func readOperations(name string) ([]operationWords, error) {
	rows, err := readVocabulary(name, 5)
	if err != nil {
		return nil, err
	}
	var out []operationWords
	for _, r := range rows {
		c := r.cells
		out = append(out, operationWords{c[0], c[1], c[2], catalog.Pattern(c[3]), split(c[4], ";")})
	}
	return out, nil
}

// valueWords is one cell of a table of values: a quantity of one family of
// units.
type valueWords struct {
	spec catalog.Specification // without ID, publication, location
	on   catalog.Pattern
}

// readValues reads a table of values. Columns after the first five belong to
// the given patterns. A cell holds a number, low..high, low.. or ..high.
func readValues(name, unit string, columns ...catalog.Pattern) ([]valueWords, error) {
	rows, err := readVocabulary(name, 5+len(columns))
	if err != nil {
		return nil, err
	}
	var out []valueWords
	for _, r := range rows {
		c := r.cells
		for i, on := range columns {
			cell := c[5+i]
			if cell == "" {
				continue
			}
			s := catalog.Specification{Quantity: c[0], Synonyms: terms(c[1], ","), Group: c[2], Unit: c[3], Condition: c[4], KeyedBy: unit}
			if err := setValue(&s, cell); err != nil {
				return nil, r.errorf("%v", err)
			}
			// A value that the column to the left has too stands once, for both.
			if n := len(out); i > 0 && n > 0 && c[4+i] == cell {
				out[n-1].on += ";" + on
				continue
			}
			out = append(out, valueWords{s, on})
		}
	}
	return out, nil
}

func setValue(s *catalog.Specification, cell string) error {
	low, high, isRange := strings.Cut(cell, "..")
	if !isRange {
		s.Value, s.Low, s.High = cell, nil, nil
		return nil
	}
	s.Value, s.Low, s.High = "", nil, nil
	for _, side := range []struct {
		text string
		to   **float64
	}{{low, &s.Low}, {high, &s.High}} {
		if side.text == "" {
			continue
		}
		v, err := strconv.ParseFloat(side.text, 64)
		if err != nil {
			return fmt.Errorf("%q is not a range of numbers", cell)
		}
		*side.to = &v
	}
	return nil
}

// readGrades reads a table of grades by ambient temperature.
func readGrades(name, unit string) ([]valueWords, error) {
	rows, err := readVocabulary(name, 7)
	if err != nil {
		return nil, err
	}
	var out []valueWords
	for _, r := range rows {
		c := r.cells
		s := catalog.Specification{Quantity: c[0], Synonyms: terms(c[1], ","), Group: c[2], Value: c[4], KeyedBy: unit}
		var band catalog.Specification
		if err := setValue(&band, c[5]+".."+c[6]); err != nil {
			return nil, r.errorf("%v", err)
		}
		s.Ambient = catalog.Band{Low: band.Low, High: band.High}
		out = append(out, valueWords{s, catalog.Pattern(c[3])})
	}
	return out, nil
}

// chapterWords is a chapter of tests; see chapters.txt.
type chapterWords struct {
	key, title string
	books      []string
	system     string
	complaints []catalog.Synonym
	steps      []stepWords
}

type stepWords struct {
	step        catalog.TestStep // without publication, chapter and fail chapter
	failChapter string           // key
	at          string
}

func readChapters(name string) ([]chapterWords, error) {
	rows, err := readVocabulary(name, 7)
	if err != nil {
		return nil, err
	}
	var out []chapterWords
	for _, r := range rows {
		if len(out) == 0 || out[len(out)-1].key != r.section {
			h := append(r.head, "", "", "")
			out = append(out, chapterWords{key: r.section, title: h[0], books: strings.Fields(h[1]), system: h[2], complaints: terms(h[3], ";")})
		}
		c := r.cells
		s := stepWords{at: r.at, step: catalog.TestStep{Step: c[0], Tests: c[1], Do: c[2], Expect: c[3], Side: c[5], Hazards: split(c[6], ";")}}
		if c[4] != "" {
			key, steps, _ := strings.Cut(c[4], ":")
			s.failChapter, s.step.FailSteps = strings.TrimSpace(key), strings.Fields(steps)
		}
		ch := &out[len(out)-1]
		ch.steps = append(ch.steps, s)
	}
	return out, nil
}
