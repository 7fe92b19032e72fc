package scan

import (
	"fmt"
	"image"

	"rightpage/quiz/paper"
)

const (
	// leastDPI is the coarsest picture, in dots per inch of the printed
	// sheet, that is read at all.
	leastDPI = 60
	// leastContrast is the least difference of black from white, white being 1.
	leastContrast = 0.25
	// cropPerMM is the resolution of the pictures for people: about 200 dpi.
	cropPerMM = 8.0
	// Working sizes: the longer side, in pixels, that pictures are averaged
	// down towards, for reading and for finding the marks.
	readSide = 1700
	findSide = 850
)

// Box is a box to write in, for a person to type what it says.
type Box struct {
	Field paper.SheetField
	Crop  *image.Gray // the box, straightened
	// Ink is the share of the box that is dark. A box with next to none, below
	// 0.002, may be meant to be empty; a person decides.
	Ink float64
}

// Quality tells how well a page was scanned.
type Quality struct {
	DPI      float64 // of the printed sheet, as seen by the camera or scanner
	Tilt     float64 // degrees clockwise
	Bend     float64 // largest distance of the sheet's edge from flat, mm
	Contrast float64 // of black from white, 0 to 1
	Ticks    int     // edge marks seen
}

// Sheet is an answer sheet as read.
type Sheet struct {
	Code    paper.SheetCode
	Rows    []Row
	Boxes   []Box
	Quality Quality
}

// Flagged counts the rows that a person must look at.
func (s *Sheet) Flagged() int {
	n := 0
	for _, r := range s.Rows {
		if r.Flag != Clear {
			n++
		}
	}
	return n
}

// Lookup finds the geometry that a sheet was printed with. The error says what
// is unknown: "no quiz AUT31", "no person T-207 in quiz AUT31".
type Lookup func(paper.SheetCode) (paper.SheetPage, error)

// readPicture reads one page.
func readPicture(img image.Image, lookup Lookup) (*Sheet, *Refusal) {
	return readPictureAs(img, lookup, nil)
}

// readPictureAs reads one page, taking the code as given where it is not nil.
func readPictureAs(img image.Image, lookup Lookup, given *paper.SheetCode) (*Sheet, *Refusal) {
	full := toGray(img)
	long := max(full.Rect.Dx(), full.Rect.Dy())
	if min(full.Rect.Dx(), full.Rect.Dy()) < 64 {
		return nil, refuse(TooCoarse, "%d × %d pixels: scan at 150 to 300 dpi", full.Rect.Dx(), full.Rect.Dy())
	}
	work := shrink(full, long/readSide)
	k := max(1, max(work.Rect.Dx(), work.Rect.Dy())/findSide)
	small := shrink(work, k)
	mask := darkMask(small, markPercent)
	blobs := squareBlobs(mask, small.Rect.Dx(), small.Rect.Dy())
	for i := range blobs {
		// Pixel centres: block (x, y) is centred on kx + (k-1)/2.
		half := float64(k-1) / 2
		blobs[i].centre = vec{blobs[i].centre.x*float64(k) + half, blobs[i].centre.y*float64(k) + half}
		blobs[i].area *= float64(k * k)
	}
	r := register(work, markQuads(blobs))
	if r == nil {
		return nil, noSheet(small, mask, blobs)
	}
	q := Quality{DPI: r.dpi() * float64(full.Rect.Dx()) / float64(work.Rect.Dx()), Tilt: r.tilt(), Bend: r.worst, Contrast: 1 - r.black, Ticks: r.ticks}
	if q.DPI < leastDPI {
		return nil, refuse(TooCoarse, "the sheet is seen at %.0f dpi, at least %d are needed: scan at 150 to 300 dpi or go closer", q.DPI, leastDPI)
	}
	if q.Contrast < leastContrast {
		return nil, refuse(TooPale, "black is only %.0f %% darker than the paper: more light, or a darker scan", 100*q.Contrast)
	}

	var code paper.SheetCode
	if given != nil {
		code = *given
	} else {
		var refusal *Refusal
		if code, refusal = r.sheetCode(); refusal != nil {
			return nil, refusal
		}
	}
	page, err := lookup(code)
	if err != nil {
		return nil, &Refusal{Reason: UnknownSheet, Detail: fmt.Sprintf("%v (sheet code %s)", err, code), Err: err}
	}
	if page.Digest() != code.Layout || page.Number != code.Page || page.Of != code.Pages {
		return nil, refuse(OtherLayout, "sheet %s was printed from another layout than the one on record: print the form again, or enter this sheet by hand", code)
	}
	s := &Sheet{Code: code, Quality: q, Rows: r.readRows(page)}
	for _, b := range page.Boxes {
		s.Boxes = append(s.Boxes, r.readBox(b))
	}
	return s, nil
}

// sheetCode reads the square code.
func (r *registered) sheetCode() (code paper.SheetCode, refusal *Refusal) {
	const byHand = "type the code printed at the sheet's foot, or enter the sheet by hand"
	var bad error
	if r.readCodes(func(text string) bool {
		c, err := paper.ParseSheetCode(text)
		if err != nil {
			bad = err
			return false
		}
		code = c
		return true
	}) {
		return code, nil
	}
	if bad != nil {
		return code, &Refusal{Reason: CodeBad, Detail: bad.Error() + "; " + byHand, Err: bad}
	}
	return code, refuse(CodeUnread, "the square code in the upper right is damaged, covered or blurred: scan again, or %s", byHand)
}

// noSheet tells what was missing.
func noSheet(img *image.Gray, mask []bool, blobs []blob) *Refusal {
	blank := func(mask []bool) bool {
		dark := 0
		for _, m := range mask {
			if m {
				dark++
			}
		}
		return dark*2000 < len(mask)
	}
	switch {
	case blank(mask) && blank(darkMask(img, tracePercent)):
		return refuse(BlankPage, "nothing is printed or written on it")
	case blank(mask):
		return refuse(TooPale, "there is something on it, but hardly darker than the paper: more light, or a darker scan")
	case len(blobs) > 0 && len(blobs) < 4:
		return refuse(MarkMissing, "%d of the four black corner squares can be seen: the whole sheet with all four must be in the picture, uncovered", len(blobs))
	}
	return refuse(NoSheet, "no four corner squares with the edge marks between them: the whole sheet must be in the picture, flat and not mirrored")
}

// readBox cuts out a box and measures how much is written in it.
func (r *registered) readBox(b paper.WriteBox) Box {
	const around = 1.0 // mm shown beyond the line
	area := paper.Rect{X: b.Box.X - around, Y: b.Box.Y - around, W: b.Box.W + 2*around, H: b.Box.H + 2*around}
	out := Box{Field: b.Field, Crop: r.crop(area, cropPerMM)}
	// Inside the line and below the caption.
	pixel := func(mm float64) int { return int((around + mm) * cropPerMM) }
	x0, x1 := pixel(0.8), pixel(b.Box.W-0.8)
	y0, y1 := pixel(3), pixel(b.Box.H-0.8)
	var histogram [256]int
	n := 0
	for y := y0; y < y1; y++ {
		for _, v := range out.Crop.Pix[y*out.Crop.Stride+x0 : y*out.Crop.Stride+x1] {
			histogram[v]++
			n++
		}
	}
	if n == 0 {
		return out
	}
	// Paper is the brightness that half of the box exceeds.
	paperAt, seen := 255, 0
	for ; paperAt > 0 && seen*2 < n; paperAt-- {
		seen += histogram[paperAt]
	}
	limit := float64(paperAt) * (1 - 0.3*(1-r.black))
	dark := 0
	for v := 0; float64(v) < limit; v++ {
		dark += histogram[v]
	}
	out.Ink = float64(dark) / float64(n)
	return out
}
