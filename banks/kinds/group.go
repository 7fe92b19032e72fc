package kinds

import (
	"rightpage/banks"
	"rightpage/banks/resolver"
)

// groupOfComponent asks which group a component belongs to.
func groupOfComponent() banks.Kind {
	slips := []resolver.Slip{resolver.SiblingGroup, resolver.ParentForComponent}
	return banks.Kind{
		Name: "group", Title: "Group of a component", Skill: "groups", Slips: slips,
		Sites: oneSitePer(func(s *banks.Source, row int32) string { return s.T.Procedures[row].Component }),
		Make: func(m *banks.Maker, s banks.Site) bool {
			if !prepareJob(m, s) {
				return false
			}
			term := m.T.Procedures[s.Row].Component
			m.Q.Order = nil
			m.Line("Job", sentence(m.Q.Query.Text))
			m.Q.Stem = m.Pick(
				"To which group does the "+term+" belong?",
				"Under which group do you look for the "+term+"?",
				"Name the group in which the literature treats the "+term+".",
			)
			if !m.StepOptions(resolver.GroupStep, slips) {
				return false
			}
			m.TraceTo(resolver.GroupStep)
			return m.OneOf("code")
		},
	}
}
