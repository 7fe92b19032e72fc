package grading

import (
	"fmt"
	"strings"
	"sync"

	"golang.org/x/text/unicode/norm"
	"gonum.org/v1/gonum/unit"
)

// measure is a unit of measure: what one of it is in coherent SI units, an
// offset for temperatures, and a number that units of the same dimensions
// share.
type measure struct {
	symbol string
	factor float64
	offset float64
	kind   int
}

// unitRow is a row of the table of units. Other spellings are in lower case,
// without spaces, points, hyphens and multiplication marks.
type unitRow struct {
	symbol    string
	dims      unit.Dimensions
	factor    float64
	offset    float64
	spellings string
}

// unitRows lists the units that service literature uses. The factors are exact
// by definition: NIST Special Publication 811 (2008), appendix B.8, gives them
// to seven digits, exact ones in bold; a derived one is written here as the
// product of its exact parts (inch, pound, standard gravity, gallon of 231
// cubic inches). A gallon, quart, pint and fluid ounce are the US liquid ones
// unless they are called imperial. Of two units that differ in the case of
// their letters alone, the one that stands first is meant where the case is
// neither the one nor the other's.
func unitRows() []unitRow {
	dims := func(powers ...int) unit.Dimensions {
		d := unit.Dimensions{}
		for i, base := range [...]unit.Dimension{unit.LengthDim, unit.MassDim, unit.TimeDim, unit.CurrentDim, unit.TemperatureDim, unit.AngleDim} {
			if i < len(powers) && powers[i] != 0 {
				d[base] = powers[i]
			}
		}
		return d
	}
	var (
		length      = dims(1)
		area        = dims(2)
		volume      = dims(3)
		mass        = dims(0, 1)
		time        = dims(0, 0, 1)
		current     = dims(0, 0, 0, 1)
		charge      = dims(0, 0, 1, 1)
		temperature = dims(0, 0, 0, 0, 1)
		angle       = dims(0, 0, 0, 0, 0, 1)
		speed       = dims(1, 0, -1)
		frequency   = dims(0, 0, -1)
		force       = dims(1, 1, -2)
		torque      = dims(2, 1, -2)
		pressure    = dims(-1, 1, -2)
		power       = dims(2, 1, -3)
		flow        = dims(3, 0, -1)
		voltage     = dims(2, 1, -3, -1)
		resistance  = dims(2, 1, -3, -2)
		viscosity   = dims(2, 0, -1)
		plain       = dims()
	)
	const (
		in   = 0.0254
		ft   = 12 * in
		mile = 5280 * ft
		lb   = 0.45359237
		g    = 9.80665 // standard gravity, m/s²
		lbf  = lb * g
		gal  = 231 * in * in * in
		imp  = 4.54609e-3
		pi   = 3.14159265358979323846264338327950288
	)
	return []unitRow{
		{"mm", length, 1e-3, 0, "millimetre millimetres millimeter millimeters"},
		{"cm", length, 1e-2, 0, "centimetre centimetres centimeter centimeters"},
		{"m", length, 1, 0, "metre metres meter meters"},
		{"km", length, 1e3, 0, "kilometre kilometres kilometer kilometers"},
		{"µm", length, 1e-6, 0, "um micron microns micrometre micrometres micrometer micrometers"},
		{"in", length, in, 0, "inch inches \" ″ ''"},
		{"ft", length, ft, 0, "foot feet ' ′"},
		{"yd", length, 3 * ft, 0, "yard yards"},
		{"mi", length, mile, 0, "mile miles"},
		{"mil", length, in / 1000, 0, "mils thou thous"},

		{"cm2", area, 1e-4, 0, "sqcm"},
		{"mm2", area, 1e-6, 0, "sqmm"},
		{"m2", area, 1, 0, "sqm"},

		{"L", volume, 1e-3, 0, "litre litres liter liters ltr ltrs dm3"},
		{"mL", volume, 1e-6, 0, "millilitre millilitres milliliter milliliters"},
		{"cL", volume, 1e-5, 0, ""},
		{"dL", volume, 1e-4, 0, ""},
		{"cm3", volume, 1e-6, 0, "cc ccm cucm"},
		{"m3", volume, 1, 0, "cum"},
		{"in3", volume, in * in * in, 0, "cuin cubicinch cubicinches"},
		{"gal", volume, gal, 0, "gallon gallons usgal usgallon usgallons gal(us)"},
		{"qt", volume, gal / 4, 0, "quart quarts usqt usquart usquarts qt(us)"},
		{"pt", volume, gal / 8, 0, "pint pints uspt uspint uspints pt(us)"},
		{"floz", volume, gal / 128, 0, "fluidounce fluidounces usfloz floz(us)"},
		{"impgal", volume, imp, 0, "imperialgallon imperialgallons ukgal ukgallon ukgallons gal(uk) gal(imp)"},
		{"impqt", volume, imp / 4, 0, "imperialquart imperialquarts ukqt qt(uk) qt(imp)"},
		{"imppt", volume, imp / 8, 0, "imperialpint imperialpints ukpt pt(uk) pt(imp)"},
		{"impfloz", volume, imp / 160, 0, "imperialfluidounce imperialfluidounces ukfloz floz(uk) floz(imp)"},

		{"kg", mass, 1, 0, "kilogram kilograms kilo kilos kgs"},
		{"g", mass, 1e-3, 0, "gram grams gr"},
		{"mg", mass, 1e-6, 0, "milligram milligrams"},
		{"t", mass, 1e3, 0, "tonne tonnes"},
		{"lb", mass, lb, 0, "lbs pound pounds lbm"},
		{"oz", mass, lb / 16, 0, "ounce ounces"},

		{"s", time, 1, 0, "sec secs second seconds"},
		{"ms", time, 1e-3, 0, "millisecond milliseconds msec"},
		{"min", time, 60, 0, "mins minute minutes"},
		{"h", time, 3600, 0, "hr hrs hour hours"},

		{"°C", temperature, 1, 273.15, "c degc degreec degreesc celsius degcelsius degreescelsius centigrade"},
		{"°F", temperature, 5.0 / 9, 459.67 * 5 / 9, "f degf degreef degreesf fahrenheit degfahrenheit degreesfahrenheit"},
		{"K", temperature, 1, 0, "kelvin"},

		{"bar", pressure, 1e5, 0, "bars"},
		{"mbar", pressure, 1e2, 0, "millibar millibars"},
		{"Pa", pressure, 1, 0, "pascal pascals"},
		{"hPa", pressure, 1e2, 0, ""},
		{"kPa", pressure, 1e3, 0, "kilopascal kilopascals"},
		{"MPa", pressure, 1e6, 0, "megapascal megapascals n/mm2"},
		{"mPa", pressure, 1e-3, 0, ""},
		{"psi", pressure, lbf / (in * in), 0, "lbf/in2 lb/in2 lbs/in2 psig lb/sqin lbf/sqin"},
		{"kgf/cm2", pressure, g / 1e-4, 0, "kg/cm2 at kp/cm2"},
		{"atm", pressure, 101325, 0, "atmosphere atmospheres"},

		{"N·m", torque, 1, 0, "nm newtonmetre newtonmetres newtonmeter newtonmeters"},
		{"kN·m", torque, 1e3, 0, "knm"},
		{"N·cm", torque, 1e-2, 0, "ncm"},
		{"daN·m", torque, 10, 0, "danm"},
		{"kgf·m", torque, g, 0, "kgfm kgm mkg kpm mkp"},
		{"lbf·ft", torque, lbf * ft, 0, "lbfft lbft lbsft ftlb ftlbf ftlbs ftlbsf footpound footpounds poundfoot poundfeet poundsfeet"},
		{"lbf·in", torque, lbf * in, 0, "lbfin lbin lbsin inlb inlbf inlbs inchpound inchpounds poundinch poundinches"},

		{"N", force, 1, 0, "newton newtons"},
		{"kN", force, 1e3, 0, "kilonewton kilonewtons"},
		{"daN", force, 10, 0, ""},
		{"kgf", force, g, 0, "kp kilopond"},
		{"lbf", force, lbf, 0, ""},

		{"kW", power, 1e3, 0, "kilowatt kilowatts"},
		{"W", power, 1, 0, "watt watts"},
		{"hp", power, 550 * lbf * ft, 0, "bhp horsepower"},
		{"PS", power, 75 * g, 0, "metrichp metrichorsepower cv pk hp(metric)"},

		{"A", current, 1, 0, "amp amps ampere amperes"},
		{"mA", current, 1e-3, 0, "milliamp milliamps milliampere milliamperes"},
		{"A·h", charge, 3600, 0, "ah amphour amphours amperehour amperehours"},
		{"V", voltage, 1, 0, "volt volts"},
		{"mV", voltage, 1e-3, 0, "millivolt millivolts"},
		{"kV", voltage, 1e3, 0, "kilovolt kilovolts"},
		{"Ohm", resistance, 1, 0, "ohms Ω ω"},
		{"kOhm", resistance, 1e3, 0, "kohms kiloohm kiloohms kΩ kω"},
		{"mOhm", resistance, 1e-3, 0, "milliohm milliohms"},
		{"MOhm", resistance, 1e6, 0, "megohm megohms megaohm megaohms"},

		{"1/min", frequency, 1.0 / 60, 0, "rpm r/min rev/min revs/min u/min /min min1 min−1 perminute revolutionsperminute revsperminute"},
		{"Hz", frequency, 1, 0, "hertz 1/s"},
		{"kHz", frequency, 1e3, 0, ""},
		{"L/min", flow, 1e-3 / 60, 0, "lpm litres/min liters/min litresperminute litersperminute"},
		{"mL/min", flow, 1e-6 / 60, 0, "cc/min cm3/min"},
		{"L/h", flow, 1e-3 / 3600, 0, "lph l/hr litres/h liters/h litresperhour litersperhour"},
		{"m3/h", flow, 1.0 / 3600, 0, ""},
		{"gal/min", flow, gal / 60, 0, "gpm usgpm usgal/min"},
		{"impgal/min", flow, imp / 60, 0, "impgpm ukgal/min"},
		{"km/h", speed, 1e3 / 3600.0, 0, "kmh kph kmph"},
		{"m/s", speed, 1, 0, ""},
		{"mi/h", speed, mile / 3600, 0, "mph"},
		{"mm2/s", viscosity, 1e-6, 0, "cst centistokes"},
		{"°", angle, pi / 180, 0, "deg degs degree degrees"},
		{"rad", angle, 1, 0, ""},
		{"%", plain, 1e-2, 0, "percent pc"},
	}
}

// unitIndex finds units by their spellings; it is made on first use and only
// read from then on.
type unitIndex struct {
	exact  map[string]*measure // symbol as the table writes it
	folded map[string]*measure // lower case, without what only joins
}

var units = sync.OnceValue(func() *unitIndex {
	x := &unitIndex{exact: map[string]*measure{}, folded: map[string]*measure{}}
	var kinds []*unit.Unit
	add := func(m *measure, names ...string) {
		for _, n := range names {
			if n = foldUnit(n); x.folded[n] == nil {
				x.folded[n] = m
			}
		}
	}
	for _, r := range unitRows() {
		m := &measure{symbol: r.symbol, factor: r.factor, offset: r.offset, kind: -1}
		u := unit.New(1, r.dims)
		for i, k := range kinds {
			if unit.DimensionsMatch(u, k) {
				m.kind = i
			}
		}
		if m.kind < 0 {
			m.kind = len(kinds)
			kinds = append(kinds, u)
		}
		x.exact[r.symbol] = m
		x.exact[strings.ReplaceAll(r.symbol, "·", "")] = m
		add(m, r.symbol)
		add(m, strings.Fields(r.spellings)...)
	}
	return x
})

// unitOf finds a unit by its symbol or another spelling of it. The case of
// letters decides where it makes a difference.
func unitOf(text string) (*measure, bool) {
	x := units()
	if m, ok := x.exact[text]; ok {
		return m, true
	}
	joined := joinUnit(text)
	if m, ok := x.exact[joined]; ok {
		return m, true
	}
	m, ok := x.folded[foldUnit(joined)]
	return m, ok
}

// joinUnit drops what only joins or ends the parts of a unit.
func joinUnit(text string) string {
	return unitJoints.Replace(norm.NFKC.String(text))
}

// A superscript one is 1 after compatibility folding, so that min⁻¹ comes out
// as min−1 (with the sign for minus), and min-1 as min1.
var unitJoints = strings.NewReplacer(" ", "", "\u00a0", "", "·", "", "⋅", "", "•", "", "*", "", "×", "", "-", "", ".", "", "^", "", "μ", "µ", "²", "2", "³", "3")

func foldUnit(text string) string {
	return strings.ReplaceAll(strings.ToLower(joinUnit(text)), "μ", "µ")
}

// sameUnit tells whether two spellings mean one unit. A unit that the table
// does not hold (clicks, turns) is the same as itself and as its plural.
func sameUnit(a, b string) bool {
	if a == b {
		return true
	}
	x, okX := unitOf(a)
	y, okY := unitOf(b)
	if okX || okY {
		return okX && okY && x == y
	}
	return strings.TrimSuffix(foldUnit(a), "s") == strings.TrimSuffix(foldUnit(b), "s")
}

// Convert converts a value from one unit to another of the same dimensions, by
// factors that are exact by definition; what binary floating point rounds is
// below one part in 10¹⁴. A unit that is not known converts to itself alone.
func Convert(value float64, from, to string) (float64, error) {
	if sameUnit(from, to) {
		return value, nil
	}
	a, ok := unitOf(from)
	if !ok {
		return 0, fmt.Errorf("the unit %q is not known", from)
	}
	b, ok := unitOf(to)
	if !ok {
		return 0, fmt.Errorf("the unit %q is not known", to)
	}
	if a.kind != b.kind {
		return 0, fmt.Errorf("%s cannot be converted to %s: they measure different things", from, to)
	}
	return a.to(b, value), nil
}

// to converts between units of one kind. For temperatures the difference of the
// two offsets is taken first: it is exact where the offsets are alike.
func (m *measure) to(other *measure, value float64) float64 {
	if m == other {
		return value
	}
	if m.offset == other.offset {
		return value * (m.factor / other.factor)
	}
	return (value*m.factor + (m.offset - other.offset)) / other.factor
}
