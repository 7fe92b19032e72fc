package psychometrics

import (
	"fmt"
	"io"
	"strings"
)

// ReadScores reads a table of answers: a header row, then one row per person.
// The first column names the person (it may be empty); every other column is a
// question with 1 (right), 0 (wrong) or nothing (not seen). Columns whose name
// begins with # are comments and are skipped. Spaces around values, blank
// lines, empty columns at the end, a byte order mark, and semicolons or tabs in
// place of commas are accepted; so are 1.0 and 0.0, which some spreadsheets
// write. Labels of people and questions are kept in Persons and Items.
//
// All problems are reported at once (after the fiftieth they are counted),
// joined, each a [*DataError] with row, column, the name of the column and how
// to mend it; they wrap [ErrRange] (a value that is none of these), [ErrShape]
// (a column without a name or with the name of another, values beyond the
// header, quotation marks that do not pair up, text that is not UTF-8) or
// [ErrEmpty] (no rows or no questions). The caller bounds the size of in.
func ReadScores(in io.Reader) (Responses, error) {
	t, err := readTable(in)
	if err != nil {
		return Responses{}, err
	}
	problems := t.problems
	var columns []int
	var names []string
	first := map[string]int{}
	for c, name := range t.header {
		switch {
		case c == 0 || strings.HasPrefix(name, "#"):
			continue
		case name == "":
			problems.add(&DataError{Row: 1, Column: c + 1, Err: ErrShape,
				Problem: "the column has no name", Mend: "name the question in the first row, or take the column out"})
			continue
		}
		if other, taken := first[name]; taken {
			problems.add(&DataError{Row: 1, Column: c + 1, Name: name, Err: ErrShape,
				Problem: fmt.Sprintf("column %d has the same name", other+1), Mend: "give each question a name of its own"})
		}
		first[name] = c
		columns = append(columns, c)
		names = append(names, name)
	}
	if len(columns) == 0 {
		problems.add(&DataError{Row: 1, Err: ErrEmpty, Problem: "there is no column of answers",
			Mend: "put the person in the first column and one question in each column after it, separated by commas"})
	}
	if len(t.rows) == 0 {
		problems.add(&DataError{Err: ErrEmpty, Problem: "there is no row of answers", Mend: "give each person a row below the header"})
	}
	r := New(len(t.rows), len(columns))
	r.Items = names
	r.Persons = make([]string, len(t.rows))
	for v, row := range t.rows {
		r.Persons[v] = row[0]
		for i, c := range columns {
			switch cell := row[c]; cell {
			case "":
			case "1", "1.0", "1,0":
				r.Set(v, i, 1)
			case "0", "0.0", "0,0":
				r.Set(v, i, 0)
			default:
				problems.add(&DataError{Row: t.lines[v], Column: c + 1, Name: t.header[c], Err: ErrRange,
					Problem: fmt.Sprintf("%q is not an answer", clip(cell)), Mend: "write 1 for right, 0 for wrong, or nothing if the person did not see the question"})
			}
		}
	}
	if err := problems.err(); err != nil {
		return Responses{}, err
	}
	return r, nil
}
