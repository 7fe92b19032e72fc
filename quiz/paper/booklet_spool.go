package paper

import (
	"bufio"
	"bytes"
	"compress/zlib"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf16"
)

// spool writes one PDF out of many, each written by the PDF library and
// forgotten, so that a run of any length takes the memory of one part. The
// library holds a whole document until its end and cannot do this itself.
//
// A part's objects are renumbered and copied; its page tree becomes a branch
// of the one page tree; its catalog and information are dropped. Only PDFs as
// the library writes them are understood: one cross-reference table, object 1
// the page tree, no object streams.
type spool struct {
	w        *bufio.Writer
	written  int64
	offsets  []int64 // by object number - 1; 0 is not yet written
	kids     []int   // page tree of each part
	kidPages []int   // pages of each part
	marks    []spoolMark
	err      error

	deflate  *zlib.Writer
	deflated bytes.Buffer
}

// spoolMark is an entry of the outline: a booklet.
type spoolMark struct {
	title string
	page  int // object number
}

// The first objects of a run: written last, numbers known from the start.
const (
	spoolTree = 1 + iota
	spoolCatalog
	spoolInfo
	spoolOutlines
	spoolFirstFree
)

func newSpool(w io.Writer) *spool {
	s := &spool{w: bufio.NewWriterSize(w, 1<<16), offsets: make([]int64, spoolFirstFree-1)}
	s.deflate, s.err = zlib.NewWriterLevel(nil, zlib.BestSpeed)
	// The comment of high bytes tells transfer programs that this is binary.
	s.printf("%%PDF-1.4\n%%\xe2\xe3\xcf\xd3\n")
	return s
}

func (s *spool) printf(format string, args ...any) {
	if s.err != nil {
		return
	}
	n, err := fmt.Fprintf(s.w, format, args...)
	s.written += int64(n)
	s.err = err
}

func (s *spool) write(b []byte) {
	if s.err != nil {
		return
	}
	n, err := s.w.Write(b)
	s.written += int64(n)
	s.err = err
}

// begin starts object number.
func (s *spool) begin(number int) {
	for len(s.offsets) < number {
		s.offsets = append(s.offsets, 0)
	}
	s.offsets[number-1] = s.written
	s.printf("%d 0 obj\n", number)
}

var (
	reference   = regexp.MustCompile(`\b\d+ 0 R\b`)
	trailerKey  = regexp.MustCompile(`/(Root|Info) (\d+) 0 R`)
	startOfXref = []byte("startxref\n")
	streamLine  = []byte("\nstream\n")
	plainLength = regexp.MustCompile(`^<</Length (\d+)>>\n$`)
	pageLine    = []byte("/Type /Page\n")
	treeWord    = []byte("/Type /Pages")
)

// add copies a part. marks are its outline entries by page, from 0.
func (s *spool) add(part []byte, marks map[int]string) error {
	offsets, table, err := partObjects(part)
	if err != nil {
		return fmt.Errorf("joining booklets: %w", err)
	}
	base := len(s.offsets)
	// The library writes objects 1 and 2 after the pages; an object ends
	// where the next in the file begins.
	ends := append(slices.Sorted(slices.Values(offsets)), table)
	page := 0
	for i, from := range offsets[:len(offsets)-2] { // the last are information and catalog
		number := i + 1
		next, _ := slices.BinarySearch(ends, from+1)
		object, ok := bytes.CutPrefix(part[from:ends[next]], fmt.Appendf(nil, "%d 0 obj\n", number))
		if !ok {
			return fmt.Errorf("joining booklets: object %d is not at byte %d", number, from)
		}
		body, stream := object, []byte(nil)
		if at := bytes.Index(object, streamLine); at >= 0 {
			body, stream = object[:at+1], object[at+1:]
		}
		if bytes.Contains(body, pageLine) {
			if title, ok := marks[page]; ok {
				s.marks = append(s.marks, spoolMark{title, base + number})
			}
			page++
		}
		body = reference.ReplaceAllFunc(body, func(m []byte) []byte {
			n, _ := strconv.Atoi(string(m[:len(m)-4]))
			return fmt.Appendf(nil, "%d 0 R", n+base)
		})
		if number == 1 {
			body = bytes.Replace(body, treeWord, fmt.Appendf(nil, "/Type /Pages /Parent %d 0 R", spoolTree), 1)
		}
		s.begin(base + number)
		if data, ok := plainStream(body, stream); ok {
			s.packed(data)
			continue
		}
		s.write(body)
		s.write(stream)
	}
	s.kids = append(s.kids, base+1)
	s.kidPages = append(s.kidPages, page)
	return s.err
}

// plainStream is the data of a stream that is not compressed.
func plainStream(body, stream []byte) ([]byte, bool) {
	m := plainLength.FindSubmatch(body)
	data, ok := bytes.CutPrefix(stream, streamLine[1:])
	if m == nil || !ok {
		return nil, false
	}
	n, err := strconv.Atoi(string(m[1]))
	if err != nil || n > len(data) {
		return nil, false
	}
	return data[:n], true
}

// packed writes a stream compressed, and ends its object. One compressor
// serves the run: making one for each page, as the library does, costs as
// much as the compressing.
func (s *spool) packed(data []byte) {
	s.deflated.Reset()
	s.deflate.Reset(&s.deflated)
	_, err := s.deflate.Write(data)
	if err = errors.Join(err, s.deflate.Close()); err != nil && s.err == nil {
		s.err = err
	}
	s.printf("<</Filter /FlateDecode /Length %d>>\nstream\n", s.deflated.Len())
	s.write(s.deflated.Bytes())
	s.printf("\nendstream\nendobj\n")
}

// partObjects reads the cross-reference table of a part: where each object
// is, by number from 1, and where the table is.
func partObjects(part []byte) (offsets []int, table int, err error) {
	at := bytes.LastIndex(part, startOfXref)
	if at < 0 {
		return nil, 0, errors.New("no cross-reference table")
	}
	line, _, _ := bytes.Cut(part[at+len(startOfXref):], []byte("\n"))
	if table, err = strconv.Atoi(string(line)); err != nil || table <= 0 || table >= at {
		return nil, 0, fmt.Errorf("bad cross-reference offset %q", line)
	}
	rest, ok := bytes.CutPrefix(part[table:at], []byte("xref\n0 "))
	if !ok {
		return nil, 0, errors.New("bad cross-reference table")
	}
	line, rest, _ = bytes.Cut(rest, []byte("\n"))
	count, err := strconv.Atoi(string(line))
	const entry = 20 // bytes, by the PDF specification
	if err != nil || count < 4 || len(rest) < entry*count {
		return nil, 0, fmt.Errorf("bad cross-reference count %q", line)
	}
	for i := 1; i < count; i++ {
		offset, err := strconv.Atoi(string(rest[i*entry : i*entry+10]))
		if err != nil || offset >= table {
			return nil, 0, fmt.Errorf("bad cross-reference entry %d", i)
		}
		offsets = append(offsets, offset)
	}
	keys := trailerKey.FindAllSubmatch(rest[entry*count:], -1)
	for _, key := range keys {
		if n, _ := strconv.Atoi(string(key[2])); n < count-2 {
			return nil, 0, fmt.Errorf("%s is object %d, not one of the last two", key[1], n)
		}
	}
	if len(keys) != 2 {
		return nil, 0, errors.New("bad trailer")
	}
	return offsets, table, nil
}

// close writes what joins the parts.
func (s *spool) close(title, author string, created time.Time) error {
	if len(s.kids) == 0 && s.err == nil {
		return errors.New("no booklet to print")
	}
	pages := 0
	s.begin(spoolTree)
	s.printf("<</Type /Pages /Kids [")
	for i, kid := range s.kids {
		s.printf("%d 0 R ", kid)
		pages += s.kidPages[i]
	}
	s.printf("] /Count %d>>\nendobj\n", pages)

	first := len(s.offsets) + 1
	s.begin(spoolOutlines)
	if len(s.marks) > 0 {
		s.printf("<</Type /Outlines /First %d 0 R /Last %d 0 R /Count %d>>\nendobj\n", first, first+len(s.marks)-1, len(s.marks))
	} else {
		s.printf("<</Type /Outlines /Count 0>>\nendobj\n")
	}
	for i, m := range s.marks {
		s.begin(first + i)
		s.printf("<</Title %s /Parent %d 0 R /Dest [%d 0 R /Fit]", pdfText(m.title), spoolOutlines, m.page)
		if i > 0 {
			s.printf(" /Prev %d 0 R", first+i-1)
		}
		if i < len(s.marks)-1 {
			s.printf(" /Next %d 0 R", first+i+1)
		}
		s.printf(">>\nendobj\n")
	}
	s.begin(spoolCatalog)
	s.printf("<</Type /Catalog /Pages %d 0 R /Outlines %d 0 R>>\nendobj\n", spoolTree, spoolOutlines)
	s.begin(spoolInfo)
	date := pdfText("D:" + created.UTC().Format("20060102150405Z"))
	s.printf("<</Producer %s /Title %s /Author %s /CreationDate %s /ModDate %s>>\nendobj\n",
		pdfText("rightpage"), pdfText(title), pdfText(author), date, date)

	table := s.written
	s.printf("xref\n0 %d\n0000000000 65535 f \n", len(s.offsets)+1)
	for _, offset := range s.offsets {
		s.printf("%010d 00000 n \n", offset)
	}
	s.printf("trailer\n<</Size %d /Root %d 0 R /Info %d 0 R>>\nstartxref\n%d\n%%%%EOF\n", len(s.offsets)+1, spoolCatalog, spoolInfo, table)
	if s.err == nil {
		s.err = s.w.Flush()
	}
	return s.err
}

// pdfText is a text string: plain where it is ASCII, else UTF-16.
func pdfText(text string) string {
	var b strings.Builder
	for _, r := range text {
		if r < ' ' || r > '~' || r == '(' || r == ')' || r == '\\' {
			b.WriteString("<FEFF")
			for _, u := range utf16.Encode([]rune(text)) {
				fmt.Fprintf(&b, "%04X", u)
			}
			b.WriteString(">")
			return b.String()
		}
	}
	return "(" + text + ")"
}
