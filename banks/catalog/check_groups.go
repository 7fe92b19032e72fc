package catalog

import (
	"fmt"
	"slices"
)

func groupChecks() family {
	return family{"groups", checkGroups, []CheckKind{
		{"no-group", Warning, "a component has no group, of its own or through its major component"},
		{"two-groups", Warning, "a component stands in two groups"},
		{"keyed-by", Error, "a publication is keyed by another unit than a group that it lists"},
	}}
}

func checkGroups(k *checker) {
	t := k.t
	for i := range t.Components {
		c := &t.Components[i]
		if k.compGrp[i] >= 0 || c.Term == "" {
			continue
		}
		if _, known := k.c.grp[c.Group]; c.Group != "" && !known {
			continue // dangling says so
		}
		what := fmt.Sprintf("component %q has no group", c.Term)
		if c.PartOf != "" {
			what += ", nor has what it is a part of"
		}
		k.add("no-group", "components", c.Origin, "group", what, "fill in its group, or the major component that it is a part of", k.componentLookups(c.Term))
	}
	groups := map[string][]string{}
	for i := range t.Components {
		c := &t.Components[i]
		own := groups[c.Term]
		if c.Term == "" || slices.Contains(own, c.Group) {
			continue
		}
		groups[c.Term] = append(own, c.Group)
		if len(own) == 0 {
			continue
		}
		k.add("two-groups", "components", c.Origin, "group", fmt.Sprintf("component %q stands in group %s and in group %s", c.Term, orNone(own[0]), orNone(c.Group)),
			"keep it in one group; call a part of another group by a term of its own", k.componentLookups(c.Term))
	}
	k.checkKeyedBy()
}

func orNone(s string) string {
	if s == "" {
		return "(none)"
	}
	return s
}

// checkKeyedBy checks that a publication and the groups that it lists are keyed
// by the same unit. A group that is a mere heading may be keyed otherwise as
// long as one below it agrees.
func (k *checker) checkKeyedBy() {
	t := k.t
	units := k.unitsBelow()
	for i := range t.Publications {
		p := &t.Publications[i]
		var wrong []string
		by := ""
		for _, code := range p.Groups {
			if g, ok := k.c.grp[code]; ok && !units[g][p.KeyedBy] {
				wrong = append(wrong, code)
				by = t.Groups[g].KeyedBy
			}
		}
		if len(wrong) > 0 {
			k.add("keyed-by", "publications", p.Origin, "keyed_by",
				fmt.Sprintf("publication %s is keyed by %s, but %s %s by %s", p.ID, p.KeyedBy, plural(len(wrong), "its group", "its groups"), some(wrong), by),
				"let the two agree: no lookup reaches a publication that is keyed otherwise than the component's group", k.pubLookups(i))
		}
	}
}

// unitsBelow gives, for each group, the units that key it or a group below it.
// The groups of a circle are left with their own.
func (k *checker) unitsBelow() []map[string]bool {
	t := k.t
	units, below := make([]map[string]bool, len(t.Groups)), make([]int, len(t.Groups))
	parent := func(i int) int {
		if up, ok := k.c.grp[t.Groups[i].Parent]; ok && t.Groups[i].Parent != "" {
			return up
		}
		return -1
	}
	for i := range t.Groups {
		units[i] = map[string]bool{t.Groups[i].KeyedBy: true}
		if up := parent(i); up >= 0 {
			below[up]++
		}
	}
	var leaves []int
	for i := range t.Groups {
		if below[i] == 0 {
			leaves = append(leaves, i)
		}
	}
	for len(leaves) > 0 {
		i := leaves[len(leaves)-1]
		leaves = leaves[:len(leaves)-1]
		up := parent(i)
		if up < 0 {
			continue
		}
		for u := range units[i] {
			units[up][u] = true
		}
		if below[up]--; below[up] == 0 {
			leaves = append(leaves, up)
		}
	}
	return units
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
