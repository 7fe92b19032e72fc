package catalog

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// partition is a series of editions that share out the months, or the serials,
// or both, in which one model was built.
type partition struct {
	byDate, bySerial bool
	months           []int   // first months of the editions after the first, counted from 2010-01
	serials          []int64 // first serials of the same
	length           int     // months in which the model was built
}

func drawPartition(t *rapid.T) partition {
	p := partition{length: rapid.IntRange(12, 120).Draw(t, "months built")}
	switch rapid.IntRange(0, 2).Draw(t, "broken by") {
	case 0:
		p.byDate = true
	case 1:
		p.bySerial = true
	case 2:
		p.byDate, p.bySerial = true, true
	}
	month, serial := 0, int64(1)
	for range rapid.IntRange(1, 6).Draw(t, "breaks") {
		month += rapid.IntRange(2, 20).Draw(t, "months")
		serial += rapid.Int64Range(2, 5000).Draw(t, "serials")
		if month >= p.length-1 {
			break
		}
		p.months, p.serials = append(p.months, month), append(p.serials, serial)
	}
	return p
}

func builtMonth(n int) Date { return Date{Year: 2010, Month: 1}.AddMonths(n) }

// catalog makes the catalog. The limits of edition e (its from, the through of
// the one before stays) are moved by shift.
func (p partition) catalog(edition, shift int) *Catalog {
	tables := Tables{
		Models:     []Model{{Code: "M1", Range: Range{From: builtMonth(0), Through: builtMonth(p.length - 1)}}},
		Groups:     []Group{{Code: "1"}},
		Components: []Component{{Term: "pump", Group: "1"}, {Term: "valve", Group: "1"}},
	}
	for e := 0; e <= len(p.months); e++ {
		var r Range
		if e > 0 {
			move := 0
			if e == edition {
				move = shift
			}
			if p.byDate {
				r.From = builtMonth(p.months[e-1] + move)
			}
			if p.bySerial {
				r.Serials.From = p.serials[e-1] + int64(move)
			}
		}
		if e < len(p.months) {
			if p.byDate {
				r.Through = builtMonth(p.months[e] - 1)
			}
			if p.bySerial {
				r.Serials.Through = p.serials[e] - 1
			}
		}
		id := fmt.Sprintf("B%d", e)
		tables.Publications = append(tables.Publications, Publication{ID: id, Series: "B", Class: Repair, Effectivity: Effectivity{r}})
		for _, c := range []string{"pump", "valve"} {
			tables.Procedures = append(tables.Procedures, Procedure{ID: id + c, Action: "replace", Component: c, Publication: id, Location: Location{Page: "1"}})
		}
	}
	return New(Meta{Actions: map[string]Action{"replace": {Classes: []Class{Repair}}}}, tables)
}

func TestConsecutiveEditionsPartitionTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPartition(t)
		c := p.catalog(0, 0)
		if r := Check(c); len(r) > 0 {
			t.Fatalf("%v", r)
		}
		// What Check says is so: every month that was built, and every serial on
		// either side of a break, falls in exactly one edition.
		for m := range p.length {
			at := len(p.months)
			for e := len(p.months); e > 0 && m < p.months[e-1]; e-- {
				at--
			}
			serial := Serials{}
			if p.bySerial {
				s := int64(1)
				if at > 0 {
					s = p.serials[at-1]
				}
				serial = Serials{s, s}
			}
			in := 0
			for i := range c.Tables().Publications {
				if c.Tables().Publications[i].Effectivity.Fit(builtMonth(m).Span(), serial) == Within {
					in++
				}
			}
			if in != 1 {
				t.Fatalf("month %s falls in %d editions", builtMonth(m), in)
			}
		}
		if len(p.months) == 0 {
			return
		}
		e := rapid.IntRange(1, len(p.months)).Draw(t, "edition")
		shift := rapid.SampledFrom([]int{-1, 1}).Draw(t, "shift")
		kind, axis := "overlap", 1
		if shift > 0 {
			kind = "gap"
		}
		if p.byDate && p.bySerial && shift > 0 {
			axis = 2 // the month and the serial that are left out are two gaps
		}
		r := Check(p.catalog(e, shift))
		// The month or serial that was removed or added, and nothing else.
		var dates, numbers string
		if p.byDate {
			m := builtMonth(p.months[e-1] + min(shift, 0))
			dates = fmt.Sprintf("from %s through %s", m, m)
		}
		if p.bySerial {
			s := p.serials[e-1] + int64(min(shift, 0))
			numbers = fmt.Sprintf("from no. %d through no. %d", s, s)
		}
		if len(r) != axis {
			t.Fatalf("%d findings, want %d %s: %v", len(r), axis, kind, r)
		}
		for _, f := range r {
			if f.Code != kind || f.Lookups != 2 {
				t.Fatalf("%s, %d lookups: %v", f.Code, f.Lookups, f)
			}
			var ok bool
			switch {
			case axis == 2:
				ok = strings.Contains(f.What, dates) != strings.Contains(f.What, numbers)
			default:
				ok = strings.Contains(f.What, dates) && strings.Contains(f.What, numbers)
			}
			if !ok {
				t.Fatalf("%q does not name %q %q", f.What, dates, numbers)
			}
		}
	})
}
