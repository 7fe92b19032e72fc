package paper

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestSheetFieldsByResponseForm(t *testing.T) {
	four := []string{"a", "b", "c", "d"}
	qs := []Question{
		{Number: 1, Form: ChooseOne, Options: four},
		{Number: 2, Form: ChooseSeveral, Options: four},
		{Number: 3, Form: TypedCode},
		{Number: 4, Form: NumberUnit, Unit: "Nm"},
		{Number: 5, Form: OrderSteps, Options: four[:2]},
		{Number: 6, Form: Chase, Steps: []ChaseStep{{Form: ChooseOne, Options: four}, {Form: TypedCode}, {Form: OrderSteps, Options: four[:2]}}},
	}
	fields, err := SheetFields(qs)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, f := range fields {
		got = append(got, fmt.Sprintf("%s:%d:%d:%s", f.Label(), f.Kind, f.Options, f.Hint))
	}
	want := "1:0:4: 2:1:4: 3:2:0: 4:2:0:number, in Nm 5.1:0:2: 5.2:0:2: 6a:0:4: 6b:2:0: 6c.1:0:2: 6c.2:0:2:"
	if s := strings.Join(got, " "); s != want {
		t.Errorf("fields\n%s, want\n%s", s, want)
	}
}

func TestSheetFieldsRefuses(t *testing.T) {
	tests := []struct {
		name string
		q    Question
		want string
	}{
		{"one option", Question{Number: 3, Options: []string{"a"}}, "question 3: 1 options"},
		{"nine options", Question{Number: 3, Options: make([]string, 9)}, "question 3: 9 options"},
		{"chase without steps", Question{Number: 4, Form: Chase}, "question 4: a chase of 0 steps"},
		{"chase within a chase", Question{Number: 4, Form: Chase, Steps: []ChaseStep{{Form: Chase}}}, "question 4a: no such response form"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := SheetFields([]Question{tt.q}); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("%v, want %q", err, tt.want)
			}
		})
	}
	if _, err := LayoutSheet(nil, false); err == nil {
		t.Error("a sheet without questions was laid out")
	}
}

// drawFields draws a random list of fields.
func drawFields(t *rapid.T) []SheetField {
	var fields []SheetField
	for q := range rapid.IntRange(1, 90).Draw(t, "questions") {
		parts := []string{""}
		if rapid.IntRange(0, 9).Draw(t, "several") == 0 {
			parts = strings.Split("abcdefgh", "")[:rapid.IntRange(2, 8).Draw(t, "parts")]
		}
		for _, part := range parts {
			f := SheetField{Question: q + 1, Part: part, Kind: rapid.SampledFrom([]FieldKind{MarkOne, MarkOne, MarkSeveral, Write}).Draw(t, "kind")}
			if f.Kind != Write {
				f.Options = rapid.IntRange(2, MaxOptions).Draw(t, "options")
			}
			fields = append(fields, f)
		}
	}
	return fields
}

// On any sheet: every field is there once, in order; all lies within the
// frame and clear of its marks; circles keep apart, from each other and from
// boxes, by what the reader measures around them.
func TestLayoutKeepsApart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fields := drawFields(t)
		pages, err := LayoutSheet(fields, rapid.Bool().Draw(t, "large"))
		if err != nil {
			t.Fatal(err)
		}
		seen := map[string]bool{}
		for i, page := range pages {
			if page.Number != i+1 || page.Of != len(pages) {
				t.Fatalf("page %d is numbered %d of %d", i, page.Number, page.Of)
			}
			var centres []Point
			for _, row := range page.Rows {
				seen[row.Field.Label()] = true
				if len(row.Bubbles) != row.Field.Options {
					t.Fatalf("%s has %d circles for %d options", row.Field.Label(), len(row.Bubbles), row.Field.Options)
				}
				centres = append(centres, row.Bubbles...)
			}
			for i, c := range centres {
				reach := 1.5 * page.Radius
				if c.X-reach < answersLeft || c.X+reach > answersRight+1.5 || c.Y-page.Radius < answersTop-1 || c.Y+page.Radius > answersBottom {
					t.Fatalf("a circle at %v leaves the answers' area", c)
				}
				for _, d := range centres[:i] {
					if dist := math.Hypot(c.X-d.X, c.Y-d.Y); dist < 2*page.Radius+0.8 {
						t.Fatalf("circles at %v and %v are %.2f mm apart, radius %.2f", c, d, dist, page.Radius)
					}
				}
				for _, b := range page.Boxes {
					dx := math.Max(math.Max(b.Box.X-c.X, c.X-b.Box.X-b.Box.W), 0)
					dy := math.Max(math.Max(b.Box.Y-c.Y, c.Y-b.Box.Y-b.Box.H), 0)
					if math.Hypot(dx, dy) < page.Radius+1 {
						t.Fatalf("circle at %v and box %v", c, b.Box)
					}
				}
			}
			for i, b := range page.Boxes {
				seen[b.Field.Label()] = true
				if b.Box.X < answersLeft || b.Box.X+b.Box.W > answersRight || b.Box.Y < answersTop || b.Box.Y+b.Box.H > answersBottom {
					t.Fatalf("box %v leaves the answers' area", b.Box)
				}
				for _, d := range page.Boxes[:i] {
					if b.Box.X < d.Box.X+d.Box.W && d.Box.X < b.Box.X+b.Box.W && b.Box.Y < d.Box.Y+d.Box.H && d.Box.Y < b.Box.Y+b.Box.H {
						t.Fatalf("boxes %v and %v overlap", b.Box, d.Box)
					}
				}
			}
		}
		if len(seen) != len(fields) {
			t.Fatalf("%d fields on the sheets of %d", len(seen), len(fields))
		}
	})
}

func TestDigestTellsLayoutsApart(t *testing.T) {
	layout := func(n int, kind FieldKind, options int, large bool) uint32 {
		var fields []SheetField
		for i := range n {
			fields = append(fields, SheetField{Question: i + 1, Kind: kind, Options: options})
		}
		pages, err := LayoutSheet(fields, large)
		if err != nil {
			t.Fatal(err)
		}
		return pages[0].Digest()
	}
	seen := map[uint32]string{}
	for _, n := range []int{1, 20, 40, 84} {
		for _, kind := range []FieldKind{MarkOne, MarkSeveral} {
			for options := 2; options <= MaxOptions; options++ {
				for _, large := range []bool{false, true} {
					name := fmt.Sprint(n, kind, options, large)
					d := layout(n, kind, options, large)
					if other, ok := seen[d]; ok {
						t.Errorf("%s and %s have the same digest", name, other)
					}
					seen[d] = name
					if d != layout(n, kind, options, large) {
						t.Errorf("%s: two digests", name)
					}
				}
			}
		}
	}
}

func TestOneSheetHoldsACommonForm(t *testing.T) {
	var fields []SheetField
	for i := range 80 {
		fields = append(fields, SheetField{Question: i + 1, Kind: MarkOne, Options: MaxOptions})
	}
	pages, err := LayoutSheet(fields, false)
	if err != nil || len(pages) != 1 {
		t.Errorf("80 questions of 8 options take %d sheets, %v", len(pages), err)
	}
}

// The edge marks must tell which way up the sheet is: turned or mirrored,
// hardly any may come to lie where another is looked for.
func TestEdgeMarksTellWhichWayUp(t *testing.T) {
	const reach = 5.0 // a mark is looked for up to 4 mm off
	turns := map[string]func(Point) Point{
		"half turn":  func(p Point) Point { return Point{FrameWidth - p.X, FrameHeight - p.Y} },
		"left-right": func(p Point) Point { return Point{FrameWidth - p.X, p.Y} },
		"top-bottom": func(p Point) Point { return Point{p.X, FrameHeight - p.Y} },
	}
	for name, turn := range turns {
		same, all := 0, 0
		for _, edge := range Ticks() {
			for _, p := range edge {
				all++
				q := turn(p)
				for _, other := range Ticks() {
					for _, o := range other {
						if math.Hypot(o.X-q.X, o.Y-q.Y) < reach {
							same++
						}
					}
				}
			}
		}
		if same > all/4 {
			t.Errorf("%s: %d of %d edge marks fall on another", name, same, all)
		}
	}
}

// ISO 838: holes of 6 mm, centres 12 mm from the edge. They, and the 6 mm at
// the edge that printers leave white (common practice, no source), must miss
// the frame's marks on both papers.
func TestFrameClearsHolesAndPrinterMargins(t *testing.T) {
	for size, paper := range map[PageSize]Point{A4: {210, 297}, Letter: {215.9, 279.4}} {
		left, top := (paper.X-FrameWidth)/2, (paper.Y-FrameHeight)/2
		if edge := left - TickSide/2; edge < 12+3 {
			t.Errorf("%s: side marks begin at %.1f mm, holes end at 15", size, edge)
		}
		if edge := top - MarkSide/2; edge < 6 {
			t.Errorf("%s: marks begin %.1f mm from the upper edge", size, edge)
		}
		if foot := top - 8.5; foot < 6 {
			t.Errorf("%s: the foot line is %.1f mm from the lower edge", size, foot)
		}
	}
}
