package grading

import (
	"fmt"
	"strings"

	"gonum.org/v1/gonum/unit"
)

// symbol is a unit of measure: its dimensions and what one of it is in coherent
// SI units, plus an offset for temperatures.
type symbol struct {
	dim    unit.Dimensions
	factor float64
	offset float64
}

// symbols gives the units that service literature uses. Factors are exact by
// definition unless noted: NIST Special Publication 811 (2008), appendix B,
// from memory.
func symbols() map[string]symbol {
	length := unit.Dimensions{unit.LengthDim: 1}
	volume := unit.Dimensions{unit.LengthDim: 3}
	mass := unit.Dimensions{unit.MassDim: 1}
	time := unit.Dimensions{unit.TimeDim: 1}
	temp := unit.Dimensions{unit.TemperatureDim: 1}
	pressure := unit.Dimensions{unit.MassDim: 1, unit.LengthDim: -1, unit.TimeDim: -2}
	torque := unit.Dimensions{unit.MassDim: 1, unit.LengthDim: 2, unit.TimeDim: -2}
	force := unit.Dimensions{unit.MassDim: 1, unit.LengthDim: 1, unit.TimeDim: -2}
	power := unit.Dimensions{unit.MassDim: 1, unit.LengthDim: 2, unit.TimeDim: -3}
	current := unit.Dimensions{unit.CurrentDim: 1}
	voltage := unit.Dimensions{unit.MassDim: 1, unit.LengthDim: 2, unit.TimeDim: -3, unit.CurrentDim: -1}
	resistance := unit.Dimensions{unit.MassDim: 1, unit.LengthDim: 2, unit.TimeDim: -3, unit.CurrentDim: -2}
	frequency := unit.Dimensions{unit.TimeDim: -1}
	flow := unit.Dimensions{unit.LengthDim: 3, unit.TimeDim: -1}
	angle := unit.Dimensions{unit.AngleDim: 1}
	const (
		lbf = 0.45359237 * 9.80665
		in  = 0.0254
		ft  = 0.3048
		gal = 231 * in * in * in
		deg = 3.14159265358979323846 / 180
	)
	return map[string]symbol{
		"m": {length, 1, 0}, "mm": {length, 1e-3, 0}, "cm": {length, 1e-2, 0}, "km": {length, 1e3, 0}, "µm": {length, 1e-6, 0},
		"in": {length, in, 0}, "ft": {length, ft, 0}, "mi": {length, 5280 * ft, 0}, "thou": {length, in / 1000, 0},
		"l": {volume, 1e-3, 0}, "ml": {volume, 1e-6, 0}, "cm3": {volume, 1e-6, 0}, "gal": {volume, gal, 0}, "qt": {volume, gal / 4, 0}, "pt": {volume, gal / 8, 0},
		"kg": {mass, 1, 0}, "g": {mass, 1e-3, 0}, "lb": {mass, 0.45359237, 0}, "oz": {mass, 0.45359237 / 16, 0},
		"s": {time, 1, 0}, "min": {time, 60, 0}, "h": {time, 3600, 0}, "ms": {time, 1e-3, 0},
		"°c": {temp, 1, 273.15}, "°f": {temp, 5.0 / 9, 459.67 * 5 / 9}, "k": {temp, 1, 0},
		"pa": {pressure, 1, 0}, "kpa": {pressure, 1e3, 0}, "mpa": {pressure, 1e6, 0}, "bar": {pressure, 1e5, 0}, "mbar": {pressure, 100, 0},
		"psi": {pressure, lbf / (in * in), 0},
		"nm":  {torque, 1, 0}, "lbfft": {torque, lbf * ft, 0}, "lbfin": {torque, lbf * in, 0},
		"n": {force, 1, 0}, "kn": {force, 1e3, 0}, "lbf": {force, lbf, 0},
		"w": {power, 1, 0}, "kw": {power, 1e3, 0}, "hp": {power, 550 * lbf * ft, 0},
		"a": {current, 1, 0}, "ma": {current, 1e-3, 0},
		"v": {voltage, 1, 0}, "mv": {voltage, 1e-3, 0},
		"ohm": {resistance, 1, 0}, "kohm": {resistance, 1e3, 0}, "ω": {resistance, 1, 0}, "kω": {resistance, 1e3, 0},
		"rpm": {frequency, 1.0 / 60, 0}, "1/min": {frequency, 1.0 / 60, 0}, "hz": {frequency, 1, 0},
		"l/min": {flow, 1e-3 / 60, 0}, "l/h": {flow, 1e-3 / 3600, 0}, "gal/min": {flow, gal / 60, 0},
		"°": {angle, deg, 0},
	}
}

// spellings are other ways to write a symbol.
func spelling(u string) string {
	u = strings.ToLower(strings.TrimSpace(u))
	u = strings.NewReplacer("·", "", "⋅", "", "*", "", "-", "", " ", "", ".", "", "μ", "µ", "³", "3", "ω", "ohm", "ohms", "ohm").Replace(u)
	switch u {
	case "litre", "litres", "liter", "liters", "ltr":
		return "l"
	case "degc", "c", "celsius":
		return "°c"
	case "degf", "f", "fahrenheit":
		return "°f"
	case "ftlb", "ftlbf", "lbft", "lbfft", "ftlbs", "lbsft":
		return "lbfft"
	case "inlb", "inlbf", "lbin", "lbfin":
		return "lbfin"
	case "mm.", "millimetre", "millimetres":
		return "mm"
	case "cc", "ccm":
		return "cm3"
	case "r/min", "u/min", "min1", "rev/min":
		return "rpm"
	case "deg":
		return "°"
	case "\"", "inch", "inches":
		return "in"
	case "um", "micron", "microns":
		return "µm"
	}
	return u
}

// unitTable is built once and only read.
var unitTable = symbols()

// Convert converts a value from one unit to another of the same dimensions. An
// empty pair of units, or one and the same symbol, converts any value to
// itself.
func Convert(value float64, from, to string) (float64, error) {
	f, t := spelling(from), spelling(to)
	if f == t {
		return value, nil
	}
	a, ok := unitTable[f]
	if !ok {
		return 0, fmt.Errorf("the unit %q is not known", from)
	}
	b, ok := unitTable[t]
	if !ok {
		return 0, fmt.Errorf("the unit %q is not known", to)
	}
	x, y := unit.New(1, a.dim), unit.New(1, b.dim)
	if !unit.DimensionsMatch(x, y) {
		return 0, fmt.Errorf("%s cannot be converted to %s: they measure different things", from, to)
	}
	return (value*a.factor + a.offset - b.offset) / b.factor, nil
}
