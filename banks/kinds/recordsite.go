package kinds

import (
	"rightpage/banks"
	"rightpage/banks/catalog"
)

// applyingWith is [banks.Source.Applying] for a record that stands in a
// publication: only the vehicles and stretches to which the publication applies
// as well. Without the publication there are none.
func applyingWith(s *banks.Source, publication, keyedBy string, p catalog.Pattern, e catalog.Effectivity, yield func(unit int32, part int, stretch catalog.Range)) {
	pub, ok := s.C.Publication(publication)
	if !ok {
		return
	}
	s.Applying(keyedBy, p, e, func(unit int32, part int, g catalog.Range) {
		if !pub.AppliesTo.Match(s.Units[unit].Codes[pub.KeyedBy]) {
			return
		}
		if g, ok := withPublication(s, publication, g); ok {
			yield(unit, part, g)
		}
	})
}

// withPublication narrows a stretch to that of a publication.
func withPublication(s *banks.Source, id string, g catalog.Range) (catalog.Range, bool) {
	pub, ok := s.C.Publication(id)
	if !ok {
		return g, false
	}
	return banks.Meet(g, pub.Effectivity, pub.KeyedBy == s.Meta.Primary)
}

// recordVehicle chooses a vehicle for a site to which a record and its
// publication apply.
func recordVehicle(m *banks.Maker, publication, keyedBy string, e catalog.Effectivity, s banks.Site) bool {
	u := &m.Units[s.Card]
	g, ok := banks.Meet(u.Range, e, keyedBy == m.Meta.Primary)
	if !ok {
		return false
	}
	if g, ok = withPublication(m.Source, publication, g); !ok {
		return false
	}
	return m.Vehicle(u, g, s.At)
}
