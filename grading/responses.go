package grading

import (
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// Row is one answer of a response file and what became of it. Either Score is
// set or Refused says why there is none, and Mend what to do. A row of the file
// that names no person or no question, or that cannot be read, is one Row; a row
// of one person with many answers is one Row for each.
type Row struct {
	Row      int    `json:"row"` // of the file, counted from 1 with the header, as a spreadsheet counts
	Person   string `json:"person"`
	Question string `json:"question"`
	Answer   string `json:"answer"`
	Score    *Score `json:"score,omitempty"`
	Refused  string `json:"refused,omitempty"`
	Mend     string `json:"mend,omitempty"`

	who int // index into Sheet.People, -1 for nobody
}

// Column is a column of a response file that is not graded, and why. Cells is
// how many of its cells hold something.
type Column struct {
	Column  int    `json:"column"` // from 1
	Name    string `json:"name"`
	Cells   int    `json:"cells"`
	Refused string `json:"refused"`
	Mend    string `json:"mend"`
}

// PersonResult sums up the scored answers of one person.
type PersonResult struct {
	Person   string        `json:"person"`
	Answered int           `json:"answered"`
	Blank    int           `json:"blank"`
	Refused  int           `json:"refused"`
	Points   float64       `json:"points"`
	Of       int           `json:"of"` // scored answers, blanks included
	Skills   []SkillResult `json:"skills"`
	Slips    []SlipCount   `json:"slips"`           // most frequent first
	Spelt    []string      `json:"spelt,omitempty"` // other spellings of the name
}

// Share is the points as a share of what could be had.
func (p PersonResult) Share() float64 {
	if p.Of == 0 {
		return 0
	}
	return p.Points / float64(p.Of)
}

// SkillResult is the points of one skill.
type SkillResult struct {
	Skill  string  `json:"skill"`
	Points float64 `json:"points"`
	Of     int     `json:"of"`
}

// SlipCount tells how often somebody made a slip.
type SlipCount struct {
	Slip  resolver.Slip `json:"slip"`
	Times int           `json:"times"`
}

// Sheet is a response file, graded: every row is accounted for. Read is the
// number of its rows below the header: each is in Rows, or in Blank.
type Sheet struct {
	Rows    []Row          `json:"rows"`
	People  []PersonResult `json:"people"`
	Read    int            `json:"read_rows"`         // rows below the header
	Blank   int            `json:"blank_rows"`        // of these, rows with nothing in them
	Columns []Column       `json:"columns,omitempty"` // that are not graded
	Notes   []string       `json:"notes,omitempty"`   // how the file was read, where that is not plain
}

// Count tells how many answers were scored and how many refused.
func (s *Sheet) Count() (scored, refused int) {
	for i := range s.Rows {
		if s.Rows[i].Score != nil {
			scored++
		} else {
			refused++
		}
	}
	return scored, refused
}

// maxCell bounds a cell of a response file.
const maxCell = 4096

// mostAbove is how many rows may stand above the one that names the columns.
const mostAbove = 20

// GradeCSV grades a response file from a spreadsheet. It has a row that names
// the columns (others, such as a title, may stand above it), and either one
// answer a row (columns person, question and answer, in any order), or one
// person a row (a column person, and a column for each question, named by its
// ID). Commas, semicolons or tabs separate; UTF-8, UTF-16 and Windows-1252 are
// read.
//
// Blank rows are counted; case and spaces around values do not count; a name
// with other case or spaces is the same person. Of two rows of one person for
// one question the second is refused if it says the same; a blank one gives way
// to one with an answer; and if they differ both are refused, since which one is
// meant is not for a program to say. A row that cannot be graded is refused with
// the reason; none is left out. In the form with one answer a row, a question
// that somebody has no row for was not asked; in the other, an empty cell is an
// answer left blank.
//
// The error is of a file that cannot be read at all.
func GradeCSV(r io.Reader, question func(id string) (*banks.Question, bool), rules Rules) (*Sheet, error) {
	g := &sheetGrader{
		question: question, rules: rules, sheet: &Sheet{Rows: []Row{}, People: []PersonResult{}},
		people: map[string]int{}, seen: map[personQuestion]*standing{}, graders: map[string]*Grader{},
	}
	rows, err := newRowReader(r)
	if err != nil {
		return nil, err
	}
	if err := g.header(rows); err != nil {
		return nil, err
	}
	header := rows.row
	for {
		cells, err := rows.next()
		if err == io.EOF {
			break
		}
		if err != nil {
			var pe *csv.ParseError
			if !errors.As(err, &pe) {
				return nil, fmt.Errorf("row %d: %w", rows.row, err)
			}
			g.refuseRow(rows.row, fmt.Sprintf("line %d of the file: %v", pe.Line, pe.Err), "mend the quotation marks of the row")
			continue
		}
		g.row(rows, cells)
	}
	g.sheet.Blank += rows.blank - g.blankAbove
	g.sheet.Read = rows.row - header
	if rows.ansi {
		g.sheet.Notes = append(g.sheet.Notes, "Some cells are not UTF-8 and were read as Windows-1252; if names look wrong, save the sheet as “CSV UTF-8”.")
	}
	g.sum()
	return g.sheet, nil
}

type sheetGrader struct {
	question func(string) (*banks.Question, bool)
	rules    Rules
	sheet    *Sheet

	person, id, answer int   // columns of the long form
	wide               []int // columns of questions in the wide form
	others             []int // beside sheet.Columns: their columns
	names              []string
	blankAbove         int

	people  map[string]int // folded name → index of sheet.People
	seen    map[personQuestion]*standing
	graders map[string]*Grader
}

type personQuestion struct {
	who      int
	question string
}

// standing is the answer of a person to a question that stands so far.
type standing struct {
	at     int // index of sheet.Rows
	differ bool
}

// header finds the row that names the columns.
func (g *sheetGrader) header(rows *rowReader) error {
	var first []string
	for n := 0; n < mostAbove; n++ {
		cells, err := rows.next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return fmt.Errorf("row %d: %w", rows.row, err)
		}
		if first == nil {
			first = cells
		}
		if g.columns(cells) {
			if err := g.wideColumns(rows.row); err != nil {
				return err
			}
			g.blankAbove = rows.blank
			if rows.row > 1 {
				g.sheet.Notes = append(g.sheet.Notes, fmt.Sprintf("The columns are named in row %d; what stands above it was passed over.", rows.row))
			}
			return nil
		}
	}
	if first == nil {
		return errors.New("row 1: the file is empty; its first row must name the columns: person, question, answer")
	}
	return fmt.Errorf("row 1: no column is named person; the columns are %s; name them person, question, answer, or person and the questions", clip(strings.Join(first, ", ")))
}

// columns reads the names of columns, if there is one of people among them.
func (g *sheetGrader) columns(header []string) bool {
	g.person, g.id, g.answer = -1, -1, -1
	g.names = header
	best := 0
	for i, h := range header {
		switch strings.ToLower(h) {
		case "person", "technician", "participant", "name":
			// The plainest word wins where there are several.
			rank := 4 - slices.Index([]string{"person", "technician", "participant", "name"}, strings.ToLower(h))
			if rank > best {
				g.person, best = i, rank
			}
		case "question", "question id", "id":
			if g.id < 0 || strings.EqualFold(h, "question") {
				g.id = i
			}
		case "answer", "response":
			if g.answer < 0 {
				g.answer = i
			}
		}
	}
	return g.person >= 0
}

// wideColumns finds the columns of questions where there is no column of
// answers.
func (g *sheetGrader) wideColumns(row int) error {
	if g.id >= 0 && g.answer >= 0 {
		return nil
	}
	taken := map[string]int{}
	for i, h := range g.names {
		if i == g.person || h == "" || strings.HasPrefix(h, "#") {
			continue
		}
		id, q := g.find(h)
		other := func(why, mend string) {
			g.sheet.Columns = append(g.sheet.Columns, Column{Column: i + 1, Name: clip(h), Refused: why, Mend: mend})
			g.others = append(g.others, i)
		}
		if q == nil {
			other("there is no question "+clip(h)+" in the bank", "compare the ID with the booklet, or name the bank that it was made from")
			continue
		}
		if first, dup := taken[id]; dup {
			other(fmt.Sprintf("column %d is of this question already", first+1), "keep one of the columns")
			continue
		}
		taken[id] = i
		g.names[i] = id
		g.wide = append(g.wide, i)
	}
	if len(g.wide)+len(g.others) == 0 {
		return fmt.Errorf("row %d: there is no column of answers beside that of people; name the columns person, question, answer, or person and the questions by their IDs", row)
	}
	if len(g.wide) == 0 {
		g.wide = []int{} // the form is this one all the same
		g.sheet.Notes = append(g.sheet.Notes, "No column is of a question of the bank: name the columns person, question, answer, or person and the questions by their IDs.")
	}
	return nil
}

// find gives a question by its ID, however it is written. An ID has no i, l, o
// or u, so that these are surely meant for 1, 1 and 0.
func (g *sheetGrader) find(id string) (string, *Grader) {
	id = strings.ToLower(strings.Trim(id, " '\"#"))
	if gr, ok := g.graders[id]; ok {
		return id, gr
	}
	for _, form := range [...]string{id, idLookAlikes.Replace(id)} {
		if q, ok := g.question(form); ok {
			gr, known := g.graders[form]
			if !known {
				gr = NewGrader(q, g.rules)
				g.graders[form] = gr
			}
			return form, gr
		}
	}
	return id, nil
}

var idLookAlikes = strings.NewReplacer("o", "0", "i", "1", "l", "1", " ", "")

func (g *sheetGrader) refuseRow(row int, why, mend string) {
	g.sheet.Rows = append(g.sheet.Rows, Row{Row: row, Refused: why, Mend: mend, who: -1})
}

func (g *sheetGrader) row(rows *rowReader, cells []string) {
	row := rows.row
	cell := func(i int) string {
		if i < 0 || i >= len(cells) {
			return ""
		}
		return cells[i]
	}
	blank := true
	for i := range cells {
		blank = blank && cells[i] == ""
	}
	if blank {
		g.sheet.Blank++
		return
	}
	for _, c := range cells {
		if n := swallowed(c, rows.csv.Comma, len(g.names)); n > 0 {
			first, _ := rows.csv.FieldPos(0)
			g.refuseRow(row, fmt.Sprintf("a quotation mark is not closed: lines %d to %d of the file were read as one row", first, first+n), "mend the quotation marks, and grade the file again")
			return
		}
	}
	if g.wide == nil {
		g.grade(row, cell(g.person), cell(g.id), cell(g.answer))
		return
	}
	for k, i := range g.others {
		if cell(i) != "" {
			g.sheet.Columns[k].Cells++
		}
	}
	answers := 0
	for _, c := range g.wide {
		if cell(c) != "" {
			answers++
		}
	}
	if cell(g.person) == "" {
		g.refuseRow(row, "the row names no person", "fill in the person")
		return
	}
	if answers == 0 {
		// Absent, or an empty sheet handed in: the difference is a whole score.
		g.sheet.Rows = append(g.sheet.Rows, Row{
			Row: row, Person: clip(cell(g.person)), who: -1,
			Refused: "the row has no answers to questions of the bank", Mend: "take the row out if the person was absent; if an empty sheet was handed in, enter a dash for an answer",
		})
		return
	}
	for _, c := range g.wide {
		g.grade(row, cell(g.person), g.names[c], cell(c))
	}
}

// swallowed tells how many further rows a cell holds: lines that look like
// rows, since they have as many separators.
func swallowed(cell string, comma rune, columns int) int {
	if columns < 2 || !strings.Contains(cell, "\n") {
		return 0
	}
	n := strings.Count(cell, "\n")
	for i, l := range strings.Split(cell, "\n") {
		if i > 0 && strings.Count(l, string(comma)) >= columns-1 {
			return n
		}
	}
	return 0
}

func (g *sheetGrader) grade(row int, person, id, answer string) {
	r := Row{Row: row, Person: clip(strings.Join(strings.Fields(person), " ")), Question: clip(id), Answer: clip(answer), who: -1}
	refuse := func(why, mend string) {
		r.Refused, r.Mend = why, mend
		g.sheet.Rows = append(g.sheet.Rows, r)
	}
	switch {
	case r.Person == "":
		refuse("the row names no person", "fill in the person")
		return
	case len(person) > maxCell || len(id) > maxCell || len(answer) > maxCell:
		refuse(fmt.Sprintf("a cell is longer than %d bytes", maxCell), "shorten it")
		return
	}
	r.who = g.personIndex(r.Person)
	r.Person = g.sheet.People[r.who].Person
	if r.Question == "" {
		refuse("the row names no question", "fill in the question's ID")
		return
	}
	form, grader := g.find(id)
	r.Question = form
	if grader == nil {
		refuse("there is no question "+r.Question+" in the bank", "compare the ID with the booklet, or name the bank that it was made from")
		return
	}
	if isCellError(answer) {
		refuse("the cell holds the error "+answer+" of a spreadsheet", "enter the answer anew, as text")
		return
	}
	s, err := grader.Grade(answer)
	if err != nil {
		var ref *Refusal
		if errors.As(err, &ref) {
			refuse(ref.Reason, ref.Mend)
		} else {
			refuse(err.Error(), "look at the answer")
		}
		return
	}
	if s.Verdict == Wrong && !s.Known && isCellDate(answer) {
		refuse("“"+answer+"” looks like a date that a spreadsheet has made of the answer", "format the column as text, and enter the answer anew")
		return
	}
	r.Score = &s
	g.stand(r)
}

// stand lets an answer stand beside those of the same person to the same
// question.
func (g *sheetGrader) stand(r Row) {
	key := personQuestion{r.who, r.Question}
	st, taken := g.seen[key]
	if !taken {
		g.seen[key] = &standing{at: len(g.sheet.Rows)}
		g.sheet.Rows = append(g.sheet.Rows, r)
		return
	}
	refuse := func(r *Row, why, mend string) { r.Score, r.Refused, r.Mend = nil, why, mend }
	first := &g.sheet.Rows[st.at]
	switch {
	case st.differ:
		refuse(&r, fmt.Sprintf("%s answered this question in row %d, too, and not alike", r.Person, first.Row), "keep the row that is meant")
	case first.Score.Verdict == r.Score.Verdict && (first.Score.Given == r.Score.Given || r.Score.Verdict == Right):
		refuse(&r, fmt.Sprintf("%s gave the same answer in row %d; it counts once", r.Person, first.Row), "nothing, or take one of the rows out")
	case r.Score.Verdict == Blank:
		refuse(&r, fmt.Sprintf("it is blank; %s answered this question in row %d", r.Person, first.Row), "nothing, or take the row out")
	case first.Score.Verdict == Blank:
		refuse(first, fmt.Sprintf("it is blank; %s answered this question in row %d", r.Person, r.Row), "nothing, or take the row out")
		st.at = len(g.sheet.Rows)
	default:
		refuse(first, fmt.Sprintf("%s answered this question in row %d, too, and not alike", r.Person, r.Row), "keep the row that is meant")
		refuse(&r, fmt.Sprintf("%s answered this question in row %d, too, and not alike", r.Person, first.Row), "keep the row that is meant")
		st.differ = true
	}
	g.sheet.Rows = append(g.sheet.Rows, r)
}

// isCellError tells whether a cell holds what a spreadsheet writes for a
// formula that failed.
func isCellError(s string) bool {
	switch s {
	case "#N/A", "#NAME?", "#REF!", "#VALUE!", "#DIV/0!", "#NUM!", "#NULL!", "#ERROR!", "#SPILL!":
		return true
	}
	return false
}

// isCellDate tells whether a cell holds what a spreadsheet makes of 3-2 or 1/5:
// 3-Feb, Feb-03, 02-Mar-26.
func isCellDate(s string) bool {
	parts := strings.Split(s, "-")
	if len(parts) < 2 || len(parts) > 3 {
		return false
	}
	months := 0
	for _, p := range parts {
		if len(p) == 3 && slices.Contains([]string{"jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"}, strings.ToLower(p)) {
			months++
			continue
		}
		if len(p) == 0 || len(p) > 4 || strings.Trim(p, "0123456789") != "" {
			return false
		}
	}
	return months == 1
}

// clip bounds what is kept of a cell that is refused.
func clip(s string) string {
	const most = 200
	if len(s) <= most {
		return s
	}
	cut := most
	for cut > 0 && s[cut]&0xc0 == 0x80 {
		cut--
	}
	return s[:cut] + "…"
}

func (g *sheetGrader) personIndex(name string) int {
	key := Normalise(name, Text)
	i, ok := g.people[key]
	if !ok {
		i = len(g.sheet.People)
		g.people[key] = i
		g.sheet.People = append(g.sheet.People, PersonResult{Person: name, Skills: []SkillResult{}, Slips: []SlipCount{}})
	}
	p := &g.sheet.People[i]
	if name != p.Person && !slices.Contains(p.Spelt, name) {
		p.Spelt = append(p.Spelt, name)
	}
	return i
}

// sum adds the scores up by person.
func (g *sheetGrader) sum() {
	for i := range g.sheet.Rows {
		r := &g.sheet.Rows[i]
		if r.who < 0 {
			continue
		}
		p := &g.sheet.People[r.who]
		if r.Score == nil {
			p.Refused++
			continue
		}
		p.Of++
		p.Points += r.Score.Points
		if r.Score.Verdict == Blank {
			p.Blank++
		} else {
			p.Answered++
		}
		addSkill(&p.Skills, r.Score)
		addSlips(&p.Slips, r.Score)
	}
	for i := range g.sheet.People {
		p := &g.sheet.People[i]
		p.Slips = sortSlips(p.Slips)
	}
}

// sortSlips puts the most frequent first, those alike in the order of the
// lookup.
func sortSlips(list []SlipCount) []SlipCount {
	slices.SortFunc(list, func(a, b SlipCount) int { return cmp.Or(b.Times-a.Times, int(a.Slip)-int(b.Slip)) })
	return list
}

func addSkill(list *[]SkillResult, s *Score) {
	for i := range *list {
		if (*list)[i].Skill == s.Skill {
			(*list)[i].Points += s.Points
			(*list)[i].Of++
			return
		}
	}
	*list = append(*list, SkillResult{s.Skill, s.Points, 1})
}

func addSlips(list *[]SlipCount, s *Score) {
	add := func(slip resolver.Slip) {
		if slip == resolver.NoSlip {
			return
		}
		for i := range *list {
			if (*list)[i].Slip == slip {
				(*list)[i].Times++
				return
			}
		}
		*list = append(*list, SlipCount{slip, 1})
	}
	if len(s.Steps) == 0 {
		add(s.Slip)
		return
	}
	for i := range s.Steps {
		add(s.Steps[i].Slip)
	}
}
