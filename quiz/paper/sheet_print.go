package paper

import (
	"bytes"
	"fmt"
	"strconv"

	"github.com/skip2/go-qrcode"
)

// sheetPrint keeps the part of an answer sheet that is the same for everybody
// with the same questions: thousands of circles need placing only once.
type sheetPrint struct {
	pages  []SheetPage
	fields []SheetField
	ops    [][]byte // drawing operators of the marks and circles, by page
}

// lay lays the sheet out, or keeps the last layout where the fields are the
// same.
func (sp *sheetPrint) lay(questions []Question, large bool, perMM, left, height float64) error {
	fields, err := SheetFields(questions)
	if err != nil {
		return err
	}
	if sameFields(fields, sp.fields) {
		return nil
	}
	pages, err := LayoutSheet(fields, large)
	if err != nil {
		return err
	}
	*sp = sheetPrint{pages: pages, fields: fields}
	for _, page := range pages {
		sp.ops = append(sp.ops, sheetMarks(page, perMM, left, height))
	}
	return nil
}

func sameFields(a, b []SheetField) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// sheetMarks are the PDF operators that draw corner marks, edge marks and
// circles. perMM is points a millimetre; (left, top) is where the frame's
// origin is, in mm from the paper's left edge and, for PDF counts up, from its
// lower edge.
func sheetMarks(page SheetPage, perMM, left, top float64) []byte {
	var b bytes.Buffer
	x := func(mm float64) float64 { return (left + mm) * perMM }
	y := func(mm float64) float64 { return (top - mm) * perMM }
	b.WriteString("q 0 g\n") // the library's own colours come back at the end
	square := func(c Point, side float64) {
		fmt.Fprintf(&b, "%.3f %.3f %.3f %.3f re\n", x(c.X-side/2), y(c.Y+side/2), side*perMM, side*perMM)
	}
	for _, c := range CornerMarks() {
		square(c, MarkSide)
	}
	for _, edge := range Ticks() {
		for _, c := range edge {
			square(c, TickSide)
		}
	}
	fmt.Fprintf(&b, "f\n0 G %.3f w\n", BubbleLine*perMM)
	for _, row := range page.Rows {
		for _, c := range row.Bubbles {
			// Four Bézier arcs; 0.5523 is the usual constant, 4(√2−1)/3.
			r := page.Radius * perMM
			k := 0.5523 * r
			cx, cy := x(c.X), y(c.Y)
			fmt.Fprintf(&b, "%.2f %.2f m %.2f %.2f %.2f %.2f %.2f %.2f c %.2f %.2f %.2f %.2f %.2f %.2f c %.2f %.2f %.2f %.2f %.2f %.2f c %.2f %.2f %.2f %.2f %.2f %.2f c\n",
				cx+r, cy, cx+r, cy+k, cx+k, cy+r, cx, cy+r, cx-k, cy+r, cx-r, cy+k, cx-r, cy,
				cx-r, cy-k, cx-k, cy-r, cx, cy-r, cx+k, cy-r, cx+r, cy-k, cx+r, cy)
		}
	}
	b.WriteString("S\n")
	fmt.Fprintf(&b, "%.3f w\n", 0.3*perMM)
	for _, box := range page.Boxes {
		fmt.Fprintf(&b, "%.3f %.3f %.3f %.3f re\n", x(box.Box.X), y(box.Box.Y+box.Box.H), box.Box.W*perMM, box.Box.H*perMM)
	}
	b.WriteString("S Q\n")
	return b.Bytes()
}

// sheets prints the answer sheets of one person; first is the part's page at
// which what the person gets began.
func (p *press) sheets(b *Booklet, first int) error {
	left, top := (p.width-FrameWidth)/2, (p.height-FrameHeight)/2
	if err := p.sheet.lay(b.Questions, p.large, 1/mmPerPoint, left, p.height-top); err != nil {
		return err
	}
	for i, page := range p.sheet.pages {
		code := page.Code(b.Quiz, b.Variant, b.PersonID)
		if err := code.Validate(); err != nil {
			return err
		}
		p.page()
		p.setter.pdf.RawWriteBuf(bytes.NewReader(p.sheet.ops[i]))
		if err := p.sheetPage(b, page, code, left, top); err != nil {
			return err
		}
		p.toFront(first)
	}
	return nil
}

// sheetPage writes all that is not marks and circles.
func (p *press) sheetPage(b *Booklet, page SheetPage, code SheetCode, left, top float64) error {
	s := &p.setter
	if err := s.code(code, left+CodeX, top+CodeY); err != nil {
		return err
	}
	large := page.Radius > 2.5

	// Whose sheet it is, in the room left of the square code.
	grow := 1.0
	if large {
		grow = 1.35
	}
	label, value := 8*grow, 10.5*grow
	x, y := left+answersLeft, top+11.0
	w := CodeX - answersLeft - 8
	s.text(faceSans, 8.5*grow, x, y, softBlack, s.fit(faceSans, 8.5*grow, w, b.Organisation))
	y += 6.8
	s.text(faceSansBold, 13*min(grow, 1.2), x, y, black, s.fit(faceSansBold, 13*min(grow, 1.2), w, b.Title))
	y += 9.2
	formWidth := p.formBox(b.Variant, x+w, y+1.8, 13)
	indent := s.width(faceSans, label, "Name") + 3
	s.text(faceSans, label, x, y, softBlack, "Name")
	if b.PersonName != "" {
		s.text(faceSansBold, value, x+indent, y, black, s.fit(faceSansBold, value, w-formWidth-indent-4, b.PersonName))
	}
	s.line(x+indent, y+1.2, x+w-formWidth-4, y+1.2, 0.2, softBlack)
	y += 8.4
	s.text(faceSans, label, x, y, softBlack, "Date")
	s.line(x+indent, y+1.2, x+indent+30, y+1.2, 0.2, softBlack)
	if b.Site != "" {
		at := x + indent + 35
		s.text(faceSans, label, at, y, softBlack, "Site")
		at += s.width(faceSans, label, "Site") + 3
		s.text(faceSans, value, at, y, black, s.fit(faceSans, value, x+w-at, b.Site))
	}

	p.sheetRules(x, top+answersTop-12, answersRight-answersLeft, large)

	labelSize, letterSize := 8.0, 6.2
	if large {
		labelSize, letterSize = 14, 12
	}
	const letterGrey = 130 // seen by people, hardly by the reader
	for _, row := range page.Rows {
		s.textRight(faceSansBold, labelSize, left+row.Label.X, top+row.Label.Y, black, row.Field.Label())
		for i, c := range row.Bubbles {
			s.textMiddle(faceSans, letterSize, left+c.X, top+c.Y+0.36*letterSize*mmPerPoint, letterGrey, OptionLetter(i))
		}
	}
	for _, box := range page.Boxes {
		s.textRight(faceSansBold, labelSize, left+box.Label.X, top+box.Label.Y, black, box.Field.Label())
		captionSize := 5.4
		if large {
			captionSize = 8.5
		}
		s.text(faceSans, captionSize, left+box.Box.X+1, top+box.Box.Y+0.8+captionSize*mmPerPoint*0.75, midGrey, s.fit(faceSans, captionSize, box.Box.W-2, box.Caption))
	}

	// Below the frame: what a person types when the code cannot be read.
	y = top + FrameHeight + 8.5
	s.text(faceMono, 7, left+answersLeft, y, softBlack, code.String())
	s.textRight(faceSansBold, 7.5, left+answersRight, y, black, "answer sheet "+strconv.Itoa(page.Number)+" of "+strconv.Itoa(page.Of))
	return nil
}

// sheetRules draws how to fill the sheet, in one strip.
func (p *press) sheetRules(x, y, w float64, large bool) {
	s := &p.setter
	const h = 8.8
	s.line(x, y, x+w, y, 0.2, softBlack)
	s.line(x, y+h, x+w, y+h, 0.2, softBlack)
	size, r := 7.6, 1.75
	words := [4]string{"Fill the circle of your answer", "and not like this", "To change: rub out, or cross out", "and fill another."}
	if large {
		size, r = 11, 2.3
		words = [4]string{"Fill the circle", "not", "To change: cross out", "fill another"}
	}
	base := y + h/2 + 0.36*size*mmPerPoint
	mid := y + h/2
	put := func(i int) {
		s.text(faceSans, size, x, base, black, words[i])
		x += s.width(faceSans, size, words[i]) + r + 1.3
	}
	put(0)
	s.disc(x, mid, r, black)
	x += r + 2
	put(1)
	s.ring(x, mid, r, 0.25, black)
	s.line(x-0.57*r, mid, x-0.11*r, mid+0.51*r, 0.4, black)
	s.line(x-0.11*r, mid+0.51*r, x+0.74*r, mid-0.69*r, 0.4, black)
	x += 2*r + 1
	s.ring(x, mid, r, 0.25, black)
	s.line(x-0.63*r, mid-0.63*r, x+0.63*r, mid+0.63*r, 0.4, black)
	s.line(x-0.63*r, mid+0.63*r, x+0.63*r, mid-0.63*r, 0.4, black)
	x += 2*r + 1
	s.ring(x, mid, r, 0.25, black)
	s.disc(x, mid, 0.31*r, black)
	x += r + 2.6
	put(2)
	x += 0.5
	s.disc(x, mid, r, black)
	s.line(x-1.26*r, mid-1.26*r, x+1.26*r, mid+1.26*r, 0.4, black)
	s.line(x-1.26*r, mid+1.26*r, x+1.26*r, mid-1.26*r, 0.4, black)
	x += r + 2.2
	put(3)
}

// code draws a sheet code, its upper left corner at (x, y).
func (s *setter) code(code SheetCode, x, y float64) error {
	q, err := qrcode.NewWithForcedVersion(code.String(), codeVersion, qrcode.Medium)
	if err != nil {
		return fmt.Errorf("sheet code %s: %w", code, err)
	}
	q.DisableBorder = true
	const module = CodeSide / CodeModules
	s.brush(black)
	var b bytes.Buffer
	k := 1 / mmPerPoint
	_, pageHeight := s.pdf.GetPageSize()
	for j, line := range q.Bitmap() {
		for i := 0; i < len(line); {
			if !line[i] {
				i++
				continue
			}
			from := i
			for i < len(line) && line[i] {
				i++
			}
			// A hair's overlap downwards keeps viewers from showing seams.
			const hair = 0.01
			fmt.Fprintf(&b, "%.2f %.2f %.2f %.2f re\n",
				(x+float64(from)*module)*k, (pageHeight-y-float64(j+1)*module-hair)*k, float64(i-from)*module*k, (module+hair)*k)
		}
	}
	b.WriteString("f")
	s.pdf.RawWriteBuf(&b)
	return nil
}
