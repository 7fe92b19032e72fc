package kinds

import (
	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// factoryCode asks for the model code behind a sales name.
func factoryCode() banks.Kind {
	slips := []resolver.Slip{resolver.SalesNameAsCode, resolver.NeighbourCard}
	return banks.Kind{
		Name: "factory-code", Title: "Model code from a sales name", Skill: "reading codes", Slips: slips,
		Sites: func(s *banks.Source) banks.Sites {
			var out []banks.Site
			for i := range s.Units {
				u := &s.Units[i]
				if u.Card < 0 || s.T.Models[u.Card].SalesName == "" {
					continue
				}
				banks.Positions(catalog.Range{}, u.Range, func(at banks.Position) {
					out = append(out, banks.Site{Row: u.Card, Card: int32(i), At: at})
				})
			}
			return banks.NewSites(out)
		},
		Make: func(m *banks.Maker, s banks.Site) bool {
			u := &m.Units[s.Card]
			card := &m.T.Models[s.Row]
			if !m.Vehicle(u, u.Range, s.At) {
				return false
			}
			built := m.Q.Query.Vehicle.Built
			m.Q.Query = resolver.Query{Vehicle: resolver.Vehicle{Model: card.Code, Built: built}, Task: resolver.CardTask}
			m.Q.Order = nil
			m.Line("Sales name", card.SalesName)
			m.Line("Built", built.String())
			// As much of the plate as it takes to tell the model from others of
			// the name.
			given := 0
			for given < 3 && !unique(m, card, built, given) {
				given++
			}
			if !unique(m, card, built, given) || !m.Ask() {
				return false
			}
			if given >= 1 {
				m.Line("Engine", card.Engine)
			}
			if given >= 2 {
				m.Line("Transmission", card.Transmission)
			}
			if given >= 3 {
				for _, x := range card.Units {
					m.Line(sentence(x.Unit), x.Code)
				}
			}
			m.Q.About.Record = "model:" + card.Code
			m.Q.Stem = m.Pick(
				"Which model code does this vehicle have?",
				"The customer gives the name on the bonnet. What is the model code?",
				"Find the model code.",
			)
			m.KeyOption(card.Code, card.Code)
			m.SomeSlips(slips, func(b resolver.Break) {
				if c := m.Wrong.Path[resolver.CardStep]; c >= 0 {
					code := m.T.Models[c].Code
					m.WrongOption(code, code, b)
				}
			})
			m.Trace(resolver.CardStep, card.SalesName+" built "+built.String()+" is "+card.Code)
			return m.OneOf("code")
		},
	}
}

// unique tells whether the name, the build date and the first given units of a
// card belong to one model code alone.
func unique(m *banks.Maker, card *catalog.Model, built catalog.Date, given int) bool {
	for i := range m.T.Models {
		o := &m.T.Models[i]
		if o.Code == card.Code || o.SalesName != card.SalesName || catalog.FitDays(built.Span(), o.Range.Days()) == catalog.Outside {
			continue
		}
		same := given < 1 || o.Engine == card.Engine
		same = same && (given < 2 || o.Transmission == card.Transmission)
		if given >= 3 {
			for _, x := range card.Units {
				for _, y := range o.Units {
					same = same && (x.Unit != y.Unit || x.Code == y.Code)
				}
			}
		}
		if same {
			return false
		}
	}
	return true
}
