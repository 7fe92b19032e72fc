package catalog

import (
	"cmp"
	"math"
	"slices"
)

// A box is a rectangle of build dates (days since 1970) and serials, limits
// inclusive. Open sides are the largest and smallest values.
type box struct{ d0, d1, s0, s1 int64 }

const (
	dayLo, dayHi       = int64(MinDay), int64(MaxDay)
	serialLo, serialHi = int64(1), int64(math.MaxInt64)
)

var anyBox = box{dayLo, dayHi, serialLo, serialHi}

// boxOf is the box of a range; ok is false where a limit's from is after its
// through.
func boxOf(r Range) (b box, ok bool) {
	d := r.Days()
	b = box{int64(d.From), int64(d.Through), max(r.Serials.From, serialLo), r.Serials.Through}
	if b.s1 == 0 {
		b.s1 = serialHi
	}
	return b, b.d0 <= b.d1 && b.s0 <= b.s1
}

// limitsDays and limitsSerials tell which axes a box limits.
func (b box) limitsDays() bool    { return b.d0 != dayLo || b.d1 != dayHi }
func (b box) limitsSerials() bool { return b.s0 != serialLo || b.s1 != serialHi }

func (b box) meet(c box) (m box, ok bool) {
	m = box{max(b.d0, c.d0), min(b.d1, c.d1), max(b.s0, c.s0), min(b.s1, c.s1)}
	return m, m.d0 <= m.d1 && m.s0 <= m.s1
}

// minus appends to dst what is left of b without c: at most four boxes.
func (b box) minus(c box, dst region) region {
	m, ok := b.meet(c)
	if !ok {
		return append(dst, b)
	}
	if b.d0 < m.d0 {
		dst = append(dst, box{b.d0, m.d0 - 1, b.s0, b.s1})
	}
	if m.d1 < b.d1 {
		dst = append(dst, box{m.d1 + 1, b.d1, b.s0, b.s1})
	}
	if b.s0 < m.s0 {
		dst = append(dst, box{m.d0, m.d1, b.s0, m.s0 - 1})
	}
	if m.s1 < b.s1 {
		dst = append(dst, box{m.d0, m.d1, m.s1 + 1, b.s1})
	}
	return dst
}

// loose drops the limits of b on an axis along which it is as long as the whole,
// so that what is found in codes built at different times reads alike.
func (b box) loose(whole box) box {
	if b.d0 == whole.d0 && b.d1 == whole.d1 {
		b.d0, b.d1 = dayLo, dayHi
	}
	if b.s0 == whole.s0 && b.s1 == whole.s1 {
		b.s0, b.s1 = serialLo, serialHi
	}
	return b
}

// rangeOf writes a box as a range, at month precision where it begins and ends
// with a month.
func (b box) rangeOf() Range {
	var r Range
	if b.d0 != dayLo {
		r.From = Day(b.d0).Date()
	}
	if b.d1 != dayHi {
		r.Through = Day(b.d1).Date()
	}
	whole := (r.From.IsZero() || r.From.Day == 1) &&
		(r.Through.IsZero() || int(r.Through.Day) == daysIn(int(r.Through.Year), int(r.Through.Month)))
	if whole {
		r.From.Day, r.Through.Day = 0, 0
	}
	if b.s0 != serialLo {
		r.Serials.From = b.s0
	}
	if b.s1 != serialHi {
		r.Serials.Through = b.s1
	}
	return r
}

// A region is a union of boxes.
type region []box

// regionOf is the region of an effectivity, without inverted ranges.
func regionOf(e Effectivity) region {
	if len(e) == 0 {
		return region{anyBox}
	}
	var r region
	for _, x := range e {
		if b, ok := boxOf(x); ok {
			r = append(r, b)
		}
	}
	return r
}

func (r region) meet(s region) region {
	if len(s) == 1 && s[0] == anyBox {
		return r
	}
	if len(r) == 1 && r[0] == anyBox {
		return s
	}
	var out region
	for _, a := range r {
		for _, b := range s {
			if m, ok := a.meet(b); ok {
				out = append(out, m)
			}
		}
	}
	return out
}

func (r region) meets(s region) bool {
	for _, a := range r {
		for _, b := range s {
			if _, ok := a.meet(b); ok {
				return true
			}
		}
	}
	return false
}

func (r region) minus(s region) region {
	for _, b := range s {
		if len(r) == 0 {
			return nil
		}
		var out region
		for _, a := range r {
			out = a.minus(b, out)
		}
		r = out
	}
	return r
}

// joined merges boxes that lie side by side, so that one gap is one box where it
// can be, and drops those within others as long as there are not too many.
func (r region) joined() region {
	if len(r) < 2 {
		return r
	}
	r = slices.Clone(r)
	for before := 0; before != len(r); {
		before = len(r)
		slices.SortFunc(r, func(a, b box) int {
			return cmp.Or(cmp.Compare(a.s0, b.s0), cmp.Compare(a.s1, b.s1), cmp.Compare(a.d0, b.d0))
		})
		r = r.mergeNeighbours()
		slices.SortFunc(r, func(a, b box) int {
			return cmp.Or(cmp.Compare(a.d0, b.d0), cmp.Compare(a.d1, b.d1), cmp.Compare(a.s0, b.s0))
		})
		r = r.mergeNeighbours()
	}
	const few = 200
	if len(r) <= few {
		for i := 0; i < len(r); i++ {
			for j := 0; j < len(r); j++ {
				if m, ok := r[i].meet(r[j]); i != j && ok && m == r[i] {
					r = slices.Delete(r, i, i+1)
					i--
					break
				}
			}
		}
	}
	slices.SortFunc(r, compareBoxes)
	return r
}

// mergeNeighbours merges each box with the one before it where it can.
func (r region) mergeNeighbours() region {
	out := r[:1]
	for _, b := range r[1:] {
		if m, ok := out[len(out)-1].join(b); ok {
			out[len(out)-1] = m
			continue
		}
		out = append(out, b)
	}
	return out
}

// widened lengthens each box to the whole along an axis where all that it gains
// is in r already or in never, and drops what then lies within another: a gap
// of one month that crosses a gap of one serial stays two gaps.
func (r region) widened(whole box, never region) region {
	known := append(slices.Clone(r), never...)
	out := make(region, 0, len(r))
	for _, b := range r {
		for _, w := range []box{{whole.d0, whole.d1, b.s0, b.s1}, {b.d0, b.d1, whole.s0, whole.s1}} {
			if len(region{w}.minus(known)) == 0 {
				b = w
				break
			}
		}
		out = append(out, b)
	}
	return out.joined()
}

// join makes one box of two that are alike on one axis and touch on the other.
func (b box) join(c box) (box, bool) {
	switch {
	case b.s0 == c.s0 && b.s1 == c.s1 && b.d0 <= c.d1+1 && c.d0 <= b.d1+1:
		return box{min(b.d0, c.d0), max(b.d1, c.d1), b.s0, b.s1}, true
	case b.d0 == c.d0 && b.d1 == c.d1 && touch(b.s0, b.s1, c.s0, c.s1):
		return box{b.d0, b.d1, min(b.s0, c.s0), max(b.s1, c.s1)}, true
	}
	return b, false
}

func touch(a0, a1, b0, b1 int64) bool {
	return (a1 == serialHi || b0 <= a1+1) && (b1 == serialHi || a0 <= b1+1)
}

func compareBoxes(a, b box) int {
	return cmp.Or(cmp.Compare(a.d0, b.d0), cmp.Compare(a.s0, b.s0), cmp.Compare(a.d1, b.d1), cmp.Compare(a.s1, b.s1))
}
