package kinds

import (
	"rightpage/banks"
	"rightpage/banks/resolver"
)

// publication asks which publication holds a job for a vehicle.
func publication() banks.Kind {
	slips := []resolver.Slip{
		resolver.WrongClass, resolver.ModelForEngine, resolver.SiblingGroup, resolver.NeighbourCard,
		resolver.ParentForComponent, resolver.SalesNameAsCode,
	}
	return banks.Kind{
		Name: "publication", Title: "Publication for a job", Skill: "publications", Slips: slips,
		Sites: procedureSites,
		Make: func(m *banks.Maker, s banks.Site) bool {
			orderNumber(m)
			if !prepareJob(m, s) {
				return false
			}
			jobLine(m)
			m.Q.Stem = m.Pick(
				"Which publication do you take from the shelf?",
				"Which publication treats this job for this vehicle?",
				"In which publication do you look this job up?",
			)
			if m.Meta.Primary != "model" {
				m.Q.Stem = m.Pick("Which publication do you take from the shelf?", "In which publication do you look this job up?")
			}
			if !m.StepOptions(resolver.PublicationStep, slips) {
				return false
			}
			m.TraceTo(resolver.PublicationStep)
			return m.OneOf("")
		},
	}
}
