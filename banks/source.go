package banks

import (
	"cmp"
	"iter"
	"slices"
	"sync"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// Position says where in the stretch of vehicles that a record applies to the
// vehicle of a question lies.
type Position uint8

// The positions. First and Last are at a limit: the first or last month (or
// day, or serial) that it includes. They are asked for more often than their
// share, since that is where people go wrong.
const (
	Inside Position = iota
	First
	Last
)

// Site is a place in the catalog at which a kind of question can be asked: a
// record, a vehicle that it applies to, and a position in the stretch. What
// Row and Extra mean is the kind's own affair.
type Site struct {
	Row   int32    `json:"row"`
	Card  int32    `json:"card"` // index into Source.Units
	Extra int32    `json:"extra,omitempty"`
	At    Position `json:"at,omitempty"`
}

// Source is a catalog prepared for making questions. It does not change and is
// safe for use by many goroutines.
type Source struct {
	R     *resolver.Resolver
	C     *catalog.Catalog
	T     *catalog.Tables
	Meta  catalog.Meta
	Units []UnitRef // the vehicles or units that questions are about

	component map[string]int      // term → row of components
	above     map[string][]string // group → the groups above it, nearest first

	mu    sync.Mutex
	lists map[string]Sites // shared lists of sites, by name
}

// UnitRef is a vehicle that questions can be about: a data card or, where the
// primary unit has none, a code of the primary unit.
type UnitRef struct {
	Card  int32 // row of models, -1
	Code  string
	Codes map[string]string // unit → code
	Range catalog.Range
}

// NewSource prepares a catalog.
func NewSource(r *resolver.Resolver) *Source {
	c := r.Catalog()
	s := &Source{R: r, C: c, T: c.Tables(), Meta: c.Meta(), component: map[string]int{}, lists: map[string]Sites{}}
	if s.Meta.Primary == catalog.UnitModel {
		for i := range s.T.Models {
			m := &s.T.Models[i]
			codes := map[string]string{catalog.UnitModel: m.Code}
			if m.Engine != "" {
				codes[catalog.UnitEngine] = m.Engine
			}
			if m.Transmission != "" {
				codes[catalog.UnitTransmission] = m.Transmission
			}
			for _, u := range m.Units {
				codes[u.Unit] = u.Code
			}
			s.Units = append(s.Units, UnitRef{int32(i), m.Code, codes, m.Range})
		}
	} else {
		for _, code := range r.Codes(s.Meta.Primary) {
			s.Units = append(s.Units, UnitRef{-1, code, map[string]string{s.Meta.Primary: code}, catalog.Range{}})
		}
	}
	for i := range s.T.Components {
		if _, dup := s.component[s.T.Components[i].Term]; !dup {
			s.component[s.T.Components[i].Term] = i
		}
	}
	s.above = groupsAbove(c)
	return s
}

// groupsAbove lists for each group the groups above it. A catalog in which
// groups lie within one another in a circle is refused when loaded, but must
// not hang who reads it otherwise.
func groupsAbove(c *catalog.Catalog) map[string][]string {
	out := map[string][]string{}
	for i := range c.Tables().Groups {
		g := &c.Tables().Groups[i]
		var chain []string
		for up := g.Parent; up != "" && up != g.Code && !slices.Contains(chain, up); {
			chain = append(chain, up)
			parent, ok := c.Group(up)
			if !ok {
				break
			}
			up = parent.Parent
		}
		if chain != nil {
			out[g.Code] = chain
		}
	}
	return out
}

// Above lists the groups above a group, nearest first. The list is shared: it
// must not be changed.
func (s *Source) Above(group string) []string { return s.above[group] }

// Component gives the row of a component by its term.
func (s *Source) Component(term string) (int, bool) {
	i, ok := s.component[term]
	return i, ok
}

// Applying lists the units (indexes into Units) to which a record with this
// key, pattern and effectivity can apply, each with the stretches in which it
// does: one for each range of the effectivity that leaves anything, with the
// index of the range. A serial limit counts the serials of the keying unit; of
// a unit other than the primary one the serials are not on the card, so they do
// not narrow the stretch.
func (s *Source) Applying(keyedBy string, p catalog.Pattern, e catalog.Effectivity, yield func(unit int32, part int, stretch catalog.Range)) {
	for i := range s.Units {
		u := &s.Units[i]
		code, ok := u.Codes[keyedBy]
		if !ok || !p.Match(code) {
			continue
		}
		for part := range max(1, len(e)) {
			if g, ok := s.Stretch(u, keyedBy, e, part); ok {
				yield(int32(i), part, g)
			}
		}
	}
}

// Stretch narrows the range of a unit's card to one range of an effectivity.
func (s *Source) Stretch(u *UnitRef, keyedBy string, e catalog.Effectivity, part int) (catalog.Range, bool) {
	if len(e) == 0 {
		return u.Range, true
	}
	return meet(u.Range, e[part], keyedBy == s.Meta.Primary)
}

// meet narrows a card's range to a record's. Dates keep the precision in which
// the narrower limit is written.
func meet(card, r catalog.Range, own bool) (catalog.Range, bool) {
	out := card
	if r.From.First() > card.From.First() {
		out.From = r.From
	}
	if r.Through.Last() < card.Through.Last() {
		out.Through = r.Through
	}
	if out.From.First() > out.Through.Last() {
		return out, false
	}
	if own {
		m, ok := card.Serials.Meet(r.Serials)
		if !ok {
			return out, false
		}
		out.Serials = m
	}
	return out, true
}

// Meet narrows a stretch by the first range of an effectivity that leaves
// anything of it.
func Meet(stretch catalog.Range, e catalog.Effectivity, ownSerials bool) (catalog.Range, bool) {
	if len(e) == 0 {
		return stretch, true
	}
	for _, r := range e {
		if g, ok := meet(stretch, r, ownSerials); ok {
			return g, true
		}
	}
	return stretch, false
}

// Positions calls f for Inside and for each end of the stretch that a record's
// limit makes, not the data card alone.
func Positions(card, g catalog.Range, f func(Position)) {
	f(Inside)
	if g.From != card.From || g.Serials.From != card.Serials.From {
		f(First)
	}
	if g.Through != card.Through || g.Serials.Through != card.Serials.Through {
		f(Last)
	}
}

// Sites is the sites of a kind, apart by whether they are at a limit.
type Sites struct{ Inside, Limits []Site }

// Len is the number of sites.
func (s Sites) Len() int { return len(s.Inside) + len(s.Limits) }

// All lists every site.
func (s Sites) All() iter.Seq[Site] {
	return func(yield func(Site) bool) {
		for _, list := range [...][]Site{s.Inside, s.Limits} {
			for _, site := range list {
				if !yield(site) {
					return
				}
			}
		}
	}
}

// Sites gives the list of a name, which is made once for all kinds that share
// it.
func (s *Source) Sites(name string, list func(*Source) Sites) Sites {
	s.mu.Lock()
	defer s.mu.Unlock()
	if l, ok := s.lists[name]; ok {
		return l
	}
	l := list(s)
	s.lists[name] = l
	return l
}

// NewSites puts sites in a fixed order, drops those that occur twice and parts
// them.
func NewSites(sites []Site) Sites {
	sites = sortSites(sites)
	var out Sites
	for _, s := range sites {
		if s.At == Inside {
			out.Inside = append(out.Inside, s)
		} else {
			out.Limits = append(out.Limits, s)
		}
	}
	out.Inside, out.Limits = slices.Clip(out.Inside), slices.Clip(out.Limits)
	return out
}

func sortSites(sites []Site) []Site {
	slices.SortFunc(sites, compareSites)
	return slices.Compact(sites)
}

func compareSites(a, b Site) int {
	return cmp.Or(cmp.Compare(a.Row, b.Row), cmp.Compare(a.Card, b.Card), cmp.Compare(a.Extra, b.Extra), cmp.Compare(a.At, b.At))
}
