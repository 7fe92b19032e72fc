package kinds

import (
	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// askOperation is added to Extra for questions about the place of an operation;
// the rest of Extra is the row of the schedule that asks for it.
const askOperation = 1 << 20

func operationSlips() []resolver.Slip {
	return []resolver.Slip{resolver.NeighbourCard, resolver.SupersededEdition, resolver.WrongSideLimit, resolver.LimitOffByOne}
}

// operationPlace asks where an operation of a service is described for a
// vehicle.
func operationPlace(m *banks.Maker, s banks.Site) bool {
	u := &m.Units[s.Card]
	sv := &m.T.Schedule[s.Extra-askOperation]
	op := &m.T.Operations[s.Row]
	if !m.Vehicle(u, u.Range, banks.Inside) {
		return false
	}
	q := &m.Q.Query
	q.Task, q.Text = resolver.JobTask, sv.Name
	if sv.Duty == "" {
		dutyLine(m, u)
	} else {
		q.Duty = sv.Duty
		m.Line("Duty", sv.Duty)
	}
	m.R.Resolve(q, resolver.Break{}, &m.Right)
	key, ok := operationItem(&m.Right, op.Number)
	if !ok || key.Partly || m.Right.Unsure {
		return false
	}
	m.Line("Service", serviceName(sv))
	m.Line("Operation", op.Number+" "+op.Title)
	m.Q.About.Record = "operation:" + op.Number
	m.Q.About.Publication = m.T.Publications[key.Publication].ID
	m.Q.Stem = m.Pick(
		"Where is this operation described for this vehicle?",
		"The service asks for this operation. Which book and place do you open?",
		"Find the place at which the operation is described.",
	)
	if m.Meta.Primary != catalog.UnitModel {
		m.Q.Stem = m.Pick("The service asks for this operation. Which book and place do you open?", "Find the place at which the operation is described.")
	}
	place := m.R.Place(key)
	m.KeyOption(place, place)
	m.SomeSlips(operationSlips(), func(b resolver.Break) {
		if it, ok := operationItem(&m.Wrong, op.Number); ok {
			p := m.R.Place(it)
			m.WrongOption(p, p, b)
		}
	})
	for _, step := range [...]resolver.Step{resolver.CodeStep, resolver.CardStep} {
		if _, text, ok := m.R.StepValue(q, &m.Right, step); ok {
			m.Trace(step, text)
		}
	}
	m.Trace(resolver.ComponentStep, serviceName(sv))
	m.Trace(resolver.LocationStep, place)
	m.Warn(op.Hazards)
	return m.OneOf("code")
}

// operationItem finds the one place of an operation in an answer.
func operationItem(a *resolver.Answer, number string) (resolver.Item, bool) {
	var found resolver.Item
	n := 0
	for _, it := range a.Items {
		if it.Operation == number && it.Row >= 0 && it.Publication >= 0 {
			found = it
			n++
		}
	}
	return found, n == 1
}

func serviceName(s *catalog.Service) string {
	if s.Title == "" {
		return s.Name
	}
	return s.Name + " " + s.Title
}

// operationSites are the operations of every service that a unit has, each once
// a unit.
func operationSites(s *banks.Source) []banks.Site {
	rows := map[string]int32{}
	for i := range s.T.Operations {
		if _, ok := rows[s.T.Operations[i].Number]; !ok {
			rows[s.T.Operations[i].Number] = int32(i)
		}
	}
	var out []banks.Site
	for i := range s.Units {
		u := &s.Units[i]
		seen := map[string]bool{}
		for j := range s.T.Schedule {
			sv := &s.T.Schedule[j]
			code := u.Codes[sv.KeyedBy]
			if code == "" || !sv.AppliesTo.Match(code) {
				continue
			}
			for _, no := range sv.Operations {
				if row, ok := rows[no]; ok && !seen[no] {
					seen[no] = true
					out = append(out, banks.Site{Row: row, Card: int32(i), Extra: askOperation + int32(j)})
				}
			}
		}
	}
	return out
}
