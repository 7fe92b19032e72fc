package kinds

import (
	"rightpage/banks"
	"rightpage/banks/resolver"
)

// jobClass asks which class of literature a job belongs to.
func jobClass() banks.Kind {
	slips := []resolver.Slip{resolver.WrongClass}
	return banks.Kind{
		Name: "job-class", Title: "Class of literature for a job", Skill: "job class", Slips: slips,
		Sites: oneSitePer(func(s *banks.Source, row int32) string {
			p := &s.T.Procedures[row]
			return p.Action + "\x00" + p.Component
		}),
		Make: func(m *banks.Maker, s banks.Site) bool {
			orderNumber(m)
			if !prepareJob(m, s) {
				return false
			}
			jobLine(m)
			m.Q.Stem = m.Pick(
				"Which class of literature do you open for this job?",
				"Before you look for a page: in which class of literature does this job stand?",
				"What kind of literature describes this job?",
			)
			if !m.StepOptions(resolver.ClassifyStep, slips) {
				return false
			}
			m.TraceTo(resolver.ClassifyStep)
			return m.OneOf("text")
		},
	}
}
