package kinds

import (
	"strconv"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// specification asks for a value under a condition.
func specification() banks.Kind {
	slips := []resolver.Slip{
		resolver.WrongAmbient, resolver.NeighbourCard, resolver.SupersededEdition, resolver.WrongSideLimit,
		resolver.LimitOffByOne, resolver.UnitMixed,
	}
	return banks.Kind{
		Name: "specification", Title: "Specification under a condition", Skill: "specifications", Slips: slips,
		Sites: specSites,
		Make: func(m *banks.Maker, s banks.Site) bool {
			sp := &m.T.Specifications[s.Row]
			u := &m.Units[s.Card]
			g, ok := m.Stretch(u, sp.KeyedBy, sp.Effectivity, int(s.Extra))
			if !ok {
				return false
			}
			if g, ok = withPublication(m.Source, sp.Publication, g); !ok || !m.Vehicle(u, g, s.At) {
				return false
			}
			q := &m.Q.Query
			q.Task, q.Text, q.Condition = resolver.SpecTask, sp.Quantity, sp.Condition
			m.Line("Wanted", sentence(sp.Quantity))
			if sp.Condition != "" {
				m.Line("Condition", sp.Condition)
				m.Feature("condition")
			}
			if !sp.Ambient.IsOpen() {
				t := within(m, sp.Ambient)
				q.Ambient = &t
				m.Line("Ambient temperature", strconv.FormatFloat(t, 'f', -1, 64)+" °C")
				m.Feature("ambient band")
			}
			if !m.Ask() || m.Right.Items[0].Row != s.Row {
				return false
			}
			m.Q.About.Publication, m.Q.About.Record, m.Q.About.Group = sp.Publication, "specification:"+sp.ID, sp.Group
			m.FeatureIf(sp.KeyedBy != m.Meta.Primary, "keyed by another unit")
			m.Q.Stem = m.Pick(
				"Which value does the literature give?",
				"Look the value up.",
				"What is the specified value?",
			)
			key := valueText(sp)
			m.KeyOption(key, key)
			m.SomeSlips(slips, func(b resolver.Break) {
				for _, it := range m.Wrong.Items {
					if it.Table == resolver.SpecificationTable && it.Row >= 0 {
						v := valueText(&m.T.Specifications[it.Row])
						m.WrongOption(v, v, b)
					}
				}
			})
			// The rows of the other conditions are what somebody reads who does
			// not read the condition.
			if sp.Condition != "" {
				other := *q
				other.Condition = ""
				m.R.Resolve(&other, resolver.Break{}, &m.Wrong)
				for _, it := range m.Wrong.Items {
					v := valueText(&m.T.Specifications[it.Row])
					m.WrongOption(v, v, resolver.Break{Slip: resolver.WrongAmbient, Variant: 1})
				}
			}
			m.TraceTo(resolver.AmendStep)
			if n, err := strconv.ParseFloat(sp.Value, 64); err == nil && (m.Rand.IntN(2) == 0) {
				return m.Number(n, sp.Unit, 0)
			}
			return m.OneOf("text")
		},
	}
}

// valueText is a value with its unit and without its condition, which the
// question states.
func valueText(s *catalog.Specification) string {
	bare := *s
	bare.Condition, bare.Ambient = "", catalog.Band{}
	return resolver.SpecText(&bare)
}

// within chooses a whole number of degrees in a band.
func within(m *banks.Maker, b catalog.Band) float64 {
	lo, hi := -30.0, 45.0
	if b.Low != nil {
		lo = *b.Low
		hi = max(hi, lo+10)
	}
	if b.High != nil {
		hi = *b.High
		lo = min(lo, hi)
	}
	return lo + float64(m.Rand.IntN(int(hi-lo)+1))
}

func specSites(s *banks.Source) banks.Sites {
	var out []banks.Site
	for i := range s.T.Specifications {
		sp := &s.T.Specifications[i]
		applyingWith(s, sp.Publication, sp.KeyedBy, sp.AppliesTo, sp.Effectivity, func(unit int32, part int, g catalog.Range) {
			banks.Positions(s.Units[unit].Range, g, func(at banks.Position) {
				out = append(out, banks.Site{Row: int32(i), Card: unit, Extra: int32(part), At: at})
			})
		})
	}
	return banks.NewSites(out)
}
