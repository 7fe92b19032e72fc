package catalog

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
		if k.t.Publications[q].KeyedBy != k.t.Publications[p].KeyedBy || !codes.minus(k.pubCodes(q)).empty() {
			continue
		}
		here := where.meet(regionOf(k.t.Publications[q].Effectivity))
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
