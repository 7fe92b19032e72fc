package kinds

import (
	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// guide asks to which book and section a complaint leads.
func guide() banks.Kind {
	slips := []resolver.Slip{
		resolver.SiblingGroup, resolver.NeighbourCard, resolver.SupersededEdition, resolver.WrongSideLimit, resolver.LimitOffByOne,
	}
	return banks.Kind{
		Name: "guide", Title: "Guide to book and section", Skill: "guide", Slips: slips,
		Sites: guideSites,
		Make: func(m *banks.Maker, s banks.Site) bool {
			orderNumber(m)
			g := &m.T.Guide[s.Row]
			if !recordVehicle(m, g.Publication, g.KeyedBy, g.Effectivity, s) {
				return false
			}
			m.Q.Query.Task, m.Q.Query.Text = resolver.ComplaintTask, complaints(m.Source, g)[s.Extra]
			if !m.Ask() {
				return false
			}
			m.Line("Complaint", sentence(m.Q.Query.Text))
			m.Q.About.Publication, m.Q.About.Record = g.Publication, "guide:"+g.System+"/"+g.Publication+"/"+g.Section
			m.Q.Stem = m.Pick(
				"Where does the guide send you?",
				"Which book and section do you open for this complaint?",
				"Look the complaint up in the guide: book and section?",
			)
			key, ok := guidePlace(m, &m.Right)
			if !ok {
				return false
			}
			m.KeyOption(key, key)
			m.SomeSlips(slips, func(b resolver.Break) {
				if p, ok := guidePlace(m, &m.Wrong); ok {
					m.WrongOption(p, p, b)
				}
			})
			m.TraceTo(resolver.LocationStep)
			return m.OneOf("code")
		},
	}
}

// guidePlace is the book and chapter that an answer leads to.
func guidePlace(m *banks.Maker, a *resolver.Answer) (string, bool) {
	if len(a.Items) == 0 || a.Items[0].Table != resolver.TestTable || a.Items[0].Row < 0 {
		return "", false
	}
	t := &m.T.Tests[a.Items[0].Row]
	return t.Publication + ", section " + t.Chapter, true
}

// complaints lists how people word what a row of the guide is for, in the
// catalog's language.
func complaints(s *banks.Source, g *catalog.GuideEntry) []string {
	var out []string
	for _, c := range g.Complaints {
		if c.Lang == "" || c.Lang == s.Meta.Language {
			out = append(out, c.Term)
		}
	}
	return out
}

func guideSites(s *banks.Source) banks.Sites {
	var out []banks.Site
	for i := range s.T.Guide {
		g := &s.T.Guide[i]
		words := len(complaints(s, g))
		applyingWith(s, g.Publication, g.KeyedBy, g.AppliesTo, g.Effectivity, func(unit int32, _ int, r catalog.Range) {
			banks.Positions(s.Units[unit].Range, r, func(at banks.Position) {
				for w := range words {
					out = append(out, banks.Site{Row: int32(i), Card: unit, Extra: int32(w), At: at})
				}
			})
		})
	}
	return banks.NewSites(out)
}
