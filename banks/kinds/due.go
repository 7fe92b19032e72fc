package kinds

import (
	"slices"
	"strconv"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// due asks which services fall due at a reading, and where an operation of a
// service is described.
func due() banks.Kind {
	slips := []resolver.Slip{resolver.WrongZero, resolver.OneCounter}
	return banks.Kind{
		Name: "due", Title: "Services and operations due", Skill: "services due",
		Slips: append(slices.Clone(slips), operationSlips()...),
		Sites: dueSites,
		Make: func(m *banks.Maker, s banks.Site) bool {
			if s.Extra >= askOperation {
				return operationPlace(m, s)
			}
			u := &m.Units[s.Card]
			if !m.Vehicle(u, u.Range, banks.Inside) {
				return false
			}
			q := &m.Q.Query
			q.Task = resolver.DueTask
			dutyLine(m, u)
			reading(m, u, s)
			m.R.Resolve(q, resolver.Break{}, &m.Right)
			// Where an operation stands is not asked, so that it does not matter
			// if that is ambiguous; which services are due must be certain.
			if m.Right.Unsure || len(m.Right.Services) == 0 {
				return false
			}
			m.Q.Stem = m.Pick(
				"Which services are due? Mark every one that is, and no other.",
				"Mark all services that fall due at this reading.",
				"Which of these services must be carried out now? There may be more than one.",
			)
			for _, row := range m.Right.Services {
				m.KeyOption(serviceText(m, row), m.T.Schedule[row].Name)
			}
			m.EachSlip(slips, func(b resolver.Break) {
				var marked []string
				for _, row := range m.Wrong.Services {
					m.WrongOption(serviceText(m, row), m.T.Schedule[row].Name, b)
					marked = append(marked, m.T.Schedule[row].Name)
				}
				m.SlipSet(marked, b)
			})
			m.FeatureIf(q.Due.Now.Hours > 0 && q.Due.Now.Months > 0, "two counters")
			for _, row := range m.Right.Services {
				m.FeatureIf(m.T.Schedule[row].Every.IsZero(), "first service")
			}
			// No cautions: what is asked is which services, not how they are
			// done, and those of thirty operations would bury the question.
			for _, step := range [...]resolver.Step{resolver.CodeStep, resolver.CardStep} {
				if _, text, ok := m.R.StepValue(q, &m.Right, step); ok {
					m.Trace(step, text)
				}
			}
			var named []string
			for _, row := range m.Right.Services {
				if text := serviceText(m, row); !slices.Contains(named, text) {
					named = append(named, text)
					m.Trace(resolver.LocationStep, text+" is due")
				}
			}
			return m.SomeOf(3, 8)
		},
	}
}

func serviceText(m *banks.Maker, row int32) string { return serviceName(&m.T.Schedule[row]) }

// dutyLine states a duty where the schedule tells duties apart for the vehicle.
func dutyLine(m *banks.Maker, u *banks.UnitRef) {
	var duties []string
	for i := range m.T.Schedule {
		s := &m.T.Schedule[i]
		if s.Duty != "" && s.AppliesTo.Match(u.Codes[s.KeyedBy]) && !slices.Contains(duties, s.Duty) {
			duties = append(duties, s.Duty)
		}
	}
	if len(duties) > 0 {
		m.Q.Query.Duty = m.Pick(duties...)
		m.Line("Duty", m.Q.Query.Duty)
	}
}

// reading chooses the counters: at the point of the site, a little beyond it,
// or just before it, with a last reading one regular interval earlier.
func reading(m *banks.Maker, u *banks.UnitRef, s banks.Site) {
	step := regular(m.Source, u)
	d := &m.Q.Query.Due
	n := float64(s.Extra)
	hours, dist := step.Hours*n, step.Distance*n
	// Vehicles are used more or less than the interval of months supposes.
	months := float64(int(step.Months*n*(0.5+m.Rand.Float64()) + 0.5))
	beyond := func(v, step float64) float64 { return v + float64(int(step*(0.02+0.1*m.Rand.Float64()))) }
	switch s.At {
	case banks.Inside:
		hours, dist = beyond(hours, step.Hours), beyond(dist, step.Distance)
	case banks.Last:
		hours, dist = max(0, hours-1), max(0, dist-1)
	}
	d.Now = catalog.Counters{Hours: hours, Distance: dist, Months: months}
	d.Last = catalog.Counters{Hours: max(0, hours-step.Hours), Distance: max(0, dist-step.Distance), Months: max(0, months-step.Months)}
	m.Line("Reading now", countersText(m, d.Now))
	m.Line("Last serviced at", countersText(m, d.Last))
}

func countersText(m *banks.Maker, c catalog.Counters) string {
	text := ""
	add := func(v float64, unit string) {
		if v <= 0 {
			return
		}
		if text != "" {
			text += ", "
		}
		text += strconv.FormatFloat(v, 'f', -1, 64) + " " + unit
	}
	add(c.Hours, m.Meta.Units.Hours)
	add(c.Distance, m.Meta.Units.Distance)
	if c.Months == 1 {
		add(1, "month")
	} else {
		add(c.Months, "months")
	}
	if text == "" {
		return "new"
	}
	return text
}

// regular is the interval of the service that a workshop sees most of: the one
// with most operations, and the shorter one of two.
func regular(s *banks.Source, u *banks.UnitRef) catalog.Counters {
	var c catalog.Counters
	most := 0
	for i := range s.T.Schedule {
		sv := &s.T.Schedule[i]
		code := u.Codes[sv.KeyedBy]
		if sv.Class != catalog.Maintenance || sv.Every.IsZero() || code == "" || !sv.AppliesTo.Match(code) {
			continue
		}
		n := len(sv.Operations)
		if n > most || n == most && sv.Every.Hours < c.Hours {
			most, c = n, sv.Every
		}
	}
	return c
}

// dueSites are the first points of the regular interval for every unit that
// has a schedule.
func dueSites(s *banks.Source) banks.Sites {
	const points = 16
	var out []banks.Site
	for i := range s.Units {
		if regular(s, &s.Units[i]).IsZero() {
			continue
		}
		for n := int32(1); n <= points; n++ {
			for _, at := range [...]banks.Position{banks.Inside, banks.First, banks.Last} {
				out = append(out, banks.Site{Row: int32(i), Card: int32(i), Extra: n, At: at})
			}
		}
	}
	return banks.NewSites(append(out, operationSites(s)...))
}
