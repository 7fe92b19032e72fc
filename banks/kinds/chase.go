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
			var breaks []resolver.Break
			for _, c := range chaseSteps() {
				step, wrong, ok := chaseStep(m, c.step, c.ask, c.slips, breaks)
				if !ok {
					return false
				}
				carry(m, &step, breaks)
				breaks = append(breaks, wrong...)
				m.Q.Steps = append(m.Q.Steps, step)
			}
			m.TraceTo(resolver.AmendStep)
			return true
		},
	}
}

// chaseStep makes one step and lists the breaks that its wrong answers come
// from. What follows from a slip at an earlier step is offered as well, so that
// somebody who made it finds what is in hand.
func chaseStep(m *banks.Maker, step resolver.Step, ask string, slips []resolver.Slip, earlier []resolver.Break) (banks.ChaseStep, []resolver.Break, bool) {
	c := banks.ChaseStep{Step: step, Ask: ask}
	value, text, ok := m.R.StepValue(&m.Q.Query, &m.Right, step)
	if !ok {
		return c, nil, false
	}
	wrong := m.Distractors(banks.Option{Text: text, Value: value}, func(add func(text, value string, b resolver.Break)) {
		take := func(b resolver.Break) {
			if v, t, ok := m.R.StepValue(&m.Q.Query, &m.Wrong, step); ok {
				add(t, v, b)
			}
		}
		m.EachSlip(slips, take)
		for _, b := range earlier {
			m.R.Resolve(&m.Q.Query, b, &m.Wrong)
			take(b)
		}
	})
	var breaks []resolver.Break
	for _, w := range wrong {
		breaks = append(breaks, resolver.Break{Slip: w.Slip, Variant: w.Variant})
	}
	if len(wrong) >= 2 {
		c.Options = m.Mixed(banks.Option{Text: text, Value: value, Right: true}, wrong, m.Options-1)
	} else {
		c.Accept = []string{text}
		for _, w := range wrong {
			c.Slipped = append(c.Slipped, banks.Slipped{Value: w.Text, Slip: w.Slip, Variant: w.Variant})
		}
	}
	return c, breaks, true
}

// carry adds to a step what is right there after each earlier slip.
func carry(m *banks.Maker, c *banks.ChaseStep, breaks []resolver.Break) {
	right, _, _ := m.R.StepValue(&m.Q.Query, &m.Right, c.Step)
	for _, b := range breaks {
		m.R.Resolve(&m.Q.Query, b, &m.Wrong)
		v, text, ok := m.R.StepValue(&m.Q.Query, &m.Wrong, c.Step)
		if !ok || v == right {
			continue
		}
		if len(c.Options) == 0 {
			v = text
		}
		if !slices.ContainsFunc(c.Carried, func(x banks.Slipped) bool { return x.Value == v && x.Slip == b.Slip }) {
			c.Carried = append(c.Carried, banks.Slipped{Value: v, Slip: b.Slip, Variant: b.Variant})
		}
	}
}
