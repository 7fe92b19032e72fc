package grading

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

func TestScanNumeral(t *testing.T) {
	for _, c := range []struct {
		in   string
		want []float64
		rest string
	}{
		{"34 N·m", []float64{34}, " N·m"},
		{"0.8", []float64{0.8}, ""},
		{"0,8 mm", []float64{0.8}, " mm"},
		{".5", []float64{0.5}, ""},
		{"15.", []float64{15}, ""},
		{"-15°C", []float64{-15}, "°C"},
		{"−15 °C", []float64{-15}, " °C"},
		{"+3", []float64{3}, ""},
		{"1,500", []float64{1.5, 1500}, ""},
		{"1.500 U/min", []float64{1.5, 1500}, " U/min"},
		{"0,500", []float64{0.5}, ""}, // thousands do not begin with a zero
		{"1500,500", []float64{1500.5}, ""},
		{"12,500.5", []float64{12500.5}, ""},
		{"12.500,5", []float64{12500.5}, ""},
		{"1,234,567", []float64{1234567}, ""},
		{"1 500", []float64{1500}, ""},
		{"1 500 1/min", []float64{1500}, " 1/min"},
		{"1'500", []float64{1500}, ""},
		{"1\u202f500,25", []float64{1500.25}, ""},
		{"2700 1/min", []float64{2700}, " 1/min"},
		{"1/2 in", []float64{0.5}, " in"},
		{"1 1/2\"", []float64{1.5}, "\""},
		{"9/16 in", []float64{0.5625}, " in"},
		{"2-6 mm", []float64{2}, "-6 mm"},
		{"1,23,4", nil, ""},
		{"1.2.3", nil, ""},
		{"12 5", []float64{12}, " 5"},
		{"abc", nil, ""},
		{"", nil, ""},
		{"99999999999999999999999999999999999", nil, ""},
		{"1/0", []float64{1}, "/0"},
	} {
		n, rest, ok := scanNumeral(c.in)
		if ok != (c.want != nil) {
			t.Errorf("%q: a number: %v", c.in, ok)
			continue
		}
		var got []float64
		for i := range n.n {
			got = append(got, n.readings[i].value)
		}
		if fmt.Sprint(got) != fmt.Sprint(c.want) || ok && rest != c.rest {
			t.Errorf("%q: %v, left %q; want %v, left %q", c.in, got, rest, c.want, c.rest)
		}
	}
}

func TestParseQuantity(t *testing.T) {
	for _, c := range []struct {
		in        string
		shape     shape
		low, high float64
		unit      string
	}{
		{"34 N·m", single, 34, 34, "N·m"},
		{"34Nm", single, 34, 34, "Nm"},
		{"34 N-m", single, 34, 34, "N-m"},
		{"= 34 N·m", single, 34, 34, "N·m"},
		{"ca. 34 N·m", single, 34, 34, "N·m"},
		{"34", single, 34, 34, ""},
		{"20 clicks", single, 20, 20, "clicks"},
		{"2 to 6 mm", between, 2, 6, "mm"},
		{"2-6mm", between, 2, 6, "mm"},
		{"2–6 mm", between, 2, 6, "mm"},
		{"2 … 6 mm", between, 2, 6, "mm"},
		{"2...6 mm", between, 2, 6, "mm"},
		{"2 mm to 6 mm", between, 2, 6, "mm"},
		{"2 mm - 6 mm", between, 2, 6, "mm"},
		{"between 2 and 6 mm", between, 2, 6, "mm"},
		{"from 2 to 6 mm", between, 2, 6, "mm"},
		{"4 ± 2 mm", between, 2, 6, "mm"},
		{"4 +/- 2 mm", between, 2, 6, "mm"},
		{"0,15 - 0,31 mm", between, 0.15, 0.31, "mm"},
		{"-15 to 5 °C", between, -15, 5, "°C"},
		{"at most 0.1 mm", atMost, 0.1, 0.1, "mm"},
		{"max. 0.1 mm", atMost, 0.1, 0.1, "mm"},
		{"max 0.1 mm", atMost, 0.1, 0.1, "mm"},
		{"≤0.1 mm", atMost, 0.1, 0.1, "mm"},
		{"<= 0.1 mm", atMost, 0.1, 0.1, "mm"},
		{"0.1 mm max", atMost, 0.1, 0.1, "mm"},
		{"0.1 mm or less", atMost, 0.1, 0.1, "mm"},
		{"at least 3 mm", atLeast, 3, 3, "mm"},
		{"min. 3 mm", atLeast, 3, 3, "mm"},
		{"min 3", atLeast, 3, 3, ""},
		{"3 mm min.", atLeast, 3, 3, "mm"},
		{"5 min", single, 5, 5, "min"}, // minutes
		{"½ in", single, 0.5, 0.5, "in"},
		{"1½ in", single, 1.5, 1.5, "in"},
	} {
		q, ok := parseQuantity(c.in)
		if !ok || q.shape != c.shape || math.Abs(q.low.value()-c.low) > 1e-12 || math.Abs(q.high.value()-c.high) > 1e-12 || q.unit != c.unit {
			t.Errorf("%q: %v %+v, want %v", c.in, ok, q, c)
		}
	}
	for _, in := range []string{"", "none", "SAE 5W-30", "max", "≤", "to 6 mm", "N·m"} {
		if q, ok := parseQuantity(in); ok {
			t.Errorf("%q is a quantity: %+v", in, q)
		}
	}
}

// numberQuestion asks for 38 N·m; the neighbour's value is 52 N·m, and that of
// another band 1.5 N·m.
func numberQuestion(key float64, unit string, tolerance float64, slipped ...banks.Slipped) *banks.Question {
	return &banks.Question{
		ID: "n", Kind: "specification", Skill: "specifications", Form: banks.Number,
		Key:     banks.Key{Number: key, Unit: unit, Tolerance: tolerance},
		Slipped: slipped,
		Trace:   []banks.TraceLine{{Step: resolver.LocationStep, Result: "page 12"}, {Step: resolver.AmendStep, Result: "none"}},
	}
}

func TestNumbers(t *testing.T) {
	torque := numberQuestion(38, "N·m", 0,
		banks.Slipped{Value: "52 N·m", Slip: resolver.NeighbourCard}, banks.Slipped{Value: "1.5 N·m", Slip: resolver.WrongAmbient})
	fast := numberQuestion(1500, "1/min", 0)
	both := numberQuestion(1500, "mm", 0, banks.Slipped{Value: "1.5 mm", Slip: resolver.NeighbourCard})
	wide := numberQuestion(38, "N·m", 2)
	small := numberQuestion(0.8, "mm", 0)
	bare := numberQuestion(4, "", 0)
	const refused = "refused"
	for _, c := range []struct {
		q     *banks.Question
		given string
		want  string // right, the slip, unrecognised, or refused
		why   string
	}{
		{torque, "38 N·m", "right", ""},
		{torque, "38Nm", "right", ""},
		{torque, "38,0 nm", "right", ""},
		{torque, "38.000 N·m", "right", "a point before three digits is a decimal mark where that is an answer"},
		{torque, "28 ft-lb", "right", "38 N·m = 28.03 lbf·ft, rounded as written"},
		{torque, "28.03 lbf·ft", "right", ""},
		{torque, "28.1 ft-lb", "unrecognised", "rounded wrongly"},
		{torque, "30 ft-lb", "unrecognised", ""},
		{torque, "336 in-lb", "right", "38 N·m = 336.3 lbf·in"},
		{torque, "3.87 kgf·m", "right", "38 N·m = 3.875 kgf·m"},
		{torque, "4 kgf·m", "unrecognised", "rounded rightly, but off by 3 %"},
		{torque, "38", "unrecognised", "the unit is missing"},
		{torque, "52 Nm", resolver.NeighbourCard.String(), ""},
		{torque, "52", resolver.NeighbourCard.String(), "the slip shows without its unit as well"},
		{torque, "1,5 N·m", resolver.WrongAmbient.String(), ""},
		{torque, "38 ft-lb", resolver.UnitMixed.String(), "the number in one unit taken for one in another"},
		{torque, "38 bar", resolver.UnitMixed.String(), ""},
		{torque, "40 N·m", "unrecognised", ""},
		{torque, "38 zorkmids", refused, "an unknown unit is for a person to look at"},
		{torque, "36 to 40 N·m", refused, "a range is no number"},
		{torque, "thirty-eight", refused, ""},
		{torque, "38 or 40 N·m", refused, ""},
		{wide, "36 N·m", "right", "the limits of the tolerance count"},
		{wide, "40 N·m", "right", ""},
		{wide, "40.1 N·m", "unrecognised", ""},
		{fast, "1,500 rpm", "right", "as thousands it is the key, as a decimal nothing"},
		{fast, "1.500 U/min", "right", ""},
		{fast, "1 500 1/min", "right", ""},
		{fast, "25 Hz", "right", "1500/60"},
		{both, "1,500 mm", refused, "right as thousands, a slip as a decimal: ask"},
		{both, "1500 mm", "right", ""},
		{both, "1.5 m", "right", ""},
		{both, "1,5 mm", resolver.NeighbourCard.String(), ""},
		{small, "0,8 mm", "right", ""},
		{small, "0.80 mm", "right", ""},
		{small, "0.08 cm", "right", ""},
		{small, "0.0315 in", "right", ""},
		{small, "0.031 in", "unrecognised", "rounded rightly, but off by 1.6 %"},
		{small, "8 mm", "unrecognised", ""},
		{bare, "4", "right", ""},
		{bare, "4 mm", resolver.UnitMixed.String(), "a unit where there is none"},
	} {
		s, err := Grade(c.q, c.given, Rules{})
		got := "unrecognised"
		var refusal *Refusal
		switch {
		case errors.As(err, &refusal):
			got = refused
		case s.Verdict == Right:
			got = "right"
		case s.Known:
			got = s.Slip.String()
		}
		if got != c.want {
			t.Errorf("%v %s: %q is %s, want %s (%s)", c.q.Key.Number, c.q.Key.Unit, c.given, got, c.want, c.why)
		}
		if got != "right" && got != refused && s.Points != 0 {
			t.Errorf("%q scored %v", c.given, s.Points)
		}
	}
	if s, _ := Grade(torque, "38", Rules{}); !strings.Contains(s.Says, "unit is missing") {
		t.Errorf("a missing unit says %q", s.Says)
	}
}

// A range is no answer where one number is asked for, except one that a slip
// leads to: whoever takes the line beside the right one in a table may read a
// range there.
func TestARangeThatASlipLeadsTo(t *testing.T) {
	q := &banks.Question{Kind: "specification", Skill: "specifications", Form: banks.Number, Key: banks.Key{Number: 90, Unit: "°C"},
		Slipped: []banks.Slipped{{Value: "74.5 to 78.5 °C", Slip: resolver.WrongAmbient}}}
	for _, given := range []string{"74.5 to 78.5 °C", "74.5–78.5 °C", "166.1 to 173.3 °F"} {
		s, err := Grade(q, given, Rules{})
		if err != nil || s.Verdict != Wrong || !s.Known || s.Slip != resolver.WrongAmbient {
			t.Errorf("%q: %+v, %v", given, s, err)
		}
	}
	for _, given := range []string{"70 to 80 °C", "at least 90 °C", "at least 74.5 °C", "88 to 92 °C"} {
		var refusal *Refusal
		if s, err := Grade(q, given, Rules{}); !errors.As(err, &refusal) {
			t.Errorf("%q is not refused: %+v, %v", given, s, err)
		}
	}
}
