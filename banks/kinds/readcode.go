package kinds

import (
	"slices"
	"strconv"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// readCode asks what a field of the number on the plate says.
func readCode() banks.Kind {
	return banks.Kind{
		Name: "read-code", Title: "Reading a code", Skill: "reading codes",
		Slips: []resolver.Slip{resolver.WrongDigits, resolver.WrongSideLimit},
		Sites: readCodeSites,
		Make: func(m *banks.Maker, s banks.Site) bool {
			u := &m.Units[s.Card]
			if !m.Vehicle(u, u.Range, s.At) {
				return false
			}
			code, decoders := plateCode(m)
			for _, d := range decoders {
				if int(s.Extra) >= len(d.Fields()) || !d.Fits(code) {
					continue
				}
				return readField(m, d, code, int(s.Extra))
			}
			return false
		},
	}
}

// plateCode is the number that the question shows, and the schemes that may
// read it.
func plateCode(m *banks.Maker) (string, []*catalog.Decoder) {
	v := &m.Q.Query.Vehicle
	switch {
	case v.Chassis != "":
		return catalog.Fold(v.Chassis), m.C.Decoders("chassis")
	case v.Engine != "" && m.Meta.Primary == catalog.UnitEngine:
		return catalog.Fold(v.Engine), m.C.Decoders(catalog.UnitEngine)
	case v.Transmission != "" && m.Meta.Primary == catalog.UnitTransmission:
		return catalog.Fold(v.Transmission), m.C.Decoders(catalog.UnitTransmission)
	}
	return catalog.Fold(v.Model), m.C.Decoders(catalog.UnitModel)
}

func readField(m *banks.Maker, d *catalog.Decoder, code string, n int) bool {
	values, err := d.Read(code, nil)
	if err != nil {
		return false
	}
	f := &d.Fields()[n]
	var value *catalog.FieldValue
	for i := range values {
		if values[i].Field.Name == f.Name {
			value = &values[i]
		}
	}
	if value == nil || f.Check != "" {
		return false
	}
	built := m.Q.Query.Vehicle.Built.Span()
	key := meaning(value.Means, value.Raw, built)
	if key == "" {
		return false
	}
	if f.Name == "year" || f.Name == "month" {
		// The build date beside the number would give the answer away. Where the
		// characters stand for several years it cannot be left out.
		if len(value.Means) > 1 {
			return false
		}
		m.Q.Order = slices.DeleteFunc(m.Q.Order, func(l banks.Line) bool { return l.Label == "Built" })
	}
	m.Q.Query.Task = resolver.CardTask
	if !m.Ask() {
		return false
	}
	m.Q.About.Record = "scheme:" + d.Name() + "/" + f.Name
	m.Q.Stem = m.Pick(
		"Read the number on the plate: what does its field “"+f.Name+"” say?",
		"Which "+f.Name+" does the number give?",
		"Which "+f.Name+" does this number stand for?",
	)
	m.KeyOption(key, key)
	// The same characters in another period.
	for _, mean := range value.Means {
		m.WrongOption(mean.Text, mean.Text, resolver.Break{Slip: resolver.WrongSideLimit})
	}
	// The field one or two positions beside its place, and characters of the
	// other fields of its length.
	wrong := func(at, variant int) {
		if at < 0 || f.Length == 0 || at+f.Length > len(code) {
			return
		}
		raw := code[at : at+f.Length]
		means, known := f.Lookup(raw)
		if len(f.Values) > 0 && !known {
			return
		}
		text := meaning(means, raw, built)
		m.WrongOption(text, text, resolver.Break{Slip: resolver.WrongDigits, Variant: variant})
	}
	for i, by := range [...]int{1, -1, 2, -2} {
		wrong(f.First-1+by, i)
	}
	for at := range len(code) {
		wrong(at, 4)
	}
	m.FeatureIf(len(value.Means) > 1, "both limits")
	m.Trace(resolver.CodeStep, span(f)+": "+value.Raw+" means "+key)
	charset := "code"
	if d.Kind() == "chassis" {
		charset = "vin"
	}
	if f.Name == "serial" {
		charset = "digits"
	}
	return m.OneOf(charset)
}

func span(f *catalog.Field) string {
	first := strconv.Itoa(f.First)
	switch f.Length {
	case 0:
		return "from position " + first + " on"
	case 1:
		return "position " + first
	}
	return "positions " + first + " to " + strconv.Itoa(f.First+f.Length-1)
}

// meaning is what a value means in a period, or the characters themselves
// where the field has no table.
func meaning(means []catalog.Meaning, raw string, built catalog.Days) string {
	for i := range means {
		if catalog.FitDays(built, means[i].Days) != catalog.Outside {
			if means[i].Text != "" {
				return means[i].Text
			}
			return raw
		}
	}
	if len(means) > 0 {
		return ""
	}
	return raw
}

func readCodeSites(s *banks.Source) banks.Sites {
	most := 0
	for _, kind := range []string{"chassis", s.Meta.Primary} {
		for _, d := range s.C.Decoders(kind) {
			most = max(most, len(d.Fields()))
		}
	}
	var out []banks.Site
	for i := range s.Units {
		u := &s.Units[i]
		for f := range most {
			banks.Positions(catalog.Range{}, u.Range, func(at banks.Position) {
				out = append(out, banks.Site{Row: int32(i), Card: int32(i), Extra: int32(f), At: at})
			})
		}
	}
	return banks.NewSites(out)
}
