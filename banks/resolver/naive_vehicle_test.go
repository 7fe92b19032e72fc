package resolver_test

import (
	"slices"
	"strconv"
	"strings"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// reading is one way to read the plate.
type reading struct {
	built catalog.Days
	model naiveUnit
	units map[string]string // codes of further units
}

// branches gives every vehicle that the one at hand may be, or the step at
// which reading ended.
func (n *naive) branches(v *resolver.Vehicle) ([]naiveBranch, resolver.Step) {
	given := map[string]naiveUnit{} // units whose number or code the query gives
	for unit, number := range map[string]string{catalog.UnitEngine: v.Engine, catalog.UnitTransmission: v.Transmission} {
		if number != "" {
			u, ok := n.readNumber(unit, number, v.Built.Span())
			if !ok {
				return nil, resolver.CodeStep
			}
			given[unit] = u
		}
	}
	if v.Model != "" && !n.known(catalog.UnitModel, v.Model) {
		return nil, resolver.CodeStep
	}
	serial := catalog.Serials{From: v.Serial, Through: v.Serial}

	if v.Chassis == "" && v.Model == "" {
		if len(given) == 0 {
			return nil, resolver.CodeStep
		}
		if v.Serial != 0 {
			given[n.meta.Primary] = naiveUnit{given[n.meta.Primary].code, serial}
		}
		return []naiveBranch{{v.Built.Span(), given}}, 0
	}
	readings := []reading{{built: v.Built.Span(), model: naiveUnit{v.Model, serial}}}
	if v.Chassis != "" {
		readings = n.readChassis(v.Chassis, v.Built.Span())
	}
	var branches []naiveBranch
	failed := resolver.CodeStep
	for _, r := range readings {
		if v.Model != "" && !sameCode(v.Model, r.model.code) {
			continue
		}
		if v.Serial != 0 {
			if r.model.serials != (catalog.Serials{}) && r.model.serials != serial {
				continue
			}
			r.model.serials = serial
		}
		failed = resolver.CardStep
		for i := range n.t.Models {
			card := &n.t.Models[i]
			if !sameCode(card.Code, r.model.code) || card.Range.Fit(r.built, r.model.serials) == catalog.Outside {
				continue
			}
			b := naiveBranch{built: r.built.Meet(card.Range.Days()), units: map[string]naiveUnit{}}
			for unit, code := range r.units {
				b.units[unit] = naiveUnit{code: code}
			}
			for unit, code := range cardCodes(card) {
				b.units[unit] = naiveUnit{code: code}
			}
			another := false
			for unit, u := range given {
				on := b.units[unit].code
				switch {
				case u.code == "":
					u.code = on
				case on != "" && !sameCode(on, u.code):
					another = true
				}
				b.units[unit] = u
			}
			if another {
				continue
			}
			model := r.model
			if model.serials == (catalog.Serials{}) {
				model.serials = card.Range.Serials
			}
			b.units[catalog.UnitModel] = model
			branches = append(branches, b)
		}
	}
	return branches, failed
}

// cardCodes lists the codes on a data card by unit, the model's own left out.
func cardCodes(m *catalog.Model) map[string]string {
	codes := map[string]string{}
	for _, u := range append([]catalog.UnitCode{{Unit: catalog.UnitEngine, Code: m.Engine}, {Unit: catalog.UnitTransmission, Code: m.Transmission}}, m.Units...) {
		if u.Code != "" {
			codes[u.Unit] = u.Code
		}
	}
	return codes
}

func sameCode(a, b string) bool { return catalog.Fold(a) == catalog.Fold(b) }

// meanings gives what a field can mean in a span of build dates; nothing where
// its value table rules the value out.
func meanings(f catalog.FieldValue, built catalog.Days) []catalog.Meaning {
	if len(f.Means) == 0 {
		return []catalog.Meaning{{Text: f.Raw, Days: catalog.AnyDay()}}
	}
	var in []catalog.Meaning
	for _, m := range f.Means {
		if catalog.FitDays(built, m.Days) != catalog.Outside {
			if m.Text == "" {
				m.Text = f.Raw
			}
			in = append(in, m)
		}
	}
	return in
}

// only gives the code that all meanings name, "" where they differ.
func only(means []catalog.Meaning) string {
	for _, m := range means {
		if !sameCode(m.Text, means[0].Text) {
			return ""
		}
	}
	return means[0].Text
}

// readChassis reads a chassis number by every scheme that it meets.
func (n *naive) readChassis(number string, known catalog.Days) []reading {
	var readings []reading
	for _, d := range n.c.Decoders(catalog.KindChassis) {
		fields, err := d.Read(catalog.Fold(number), nil)
		if err != nil {
			continue
		}
		field := map[string]catalog.FieldValue{}
		for _, f := range fields {
			field[f.Field.Name] = f
		}
		for _, built := range years(field, known) {
			readings = append(readings, n.readFields(field, built)...)
		}
	}
	return readings
}

// years gives the spans of build dates that year and month can mean.
func years(field map[string]catalog.FieldValue, known catalog.Days) []catalog.Days {
	year, ok := field["year"]
	if !ok {
		return []catalog.Days{known}
	}
	var spans []catalog.Days
	for _, m := range meanings(year, known) {
		y, err := strconv.Atoi(m.Text)
		if err != nil || y < 1900 || y > 2199 {
			continue
		}
		d := catalog.Date{Year: int16(y)}
		if month, ok := field["month"]; ok {
			if k, err := strconv.Atoi(only(meanings(month, known))); err == nil && k >= 1 && k <= 12 {
				d.Month = int8(k)
			}
		}
		if span := known.Meet(d.Span()).Meet(m.Days); !span.Empty() {
			spans = append(spans, span)
		}
	}
	return spans
}

// readFields gives the readings of a number built in a span of dates: one for
// each model that it can mean.
func (n *naive) readFields(field map[string]catalog.FieldValue, built catalog.Days) []reading {
	units := map[string]string{}
	for name, f := range field {
		means := meanings(f, built)
		if len(means) == 0 {
			return nil
		}
		if name != catalog.UnitModel && slices.Contains(n.unitNames(), name) && n.known(name, only(means)) {
			units[name] = only(means)
		}
	}
	model, ok := field[catalog.UnitModel]
	if !ok {
		return nil
	}
	var readings []reading
	for _, m := range meanings(model, built) {
		if !n.known(catalog.UnitModel, m.Text) {
			continue
		}
		r := reading{built.Meet(m.Days), naiveUnit{code: m.Text}, units}
		if s, ok := field["serial"].Number(); ok {
			r.model.serials = catalog.Serials{From: s, Through: s}
		}
		readings = append(readings, r)
	}
	return readings
}

// readNumber reads the number, or the code, of a unit.
func (n *naive) readNumber(unit, number string, built catalog.Days) (naiveUnit, bool) {
	for _, d := range n.c.Decoders(unit) {
		fields, err := d.Read(catalog.Fold(number), nil)
		if err != nil {
			continue
		}
		var u naiveUnit
		fits := false
		for _, f := range fields {
			switch f.Field.Name {
			case unit:
				in := slices.DeleteFunc(meanings(f, built), func(m catalog.Meaning) bool { return !n.known(unit, m.Text) })
				if len(in) > 0 {
					fits, u.code = true, only(in)
				}
			case "serial":
				if s, ok := f.Number(); ok {
					u.serials = catalog.Serials{From: s, Through: s}
				}
			}
		}
		if fits {
			return u, true
		}
	}
	if n.known(unit, number) {
		return naiveUnit{code: number}, true
	}
	return naiveUnit{}, false
}

// unitNames lists the names of units.
func (n *naive) unitNames() []string {
	names := []string{catalog.UnitModel, catalog.UnitEngine, catalog.UnitTransmission}
	for _, m := range n.t.Models {
		for _, u := range m.Units {
			names = append(names, u.Unit)
		}
	}
	return names
}

// known tells whether a code of a unit occurs in the catalog.
func (n *naive) known(unit, code string) bool {
	if code == "" {
		return false
	}
	for i := range n.t.Models {
		on := cardCodes(&n.t.Models[i])
		on[catalog.UnitModel] = n.t.Models[i].Code
		if on[unit] != "" && sameCode(on[unit], code) {
			return true
		}
	}
	written := func(keyed string, p catalog.Pattern) bool {
		if keyed != unit {
			return false
		}
		for alt := range strings.SplitSeq(string(p), ";") {
			alt = strings.TrimPrefix(strings.TrimSpace(alt), "!")
			if alt != "" && !strings.ContainsAny(alt, "*?") && sameCode(alt, code) {
				return true
			}
		}
		return false
	}
	for _, r := range n.t.Publications {
		if written(r.KeyedBy, r.AppliesTo) {
			return true
		}
	}
	for _, r := range n.t.Procedures {
		if p := n.publication(r.Publication); p >= 0 && written(n.t.Publications[p].KeyedBy, r.AppliesTo) {
			return true
		}
	}
	for _, r := range n.t.Schedule {
		if written(r.KeyedBy, r.AppliesTo) {
			return true
		}
	}
	for _, r := range n.t.Specifications {
		if written(r.KeyedBy, r.AppliesTo) {
			return true
		}
	}
	for _, r := range n.t.Guide {
		if written(r.KeyedBy, r.AppliesTo) {
			return true
		}
	}
	for _, r := range n.t.TroubleCodes {
		if written(r.KeyedBy, r.AppliesTo) {
			return true
		}
	}
	for _, r := range n.t.Bulletins {
		if written(r.KeyedBy, r.AppliesTo) {
			return true
		}
	}
	for _, kind := range []string{unit, catalog.KindChassis} {
		for _, d := range n.c.Decoders(kind) {
			for _, f := range d.Fields() {
				if f.Name != unit {
					continue
				}
				for _, v := range f.Values {
					for _, m := range v.Means {
						if m.Text != "" && sameCode(m.Text, code) || m.Text == "" && sameCode(v.Raw, code) {
							return true
						}
					}
				}
			}
		}
	}
	return false
}
