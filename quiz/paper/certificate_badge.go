package paper

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"time"

	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"

	"rightpage/quiz/certificate"
)

// Badge is what the image of a certificate shows.
type Badge struct {
	Person       string
	Quiz         string
	Organisation string
	Catalog      string // title and revision
	Expires      time.Time
	Number       string
}

// BadgeOf shows what c states.
func BadgeOf(c certificate.Certificate) Badge {
	return Badge{Person: c.Person, Quiz: c.Quiz, Organisation: c.Organisation,
		Catalog: c.CatalogTitle + ", " + c.CatalogRevision, Expires: c.Expires, Number: c.Number}
}

// BadgeSide is the width and height of a badge in pixels.
const BadgeSide = 640

// Geometry of the badge, pixels. It is a leaf out of the certificate's shelf:
// a sheet with an index tab, which holds the number.
const (
	badgeMargin = 14.0
	badgeStroke = 7.0
	badgeTabH   = 54.0
	badgeTabW   = 262.0
	badgeInner  = 54.0 // left edge of the text
)

// WriteBadge writes the badge as a PNG, for screens; it stays readable in
// black and white. The same badge gives the same bytes from the same build of
// the program. The credential is baked in by package credential.
func WriteBadge(w io.Writer, b Badge) error {
	if b.Person == "" || b.Quiz == "" || b.Organisation == "" || b.Number == "" || b.Expires.IsZero() {
		return errors.New("paper: a badge needs person, quiz, organisation, expiry and number")
	}
	c := newCanvas(BadgeSide, BadgeSide)
	paperWhite := color.NRGBA{255, 255, 255, 255}
	dark := inkText.color()

	// The sheet with its tab, as an outline and the white inside it.
	c.fill(dark, sheetOutline(badgeMargin))
	c.fill(paperWhite, sheetOutline(badgeMargin+badgeStroke))

	left, right := badgeInner, BadgeSide-badgeInner
	c.shelf(b.Number, left, 124, right-left, 138)

	text := []struct {
		f           face
		size, least float64
		y           float64
		ink         ink
		s           string
	}{
		{faceMono, 22, 13, badgeMargin + 43, inkText, b.Number},
		{faceDisplay, 47, 26, 344, inkText, b.Quiz},
		{faceDisplayItalic, 39, 22, 410, inkText, b.Person},
		{faceDisplay, 27, 17, 494, inkQuiet, b.Catalog},
		{faceDisplay, 27, 17, 532, inkQuiet, b.Organisation},
		{faceDisplayItalic, 27, 17, 570, inkQuiet, "valid through " + longDate(b.Expires)},
	}
	for i, t := range text {
		width := right - left
		if i == 0 { // in the tab
			width = badgeTabW - (left - badgeMargin) - 30
		}
		if err := c.text(displayFace(t.s, t.f), t.size, t.least, left, t.y, width, t.ink.color(), t.s); err != nil {
			return err
		}
	}
	c.fill(inkRule.color(), rectangle(left, 450, right-left, 1.5))

	encoder := png.Encoder{CompressionLevel: png.BestCompression}
	var out bytes.Buffer
	if err := encoder.Encode(&out, c.paletted()); err != nil {
		return fmt.Errorf("paper: badge %s: %w", b.Number, err)
	}
	if _, err := w.Write(out.Bytes()); err != nil {
		return fmt.Errorf("paper: badge %s: %w", b.Number, err)
	}
	return nil
}

func (k ink) color() color.NRGBA {
	return color.NRGBA{uint8(k.r), uint8(k.g), uint8(k.b), 255}
}

// point is a place on a canvas, pixels from the top left.
type point struct{ x, y float64 }

// sheetOutline is the outline of a sheet with an index tab at its upper left,
// inset from the edge of the image.
func sheetOutline(inset float64) []point {
	in := inset - badgeMargin // how far inside the outermost line
	far := BadgeSide - inset
	shoulder := badgeMargin + badgeTabH + in
	slope := 26.0
	tabRight := badgeMargin + badgeTabW - in*0.55
	return []point{
		{inset, inset}, {tabRight - slope, inset}, {tabRight, shoulder},
		{far, shoulder}, {far, far}, {inset, far},
	}
}

func rectangle(x, y, w, h float64) []point {
	return []point{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}
}

// A canvas is an image drawn on with smooth edges.
type canvas struct {
	img  *image.RGBA
	w, h int
}

func newCanvas(w, h int) *canvas {
	return &canvas{img: image.NewRGBA(image.Rect(0, 0, w, h)), w: w, h: h}
}

// fill paints the inside of a polygon.
func (c *canvas) fill(with color.NRGBA, polygon []point) {
	// Only the part of the image around the polygon is worked on.
	box := image.Rectangle{Min: image.Pt(c.w, c.h)}
	for _, p := range polygon {
		box.Min.X = min(box.Min.X, int(math.Floor(p.x)))
		box.Min.Y = min(box.Min.Y, int(math.Floor(p.y)))
		box.Max.X = max(box.Max.X, int(math.Ceil(p.x)))
		box.Max.Y = max(box.Max.Y, int(math.Ceil(p.y)))
	}
	box = box.Intersect(c.img.Bounds())
	z := vector.NewRasterizer(box.Dx(), box.Dy())
	for i, p := range polygon {
		x, y := float32(p.x-float64(box.Min.X)), float32(p.y-float64(box.Min.Y))
		if i == 0 {
			z.MoveTo(x, y)
		} else {
			z.LineTo(x, y)
		}
	}
	z.ClosePath()
	z.Draw(c.img, box, image.NewUniform(with), image.Point{})
}

// shelf draws the leaves of a certificate number, as on the certificate.
func (c *canvas) shelf(seed string, x, y, w, h float64) {
	const leaves = 89
	s := shelfOf(seed, leaves)
	pitch := w / leaves
	base := y + h
	for i, leaf := range s.leaves {
		if leaf == 0 {
			continue
		}
		lx := x + (float64(i)+0.5)*pitch
		if i == s.page {
			c.fill(inkAccent.color(), rectangle(lx-2.8, y-22, 5.6, h+22))
			continue
		}
		c.fill(inkQuiet.color(), rectangle(math.Round(lx)-1, base-h*leaf, 2, h*leaf))
	}
	c.fill(inkText.color(), rectangle(x, base, w, 4))
}

// text draws one line, smaller if it is wider than w, cut short if it is
// still wider at the least size.
func (c *canvas) text(f face, size, least, x, y, w float64, with color.NRGBA, text string) error {
	parsed, err := f.sfnt()
	if err != nil {
		return err
	}
	text = firstRunes(f.printable(text), longestLine)
	for {
		// At 72 dpi a point is a pixel.
		drawn, err := opentype.NewFace(parsed, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingNone})
		if err != nil {
			return fmt.Errorf("paper: font %s: %w", faceTable[f].file, err)
		}
		width := float64(font.MeasureString(drawn, text)) / 64
		if width > w && size > least {
			// Width grows with size, so one step leads close to the right size.
			size = max(least, min(size-1, size*w/width))
			continue
		}
		if width > w {
			text = prefixOf(text, func(s string) bool { return float64(font.MeasureString(drawn, s+"…"))/64 <= w }) + "…"
		}
		d := font.Drawer{Dst: c.img, Src: image.NewUniform(with), Face: drawn,
			Dot: fixed.Point26_6{X: fixed.Int26_6(x * 64), Y: fixed.Int26_6(y * 64)}}
		d.DrawString(text)
		return nil
	}
}

// paletted gives the image in 256 colours: greys, shades of the accent, and
// clear. It is a third of the size and looks the same.
func (c *canvas) paletted() *image.Paletted {
	palette := color.Palette{color.NRGBA{}}
	mix := func(from, to color.NRGBA, steps int) {
		for i := range steps {
			t := float64(i) / float64(steps-1)
			at := func(a, b uint8) uint8 { return uint8(math.Round(float64(a) + t*(float64(b)-float64(a)))) }
			palette = append(palette, color.NRGBA{at(from.R, to.R), at(from.G, to.G), at(from.B, to.B), 255})
		}
	}
	white := color.NRGBA{255, 255, 255, 255}
	mix(inkText.color(), white, 120)
	mix(inkQuiet.color(), white, 40)
	mix(inkAccent.color(), white, 32)
	// Edges of the sheet against nothing.
	for i := 1; i < 60; i++ {
		k := inkText.color()
		k.A = uint8(255 * i / 60)
		palette = append(palette, k)
	}
	// The image has few colours, so each is looked for once.
	nearest := make(map[color.RGBA]uint8)
	out := image.NewPaletted(c.img.Bounds(), palette)
	for i := range out.Pix {
		p := c.img.Pix[4*i : 4*i+4 : 4*i+4]
		k := color.RGBA{p[0], p[1], p[2], p[3]}
		index, ok := nearest[k]
		if !ok {
			index = uint8(palette.Index(k))
			nearest[k] = index
		}
		out.Pix[i] = index
	}
	return out
}
