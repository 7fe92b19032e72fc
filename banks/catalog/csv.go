package catalog

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
)

// csvRowBytes bounds one row: a quotation mark that is never closed would
// otherwise take the rest of the file into one cell.
const csvRowBytes = 1 << 20

// csvFile reads one CSV file (RFC 4180, UTF-8 with or without byte order mark;
// a file whose header is separated by semicolons or tabs is read so throughout).
func (r *reader) csvFile(path, name string, c codec) error {
	f, size, err := r.open(path, name, r.left)
	if err != nil || f == nil {
		return err
	}
	defer f.Close()
	rest := r.left
	r.csv(name, c, f)
	r.left = rest - size
	return nil
}

// csv reads a table from text of at most r.left bytes.
func (r *reader) csv(name string, c codec, in io.Reader) {
	br := bufio.NewReaderSize(in, 1<<16)
	head, _ := br.Peek(4096)
	if f := foreign(head); f != nil {
		r.add(Finding{Severity: Error, Code: f.code, Origin: Origin{File: name}, What: f.what, Mend: f.mend})
		return
	}
	if bytes.HasPrefix(head, []byte("\ufeff")) {
		_, _ = br.Discard(3)
		head = head[3:]
	}
	r.table(name, c, newCSVRows(br, delimiter(head), r.left))
}

// foreign recognises content that is no UTF-8 text by its first bytes.
func foreign(head []byte) *cellFault {
	utf16 := &cellFault{"encoding", "the text is UTF-16, not UTF-8", "save the file as CSV UTF-8"}
	switch {
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}), bytes.HasPrefix(head, []byte{0xfe, 0xff}):
		return utf16
	case bytes.HasPrefix(head, []byte("PK\x03\x04")):
		return &cellFault{"binary", "this is a workbook or zip file under the name of a CSV file", "give it the ending .xlsx, or save it as CSV UTF-8"}
	case bytes.HasPrefix(head, []byte{0xd0, 0xcf, 0x11, 0xe0}):
		return &cellFault{"binary", "this is an old binary workbook under the name of a CSV file", "save it as CSV UTF-8"}
	}
	if n := bytes.Count(head, []byte{0}); n > 0 {
		even := 0
		for i := 0; i < len(head); i += 2 {
			if head[i] == 0 {
				even++
			}
		}
		// Latin text in UTF-16 has a NUL in every other place.
		if n > len(head)/4 && (even == 0 || even == n) {
			return utf16
		}
		return &cellFault{"binary", "the file holds NUL bytes: it is no text", "save the table as CSV UTF-8"}
	}
	return nil
}

// delimiter finds what separates the names of the header, none of which holds
// a comma, semicolon or tab.
func delimiter(head []byte) rune {
	line, _, _ := bytes.Cut(head, []byte("\n"))
	for _, d := range []byte(",;\t") {
		if bytes.IndexByte(line, d) >= 0 {
			return rune(d)
		}
	}
	return ','
}

// csvRows is the rowSource of a CSV file.
type csvRows struct {
	r     *csv.Reader
	guard *byteGuard
	row   int // of the last record
	line  int // that follows the last record
	cells []rawCell
}

func newCSVRows(in io.Reader, delimiter rune, max int64) *csvRows {
	g := &byteGuard{in: in, left: max, run: csvRowBytes}
	r := csv.NewReader(g)
	r.Comma = delimiter
	r.FieldsPerRecord = -1
	r.ReuseRecord = true
	return &csvRows{r: r, guard: g, line: 1}
}

// next gives the next record. The reader of the standard library passes over
// empty lines, which a spreadsheet counts as rows; so the row follows from the
// lines.
func (c *csvRows) next() (int, []rawCell, error) {
	c.guard.run = csvRowBytes
	record, err := c.r.Read()
	var parse *csv.ParseError
	switch {
	case errors.Is(err, errRunBytes):
		return 0, nil, badTable{c.row + 1, cellFault{"too-large", fmt.Sprintf("the row is longer than %d bytes", csvRowBytes), "close the quotation mark that was opened in it, or shorten it"}}
	case errors.Is(err, errFileBytes):
		return 0, nil, badTable{c.row + 1, cellFault{"too-large", "the file is longer than is allowed", "take out what does not belong, or split the catalog"}}
	case errors.As(err, &parse):
		c.row += 1 + max(parse.StartLine-c.line, 0)
		c.line = parse.Line + 1
		f := cellFault{"syntax", "the row is not well-formed: " + parse.Err.Error(), "put a text that holds quotation marks between quotation marks and write each of its own twice"}
		if !errors.Is(parse.Err, csv.ErrQuote) && !errors.Is(parse.Err, csv.ErrBareQuote) {
			f = cellFault{"unreadable", parse.Err.Error(), "save the file again"}
			return 0, nil, badTable{c.row, f}
		}
		return 0, nil, badRow{c.row, f}
	case err != nil:
		return 0, nil, err
	}
	start, _ := c.r.FieldPos(0)
	last, _ := c.r.FieldPos(len(record) - 1)
	c.row += 1 + max(start-c.line, 0)
	c.line = last + strings.Count(record[len(record)-1], "\n") + 1
	c.cells = c.cells[:0]
	for _, s := range record {
		c.cells = append(c.cells, rawCell{text: s})
	}
	return c.row, c.cells, nil
}

// writeCSV writes a table with \n line ends, as RFC 4180 readers accept.
func writeCSV(w io.Writer, c codec, t *Tables, style LimitStyle) error {
	cw := csv.NewWriter(w)
	h := c.header()
	row := make([]string, len(h))
	for i := range h {
		row[i] = h[i].name
	}
	if err := cw.Write(row); err != nil {
		return err
	}
	for i := range c.count(t) {
		cells, err := c.cells(t, i, style)
		if err != nil {
			return err
		}
		if err := cw.Write(cells); err != nil {
			return err
		}
	}
	cw.Flush()
	return cw.Error()
}
