package kinds

import (
	"slices"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// chaseSteps are the steps that a chase asks for, in order, with the slips that
// are made at each.
func chaseSteps() []struct {
	step  resolver.Step
	ask   string
	slips []resolver.Slip
} {
	return []struct {
		step  resolver.Step
		ask   string
		slips []resolver.Slip
	}{
		{resolver.ClassifyStep, "Class of literature", []resolver.Slip{resolver.WrongClass}},
		{resolver.GroupStep, "Group", []resolver.Slip{resolver.SiblingGroup, resolver.ParentForComponent}},
		{resolver.PublicationStep, "Publication", []resolver.Slip{resolver.ModelForEngine, resolver.NeighbourCard, resolver.SalesNameAsCode, resolver.SiblingGroup, resolver.WrongClass}},
		{resolver.EditionStep, "Edition", []resolver.Slip{resolver.WrongSideLimit, resolver.LimitOffByOne, resolver.SupersededEdition}},
		{resolver.LocationStep, "Place in it", []resolver.Slip{resolver.ParentForComponent, resolver.SiblingGroup, resolver.SupersededEdition, resolver.NeighbourCard}},
		{resolver.AmendStep, "Bulletin or supplement that changes it (or none)", []resolver.Slip{resolver.BulletinIgnored, resolver.LimitOffByOne}},
	}
}

// chase asks for a whole lookup, step by step. A later step is right, too, on
// what somebody has in hand who made a slip before: each step carries what
// follows from each wrong option of the steps before it.
func chase() banks.Kind {
	var slips []resolver.Slip
	for _, c := range chaseSteps() {
		for _, s := range c.slips {
			if !slices.Contains(slips, s) {
				slips = append(slips, s)
			}
		}
	}
	return banks.Kind{
		Name: "chase", Title: "A whole lookup", Skill: "whole chase", Slips: slips,
		Sites: procedureSites,
		Make: func(m *banks.Maker, s banks.Site) bool {
			orderNumber(m)
			if !prepareJob(m, s) {
				return false
			}
			jobLine(m)
			m.Q.Form = banks.Chase
			m.Q.Stem = m.Pick(
				"Take this job from the order to the page, step by step.",
				"Find the page for this job. Answer each step of your lookup.",
				"Work the lookup through and give what you find at each step.",
			)
			strays := stray(m, slips)
			var earlier []resolver.Slip
			for _, c := range chaseSteps() {
				step, ok := chaseStep(m, c.step, c.ask, c.slips, earlier, strays)
				if !ok {
					return false
				}
				m.Q.Steps = append(m.Q.Steps, step)
				earlier = append(earlier, c.slips...)
			}
			m.TraceTo(resolver.AmendStep)
			return true
		},
	}
}

// strayed is the path of somebody who makes a slip.
type strayed struct {
	b    resolver.Break
	path resolver.Path
}

// stray walks the lookup once with each slip.
func stray(m *banks.Maker, slips []resolver.Slip) []strayed {
	var out []strayed
	m.EachSlip(slips, func(b resolver.Break) {
		if m.Wrong.Path != m.Right.Path {
			out = append(out, strayed{b, m.Wrong.Path})
		}
	})
	return out
}

// chaseStep makes one step: its wrong options come from the slips that are made
// there, and from what follows of those made earlier, so that somebody who made
// one finds what is in hand.
func chaseStep(m *banks.Maker, step resolver.Step, ask string, slips, earlier []resolver.Slip, strays []strayed) (banks.ChaseStep, bool) {
	c := banks.ChaseStep{Step: step, Ask: ask}
	value, text, ok := m.R.StepValue(&m.Q.Query, &m.Right, step)
	if !ok {
		return c, false
	}
	at := func(s *strayed) (string, string, bool) {
		if s.path[step] == m.Right.Path[step] {
			return "", "", false
		}
		m.Wrong.Path, m.Wrong.Services = s.path, m.Wrong.Services[:0]
		return m.R.StepValue(&m.Q.Query, &m.Wrong, step)
	}
	wrong := m.Distractors(banks.Option{Text: text, Value: value}, func(add func(text, value string, b resolver.Break)) {
		var seen []int32
		for _, from := range [...][]resolver.Slip{slips, earlier} {
			for i := range strays {
				if slices.Contains(from, strays[i].b.Slip) && !slices.Contains(seen, strays[i].path[step]) {
					if v, t, ok := at(&strays[i]); ok {
						seen = append(seen, strays[i].path[step])
						add(t, v, strays[i].b)
					}
				}
			}
		}
	})
	if len(wrong) >= 2 {
		c.Options = m.Mixed(banks.Option{Text: text, Value: value, Right: true}, wrong, m.Options)
	} else {
		c.Accept = []string{text}
		for _, w := range wrong {
			c.Slipped = append(c.Slipped, banks.Slipped{Value: w.Text, Slip: w.Slip, Variant: w.Variant})
		}
	}
	for i := range strays {
		s := &strays[i]
		v, t, ok := at(s)
		if !ok || v == value {
			continue
		}
		if len(c.Options) == 0 {
			v = t
		} else if !slices.ContainsFunc(c.Options, func(o banks.Option) bool { return o.Value == v }) {
			continue // not offered
		}
		carried := banks.Slipped{Value: v, Slip: s.b.Slip, Variant: s.b.Variant}
		if !slices.Contains(c.Carried, carried) {
			c.Carried = append(c.Carried, carried)
		}
	}
	return c, true
}
