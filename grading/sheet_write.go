package grading

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"rightpage/banks/resolver"
	"rightpage/grading/psychometrics"
)

// Document is what the JSON form of a graded file holds.
type Document struct {
	Scored  int `json:"scored"`  // answers
	Refused int `json:"refused"` // answers or rows
	Sheet
	People []DocumentPerson `json:"people"` // those of the sheet
}

// DocumentPerson is a person of a [Document], with what to expect of them.
type DocumentPerson struct {
	PersonResult
	// The share of the points to expect on other questions of the kind, with
	// 95 % confidence; left out where there are too few answers to tell.
	Low    *float64 `json:"low,omitempty"`
	High   *float64 `json:"high,omitempty"`
	TooFew bool     `json:"too_few"`
}

// WriteJSON writes the sheet as one [Document].
func (s *Sheet) WriteJSON(w io.Writer) error {
	d := Document{Sheet: *s}
	d.Scored, d.Refused = s.Count()
	d.People = make([]DocumentPerson, len(s.People))
	for i, p := range s.People {
		d.People[i].PersonResult = p
		if low, high, enough := p.Expect(); enough {
			d.People[i].Low, d.People[i].High = &low, &high
		} else {
			d.People[i].TooFew = true
		}
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(d)
}

// WriteCSV writes a row for every answer, refused ones included, with what was
// understood, the verdict, the slip and the reason. Cells that a spreadsheet
// would take for a formula are guarded; [GradeCSV] reads them back.
func (s *Sheet) WriteCSV(w io.Writer) error {
	c := csv.NewWriter(w)
	_ = c.Write([]string{"row", "person", "question", "answer", "verdict", "points", "kind", "skill", "understood", "key", "slip", "step", "says", "refused", "mend"})
	for i := range s.Rows {
		r := &s.Rows[i]
		cells := []string{strconv.Itoa(r.Row), r.Person, r.Question, r.Answer, "refused", "", "", "", "", "", "", "", "", r.Refused, r.Mend}
		if sc := r.Score; sc != nil {
			cells[4], cells[5] = string(sc.Verdict), strconv.FormatFloat(sc.Points, 'f', -1, 64)
			cells[6], cells[7], cells[8], cells[9] = sc.Kind, sc.Skill, sc.Given, sc.Right
			cells[10] = slipText(sc)
			if sc.Verdict != Right && sc.Verdict != Blank {
				cells[11] = sc.Step.String()
			}
			cells[12] = sc.Says
		}
		for j := range cells {
			cells[j] = safeCell(cells[j])
		}
		_ = c.Write(cells)
	}
	c.Flush()
	return c.Error()
}

// slipText names the slips of an answer: that of a wrong one, or those of the
// steps of a chase.
func slipText(sc *Score) string {
	if len(sc.Steps) > 0 {
		var names []string
		for _, st := range sc.Steps {
			if st.Verdict == Wrong {
				name := st.Slip.String()
				if !st.Known {
					name = unrecognisedText
				}
				names = append(names, st.Step.String()+": "+name)
			}
		}
		return strings.Join(names, "; ")
	}
	switch {
	case sc.Verdict == Right || sc.Verdict == Blank:
		return ""
	case sc.Known:
		return sc.Slip.String()
	}
	return unrecognisedText
}

const unrecognisedText = "unrecognised"

// WriteTable writes the sheet for people: a line a person with what to expect of
// them on other questions ([PersonResult.Expect]), every answer that is
// not right with its slip (at most mostRows of them; 0 for all), and everything
// that was refused.
func (s *Sheet) WriteTable(w io.Writer, mostRows int) error {
	var b strings.Builder
	scored, refused := s.Count()
	fmt.Fprintf(&b, "%s read, %d blank; %s scored, %d refused\n", plural(s.Read, "row"), s.Blank, plural(scored, "answer"), refused)
	for _, n := range s.Notes {
		b.WriteString(n + "\n")
	}
	t := table.NewWriter()
	t.SetStyle(table.StyleLight)
	t.Style().Format.Header = text.FormatDefault
	t.AppendHeader(table.Row{"person", "points", "of", "%", "expect", "blank", "refused", "most frequent slip"})
	for i := range s.People {
		p := &s.People[i]
		slip := ""
		if len(p.Slips) > 0 {
			slip = fmt.Sprintf("%s (%d)", p.Slips[0].Slip, p.Slips[0].Times)
		}
		t.AppendRow(table.Row{plain(p.Person), points(p.Points), p.Of, fmt.Sprintf("%.0f", 100*p.Share()), p.ExpectText(), p.Blank, p.Refused, slip})
	}
	b.WriteString(t.Render() + "\n")
	fmt.Fprintf(&b, "expect: the share on other questions of the kind, 19 times out of 20; fewer than %d answers leave half of the scale open\n", psychometrics.MinShareAnswers)
	wrong := 0
	for i := range s.Rows {
		r := &s.Rows[i]
		if r.Score == nil || r.Score.Verdict == Right || r.Score.Verdict == Blank {
			continue
		}
		if wrong++; mostRows > 0 && wrong > mostRows {
			continue
		}
		fmt.Fprintf(&b, "row %d, %s, %s: “%s” instead of “%s”: %s (%s)\n    %s\n",
			r.Row, plain(r.Person), r.Question, plain(r.Score.Given), r.Score.Right, points(r.Score.Points), slipText(r.Score), r.Score.Says)
	}
	if mostRows > 0 && wrong > mostRows {
		fmt.Fprintf(&b, "and %d more\n", wrong-mostRows)
	}
	for _, c := range s.Columns {
		fmt.Fprintf(&b, "refused: column %d “%s” (%s): %s; %s\n", c.Column, plain(c.Name), plural(c.Cells, "cell"), plain(c.Refused), c.Mend)
	}
	for i := range s.Rows {
		if r := &s.Rows[i]; r.Score == nil {
			fmt.Fprintf(&b, "refused: row %d, %s, %s, “%s”: %s; %s\n", r.Row, plain(r.Person), plain(r.Question), plain(r.Answer), plain(r.Refused), r.Mend)
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// plain keeps what somebody typed from moving the cursor of a terminal.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r >= 0x80 && r < 0xa0 {
			return ' '
		}
		return r
	}, s)
}

// WriteScores writes the matrix of scores: a row a person, a column a question,
// both in the order in which they first occur; 1 for an answer that is wholly
// right, 0 for any other and for one left blank, nothing where the person was
// not asked or the answer was refused. A person without a score has no row. It is
// what rightpage stats --scores reads (psychometrics.ReadScores).
func (s *Sheet) WriteScores(w io.Writer) error {
	column := map[string]int{}
	var questions []string
	cells := map[personQuestion]string{}
	for i := range s.Rows {
		r := &s.Rows[i]
		if r.Score == nil || r.who < 0 {
			continue
		}
		if _, ok := column[r.Question]; !ok {
			column[r.Question] = len(questions)
			questions = append(questions, r.Question)
		}
		cell := "0"
		if r.Score.Points >= 1 {
			cell = "1"
		}
		cells[personQuestion{r.who, r.Question}] = cell
	}
	if len(questions) == 0 {
		return errors.New("no answer was scored, so that there are no scores to write; see what was refused")
	}
	c := csv.NewWriter(w)
	_ = c.Write(append([]string{"person"}, questions...))
	for i := range s.People {
		if s.People[i].Of == 0 {
			continue
		}
		row := make([]string, 1+len(questions))
		row[0] = safeCell(s.People[i].Person)
		for j, q := range questions {
			row[1+j] = cells[personQuestion{i, q}]
		}
		_ = c.Write(row)
	}
	c.Flush()
	return c.Error()
}

// safeCell keeps a spreadsheet from taking text for a formula: an apostrophe
// goes before it (OWASP ASVS 5.0, 1.2.10).
func safeCell(s string) string {
	if isFormula(s) {
		return "'" + s
	}
	return s
}

// isFormula tells whether a spreadsheet may take a cell for a formula: after an
// equals, plus, minus or at sign, also in full width, a tab, a line break or a
// zero byte.
func isFormula(s string) bool {
	if s == "" {
		return false
	}
	switch s[0] {
	case '=', '+', '-', '@', '\t', '\r', '\n', 0:
		return true
	}
	for _, wide := range [...]string{"＝", "＋", "－", "＠"} {
		if strings.HasPrefix(s, wide) {
			return true
		}
	}
	return false
}

// Slips adds up the slips of all people, most frequent first.
func (s *Sheet) Slips() []SlipCount {
	var all []SlipCount
	for _, slip := range resolver.Slips() {
		n := 0
		for j := range s.People {
			for _, c := range s.People[j].Slips {
				if c.Slip == slip {
					n += c.Times
				}
			}
		}
		if n > 0 {
			all = append(all, SlipCount{slip, n})
		}
	}
	return sortSlips(all)
}
