package scan

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"rightpage/quiz/paper"
)

// Everything that a person may do to a row besides filling one circle, and
// what becomes of it. The rest of the sheet is filled in properly.
func TestFlagsForReview(t *testing.T) {
	tests := []struct {
		name string
		do   func(h hand, c *canvas, row paper.BubbleRow, r float64)
		want Flag
		mark []int // where Clear
	}{
		{"one filled", func(h hand, c *canvas, row paper.BubbleRow, r float64) { h.fill(c, row.Bubbles[2], r) }, Clear, []int{2}},
		{"nothing", func(h hand, c *canvas, row paper.BubbleRow, r float64) {}, Blank, nil},
		{"two filled", func(h hand, c *canvas, row paper.BubbleRow, r float64) {
			h.fill(c, row.Bubbles[0], r)
			h.fill(c, row.Bubbles[3], r)
		}, Double, nil},
		{"all filled", func(h hand, c *canvas, row paper.BubbleRow, r float64) {
			for _, b := range row.Bubbles {
				h.fill(c, b, r)
			}
		}, Double, nil},
		{"rubbed out, nothing else", func(h hand, c *canvas, row paper.BubbleRow, r float64) { h.rubOut(c, row.Bubbles[1], r, 0.18) }, Faint, nil},
		{"rubbed out and another filled", func(h hand, c *canvas, row paper.BubbleRow, r float64) {
			h.rubOut(c, row.Bubbles[1], r, 0.15)
			h.fill(c, row.Bubbles[2], r)
		}, Faint, nil},
		{"rubbed out badly", func(h hand, c *canvas, row paper.BubbleRow, r float64) {
			h.rubOut(c, row.Bubbles[1], r, 0.35)
			h.fill(c, row.Bubbles[2], r)
		}, Faint, nil},
		{"a tick", func(h hand, c *canvas, row paper.BubbleRow, r float64) { h.tick(c, row.Bubbles[1], r) }, Partial, nil},
		{"a small cross within", func(h hand, c *canvas, row paper.BubbleRow, r float64) {
			b := row.Bubbles[1]
			c.stroke(b.X-0.5*r, b.Y-0.5*r, b.X+0.5*r, b.Y+0.5*r, 0.5, 0.85)
			c.stroke(b.X-0.5*r, b.Y+0.5*r, b.X+0.5*r, b.Y-0.5*r, 0.5, 0.85)
		}, Partial, nil},
		{"a dot", func(h hand, c *canvas, row paper.BubbleRow, r float64) {
			c.disc(row.Bubbles[1].X, row.Bubbles[1].Y, 0.45*r, 0.85)
		}, Partial, nil},
		{"half filled", func(h hand, c *canvas, row paper.BubbleRow, r float64) {
			b := row.Bubbles[1]
			c.shade(b.X-r, b.Y-r, b.X, b.Y+r, 0.85, func(x, y float64) float64 { return c.edge(min(r-math.Hypot(x-b.X, y-b.Y), b.X-x)) })
		}, Partial, nil},
		{"filled and crossed out", func(h hand, c *canvas, row paper.BubbleRow, r float64) {
			h.fill(c, row.Bubbles[1], r)
			h.crossOut(c, row.Bubbles[1], r)
		}, CrossedOut, nil},
		{"filled, crossed out, another filled", func(h hand, c *canvas, row paper.BubbleRow, r float64) {
			h.fill(c, row.Bubbles[1], r)
			h.crossOut(c, row.Bubbles[1], r)
			h.fill(c, row.Bubbles[2], r)
		}, CrossedOut, nil},
		{"struck through at a slant", func(h hand, c *canvas, row paper.BubbleRow, r float64) {
			b := row.Bubbles[1]
			h.fill(c, b, r)
			c.stroke(b.X-1.3*r, b.Y+1.3*r, b.X+1.3*r, b.Y-1.3*r, 0.6, 0.85)
		}, CrossedOut, nil},
		{"a line through the row", func(h hand, c *canvas, row paper.BubbleRow, r float64) {
			h.fill(c, row.Bubbles[1], r)
			c.stroke(row.Bubbles[0].X-2*r, row.Bubbles[0].Y, row.Bubbles[3].X+2*r, row.Bubbles[0].Y, 0.6, 0.85)
		}, Partial, nil},
		{"blackened over", func(h hand, c *canvas, row paper.BubbleRow, r float64) {
			c.rect(paper.Rect{X: row.Bubbles[0].X - 2*r, Y: row.Bubbles[0].Y - 1.3*r, W: 14 * r, H: 2.6 * r}, 0.9)
		}, CrossedOut, nil},
		{"a label stuck over", func(h hand, c *canvas, row paper.BubbleRow, r float64) {
			c.cover(paper.Rect{X: row.Bubbles[0].X - 2*r, Y: row.Bubbles[0].Y - 1.4*r, W: 20 * r, H: 2.8 * r}, 240)
		}, Unreadable, nil},
	}
	for i, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			place := []int{1, 22, 45}[i%3] // first, second and third column
			rng := rand.New(rand.NewPCG(uint64(place), 8))
			h := pen(rng)
			c, page, _ := blankSheet(t, "T-001")
			for i, row := range page.Rows {
				if i == place {
					tt.do(h, c, row, page.Radius)
				} else {
					h.fill(c, row.Bubbles[rng.IntN(len(row.Bubbles))], page.Radius)
				}
			}
			sheet, refusal := readPicture(shrink(c.img, 2), lookupFull)
			if refusal != nil {
				t.Fatalf("%s: %v", tt.name, refusal)
			}
			row := sheet.Rows[place]
			if row.Flag != tt.want || tt.want == Clear && !slices.Equal(row.Marked, tt.mark) {
				t.Errorf("%s, row %s: %s, want %s:%s", tt.name, row.Field.Label(), row.Flag, tt.want, inks(row))
			}
			if (row.Crop == nil) != (row.Flag == Clear) {
				t.Errorf("%s: a picture of the row is there: %v", tt.name, row.Crop != nil)
			}
			if clear := row.Flag == Clear; clear != (row.Confidence > 0) {
				t.Errorf("%s: flag %s with confidence %.2f", tt.name, row.Flag, row.Confidence)
			}
			for i, other := range sheet.Rows {
				if i != place && other.Flag != Clear && other.Field.Kind == paper.MarkOne {
					t.Errorf("row %s beside it is flagged, %s:%s", other.Field.Label(), other.Flag, inks(other))
				}
			}
		})
	}
}

// Where several may be filled, several are no double mark, and a blank is
// still flagged.
func TestSeveralMarks(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 8))
	h := pen(rng)
	c, page, _ := blankSheet(t, "T-001")
	for i, row := range page.Rows {
		if row.Field.Kind == paper.MarkSeveral && row.Field.Question == 51 {
			h.fill(c, row.Bubbles[0], page.Radius)
			h.fill(c, row.Bubbles[1], page.Radius)
			h.fill(c, row.Bubbles[4], page.Radius)
		} else if row.Field.Kind == paper.MarkOne {
			h.fill(c, page.Rows[i].Bubbles[0], page.Radius)
		}
	}
	sheet, refusal := readPicture(shrink(c.img, 2), lookupFull)
	if refusal != nil {
		t.Fatal(refusal)
	}
	for _, row := range sheet.Rows {
		switch row.Field.Question {
		case 51:
			if row.Flag != Clear || !slices.Equal(row.Marked, []int{0, 1, 4}) {
				t.Errorf("question 51: %s %v", row.Flag, row.Marked)
			}
		case 52:
			if row.Flag != Blank {
				t.Errorf("question 52: %s", row.Flag)
			}
		}
	}
	if sheet.Flagged() != 1 {
		t.Errorf("%d rows flagged, one was left blank", sheet.Flagged())
	}
}

// An untouched sheet, and one with every circle of each row filled, must not
// teach the reader a wrong idea of what empty and filled look like.
func TestUniformSheets(t *testing.T) {
	c, page, _ := blankSheet(t, "T-001")
	sheet, refusal := readPicture(shrink(c.img, 2), lookupFull)
	if refusal != nil {
		t.Fatal(refusal)
	}
	for _, row := range sheet.Rows {
		if row.Flag != Blank {
			t.Errorf("untouched, row %s: %s:%s", row.Field.Label(), row.Flag, inks(row))
		}
	}
	h := pen(rand.New(rand.NewPCG(3, 9)))
	for _, row := range page.Rows {
		for _, b := range row.Bubbles {
			h.fill(c, b, page.Radius)
		}
	}
	if sheet, refusal = readPicture(shrink(c.img, 2), lookupFull); refusal != nil {
		t.Fatal(refusal)
	}
	for _, row := range sheet.Rows {
		if row.Flag == Clear && row.Field.Kind == paper.MarkOne {
			t.Errorf("all filled, row %s is clear: %v", row.Field.Label(), row.Marked)
		}
	}
}

// A box's crop shows what is written in it, straight, whatever the sheet's
// tilt; and its ink tells written from empty.
func TestBoxesAreCroppedStraight(t *testing.T) {
	c, page, _ := blankSheet(t, "T-002")
	h := pen(rand.New(rand.NewPCG(3, 8)))
	for _, row := range page.Rows {
		h.fill(c, row.Bubbles[0], page.Radius)
	}
	// A cross-hair in the middle of the first box, nothing in the others.
	box := page.Boxes[0].Box
	mx, my := box.X+box.W/2, box.Y+box.H/2
	c.stroke(mx-8, my, mx+8, my, 0.6, 0.85)
	c.stroke(mx, my-3, mx, my+3, 0.6, 0.85)
	rng := rand.New(rand.NewPCG(5, 8))
	img := distortion{dpi: 150, turn: 12, perspective: 0.1, margin: 10, shadow: 0.4}.apply(t, c, rng)
	sheet, refusal := readPicture(img, lookupFull)
	if refusal != nil {
		t.Fatal(refusal)
	}
	if len(sheet.Boxes) != len(page.Boxes) {
		t.Fatalf("%d boxes", len(sheet.Boxes))
	}
	crop := sheet.Boxes[0].Crop
	w, ht := crop.Rect.Dx(), crop.Rect.Dy()
	dark := func(x, y int) bool { return crop.GrayAt(x, y).Y < 120 }
	for _, dx := range []int{-50, 0, 50} {
		found := false
		for dy := -3; dy <= 3; dy++ {
			found = found || dark(w/2+dx, ht/2+dy)
		}
		if !found {
			t.Errorf("the level stroke is not at %+d from the middle", dx)
		}
	}
	if dark(w/2+40, ht/2-12) || dark(w/2-40, ht/2+12) {
		t.Error("ink where there is none")
	}
	if sheet.Boxes[0].Ink < 0.01 {
		t.Errorf("ink of the written box %.4f", sheet.Boxes[0].Ink)
	}
	for _, b := range sheet.Boxes[1:] {
		if b.Ink > 0.002 {
			t.Errorf("box %s is empty, ink %.4f", b.Field.Label(), b.Ink)
		}
	}
	if math.Abs(sheet.Quality.Tilt-12) > 4 || sheet.Quality.DPI < 130 || sheet.Quality.DPI > 170 {
		t.Errorf("quality %+v", sheet.Quality)
	}
}

// Some edge marks lost to holes, thumbs and staples do no harm.
func TestLostEdgeMarks(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 8))
	c, page, _ := blankSheet(t, "T-001")
	want := answer(c, page, pen(rng), 0)
	ticks := paper.Ticks()
	for _, p := range []paper.Point{ticks[paper.Left][1], ticks[paper.Left][3], ticks[paper.Top][0]} {
		c.cover(paper.Rect{X: p.X - 4, Y: p.Y - 4, W: 8, H: 8}, 90) // a thumb
	}
	img := distortion{dpi: 130, turn: 3, curl: 1.5}.apply(t, c, rng)
	sheet, refusal := readPicture(img, lookupFull)
	if refusal != nil {
		t.Fatal(refusal)
	}
	if got := compare(sheet.Rows, want); got.wrong > 0 {
		t.Errorf("%v %v", got, got.examples)
	}
	if sheet.Quality.Ticks > 16 {
		t.Errorf("%d edge marks seen, three are gone", sheet.Quality.Ticks)
	}
}
