package grading

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// TestFactorsOfSP811 compares the factors with those that NIST Special
// Publication 811 (2008), appendix B.8, "Factors for units listed
// alphabetically", gives to seven digits, and with those of GNU units 2.22 to
// fifteen (units -d 15), both worked out apart from this package.
func TestFactorsOfSP811(t *testing.T) {
	for _, c := range []struct {
		from, to string
		sp811    float64 // seven digits, from memory of the table; 0: not there
		gnu      float64 // fifteen digits; 0: not there
	}{
		{"atm", "Pa", 1.01325e5, 101325},
		{"bar", "Pa", 1e5, 0},
		{"ft", "m", 3.048e-1, 0},
		{"floz", "m3", 2.957353e-5, 2.95735295625e-05},
		{"gal", "m3", 3.785412e-3, 0.003785411784},
		{"impgal", "m3", 4.54609e-3, 0.00454609},
		{"gal/min", "m3/h", 6.309020e-5 * 3600, 6.30901964e-05 * 3600},
		{"hp", "W", 7.456999e2, 745.69987158227},
		{"PS", "W", 7.354988e2, 735.49875},
		{"in", "m", 2.54e-2, 0},
		{"in3", "m3", 1.638706e-5, 1.6387064e-05},
		{"kgf", "N", 9.80665, 9.80665},
		{"kgf·m", "N·m", 9.80665, 9.80665},
		{"kgf/cm2", "Pa", 9.80665e4, 98066.5},
		{"km/h", "m/s", 2.777778e-1, 0},
		{"mi", "m", 1.609344e3, 1609.344},
		{"mi/h", "m/s", 4.4704e-1, 0.44704},
		{"mil", "m", 2.54e-5, 2.54e-05},
		{"oz", "kg", 2.834952e-2, 0.028349523125},
		{"pt", "m3", 4.731765e-4, 0.000473176473},
		{"imppt", "m3", 5.682612e-4, 0.00056826125},
		{"lb", "kg", 4.535924e-1, 0.45359237},
		{"lbf", "N", 4.448222, 0},
		{"lbf·ft", "N·m", 1.355818, 1.3558179483314},
		{"lbf·in", "N·m", 1.129848e-1, 0.112984829027617},
		{"psi", "Pa", 6.894757e3, 6894.75729316836},
		{"qt", "m3", 9.463529e-4, 0.000946352946},
		{"impqt", "m3", 0, 0.0011365225},
		{"yd", "m", 9.144e-1, 0.9144},
		{"°", "rad", 1.745329e-2, 0},
		{"h", "s", 3.6e3, 0},
		{"mm2/s", "mm2/s", 1, 1},
		{"A·h", "A·h", 1, 1},
	} {
		got, err := Convert(1, c.from, c.to)
		if err != nil {
			t.Errorf("%s: %v", c.from, err)
			continue
		}
		if c.sp811 != 0 && math.Abs(got/c.sp811-1) > 5.1e-7 {
			t.Errorf("%s = %.9g %s, SP 811 has %.7g", c.from, got, c.to, c.sp811)
		}
		if c.gnu != 0 && math.Abs(got/c.gnu-1) > 1e-14 {
			t.Errorf("%s = %.16g %s, GNU units has %.15g", c.from, got, c.to, c.gnu)
		}
	}
}

// Temperatures: the fixed points of water and the point at which both scales
// agree (SP 811, B.8: t/°C = (t/°F − 32)/1.8).
func TestTemperatures(t *testing.T) {
	for _, c := range []struct {
		value    float64
		from, to string
		want     float64
	}{
		{0, "°C", "°F", 32},
		{100, "°C", "°F", 212},
		{-40, "°F", "°C", -40},
		{98.6, "°F", "°C", 37},
		{0, "°C", "K", 273.15},
	} {
		if got, err := Convert(c.value, c.from, c.to); err != nil || math.Abs(got-c.want) > 1e-10 {
			t.Errorf("%v %s = %v %s (%v), want %v", c.value, c.from, got, c.to, err, c.want)
		}
	}
}

func TestSpellingsOfUnits(t *testing.T) {
	for unit, spellings := range map[string][]string{
		"N·m":    {"Nm", "N m", "N.m", "N*m", "N⋅m", "nm", "NM", "newton metres", "N-m"},
		"lbf·ft": {"ft-lb", "ft.lbs", "ft lbf", "lb-ft", "lbs ft", "FT-LBS", "foot pounds"},
		"lbf·in": {"in-lb", "in.lbs", "inch pounds"},
		"L":      {"l", "litre", "Liters", "ltr."},
		"mL":     {"ml", "ML", "millilitres"},
		"1/min":  {"rpm", "RPM", "r/min", "min-1", "min⁻¹", "rev/min", "U/min", "/min"},
		"°C":     {"C", "deg C", "°c", "degrees Celsius", "℃", "° C"},
		"°F":     {"F", "deg. F", "℉"},
		"Ohm":    {"ohm", "ohms", "Ω", "Ω"},
		"kOhm":   {"kohm", "kΩ", "K OHM"},
		"mm":     {"MM", "millimeters", "mm."},
		"µm":     {"μm", "um", "microns"},
		"in":     {"inch", "\"", "″", "in."},
		"cm3":    {"cc", "ccm", "cm³", "cm^3"},
		"MPa":    {"mpa", "MPA", "N/mm²"},
		"mPa":    {"mPa"},
		"kgf/cm2": {
			"kg/cm2", "kg/cm²", "kp/cm2",
		},
		"psi": {"PSI", "lbf/in2", "lb/in²"},
		"°":   {"deg", "degrees"},
		"L/h": {"l/h", "L/hr"},
		"%":   {"percent"},
	} {
		for _, s := range spellings {
			m, ok := unitOf(s)
			if !ok || m.symbol != unit {
				t.Errorf("%q is %v, want %s", s, m, unit)
			}
		}
	}
}

// No spelling means two units, and the table says what it means itself.
func TestUnitTable(t *testing.T) {
	for _, r := range unitRows() {
		m, ok := unitOf(r.symbol)
		if !ok || m.symbol != r.symbol {
			t.Errorf("the symbol %s reads as %v", r.symbol, m)
		}
		for _, s := range strings.Fields(r.spellings) {
			m, ok := unitOf(s)
			if !ok || m.symbol != r.symbol {
				t.Errorf("%s, a spelling of %s, reads as %v", s, r.symbol, m)
			}
		}
	}
	for _, pair := range [][2]string{{"bar", "N·m"}, {"N·m", "W"}, {"L", "L/min"}, {"1/min", "L"}, {"°C", "°"}, {"clicks", "mm"}, {"mm", "furlong"}} {
		if v, err := Convert(1, pair[0], pair[1]); err == nil {
			t.Errorf("%s converts to %v %s", pair[0], v, pair[1])
		}
	}
	if v, err := Convert(20, "clicks", "click"); err != nil || v != 20 {
		t.Errorf("a unit that the table does not hold is not itself: %v, %v", v, err)
	}
}

// Converting there and back gives the value again, whatever way round.
func TestConvertThereAndBack(t *testing.T) {
	rows := unitRows()
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.SampledFrom(rows).Draw(t, "from"), rapid.SampledFrom(rows).Draw(t, "to")
		v := rapid.Float64Range(-1e6, 1e6).Draw(t, "value")
		there, err := Convert(v, a.symbol, b.symbol)
		if err != nil {
			t.Skip("different things")
		}
		back, err := Convert(there, b.symbol, a.symbol)
		if err != nil || math.Abs(back-v) > 1e-9*math.Max(1, math.Abs(v)) {
			t.Fatalf("%v %s = %v %s = %v %s (%v)", v, a.symbol, there, b.symbol, back, a.symbol, err)
		}
	})
}
