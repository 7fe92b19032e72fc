package banks

import (
	"cmp"
	"strconv"
	"strings"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// horizon bounds an open side of a stretch for the choice of a build date, in
// months, and of a serial.
const (
	horizonMonths  = 36
	horizonSerials = 4000
)

// Vehicle chooses a vehicle of a unit within a stretch, at a position, and
// writes its plate as lines of the question: a chassis number where a scheme
// can write one, else the model code; the build date; and the serial where the
// plate shows it apart. It sets Q.Query.Vehicle and Q.About.Model.
func (m *Maker) Vehicle(u *UnitRef, g catalog.Range, at Position) bool {
	built, serial := m.inStep(u.Range, g, m.buildDate(g, at), m.serial(g, at))
	m.Q.About.Model = u.Code
	v := &m.Q.Query.Vehicle
	*v = resolver.Vehicle{Built: built}
	if m.Meta.Primary != catalog.UnitModel {
		return m.unitPlate(u, serial)
	}
	if serial != 0 {
		if code, ok := m.chassisNumber(u, built, serial); ok {
			v.Chassis = code
			m.Line("Chassis number", code)
			m.Line("Built", built.String())
			return true
		}
	}
	v.Model, v.Serial = u.Code, serial
	m.Line("Model code", u.Code)
	if serial != 0 {
		m.Line("Serial", strconv.FormatInt(serial, 10))
	}
	m.Line("Built", built.String())
	return true
}

// unitPlate writes the number of an engine (or another primary unit) where a
// scheme can, else its code and serial.
func (m *Maker) unitPlate(u *UnitRef, serial int64) bool {
	v := &m.Q.Query.Vehicle
	unit := m.Meta.Primary
	if unit != catalog.UnitEngine && unit != catalog.UnitTransmission {
		return false // the query has no place for another unit's number
	}
	if serial == 0 {
		serial = 1 + m.Rand.Int64N(horizonSerials)
	}
	number := u.Code
	for _, d := range m.C.Decoders(unit) {
		values := map[string]string{}
		if m.fill(d, values, u, catalog.AnyDay(), serial) {
			if code, err := d.Compose(values); err == nil {
				number = code
				break
			}
		}
	}
	if number == u.Code {
		v.Serial = serial
	}
	label := "Engine number"
	if unit == catalog.UnitTransmission {
		label = "Transmission number"
		v.Transmission = number
	} else {
		v.Engine = number
	}
	m.Line(label, number)
	if v.Serial != 0 {
		m.Line("Serial", strconv.FormatInt(v.Serial, 10))
	}
	m.Line("Built", v.Built.String())
	return true
}

func (m *Maker) chassisNumber(u *UnitRef, built catalog.Date, serial int64) (string, bool) {
	for _, d := range m.C.Decoders("chassis") {
		values := map[string]string{}
		if !m.fill(d, values, u, built.Span(), serial) {
			continue
		}
		if code, err := d.Compose(values); err == nil {
			return code, true
		}
	}
	return "", false
}

// fill gives every field of a scheme a value that agrees with the vehicle.
func (m *Maker) fill(d *catalog.Decoder, values map[string]string, u *UnitRef, built catalog.Days, serial int64) bool {
	fields := d.Fields()
	for i := range fields {
		f := &fields[i]
		raw, ok := "", true
		switch f.Name {
		case "serial":
			raw = strconv.FormatInt(serial, 10)
			if n := f.Length - len(raw); n > 0 {
				raw = strings.Repeat("0", n) + raw
			}
			ok = f.Length == 0 || len(raw) == f.Length
		case "year", "month":
			date := built.From.Date()
			if built.From == catalog.MinDay {
				return false
			}
			n := int(date.Year)
			if f.Name == "month" {
				n = int(date.Month)
			}
			raw, ok = f.RawFor(strconv.Itoa(n), built)
			if !ok && f.Name == "month" {
				raw, ok = f.RawFor("0"+strconv.Itoa(n), built)
			}
			if len(f.Values) == 0 && f.Length > len(raw) {
				raw = strings.Repeat("0", f.Length-len(raw)) + raw
			}
		case "check":
			continue
		default:
			if code, is := u.Codes[f.Name]; is {
				raw, ok = f.RawFor(code, built)
			} else if len(f.Values) > 0 {
				raw, ok = m.anyValue(f, built)
			} else {
				raw = strings.Repeat("0", f.Length)
			}
		}
		if !ok {
			return false
		}
		values[f.Name] = raw
	}
	return true
}

// anyValue picks a value of a field's table that has a meaning within built.
func (m *Maker) anyValue(f *catalog.Field, built catalog.Days) (string, bool) {
	from := m.Rand.IntN(len(f.Values))
	for i := range f.Values {
		v := &f.Values[(from+i)%len(f.Values)]
		for _, mean := range v.Means {
			if !mean.Days.Meet(built).Empty() {
				return v.Raw, true
			}
		}
	}
	return "", false
}

// buildDate chooses a date in a stretch: at a limit the month (or, where the
// limit is given to the day, the day) that it includes last or first.
func (m *Maker) buildDate(g catalog.Range, at Position) catalog.Date {
	from, through := g.From, g.Through
	switch {
	case from.IsZero() && through.IsZero():
		return catalog.Date{}
	case from.IsZero():
		from = catalog.Date{Year: through.Year, Month: cmp.Or(through.Month, 12)}.AddMonths(-horizonMonths)
	case through.IsZero():
		through = catalog.Date{Year: from.Year, Month: cmp.Or(from.Month, 1)}.AddMonths(horizonMonths)
	}
	switch at {
	case First:
		from.Month = cmp.Or(from.Month, 1)
		return from
	case Last:
		through.Month = cmp.Or(through.Month, 12)
		return through
	}
	// Inside: to the day where a limit is given to the day, or the month at
	// the limit would be in doubt.
	a, b := from.First(), through.Last()
	n := a + catalog.Day(m.Rand.Int64N(int64(b-a)+1))
	d := n.Date()
	if from.Day == 0 && through.Day == 0 {
		d.Day = 0
	}
	return d
}

// inStep brings build date and serial of a vehicle together where the data card
// limits both: vehicles are numbered as they are built, so that the serial lies
// about as far into its range as the date into its own. Whichever of the two a
// record limits is kept, the other follows it.
func (m *Maker) inStep(card, g catalog.Range, built catalog.Date, serial int64) (catalog.Date, int64) {
	if card.From.IsZero() || card.Through.IsZero() || card.Serials.From == 0 || card.Serials.Through == 0 || built.IsZero() {
		return built, serial
	}
	first, days := card.From.First(), card.Through.Last()-card.From.First()+1
	number, numbers := card.Serials.From, card.Serials.Through-card.Serials.From+1
	dateKept := g.From != card.From || g.Through != card.Through
	switch {
	case g.Serials == card.Serials:
		share := (float64(built.First()-first) + m.Rand.Float64()*float64(built.Last()-built.First()+1)) / float64(days)
		serial = number + int64(min(max(share, 0), 1)*float64(numbers-1))
	case !dateKept:
		share := (float64(serial-number) + 0.5) / float64(numbers)
		d := (first + catalog.Day(min(max(share, 0), 1)*float64(days-1))).Date()
		if built.Day == 0 {
			d.Day = 0
		}
		built = d
	}
	return built, serial
}

func (m *Maker) serial(g catalog.Range, at Position) int64 {
	lo, hi := g.Serials.From, g.Serials.Through
	switch {
	case lo == 0 && hi == 0:
		return 0
	case lo == 0:
		lo = max(1, hi-horizonSerials)
	case hi == 0:
		hi = lo + horizonSerials
	}
	switch at {
	case First:
		if g.Serials.From != 0 {
			return lo
		}
	case Last:
		if g.Serials.Through != 0 {
			return hi
		}
	}
	return lo + m.Rand.Int64N(hi-lo+1)
}

// UnitNumber writes the number of a unit other than the primary one, with a
// serial within a range at a position, for records whose serial limits count
// that unit. Engine and transmission alone have numbers that a query can hold.
func (m *Maker) UnitNumber(unit, code string, s catalog.Serials, at Position) bool {
	serial := m.serial(catalog.Range{Serials: s}, at)
	if serial == 0 {
		return true
	}
	u := &UnitRef{Code: code, Codes: map[string]string{unit: code}}
	for _, d := range m.C.Decoders(unit) {
		values := map[string]string{}
		if !m.fill(d, values, u, m.Q.Query.Vehicle.Built.Span(), serial) {
			continue
		}
		number, err := d.Compose(values)
		if err != nil {
			continue
		}
		switch unit {
		case catalog.UnitEngine:
			m.Q.Query.Vehicle.Engine = number
			m.Line("Engine number", number)
			return true
		case catalog.UnitTransmission:
			m.Q.Query.Vehicle.Transmission = number
			m.Line("Transmission number", number)
			return true
		}
	}
	return false
}
