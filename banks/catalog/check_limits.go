package catalog

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
)

func limitChecks() family {
	return family{"limits", checkLimits, []CheckKind{
		{"inverted", Error, "a limit's from comes after its through, or a low value after its high"},
		{"serial", Error, "a serial limit is negative"},
	}}
}

// eachEffectivity gives the limits of every record, with the column that a
// finding names.
func (k *checker) eachEffectivity(f func(table, column string, at Origin, e Effectivity, lookups func() int)) {
	t := k.t
	one := func(r Range) Effectivity {
		if r == (Range{}) {
			return nil
		}
		return Effectivity{r}
	}
	for i := range t.Schemes {
		f("schemes", "from", t.Schemes[i].Origin, one(t.Schemes[i].Range), func() int { return 0 })
	}
	for i := range t.Models {
		f("models", "built_from", t.Models[i].Origin, one(t.Models[i].Range), func() int { return k.codeLookups(UnitModel, t.Models[i].Code) })
	}
	for i := range t.Publications {
		f("publications", "from", t.Publications[i].Origin, t.Publications[i].Effectivity, func() int { return k.pubLookups(i) })
	}
	for i := range t.Procedures {
		f("procedures", "from", t.Procedures[i].Origin, t.Procedures[i].Effectivity, func() int { return k.procLookups(i) })
	}
	for i := range t.Schedule {
		f("schedule", "from", t.Schedule[i].Origin, t.Schedule[i].Effectivity, func() int { return k.serviceLookups(i) })
	}
	for i := range t.Specifications {
		f("specifications", "from", t.Specifications[i].Origin, t.Specifications[i].Effectivity, func() int { return k.specLookups(i) })
	}
	for i := range t.Guide {
		f("guide", "from", t.Guide[i].Origin, t.Guide[i].Effectivity, func() int { return k.guideLookups(i) })
	}
	for i := range t.TroubleCodes {
		f("troublecodes", "from", t.TroubleCodes[i].Origin, t.TroubleCodes[i].Effectivity, func() int { return k.troubleLookups(i) })
	}
	for i := range t.Bulletins {
		f("bulletins", "from", t.Bulletins[i].Origin, t.Bulletins[i].Effectivity, func() int { return k.bulletinLookups(i) })
	}
}

func checkLimits(k *checker) {
	k.eachEffectivity(func(table, column string, at Origin, e Effectivity, lookups func() int) {
		for _, r := range e {
			switch s := r.Serials; {
			case s.From < 0 || s.Through < 0:
				k.add("serial", table, at, cmp.Or(serialColumn(table, s.From < 0), column), fmt.Sprintf("%d is not a serial", min(s.From, s.Through)),
					"write a whole number from 1", lookups())
			case inverted(r) != nil:
				k.add("inverted", table, at, column, inverted(r).(cellFault).what, "exchange the two, or correct one; limits are inclusive", lookups())
			}
		}
	})
	number := func(x *float64) string { return strconv.FormatFloat(*x, 'g', -1, 64) }
	for i := range k.t.Specifications {
		s := &k.t.Specifications[i]
		if s.Low != nil && s.High != nil && *s.Low > *s.High {
			k.add("inverted", "specifications", s.Origin, "low", fmt.Sprintf("the low value %s is above the high value %s", number(s.Low), number(s.High)),
				"exchange the two, or correct one", k.specLookups(i))
		}
		if a := s.Ambient; a.Low != nil && a.High != nil && *a.Low > *a.High {
			k.add("inverted", "specifications", s.Origin, "ambient_from", fmt.Sprintf("the ambient temperature from %s °C is above through %s °C", number(a.Low), number(a.High)),
				"exchange the two, or correct one", k.specLookups(i))
		}
	}
}

func serialColumn(table string, from bool) string {
	if table == "schemes" {
		return ""
	}
	if from {
		return "serial_from"
	}
	return "serial_through"
}

func valueChecks() family {
	return family{"values", checkValues, []CheckKind{
		{"no-value", Error, "a specification has neither a value nor a range"},
		{"no-unit", Note, "a specification is a number without a unit"},
		{"no-interval", Error, "a service has neither a first point nor an interval, so that it is never due"},
		{"number", Error, "a counter or a value is negative, infinite or not a number"},
	}}
}

func checkValues(k *checker) {
	for i := range k.t.Specifications {
		s := &k.t.Specifications[i]
		isNumber := s.Low != nil || s.High != nil
		for _, v := range []struct {
			column string
			x      *float64
		}{{"low", s.Low}, {"high", s.High}, {"ambient_from", s.Ambient.Low}, {"ambient_through", s.Ambient.High}} {
			if v.x != nil && (math.IsNaN(*v.x) || math.IsInf(*v.x, 0)) {
				k.add("number", "specifications", s.Origin, v.column, "the cell holds no finite number", "write a number", k.specLookups(i))
			}
		}
		switch {
		case s.Value == "" && !isNumber:
			k.add("no-value", "specifications", s.Origin, "value", "the specification has neither value, low nor high", "fill in one of them", k.specLookups(i))
		case s.Unit == "" && (isNumber || isDecimal(s.Value)):
			k.add("no-unit", "specifications", s.Origin, "unit", "the value is a number without a unit", "write the unit, or 1 for a bare number", k.specLookups(i))
		}
	}
	for i := range k.t.Schedule {
		s := &k.t.Schedule[i]
		bad := ""
		for _, v := range []struct {
			column string
			x      float64
		}{{"first_distance", s.First.Distance}, {"first_hours", s.First.Hours}, {"first_months", s.First.Months},
			{"every_distance", s.Every.Distance}, {"every_hours", s.Every.Hours}, {"every_months", s.Every.Months}} {
			if bad == "" && (v.x < 0 || math.IsNaN(v.x) || math.IsInf(v.x, 0)) {
				bad = v.column
			}
		}
		switch {
		case bad != "":
			k.add("number", "schedule", s.Origin, bad, "the cell is no number above zero", "write a positive number, or leave the cell empty", k.serviceLookups(i))
		case s.Class == Maintenance && s.First.IsZero() && s.Every.IsZero() && !k.askedByName(s.Name):
			k.add("no-interval", "schedule", s.Origin, "every_hours", fmt.Sprintf("service %s has neither a first point nor an interval", s.Name),
				"fill in a first_ or every_ column, or make the class "+string(PreDelivery)+" if it is asked for by name", k.serviceLookups(i))
		}
	}
}

// askedByName tells whether a job of catalog.yaml asks for a service by name,
// so that it needs no interval.
func (k *checker) askedByName(service string) bool {
	for _, j := range k.meta.Jobs {
		if j.Service == service {
			return true
		}
	}
	return false
}

func isDecimal(s string) bool {
	_, err := strconv.ParseFloat(s, 64)
	return err == nil
}
