package grading

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// rowReader reads the rows of a CSV file as a spreadsheet numbers them: empty
// lines count, and line breaks within a cell do not.
type rowReader struct {
	csv   *csv.Reader
	row   int // of the row read last, from 1
	line  int // of the file, at which that row ended
	blank int // empty lines so far
	ansi  bool
	lines *lineCounter
}

// newRowReader finds out how a file was saved: UTF-8 with or without a byte
// order mark, UTF-16 with one, lines ended by LF, CRLF or CR, and cells parted
// by commas, semicolons or tabs. What is no UTF-8 is read as Windows-1252, cell
// by cell.
func newRowReader(r io.Reader) (*rowReader, error) {
	br := bufio.NewReaderSize(r, 64<<10)
	mark, err := br.Peek(2)
	if err != nil && err != io.EOF {
		return nil, err
	}
	if bytes.Equal(mark, []byte{0xff, 0xfe}) || bytes.Equal(mark, []byte{0xfe, 0xff}) {
		d := unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewDecoder()
		br = bufio.NewReaderSize(transform.NewReader(br, d), 64<<10)
	}
	head, err := br.Peek(16 << 10)
	if err != nil && err != io.EOF && err != bufio.ErrBufferFull {
		return nil, err
	}
	if bytes.HasPrefix(head, []byte("\ufeff")) {
		_, _ = br.Discard(3)
		head = head[3:]
	}
	if bytes.IndexByte(head, 0) >= 0 {
		return nil, errors.New("row 1: the file is no text; save the sheet as “CSV UTF-8”")
	}
	in := io.Reader(br)
	if bytes.IndexByte(head, '\n') < 0 && bytes.IndexByte(head, '\r') >= 0 {
		head = bytes.ReplaceAll(head, []byte("\r"), []byte("\n"))
		in = crReader{br}
	}
	x := &rowReader{}
	comma := separator(string(head))
	if first, _, _ := bytes.Cut(head, []byte("\n")); len(first) > 4 && strings.EqualFold(string(first[:4]), "sep=") {
		comma = rune(first[4])
		line := bufio.NewReaderSize(in, 64<<10)
		_, _ = line.ReadString('\n')
		in, x.row, x.line = line, 1, 0
	}
	x.lines = &lineCounter{r: in}
	x.csv = csv.NewReader(x.lines)
	x.csv.FieldsPerRecord = -1
	x.csv.LazyQuotes = true
	if comma == ';' || comma == '\t' {
		x.csv.Comma = comma
	}
	return x, nil
}

// crReader ends lines that a CR alone ends, as old spreadsheets for the
// Macintosh write them.
type crReader struct{ r io.Reader }

func (c crReader) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	for i, b := range p[:n] {
		if b == '\r' {
			p[i] = '\n'
		}
	}
	return n, err
}

// lineCounter counts the lines that are read.
type lineCounter struct {
	r    io.Reader
	n    int
	last byte
}

func (c *lineCounter) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	c.n += bytes.Count(p[:n], []byte("\n"))
	if n > 0 {
		c.last = p[n-1]
	}
	return n, err
}

// all is the number of lines once everything is read.
func (c *lineCounter) all() int {
	if c.last != 0 && c.last != '\n' {
		return c.n + 1
	}
	return c.n
}

// separator is the likeliest one in the line that names the columns, or else in
// the first.
func separator(head string) rune {
	line, _, _ := strings.Cut(head, "\n")
	for l := range strings.SplitSeq(head, "\n") {
		low := strings.ToLower(l)
		if strings.Contains(low, "person") || strings.Contains(low, "name") || strings.Contains(low, "technician") {
			line = l
			break
		}
	}
	counts := map[rune]int{}
	quoted := false
	for _, c := range line {
		if c == '"' {
			quoted = !quoted
		}
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

// next gives the cells of the next row, trimmed. At the end the error is io.EOF;
// a [*csv.ParseError] is of one row.
func (x *rowReader) next() ([]string, error) {
	cells, err := x.csv.Read()
	if err == io.EOF {
		empty := max(0, x.lines.all()-x.line)
		x.row, x.line, x.blank = x.row+empty, x.line+empty, x.blank+empty
		return nil, err
	}
	if err != nil {
		x.row++
		var pe *csv.ParseError
		if errors.As(err, &pe) {
			x.line = pe.Line
		}
		return nil, err
	}
	first, _ := x.csv.FieldPos(0)
	empty := first - x.line - 1
	x.row += 1 + empty
	x.blank += empty
	x.line = first
	for i, c := range cells {
		x.line += strings.Count(c, "\n")
		cells[i] = x.clean(c)
	}
	return cells, nil
}

// clean trims a cell, takes it for Windows-1252 where it is no UTF-8, and drops
// the apostrophe that keeps a spreadsheet from taking it for a formula.
func (x *rowReader) clean(c string) string {
	if !utf8.ValidString(c) {
		if s, err := charmap.Windows1252.NewDecoder().String(c); err == nil {
			c, x.ansi = s, true
		}
	}
	c = strings.TrimSpace(strings.Trim(c, "\ufeff\u200b\u200e"))
	if len(c) > 1 && c[0] == '\'' && isFormula(c[1:]) {
		c = c[1:]
	}
	return c
}
