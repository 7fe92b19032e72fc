package kinds

import (
	"strings"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// nextStep asks what to do after a test step that was not as expected.
func nextStep() banks.Kind {
	slips := []resolver.Slip{resolver.ChapterForStep, resolver.OtherSide}
	return banks.Kind{
		Name: "next-step", Title: "Next step after a failed check", Skill: "test steps", Slips: slips,
		Sites: testSites,
		Make: func(m *banks.Maker, s banks.Site) bool {
			t := &m.T.Tests[s.Row]
			g := &m.T.Guide[s.Extra]
			if !recordVehicle(m, g.Publication, g.KeyedBy, g.Effectivity, s) {
				return false
			}
			q := &m.Q.Query
			q.Task, q.Text = resolver.ComplaintTask, g.System
			if words := complaints(m.Source, g); len(words) > 0 {
				q.Text = words[m.Rand.IntN(len(words))]
			}
			q.At, q.Outcome = resolver.StepAt{Chapter: t.Chapter, Step: t.Step}, resolver.Failed
			if q.Side = t.Side; q.Side == "" && sided(m, t.Publication, t.FailChapter, t.Chapter) {
				q.Side = m.Pick("left", "right")
			}
			if !m.Ask() {
				return false
			}
			m.Line("Publication", t.Publication)
			m.Line("Chapter and step", t.Chapter+" / "+t.Step)
			m.Line("Side", q.Side)
			m.Line("Check", sentence(t.Tests))
			m.Line("Outcome", "not as expected")
			m.Q.About.Publication, m.Q.About.Record = t.Publication, "test:"+t.Publication+"/"+t.Chapter+"/"+t.Step
			m.Q.Stem = m.Pick(
				"Where do you go on?",
				"The check failed. Which chapter and step come next?",
				"What is the next step?",
			)
			key := stepsText(m, &m.Right)
			if key == "" {
				return false
			}
			m.KeyOption(key, key)
			m.EachSlip(slips, func(b resolver.Break) {
				v := stepsText(m, &m.Wrong)
				m.WrongOption(v, v, b)
			})
			m.FeatureIf(q.Side != "", "side")
			m.FeatureIf(t.FailChapter != "" && t.FailChapter != t.Chapter, "another chapter")
			m.Trace(resolver.LocationStep, key)
			m.Warn(t.Hazards)
			m.Warn(m.R.Hazards(&m.Right))
			return m.OneOf("code")
		},
	}
}

// stepsText is where an answer leads: "chapter 3, step 2" or "chapter 3, steps
// 2 and 4".
func stepsText(m *banks.Maker, a *resolver.Answer) string {
	var steps []string
	chapter, side := "", ""
	for _, it := range a.Items {
		if it.Table != resolver.TestTable || it.Row < 0 {
			return ""
		}
		t := &m.T.Tests[it.Row]
		chapter = t.Chapter
		if t.Side != "" {
			side = ", " + t.Side + " side"
		}
		steps = append(steps, t.Step)
	}
	switch len(steps) {
	case 0:
		return ""
	case 1:
		return "chapter " + chapter + ", step " + steps[0] + side
	}
	last := len(steps) - 1
	return "chapter " + chapter + ", steps " + strings.Join(steps[:last], ", ") + " and " + steps[last] + side
}

// sided tells whether one of the chapters has steps for one side.
func sided(m *banks.Maker, pub string, chapters ...string) bool {
	for i := range m.T.Tests {
		t := &m.T.Tests[i]
		if t.Publication != pub || t.Side == "" {
			continue
		}
		for _, c := range chapters {
			if t.Chapter == c {
				return true
			}
		}
	}
	return false
}

// testSites are the steps that say where to go when they fail, each with one
// row of the guide that leads to its publication and the first vehicle that it
// applies to: the vehicle does not change the answer.
func testSites(s *banks.Source) banks.Sites {
	type route struct{ guide, unit int32 }
	routes := map[string]route{}
	for _, site := range guideSites(s).Inside {
		pub := s.T.Guide[site.Row].Publication
		if _, ok := routes[pub]; !ok {
			routes[pub] = route{site.Row, site.Card}
		}
	}
	var out []banks.Site
	for i := range s.T.Tests {
		t := &s.T.Tests[i]
		r, ok := routes[t.Publication]
		if !ok || t.FailChapter == "" && len(t.FailSteps) == 0 {
			continue
		}
		out = append(out, banks.Site{Row: int32(i), Card: r.unit, Extra: r.guide})
	}
	return banks.NewSites(out)
}
