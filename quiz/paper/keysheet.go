package paper

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
)

// KeySheet is the coordinator's key to one form variant: the answers at a
// glance for marking by hand, then for each question how the answer is found
// and what a wrong answer tells.
type KeySheet struct {
	Organisation string
	Title        string
	Variant      string
	Catalog      string // the catalog and revision that the key was computed from
	Entries      []KeyEntry
}

// KeyEntry is one question or one step of a chase.
type KeyEntry struct {
	Label  string // as on the answer sheet: "12", "12a"
	Stem   string
	Key    string // what is to be on the answer sheet: "C", "B, D", "118 Nm ± 2"
	Means  string // the key in words, where Key is a letter
	Points int
	Trace  []KeyStep
	Slips  []KeySlip
}

// KeyStep is one step of the lookup.
type KeyStep struct {
	Rule     string   // "Data card"
	Read     string   // what went in: "product number TFLK42E7R1N004816"
	Chosen   string   // what came out: "K42-E, engine TD3-27T"
	RuledOut []string // what else was considered, and why not: "TD3-24: through 2026-09"
}

// KeySlip is what a wrong answer tells.
type KeySlip struct {
	Answer string // the letter, or the value written
	Slip   string // "limit read on the wrong side"
}

// WriteKeySheet prints a key sheet.
func WriteKeySheet(w io.Writer, k KeySheet, o BookletOptions, created time.Time) error {
	if len(k.Entries) == 0 {
		return errors.New("paper: key sheet: no question")
	}
	m, err := measuresFor(o)
	if err != nil {
		return fmt.Errorf("paper: key sheet: %w", err)
	}
	m.top = 28
	m.gap = m.lead * 0.9
	pdf, err := newDocument(documentOptions{
		Size: o.Size, Title: "Key: " + k.Title + ", form " + k.Variant, Author: k.Organisation, Created: created,
		Faces: []face{faceSans, faceSansBold, faceSansItalic, faceMono, faceMonoBold},
	})
	if err != nil {
		return err
	}
	p := press{measures: m}
	p.setter.use(pdf)
	s := &p.setter

	f := flow{measures: m}
	glance := m.keyGlance(s, k.Entries)
	f.add(&glance)
	for _, e := range k.Entries {
		entry := m.keyEntry(s, e)
		if which, ok := f.add(&entry); !ok {
			return fmt.Errorf("paper: key sheet: question %s, step %d, is higher than a page: shorten it", e.Label, which+1)
		}
	}
	for i, page := range f.pages {
		s.newPage()
		p.keyHead(&k)
		for _, piece := range page {
			piece.piece.draw(s, p.left, piece.y)
		}
		p.foot(&Booklet{Variant: k.Variant, PersonName: "key, not for hand-out", Catalog: k.Catalog}, i+1, len(f.pages))
	}
	if err := pdf.Output(w); err != nil {
		return fmt.Errorf("paper: key sheet: %w", err)
	}
	return nil
}

// keyHead is the head of each page: white on black, so that a key left in the
// printer is seen from afar for what it is.
func (p *press) keyHead(k *KeySheet) {
	s := &p.setter
	const h = 10.0
	top := 11.0
	s.fill(p.left, top, p.right-p.left, h, black)
	base := top + h/2 + 0.36*12*mmPerPoint
	const word = "KEY"
	s.text(faceSansBold, 12, p.left+3, base, 255, word)
	left := p.left + 3 + s.width(faceSansBold, 12, word) + 4
	form := "form " + s.fit(faceSansBold, 12, 40, k.Variant)
	s.textRight(faceSansBold, 12, p.right-3, base, 255, form)
	s.text(faceSans, 10, left, base, 255, s.fit(faceSans, 10, p.right-3-s.width(faceSansBold, 12, form)-5-left, k.Title))
}

// keyGlance is the table of keys: columns of label and key, read downwards.
func (m measures) keyGlance(s *setter, entries []KeyEntry) setQuestion {
	var out setQuestion
	w := m.right - m.left
	out.head.text(faceSansBold, m.stem*1.1, 0, m.lead*0.8, black, "All answers")
	out.head.height = m.lead * 1.6
	out.again.text(faceSansBold, m.stem*1.1, 0, m.lead*0.8, black, "All answers, continued")
	out.again.height = m.lead * 1.6
	widest, label := 0.0, 0.0
	for _, e := range entries {
		widest = max(widest, s.width(faceSansBold, m.stem, clean(faceSansBold, e.Key)))
		label = max(label, s.width(faceSans, m.small, clean(faceSans, e.Label)))
	}
	label = min(label, w/4) + 3
	columns := min(max(int(w/(label+widest+7)), 1), 6)
	columnWidth := w / float64(columns)
	lead := m.lead * 1.12
	most := columns * int((m.room()-3*m.lead)/lead) // on a page
	for ; len(entries) > 0; entries = entries[min(most, len(entries)):] {
		var p piece
		part := entries[:min(most, len(entries))]
		rows := (len(part) + columns - 1) / columns
		for i, e := range part {
			x, y := float64(i/rows)*columnWidth, float64(i%rows)*lead
			if (i%rows)%2 == 0 {
				p.add(step{op: opFill, x: x, y: y, w: columnWidth - 2, h: lead, grey: 242})
			}
			p.add(step{op: opTextRight, face: faceSans, size: m.small, x: x + label - 1, y: y + lead*0.72, grey: softBlack, text: s.fit(faceSans, m.small, label, e.Label)})
			p.text(faceSansBold, m.stem, x+label+1, y+lead*0.72, black, s.fit(faceSansBold, m.stem, columnWidth-label-4, e.Key))
		}
		p.height = float64(rows)*lead + 0.4*m.lead
		out.parts = append(out.parts, p)
	}
	return out
}

// keyEntry sets one question: what, the key, the steps of the lookup, and the
// wrong answers.
func (m measures) keyEntry(s *setter, e KeyEntry) setQuestion {
	var out setQuestion
	w := m.right - m.left
	gutter := m.gutter + 3
	head := &out.head
	head.text(faceSansBold, m.stem*1.18, 0, m.lead*0.8, black, s.fit(faceSansBold, m.stem*1.18, gutter-1, e.Label))
	stemWidth := w - gutter
	if e.Points > 0 {
		points := fmt.Sprintf("%d points", e.Points)
		if e.Points == 1 {
			points = "1 point"
		}
		head.add(step{op: opTextRight, face: faceSans, size: m.caption, x: w, y: m.lead * 0.8, grey: softBlack, text: points})
		stemWidth -= s.width(faceSans, m.caption, points) + 4
	}
	lead := m.lead * 0.95
	for _, line := range s.wrap(faceSans, m.small, stemWidth, e.Stem) {
		head.text(faceSans, m.small, gutter, head.height+lead*0.8, black, line)
		head.height += lead
	}
	// The key in a frame, its meaning beside it.
	key := clean(faceSansBold, e.Key)
	keyWidth := min(s.width(faceSansBold, m.stem, key)+5, w-gutter)
	key = s.fit(faceSansBold, m.stem, keyWidth-4, key)
	h := m.lead * 1.25
	head.height += 0.25 * lead
	head.add(step{op: opBox, x: gutter, y: head.height, w: keyWidth, h: h, size: 0.4, grey: black})
	head.text(faceSansBold, m.stem, gutter+2.5, head.height+h*0.68, black, key)
	if e.Means != "" {
		lines := s.wrap(faceSans, m.small, w-gutter-keyWidth-3, e.Means)
		for i, line := range lines {
			head.text(faceSans, m.small, gutter+keyWidth+3, head.height+h*0.66+float64(i)*lead, black, line)
		}
		h = max(h, h*0.66+float64(len(lines)-1)*lead+0.4*lead)
	}
	head.height += h + 0.35*lead

	out.again.text(faceSansItalic, m.small, gutter, lead*0.8, black, e.Label+", continued")
	out.again.height = lead * 1.3

	for i, t := range e.Trace {
		out.parts = append(out.parts, m.keyStep(s, gutter, i+1, t))
	}
	if len(e.Slips) > 0 {
		out.parts = append(out.parts, m.keySlips(s, gutter, e.Slips))
	}
	return out
}

// keyStep is one step: number, rule, what was read and chosen, and in small
// type what was ruled out.
func (m measures) keyStep(s *setter, x float64, number int, t KeyStep) piece {
	var p piece
	w := m.right - m.left - x
	lead := m.lead * 0.92
	const ruleShare = 0.26
	p.text(faceSans, m.caption, x, lead*0.78, softBlack, fmt.Sprint(number))
	rule := x + 5
	what := x + w*ruleShare
	rules := s.wrap(faceSansBold, m.caption*1.1, w*ruleShare-7, t.Rule)
	for i, line := range rules {
		p.text(faceSansBold, m.caption*1.1, rule, lead*(float64(i)+0.78), black, line)
	}
	text := t.Chosen
	if t.Read != "" {
		text = t.Read + " → " + t.Chosen
	}
	y := 0.0
	for _, line := range s.wrap(faceSans, m.small, x+w-what, text) {
		p.text(faceSans, m.small, what, y+lead*0.78, black, line)
		y += lead
	}
	if len(t.RuledOut) > 0 {
		small := lead * 0.86
		for _, line := range s.wrap(faceSans, m.caption, x+w-what, "Not: "+strings.Join(t.RuledOut, "; ")) {
			p.text(faceSans, m.caption, what, y+small*0.78, softBlack, line)
			y += small
		}
	}
	p.height = max(y, lead*float64(len(rules))) + 0.15*lead
	p.add(step{op: opLine, x: rule, y: p.height - 0.05*lead, w: w - 5, size: 0.08, grey: 190})
	return p
}

// keySlips lists what wrong answers tell, in one paragraph of two columns
// where short.
func (m measures) keySlips(s *setter, x float64, slips []KeySlip) piece {
	var p piece
	w := m.right - m.left - x
	lead := m.lead * 0.9
	p.height = 0.3 * lead
	p.text(faceSansItalic, m.small, x, p.height+lead*0.78, black, "A wrong answer tells")
	p.height += lead * 1.05
	answer, widest := 0.0, 0.0
	for _, sl := range slips {
		answer = max(answer, s.width(faceSansBold, m.small, clean(faceSansBold, sl.Answer)))
		widest = max(widest, s.width(faceSans, m.small, clean(faceSans, sl.Slip)))
	}
	answer = min(answer, w*0.3) + 3
	columns := 1
	if answer+widest+4 < w/2 {
		columns = 2
	}
	rows := (len(slips) + columns - 1) / columns
	columnWidth := w / float64(columns)
	y, bottom := p.height, p.height
	for i, sl := range slips {
		if i%rows == 0 {
			y = p.height
		}
		cx := x + float64(i/rows)*columnWidth
		p.text(faceSansBold, m.small, cx, y+lead*0.78, black, s.fit(faceSansBold, m.small, answer-1, sl.Answer))
		for _, line := range s.wrap(faceSans, m.small, columnWidth-answer-2, sl.Slip) {
			p.text(faceSans, m.small, cx+answer, y+lead*0.78, black, line)
			y += lead
		}
		bottom = max(bottom, y)
	}
	p.height = bottom + 0.2*lead
	return p
}
