package paper

import (
	"fmt"
	"hash/crc32"
	"strconv"
	"strings"
)

// The geometry of an answer sheet. All lengths are millimetres; all points
// are in the frame's coordinates: the origin is the centre of the top left
// corner mark, x runs right and y down, and the centres of the other marks
// are (FrameWidth, 0), (0, FrameHeight) and (FrameWidth, FrameHeight).
//
// The frame is the same on A4 and on Letter, where it is centred, so that a
// reader need not know the paper, nor whether a printer scaled it to fit. Its
// sides keep clear of what printers cannot reach and of punched holes
// (ISO 838: 12 mm from the edge, 6 mm across).
const (
	FrameWidth  = 174.0
	FrameHeight = 246.0

	MarkSide = 7.0 // the four solid corner squares
	TickSide = 2.6 // the small squares between them
	CodeSide = 30.0
	CodeX    = 136.0 // left edge of the square code, without its quiet zone
	CodeY    = 8.0
	// CodeModules is the number of modules along a side: version 5.
	CodeModules = 37

	// BubbleLine is the thickness of a circle's line; its centre is at
	// SheetPage.Radius.
	BubbleLine = 0.3
)

const (
	codeVersion = 5

	answersTop    = 55.0
	answersBottom = 240.5
	answersLeft   = 7.0
	answersRight  = 167.0
)

// Point is a place on the sheet, in millimetres of the frame.
type Point struct{ X, Y float64 }

// Rect is a box on the sheet, in millimetres of the frame.
type Rect struct{ X, Y, W, H float64 }

// CornerMarks are the centres of the corner marks: top left, top right,
// bottom right, bottom left.
func CornerMarks() [4]Point {
	return [4]Point{{0, 0}, {FrameWidth, 0}, {FrameWidth, FrameHeight}, {0, FrameHeight}}
}

// Side names an edge of the frame.
type Side int

// The edges of the frame, in the order of Ticks.
const (
	Top Side = iota
	Right
	Bottom
	Left
)

// Ticks are the centres of the small squares along each edge, by Side, each
// list in growing x or y. They tell which way up the sheet lies (no turn of
// the sheet maps them onto themselves) and how it is bent between the corners.
func Ticks() [4][]Point {
	var t [4][]Point
	for _, x := range []float64{36, 70, 104, 122} {
		t[Top] = append(t[Top], Point{x, 0})
	}
	for _, x := range []float64{26, 61, 96, 131} {
		t[Bottom] = append(t[Bottom], Point{x, FrameHeight})
	}
	for _, y := range []float64{44, 85, 126, 167, 208} {
		t[Left] = append(t[Left], Point{0, y})
	}
	for _, y := range []float64{22, 66, 107, 148, 189, 229} {
		t[Right] = append(t[Right], Point{FrameWidth, y})
	}
	return t
}

// FieldKind is how one field of the sheet is filled in.
type FieldKind int

// The kinds of field.
const (
	MarkOne     FieldKind = iota // a row of circles, one to fill
	MarkSeveral                  // a row of circles, one or more to fill
	Write                        // a box to write in
)

// SheetField is one thing to fill in: a question, a place of an ordering, or
// a step of a chase.
type SheetField struct {
	Question int    // the question's number
	Part     string // "" or the step letter of a chase and, in an ordering, the place: "a", "1", "a1"
	Kind     FieldKind
	Options  int    // circles, for the Mark kinds
	Hint     string // what to write, for Write
}

// Label is what is printed before the field: "12", "12a", "12.1", "12a.1".
func (f SheetField) Label() string {
	letter := strings.TrimRight(f.Part, "0123456789")
	label := strconv.Itoa(f.Question) + letter
	if place := f.Part[len(letter):]; place != "" {
		label += "." + place
	}
	return label
}

// BubbleRow is a row of circles.
type BubbleRow struct {
	Field   SheetField
	Label   Point   // right end of the label's base line
	Bubbles []Point // centres, in the order of the options
}

// WriteBox is a box to write in; Caption stands inside its top edge.
type WriteBox struct {
	Field   SheetField
	Label   Point
	Box     Rect
	Caption string
}

// SheetPage is the geometry of one answer sheet.
type SheetPage struct {
	Number, Of int     // this sheet and how many the form needs
	Radius     float64 // of the circles
	Rows       []BubbleRow
	Boxes      []WriteBox
}

// SheetFields lists what a form's answer sheet asks for, in order.
func SheetFields(questions []Question) ([]SheetField, error) {
	var fields []SheetField
	for _, q := range questions {
		if q.Form != Chase {
			fs, err := responseFields(q.Number, "", q.Form, q.Options, q.Unit)
			if err != nil {
				return nil, err
			}
			fields = append(fields, fs...)
			continue
		}
		if len(q.Steps) == 0 || len(q.Steps) > MaxSteps {
			return nil, fmt.Errorf("question %d: a chase of %d steps: it needs 1 to %d", q.Number, len(q.Steps), MaxSteps)
		}
		for i, step := range q.Steps {
			fs, err := responseFields(q.Number, StepLetter(i), step.Form, step.Options, step.Unit)
			if err != nil {
				return nil, err
			}
			fields = append(fields, fs...)
		}
	}
	return fields, nil
}

func responseFields(number int, part string, form ResponseForm, options []string, unit string) ([]SheetField, error) {
	where := SheetField{Question: number, Part: part}.Label()
	if form == ChooseOne || form == ChooseSeveral || form == OrderSteps {
		if n := len(options); n < 2 || n > MaxOptions {
			return nil, fmt.Errorf("question %s: %d options: the answer sheet has room for 2 to %d", where, n, MaxOptions)
		}
	}
	switch form {
	case ChooseOne:
		return []SheetField{{Question: number, Part: part, Kind: MarkOne, Options: len(options)}}, nil
	case ChooseSeveral:
		return []SheetField{{Question: number, Part: part, Kind: MarkSeveral, Options: len(options)}}, nil
	case TypedCode:
		return []SheetField{{Question: number, Part: part, Kind: Write}}, nil
	case NumberUnit:
		hint := "number and unit"
		if unit != "" {
			hint = "number, in " + unit
		}
		return []SheetField{{Question: number, Part: part, Kind: Write, Hint: hint}}, nil
	case OrderSteps:
		var fs []SheetField
		for place := range options {
			fs = append(fs, SheetField{Question: number, Part: part + strconv.Itoa(place+1), Kind: MarkOne, Options: len(options)})
		}
		return fs, nil
	}
	return nil, fmt.Errorf("question %s: no such response form (%d) on paper", where, int(form))
}

// sheetScale is one way of filling the sheet: how large, how close.
type sheetScale struct {
	columns      int
	radius       float64
	bubblePitch  float64
	labelWidth   float64
	rowPitch     float64
	boxHeight    float64
	boxGap       float64
	questionGap  float64 // before and after a question of several fields
	rowsInAGroup int     // a wider gap follows every so many rows
}

// sheetScales are tried from the roomiest; the last is used over as many
// sheets as it takes.
func sheetScales(large bool) []sheetScale {
	if large {
		base := sheetScale{columns: 2, radius: 3.4, bubblePitch: 7.9, labelWidth: 15.8, rowPitch: 9.6, boxHeight: 13, boxGap: 3.5, questionGap: 1.8, rowsInAGroup: 5}
		wide := base
		wide.rowPitch = 11
		return []sheetScale{wide, base}
	}
	base := sheetScale{columns: 3, radius: 2.3, bubblePitch: 5.5, labelWidth: 8.6, rowPitch: 6.4, boxHeight: 10, boxGap: 2.2, questionGap: 1.2, rowsInAGroup: 5}
	wide, medium := base, base
	wide.rowPitch, medium.rowPitch = 8.4, 7.3
	return []sheetScale{wide, medium, base}
}

// LayoutSheet places the fields on as few answer sheets as they need. large
// is the large-print sheet. The same fields always give the same geometry.
func LayoutSheet(fields []SheetField, large bool) ([]SheetPage, error) {
	if len(fields) == 0 {
		return nil, fmt.Errorf("answer sheet: no question to answer")
	}
	var pages []SheetPage
	for _, scale := range sheetScales(large) {
		var err error
		if pages, err = scale.place(fields); err != nil {
			return nil, err
		}
		if len(pages) == 1 {
			break
		}
	}
	if len(pages) > maxSheetPages {
		return nil, fmt.Errorf("answer sheet: %d fields need %d sheets, %d is the most: split the quiz", len(fields), len(pages), maxSheetPages)
	}
	for i := range pages {
		pages[i].Number, pages[i].Of = i+1, len(pages)
	}
	return pages, nil
}

// fieldHeight is the height that a field takes from its column.
func (s sheetScale) fieldHeight(f SheetField) float64 {
	if f.Kind == Write {
		return s.boxHeight + s.boxGap
	}
	return s.rowPitch
}

// place sets the fields in columns, from the top of the first. Fields of one
// question stay in one column where a column can hold them.
func (s sheetScale) place(fields []SheetField) ([]SheetPage, error) {
	pages := []SheetPage{{Radius: s.radius}}
	columnWidth := (answersRight - answersLeft) / float64(s.columns)
	column, y, inGroup := 0, answersTop, 0
	next := func() {
		column, y, inGroup = column+1, answersTop, 0
		if column == s.columns {
			column = 0
			pages = append(pages, SheetPage{Radius: s.radius})
		}
	}
	for i := 0; i < len(fields); {
		last := i + 1
		for last < len(fields) && fields[last].Question == fields[i].Question {
			last++
		}
		several := last-i > 1
		height := 0.0
		for _, f := range fields[i:last] {
			height += s.fieldHeight(f)
		}
		if several && y > answersTop {
			y += s.questionGap
			inGroup = 0
		}
		if y+height > answersBottom && height <= answersBottom-answersTop && y > answersTop {
			next()
		}
		for ; i < last; i++ {
			f := fields[i]
			if inGroup == s.rowsInAGroup && !several && f.Kind != Write {
				y += s.questionGap
				inGroup = 0
			}
			h := s.fieldHeight(f)
			if y+h > answersBottom {
				next()
			}
			page := &pages[len(pages)-1]
			left := answersLeft + float64(column)*columnWidth
			if err := s.add(page, f, left, y); err != nil {
				return nil, err
			}
			y += h
			inGroup++
			if f.Kind == Write {
				inGroup = 0
			}
		}
		if several {
			y += s.questionGap
			inGroup = 0
		}
	}
	return pages, nil
}

func (s sheetScale) add(page *SheetPage, f SheetField, left, y float64) error {
	if f.Kind == Write {
		box := Rect{X: left + s.labelWidth, Y: y + s.boxGap/2, W: 8*s.bubblePitch - 1, H: s.boxHeight}
		page.Boxes = append(page.Boxes, WriteBox{
			Field: f, Box: box, Caption: f.Hint,
			Label: Point{left + s.labelWidth - 1.4, box.Y + box.H/2 + 0.42*s.radius},
		})
		return nil
	}
	if f.Options < 1 || f.Options > MaxOptions {
		return fmt.Errorf("question %s: %d options: the answer sheet has room for 1 to %d", f.Label(), f.Options, MaxOptions)
	}
	mid := y + s.rowPitch/2
	row := BubbleRow{Field: f, Label: Point{left + s.labelWidth - 1.4, mid + 0.42*s.radius}}
	for i := range f.Options {
		row.Bubbles = append(row.Bubbles, Point{left + s.labelWidth + (float64(i)+0.5)*s.bubblePitch, mid})
	}
	page.Rows = append(page.Rows, row)
	return nil
}

// Digest is a checksum of the geometry. It is part of the sheet code: a sheet
// that was printed from another geometry, say before an upgrade, is refused
// rather than misread.
func (p SheetPage) Digest() uint32 {
	h := crc32.NewIEEE()
	fmt.Fprintf(h, "1 %d %d %.2f\n", p.Number, p.Of, p.Radius)
	for _, r := range p.Rows {
		fmt.Fprintf(h, "%s %d", r.Field.Label(), r.Field.Kind)
		for _, b := range r.Bubbles {
			fmt.Fprintf(h, " %.2f %.2f", b.X, b.Y)
		}
		fmt.Fprintln(h)
	}
	for _, b := range p.Boxes {
		fmt.Fprintf(h, "%s %.2f %.2f %.2f %.2f\n", b.Field.Label(), b.Box.X, b.Box.Y, b.Box.W, b.Box.H)
	}
	return h.Sum32()
}

// Code is the sheet code of this page for one person.
func (p SheetPage) Code(quiz, variant, person string) SheetCode {
	return SheetCode{Quiz: quiz, Variant: variant, Person: person, Page: p.Number, Pages: p.Of, Layout: p.Digest()}
}
