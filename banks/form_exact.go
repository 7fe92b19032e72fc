package banks

import (
	"math"
	"slices"
)

// maxNodes bounds the nodes of branch and bound, maxWork what the linear
// programs cost in all: a program of m rows takes some 4 m⁴ operations, since
// the simplex method makes about 2 m steps and each solves m equations anew.
// Both are numbers and not times, so that the same bank and blueprint give the
// same form on any machine.
const (
	maxNodes = 300
	maxWork  = 5e8 // in m⁴: a few seconds
)

// prove improves a solution that does not meet the blueprint until none comes
// nearer, by branch and bound over the numbers taken of each signature. It
// notes whether that is proven.
func (p *pool) prove(s *search, sol *solution) {
	r := p.relax()
	type node struct{ branches []branch }
	open := []node{{}}
	proven := true
	for nodes := 0; len(open) > 0 && sol.cost > 0; nodes++ {
		if nodes == maxNodes {
			proven = false
			break
		}
		n := open[len(open)-1]
		open = open[:len(open)-1]
		x, bound, ok := r.solve(n.branches)
		if !ok {
			proven = false
			continue
		}
		if whole(bound) >= sol.cost {
			continue
		}
		// What the relaxation leans to is a good start for a search.
		s.start(x)
		s.fill()
		s.improve(searchRounds / 4)
		if s.cost() < sol.cost {
			*sol = *s.solution()
		}
		if whole(bound) >= sol.cost {
			continue
		}
		c, ok := mostFractional(x)
		if !ok {
			in, full := s.match(x)
			if full == nil {
				s.reset(in)
				for len(s.in) < p.n {
					s.put(noQuestion)
				}
				if s.cost() < sol.cost {
					*sol = *s.solution()
				}
				continue
			}
			// The numbers ask for more than near-duplicates allow: cut them off
			// and look again.
			r.cuts = append(r.cuts, *full)
			open = append(open, n)
			continue
		}
		down := branch{c, int(math.Floor(x[c])), false}
		up := branch{c, down.k + 1, true}
		if x[c]-math.Floor(x[c]) > 0.5 {
			down, up = up, down
		}
		open = append(open, node{append(slices.Clone(n.branches), up)}, node{append(slices.Clone(n.branches), down)})
	}
	sol.proven = proven
}

// whole rounds a bound up: costs are whole numbers.
func whole(bound float64) int { return int(math.Ceil(bound - 1e-3)) }

func mostFractional(x []float64) (int, bool) {
	best, most := -1, 1e-4
	for c, v := range x {
		if f := math.Abs(v - math.Round(v)); f > most {
			best, most = c, f
		}
	}
	return best, best >= 0
}

// start begins a form with the whole part of the numbers x of each signature,
// as far as near-duplicates allow.
func (s *search) start(x []float64) {
	floor := make([]float64, len(x))
	for c := range x {
		floor[c] = math.Floor(x[c] + 1e-4)
	}
	in, _ := s.match(floor)
	s.reset(in)
}

// match chooses questions so that there are x of each signature and no two
// near-duplicates: a matching of demands and classes by augmenting paths, those
// to be taken first in front. Where that cannot be it gives as many as can, and
// a cut that x breaks: the signatures of a Hall violator and how many questions
// one form can hold of them.
func (s *search) match(x []float64) ([]int, *cut) {
	p := s.p
	holds := make([]int, p.classes) // class → question + 1
	seen := make([]bool, p.classes)
	var augment func(sig int) bool
	augment = func(sig int) bool {
		for _, q := range s.ranked[sig] {
			k := p.class[q]
			if seen[k] {
				continue
			}
			seen[k] = true
			if holds[k] == 0 || augment(p.sig[holds[k]-1]) {
				holds[k] = q + 1
				return true
			}
		}
		return false
	}
	var full *cut
	for sig := range x {
		for range int(math.Round(x[sig])) {
			clear(seen)
			if augment(sig) {
				continue
			}
			if full == nil {
				full = &cut{sigs: []int{sig}}
				for k, was := range seen {
					if was {
						full.most++
						full.sigs = append(full.sigs, p.sig[holds[k]-1])
					}
				}
				slices.Sort(full.sigs)
				full.sigs = slices.Compact(full.sigs)
			}
			break
		}
	}
	var in []int
	for _, h := range holds {
		if h > 0 {
			in = append(in, h-1)
		}
	}
	return in, full
}

// conflict finds lines that can each be met, but not together: an irreducible
// set of them, by leaving out one line after the other as long as the rest
// still contradicts itself (deletion filter, Chinneck and Dravnieks 1991). It
// knows only contradictions that the linear relaxation shows; where they cost
// too much to work out, lines that have no part in it may be among them.
func (p *pool) conflict(sol *solution) []int {
	r := p.relax()
	r.n = min(p.n, p.classes)
	for i := range p.lines {
		l := &p.lines[i]
		r.active[i] = l.available >= l.lo && r.n-l.outside <= l.hi
	}
	broken := func() bool {
		_, bound, ok := r.solve(nil)
		return ok && bound > 1e-3
	}
	if !broken() {
		return nil
	}
	for i := range r.active {
		if r.active[i] {
			r.active[i] = false
			if !broken() {
				r.active[i] = true
			}
		}
	}
	var out []int
	for i, a := range r.active {
		if a {
			out = append(out, i)
		}
	}
	return out
}
