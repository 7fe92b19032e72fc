package scan

import (
	"image"
	"math"

	"rightpage/quiz/paper"
)

const (
	// tickReach is how far from where the corners put it an edge mark is
	// looked for, in mm: the most that a sheet may bend.
	tickReach = 4.0
	// leastTicks of the 19 edge marks must be seen to accept four corners.
	leastTicks = 14
	// patchStep is the grid on which edge marks are looked for, in mm.
	patchStep = 0.3
)

// registered is an image with the sheet's frame found in it.
type registered struct {
	img   *image.Gray
	frame homography
	bend  [4][]bendPoint // by paper.Side
	black float64        // brightness of solid print, paper white being 1
	ticks int            // edge marks seen
	worst float64        // largest bend, mm
}

// bendPoint is how far an edge is off the plane through the corners, at a
// place along it; both in mm of the frame.
type bendPoint struct {
	along  float64
	dx, dy float64
	seen   bool
}

// at is the image point of the frame point (x, y), bend included. The bend
// inside is the Coons patch over the four edges' bends, those of the corners
// being zero.
func (r *registered) at(x, y float64) vec {
	if r.worst > 0 {
		u, v := x/paper.FrameWidth, y/paper.FrameHeight
		u, v = min(max(u, 0), 1), min(max(v, 0), 1)
		tx, ty := bendAt(r.bend[paper.Top], x)
		bx, by := bendAt(r.bend[paper.Bottom], x)
		lx, ly := bendAt(r.bend[paper.Left], y)
		rx, ry := bendAt(r.bend[paper.Right], y)
		x += (1-v)*tx + v*bx + (1-u)*lx + u*rx
		y += (1-v)*ty + v*by + (1-u)*ly + u*ry
	}
	return r.frame.at(x, y)
}

// sample is the brightness (0 to 255) at a frame point.
func (r *registered) sample(x, y float64) float64 {
	p := r.at(x, y)
	return sample(r.img, p.x, p.y)
}

// local is the sheet around one point, taken as flat: exact enough over the
// few millimetres of a circle, and much cheaper than at.
type local struct {
	img            *image.Gray
	origin, ux, uy vec // the point; one mm right and down
}

// near is the sheet around the frame point (x, y).
func (r *registered) near(x, y float64) local {
	p := r.at(x, y)
	return local{r.img, p, r.at(x+1, y).minus(p), r.at(x, y+1).minus(p)}
}

// sample is the brightness dx mm right of and dy mm below the point.
func (l local) sample(dx, dy float64) float64 {
	return sample(l.img, l.origin.x+dx*l.ux.x+dy*l.uy.x, l.origin.y+dx*l.ux.y+dy*l.uy.y)
}

// bendAt interpolates linearly along an edge.
func bendAt(edge []bendPoint, along float64) (dx, dy float64) {
	for i := 1; i < len(edge); i++ {
		if along <= edge[i].along || i == len(edge)-1 {
			a, b := edge[i-1], edge[i]
			t := (along - a.along) / (b.along - a.along)
			t = min(max(t, 0), 1)
			return a.dx + t*(b.dx-a.dx), a.dy + t*(b.dy-a.dy)
		}
	}
	return 0, 0
}

// register confirms the arrangements by their edge marks, either way up, and
// returns the best, or nil.
func register(img *image.Gray, quads []quad) *registered {
	var best *registered
	for _, q := range quads {
		for _, corners := range [][4]vec{q.corners, {q.corners[2], q.corners[3], q.corners[0], q.corners[1]}} {
			m, ok := frameTo(corners)
			if !ok {
				continue
			}
			r := &registered{img: img, frame: m}
			r.findTicks()
			if best == nil || r.ticks > best.ticks {
				best = r
			}
		}
		if best != nil && best.ticks == tickCount() {
			break
		}
	}
	if best == nil || best.ticks < leastTicks {
		return nil
	}
	best.smoothBend()
	best.measureBlack()
	return best
}

func tickCount() int {
	n := 0
	for _, edge := range paper.Ticks() {
		n += len(edge)
	}
	return n
}

// findTicks looks for each edge mark and notes its displacement.
func (r *registered) findTicks() {
	// An edge mark has at least half the contrast of the corner marks; grey
	// print or a shadow has not.
	least := max(0.5*r.cornerContrast(), 0.1)
	for side, edge := range paper.Ticks() {
		vertical := side == int(paper.Left) || side == int(paper.Right)
		length := paper.FrameWidth
		if vertical {
			length = paper.FrameHeight
		}
		points := []bendPoint{{along: 0, seen: true}}
		for _, t := range edge {
			p := bendPoint{along: t.X}
			if vertical {
				p.along = t.Y
			}
			p.dx, p.dy, p.seen = r.findTick(t, least)
			if p.seen {
				r.ticks++
			}
			points = append(points, p)
		}
		r.bend[side] = append(points, bendPoint{along: length, seen: true})
	}
}

// findTick finds the solid square nearest to t: the place where a window of
// the mark's size is darkest against the rim around it.
func (r *registered) findTick(t paper.Point, least float64) (dx, dy float64, ok bool) {
	const (
		rim  = 1.2 // width of the white rim compared with, mm
		half = tickReach + paper.TickSide/2 + rim
		n    = 44 // 2*half/patchStep, rounded up
		in   = 9  // TickSide/patchStep: window side, samples
		out  = in + 2*4
	)
	var patch [n][n]float64
	var sum [n + 1][n + 1]float64
	for j := range n {
		line := 0.0
		for i := range n {
			p := r.frame.at(t.X-half+float64(i)*patchStep, t.Y-half+float64(j)*patchStep)
			patch[j][i] = sample(r.img, p.x, p.y)
			line += patch[j][i]
			sum[j+1][i+1] = sum[j][i+1] + line
		}
	}
	window := func(i, j, side int) float64 {
		return sum[j+side][i+side] - sum[j][i+side] - sum[j+side][i] + sum[j][i]
	}
	const margin = (out - in) / 2
	best, bi, bj := 0.0, -1, -1
	for j := 0; j+out <= n; j++ {
		for i := 0; i+out <= n; i++ {
			inside := window(i+margin, j+margin, in)
			outside := (window(i, j, out) - inside) / (out*out - in*in)
			inside /= in * in
			if outside < 8 {
				continue
			}
			if c := (outside - inside) / outside; c > best {
				best, bi, bj = c, i, j
			}
		}
	}
	if best < least || bi == 0 || bj == 0 || bi+out == n || bj+out == n {
		return 0, 0, false
	}
	// Centre of the darkness in and just around the window.
	rimMean := (window(bi, bj, out) - window(bi+margin, bj+margin, in)) / (out*out - in*in)
	var w, sx, sy float64
	for j := bj + 1; j < bj+out-1; j++ {
		for i := bi + 1; i < bi+out-1; i++ {
			if dark := (1-best/3)*rimMean - patch[j][i]; dark > 0 {
				w += dark
				sx += dark * float64(i)
				sy += dark * float64(j)
			}
		}
	}
	if w == 0 {
		return 0, 0, false
	}
	return sx/w*patchStep - half, sy/w*patchStep - half, true
}

// smoothBend drops edge marks that disagree with both neighbours (a hole, a
// thumb, a staple) and fills the gaps from the neighbours.
func (r *registered) smoothBend() {
	for side := range r.bend {
		edge := r.bend[side]
		for i := 1; i < len(edge)-1; i++ {
			if !edge[i].seen {
				continue
			}
			a, b := neighbours(edge, i)
			dx, dy := between(a, b, edge[i].along)
			if math.Hypot(edge[i].dx-dx, edge[i].dy-dy) > 1.5 {
				edge[i].seen = false
				r.ticks--
			}
		}
		for i := 1; i < len(edge)-1; i++ {
			if !edge[i].seen {
				a, b := neighbours(edge, i)
				edge[i].dx, edge[i].dy = between(a, b, edge[i].along)
			}
		}
		for _, p := range edge {
			r.worst = max(r.worst, math.Hypot(p.dx, p.dy))
		}
	}
}

func neighbours(edge []bendPoint, i int) (a, b bendPoint) {
	j, k := i-1, i+1
	for !edge[j].seen {
		j--
	}
	for !edge[k].seen {
		k++
	}
	return edge[j], edge[k]
}

func between(a, b bendPoint, along float64) (dx, dy float64) {
	t := (along - a.along) / (b.along - a.along)
	return a.dx + t*(b.dx-a.dx), a.dy + t*(b.dy-a.dy)
}

// measureBlack sets r.black from the corner and edge marks.
func (r *registered) measureBlack() {
	var found []float64
	for _, c := range paper.CornerMarks() {
		found = append(found, r.blackness(c, paper.MarkSide))
	}
	for _, edge := range paper.Ticks() {
		for _, c := range edge {
			found = append(found, r.blackness(c, paper.TickSide))
		}
	}
	r.black = quantile(found, 0.5)
}

// cornerContrast is how much darker the corner marks are than the paper
// beside them, 0 to 1.
func (r *registered) cornerContrast() float64 {
	sum := 0.0
	for _, c := range paper.CornerMarks() {
		sum += 1 - r.blackness(c, paper.MarkSide)
	}
	return sum / 4
}

// blackness is the brightness of a solid square over that of the paper beside
// it, 1 where there is no light to tell.
func (r *registered) blackness(c paper.Point, side float64) float64 {
	dark := 0.0
	var whites []float64
	for _, u := range []float64{-0.25, 0, 0.25} {
		for _, v := range []float64{-0.25, 0, 0.25} {
			dark += r.sample(c.X+u*side, c.Y+v*side) / 9
		}
	}
	d := side/2 + 1.2
	for _, u := range []float64{-d, d} {
		for _, v := range []float64{-d, d} {
			whites = append(whites, r.sample(c.X+u, c.Y+v))
		}
	}
	white := quantile(whites, 0.67)
	if white < 8 {
		return 1
	}
	return min(dark/white, 1)
}

// dpi is the resolution at the middle of the sheet, as printed on paper.
func (r *registered) dpi() float64 {
	return math.Sqrt(r.frame.area(paper.FrameWidth/2, paper.FrameHeight/2)) * 25.4
}

// tilt is how far the sheet's upper edge is turned from the image's, degrees.
func (r *registered) tilt() float64 {
	d := r.frame.at(paper.FrameWidth, 0).minus(r.frame.at(0, 0))
	return math.Atan2(d.y, d.x) * 180 / math.Pi
}

// crop is a straightened picture of a part of the sheet at perMM pixels per
// millimetre.
func (r *registered) crop(area paper.Rect, perMM float64) *image.Gray {
	w, h := int(math.Ceil(area.W*perMM)), int(math.Ceil(area.H*perMM))
	out := image.NewGray(image.Rect(0, 0, max(w, 1), max(h, 1)))
	for j := range h {
		for i := range w {
			v := r.sample(area.X+(float64(i)+0.5)/perMM, area.Y+(float64(j)+0.5)/perMM)
			out.Pix[j*out.Stride+i] = uint8(v + 0.5)
		}
	}
	return out
}
