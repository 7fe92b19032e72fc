package scan

import (
	"math"

	"rightpage/quiz/paper"
)

// vec is a point of an image, in pixels.
type vec struct{ x, y float64 }

func (a vec) minus(b vec) vec        { return vec{a.x - b.x, a.y - b.y} }
func (a vec) cross(b vec) float64    { return a.x*b.y - a.y*b.x }
func (a vec) length() float64        { return math.Hypot(a.x, a.y) }
func (a vec) distance(b vec) float64 { return a.minus(b).length() }
func (a vec) scaled(f float64) vec   { return vec{a.x * f, a.y * f} }
func (a vec) plus(b vec) vec         { return vec{a.x + b.x, a.y + b.y} }

// homography maps the sheet's frame, in millimetres, onto an image, in pixels.
type homography struct{ a, b, c, d, e, f, g, h float64 }

// frameTo is the perspective map that takes the frame's corner marks, in the
// order of paper.CornerMarks, to q. The closed form for a unit square is
// Heckbert's (Fundamentals of Texture Mapping and Image Warping, 1989,
// section 2.2.3).
func frameTo(q [4]vec) (homography, bool) {
	d1, d2 := q[1].minus(q[2]), q[3].minus(q[2])
	s := vec{q[0].x - q[1].x + q[2].x - q[3].x, q[0].y - q[1].y + q[2].y - q[3].y}
	den := d1.cross(d2)
	if math.Abs(den) < 1e-9 {
		return homography{}, false
	}
	g := s.cross(d2) / den
	h := d1.cross(s) / den
	m := homography{
		a: q[1].x - q[0].x + g*q[1].x, b: q[3].x - q[0].x + h*q[3].x, c: q[0].x,
		d: q[1].y - q[0].y + g*q[1].y, e: q[3].y - q[0].y + h*q[3].y, f: q[0].y,
		g: g, h: h,
	}
	// From the unit square to the frame.
	m.a /= paper.FrameWidth
	m.d /= paper.FrameWidth
	m.g /= paper.FrameWidth
	m.b /= paper.FrameHeight
	m.e /= paper.FrameHeight
	m.h /= paper.FrameHeight
	return m, true
}

func (m homography) at(x, y float64) vec {
	w := 1 / (m.g*x + m.h*y + 1)
	return vec{(m.a*x + m.b*y + m.c) * w, (m.d*x + m.e*y + m.f) * w}
}

// area is how many square pixels a square millimetre at (x, y) covers.
func (m homography) area(x, y float64) float64 {
	w := m.g*x + m.h*y + 1
	p := m.at(x, y)
	// Derivatives of the two quotients.
	xx, xy := (m.a-p.x*m.g)/w, (m.b-p.x*m.h)/w
	yx, yy := (m.d-p.y*m.g)/w, (m.e-p.y*m.h)/w
	return math.Abs(xx*yy - xy*yx)
}
