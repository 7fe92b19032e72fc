package kinds

import (
	"strconv"
	"strings"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// procedureSites enumerates every procedure on every vehicle that it can apply
// to, inside of the stretch and at its limits. Extra is the range of the
// publication's effectivity.
func procedureSites(s *banks.Source) banks.Sites { return s.Sites("procedures", listProcedureSites) }

func listProcedureSites(s *banks.Source) banks.Sites {
	var sites []banks.Site
	type applies struct {
		unit int32
		part int
		g    catalog.Range
	}
	byPub := map[string][]applies{}
	for i := range s.T.Procedures {
		p := &s.T.Procedures[i]
		pub, ok := s.C.Publication(p.Publication)
		if !ok {
			continue
		}
		list, seen := byPub[pub.ID]
		if !seen {
			s.Applying(pub.KeyedBy, pub.AppliesTo, pub.Effectivity, func(unit int32, part int, g catalog.Range) {
				list = append(list, applies{unit, part, g})
			})
			byPub[pub.ID] = list
		}
		for _, a := range list {
			u := &s.Units[a.unit]
			if !p.AppliesTo.Match(u.Codes[pub.KeyedBy]) {
				continue
			}
			g, ok := banks.Meet(a.g, p.Effectivity, pub.KeyedBy == s.Meta.Primary)
			if !ok {
				continue
			}
			banks.Positions(u.Range, g, func(at banks.Position) {
				sites = append(sites, banks.Site{Row: int32(i), Card: a.unit, Extra: int32(a.part), At: at})
			})
		}
	}
	return banks.NewSites(sites)
}

// oneSitePer keeps the first site of each procedure, or of each component, for
// kinds whose question does not depend on the vehicle.
func oneSitePer(key func(s *banks.Source, row int32) string) func(*banks.Source) banks.Sites {
	return func(s *banks.Source) banks.Sites {
		seen := map[string]bool{}
		var out []banks.Site
		for _, site := range procedureSites(s).Inside {
			k := key(s, site.Row)
			if seen[k] {
				continue
			}
			seen[k] = true
			out = append(out, site)
		}
		return banks.NewSites(out)
	}
}

// prepareJob sets up the vehicle and the job of a procedure site, asks the
// resolver, and tells whether the procedure is what it finds.
func prepareJob(m *banks.Maker, s banks.Site) bool {
	p := &m.T.Procedures[s.Row]
	pub, _ := m.C.Publication(p.Publication)
	u := &m.Units[s.Card]
	g, ok := m.Stretch(u, pub.KeyedBy, pub.Effectivity, int(s.Extra))
	if !ok {
		return false
	}
	own := pub.KeyedBy == m.Meta.Primary
	if g, ok = banks.Meet(g, p.Effectivity, own); !ok || !m.Vehicle(u, g, s.At) {
		return false
	}
	if !own {
		for _, e := range [...]catalog.Effectivity{pub.Effectivity, p.Effectivity} {
			for _, r := range e {
				if (r.Serials.From != 0 || r.Serials.Through != 0) && m.Q.Query.Vehicle.Engine == "" && m.Q.Query.Vehicle.Transmission == "" {
					if !m.UnitNumber(pub.KeyedBy, u.Codes[pub.KeyedBy], r.Serials, s.At) {
						return false
					}
				}
			}
		}
	}
	m.Q.Query.Task = resolver.JobTask
	m.Q.Query.Text = jobText(m, p)
	m.Q.About.Publication = pub.ID
	m.Q.About.Record = "procedure:" + p.ID
	if !m.Ask() || m.Right.Items[0].Table != resolver.ProcedureTable || m.Right.Items[0].Row != s.Row {
		return false
	}
	if v, _, ok := m.R.StepValue(&m.Q.Query, &m.Right, resolver.GroupStep); ok {
		m.Q.About.Group = v
	}
	jobFeatures(m, p, pub)
	return true
}

// jobText words the job as a shop would: the action or a synonym of it, and
// the component or a synonym, in the catalog's language.
func jobText(m *banks.Maker, p *catalog.Procedure) string {
	action := p.Action
	var words []string
	for _, s := range m.Meta.Actions[p.Action].Synonyms {
		if !strings.Contains(s, ":") {
			words = append(words, s)
		}
	}
	if len(words) > 0 && m.Rand.IntN(3) == 0 {
		action = words[m.Rand.IntN(len(words))]
	}
	term := p.Component
	if syn := synonyms(m, p.Component); len(syn) > 0 && m.Rand.IntN(3) == 0 {
		term = syn[m.Rand.IntN(len(syn))]
		m.Feature("synonym")
	}
	return action + " " + term
}

func synonyms(m *banks.Maker, term string) []string {
	var out []string
	i, ok := m.Component(term)
	if !ok {
		return nil
	}
	for _, s := range m.T.Components[i].Synonyms {
		if s.Lang == "" || s.Lang == m.Meta.Language {
			out = append(out, s.Term)
		}
	}
	return out
}

func jobFeatures(m *banks.Maker, p *catalog.Procedure, pub *catalog.Publication) {
	m.FeatureIf(pub.KeyedBy != m.Meta.Primary, "keyed by another unit")
	for _, e := range [...]catalog.Effectivity{pub.Effectivity, p.Effectivity} {
		for _, r := range e {
			serial := r.Serials.From != 0 || r.Serials.Through != 0
			date := !r.From.IsZero() || !r.Through.IsZero()
			m.FeatureIf(serial, "serial limit")
			m.FeatureIf(serial && date, "both limits")
		}
	}
	m.FeatureIf(len(pub.Supersedes) > 0, "superseded")
	m.FeatureIf(len(m.Right.Amendments) > 0, "bulletin")
	if i, ok := m.Component(p.Component); ok {
		m.FeatureIf(m.T.Components[i].Group == "", "part of a major component")
	}
}

// orderNumber is a line that makes the question look like what it stands for.
func orderNumber(m *banks.Maker) {
	m.Line("Repair order", strconv.Itoa(20000+m.Rand.IntN(70000)))
}

// jobLine adds the customer's wish.
func jobLine(m *banks.Maker) {
	m.Line("Job", sentence(m.Q.Query.Text))
}

func sentence(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
