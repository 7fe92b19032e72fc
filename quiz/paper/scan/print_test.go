package scan

import (
	"image"
	"math"
	"math/rand/v2"
	"os"
	"sync"
	"testing"

	"github.com/skip2/go-qrcode"
	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"

	"rightpage/quiz/paper"
)

// canvas is a sheet of A4 being printed and written on, at a resolution,
// straight from the sheet's geometry. Ink is multiplied: a pencil over print
// stays as dark as print.
type canvas struct {
	img   *image.Gray
	perMM float64
	left  float64 // of the frame's origin, mm from the paper's edge
	top   float64
	faces map[float64]font.Face
}

const (
	a4Width, a4Height = 210.0, 297.0
	printDPI          = 300
)

func newCanvas(dpi float64) *canvas {
	c := &canvas{perMM: dpi / 25.4, left: (a4Width - paper.FrameWidth) / 2, top: (a4Height - paper.FrameHeight) / 2, faces: map[float64]font.Face{}}
	c.img = image.NewGray(image.Rect(0, 0, int(a4Width*c.perMM), int(a4Height*c.perMM)))
	for i := range c.img.Pix {
		c.img.Pix[i] = 247
	}
	return c
}

func (c *canvas) clone() *canvas {
	d := *c
	img := *c.img
	img.Pix = append([]uint8(nil), c.img.Pix...)
	d.img = &img
	return &d
}

// shade darkens every pixel within the box by 1-darkness·coverage, coverage
// being what inside says at the pixel's centre, in frame millimetres.
func (c *canvas) shade(x0, y0, x1, y1, darkness float64, inside func(x, y float64) float64) {
	b := c.img.Rect
	i0, i1 := max(int((x0+c.left)*c.perMM)-1, 0), min(int((x1+c.left)*c.perMM)+2, b.Dx())
	j0, j1 := max(int((y0+c.top)*c.perMM)-1, 0), min(int((y1+c.top)*c.perMM)+2, b.Dy())
	for j := j0; j < j1; j++ {
		y := (float64(j)+0.5)/c.perMM - c.top
		for i := i0; i < i1; i++ {
			x := (float64(i)+0.5)/c.perMM - c.left
			if k := inside(x, y); k > 0 {
				p := &c.img.Pix[j*c.img.Stride+i]
				*p = uint8(float64(*p)*(1-darkness*k) + 0.5)
			}
		}
	}
}

// cover paints over what is printed, as a hole, a thumb or a label does.
func (c *canvas) cover(r paper.Rect, value uint8) {
	for j := range c.img.Rect.Dy() {
		y := (float64(j)+0.5)/c.perMM - c.top
		if y < r.Y || y > r.Y+r.H {
			continue
		}
		for i := range c.img.Rect.Dx() {
			if x := (float64(i)+0.5)/c.perMM - c.left; x >= r.X && x <= r.X+r.W {
				c.img.Pix[j*c.img.Stride+i] = value
			}
		}
	}
}

// edge is the coverage of a pixel whose centre is d mm inside an outline.
func (c *canvas) edge(d float64) float64 { return min(max(d*c.perMM+0.5, 0), 1) }

func (c *canvas) rect(r paper.Rect, darkness float64) {
	c.shade(r.X, r.Y, r.X+r.W, r.Y+r.H, darkness, func(x, y float64) float64 {
		return c.edge(min(x-r.X, r.X+r.W-x)) * c.edge(min(y-r.Y, r.Y+r.H-y))
	})
}

func (c *canvas) disc(x0, y0, r, darkness float64) {
	c.shade(x0-r, y0-r, x0+r, y0+r, darkness, func(x, y float64) float64 {
		return c.edge(r - math.Hypot(x-x0, y-y0))
	})
}

func (c *canvas) ring(x0, y0, r, line, darkness float64) {
	c.shade(x0-r-1, y0-r-1, x0+r+1, y0+r+1, darkness, func(x, y float64) float64 {
		return c.edge(line/2 - math.Abs(math.Hypot(x-x0, y-y0)-r))
	})
}

// stroke is a line with round ends.
func (c *canvas) stroke(x0, y0, x1, y1, width, darkness float64) {
	dx, dy := x1-x0, y1-y0
	length := dx*dx + dy*dy
	c.shade(min(x0, x1)-width, min(y0, y1)-width, max(x0, x1)+width, max(y0, y1)+width, darkness, func(x, y float64) float64 {
		t := min(max(((x-x0)*dx+(y-y0)*dy)/length, 0), 1)
		return c.edge(width/2 - math.Hypot(x-x0-t*dx, y-y0-t*dy))
	})
}

var printFont = sync.OnceValues(func() (*opentype.Font, error) {
	data, err := os.ReadFile("../fonts/DejaVuSansCondensed.ttf")
	if err != nil {
		return nil, err
	}
	return opentype.Parse(data)
})

// text sets a line with its base line at (x, y); size in points. align is 0
// left, 0.5 middle, 1 right.
func (c *canvas) text(t testing.TB, x, y, size, align, darkness float64, s string) {
	face := c.faces[size]
	if face == nil {
		f, err := printFont()
		if err != nil {
			t.Fatal(err)
		}
		if face, err = opentype.NewFace(f, &opentype.FaceOptions{Size: size, DPI: c.perMM * 25.4}); err != nil {
			t.Fatal(err)
		}
		c.faces[size] = face
	}
	width := float64(font.MeasureString(face, s)) / 64
	dot := fixed.Point26_6{
		X: fixed.Int26_6(((x+c.left)*c.perMM - align*width) * 64),
		Y: fixed.Int26_6((y + c.top) * c.perMM * 64),
	}
	ink := image.NewUniform(grayAt(1 - darkness))
	(&font.Drawer{Dst: c.img, Src: ink, Face: face, Dot: dot}).DrawString(s)
}

// printSheet prints a page with its code, as paper's PDF shows it.
func printSheet(t testing.TB, page paper.SheetPage, code paper.SheetCode, dpi float64) *canvas {
	t.Helper()
	c := newCanvas(dpi)
	const black = 0.9
	for _, m := range paper.CornerMarks() {
		c.rect(paper.Rect{X: m.X - paper.MarkSide/2, Y: m.Y - paper.MarkSide/2, W: paper.MarkSide, H: paper.MarkSide}, black)
	}
	for _, edge := range paper.Ticks() {
		for _, m := range edge {
			c.rect(paper.Rect{X: m.X - paper.TickSide/2, Y: m.Y - paper.TickSide/2, W: paper.TickSide, H: paper.TickSide}, black)
		}
	}
	printCode(t, c, code.String())
	c.text(t, 7, 14, 15, 0, black, "Finding the right page")
	c.text(t, 7, 24, 10, 0, black, "Wexcombe Estate & Farm Services · form B · T. Example")
	c.text(t, 7, 46, 8, 0, black, "Fill one circle for each question. To change it, cross it out and fill another.")
	c.text(t, paper.FrameWidth/2, paper.FrameHeight+8, 7, 0.5, black, code.String())
	for _, row := range page.Rows {
		c.text(t, row.Label.X, row.Label.Y, 8, 1, black, row.Field.Label())
		for i, b := range row.Bubbles {
			c.ring(b.X, b.Y, page.Radius, paper.BubbleLine, black)
			c.text(t, b.X, b.Y+0.36*page.Radius, 2.9*page.Radius, 0.5, 0.5, paper.OptionLetter(i))
		}
	}
	for _, b := range page.Boxes {
		c.text(t, b.Label.X, b.Label.Y, 8, 1, black, b.Field.Label())
		for _, r := range []paper.Rect{
			{X: b.Box.X, Y: b.Box.Y, W: b.Box.W, H: 0.3}, {X: b.Box.X, Y: b.Box.Y + b.Box.H - 0.3, W: b.Box.W, H: 0.3},
			{X: b.Box.X, Y: b.Box.Y, W: 0.3, H: b.Box.H}, {X: b.Box.X + b.Box.W - 0.3, Y: b.Box.Y, W: 0.3, H: b.Box.H},
		} {
			c.rect(r, black)
		}
		c.text(t, b.Box.X+1, b.Box.Y+2.4, 5.5, 0, 0.6, b.Caption)
	}
	return c
}

// printCode prints a square code where the sheet has its own.
func printCode(t testing.TB, c *canvas, text string) {
	t.Helper()
	const black = 0.9
	q, err := qrcode.NewWithForcedVersion(text, 5, qrcode.Medium)
	if err != nil {
		t.Fatal(err)
	}
	q.DisableBorder = true
	const module = paper.CodeSide / paper.CodeModules
	for j, line := range q.Bitmap() {
		for i := 0; i < len(line); i++ {
			n := 0
			for i+n < len(line) && line[i+n] {
				n++
			}
			if n > 0 {
				c.rect(paper.Rect{X: paper.CodeX + float64(i)*module, Y: paper.CodeY + float64(j)*module, W: float64(n) * module, H: module}, black)
				i += n
			}
		}
	}
}

// hand is how a person fills circles.
type hand struct {
	rng      *rand.Rand
	darkness float64 // of the pen or pencil
	width    float64 // of a stroke, mm
	slip     float64 // how far off the middle, mm
}

// fill scribbles a circle full.
func (h hand) fill(c *canvas, b paper.Point, r float64) {
	x := b.X + h.slip*(2*h.rng.Float64()-1)
	y := b.Y + h.slip*(2*h.rng.Float64()-1)
	angle := h.rng.Float64() * math.Pi
	s, co := math.Sincos(angle)
	step := h.width * 0.85
	for v := -r * 0.95; v <= r*0.95; v += step {
		half := math.Sqrt(max(0, r*r-v*v)) * (0.88 + 0.14*h.rng.Float64())
		v := v + 0.12*h.width*(2*h.rng.Float64()-1)
		c.stroke(x-half*co-v*s, y-half*s+v*co, x+half*co-v*s, y+half*s+v*co, h.width, h.darkness*(0.94+0.06*h.rng.Float64()))
	}
}

// rubOut leaves what an eraser leaves of a filled circle.
func (h hand) rubOut(c *canvas, b paper.Point, r, left float64) {
	c.disc(b.X+0.3*(h.rng.Float64()-0.5), b.Y+0.3*(h.rng.Float64()-0.5), r*1.05, left)
}

// crossOut strikes a circle with a cross that leaves it.
func (h hand) crossOut(c *canvas, b paper.Point, r float64) {
	d := r * (1.15 + 0.3*h.rng.Float64())
	c.stroke(b.X-d, b.Y-d, b.X+d, b.Y+d, h.width*1.1, max(h.darkness, 0.7))
	c.stroke(b.X-d, b.Y+d, b.X+d, b.Y-d, h.width*1.1, max(h.darkness, 0.7))
}

// tick makes a tick in a circle instead of filling it.
func (h hand) tick(c *canvas, b paper.Point, r float64) {
	c.stroke(b.X-0.6*r, b.Y, b.X-0.1*r, b.Y+0.55*r, h.width, h.darkness)
	c.stroke(b.X-0.1*r, b.Y+0.55*r, b.X+0.8*r, b.Y-0.7*r, h.width, h.darkness)
}
