package paper

import (
	"math"
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

// setter measures and places text on a document. Not for concurrent use.
type setter struct {
	pdf    *gofpdf.Fpdf
	widths [faceCount]*widths

	face      face // selected in pdf
	size      float64
	selected  bool
	textGrey  int
	fillGrey  int
	drawGrey  int
	lineWidth float64
}

// use starts a new document with what was learned from the last.
func (s *setter) use(pdf *gofpdf.Fpdf) {
	s.pdf = pdf
	s.forget()
}

// forget makes the setter write font, colours and line width anew, after
// something else set them.
func (s *setter) forget() {
	s.selected = false
	s.textGrey, s.fillGrey, s.drawGrey, s.lineWidth = -1, -1, -1, -1
}

// newPage adds a page. The library writes font and colours anew on each.
func (s *setter) newPage() {
	s.pdf.AddPage()
	s.forget()
}

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
	if s.textGrey != grey {
		s.pdf.SetTextColor(grey, grey, grey)
		s.textGrey = grey
	}
	s.pdf.Text(x, y, text)
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
	s.pdf.Line(x0, y0, x1, y1)
}

func (s *setter) fill(x, y, w, h float64, grey int) {
	s.brush(grey)
	s.pdf.Rect(x, y, w, h, "F")
}

func (s *setter) box(x, y, w, h, width float64, grey int) {
	s.pen(width, grey)
	s.pdf.Rect(x, y, w, h, "D")
}

func (s *setter) roundBox(x, y, w, h, r, width float64, grey int) {
	s.pen(width, grey)
	s.pdf.RoundedRect(x, y, w, h, r, "1234", "D")
}

func (s *setter) ring(x, y, r, width float64, grey int) {
	s.pen(width, grey)
	s.pdf.Circle(x, y, r, "D")
}

func (s *setter) disc(x, y, r float64, grey int) {
	s.brush(grey)
	s.pdf.Circle(x, y, r, "F")
}
