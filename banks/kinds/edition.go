package kinds

import (
	"rightpage/banks"
	"rightpage/banks/resolver"
)

// edition asks which edition of a publication is right for a build date or
// serial.
func edition() banks.Kind {
	slips := []resolver.Slip{
		resolver.WrongSideLimit, resolver.LimitOffByOne, resolver.SupersededEdition, resolver.NeighbourCard,
	}
	return banks.Kind{
		Name: "edition", Title: "Edition for a build date or serial", Skill: "editions", Slips: slips,
		Sites: editionSites,
		Make: func(m *banks.Maker, s banks.Site) bool {
			orderNumber(m)
			if !prepareJob(m, s) {
				return false
			}
			jobLine(m)
			pub, _ := m.C.Publication(m.T.Procedures[s.Row].Publication)
			m.Line("Publication", pub.Series+" "+pub.Title)
			m.Q.Stem = m.Pick(
				"Which edition of this publication applies?",
				"There are several editions of this publication. Which one is right here?",
				"Check the limits: which edition do you open?",
			)
			if !m.StepOptions(resolver.EditionStep, slips) {
				return false
			}
			m.TraceTo(resolver.EditionStep)
			return m.OneOf("code")
		},
	}
}

// editionSites are those of publications with more than one edition, one
// procedure for each edition, vehicle and position.
func editionSites(s *banks.Source) banks.Sites {
	editions := map[string]int{}
	for i := range s.T.Publications {
		editions[s.T.Publications[i].Series]++
	}
	type place struct {
		pub         string
		card, extra int32
		at          banks.Position
	}
	seen := map[place]bool{}
	var out []banks.Site
	for site := range procedureSites(s).All() {
		pub, _ := s.C.Publication(s.T.Procedures[site.Row].Publication)
		k := place{pub.ID, site.Card, site.Extra, site.At}
		if editions[pub.Series] < 2 || seen[k] {
			continue
		}
		seen[k] = true
		out = append(out, site)
	}
	return banks.NewSites(out)
}
