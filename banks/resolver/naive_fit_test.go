package resolver_test

import (
	"slices"
	"strings"

	"rightpage/banks/catalog"
)

// fit compares a record with a branch.
func (b naiveBranch) fit(keyed string, p catalog.Pattern, e catalog.Effectivity) catalog.Fit {
	u := b.units[keyed]
	f := e.Fit(b.built, u.serials)
	switch {
	case strings.TrimSpace(string(p)) == "":
		return f
	case u.code == "":
		return min(f, catalog.Partly)
	case !p.Match(u.code):
		return catalog.Outside
	}
	return f
}

// publication finds the row of an edition; -1: there is none.
func (n *naive) publication(id string) int {
	return slices.IndexFunc(n.t.Publications, func(p catalog.Publication) bool { return p.ID == id })
}

func (n *naive) publicationFit(b naiveBranch, i int) catalog.Fit {
	p := &n.t.Publications[i]
	return b.fit(p.KeyedBy, p.AppliesTo, p.Effectivity)
}

func (n *naive) superseded(b naiveBranch, i int) bool {
	for j := range n.t.Publications {
		other := &n.t.Publications[j]
		if j != i && other.Class == n.t.Publications[i].Class && slices.Contains(other.Supersedes, n.t.Publications[i].ID) &&
			n.publicationFit(b, j) == catalog.Within {
			return true
		}
	}
	return false
}

// editionFit is the fit of an edition that is not superseded.
func (n *naive) editionFit(b naiveBranch, id string) (int, catalog.Fit) {
	i := n.publication(id)
	if i < 0 || n.superseded(b, i) {
		return i, catalog.Outside
	}
	return i, n.publicationFit(b, i)
}

func (n *naive) procedureFit(b naiveBranch, i int) catalog.Fit {
	p := &n.t.Procedures[i]
	pub := n.publication(p.Publication)
	if pub < 0 {
		return catalog.Outside
	}
	return b.fit(n.t.Publications[pub].KeyedBy, p.AppliesTo, p.Effectivity)
}

func (n *naive) replaced(b naiveBranch, i int) bool {
	for j := range n.t.Procedures {
		other := &n.t.Procedures[j]
		if j == i || !slices.Contains(other.Replaces, n.t.Procedures[i].ID) || n.procedureFit(b, j) != catalog.Within {
			continue
		}
		if other.Publication == n.t.Procedures[i].Publication || n.publicationFit(b, n.publication(other.Publication)) == catalog.Within {
			return true
		}
	}
	return false
}

func (n *naive) covers(p *catalog.Publication, group string) bool {
	if len(p.Groups) == 0 {
		return true
	}
	for range len(n.t.Groups) + 1 { // no longer than the longest chain of parents
		if slices.Contains(p.Groups, group) {
			return true
		}
		i := slices.IndexFunc(n.t.Groups, func(g catalog.Group) bool { return g.Code == group })
		if i < 0 {
			return false
		}
		group = n.t.Groups[i].Parent
		if group == "" {
			return false
		}
	}
	return false
}
