package chart

import (
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// shape is the form of a mark; groups differ in shape as well as in colour.
type shape int

const (
	disc shape = iota
	diamond
	triangle
	square
	shapes // their number
)

// mark draws a shape of a size (half its height, in points), filled with one
// colour and outlined with another.
func mark(dc draw.Canvas, s shape, at vg.Point, size vg.Length, fill, outline colour) {
	var path vg.Path
	corner := func(angle, radius float64) vg.Point {
		return vg.Point{X: at.X + size*vg.Length(radius*math.Cos(angle)), Y: at.Y + size*vg.Length(radius*math.Sin(angle))}
	}
	polygon := func(n int, start, radius float64) {
		for i := range n {
			p := corner(start+2*math.Pi*float64(i)/float64(n), radius)
			if i == 0 {
				path.Move(p)
			} else {
				path.Line(p)
			}
		}
		path.Close()
	}
	switch s {
	case diamond:
		polygon(4, 0, 1.25)
	case triangle:
		polygon(3, math.Pi/2, 1.3)
	case square:
		polygon(4, math.Pi/4, 1.25)
	default:
		path.Move(vg.Point{X: at.X + size, Y: at.Y})
		path.Arc(at, size, 0, 2*math.Pi)
		path.Close()
	}
	dc.SetColor(fill)
	dc.Fill(path)
	dc.SetLineStyle(line(outline, 1.1))
	dc.Stroke(path)
}
