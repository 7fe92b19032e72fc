package paper

import (
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/jung-kurt/gofpdf"
)

// widths is the advance of each character of a face, in thousandths of the
// font size. It is learned from the PDF library as characters come up, and
// outlives the document, so that a run measures each character once.
type widths struct {
	known map[rune]uint16
	low   [0x250]uint16 // Latin, 0 unknown
}

// setter measures and places text and lines on a document. Not for concurrent
// use.
//
// It writes most drawing operators itself: the library's own calls format and
// convert anew each time what a booklet draws a hundred times a page.
type setter struct {
	pdf    *gofpdf.Fpdf
	widths [faceCount]*widths
	height float64 // of the paper, points
	buf    []byte

	// What the document is set to. The library carries it over to new pages.
	face      face
	size      float64
	selected  bool
	textGrey  int
	fillGrey  int
	drawGrey  int
	lineWidth float64

	// The characters that the library knows to be in use, by face: it embeds
	// those alone.
	inUse [faceCount]map[rune]bool
	low   [faceCount][0x250]bool
}

// use starts a new document with what was learned from the last.
func (s *setter) use(pdf *gofpdf.Fpdf) {
	s.pdf = pdf
	_, height := pdf.GetPageSize()
	s.height = height / mmPerPoint
	s.selected = false
	s.textGrey, s.fillGrey, s.drawGrey, s.lineWidth = -1, -1, -1, -1
	for f := range s.inUse {
		s.inUse[f] = nil
		s.low[f] = [0x250]bool{}
	}
}

// newPage adds a page. The library selects the font anew on each.
func (s *setter) newPage() { s.pdf.AddPage() }

func (s *setter) font(f face, size float64) {
	if !s.selected || s.face != f || s.size != size {
		setFont(s.pdf, f, size)
		s.face, s.size, s.selected = f, size, true
	}
}

// clean makes text fit to print in f; plain ASCII needs no look at the font.
func clean(f face, text string) string {
	for i := 0; i < len(text); i++ {
		if c := text[i]; c >= 0x7f || c < ' ' {
			return f.printable(text)
		}
	}
	return text
}

// advance is the width of r in thousandths of the size.
func (s *setter) advance(f face, r rune) int {
	w := s.widths[f]
	if w == nil {
		w = &widths{known: map[rune]uint16{}}
		s.widths[f] = w
	}
	if r < rune(len(w.low)) {
		if v := w.low[r]; v != 0 {
			return int(v)
		}
	} else if v, ok := w.known[r]; ok {
		return int(v)
	}
	s.font(f, 10)
	v := uint16(min(max(s.pdf.GetStringSymbolWidth(string(r)), 0), math.MaxUint16))
	if r < rune(len(w.low)) {
		w.low[r] = v
	} else {
		w.known[r] = v
	}
	return int(v)
}

// width is the width of text in mm.
func (s *setter) width(f face, size float64, text string) float64 {
	sum := 0
	for _, r := range text {
		sum += s.advance(f, r)
	}
	return float64(sum) * size * mmPerPoint / 1000
}

const mmPerPoint = 25.4 / 72

// wrap breaks text into lines no wider than w mm: at spaces, after a hyphen or
// slash between small letters (codes and dates stay whole), and elsewhere only
// in a word wider than a line. Line feeds are kept.
func (s *setter) wrap(f face, size, w float64, text string) []string {
	text = clean(f, text)
	limit := int(w * 1000 / (size * mmPerPoint))
	var lines []string
	for {
		para, rest, more := strings.Cut(text, "\n")
		lines = s.wrapLine(lines, f, limit, strings.TrimRight(para, " "))
		if !more {
			return lines
		}
		text = rest
	}
}

func (s *setter) wrapLine(lines []string, f face, limit int, para string) []string {
	start, sum := 0, 0  // of the line being filled
	end, endSum := 0, 0 // where it may end, and the width up to where the next begins
	next := 0           // where the next line would begin
	var before, last rune
	for i, r := range para {
		w := s.advance(f, r)
		if (last == '-' || last == '/') && unicode.IsLower(before) && unicode.IsLower(r) && sum <= limit {
			end, next, endSum = i, i, sum
		}
		switch {
		case r == ' ':
			end, next, endSum = i, i+1, sum+w
		case sum+w > limit && i > start:
			if end <= start { // one long word
				end, next, endSum = i, i, sum
			}
			lines = append(lines, para[start:end])
			sum -= endSum
			start, end = next, next
		}
		sum += w
		before, last = last, r
	}
	return append(lines, strings.TrimLeft(para[min(start, len(para)):], " "))
}

// fit is text cut short with an ellipsis to be no wider than w mm.
func (s *setter) fit(f face, size, w float64, text string) string {
	text = strings.ReplaceAll(clean(f, text), "\n", " ")
	if s.width(f, size, text) <= w {
		return text
	}
	w -= s.width(f, size, "…")
	for text != "" && s.width(f, size, text) > w {
		_, n := utf8.DecodeLastRuneInString(text)
		text = text[:len(text)-n]
	}
	return strings.TrimRight(text, " ") + "…"
}

// grey levels: 0 black … 255 white. Everything is grey: the sheets must look
// the same from a black-and-white printer.
const (
	black     = 0
	softBlack = 70
	midGrey   = 120
	paleGrey  = 232
)

// text places text with its base line at y. It must be clean.
func (s *setter) text(f face, size float64, x, y float64, grey int, text string) {
	if text == "" {
		return
	}
	s.font(f, size)
	if s.anyNew(f, text) {
		// The library notes the characters as it prints them.
		if s.textGrey != grey {
			s.pdf.SetTextColor(grey, grey, grey)
			s.textGrey = grey
		}
		s.pdf.Text(x, y, text)
		return
	}
	b := s.buf[:0]
	own := grey != s.fillGrey // text is filled
	if own {
		b = append(b, "q "...)
		b = strconv.AppendFloat(b, float64(grey)/255, 'f', 3, 64)
		b = append(b, " g "...)
	}
	b = append(b, "BT "...)
	b = s.point(b, x, y)
	b = append(b, " Td ("...)
	for _, r := range text {
		b = escaped(escaped(b, byte(r>>8)), byte(r))
	}
	b = append(b, ") Tj ET"...)
	if own {
		b = append(b, " Q"...)
	}
	s.write(b)
}

// anyNew tells whether text has characters not printed yet in this face, and
// takes them as printed.
func (s *setter) anyNew(f face, text string) bool {
	found := false
	for _, r := range text {
		if r < rune(len(s.low[f])) {
			if !s.low[f][r] {
				s.low[f][r], found = true, true
			}
		} else if !s.inUse[f][r] {
			if s.inUse[f] == nil {
				s.inUse[f] = map[rune]bool{}
			}
			s.inUse[f][r], found = true, true
		}
	}
	return found
}

// escaped appends a byte of a PDF string.
func escaped(b []byte, c byte) []byte {
	switch c {
	case '\\', '(', ')':
		return append(b, '\\', c)
	case '\r':
		return append(b, '\\', 'r')
	}
	return append(b, c)
}

// write hands operators to the library.
func (s *setter) write(b []byte) {
	s.buf = b
	s.pdf.RawWriteStr(string(b))
}

// point appends a place in PDF's coordinates: points, upwards.
func (s *setter) point(b []byte, x, y float64) []byte {
	b = strconv.AppendFloat(b, x/mmPerPoint, 'f', 2, 64)
	b = append(b, ' ')
	return strconv.AppendFloat(b, s.height-y/mmPerPoint, 'f', 2, 64)
}

func (s *setter) textRight(f face, size, x, y float64, grey int, text string) {
	s.text(f, size, x-s.width(f, size, text), y, grey, text)
}

func (s *setter) textMiddle(f face, size, x, y float64, grey int, text string) {
	s.text(f, size, x-s.width(f, size, text)/2, y, grey, text)
}

func (s *setter) pen(width float64, grey int) {
	if s.lineWidth != width {
		s.pdf.SetLineWidth(width)
		s.lineWidth = width
	}
	if s.drawGrey != grey {
		s.pdf.SetDrawColor(grey, grey, grey)
		s.drawGrey = grey
	}
}

func (s *setter) brush(grey int) {
	if s.fillGrey != grey {
		s.pdf.SetFillColor(grey, grey, grey)
		s.fillGrey = grey
	}
}

func (s *setter) line(x0, y0, x1, y1, width float64, grey int) {
	s.pen(width, grey)
	b := append(s.point(s.buf[:0], x0, y0), " m "...)
	s.write(append(s.point(b, x1, y1), " l S"...))
}

// rectangle appends one and how it is painted.
func (s *setter) rectangle(x, y, w, h float64, paint string) {
	b := append(s.point(s.buf[:0], x, y+h), ' ')
	b = strconv.AppendFloat(b, w/mmPerPoint, 'f', 2, 64)
	b = append(b, ' ')
	b = strconv.AppendFloat(b, h/mmPerPoint, 'f', 2, 64)
	s.write(append(b, paint...))
}

func (s *setter) fill(x, y, w, h float64, grey int) {
	s.brush(grey)
	s.rectangle(x, y, w, h, " re f")
}

func (s *setter) box(x, y, w, h, width float64, grey int) {
	s.pen(width, grey)
	s.rectangle(x, y, w, h, " re S")
}

func (s *setter) roundBox(x, y, w, h, r, width float64, grey int) {
	s.pen(width, grey)
	s.pdf.RoundedRect(x, y, w, h, r, "1234", "D")
}

func (s *setter) ring(x, y, r, width float64, grey int) {
	s.pen(width, grey)
	s.circle(x, y, r, " S Q")
}

func (s *setter) disc(x, y, r float64, grey int) {
	s.brush(grey)
	s.circle(x, y, r, " f Q")
}

// circle appends one as four Bézier arcs around a moved origin: all circles
// of a radius are then the same text, which packs well.
func (s *setter) circle(x, y, r float64, paint string) {
	b := append(s.buf[:0], "q 1 0 0 1 "...)
	b = append(s.point(b, x, y), " cm "...)
	s.write(append(appendCircle(b, r/mmPerPoint), paint...))
}

// appendCircle appends the path of a circle around the origin.
func appendCircle(b []byte, r float64) []byte {
	const k = 0.5523 // 4(√2−1)/3, the usual constant
	arcs := [...]float64{1, 0, 1, k, k, 1, 0, 1, -k, 1, -1, k, -1, 0, -1, -k, -k, -1, 0, -1, k, -1, 1, -k, 1, 0}
	for i, v := range arcs {
		b = strconv.AppendFloat(b, v*r, 'f', 2, 64)
		switch {
		case i == 1:
			b = append(b, " m"...)
		case i > 1 && i%6 == 1:
			b = append(b, " c"...)
		}
		b = append(b, ' ')
	}
	return b
}
