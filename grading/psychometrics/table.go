package psychometrics

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// table is a CSV file with a header, its cells trimmed, blank rows left out.
type table struct {
	header []string
	rows   [][]string // as long as the header
	lines  []int      // in the file, from 1

	problems problemList
}

// readTable reads UTF-8 with or without a byte order mark, separated by comma,
// semicolon or tab, whichever is most frequent in the header row. Rows shorter
// than the header are filled with empty cells; cells beyond it must be empty.
// What is wrong with cells is gathered in problems; what cannot be read at all
// is an error. Both are [*DataError] with the line of the file.
func readTable(in io.Reader) (table, error) {
	buffered := bufio.NewReaderSize(in, 1<<16)
	if mark, err := buffered.Peek(3); err == nil && string(mark) == "\uFEFF" {
		_, _ = buffered.Discard(3)
	}
	first, err := buffered.Peek(1 << 16)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, bufio.ErrBufferFull) {
		return table{}, err
	}
	reader := csv.NewReader(buffered)
	reader.Comma = separator(string(first))
	reader.FieldsPerRecord = -1
	// A field that begins with spaces may still be quoted; but where tabs
	// separate, the reader would take empty fields for space.
	reader.TrimLeadingSpace = reader.Comma != '\t'
	reader.ReuseRecord = true
	var t table
	for {
		record, err := reader.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			var parse *csv.ParseError
			if errors.As(err, &parse) {
				return table{}, &DataError{Row: parse.StartLine, Err: ErrShape,
					Problem: "a quotation mark is out of place in the row that begins here (" + parse.Err.Error() + ")",
					Mend:    "take it out, or put the whole cell in quotation marks, without spaces outside them, and write those inside it twice"}
			}
			return table{}, err
		}
		line, _ := reader.FieldPos(0)
		blank := true
		cells := make([]string, len(record))
		for c, cell := range record {
			if !utf8.ValidString(cell) {
				t.problems.add(&DataError{Row: line, Column: c + 1, Err: ErrShape,
					Problem: "is not UTF-8 text", Mend: "save the sheet again as CSV (UTF-8)"})
			}
			cells[c] = strings.TrimSpace(cell)
			blank = blank && cells[c] == ""
		}
		if blank {
			continue
		}
		if t.header == nil {
			// Empty columns at the end come from spreadsheets.
			for len(cells) > 0 && cells[len(cells)-1] == "" {
				cells = cells[:len(cells)-1]
			}
			t.header = cells
			continue
		}
		for c := len(t.header); c < len(cells); c++ {
			if cells[c] != "" {
				t.problems.add(&DataError{Row: line, Column: c + 1, Err: ErrShape,
					Problem: fmt.Sprintf("has a value (%q) where the header row has no column", clip(cells[c])),
					Mend:    "give the column a name in the first row, or take the value out"})
			}
		}
		for len(cells) < len(t.header) {
			cells = append(cells, "")
		}
		t.rows = append(t.rows, cells[:len(t.header)])
		t.lines = append(t.lines, line)
	}
	if t.header == nil {
		return table{}, &DataError{Err: ErrEmpty, Problem: "the file is empty", Mend: "give a header row and one row per line below it"}
	}
	return t, nil
}

// separator is the likeliest one in the first line outside quotation marks.
func separator(text string) rune {
	counts := map[rune]int{}
	quoted, seen := false, false
	for _, c := range text {
		if c == '"' {
			quoted = !quoted
		}
		if c == '\n' && !quoted && seen {
			break
		}
		seen = seen || c != '\n' && c != '\r'
		if !quoted {
			counts[c]++
		}
	}
	best := ','
	for _, c := range []rune{';', '\t'} {
		if counts[c] > counts[best] {
			best = c
		}
	}
	return best
}
