package paper

import (
	"fmt"
	"strconv"
	"strings"
)

// BookletOptions say how booklets and answer sheets are printed.
type BookletOptions struct {
	Size PageSize // empty is A4
	// LargePrint sets the text in 17 points instead of 10.5 and the answer
	// sheet with larger circles.
	LargePrint bool
	// Duplex is for printing on both sides: each booklet begins on a front,
	// and an answer sheet has a leaf of its own with an empty back, so that
	// nothing shows through the circles.
	Duplex bool
}

// measures are the sizes that a booklet is set in; millimetres, fonts in
// points.
type measures struct {
	width, height        float64 // of the paper
	left, right          float64 // text edges
	top, bottom          float64 // of the questions
	gutter               float64 // width of the number's column
	stem, small, caption float64 // font sizes
	lead                 float64 // line spacing at size stem, mm
	gap                  float64 // between questions
	large                bool
}

func measuresFor(o BookletOptions) (measures, error) {
	m := measures{large: o.LargePrint}
	switch o.Size {
	case A4, "":
		m.width, m.height = 210, 297
	case Letter:
		m.width, m.height = 215.9, 279.4
	default:
		return m, fmt.Errorf("booklet: unknown page size %q: use %s or %s", o.Size, A4, Letter)
	}
	// Both side margins take a punched hole, whichever side a duplex printer
	// binds.
	m.left, m.right = 20, m.width-20
	m.top, m.bottom = 25, m.height-21
	m.setSize(1)
	return m, nil
}

// setSize sets the fonts at a share of their usual size.
func (m *measures) setSize(share float64) {
	if m.large {
		share *= 17 / 10.5
	}
	m.stem, m.small, m.caption = 10.5*share, 9*share, 7.5*share
	m.lead = m.stem * mmPerPoint * 1.32
	m.gutter = 6 + 5*share
	m.gap = 6 * share
}

// opcode is a kind of drawing step.
type opcode uint8

const (
	opText opcode = iota
	opTextRight
	opLine
	opBox
	opRound
	opFill
	opRing
	opDisc
)

// step is one drawing step, placed relative to the top left of its piece.
type step struct {
	op         opcode
	face       face
	grey       uint8
	x, y, w, h float64 // opRing, opDisc: w is the radius; opRound: radius is fixed
	size       float64 // font size, or line width
	text       string
}

// piece is something that is never broken across pages.
type piece struct {
	height float64
	steps  []step
}

func (p *piece) add(s step) { p.steps = append(p.steps, s) }

func (p *piece) text(f face, size, x, y float64, grey uint8, text string) {
	p.add(step{op: opText, face: f, size: size, x: x, y: y, grey: grey, text: text})
}

// draw draws the piece at (x, y).
func (p *piece) draw(s *setter, x, y float64) {
	for i := range p.steps {
		t := &p.steps[i]
		px, py := x+t.x, y+t.y
		switch t.op {
		case opText:
			s.text(t.face, t.size, px, py, int(t.grey), t.text)
		case opTextRight:
			s.textRight(t.face, t.size, px, py, int(t.grey), t.text)
		case opLine:
			s.line(px, py, px+t.w, py+t.h, t.size, int(t.grey))
		case opBox:
			s.box(px, py, t.w, t.h, t.size, int(t.grey))
		case opRound:
			s.roundBox(px, py, t.w, t.h, 1.6, t.size, int(t.grey))
		case opFill:
			s.fill(px, py, t.w, t.h, int(t.grey))
		case opRing:
			s.ring(px, py, t.w, t.size, int(t.grey))
		case opDisc:
			s.disc(px, py, t.w, int(t.grey))
		}
	}
}

// setQuestion is a question set in type: usually one piece. A chase is a head
// and a piece for each step, which may be parted between steps where a page
// cannot hold it whole; again is then what the next page begins with.
type setQuestion struct {
	head  piece
	parts []piece
	again piece
}

func (q *setQuestion) height() float64 {
	h := q.head.height
	for _, p := range q.parts {
		h += p.height
	}
	return h
}

// question sets q in type.
func (m measures) question(s *setter, q Question) setQuestion {
	var out setQuestion
	if q.Form == Chase {
		out.again = m.questionHead(s, q, true)
		out.head = m.questionHead(s, q, false)
		for i, step := range q.Steps {
			out.parts = append(out.parts, m.chaseStep(s, q.Number, i, step))
		}
		return out
	}
	out.head = m.questionHead(s, q, false)
	m.response(s, &out.head, strconv.Itoa(q.Number), m.gutter, q.Form, q.Options, q.Unit)
	return out
}

// questionHead sets number, stem, boxes and cautions.
func (m measures) questionHead(s *setter, q Question, again bool) piece {
	var p piece
	x, w := m.gutter, m.right-m.left-m.gutter
	number := strconv.Itoa(q.Number)
	p.text(faceSansBold, m.stem*1.18, 0, m.lead*0.78, black, number)
	if q.Points > 0 && !again {
		points := strconv.Itoa(q.Points) + " points"
		if q.Points == 1 {
			points = "1 point"
		}
		wp := s.width(faceSans, m.caption, points)
		p.add(step{op: opTextRight, face: faceSans, size: m.caption, x: x + w, y: m.lead * 0.78, grey: softBlack, text: points})
		w -= wp + 4
	}
	stem := q.Stem
	if again {
		stem = "Question " + number + ", continued."
	}
	face := faceSans
	if again {
		face = faceSansItalic
	}
	p.height = 0
	for _, line := range s.wrap(face, m.stem, w, stem) {
		p.text(face, m.stem, x, p.height+m.lead*0.78, black, line)
		p.height += m.lead
	}
	w = m.right - m.left - m.gutter
	if !again {
		for _, c := range q.Cautions {
			p.height += 0.25 * m.lead
			m.caution(s, &p, x, w, c)
		}
	}
	if len(q.Boxes) > 0 {
		p.height += 0.35 * m.lead
		m.boxes(s, &p, x, w, q.Boxes)
	}
	p.height += 0.35 * m.lead
	return p
}

// caution sets one line of warning: a bar, the triangle of ISO 7010 W001
// drawn in lines, and the text.
func (m measures) caution(s *setter, p *piece, x, w float64, text string) {
	lead := m.lead * 0.9
	top := p.height
	indent := 2.4*lead*0.62 + 2
	lines := s.wrap(faceSansBold, m.small, w-indent-1, text)
	h := lead*float64(len(lines)) + 0.3*lead
	p.add(step{op: opFill, x: x, y: top, w: 0.9, h: h, grey: black})
	m.triangle(p, x+2, top+0.2*lead, lead*0.95)
	for i, line := range lines {
		p.text(faceSansBold, m.small, x+indent, top+0.15*lead+lead*(float64(i)+0.76), black, line)
	}
	p.height += h
}

// triangle is a warning triangle of height h with its exclamation mark.
func (m measures) triangle(p *piece, x, y, h float64) {
	w := h * 1.1547
	width := h * 0.09
	p.add(step{op: opLine, x: x, y: y + h, w: w, h: 0, size: width, grey: black})
	p.add(step{op: opLine, x: x, y: y + h, w: w / 2, h: -h, size: width, grey: black})
	p.add(step{op: opLine, x: x + w, y: y + h, w: -w / 2, h: -h, size: width, grey: black})
	p.add(step{op: opLine, x: x + w/2, y: y + 0.36*h, w: 0, h: 0.3 * h, size: width * 1.4, grey: black})
	p.add(step{op: opDisc, x: x + w/2, y: y + 0.82*h, w: width * 0.8, grey: black})
}

// boxes sets repair orders and plates. Two narrow ones stand side by side.
func (m measures) boxes(s *setter, p *piece, x, w float64, boxes []Box) {
	for i := 0; i < len(boxes); i++ {
		if !m.large && i+1 < len(boxes) {
			half := (w - 5) / 2
			a, okA := m.boxPiece(s, boxes[i], half)
			b, okB := m.boxPiece(s, boxes[i+1], half)
			if okA && okB {
				p.place(a, x, p.height)
				p.place(b, x+half+5, p.height)
				p.height += max(a.height, b.height) + 0.3*m.lead
				i++
				continue
			}
		}
		b, _ := m.boxPiece(s, boxes[i], w)
		if boxes[i].Kind == Plate && !m.large {
			// A plate is a small thing.
			if small, ok := m.boxPiece(s, boxes[i], min(w, 96)); ok {
				b = small
			}
		}
		p.place(b, x, p.height)
		p.height += b.height + 0.3*m.lead
	}
}

// place copies the steps of q to (x, y) of p.
func (p *piece) place(q piece, x, y float64) {
	for _, t := range q.steps {
		t.x += x
		t.y += y
		p.add(t)
	}
}

// boxPiece sets one box; ok tells whether every value fitted on its line, so
// that a narrow box would do.
func (m measures) boxPiece(s *setter, b Box, w float64) (p piece, ok bool) {
	if b.Kind == Plate {
		return m.plate(s, b, w)
	}
	return m.repairOrder(s, b, w)
}

// labelWidth is the width of the widest label, within a share of w.
func (m measures) labelWidth(s *setter, rows []Pair, w, share float64) float64 {
	widest := 0.0
	for _, r := range rows {
		widest = max(widest, s.width(faceSans, m.caption, clean(faceSans, r.Label)))
	}
	return min(widest, w*share)
}

// repairOrder draws a form slip: a grey head with the title, ruled rows.
func (m measures) repairOrder(s *setter, b Box, w float64) (p piece, ok bool) {
	const pad = 2.6
	ok = true
	head := m.lead * 1.05
	p.add(step{op: opFill, x: 0, y: 0, w: w, h: head, grey: paleGrey})
	p.text(faceSansBold, m.small, pad, head*0.68, black, s.fit(faceSansBold, m.small, w-2*pad, b.heading()))
	label := m.labelWidth(s, b.Rows, w-2*pad, 0.4)
	y := head + 0.12*m.lead
	lead := m.lead * 0.97
	for i, r := range b.Rows {
		if i > 0 {
			p.add(step{op: opLine, x: pad, y: y, w: w - 2*pad, h: 0, size: 0.1, grey: midGrey})
		}
		y += 0.1 * lead
		p.text(faceSans, m.caption, pad, y+lead*0.74, softBlack, s.fit(faceSans, m.caption, label, r.Label))
		lines := s.wrap(faceSans, m.stem, w-2*pad-label-3, r.Value)
		ok = ok && len(lines) == 1
		for j, line := range lines {
			p.text(faceSans, m.stem, pad+label+3, y+lead*(float64(j)+0.74), black, line)
		}
		y += lead*float64(len(lines)) + 0.08*lead
	}
	p.height = y + 0.2*m.lead
	p.add(step{op: opBox, x: 0, y: 0, w: w, h: p.height, size: 0.3, grey: black})
	return p, ok
}

// plate draws an identification plate: double rounded border, a rivet in
// each corner, the values in fixed-width type as they are stamped.
func (m measures) plate(s *setter, b Box, w float64) (p piece, ok bool) {
	const pad = 7.5
	ok = true
	lead := m.lead
	y := 0.45 * lead
	title := s.fit(faceSansBold, m.caption, w-2*pad, strings.ToUpper(b.heading()))
	p.text(faceSansBold, m.caption, (w-s.width(faceSansBold, m.caption, title))/2, y+lead*0.62, black, title)
	y += lead * 1.05
	label := m.labelWidth(s, b.Rows, w-2*pad, 0.45)
	for _, r := range b.Rows {
		p.text(faceSans, m.caption, pad, y+lead*0.7, softBlack, s.fit(faceSans, m.caption, label, r.Label))
		lines := s.wrap(faceMonoBold, m.stem, w-2*pad-label-3, r.Value)
		ok = ok && len(lines) == 1
		for _, line := range lines {
			p.text(faceMonoBold, m.stem, pad+label+3, y+lead*0.7, black, line)
			y += lead
		}
	}
	p.height = y + 0.4*lead
	p.add(step{op: opRound, x: 0, y: 0, w: w, h: p.height, size: 0.55, grey: black})
	p.add(step{op: opRound, x: 1, y: 1, w: w - 2, h: p.height - 2, size: 0.15, grey: black})
	for _, c := range [][2]float64{{3.8, 3.8}, {w - 3.8, 3.8}, {3.8, p.height - 3.8}, {w - 3.8, p.height - 3.8}} {
		p.add(step{op: opRing, x: c[0], y: c[1], w: 1.1, size: 0.25, grey: black})
		p.add(step{op: opDisc, x: c[0], y: c[1], w: 0.35, grey: black})
	}
	return p, ok
}

// response sets what is to be done and the options.
func (m measures) response(s *setter, p *piece, label string, x float64, form ResponseForm, options []string, unit string) {
	w := m.right - m.left - x
	if text := direction(form, label, unit); text != "" {
		for _, line := range s.wrap(faceSansItalic, m.small, w, text) {
			p.text(faceSansItalic, m.small, x, p.height+m.lead*0.7, softBlack, line)
			p.height += m.lead * 0.9
		}
		p.height += 0.15 * m.lead
	}
	if form == TypedCode || form == NumberUnit {
		return
	}
	m.options(s, p, x, w, options)
}

// direction tells how to answer; nothing is said where one circle is filled,
// as the cover says that.
func direction(form ResponseForm, label, unit string) string {
	switch form {
	case ChooseSeveral:
		return "Choose every one that applies: fill all their circles."
	case TypedCode:
		return "Write your answer in box " + label + " of the answer sheet."
	case NumberUnit:
		if unit != "" {
			return "Write the number, in " + unit + ", in box " + label + " of the answer sheet."
		}
		return "Write the number and its unit in box " + label + " of the answer sheet."
	case OrderSteps:
		return "Put these into order: in row " + label + ".1 of the answer sheet fill the circle of what comes first, in " + label + ".2 what comes second, and so on."
	}
	return ""
}

// options sets the options in as many columns as their widths allow.
func (m measures) options(s *setter, p *piece, x, w float64, options []string) {
	if len(options) == 0 {
		return
	}
	radius := m.lead * 0.44
	indent := 2*radius + 2.2
	widest := 0.0
	cleaned := make([]string, len(options))
	for i, o := range options {
		cleaned[i] = clean(faceSans, o)
		if strings.Contains(o, "\n") {
			widest = w
		} else {
			widest = max(widest, s.width(faceSans, m.stem, cleaned[i]))
		}
	}
	columns := 1
	for _, n := range []int{4, 3, 2} {
		if n <= len(options) && widest+indent+4 <= w/float64(n) {
			columns = n
			break
		}
	}
	// Even columns: three of six, not four and two.
	rows := (len(options) + columns - 1) / columns
	columns = (len(options) + rows - 1) / rows
	columnWidth := w / float64(columns)
	rowLead := m.lead * 1.16
	y := p.height
	// Down the columns first: letters are read as a list.
	bottom := y
	for i, o := range cleaned {
		cx := x + float64(i/rows)*columnWidth
		if i%rows == 0 {
			y = p.height
		}
		p.add(step{op: opRing, x: cx + radius, y: y + 0.5*rowLead, w: radius, size: 0.22, grey: black})
		letter := OptionLetter(i)
		p.text(faceSansBold, m.caption, cx+radius-s.width(faceSansBold, m.caption, letter)/2, y+0.5*rowLead+0.36*m.caption*mmPerPoint, black, letter)
		lines := []string{o}
		if columns == 1 {
			lines = s.wrap(faceSans, m.stem, columnWidth-indent, o)
		}
		for j, line := range lines {
			p.text(faceSans, m.stem, cx+indent, y+0.5*rowLead+0.36*m.stem*mmPerPoint+float64(j)*m.lead, black, line)
		}
		y += rowLead + float64(len(lines)-1)*m.lead
		bottom = max(bottom, y)
	}
	p.height = bottom
}

// chaseStep sets one step of a chase: its letter, prompt and response.
func (m measures) chaseStep(s *setter, number, i int, step ChaseStep) piece {
	var p piece
	label := strconv.Itoa(number) + StepLetter(i)
	x := m.gutter
	indent := m.gutter * 0.8
	p.height = 0.3 * m.lead
	p.text(faceSansBold, m.stem, x, p.height+m.lead*0.78, black, StepLetter(i))
	for _, line := range s.wrap(faceSans, m.stem, m.right-m.left-x-indent, step.Prompt) {
		p.text(faceSans, m.stem, x+indent, p.height+m.lead*0.78, black, line)
		p.height += m.lead
	}
	p.height += 0.15 * m.lead
	m.response(s, &p, label, x+indent, step.Form, step.Options, step.Unit)
	p.height += 0.15 * m.lead
	return p
}

// placed is a piece at its height on a page.
type placed struct {
	piece *piece
	y     float64
}

// flow fills pages with pieces from the top down.
type flow struct {
	measures
	pages [][]placed
	y     float64
}

// room is what a page holds, mm.
func (m measures) room() float64 { return m.bottom - m.top }

func (f *flow) newPage() {
	f.pages = append(f.pages, nil)
	f.y = f.top
}

func (f *flow) put(p *piece) {
	last := len(f.pages) - 1
	f.pages[last] = append(f.pages[last], placed{p, f.y})
	f.y += p.height
}

// add places a question, on a new page where the rest of this one cannot hold
// it. One that no page holds is parted between its parts; which is the part
// that does not fit even so, from 0, or -1 for the head.
func (f *flow) add(q *setQuestion) (which int, ok bool) {
	if len(f.pages) == 0 || f.y+f.gap+q.height() > f.bottom {
		f.newPage()
	} else {
		f.y += f.gap / 2
		rule := &piece{}
		rule.add(step{op: opLine, w: f.right - f.left, size: 0.1, grey: midGrey})
		f.put(rule)
		f.y += f.gap / 2
	}
	if q.head.height > f.room() {
		return -1, false
	}
	f.put(&q.head)
	for i := range q.parts {
		if f.y+q.parts[i].height > f.bottom+1e-6 {
			if q.again.height+q.parts[i].height > f.room() {
				return i, false
			}
			f.newPage()
			f.put(&q.again)
		}
		f.put(&q.parts[i])
	}
	return 0, true
}

// paginate sets all questions and places them on pages. Questions are not
// broken; one that no page holds is set smaller, down to seven tenths; a
// chase that no page holds is parted between its steps.
func (m measures) paginate(s *setter, questions []Question) ([][]placed, error) {
	f := flow{measures: m}
	for _, q := range questions {
		set := m.question(s, q)
		smaller := m
		for share := 0.9; set.height() > m.room() && len(set.parts) == 0 && share > 0.69; share -= 0.1 {
			smaller.setSize(share)
			set = smaller.question(s, q)
		}
		if which, ok := f.add(&set); !ok {
			part := ""
			if len(set.parts) > 0 {
				part = ", its boxes and cautions alone,"
				if which >= 0 {
					part = ", step " + StepLetter(which) + " with the boxes repeated,"
				}
			}
			return nil, fmt.Errorf("question %d%s is higher than the %.0f mm of a page: shorten it or part it into two", q.Number, part, m.room())
		}
	}
	return f.pages, nil
}
