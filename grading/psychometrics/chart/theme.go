package chart

import "math"

// Theme is a set of colours for one kind of background.
type Theme int

const (
	// Light is dark ink on white: pages by day, and paper.
	Light Theme = iota
	// Dark is light ink on near black.
	Dark
)

// colour is opaque sRGB; it satisfies color.Color.
type colour struct{ r, g, b uint8 }

// RGBA gives the colour in the form of image/color.
func (c colour) RGBA() (r, g, b, a uint32) {
	return uint32(c.r) * 0x101, uint32(c.g) * 0x101, uint32(c.b) * 0x101, 0xffff
}

// palette holds the roles of colours. The two accents differ in lightness as
// well as in hue (blue and orange, which every common kind of colour vision
// tells apart), so that they differ in grey too.
type palette struct {
	background, ink, muted, faint, first, second colour
}

func (t Theme) palette() palette {
	if t == Dark {
		return palette{
			background: colour{0x12, 0x16, 0x1c},
			ink:        colour{0xe8, 0xea, 0xed},
			muted:      colour{0x8a, 0x93, 0x9f},
			faint:      colour{0x2c, 0x33, 0x3d},
			first:      colour{0x5f, 0xa8, 0xe8},
			second:     colour{0xf2, 0xb5, 0x5a},
		}
	}
	return palette{
		background: colour{0xff, 0xff, 0xff},
		ink:        colour{0x1c, 0x21, 0x28},
		muted:      colour{0x6b, 0x73, 0x7e},
		faint:      colour{0xe2, 0xe6, 0xea},
		first:      colour{0x0f, 0x4c, 0x81},
		second:     colour{0xc0, 0x6a, 0x12},
	}
}

// luminance is the relative luminance of WCAG 2.2.
func (c colour) luminance() float64 {
	linear := func(v uint8) float64 {
		s := float64(v) / 255
		if s <= 0.04045 {
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	return 0.2126*linear(c.r) + 0.7152*linear(c.g) + 0.0722*linear(c.b)
}

// contrast is the contrast ratio of WCAG 2.2, 1 to 21.
func contrast(a, b colour) float64 {
	x, y := a.luminance(), b.luminance()
	if x < y {
		x, y = y, x
	}
	return (x + 0.05) / (y + 0.05)
}
