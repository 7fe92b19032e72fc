package banks

import (
	"cmp"
	"math/rand/v2"
	"slices"
)

// search looks for the questions of one variant by tabu search (Glover 1989)
// over swaps of one question for another. A place may be empty (noQuestion).
type search struct {
	p      *pool
	rng    *rand.Rand
	used   []bool  // the question stands in an earlier variant
	ranked [][]int // members of each signature, those to be taken first in front
	fresh  bool    // take no question of an earlier variant
	rank   []int   // place of a question in the order in which all are to be taken

	in    []int // questions in the form, or noQuestion
	held  []int // class → question + 1 that holds it
	count []int // line → questions covered
}

const noQuestion = -1

func newSearch(p *pool, rng *rand.Rand, used []bool) *search {
	s := &search{
		p: p, rng: rng, used: used, held: make([]int, p.classes), count: make([]int, len(p.lines)),
		rank: make([]int, len(p.bank)), ranked: make([][]int, len(p.sigs)),
	}
	order := rng.Perm(len(p.bank))
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(s.reuse(a), s.reuse(b)), cmp.Compare(p.exposure[a], p.exposure[b]))
	})
	for r, q := range order {
		s.rank[q] = r
		s.ranked[p.sig[q]] = append(s.ranked[p.sig[q]], q)
	}
	return s
}

func (s *search) reuse(q int) int {
	if q != noQuestion && s.used[q] {
		return 1
	}
	return 0
}

func (s *search) linesOf(q int) []int {
	if q == noQuestion {
		return nil
	}
	return s.p.sigs[s.p.sig[q]].lines
}

func (s *search) put(q int) {
	s.in = append(s.in, q)
	s.take(q, 1)
}

// take counts a question in or out.
func (s *search) take(q, by int) {
	if q == noQuestion {
		return
	}
	for _, l := range s.linesOf(q) {
		s.count[l] += by
	}
	if by > 0 {
		s.held[s.p.class[q]] = q + 1
	} else {
		s.held[s.p.class[q]] = 0
	}
}

// reset starts from given questions.
func (s *search) reset(in []int) {
	clear(s.held)
	clear(s.count)
	s.in = s.in[:0]
	for _, q := range in {
		s.put(q)
	}
}

// cost is how far the form is from the blueprint; zero is a form that meets it.
func (s *search) cost() int {
	c := 0
	for l := range s.p.lines {
		c += missCost * s.p.lines[l].miss(s.count[l])
	}
	for _, q := range s.in {
		if q == noQuestion {
			c += emptyCost
		}
	}
	return c
}

func (s *search) reuses() int {
	n := 0
	for _, q := range s.in {
		n += s.reuse(q)
	}
	return n
}

// head is the member of a signature to be taken first that can stand in the
// form if the question out leaves it.
func (s *search) head(sig, out int) int {
	for _, q := range s.ranked[sig] {
		h := s.held[s.p.class[q]]
		if s.fresh && s.used[q] {
			break // those of earlier variants come last
		}
		if q != out && (h == 0 || h == out+1) {
			return q
		}
	}
	return noQuestion
}

// fill puts questions into the empty form one by one, each the one that brings
// it nearest to the blueprint, and among equals the one to be taken first.
func (s *search) fill() {
	for len(s.in) < s.p.n {
		best, least := noQuestion, 0
		for sig := range s.p.sigs {
			d := s.swapCost(nil, s.p.sigs[sig].lines)
			if best != noQuestion && d > least {
				continue
			}
			q := s.head(sig, noQuestion)
			if q != noQuestion && (best == noQuestion || d < least || s.rank[q] < s.rank[best]) {
				best, least = q, d
			}
		}
		if best != noQuestion && least > emptyCost {
			best = noQuestion
		}
		s.put(best)
	}
}

// swapCost is what the lines cost more if what covers lines out is swapped for
// what covers lines in.
func (s *search) swapCost(out, in []int) int {
	d, i, j := 0, 0, 0
	for i < len(out) || j < len(in) {
		switch {
		case j == len(in) || i < len(out) && out[i] < in[j]:
			l := out[i]
			d += s.p.lines[l].miss(s.count[l]-1) - s.p.lines[l].miss(s.count[l])
			i++
		case i == len(out) || in[j] < out[i]:
			l := in[j]
			d += s.p.lines[l].miss(s.count[l]+1) - s.p.lines[l].miss(s.count[l])
			j++
		default:
			i++
			j++
		}
	}
	return missCost * d
}

// move is a swap: the question at a place of the form for another.
type move struct {
	place, in          int
	cost, reuse, worse int
}

// better weighs a question of an earlier variant half as much as a missed line,
// so that the search may leave the blueprint for a while to get rid of one.
func (a move) better(b move) bool {
	return cmp.Or(cmp.Compare(a.cost+a.reuse, b.cost+b.reuse), cmp.Compare(a.cost, b.cost), cmp.Compare(a.worse, b.worse)) < 0
}

// improve swaps questions until the form meets the blueprint without questions
// of earlier variants, or rounds swaps have brought nothing.
func (s *search) improve(rounds int) {
	type standing struct{ cost, reuse int }
	now := standing{s.cost(), s.reuses()}
	best, bestIn := now, slices.Clone(s.in)
	// A signature that left must not return, and one that came must not leave,
	// for some swaps.
	tabuIn, tabuOut := make([]int, len(s.p.sigs)+1), make([]int, len(s.p.sigs)+1)
	for round, idle := 1, 0; idle < rounds && best != (standing{}); round++ {
		m, ok := s.bestMove(func(out, in, cost, reuse int) bool {
			if (standing{now.cost + cost, now.reuse + reuse}).cost < best.cost {
				return true
			}
			return tabuIn[in] < round && tabuOut[out] < round
		})
		idle++
		if !ok {
			break
		}
		out := s.in[m.place]
		s.take(out, -1)
		s.in[m.place] = m.in
		s.take(m.in, 1)
		now.cost += m.cost
		now.reuse += m.reuse
		tabuIn[s.sigOf(out)] = round + 4 + s.rng.IntN(6)
		tabuOut[s.sigOf(m.in)] = round + 2 + s.rng.IntN(4)
		if now.cost < best.cost || now.cost == best.cost && now.reuse < best.reuse {
			best, idle = now, 0
			bestIn = append(bestIn[:0], s.in...)
		}
	}
	s.reset(bestIn)
}

// sigOf is the signature of a question; that of an empty place comes after all
// others.
func (s *search) sigOf(q int) int {
	if q == noQuestion {
		return len(s.p.sigs)
	}
	return s.p.sig[q]
}

// bestMove is the best swap of those allowed.
func (s *search) bestMove(allowed func(out, in, cost, reuse int) bool) (move, bool) {
	// Of the questions of one signature the one to be taken last leaves first.
	leave := map[int]int{}
	for place, q := range s.in {
		sig := s.sigOf(q)
		if old, ok := leave[sig]; !ok || q != noQuestion && s.rank[q] > s.rank[s.in[old]] {
			leave[sig] = place
		}
	}
	outs := make([]int, 0, len(leave))
	for sig := range leave {
		outs = append(outs, sig)
	}
	slices.Sort(outs)
	heads := make([]int, len(s.p.sigs)) // 0: not looked up; else question + 2
	var best move
	found := false
	for _, out := range outs {
		place := leave[out]
		leaver := s.in[place]
		saved := 0
		if leaver == noQuestion {
			saved = emptyCost
		}
		for in := 0; in <= len(s.p.sigs); in++ {
			m := move{place: place, in: noQuestion}
			if in == len(s.p.sigs) {
				if leaver == noQuestion {
					continue
				}
				m.cost = s.swapCost(s.linesOf(leaver), nil) + emptyCost
			} else {
				m.cost = s.swapCost(s.linesOf(leaver), s.p.sigs[in].lines) - saved
				if found && m.cost-1 > best.cost+best.reuse {
					continue
				}
				if heads[in] == 0 {
					heads[in] = s.head(in, noQuestion) + 2
				}
				if m.in = heads[in] - 2; m.in == noQuestion && leaver != noQuestion {
					m.in = s.head(in, leaver)
				}
				if m.in == noQuestion {
					continue
				}
				m.worse = s.rank[m.in]
			}
			m.reuse = s.reuse(m.in) - s.reuse(leaver)
			if in == out && m.reuse >= 0 {
				continue // nothing changes
			}
			if (!found || m.better(best)) && allowed(out, in, m.cost, m.reuse) {
				best, found = m, true
			}
		}
	}
	return best, found
}
