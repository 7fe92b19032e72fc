package paper

import (
	"fmt"
	"strconv"
)

// head is the running line of a question page.
func (p *press) head(b *Booklet) {
	s := &p.setter
	y := 16.0
	box := p.formBox(b.Variant, p.right, y+1.6, p.small)
	s.text(faceSansBold, p.small, p.left, y, black, s.fit(faceSansBold, p.small, p.right-p.left-box-6, b.Title))
	s.line(p.left, y+3.4, p.right, y+3.4, 0.3, black)
}

// formBox draws "form B" in a frame whose lower right corner is at (right,
// bottom), and returns its width.
func (p *press) formBox(variant string, right, bottom, size float64) float64 {
	s := &p.setter
	variant = s.fit(faceSansBold, size, 40, variant)
	label := s.width(faceSans, p.caption, "form")
	w := label + s.width(faceSansBold, size, variant) + 5.2
	h := size*mmPerPoint + 2.2
	s.box(right-w, bottom-h, w, h, 0.35, black)
	base := bottom - h/2 + 0.36*size*mmPerPoint
	s.text(faceSans, p.caption, right-w+1.8, base, black, "form")
	s.text(faceSansBold, size, right-w+1.8+label+1.6, base, black, variant)
	return w
}

// foot is the last line of every page.
func (p *press) foot(b *Booklet, page, pages int) {
	s := &p.setter
	y := p.height - 12
	s.line(p.left, y-4, p.right, y-4, 0.1, midGrey)
	number := fmt.Sprintf("page %d of %d", page, pages)
	s.textRight(faceSansBold, p.caption, p.right, y, black, number)
	name := "form " + b.Variant
	if b.PersonName != "" {
		name += " · " + b.PersonName
	} else if b.PersonID != "" {
		name += " · " + b.PersonID
	}
	room := p.right - p.left - s.width(faceSansBold, p.caption, number) - 6
	if !p.large {
		room *= 0.55
	}
	name = s.fit(faceSans, p.caption, room, name)
	s.text(faceSans, p.caption, p.left, y, black, name)
	if b.Catalog != "" && !p.large {
		room = room/0.55 - s.width(faceSans, p.caption, name) - 6
		catalog := s.fit(faceSans, p.caption, room, b.Catalog)
		s.textRight(faceSans, p.caption, p.right-s.width(faceSansBold, p.caption, number)-6, y, softBlack, catalog)
	}
}

// cover draws the first page.
func (p *press) cover(b *Booklet) {
	s := &p.setter
	w := p.right - p.left
	grow := p.stem / 10.5

	// The variant large, where a person collecting forms looks for it.
	side := 21.0
	s.box(p.right-side, 18, side, side, 0.6, black)
	s.textMiddle(faceSans, 8.5, p.right-side/2, 23, black, "form")
	variant, size := clean(faceSansBold, b.Variant), 30.0
	for size > 9 && s.width(faceSansBold, size, variant) > side-3 {
		size--
	}
	variant = s.fit(faceSansBold, size, side-2, variant)
	s.textMiddle(faceSansBold, size, p.right-side/2, 30.6+0.36*size*mmPerPoint, black, variant)

	y := 24.0
	s.text(faceSans, 11*min(grow, 1.3), p.left, y, softBlack, s.fit(faceSans, 11*min(grow, 1.3), w-side-8, b.Organisation))
	y += 13
	titleSize := 24 * min(grow, 1.25)
	for _, line := range s.wrap(faceSansBold, titleSize, w-side-8, b.Title) {
		s.text(faceSansBold, titleSize, p.left, y, black, line)
		y += titleSize * mmPerPoint * 1.22
	}
	y = max(y, 18+side+9)

	y = p.coverTable(b, y)
	y += 8 * min(grow, 1.3)
	if len(b.Cautions) > 0 {
		var cautions piece
		for i, c := range b.Cautions {
			if i > 0 {
				cautions.height += 1.2
			}
			p.caution(s, &cautions, 0, w, c)
		}
		cautions.draw(s, p.left, y)
		y += cautions.height + 7*min(grow, 1.3)
	}
	if len(b.Instructions) > 0 {
		s.text(faceSansBold, p.stem, p.left, y+p.lead*0.78, black, "Before you begin")
		y += p.lead * 1.35
		indent := p.gutter * 0.75
		for i, text := range b.Instructions {
			s.text(faceSansBold, p.stem, p.left, y+p.lead*0.78, black, strconv.Itoa(i+1))
			for _, line := range s.wrap(faceSans, p.stem, w-indent, text) {
				s.text(faceSans, p.stem, p.left+indent, y+p.lead*0.78, black, line)
				y += p.lead
			}
			y += p.lead * 0.22
		}
		y += p.lead * 0.6
	}
	p.howToFill(y)
}

// coverTable draws what is known of the quiz and whose it is, and returns
// where it ends.
func (p *press) coverTable(b *Booklet, y float64) float64 {
	s := &p.setter
	w := p.right - p.left
	rows := []Pair{{"Name", b.PersonName}, {"Site", b.Site}, {"Date", ""}, {"Literature", b.Catalog}}
	rows = append(rows, Pair{"Questions", strconv.Itoa(len(b.Questions))})
	if b.TimeLimit > 0 {
		rows = append(rows, Pair{"Time", minutes(b.TimeLimit)})
	} else {
		rows = append(rows, Pair{"Time", "no limit"})
	}
	if b.PassMark != "" {
		rows = append(rows, Pair{"To pass", b.PassMark})
	}
	label := 0.0
	for _, r := range rows {
		label = max(label, s.width(faceSans, p.small, r.Label))
	}
	label += 6
	h := p.lead * 1.5
	s.line(p.left, y, p.right, y, 0.5, black)
	for _, r := range rows {
		if (r.Label == "Site" || r.Label == "Literature") && r.Value == "" {
			continue
		}
		lines := s.wrap(faceSansBold, p.stem, w-label, r.Value)
		s.text(faceSans, p.small, p.left, y+h*0.66, softBlack, r.Label)
		for i, line := range lines {
			s.text(faceSansBold, p.stem, p.left+label, y+h*0.66+float64(i)*p.lead, black, line)
		}
		y += h + float64(len(lines)-1)*p.lead
		s.line(p.left, y, p.right, y, 0.1, midGrey)
	}
	s.line(p.left, y, p.right, y, 0.5, black)
	return y
}

// howToFill shows how circles are filled, at y.
func (p *press) howToFill(y float64) {
	s := &p.setter
	w := p.right - p.left
	r := p.lead * 0.42
	text := []string{
		"Mark your answers on the answer sheet: fill the circle of your answer, dark and whole.",
		"To change an answer, rub it out or cross it out and fill another. A person will look at it.",
	}
	var lines []string
	examples := 5*2.6*r + 4
	if p.large {
		examples = 0
	}
	for _, t := range text {
		lines = append(lines, s.wrap(faceSans, p.stem, w-8-examples, t)...)
	}
	h := p.lead*float64(len(lines)) + p.lead
	if p.large {
		h += 3 * r
	}
	if y+h > p.height-22 {
		return // a long cover; the sheet itself shows it too
	}
	s.roundBox(p.left, y, w, h, 1.6, 0.3, black)
	for i, line := range lines {
		s.text(faceSans, p.stem, p.left+4, y+p.lead*(float64(i)+1.25), black, line)
	}
	ex, ey := p.right-examples+1.3*r, y+h/2
	if p.large {
		ex, ey = p.left+4+r, y+h-2.2*r
	}
	p.exampleBubbles(ex, ey, r, 2.6*r, 2)
}

// exampleBubbles draws a row A to E with one filled.
func (p *press) exampleBubbles(x, y, r, pitch float64, filled int) {
	s := &p.setter
	for i := range 5 {
		cx := x + float64(i)*pitch
		if i == filled {
			s.disc(cx, y, r, black)
			continue
		}
		s.ring(cx, y, r, 0.25, black)
		size := r * 2.4
		s.textMiddle(faceSans, size, cx, y+0.36*size*mmPerPoint, softBlack, OptionLetter(i))
	}
}
