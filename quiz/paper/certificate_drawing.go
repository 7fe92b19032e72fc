package paper

import (
	"crypto/sha256"
	"fmt"
	"sort"
	"strings"

	"github.com/jung-kurt/gofpdf"
	qrcode "github.com/skip2/go-qrcode"
)

// An ink is a colour by its use. All inks are chosen by lightness, so that a
// black-and-white print keeps every distinction.
type ink struct{ r, g, b int }

var (
	inkText   = ink{24, 28, 34}
	inkQuiet  = ink{88, 92, 98}
	inkRule   = ink{150, 154, 160}
	inkPale   = ink{222, 224, 227}
	inkAccent = ink{140, 58, 28} // rust; prints as a dark grey
)

// A drawing is a page being drawn on, with the text calls that the documents
// share. Coordinates are millimetres from the top left; y of a text is its
// baseline; sizes are points. All text passes through printable.
type drawing struct {
	pdf           *gofpdf.Fpdf
	width, height float64
}

func newDrawing(pdf *gofpdf.Fpdf) *drawing {
	w, h := pdf.GetPageSize()
	return &drawing{pdf: pdf, width: w, height: h}
}

// ink sets the colour of text.
func (d *drawing) ink(c ink) { d.pdf.SetTextColor(c.r, c.g, c.b) }

// line draws a stroke of the given width.
func (d *drawing) line(x1, y1, x2, y2, width float64, c ink) {
	d.pdf.SetDrawColor(c.r, c.g, c.b)
	d.pdf.SetLineWidth(width)
	d.pdf.Line(x1, y1, x2, y2)
}

// fill fills a rectangle.
func (d *drawing) fill(x, y, w, h float64, c ink) {
	d.pdf.SetFillColor(c.r, c.g, c.b)
	d.pdf.Rect(x, y, w, h, "F")
}

func (d *drawing) widthOf(f face, size float64, text string) float64 {
	setFont(d.pdf, f, size)
	return d.pdf.GetStringWidth(f.printable(text))
}

func (d *drawing) text(f face, size, x, y float64, text string) {
	setFont(d.pdf, f, size)
	d.pdf.Text(x, y, f.printable(text))
}

func (d *drawing) textRight(f face, size, x, y float64, text string) {
	d.text(f, size, x-d.widthOf(f, size, text), y, text)
}

// fitted is the largest size from size down to least at which text is no
// wider than w, and text itself, cut short with an ellipsis if even the least
// is too wide.
func (d *drawing) fitted(f face, size, least, w float64, text string) (float64, string) {
	text = f.printable(strings.ReplaceAll(text, "\n", " "))
	text = firstRunes(text, longestLine)
	for s := size; s >= least; s -= 0.25 {
		if d.widthOf(f, s, text) <= w {
			return s, text
		}
	}
	kept := prefixOf(text, func(s string) bool { return d.widthOf(f, least, s+"…") <= w })
	return least, strings.TrimRight(kept, " ,.;") + "…"
}

// prefixOf is the longest beginning of text that fits, at least its first
// character.
func prefixOf(text string, fits func(string) bool) string {
	runes := []rune(text)
	n := sort.Search(len(runes), func(i int) bool { return !fits(string(runes[:i+1])) })
	return string(runes[:min(len(runes), max(n, 1))])
}

// firstRunes is at most n characters of text.
func firstRunes(text string, n int) string {
	if len(text) <= n {
		return text
	}
	if runes := []rune(text); len(runes) > n {
		return string(runes[:n])
	}
	return text
}

// longestLine is more characters than any line on paper holds: longer texts
// need not be measured to know that they are too wide.
const longestLine = 600

// fit draws text no wider than w, smaller if need be, and returns its width.
func (d *drawing) fit(f face, size, least, x, y, w float64, text string) float64 {
	if text == "" {
		return 0
	}
	size, text = d.fitted(f, size, least, w, text)
	d.text(f, size, x, y, text)
	return d.widthOf(f, size, text)
}

// lines gives text as the fewest lines, at most as many as allowed, no wider
// than w, at the largest size from size down to least; a text that needs more
// marks the document as failed. What a certificate states is never cut short.
func (d *drawing) lines(f face, size, least, w float64, allowed int, text string) (float64, []string) {
	fits := len([]rune(text)) <= longestLine
	for n := 1; fits && n <= allowed; n++ {
		smallest := least
		if n < allowed {
			smallest = max(least, size*0.75) // rather another line than small print
		}
		for s := size; s >= smallest; s -= 0.25 {
			if lines := d.wrap(f, s, w, text); len(lines) <= n && !brokenWord(lines, text) {
				return s, lines
			}
		}
	}
	d.pdf.SetError(fmt.Errorf("paper: %q is too long to print: shorten it", firstRunes(text, 100)))
	return least, []string{text}
}

// brokenWord says whether wrapping text into lines broke one of its words.
func brokenWord(lines []string, text string) bool {
	return len(strings.Fields(strings.Join(lines, " "))) != len(strings.Fields(keepUnit.Replace(text)))
}

func (d *drawing) fitRight(f face, size, least, x, y, w float64, text string) {
	size, text = d.fitted(f, size, least, w, text)
	d.textRight(f, size, x, y, text)
}

// keepUnit ties a percent sign to its number, so that no line begins with it.
var keepUnit = strings.NewReplacer(" %", "\u00a0%")

// wrap breaks text into lines no wider than w, at plain spaces alone. A word
// wider than w is broken.
func (d *drawing) wrap(f face, size, w float64, text string) []string {
	setFont(d.pdf, f, size)
	var lines []string
	for _, para := range strings.Split(f.printable(keepUnit.Replace(text)), "\n") {
		line := ""
		for _, word := range strings.Split(para, " ") {
			if word == "" {
				continue
			}
			for d.pdf.GetStringWidth(word) > w { // break an overlong word
				head := prefixOf(firstRunes(word, longestLine), func(s string) bool { return d.pdf.GetStringWidth(s) <= w })
				if head == word {
					break
				}
				if line != "" {
					lines, line = append(lines, line), ""
				}
				lines, word = append(lines, head), word[len(head):]
			}
			switch {
			case line == "":
				line = word
			case d.pdf.GetStringWidth(line+" "+word) <= w:
				line += " " + word
			default:
				lines, line = append(lines, line), word
			}
		}
		lines = append(lines, line)
	}
	return lines
}

// paragraph draws wrapped text from baseline y on and returns the baseline
// after the last line.
func (d *drawing) paragraph(f face, size, x, y, w, lead float64, text string) float64 {
	for _, line := range d.wrap(f, size, w, text) {
		d.text(f, size, x, y, line)
		y += lead
	}
	return y
}

// leader draws the dots that lead the eye from a name to its value. Dots sit
// on a grid common to all lines, so that they stand in columns.
func (d *drawing) leader(from, to, y float64) {
	const step = 2.0
	d.pdf.SetFillColor(inkRule.r, inkRule.g, inkRule.b)
	for i := int(from/step) + 1; float64(i)*step < to; i++ {
		d.pdf.Circle(float64(i)*step, y-0.5, 0.16, "F")
	}
}

// frame draws the border of a certificate: a fine line, a stronger one within
// it, and the strong one opened at the middle of each side by a short tick, as
// the sheets of an engineering drawing are centred (ISO 5457).
func (d *drawing) frame() {
	const outer, inner = 9.0, 11.2
	d.pdf.SetDrawColor(inkRule.r, inkRule.g, inkRule.b)
	d.pdf.SetLineWidth(0.18)
	d.pdf.Rect(outer, outer, d.width-2*outer, d.height-2*outer, "D")
	d.pdf.SetDrawColor(inkText.r, inkText.g, inkText.b)
	d.pdf.SetLineWidth(0.5)
	d.pdf.Rect(inner, inner, d.width-2*inner, d.height-2*inner, "D")
	midX, midY, tick := d.width/2, d.height/2, 4.4
	d.line(midX, outer-2, midX, outer-2+tick+2, 0.5, inkText)
	d.line(midX, d.height-outer+2, midX, d.height-outer-tick, 0.5, inkText)
	d.line(outer-2, midY, outer+tick, midY, 0.5, inkText)
	d.line(d.width-outer+2, midY, d.width-outer-tick, midY, 0.5, inkText)
}

// foreEdge draws the fore-edge of a shelf of books: one stroke a leaf, in
// volumes of differing height and thickness, and among them the one leaf that
// is the right page. Volumes and page follow from seed, so that each
// certificate has a shelf of its own.
func (d *drawing) foreEdge(seed string, x, y, w, h float64) {
	const pitch = 0.9 // millimetres from leaf to leaf
	leaves := int(w / pitch)
	shelf := shelfOf(seed, leaves)
	base := y + h
	for i, leaf := range shelf.leaves {
		if leaf == 0 {
			continue // the gap between two volumes
		}
		lx := x + (float64(i)+0.5)*w/float64(leaves)
		if i == shelf.page {
			d.fill(lx-0.35, y-3.5, 0.7, h+3.5, inkAccent)
			continue
		}
		d.line(lx, base, lx, base-h*leaf, 0.2, inkQuiet)
	}
	d.line(x, base, x+w, base, 0.5, inkText)
}

// A shelf is a row of leaves: heights between 0 (a gap) and 1, and the index
// of the right page, which is never a gap.
type shelf struct {
	leaves []float64
	page   int
}

// shelfOf derives a shelf of n leaves from seed.
func shelfOf(seed string, n int) shelf {
	s := shelf{leaves: make([]float64, n)}
	stream := newByteStream(seed)
	for i := 0; i < n; {
		thick := 5 + int(stream.next())%17
		height := 0.55 + 0.37*float64(stream.next())/255
		for k := 0; k < thick && i < n; k++ {
			// Leaves are cut square to within a hair; a few are dog-eared.
			cut := 0.0
			if stream.next() > 236 {
				cut = 0.04
			}
			s.leaves[i] = height - cut
			i++
		}
		i++ // gap
	}
	// The page stands in the middle three fifths of the shelf.
	s.page = n/5 + int(uint(stream.next())<<8|uint(stream.next()))%(3*n/5)
	for s.leaves[s.page] == 0 {
		s.page++
	}
	return s
}

// byteStream is a reproducible sequence of bytes: SHA-256 of seed and counter.
// It decorates; nothing depends on it being unpredictable.
type byteStream struct {
	seed    string
	counter int
	block   [sha256.Size]byte
	used    int
}

func newByteStream(seed string) *byteStream {
	return &byteStream{seed: seed, used: sha256.Size}
}

func (b *byteStream) next() byte {
	if b.used == len(b.block) {
		b.block = sha256.Sum256(fmt.Appendf(nil, "%s/%d", b.seed, b.counter))
		b.counter++
		b.used = 0
	}
	b.used++
	return b.block[b.used-1]
}

// qr draws text as a QR code of the given side, medium error correction, as
// vector rectangles: sharp on every printer and a few kilobytes. The quiet
// zone is the caller's to leave white. A text too long for a code marks the
// document as failed.
func (d *drawing) qr(text string, x, y, side float64) {
	code, err := qrcode.New(text, qrcode.Medium)
	if err != nil {
		d.pdf.SetError(fmt.Errorf("paper: QR code for %q: %w", text, err))
		return
	}
	code.DisableBorder = true
	bits := code.Bitmap()
	module := side / float64(len(bits))
	d.pdf.SetFillColor(0, 0, 0)
	// Adjoining modules of a row are one rectangle, and rows overlap by a
	// hair, so that no viewer shows seams.
	const overlap = 0.01
	for row, line := range bits {
		for start := 0; start < len(line); start++ {
			if !line[start] {
				continue
			}
			end := start
			for end < len(line) && line[end] {
				end++
			}
			d.pdf.Rect(x+float64(start)*module, y+float64(row)*module,
				float64(end-start)*module+overlap, module+overlap, "F")
			start = end
		}
	}
}
