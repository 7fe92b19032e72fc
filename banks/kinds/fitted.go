package kinds

import (
	"slices"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// fitted asks what a given vehicle was built with.
func fitted() banks.Kind {
	slips := []resolver.Slip{resolver.NeighbourCard, resolver.SalesNameAsCode, resolver.WrongDigits}
	return banks.Kind{
		Name: "fitted", Title: "What is fitted", Skill: "data card", Slips: slips,
		Sites: fittedSites,
		Make: func(m *banks.Maker, s banks.Site) bool {
			u := &m.Units[s.Card]
			unit := cardUnits(m.Source)[s.Extra]
			if !m.Vehicle(u, u.Range, s.At) {
				return false
			}
			m.Q.Query.Task = resolver.CardTask
			if !m.Ask() {
				return false
			}
			key := unitOnCard(m.Source, m.Right.Path[resolver.CardStep], unit)
			if key == "" {
				return false
			}
			m.Q.About.Record = "model:" + u.Code
			m.Q.Stem = m.Pick(
				"Which "+unit+" is fitted to this vehicle?",
				"What "+unit+" was this vehicle built with?",
				"Find the data card: which "+unit+" does it name?",
			)
			m.KeyOption(key, key)
			m.SomeSlips(slips, func(b resolver.Break) {
				if c := m.Wrong.Path[resolver.CardStep]; c >= 0 {
					if code := unitOnCard(m.Source, c, unit); code != "" {
						m.WrongOption(code, code, b)
					}
				}
			})
			m.TraceTo(resolver.CardStep)
			return m.OneOf("code")
		},
	}
}

// cardUnits names every unit that a data card holds, engine and transmission
// first.
func cardUnits(s *banks.Source) []string {
	out := []string{catalog.UnitEngine, catalog.UnitTransmission}
	for i := range s.T.Models {
		for _, u := range s.T.Models[i].Units {
			if !slices.Contains(out, u.Unit) {
				out = append(out, u.Unit)
			}
		}
	}
	return out
}

func unitOnCard(s *banks.Source, card int32, unit string) string {
	if card < 0 {
		return ""
	}
	m := &s.T.Models[card]
	switch unit {
	case catalog.UnitEngine:
		return m.Engine
	case catalog.UnitTransmission:
		return m.Transmission
	}
	for _, u := range m.Units {
		if u.Unit == unit {
			return u.Code
		}
	}
	return ""
}

func fittedSites(s *banks.Source) banks.Sites {
	var out []banks.Site
	units := cardUnits(s)
	for i := range s.Units {
		u := &s.Units[i]
		if u.Card < 0 {
			continue
		}
		for n, unit := range units {
			if u.Codes[unit] == "" {
				continue
			}
			banks.Positions(catalog.Range{}, u.Range, func(at banks.Position) {
				out = append(out, banks.Site{Row: u.Card, Card: int32(i), Extra: int32(n), At: at})
			})
		}
	}
	return banks.NewSites(out)
}
