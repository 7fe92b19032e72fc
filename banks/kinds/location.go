package kinds

import (
	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// location asks where in a publication a job stands.
func location() banks.Kind {
	slips := []resolver.Slip{
		resolver.ParentForComponent, resolver.SiblingGroup, resolver.SupersededEdition, resolver.WrongSideLimit,
		resolver.LimitOffByOne, resolver.NeighbourCard, resolver.WrongClass,
	}
	return banks.Kind{
		Name: "location", Title: "Location in a publication", Skill: "locations", Slips: slips,
		Sites: procedureSites,
		Make: func(m *banks.Maker, s banks.Site) bool {
			orderNumber(m)
			if !prepareJob(m, s) || m.Right.Items[0].Bulletin >= 0 {
				return false
			}
			p := &m.T.Procedures[s.Row]
			jobLine(m)
			m.Line("Publication", p.Publication)
			m.Q.Stem = m.Pick(
				"Where in the publication is the job described?",
				"Give the place in the publication at which this job begins.",
				"At which place do you open the publication?",
			)
			if !m.StepOptions(resolver.LocationStep, slips) {
				return false
			}
			m.TraceTo(resolver.AmendStep)
			if m.Rand.IntN(3) == 0 {
				return m.Typed("code", places(p.Location)...)
			}
			return m.OneOf("code")
		},
	}
}

// places lists the ways in which people write a location: in full, and the
// bare page, section or frame.
func places(l catalog.Location) []string {
	out := []string{resolver.PlaceText(l)}
	add := func(s string) {
		if s != "" {
			out = append(out, s)
		}
	}
	if l.Sheet != "" && l.Frame != "" {
		add(l.Sheet + " " + l.Frame)
		return out
	}
	switch {
	case l.Page != "" && l.Section != "":
		add(l.Section + " " + l.Page)
		add(l.Page)
	default:
		add(l.Page)
		add(l.Section)
		add(l.Frame)
	}
	return out
}
