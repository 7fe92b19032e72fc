package grading

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// Row is one answer of a response file and what became of it. Either Score is
// set or Refused says why there is none.
type Row struct {
	Row      int    `json:"row"` // of the file, counted from 1 with the header
	Person   string `json:"person"`
	Question string `json:"question"`
	Answer   string `json:"answer"`
	Score    *Score `json:"score,omitempty"`
	Refused  string `json:"refused,omitempty"`
	Mend     string `json:"mend,omitempty"`
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

// Sheet is a response file, graded: every row is accounted for.
type Sheet struct {
	Rows   []Row          `json:"rows"`
	People []PersonResult `json:"people"`
	Blank  int            `json:"blank_rows"` // rows with nothing in them
}

// Count tells how many rows were scored and how many refused.
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

// GradeCSV grades a response file from a spreadsheet. It has a header row and
// either one answer a row (columns person, question, answer, in any order), or
// one person a row (a column person, and a column for each question by its ID).
// Commas, semicolons or tabs separate. Blank rows are skipped and counted; case
// and spaces around values do not count; one name spelt with other case or
// spaces is one person. A row that cannot be graded is refused with the reason;
// none is left out. The error is of a file that cannot be read at all.
func GradeCSV(r io.Reader, question func(id string) (*banks.Question, bool), rules Rules) (*Sheet, error) {
	g := &sheetGrader{question: question, rules: rules, people: map[string]int{}, seen: map[[2]string]int{}, sheet: &Sheet{}}
	cr, err := csvReader(r)
	if err != nil {
		return nil, err
	}
	header, err := cr.Read()
	if err == io.EOF {
		return nil, errors.New("row 1: the file is empty; its first row must name the columns: person, question, answer")
	}
	if err != nil {
		return nil, fmt.Errorf("row 1: %w", err)
	}
	if err := g.columns(header); err != nil {
		return nil, err
	}
	for row := 2; ; row++ {
		cells, err := cr.Read()
		if err == io.EOF {
			break
		}
		if line, _ := cr.FieldPos(0); err == nil {
			row = max(row, line)
		}
		if err != nil {
			g.sheet.Rows = append(g.sheet.Rows, Row{Row: row, Refused: err.Error(), Mend: "mend the quotation marks of the row"})
			var pe *csv.ParseError
			if errors.As(err, &pe) {
				continue
			}
			return nil, err
		}
		g.row(row, cells)
	}
	g.sum()
	return g.sheet, nil
}

// csvReader sniffs the separator and drops a byte order mark.
func csvReader(r io.Reader) (*csv.Reader, error) {
	br := bufio.NewReaderSize(r, 64<<10)
	head, err := br.Peek(4096)
	if err != nil && err != io.EOF && err != bufio.ErrBufferFull {
		return nil, err
	}
	if bytes.HasPrefix(head, []byte("\xef\xbb\xbf")) {
		_, _ = br.Discard(3)
		head = head[3:]
	}
	line, _, _ := bytes.Cut(head, []byte("\n"))
	if bytes.ContainsRune(line, 0) || !utf8.Valid(line) && len(line) < 4000 {
		return nil, errors.New("row 1: the file is not text in UTF-8; save it as “CSV UTF-8”")
	}
	cr := csv.NewReader(br)
	cr.FieldsPerRecord = -1
	cr.LazyQuotes = true
	for _, sep := range []rune{'\t', ';'} {
		if bytes.ContainsRune(line, sep) && bytes.Count(line, []byte(string(sep))) > bytes.Count(line, []byte(",")) {
			cr.Comma = sep
		}
	}
	return cr, nil
}

type sheetGrader struct {
	question func(string) (*banks.Question, bool)
	rules    Rules
	sheet    *Sheet

	person, id, answer int   // columns of the long form
	wide               []int // columns of questions in the wide form
	header             []string

	people map[string]int // folded name → index of sheet.People
	seen   map[[2]string]int
}

func (g *sheetGrader) columns(header []string) error {
	g.person, g.id, g.answer = -1, -1, -1
	for i, h := range header {
		h = strings.TrimSpace(h)
		g.header = append(g.header, h)
		switch strings.ToLower(h) {
		case "person", "name", "technician":
			if g.person >= 0 {
				return fmt.Errorf("row 1 column %d: there is a second column of people; name one of them #", i+1)
			}
			g.person = i
		case "question", "id":
			g.id = i
		case "answer", "response":
			g.answer = i
		}
	}
	if g.person < 0 {
		return fmt.Errorf("row 1: no column is named person; the columns are %s; name them person, question, answer, or person and the questions", strings.Join(g.header, ", "))
	}
	if g.id >= 0 && g.answer >= 0 {
		return nil
	}
	for i, h := range g.header {
		if i != g.person && h != "" && !strings.HasPrefix(h, "#") {
			g.wide = append(g.wide, i)
		}
	}
	if len(g.wide) == 0 {
		return fmt.Errorf("row 1: there is no column of answers; the columns are %s; name them person, question, answer, or person and the questions", strings.Join(g.header, ", "))
	}
	return nil
}

func (g *sheetGrader) row(row int, cells []string) {
	cell := func(i int) string {
		if i < 0 || i >= len(cells) {
			return ""
		}
		return strings.TrimSpace(strings.ReplaceAll(cells[i], "\u00a0", " "))
	}
	blank := true
	for i := range cells {
		blank = blank && cell(i) == ""
	}
	if blank {
		g.sheet.Blank++
		return
	}
	if g.wide == nil {
		g.grade(row, cell(g.person), cell(g.id), cell(g.answer))
		return
	}
	for _, c := range g.wide {
		g.grade(row, cell(g.person), g.header[c], cell(c))
	}
}

func (g *sheetGrader) grade(row int, person, id, answer string) {
	r := Row{Row: row, Person: strings.Join(strings.Fields(person), " "), Question: strings.ToLower(id), Answer: answer}
	refuse := func(why, mend string) {
		r.Refused, r.Mend = why, mend
		if r.Person != "" {
			g.sheet.People[g.personIndex(r.Person)].Refused++
		}
		g.sheet.Rows = append(g.sheet.Rows, r)
	}
	switch {
	case r.Person == "":
		refuse("the row names no person", "fill in the person")
		return
	case r.Question == "":
		refuse("the row names no question", "fill in the question's ID")
		return
	case len(answer) > maxCell || len(person) > maxCell:
		refuse(fmt.Sprintf("a cell is longer than %d bytes", maxCell), "shorten it")
		return
	case !utf8.ValidString(answer):
		refuse("the answer is not text in UTF-8", "save the file as “CSV UTF-8”")
		return
	}
	q, ok := g.question(r.Question)
	if !ok {
		refuse("there is no question "+r.Question+" in the bank", "compare the ID with the booklet, or name the bank that it was made from")
		return
	}
	i := g.personIndex(r.Person)
	r.Person = g.sheet.People[i].Person
	key := [2]string{strings.ToLower(r.Person), r.Question}
	if first, dup := g.seen[key]; dup {
		refuse(fmt.Sprintf("%s answered this question in row %d already", r.Person, first), "keep one of the rows")
		return
	}
	s, err := Grade(q, answer, g.rules)
	if err != nil {
		var ref *Refusal
		if errors.As(err, &ref) {
			refuse(ref.Reason, ref.Mend)
		} else {
			refuse(err.Error(), "look at the answer")
		}
		return
	}
	g.seen[key] = row
	r.Score = &s
	g.sheet.Rows = append(g.sheet.Rows, r)
}

func (g *sheetGrader) personIndex(name string) int {
	key := strings.ToLower(name)
	i, ok := g.people[key]
	if !ok {
		i = len(g.sheet.People)
		g.people[key] = i
		g.sheet.People = append(g.sheet.People, PersonResult{Person: name})
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
		if r.Score == nil {
			continue
		}
		p := &g.sheet.People[g.people[strings.ToLower(r.Person)]]
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
		slices.SortStableFunc(p.Slips, func(a, b SlipCount) int { return b.Times - a.Times })
	}
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
