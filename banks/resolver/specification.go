package resolver

import (
	"slices"
	"strings"

	"rightpage/banks/catalog"
)

// specification resolves a quantity.
func (x *run) specification() {
	r := x.r
	words := r.wording.words(x.q.Text)
	m, how := r.quantities.find(words)
	if x.tr != nil {
		s := x.tr.step(ComponentStep, "the quantity is matched to those of the specifications: exactly, else misspelt, else as a part of longer names", x.q.Text)
		for _, q := range m {
			v := Chosen
			if len(m) > 1 {
				v = Possible
			}
			s.consider("quantity:"+r.quantityName(q.value), "", v, "%s", how)
			s.Result = orText(s.Result, r.quantityName(q.value))
		}
		if len(m) == 0 {
			s.Result = "no such quantity; nearest: " + joinOr(r.quantities.nearest(words, 3))
		}
	}
	if len(m) == 0 {
		x.reach(ComponentStep, -1)
		return
	}
	if !x.vehicle() {
		return
	}
	x.eachBranch(func(b *branch) {
		for _, q := range m {
			x.next(CardStep)
			x.reach(ComponentStep, q.value)
			x.specRows(b, r.quantRows[q.value])
		}
	})
}

func (r *Resolver) quantityName(q int32) string {
	return r.t.Specifications[r.quantRows[q][0]].Quantity
}

func (x *run) specRows(b *branch, rows []int32) {
	r := x.r
	var s *TraceStep
	if x.tr != nil {
		s = x.tr.step(LocationStep, "the rows that fit, whose publication fits, whose ambient band and condition agree", x.conditionText())
	}
	slip := x.brk.Slip == WrongAmbient
	passed := 0
	for _, row := range rows {
		sp := &r.t.Specifications[row]
		name := "specification:" + sp.ID
		f := x.fit(b, r.specKey[row])
		if f == catalog.Outside {
			if s != nil {
				s.consider(name, SpecText(sp), RuledOut, "%s", x.why(b, r.specKey[row], sp.AppliesTo))
			}
			continue
		}
		pub := r.specPub[row]
		pf := x.pubFit(b, pub)
		if pf == catalog.Outside {
			x.stopAt(PublicationStep)
			if s != nil {
				why := "its publication does not apply"
				if pub >= 0 {
					if over := x.superseder(b, pub); over >= 0 {
						why = "its publication is superseded by " + r.t.Publications[over].ID
					} else {
						why = "its publication " + x.why(b, r.pubKey[pub], r.t.Publications[pub].AppliesTo)
					}
				}
				s.consider(name, SpecText(sp), RuledOut, "%s", why)
			}
			continue
		}
		if x.q.Condition != "" && !strings.EqualFold(sp.Condition, x.q.Condition) {
			x.stopAt(LocationStep)
			if s != nil {
				s.consider(name, SpecText(sp), RuledOut, "is for another condition: %s", orNone(sp.Condition))
			}
			continue
		}
		if t, ok := x.ambient(); ok && sp.Ambient.Contains(t) == (slip && !sp.Ambient.IsOpen()) {
			x.stopAt(LocationStep)
			if s != nil {
				s.consider(name, SpecText(sp), RuledOut, "is for another ambient temperature: %s", bandText(sp.Ambient))
			}
			continue
		}
		if slip {
			if sp.Ambient.IsOpen() {
				continue
			}
			if passed++; passed-1 != x.brk.Variant {
				continue
			}
		}
		f = min(f, pf)
		x.reach(PublicationStep, r.seriesOf[pub])
		x.reach(EditionStep, pub)
		if s != nil {
			v := Chosen
			if f == catalog.Partly {
				v = Possible
			}
			s.consider(name, SpecText(sp), v, "%s", x.why(b, r.specKey[row], sp.AppliesTo))
			s.Result = orText(s.Result, SpecText(sp)+" ("+sp.Publication+" "+PlaceText(sp.Location)+")")
		}
		x.place(b, Item{Table: SpecificationTable, Row: row, Publication: pub, Service: -1}, f, r.specBul[row], r.pubBul[pub])
	}
	if s != nil && s.Result == "" {
		s.Result = "no row applies"
	}
}

// ambient is the temperature at hand in °C, or what somebody makes of it who
// takes degrees Fahrenheit for degrees Celsius.
func (x *run) ambient() (float64, bool) {
	if x.q.Ambient == nil {
		return 0, false
	}
	t := *x.q.Ambient
	if x.brk.Slip == UnitMixed {
		t = t*1.8 + 32
	}
	return t, true
}

func (x *run) conditionText() string {
	var parts []string
	if x.q.Condition != "" {
		parts = append(parts, x.q.Condition)
	}
	if x.q.Ambient != nil {
		parts = append(parts, "at "+number(*x.q.Ambient)+" °C")
	}
	if len(parts) == 0 {
		return "no condition stated"
	}
	return strings.Join(parts, ", ")
}

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}

func bandText(b catalog.Band) string {
	switch {
	case b.IsOpen():
		return "any"
	case b.Low == nil:
		return "up to " + number(*b.High) + " °C"
	case b.High == nil:
		return "from " + number(*b.Low) + " °C"
	}
	return number(*b.Low) + " to " + number(*b.High) + " °C"
}

// SpecText writes what a specification says: value or range, unit, condition.
func SpecText(s *catalog.Specification) string {
	v := s.Value
	switch {
	case v != "":
	case s.Low != nil && s.High != nil:
		v = number(*s.Low) + " to " + number(*s.High)
	case s.Low != nil:
		v = "at least " + number(*s.Low)
	case s.High != nil:
		v = "at most " + number(*s.High)
	}
	if s.Unit != "" {
		v += " " + s.Unit
	}
	var cond []string
	if s.Condition != "" {
		cond = append(cond, s.Condition)
	}
	if !s.Ambient.IsOpen() {
		cond = append(cond, bandText(s.Ambient))
	}
	if len(cond) > 0 {
		v += " (" + strings.Join(slices.Clone(cond), ", ") + ")"
	}
	return v
}
