package paper

import (
	"fmt"
	"io"
	"time"
)

// A report is a portrait document of flowing blocks: a heading on the first
// page, a running line on the others, "page x of y" on all. Blocks ask for
// room before they draw and so never break across pages.
type report struct {
	*drawing
	left, right float64 // text edges
	top, bottom float64 // of the flowing area
	y           float64 // where the next block begins
	running     string  // top line of the pages after the first
	foot        string  // bottom line, left
	page, pages int     // pages is 0 on the first pass, which counts them
	onPage      func()  // called on each new page after the first, for table heads
}

// Page geometry, millimetres. The left edge leaves room for a binder.
const (
	reportLeft   = 22.0
	reportRight  = 16.0
	reportTop    = 16.0
	reportBottom = 18.0
)

// writeReport lays a report out twice: once to count its pages, once to
// number them.
func writeReport(w io.Writer, o documentOptions, running, foot string, body func(*report)) error {
	pages := 0
	for pass := range 2 {
		pdf, err := newDocument(o)
		if err != nil {
			return err
		}
		r := &report{drawing: newDrawing(pdf), running: running, foot: foot, pages: pages}
		r.left, r.right = reportLeft, r.width-reportRight
		r.top, r.bottom = reportTop, r.height-reportBottom
		r.addPage()
		body(r)
		pages = r.page
		if err := pdf.Error(); err != nil {
			return fmt.Errorf("paper: %s: %w", o.Title, err)
		}
		if pass == 1 {
			if err := pdf.Output(w); err != nil {
				return fmt.Errorf("paper: writing %s: %w", o.Title, err)
			}
		}
	}
	return nil
}

func (r *report) addPage() {
	r.pdf.AddPage()
	r.page++
	r.y = r.top
	r.ink(inkQuiet)
	footY := r.height - 9
	r.line(r.left, footY-4.2, r.right, footY-4.2, 0.15, inkRule)
	number := fmt.Sprintf("page %d of %d", r.page, max(r.pages, r.page))
	r.textRight(faceSans, 7.5, r.right, footY, number)
	r.fit(faceSans, 7.5, 6, r.left, footY, r.right-r.left-30, r.foot)
	if r.page > 1 {
		r.fit(faceSans, 8, 6, r.left, r.top, r.right-r.left, r.running)
		r.line(r.left, r.top+2, r.right, r.top+2, 0.15, inkRule)
		r.y = r.top + 9.5
		if r.onPage != nil {
			r.onPage()
		}
	}
}

// room starts a new page if fewer than h millimetres are left.
func (r *report) room(h float64) {
	if r.y+h > r.bottom {
		r.addPage()
	}
}

// title draws the heading of the first page: a strip of the shelf, a line in
// small capitals, the subject in large letters and what it is about.
func (r *report) title(kind, subject, about string) {
	r.foreEdge(kind+subject, r.left, r.y, r.right-r.left, 7)
	r.y += 7
	r.ink(inkQuiet)
	r.text(displayFace(kind, faceDisplayCaps), 12, r.left, r.y+7.5, kind)
	r.ink(inkText)
	r.fit(displayFace(subject, faceDisplay), 27, 15, r.left-0.4, r.y+18.5, r.right-r.left, subject)
	r.ink(inkQuiet)
	r.y = r.paragraph(displayFace(about, faceDisplayItalic), 12, r.left, r.y+25.5, r.right-r.left, 5.2, about) + 3
}

// section draws a heading and keeps it on the page of the first h
// millimetres below it.
func (r *report) section(heading string, h float64) {
	r.onPage = nil
	r.room(10 + h)
	r.y += 6
	r.ink(inkText)
	r.text(displayFace(heading, faceDisplayCaps), 12.5, r.left, r.y, heading)
	r.line(r.left, r.y+1.8, r.right, r.y+1.8, 0.35, inkText)
	r.y += 6.5
}

// note draws a paragraph of running text.
func (r *report) note(text string, size float64) {
	lead := size * 0.47
	for _, line := range r.wrap(faceSans, size, r.right-r.left, text) {
		r.room(lead)
		r.ink(inkText)
		r.text(faceSans, size, r.left, r.y, line)
		r.y += lead
	}
}

// A column of a table: where it begins, how wide it is and how it is headed.
type column struct {
	x, w  float64
	head  string
	right bool // figures stand at the right edge
}

// columns divides the text width by shares.
func (r *report) columns(heads []string, shares []float64, right map[int]bool) []column {
	const gap = 3.0
	total := 0.0
	for _, s := range shares {
		total += s
	}
	width := r.right - r.left - gap*float64(len(shares)-1)
	cols := make([]column, len(shares))
	x := r.left
	for i, s := range shares {
		cols[i] = column{x: x, w: width * s / total, head: heads[i], right: right[i]}
		x += cols[i].w + gap
	}
	return cols
}

// tableHead draws the heads of columns, now and on every page that follows
// until the next section.
func (r *report) tableHead(cols []column) {
	draw := func() {
		r.ink(inkQuiet)
		for _, c := range cols {
			if c.right {
				r.textRight(faceSans, 7.5, c.x+c.w, r.y, c.head)
			} else {
				r.text(faceSans, 7.5, c.x, r.y, c.head)
			}
		}
		r.line(r.left, r.y+1.6, r.right, r.y+1.6, 0.15, inkRule)
		r.y += 5.6
	}
	draw()
	r.onPage = draw
}

// mostCellLines keeps a row, which never breaks across pages, shorter than a
// page.
const mostCellLines = 14

// clip keeps the first n lines and marks what it drops.
func clip(lines []string, n int) []string {
	if len(lines) <= n {
		return lines
	}
	kept := append([]string(nil), lines[:n]...)
	kept[n-1] += " …"
	return kept
}

// cellLines wraps the cells of a row and gives the height that they need.
func (r *report) cellLines(cols []column, size, lead float64, faces []face, cells []string) ([][]string, float64) {
	lines := make([][]string, len(cols))
	most := 1
	for i, c := range cols {
		if cells[i] != "" {
			lines[i] = clip(r.wrap(faces[i], size, c.w, cells[i]), mostCellLines)
		}
		most = max(most, len(lines[i]))
	}
	return lines, float64(most) * lead
}

// row draws wrapped cells, all on one page, and returns the baseline of its
// first line, for what the caller adds beside the text.
func (r *report) row(cols []column, size float64, faces []face, cells []string) float64 {
	lead := size * 0.45
	lines, h := r.cellLines(cols, size, lead, faces, cells)
	r.room(h)
	first := r.y
	r.ink(inkText)
	for i, c := range cols {
		for k, line := range lines[i] {
			y := first + float64(k)*lead
			if c.right {
				r.textRight(faces[i], size, c.x+c.w, y, line)
			} else {
				r.text(faces[i], size, c.x, y, line)
			}
		}
	}
	r.y = first + h + 1.9
	r.line(r.left, r.y-lead+0.6, r.right, r.y-lead+0.6, 0.1, inkPale)
	return first
}

// scale maps shares 0 to 1 onto a stretch of the page.
type scale struct{ x, w float64 }

func (s scale) at(share float64) float64 { return s.x + s.w*min(1, max(0, share)) }

// axis draws a scale's ends, quarters and an optional mark (0 for none).
func (r *report) axis(s scale, y, h, mark float64) {
	for _, q := range []float64{0, 0.25, 0.5, 0.75, 1} {
		r.line(s.at(q), y, s.at(q), y+h, 0.1, inkPale)
	}
	if mark > 0 {
		r.pdf.SetDashPattern([]float64{0.9, 0.7}, 0)
		r.line(s.at(mark), y, s.at(mark), y+h, 0.25, inkText)
		r.pdf.SetDashPattern(nil, 0)
	}
}

// estimate draws a value with its interval: a bar from low to high and a dot.
func (r *report) estimate(s scale, y, low, value, high float64, filled bool) {
	r.line(s.at(low), y, s.at(high), y, 0.7, inkRule)
	r.pdf.SetLineWidth(0.3)
	r.pdf.SetDrawColor(inkText.r, inkText.g, inkText.b)
	if filled {
		r.pdf.SetFillColor(inkText.r, inkText.g, inkText.b)
	} else {
		r.pdf.SetFillColor(255, 255, 255)
	}
	r.pdf.Circle(s.at(value), y, 1.15, "FD")
}

// percent prints a share as a whole percentage. Shares that are not certain
// never print as certain: 0.997 is ">99 %", not "100 %".
func percent(share float64) string {
	switch {
	case share > 0.99 && share < 1:
		return ">99\u00a0%"
	case share < 0.01 && share > 0:
		return "<1\u00a0%"
	}
	return fmt.Sprintf("%.0f\u00a0%%", 100*share)
}

// reportOptions are those that all reports share.
func reportOptions(size PageSize, title, author string, made time.Time) documentOptions {
	return documentOptions{
		Size: size, Title: title, Author: author, Created: dateOf(made),
		Faces: []face{faceSans, faceSansBold, faceSansItalic, faceMono, faceDisplay, faceDisplayItalic, faceDisplayCaps},
	}
}
