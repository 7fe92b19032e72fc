package grading

import (
	"bytes"
	"encoding/binary"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"

	"pgregory.net/rapid"

	"rightpage/banks"
	"rightpage/banks/resolver"
	"rightpage/grading/psychometrics"
)

// sampleFile writes a response file in the form with one answer a row.
func sampleFile(d *demo, people, questions int) ([]byte, func(string) (*banks.Question, bool)) {
	rng := rand.New(rand.NewPCG(5, 1))
	byID := map[string]*banks.Question{}
	for _, q := range d.bank {
		byID[q.ID] = q
	}
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write([]string{"person", "question", "answer"})
	for p := range people {
		for _, q := range d.bank[:questions] {
			given := KeyAnswer(q)
			var wrong []string
			for a := range SlipAnswers(q) {
				wrong = append(wrong, a)
			}
			slices.Sort(wrong)
			if len(wrong) > 0 && rng.IntN(3) == 0 {
				given = wrong[rng.IntN(len(wrong))]
			}
			_ = w.Write([]string{fmt.Sprintf("Person %03d", p), q.ID, given})
		}
	}
	w.Flush()
	return b.Bytes(), func(id string) (*banks.Question, bool) { q, ok := byID[id]; return q, ok }
}

// shopQuestions are three questions with short IDs: one of four (key B), one
// with a typed place (key page 12), and several of four (keys A and C).
func shopQuestions(id string) (*banks.Question, bool) {
	options := func(right string) []banks.Option {
		var out []banks.Option
		for i, v := range []string{"first", "second", "third", "fourth"} {
			o := banks.Option{Text: v, Value: v, Right: strings.Contains(right, banks.Letter(i))}
			if !o.Right {
				o.Slip = resolver.SiblingGroup
			}
			out = append(out, o)
		}
		return out
	}
	switch id {
	case "q1":
		return &banks.Question{ID: "q1", Kind: "group", Skill: "groups", Form: banks.OneOf, Options: options("B")}, true
	case "q2":
		return &banks.Question{ID: "q2", Kind: "location", Skill: "locations", Form: banks.Typed, Key: banks.Key{Accept: []string{"page 12"}, Charset: "code"}}, true
	case "q3":
		return &banks.Question{ID: "q3", Kind: "due", Skill: "services", Form: banks.SomeOf, Options: options("AC")}, true
	}
	return nil, false
}

func gradeText(t testing.TB, text string) *Sheet {
	t.Helper()
	s, err := GradeCSV(strings.NewReader(text), shopQuestions, Rules{})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// rowText writes what became of a row in short.
func rowText(r *Row) string {
	out := fmt.Sprintf("%d %s %s ", r.Row, r.Person, r.Question)
	if r.Score == nil {
		return out + "refused: " + r.Refused
	}
	return out + string(r.Score.Verdict)
}

func wantRows(t *testing.T, s *Sheet, want ...string) {
	t.Helper()
	var got []string
	for i := range s.Rows {
		got = append(got, rowText(&s.Rows[i]))
		if s.Rows[i].Score == nil && s.Rows[i].Mend == "" {
			t.Errorf("%s: it does not say how to mend it", got[i])
		}
	}
	for i := range max(len(got), len(want)) {
		switch {
		case i >= len(want):
			t.Errorf("row too many: %s", got[i])
		case i >= len(got):
			t.Errorf("row missing: %s", want[i])
		case !strings.HasPrefix(got[i], want[i]):
			t.Errorf("%s\nwant %s", got[i], want[i])
		}
	}
}

// A sheet as it comes: a title above the columns, blank rows, lower case,
// spaces, an unknown question, two marks, a person spelt in two ways.
func TestMessySheet(t *testing.T) {
	s := gradeText(t, strings.Join([]string{
		"Spring quiz,,",
		"",
		" Question ,Person, Answer ,remarks",
		"q1,Ilse Marrow,b,",
		"Q1 , dov  pettigrew ,  A ,late",
		",,,",
		"",
		"q2,Ilse Marrow, p. 12,",
		"q2,Dov Pettigrew,page 13,",
		"q9,Dov Pettigrew,A,",
		"q3,Dov Pettigrew,a c,",
		"q3,ILSE MARROW,ac,",
		"q1,Sanna Quill,AB,",
		"q1,,B,",
		",Sanna Quill,B,",
		"q2,Sanna Quill,,",
		"q3,Sanna Quill",
		"q1,Nobody Yet,#N/A,",
		"q2,Nobody Yet,12-Jan,",
	}, "\r\n"))
	wantRows(t, s,
		"4 Ilse Marrow q1 right",
		"5 dov pettigrew q1 wrong",
		"8 Ilse Marrow q2 right",
		"9 dov pettigrew q2 wrong",
		"10 dov pettigrew q9 refused: there is no question q9 in the bank",
		"11 dov pettigrew q3 right",
		"12 Ilse Marrow q3 right",
		"13 Sanna Quill q1 refused: two or more marks (AB)",
		"14  q1 refused: the row names no person",
		"15 Sanna Quill  refused: the row names no question",
		"16 Sanna Quill q2 blank",
		"17 Sanna Quill q3 blank",
		"18 Nobody Yet q1 refused: the cell holds the error #N/A",
		"19 Nobody Yet q2 refused: “12-Jan” looks like a date",
	)
	if s.Read != 16 || s.Blank != 2 {
		t.Errorf("%d rows read, %d blank; want 16 and 2", s.Read, s.Blank)
	}
	if len(s.Notes) != 1 || !strings.Contains(s.Notes[0], "row 3") {
		t.Errorf("notes %q", s.Notes)
	}
	if len(s.People) != 4 || !slices.Equal(s.People[1].Spelt, []string{"Dov Pettigrew"}) {
		t.Errorf("people %+v", s.People)
	}
	if p := s.People[0]; p.Points != 3 || p.Of != 3 || p.Answered != 3 || p.Share() != 1 {
		t.Errorf("Ilse Marrow has %+v", p)
	}
	if p := s.People[2]; p.Points != 0 || p.Of != 2 || p.Blank != 2 || p.Refused != 2 {
		t.Errorf("Sanna Quill has %+v", p)
	}
}

// Two answers of one person to one question.
func TestDuplicateRows(t *testing.T) {
	s := gradeText(t, strings.Join([]string{
		"person,question,answer",
		"Ann,q1,B", "ann,q1,b", // the same
		"Ann,q2,", "Ann,q2,12", // blank, then answered
		"Ann,q3,AC", "Ann,q3,", // answered, then blank
		"Bo,q1,A", "Bo,q1,B", "Bo,q1,B", // not alike
		"Bo,q2,12", "Bo,q2,page 12",
		"Cy,q1,AB", "Cy,q1,B", // unreadable, then read
	}, "\n"))
	wantRows(t, s,
		"2 Ann q1 right", "3 Ann q1 refused: Ann gave the same answer in row 2",
		"4 Ann q2 refused: it is blank; Ann answered this question in row 5", "5 Ann q2 right",
		"6 Ann q3 right", "7 Ann q3 refused: it is blank; Ann answered this question in row 6",
		"8 Bo q1 refused: Bo answered this question in row 9, too, and not alike",
		"9 Bo q1 refused: Bo answered this question in row 8, too, and not alike",
		"10 Bo q1 refused: Bo answered this question in row 8, too, and not alike",
		"11 Bo q2 right", "12 Bo q2 refused: Bo",
		"13 Cy q1 refused: two or more marks", "14 Cy q1 right",
	)
}

// One person a row, a column a question.
func TestWideSheet(t *testing.T) {
	s := gradeText(t, strings.Join([]string{
		"site;Name;Q1;q2;q3;q1;q7;#remark",
		"Wexcombe;Ann;B;12;\"A, C\";B;x;late",
		"Wexcombe;Bo;a;;ac;;;",
		";;;;;;;",
		"Fold;Cy;;;;;;absent",
		"Fold;;B;;;;;",
	}, "\n"))
	wantRows(t, s,
		"2 Ann q1 right", "2 Ann q2 right", "2 Ann q3 right",
		"3 Bo q1 wrong", "3 Bo q2 blank", "3 Bo q3 right",
		"5 Cy  refused: the row has no answers",
		"6   refused: the row names no person",
	)
	var columns []string
	for _, c := range s.Columns {
		columns = append(columns, fmt.Sprintf("%d %s %d", c.Column, c.Name, c.Cells))
	}
	if want := []string{"1 site 4", "6 q1 1", "7 q7 1"}; !slices.Equal(columns, want) {
		t.Errorf("columns %v, want %v", columns, want)
	}
	if s.Read != 5 || s.Blank != 1 {
		t.Errorf("%d read, %d blank", s.Read, s.Blank)
	}
	// Columns of other questions alone are refused, and so are the rows.
	s = gradeText(t, "Person;no-such-question\nAnn; b\n")
	wantRows(t, s, "2 Ann  refused: the row has no answers")
	if len(s.Columns) != 1 || s.Columns[0].Cells != 1 || len(s.Notes) != 1 {
		t.Errorf("columns %+v, notes %q", s.Columns, s.Notes)
	}
}

// Files as different programs save them.
func TestEncodings(t *testing.T) {
	plain := "person,question,answer\nJürgen Löb,q1,B\nZoë,q2,12\n"
	utf16le := func(s string) []byte {
		out := []byte{0xff, 0xfe}
		for _, u := range utf16.Encode([]rune(s)) {
			out = binary.LittleEndian.AppendUint16(out, u)
		}
		return out
	}
	ansi := strings.NewReplacer("ü", "\xfc", "ö", "\xf6", "ë", "\xeb").Replace(plain)
	for name, data := range map[string][]byte{
		"UTF-8":              []byte(plain),
		"with a mark":        []byte("\ufeff" + plain),
		"CRLF":               []byte(strings.ReplaceAll(plain, "\n", "\r\n")),
		"CR":                 []byte(strings.ReplaceAll(plain, "\n", "\r")),
		"semicolons":         []byte(strings.ReplaceAll(plain, ",", ";")),
		"tabs":               []byte(strings.ReplaceAll(plain, ",", "\t")),
		"sep=":               []byte("sep=;\n" + strings.ReplaceAll(plain, ",", ";")),
		"UTF-16":             utf16le(strings.ReplaceAll(plain, ",", "\t")),
		"Windows-1252":       []byte(ansi),
		"quoted":             []byte("\"person\",\"question\",\"answer\"\n\"Jürgen Löb\",\"q1\",\"B\"\n\"Zoë\",\"q2\",\"12\"\n"),
		"no end of line":     []byte(strings.TrimSuffix(plain, "\n")),
		"invisible":          []byte("person,question,answer\n\u200bJürgen Löb ,\u00a0q1,B\u200b\nZoë,q2,12\n"),
		"guarded by a quote": []byte("person,question,answer\nJürgen Löb,q1,B\nZoë,q2,'12\n"),
	} {
		s, err := GradeCSV(bytes.NewReader(data), shopQuestions, Rules{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if len(s.Rows) != 2 || s.Rows[0].Person != "Jürgen Löb" || s.Rows[1].Person != "Zoë" ||
			s.Rows[0].Score == nil || s.Rows[0].Score.Verdict != Right || s.Rows[1].Score == nil || s.Rows[1].Score.Verdict != Right {
			t.Errorf("%s: %+v", name, s.Rows)
		}
		if (name == "Windows-1252") != (len(s.Notes) == 1 && strings.Contains(s.Notes[0], "Windows-1252")) && name != "sep=" {
			t.Errorf("%s: notes %q", name, s.Notes)
		}
	}
	for name, data := range map[string]string{
		"empty":                 "",
		"blank":                 "\n\n",
		"no person":             "a,b\n1,2\n",
		"no answers":            "person\nAnn\n",
		"a workbook, not a CSV": "PK\x03\x04\x00\x00\x08",
	} {
		if s, err := GradeCSV(strings.NewReader(data), shopQuestions, Rules{}); err == nil {
			t.Errorf("%s: %+v", name, s)
		} else if !strings.Contains(err.Error(), "row ") {
			t.Errorf("%s: the error names no row: %v", name, err)
		}
	}
}

// Rows are numbered as a spreadsheet numbers them, past blank lines and line
// breaks within cells; a quotation mark that is not closed is no excuse for
// losing rows.
func TestRowNumbers(t *testing.T) {
	s := gradeText(t, "person,question,answer\nAnn,q1,B\n\n\nBo,q3,\"A\nC\"\nCy,q1,B\n")
	wantRows(t, s, "2 Ann q1 right", "5 Bo q3 right", "6 Cy q1 right")
	if s.Read != 5 || s.Blank != 2 {
		t.Errorf("%d read, %d blank", s.Read, s.Blank)
	}
	s = gradeText(t, "person,question,answer\nAnn,q1,\"B\nBo,q1,B\nCy,q1,B\n")
	wantRows(t, s, "2   refused: a quotation mark is not closed: lines 2 to ")
}

// Whatever a sheet holds, every row of it is scored, refused or blank, every
// cell that was entered is found again, and points add up.
func TestEveryRowIsAccountedFor(t *testing.T) {
	cell := rapid.SampledFrom([]string{"", " ", "Ann", "Bo ", "ann", "q1", "Q2", "q3", "q9", "A", "b", "AC", "12", "page 12", "=1+1", "-", "A|B", "#N/A", "é", "x\ny", "\"", "'=B", "1,5"})
	rapid.Check(t, func(t *rapid.T) {
		wide := rapid.Bool().Draw(t, "wide")
		header := []string{"person", "question", "answer"}
		if wide {
			header = []string{"q1", "person", "q2", "other", "q3"}
		}
		rows := rapid.SliceOfN(rapid.SliceOfN(cell, 0, len(header)+1), 0, 12).Draw(t, "rows")
		var b bytes.Buffer
		w := csv.NewWriter(&b)
		_ = w.Write(header)
		for _, r := range rows {
			if len(r) == 0 {
				w.Flush()
				b.WriteString("\n")
				continue
			}
			_ = w.Write(r)
		}
		w.Flush()
		s, err := GradeCSV(bytes.NewReader(b.Bytes()), shopQuestions, Rules{})
		if err != nil {
			t.Fatal(err)
		}
		checkSheet(t, s)
		if s.Read != len(rows) {
			t.Fatalf("%d rows read of %d", s.Read, len(rows))
		}
	})
}

// checkSheet checks what holds for any graded file.
func checkSheet(t fataler, s *Sheet) {
	seen := map[int]bool{}
	var total float64
	for i := range s.Rows {
		r := &s.Rows[i]
		seen[r.Row] = true
		if (r.Score == nil) == (r.Refused == "") {
			t.Fatalf("row %d is neither scored nor refused, or both: %+v", r.Row, r)
		}
		if r.Score != nil {
			total += r.Score.Points
		}
	}
	if len(seen)+s.Blank != s.Read {
		t.Fatalf("%d rows read, but %d found again and %d blank", s.Read, len(seen), s.Blank)
	}
	var sum float64
	scored, refused := s.Count()
	of, no := 0, 0
	for _, p := range s.People {
		sum += p.Points
		of += p.Of
		no += p.Refused
		if p.Answered+p.Blank != p.Of {
			t.Fatalf("%+v does not add up", p)
		}
	}
	if d := sum - total; d > 1e-9 || d < -1e-9 || of != scored || no > refused {
		t.Fatalf("people have %v of %d, rows %v of %d; refused %d and %d", sum, of, total, scored, no, refused)
	}
	pairs := map[[2]string]bool{}
	for i := range s.Rows {
		if r := &s.Rows[i]; r.Score != nil {
			if pairs[[2]string{r.Person, r.Question}] {
				t.Fatalf("%s is scored twice for %s", r.Person, r.Question)
			}
			pairs[[2]string{r.Person, r.Question}] = true
		}
	}
}

// No cell that is written can be taken for a formula, and what was written is
// read back as it was.
func TestCellsAreNoFormulas(t *testing.T) {
	in := strings.Join([]string{
		"person,question,answer",
		"=HYPERLINK(\"http://example.invalid\"),q1,B",
		"@sum,q1,=1+1", "+44,q2,-12", "\"\tx\",q1,A", "＝A1,q1,B", "Ann,=q1,B",
	}, "\n")
	s := gradeText(t, in)
	for name, write := range map[string]func(*bytes.Buffer) error{
		"answers": func(b *bytes.Buffer) error { return s.WriteCSV(b) },
		"scores":  func(b *bytes.Buffer) error { return s.WriteScores(b) },
	} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(&b).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rows {
			for _, c := range r {
				if isFormula(c) {
					t.Errorf("%s: the cell %q could be a formula", name, c)
				}
			}
		}
	}
	var b bytes.Buffer
	if err := s.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	again, err := GradeCSV(&b, shopQuestions, Rules{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range s.Rows {
		a, b := &s.Rows[i], &again.Rows[i]
		if a.Person != b.Person || a.Question != b.Question || a.Answer != b.Answer || (a.Score == nil) != (b.Score == nil) {
			t.Errorf("written and read again %s %s %q is %s %s %q", a.Person, a.Question, a.Answer, b.Person, b.Question, b.Answer)
		}
	}
}

// The matrix of scores is what the psychometrics read.
func TestScoresAreReadByPsychometrics(t *testing.T) {
	s := gradeText(t, strings.Join([]string{
		"person,question,answer",
		"Ann,q1,B", "Ann,q2,12", "Ann,q3,A",
		"=Bo,q1,A", "=Bo,q3,AC", "=Bo,q2,AB AB|",
		"Cy,q2,",
		"Di,q1,AB", // refused: no row
	}, "\n"))
	var b bytes.Buffer
	if err := s.WriteScores(&b); err != nil {
		t.Fatal(err)
	}
	r, err := psychometrics.ReadScores(&b)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(r.Items, []string{"q1", "q2", "q3"}) || !slices.Equal(r.Persons, []string{"Ann", "'=Bo", "Cy"}) {
		t.Fatalf("people %q, questions %q", r.Persons, r.Items)
	}
	want := [][]string{{"1", "1", "0"}, {"0", "0", "1"}, {"-", "0", "-"}}
	for v, row := range want {
		for i, w := range row {
			got := "-"
			if x := r.At(v, i); x >= 0 {
				got = fmt.Sprint(x)
			}
			if got != w {
				t.Errorf("%s, %s: %s, want %s", r.Persons[v], r.Items[i], got, w)
			}
		}
	}
	if err := gradeText(t, "person,question,answer\nAnn,q1,AB\n").WriteScores(&b); err == nil {
		t.Error("a matrix without scores was written")
	}
}

// Real banks: a sheet of many people, in both forms, gives the same scores as
// grading the answers one by one, and statistics can be made of it.
func TestSheetOfABank(t *testing.T) {
	d := demos(t)[0]
	data, find := sampleFile(&d, 12, 40)
	s, err := GradeCSV(bytes.NewReader(data), find, Rules{})
	if err != nil {
		t.Fatal(err)
	}
	checkSheet(t, s)
	scored, refused := s.Count()
	if scored != 12*40 || refused != 0 {
		t.Fatalf("%d scored, %d refused", scored, refused)
	}
	rows, _ := csv.NewReader(bytes.NewReader(data)).ReadAll()
	wide := map[string][]string{}
	for i, r := range rows[1:] {
		q, _ := find(r[1])
		one, err := Grade(q, r[2], Rules{})
		if err != nil || fmt.Sprintf("%+v", one) != fmt.Sprintf("%+v", *s.Rows[i].Score) {
			t.Fatalf("%v: %+v (%v), in the sheet %+v", r, one, err, *s.Rows[i].Score)
		}
		wide[r[0]] = append(wide[r[0]], r[2])
	}
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	header := []string{"person"}
	for _, q := range d.bank[:40] {
		header = append(header, strings.ToUpper(q.ID))
	}
	_ = w.Write(header)
	for _, p := range s.People {
		_ = w.Write(append([]string{p.Person}, wide[p.Person]...))
	}
	w.Flush()
	other, err := GradeCSV(&b, find, Rules{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range s.People {
		if a, b := s.People[i], other.People[i]; a.Points != b.Points || a.Of != b.Of {
			t.Errorf("%s has %v of %d in one form, %v of %d in the other", a.Person, a.Points, a.Of, b.Points, b.Of)
		}
	}
	var m bytes.Buffer
	if err := s.WriteScores(&m); err != nil {
		t.Fatal(err)
	}
	if r, err := psychometrics.ReadScores(&m); err != nil || len(r.Persons) != 12 || len(r.Items) != 40 {
		t.Fatalf("%v", err)
	}
}

// The document and the table say the same.
func TestDocumentAndTable(t *testing.T) {
	s := gradeText(t, "person,question,answer\nAnn,q1,A\nAnn,q2,12\nBo,q1,AB\n\nBo\x07,q2,13\n")
	var b bytes.Buffer
	if err := s.WriteJSON(&b); err != nil {
		t.Fatal(err)
	}
	var doc Document
	if err := json.Unmarshal(b.Bytes(), &doc); err != nil {
		t.Fatal(err)
	}
	if doc.Scored != 3 || doc.Refused != 1 || doc.Blank != 1 || doc.Read != 5 || len(doc.Rows) != 4 || doc.Rows[0].Score.Slip != resolver.SiblingGroup {
		t.Errorf("the document is %+v", doc)
	}
	b.Reset()
	if err := s.WriteTable(&b, 0); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"5 rows read, 1 blank; 3 answers scored, 1 refused", "Ann", "near or sibling group (1)", "“first” instead of “second”", "refused: row 4, Bo, q1", resolver.SiblingGroup.NextTime()} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the table lacks %q:\n%s", want, b.String())
		}
	}
	if strings.Contains(b.String(), "\x07") {
		t.Error("the table rings the bell")
	}
}
