package kinds

import (
	"cmp"
	"slices"
	"strings"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// latest asks which information is the latest for a job.
func latest() banks.Kind {
	slips := []resolver.Slip{
		resolver.BulletinIgnored, resolver.SupersededEdition, resolver.LimitOffByOne, resolver.WrongSideLimit, resolver.NeighbourCard,
	}
	return banks.Kind{
		Name: "latest", Title: "Which information is latest", Skill: "latest information", Slips: slips,
		Sites: latestSites,
		Make: func(m *banks.Maker, s banks.Site) bool {
			if s.Extra >= orderFrom {
				return issueOrder(m, s)
			}
			orderNumber(m)
			if !prepareJob(m, s) {
				return false
			}
			jobLine(m)
			m.Q.Stem = m.Pick(
				"Which information do you work by?",
				"What is the latest information for this job on this vehicle?",
				"Which edition counts, and which bulletins or supplements with it?",
			)
			if m.Meta.Primary != catalog.UnitModel {
				m.Q.Stem = m.Pick("Which information do you work by?", "Which edition counts, and which bulletins or supplements with it?")
			}
			key, ok := sources(m, &m.Right)
			if !ok {
				return false
			}
			m.KeyOption(key, key)
			m.SomeSlips(slips, func(b resolver.Break) {
				if v, ok := sources(m, &m.Wrong); ok {
					m.WrongOption(v, v, b)
				}
			})
			m.TraceTo(resolver.AmendStep)
			return m.OneOf("code")
		},
	}
}

// sources names the edition of an answer and the bulletins that count with it
// or instead of it.
func sources(m *banks.Maker, a *resolver.Answer) (string, bool) {
	if len(a.Items) == 0 || a.Items[0].Publication < 0 {
		return "", false
	}
	it := &a.Items[0]
	var with []string
	for _, am := range a.Amendments {
		if am.Item == 0 && !am.Partly && am.Bulletin != it.Bulletin {
			with = append(with, m.T.Bulletins[am.Bulletin].ID)
		}
	}
	slices.Sort(with)
	text := m.T.Publications[it.Publication].ID
	if it.Bulletin >= 0 {
		text = "bulletin " + m.T.Bulletins[it.Bulletin].ID + " in place of " + text
	}
	if len(with) == 0 && it.Bulletin < 0 {
		return text + " alone", true
	}
	if len(with) > 0 {
		text += " with " + strings.Join(with, " and ")
	}
	return text, true
}

// orderFrom is added to Extra for questions about the order of issue.
const orderFrom = 1 << 20

// issueOrder asks for the order in which the bulletins of a publication were
// issued, the latest last.
func issueOrder(m *banks.Maker, s banks.Site) bool {
	list := bulletinsOf(m.Source)[int(s.Row)]
	m.Rand.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
	var take []*catalog.Bulletin
	for _, b := range list {
		if !slices.ContainsFunc(take, func(o *catalog.Bulletin) bool { return o.Issued == b.Issued }) && len(take) < 4 {
			take = append(take, b)
		}
	}
	slices.SortFunc(take, func(a, b *catalog.Bulletin) int { return cmp.Compare(a.Issued.First(), b.Issued.First()) })
	m.Q.Query = resolver.Query{Task: resolver.CardTask}
	for _, b := range take {
		m.KeyOption(b.ID+" "+b.Subject, b.ID)
		m.Trace(resolver.AmendStep, b.ID+" was issued "+b.Issued.String())
	}
	m.Q.About.Record = "bulletin:" + take[len(take)-1].ID
	m.Q.Stem = m.Pick(
		"Put these bulletins in the order in which they were issued, the latest last.",
		"In which order were these issued? The latest comes last.",
	)
	m.Feature("bulletin")
	return m.Ordered()
}

// bulletinsOf lists the bulletins by year of issue, a few at a time: each list
// holds at least three with different dates.
func bulletinsOf(s *banks.Source) [][]*catalog.Bulletin {
	all := make([]*catalog.Bulletin, 0, len(s.T.Bulletins))
	for i := range s.T.Bulletins {
		if !s.T.Bulletins[i].Issued.IsZero() {
			all = append(all, &s.T.Bulletins[i])
		}
	}
	slices.SortFunc(all, func(a, b *catalog.Bulletin) int {
		return cmp.Or(cmp.Compare(a.Issued.First(), b.Issued.First()), cmp.Compare(a.ID, b.ID))
	})
	var out [][]*catalog.Bulletin
	for i := 0; i+5 <= len(all); i++ {
		dates := map[catalog.Date]bool{}
		for _, b := range all[i : i+5] {
			dates[b.Issued] = true
		}
		if len(dates) >= 4 {
			out = append(out, slices.Clone(all[i:i+5]))
		}
	}
	return out
}

// latestSites are the procedures that a bulletin names, or whose publication
// one names or supersedes another, and the lists of bulletins to put in order.
func latestSites(s *banks.Source) banks.Sites {
	touched := map[string]bool{}
	for i := range s.T.Bulletins {
		for _, list := range [...][]catalog.Target{s.T.Bulletins[i].Amends, s.T.Bulletins[i].Replaces} {
			for _, t := range list {
				touched[t.String()] = true
			}
		}
	}
	for i := range s.T.Publications {
		if len(s.T.Publications[i].Supersedes) > 0 {
			touched["publication:"+s.T.Publications[i].ID] = true
		}
	}
	var out []banks.Site
	for site := range procedureSites(s).All() {
		p := &s.T.Procedures[site.Row]
		if touched["procedure:"+p.ID] || touched["publication:"+p.Publication] {
			out = append(out, site)
		}
	}
	for i := range bulletinsOf(s) {
		out = append(out, banks.Site{Row: int32(i), Extra: orderFrom})
	}
	return banks.NewSites(out)
}
