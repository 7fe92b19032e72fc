package scan

import (
	"cmp"
	"image"
	"math"
	"slices"

	"rightpage/quiz/paper"
)

// blob is a connected dark region.
type blob struct {
	area   float64
	centre vec
}

const (
	// maxBlobs is how many square blobs, from the largest, are tried as
	// corner marks; their fours are enumerated.
	maxBlobs = 36
	// markPercent of its surroundings' brightness is the most that print may
	// have.
	markPercent = 78
	// tracePercent is what the faintest print that is worth a remark has.
	tracePercent = 90
	// maxQuads is how many arrangements are handed on to be confirmed.
	maxQuads = 12
)

// darkMask marks the pixels darker than their surroundings: below a percentage
// of the mean of a window as wide as an eighth of the image. The local mean
// takes shadows and page colour out; a corner mark, of a fortieth of the
// sheet's height, is small in it.
func darkMask(g *image.Gray, percent int) []bool {
	w, h := g.Rect.Dx(), g.Rect.Dy()
	half := max(w, h) / 16
	// Column sums over the window's rows, updated row by row, then a sliding
	// sum over the columns: two additions a pixel and no integral image.
	columns := make([]int, w)
	for y := 0; y < min(half, h); y++ {
		for x, v := range g.Pix[y*g.Stride:][:w] {
			columns[x] += int(v)
		}
	}
	mask := make([]bool, w*h)
	for y := range h {
		if in := y + half; in < h {
			for x, v := range g.Pix[in*g.Stride:][:w] {
				columns[x] += int(v)
			}
		}
		if out := y - half - 1; out >= 0 {
			for x, v := range g.Pix[out*g.Stride:][:w] {
				columns[x] -= int(v)
			}
		}
		rows := min(y+half, h-1) - max(y-half, 0) + 1
		sum := 0
		for x := 0; x < min(half, w); x++ {
			sum += columns[x]
		}
		in := g.Pix[y*g.Stride:][:w]
		out := mask[y*w:][:w]
		for x := range w {
			if i := x + half; i < w {
				sum += columns[i]
			}
			if i := x - half - 1; i >= 0 {
				sum -= columns[i]
			}
			n := rows * (min(x+half, w-1) - max(x-half, 0) + 1)
			out[x] = int(in[x])*n*100 < sum*percent
		}
	}
	return mask
}

// squareBlobs finds the 4-connected regions of mask that can be a solid
// square seen in perspective, largest first.
func squareBlobs(mask []bool, w, h int) []blob {
	type moments struct {
		parent              int32
		n, x, y, xx, yy, xy float64
	}
	var regions []moments
	find := func(i int32) int32 {
		for regions[i].parent != i {
			regions[i].parent = regions[regions[i].parent].parent
			i = regions[i].parent
		}
		return i
	}
	type run struct {
		from, to int // columns, to excluded
		region   int32
	}
	var above, here []run
	for y := range h {
		here = here[:0]
		row := mask[y*w:][:w]
		k := 0 // first run above that may still touch
		for x := 0; x < w; {
			if !row[x] {
				x++
				continue
			}
			from := x
			for x < w && row[x] {
				x++
			}
			region := int32(-1)
			for k < len(above) && above[k].to <= from {
				k++
			}
			for j := k; j < len(above) && above[j].from < x; j++ {
				other := find(above[j].region)
				switch {
				case region < 0:
					region = other
				case other != region:
					a, b := &regions[region], &regions[other]
					b.parent = region
					a.n, a.x, a.y = a.n+b.n, a.x+b.x, a.y+b.y
					a.xx, a.yy, a.xy = a.xx+b.xx, a.yy+b.yy, a.xy+b.xy
				}
			}
			if region < 0 {
				region = int32(len(regions))
				regions = append(regions, moments{parent: region})
			}
			r := &regions[region]
			n, fy := float64(x-from), float64(y)
			first, last := float64(from), float64(x-1)
			sx := n * (first + last) / 2
			sxx := n*(first+last)*(first+last)/4 + n*(n*n-1)/12
			r.n, r.x, r.y = r.n+n, r.x+sx, r.y+n*fy
			r.xx, r.yy, r.xy = r.xx+sxx, r.yy+n*fy*fy, r.xy+sx*fy
			here = append(here, run{from, x, region})
		}
		above, here = here, above
	}

	long := float64(max(w, h))
	least, most := (0.007*long)*(0.007*long), (0.07*long)*(0.07*long)
	var blobs []blob
	for i, r := range regions {
		if r.parent != int32(i) || r.n < least || r.n > most {
			continue
		}
		cx, cy := r.x/r.n, r.y/r.n
		// Central second moments; a pixel's own extent adds a twelfth.
		xx := r.xx/r.n - cx*cx + 1.0/12
		yy := r.yy/r.n - cy*cy + 1.0/12
		xy := r.xy/r.n - cx*cy
		det := xx*yy - xy*xy
		if det <= 0 {
			continue
		}
		// For any affine image of a solid square, area = 12 √det; a ring,
		// text or a stroke has far less area for its spread.
		if solid := r.n / (12 * math.Sqrt(det)); solid < 0.8 || solid > 1.2 {
			continue
		}
		mean := (xx + yy) / 2
		spread := math.Sqrt(max(0, mean*mean-det))
		if mean+spread > 6*(mean-spread) { // axes more than about 2.4 to 1
			continue
		}
		blobs = append(blobs, blob{area: r.n, centre: vec{cx, cy}})
	}
	slices.SortFunc(blobs, func(a, b blob) int {
		return cmp.Or(cmp.Compare(b.area, a.area), cmp.Compare(a.centre.y, b.centre.y), cmp.Compare(a.centre.x, b.centre.x))
	})
	return blobs
}

// quad is four blobs taken as corner marks, in the order of
// paper.CornerMarks but for a half turn, which the edge marks decide.
type quad struct {
	corners [4]vec
	misfit  float64
}

// markQuads lists the arrangements of four blobs that a sheet in perspective
// can have, best first.
func markQuads(blobs []blob) []quad {
	if len(blobs) > maxBlobs {
		blobs = blobs[:maxBlobs]
	}
	var quads []quad
	n := len(blobs)
	for i := 0; i < n; i++ {
		for j := i + 1; j < n && blobs[j].area*4 > blobs[i].area; j++ {
			for k := j + 1; k < n && blobs[k].area*4 > blobs[i].area; k++ {
				for l := k + 1; l < n && blobs[l].area*4 > blobs[i].area; l++ {
					if q, ok := arrange([4]blob{blobs[i], blobs[j], blobs[k], blobs[l]}); ok {
						quads = append(quads, q)
					}
				}
			}
		}
	}
	slices.SortStableFunc(quads, func(a, b quad) int { return cmp.Compare(a.misfit, b.misfit) })
	if len(quads) > maxQuads {
		quads = quads[:maxQuads]
	}
	return quads
}

// arrange puts four blobs into clockwise order beginning with a short side
// and tells how badly they fit as corner marks.
func arrange(b [4]blob) (quad, bool) {
	var middle vec
	for _, m := range b {
		middle = middle.plus(m.centre.scaled(0.25))
	}
	// Clockwise around the middle. Any measure that grows with the angle
	// will do; tens of thousands of fours are sorted.
	var turn [4]float64
	for i, m := range b {
		d := m.centre.minus(middle)
		turn[i] = d.y / (math.Abs(d.x) + math.Abs(d.y))
		if d.x < 0 {
			turn[i] = 2 - turn[i]
		}
	}
	for i := 1; i < 4; i++ {
		for j := i; j > 0 && turn[j] < turn[j-1]; j-- {
			turn[j], turn[j-1] = turn[j-1], turn[j]
			b[j], b[j-1] = b[j-1], b[j]
		}
	}

	var side [4]float64
	for i := range b {
		p, q, r := b[i].centre, b[(i+1)%4].centre, b[(i+2)%4].centre
		if q.minus(p).cross(r.minus(q)) <= 0 { // y runs down: clockwise turns are positive
			return quad{}, false
		}
		side[i] = p.distance(q)
	}
	if ratio(side[0], side[2]) > 1.7 || ratio(side[1], side[3]) > 1.7 {
		return quad{}, false
	}
	first, aspect := 0, (side[1]+side[3])/(side[0]+side[2])
	if aspect < 1 {
		first, aspect = 1, 1/aspect
	}
	const upright = paper.FrameHeight / paper.FrameWidth
	if aspect < upright/1.3 || aspect > upright*1.3 {
		return quad{}, false
	}
	q := quad{misfit: math.Abs(math.Log(aspect / upright))}
	for i := range q.corners {
		q.corners[i] = b[(first+i)%4].centre
	}
	m, ok := frameTo(q.corners)
	if !ok {
		return quad{}, false
	}
	for i, c := range paper.CornerMarks() {
		want := m.area(c.X, c.Y) * paper.MarkSide * paper.MarkSide
		got := b[(first+i)%4].area
		if ratio(got, want) > 2 {
			return quad{}, false
		}
		q.misfit += math.Abs(math.Log(got / want))
	}
	return q, true
}

func ratio(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if b <= 0 {
		return math.Inf(1)
	}
	return a / b
}
