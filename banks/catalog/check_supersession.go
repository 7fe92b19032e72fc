package catalog

import "slices"

// superseders maps each publication to those that name it in supersedes.
func (k *checker) superseders(p int) []int {
	if k.supersededBy == nil {
		k.supersededBy = map[int][]int{}
		for i := range k.t.Publications {
			for _, id := range k.t.Publications[i].Supersedes {
				if j, ok := k.c.pub[id]; ok {
					k.supersededBy[j] = append(k.supersededBy[j], i)
				}
			}
		}
	}
	return k.supersededBy[p]
}

// ruledOut is where loser is ruled out because winner supersedes it, directly
// or by a chain, for all of some codes: winner and every publication of the
// chain apply there. Both must be of one class.
func (k *checker) ruledOut(loser, winner int, codes codeSet) region {
	pubs := k.t.Publications
	if pubs[loser].Class != pubs[winner].Class {
		return nil
	}
	return k.chain(loser, codes, region{anyBox}, map[int]bool{loser: true}, func(p int) bool { return p == winner })
}

// superseded is where a publication is ruled out by any other, for one code.
func (k *checker) superseded(p int, codes codeSet) region {
	class := k.t.Publications[p].Class
	return k.chain(p, codes, region{anyBox}, map[int]bool{p: true}, func(q int) bool { return k.t.Publications[q].Class == class })
}

// chain walks up the supersessions of p while every publication met applies
// somewhere, and collects the regions at which one is met that counts.
func (k *checker) chain(p int, codes codeSet, where region, seen map[int]bool, counts func(int) bool) region {
	var out region
	for _, q := range k.superseders(p) {
		if seen[q] || !k.spend(20) {
			continue
		}
		here := where.meet(k.reigns(q, k.pubUnit(p), codes))
		if len(here) == 0 {
			continue
		}
		if counts(q) {
			out = append(out, here...)
		}
		seen[q] = true
		out = append(out, k.chain(q, codes, here, seen, counts)...)
		delete(seen, q)
	}
	return out
}

// reigns is where a publication applies to all of some codes.
func (k *checker) reigns(q int, u *unitCodes, codes codeSet) region {
	p := &k.t.Publications[q]
	return k.appliesTo(k.pubUnit(q), k.pubCodes(q), p.AppliesTo == "", regionOf(p.Effectivity), u, codes)
}

// appliesTo is where a record that covers some codes of unit, with limits r,
// applies to all of some codes of the unit u. Where the two units differ, the
// record must name no codes (everything), or every data card of a code must have
// one that it covers; and the build date alone must decide, since nobody can
// tell one unit's serial from the other's.
func (k *checker) appliesTo(unit *unitCodes, covered codeSet, everything bool, r region, u *unitCodes, codes codeSet) region {
	if unit == u {
		if !codes.minus(covered).empty() {
			return nil
		}
		return r
	}
	byDate := slices.DeleteFunc(slices.Clone(r), box.limitsSerials)
	if everything || len(byDate) == 0 || !k.spend(len(k.t.Models)) {
		return byDate
	}
	left := slices.Clone(codes)
	for i := range k.t.Models {
		m := &k.t.Models[i]
		mine := false
		for _, code := range m.codesOf(u.name) {
			if j, ok := u.id[Fold(code)]; ok && codes.has(j) {
				mine = true
				left.clear(j)
			}
		}
		if !mine {
			continue
		}
		hit := false
		for _, code := range m.codesOf(unit.name) {
			j, ok := unit.id[Fold(code)]
			hit = hit || ok && covered.has(j)
		}
		if !hit {
			return nil
		}
	}
	if !left.empty() { // a code on no card has no other unit
		return nil
	}
	return byDate
}
