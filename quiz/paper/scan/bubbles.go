package scan

import (
	"image"
	"math"
	"slices"

	"rightpage/quiz/paper"
)

// Flag says why a row must be looked at by a person, or that it need not.
type Flag int

// The flags, from none to worst.
const (
	Clear      Flag = iota // every circle plainly filled or plainly empty, and the count right
	Blank                  // nothing filled
	Double                 // more than one filled where one is asked for
	Faint                  // a mark too weak to count or to ignore: light pencil, or rubbed out
	Partial                // a tick, cross or dot instead of a filled circle
	CrossedOut             // strokes run out of a circle: struck out, or scribbled over
	Unreadable             // the printed circles are not where they should be: bent, covered or blurred
)

var flagTexts = [...]string{
	Clear:      "clear",
	Blank:      "nothing filled",
	Double:     "more than one filled",
	Faint:      "a faint mark, perhaps rubbed out",
	Partial:    "a tick, cross or dot instead of a filled circle",
	CrossedOut: "a mark crossed out, or strokes outside a circle",
	Unreadable: "the printed circles cannot be made out here",
}

// String is the flag in words, for the review screen.
func (f Flag) String() string {
	if f < 0 || int(f) >= len(flagTexts) {
		return "unknown flag"
	}
	return flagTexts[f]
}

// State is what a circle looks like.
type State int

// The states of a circle.
const (
	Empty State = iota
	Filled
	Doubtful
)

// Bubble is one circle as read.
type Bubble struct {
	State State
	// Ink is the mean darkness inside the circle: 0 as an empty circle of
	// this sheet, 1 as solid print.
	Ink float64
	// Cover is the share of the circle that is dark, 0 to 1.
	Cover float64
	// Confidence is the distance from the nearest limit at which State would
	// change, as a share of the whole distance: 0 at the limit, 1 at a solid
	// mark or an untouched circle. It is 0 where State is Doubtful.
	Confidence float64
}

// Row is one row of circles as read.
type Row struct {
	Field   paper.SheetField
	Bubbles []Bubble
	// Marked lists the filled circles by option, from 0. It is what the
	// person answered only where Flag is Clear.
	Marked     []int
	Flag       Flag
	Confidence float64     // the least of the circles'; 0 where flagged
	Crop       *image.Gray // the row, straightened; nil where Flag is Clear
}

// The limits of decision, in shares of solid print above an empty circle.
const (
	inkBlank   = 0.075 // below: empty
	inkFilled  = 0.22  // from here on it may be filled
	coverLeast = 0.62  // share of the circle that a filled one has dark
	// strengthLeast is the least share of the sheet's usual mark that a mark
	// must have; one much weaker than the rest was rubbed out.
	strengthLeast = 0.5
	strayDark     = 0.22 // darkness at which a point outside is ink
	// leastRing is the contrast of the printed circles below which a row is
	// not read.
	leastRing = 0.06
)

// angles is the number of directions around a circle: at its outer wreath
// half a millimetre apart, no further than a pen's line is wide.
const angles = 48

// Sample points, in radii of the circle.
var (
	discPoints = func() (pts []paper.Point) {
		const r = 0.76 // inside the line
		for j := -6; j <= 6; j++ {
			for i := -6; i <= 6; i++ {
				if i*i+j*j <= 36 {
					pts = append(pts, paper.Point{X: float64(i) / 6 * r, Y: float64(j) / 6 * r})
				}
			}
		}
		return pts
	}()
	ringAngles = func() (pts []paper.Point) {
		const n = angles
		for i := range n {
			s, c := math.Sincos(2 * math.Pi * (float64(i) + 0.5) / n)
			pts = append(pts, paper.Point{X: c, Y: s})
		}
		return pts
	}()
)

// rawBubble is what is measured of a circle before any decision.
type rawBubble struct {
	ink  float64         // mean darkness inside
	disc []float64       // darkness at discPoints
	near [angles]float64 // darkness just outside, by ringAngles
	far  [angles]float64 // and well outside; 0 towards the neighbours
}

// rawRow is a measured row.
type rawRow struct {
	bubbles []rawBubble
	ring    float64 // contrast of the printed circles
	edge    bool    // best alignment at the limit of the search
}

// readRows reads all rows of a page.
func (r *registered) readRows(page paper.SheetPage) []Row {
	raw := make([]rawRow, len(page.Rows))
	for i, row := range page.Rows {
		raw[i] = r.measureRow(row, page.Radius)
	}
	base := baselines(raw)
	rows := make([]Row, len(page.Rows))
	for i, row := range page.Rows {
		rows[i] = base.decide(row.Field, raw[i])
		if rows[i].Flag != Clear {
			rows[i].Crop = r.crop(rowArea(row, page.Radius), cropPerMM)
		}
	}
	return rows
}

// rowArea is the part of the sheet shown for review: the row, its number and
// a little around.
func rowArea(row paper.BubbleRow, radius float64) paper.Rect {
	first, last := row.Bubbles[0], row.Bubbles[len(row.Bubbles)-1]
	x := min(row.Label.X-6, first.X) - 1
	return paper.Rect{X: x, Y: first.Y - 1.5*radius, W: last.X + 1.6*radius - x, H: 3 * radius}
}

// measureRow aligns the row on its printed circles and measures each.
func (r *registered) measureRow(row paper.BubbleRow, radius float64) rawRow {
	places := make([]local, len(row.Bubbles))
	for i, b := range row.Bubbles {
		places[i] = r.near(b.X, b.Y)
	}
	dx, dy, ring, edge := alignRow(places, radius)
	out := rawRow{ring: ring, edge: edge, bubbles: make([]rawBubble, len(row.Bubbles))}
	whites := make([]float64, len(row.Bubbles))
	for i, place := range places {
		whites[i] = whiteBeside(place, dx, dy, radius)
	}
	for i, place := range places {
		// Where someone scribbled over the paper beside a circle, its
		// neighbours know better what white is; not the whole row, across
		// which the edge of a shadow may run.
		first := max(0, min(i-1, len(whites)-3))
		around := quantile(whites[first:min(first+3, len(whites))], 0.5)
		white := max(whites[i], 0.8*around, 8)
		scale := 1 / (white * max(1-r.black, 0.05))
		dark := func(x, y float64) float64 {
			return min(max((white-place.sample(dx+x*radius, dy+y*radius))*scale, 0), 1.2)
		}
		m := &out.bubbles[i]
		m.disc = make([]float64, len(discPoints))
		for k, p := range discPoints {
			m.disc[k] = dark(p.X, p.Y)
			m.ink += m.disc[k] / float64(len(discPoints))
		}
		for k, p := range ringAngles {
			m.near[k] = (dark(1.24*p.X, 1.24*p.Y) + dark(1.31*p.X, 1.31*p.Y)) / 2
			if math.Abs(p.Y) > 0.48 { // else the neighbours' own lines
				m.far[k] = (dark(1.43*p.X, 1.43*p.Y) + dark(1.5*p.X, 1.5*p.Y)) / 2
			}
		}
	}
	return out
}

// whiteBeside is the brightness of the paper around a circle: that of the
// lighter points of a wreath which leaves out the neighbours. A cross through
// the circle covers a third of it at most.
func whiteBeside(place local, x, y, radius float64) float64 {
	v := make([]float64, 0, 2*len(ringAngles))
	for _, p := range ringAngles {
		if math.Abs(p.Y) > 0.48 {
			v = append(v, place.sample(x+1.38*radius*p.X, y+1.38*radius*p.Y), place.sample(x+1.5*radius*p.X, y+1.5*radius*p.Y))
		}
	}
	return quantile(v, 0.7)
}

// alignRow finds the small shift, up to 1.2 mm, at which the printed circles
// of the row fit best: line dark, paper just outside white.
func alignRow(places []local, radius float64) (dx, dy, contrast float64, edge bool) {
	const reach = 1.2
	// Few angles suffice for the coarse search.
	fit := func(dx, dy float64, step int) float64 {
		sum, n := 0.0, 0
		for _, place := range places {
			for k := 0; k < len(ringAngles); k += step {
				p := ringAngles[k]
				line := place.sample(dx+p.X*radius, dy+p.Y*radius)
				out := place.sample(dx+1.2*p.X*radius, dy+1.2*p.Y*radius)
				if out > 8 {
					sum += min(max((out-line)/out, -0.5), 0.5)
				}
				n++
			}
		}
		return sum / float64(n)
	}
	contrast = math.Inf(-1)
	try := func(x, y float64, step int) {
		// A slight pull to the middle settles ties on flat ground.
		if c := fit(x, y, step) - 0.004*(x*x+y*y); c > contrast {
			contrast, dx, dy = c, x, y
		}
	}
	for y := -reach; y <= reach+1e-9; y += 0.4 {
		for x := -reach; x <= reach+1e-9; x += 0.4 {
			try(x, y, 6)
		}
	}
	cx, cy := dx, dy
	edge = math.Abs(cx) > reach-0.1 || math.Abs(cy) > reach-0.1
	contrast = math.Inf(-1)
	for y := -0.2; y <= 0.2+1e-9; y += 0.2 {
		for x := -0.2; x <= 0.2+1e-9; x += 0.2 {
			try(cx+x, cy+y, 2)
		}
	}
	return dx, dy, contrast, edge
}

// baseline is what empty and filled circles of this sheet look like.
type baseline struct {
	empty    []float64       // mean darkness of an empty circle, by option: its letter
	near     [angles]float64 // usual darkness around a circle, by angle
	far      [angles]float64
	blank    float64 // ink below which a circle counts as empty
	strength float64 // usual ink of a filled circle, above empty
}

// baselines learns them from the page: most circles of any sheet are empty.
func baselines(rows []rawRow) baseline {
	var all []float64
	var byOption [paper.MaxOptions][]float64
	var near, far [angles][]float64
	for _, row := range rows {
		for i, b := range row.bubbles {
			all = append(all, b.ink)
			byOption[i] = append(byOption[i], b.ink)
			for k := range near {
				near[k] = append(near[k], b.near[k])
				far[k] = append(far[k], b.far[k])
			}
		}
	}
	var b baseline
	if len(all) == 0 {
		return b
	}
	// The lower third, within what print can be, stands for the empty ones.
	usual := min(max(quantile(all, 0.3), 0.02), 0.25)
	for _, inks := range byOption {
		e := usual
		if len(inks) >= 6 {
			// Letters differ in ink; by no more than this.
			e = min(max(quantile(inks, 0.3), usual-0.03), usual+0.04)
		}
		b.empty = append(b.empty, e)
	}
	for k := range near {
		b.near[k] = min(quantile(near[k], 0.5), 0.2)
		b.far[k] = min(quantile(far[k], 0.5), 0.2)
	}
	// Spread of the empty ones: those up to the lower third, mirrored.
	spread := usual - quantile(all, 0.05)
	b.blank = min(max(inkBlank, 2.2*spread), 0.12)
	var marks []float64
	for _, row := range rows {
		for i, m := range row.bubbles {
			if net := m.ink - b.empty[i]; net >= inkFilled {
				marks = append(marks, net)
			}
		}
	}
	b.strength = 0.6
	if len(marks) > 0 {
		b.strength = quantile(marks, 0.5)
	}
	return b
}

func quantile(v []float64, q float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	return s[int(q*float64(len(s)-1)+0.5)]
}

// decide turns the measurements of one row into a reading.
func (b baseline) decide(field paper.SheetField, raw rawRow) Row {
	row := Row{Field: field, Confidence: 1, Bubbles: make([]Bubble, len(raw.bubbles))}
	for i, m := range raw.bubbles {
		bubble, flag := b.bubble(m, b.empty[i])
		row.Bubbles[i] = bubble
		row.Flag = max(row.Flag, flag)
		row.Confidence = min(row.Confidence, bubble.Confidence)
		if bubble.State == Filled {
			row.Marked = append(row.Marked, i)
		}
	}
	switch {
	case raw.ring < leastRing || raw.edge:
		row.Flag = Unreadable
	case row.Flag != Clear:
	case len(row.Marked) == 0:
		row.Flag = Blank
	case len(row.Marked) > 1 && field.Kind == paper.MarkOne:
		row.Flag = Double
	}
	if row.Flag != Clear {
		row.Confidence = 0
	}
	return row
}

// bubble decides one circle. empty is the darkness of an empty circle with
// its letter.
func (b baseline) bubble(m rawBubble, empty float64) (Bubble, Flag) {
	out := Bubble{Ink: m.ink - empty}
	// A point is covered from half the sheet's usual mark, however light its
	// pencil.
	limit := empty + min(max(0.45*b.strength, 0.12), 0.35)
	for _, d := range m.disc {
		if d > limit {
			out.Cover += 1 / float64(len(m.disc))
		}
	}
	switch {
	case b.struckOut(m):
		out.State = Doubtful
		return out, CrossedOut
	case out.Ink < b.blank && out.Cover < 0.2:
		out.State = Empty
		out.Confidence = min(max(1-max(out.Ink, 0)/b.blank, 0), 1-out.Cover/0.2)
		return out, Clear
	case out.Ink >= inkFilled && out.Cover >= coverLeast && out.Ink >= strengthLeast*b.strength:
		out.State = Filled
		weak := max(inkFilled, strengthLeast*b.strength)
		out.Confidence = min(1, (out.Ink-weak)/(0.4*weak), (out.Cover-coverLeast)/(0.9-coverLeast))
		return out, Clear
	}
	out.State = Doubtful
	// Even grey was rubbed out or is too light; strokes leave much untouched.
	touched := 0
	for _, d := range m.disc {
		if d > empty+0.5*out.Ink {
			touched++
		}
	}
	if out.Cover >= 0.08 && touched*10 < len(m.disc)*7 {
		return out, Partial
	}
	return out, Faint
}

// struckOut tells a cross or a line through a circle from a filling that ran
// over its line: two strokes or more that go well beyond the circle, or the
// four arms of a small cross around it.
func (b baseline) struckOut(m rawBubble) bool {
	return strokes(m.far, b.far) >= 2 || strokes(m.near, b.near) >= 4
}

// strokes counts the runs of dark points around a circle that are at least a
// sixth of a turn from the next.
func strokes(around, usual [angles]float64) int {
	n := len(around)
	dark := func(i int) bool {
		i = (i + n) % n
		return around[i]-usual[i] > strayDark
	}
	var middles []float64
	for k := range n {
		if !dark(k) || dark(k-1) {
			continue
		}
		last := k
		for dark(last+1) && last-k < n {
			last++
		}
		middles = append(middles, float64(k+last)/2)
	}
	count := 0
	for i, m := range middles { // in growing order already
		gap := float64(n)
		if len(middles) > 1 {
			gap = math.Mod(middles[(i+1)%len(middles)]-m+float64(n), float64(n))
		}
		if gap >= float64(n)/6 {
			count++
		}
	}
	return count
}
