package grading

import (
	"math"
	"strings"

	"rightpage/banks/resolver"
)

// slack is for what conversion in binary floating point leaves.
const slack = 1e-9

// mostRounding bounds how far a value that was converted and rounded may lie
// from the key, as a share of it.
const mostRounding = 0.01

// near compares two numbers within a tolerance.
func near(a, b, tolerance float64) bool {
	return math.Abs(a-b) <= tolerance+slack*math.Max(1e-3, math.Abs(b))
}

// amount is a right or a wrong answer to compare a quantity with.
type amount struct {
	quantity
	slip resolver.Slip
}

// measured grades quantities: the forms Number, and Typed where the key is a
// quantity.
type measured struct {
	key       amount
	tolerance float64
	slipped   []amount
}

// finding is what a quantity amounts to.
type finding struct {
	rank    rank
	slip    resolver.Slip
	refusal *Refusal
}

type rank uint8

const (
	other     rank = iota // none of the values that are known
	mixedUnit             // the number of the key with another unit
	noUnit                // the number of the key without its unit
	slipped               // what a slip leads to
	rightOne
)

// find compares a quantity with the key and with what slips lead to.
//
// The unit is part of the answer. A number without one is no answer, even if it
// is the number of the key. One in another unit of the same dimensions is
// converted: it is right if it lies within the tolerance of the key, or if it is
// the key converted and rounded to the decimals written, and within 1 % of it
// (NIST SP 811 B.7 on rounding converted values): 38 N·m is 28 lbf·ft. A number
// that can be read in two ways is read in the way that is an answer at all; if
// the two are different ones, a person must ask.
func (m *measured) find(q quantity) finding {
	if !q.unitless && !sameUnit(q.unit, m.key.unit) {
		if _, known := unitOf(q.unit); !known {
			return finding{refusal: &Refusal{"the unit “" + q.unit + "” is not known", "write the unit as the literature does, or look at the answer"}}
		}
	}
	var best finding
	for i := range q.low.n {
		for j := range q.high.n {
			if q.shape != between && i != j {
				continue
			}
			f := m.read(q, q.low.readings[i], q.high.readings[j])
			if f.rank >= slipped && best.rank >= slipped && f != best {
				return finding{refusal: &Refusal{"the number can be read in two ways", "ask which is meant, and write it with a point for the decimals and no other mark"}}
			}
			if f.rank > best.rank {
				best = f
			}
		}
	}
	return best
}

// read compares one reading.
func (m *measured) read(q quantity, low, high reading) finding {
	if q.shape == m.key.shape && m.equal(q, low, high, m.key.quantity, true) {
		if q.unitless && m.key.unit != "" {
			return finding{rank: noUnit}
		}
		return finding{rank: rightOne}
	}
	for i := range m.slipped {
		if s := &m.slipped[i]; q.shape == s.shape && m.equal(q, low, high, s.quantity, false) {
			return finding{rank: slipped, slip: s.slip}
		}
	}
	k := m.key.quantity
	if q.shape == k.shape && near(low.value, k.low.value(), m.tolerance) && near(high.value, k.high.value(), m.tolerance) {
		return finding{rank: mixedUnit, slip: resolver.UnitMixed}
	}
	return finding{}
}

// equal compares a range, or a value. rounded says that one which was converted
// may be rounded; for what a slip leads to it may not, so that the number of the
// key with a wrong unit is not taken for a neighbouring value.
func (m *measured) equal(q quantity, low, high reading, want quantity, rounded bool) bool {
	return m.end(low, q, want.low.value(), want.unit, rounded) && m.end(high, q, want.high.value(), want.unit, rounded)
}

// end compares one end of a range, or a value.
func (m *measured) end(r reading, q quantity, want float64, unit string, rounded bool) bool {
	if q.unitless || sameUnit(q.unit, unit) {
		return near(r.value, want, m.tolerance)
	}
	from, ok1 := unitOf(q.unit)
	to, ok2 := unitOf(unit)
	if !ok1 || !ok2 || from.kind != to.kind {
		return false
	}
	if near(from.to(to, r.value), want, m.tolerance) {
		return true
	}
	converted := to.to(from, want)
	far := math.Abs(converted - r.value)
	return rounded && r.decimals >= 0 && r.decimals < 12 &&
		far <= math.Pow10(-r.decimals)/2+slack*math.Abs(converted) && far <= mostRounding*math.Abs(converted)
}

// says puts a finding into words where it is neither right nor a slip alone.
func (f finding) says(q quantity, key quantity) string {
	switch {
	case f.rank == noUnit:
		return "The number is right, but its unit is missing. " + nextTime + writeUnit
	case f.rank == slipped && q.unitless && key.unit != "":
		return "The unit is missing as well."
	}
	return ""
}

const (
	nextTime  = "Next time: "
	writeUnit = "Write the unit beside every number that you read."
)

// readQuantity reads an answer that must be a quantity.
func readQuantity(given string) (quantity, *Refusal) {
	q, ok := parseQuantity(given)
	if !ok {
		return q, &Refusal{"“" + strings.TrimSpace(given) + "” is no number", "write a number and its unit, for example 34 N·m"}
	}
	return q, nil
}
