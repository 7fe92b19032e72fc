package psychometrics

import (
	"cmp"
	"encoding/binary"
	"maps"
	"math"
	"slices"
)

// answerPattern is the people who answered one set of items, counted by the
// number right. Under the Rasch model that number is sufficient for ability, so
// people who share both are interchangeable and are computed once.
type answerPattern struct {
	items  []int32
	right  []int     // numbers right that occur, rising
	people []float64 // how many people, for each of right
}

// patternsOf gathers people by the set of items answered, counting only the
// items for which use is true, numbered as in position. Nobody who answered
// none of them is gathered. Patterns are in the order of first appearance, so
// that results do not depend on the order of a map. Time is linear in the
// number of cells.
func patternsOf(r Responses, use []bool, position []int32) []answerPattern {
	var (
		out    []answerPattern
		counts []map[int]float64
		index  = map[string]int{}
		mask   = make([]byte, (r.items+7)/8)
	)
	for v := range r.people {
		clear(mask)
		right, answered := 0, 0
		for i, x := range r.Row(v) {
			if x >= 0 && use[i] {
				mask[i>>3] |= 1 << (i & 7)
				right += int(x)
				answered++
			}
		}
		if answered == 0 {
			continue
		}
		p, seen := index[string(mask)]
		if !seen {
			p = len(out)
			index[string(mask)] = p
			items := make([]int32, 0, answered)
			for i, x := range r.Row(v) {
				if x >= 0 && use[i] {
					items = append(items, position[i])
				}
			}
			out = append(out, answerPattern{items: items})
			counts = append(counts, map[int]float64{})
		}
		counts[p][right]++
	}
	for p := range out {
		out[p].count(counts[p])
	}
	return out
}

// count sets the numbers right and how many people have each.
func (p *answerPattern) count(people map[int]float64) {
	p.right = slices.Sorted(maps.Keys(people))
	p.people = make([]float64, len(p.right))
	for k, r := range p.right {
		p.people[k] = people[r]
	}
}

// informative leaves out none and all right, which say nothing about the
// differences between items, and patterns in which nobody is left.
func informative(patterns []answerPattern) []answerPattern {
	var out []answerPattern
	for _, p := range patterns {
		if len(p.right) > 0 && p.right[0] == 0 {
			p.right, p.people = p.right[1:], p.people[1:]
		}
		if n := len(p.right); n > 0 && p.right[n-1] == len(p.items) {
			p.right, p.people = p.right[:n-1], p.people[:n-1]
		}
		if len(p.right) > 0 {
			out = append(out, p)
		}
	}
	return out
}

// scoreKey identifies the answered items with finite difficulty and the number
// right, for caching what depends on nothing else.
func scoreKey(buf []byte, answers []int8, difficulty []float64) []byte {
	buf = buf[:0]
	right := 0
	var word uint64
	for i, x := range answers {
		if x >= 0 && finite(difficulty[i]) {
			word |= 1 << (i & 63)
			right += int(x)
		}
		if i&63 == 63 {
			buf = binary.LittleEndian.AppendUint64(buf, word)
			word = 0
		}
	}
	buf = binary.LittleEndian.AppendUint64(buf, word)
	return binary.LittleEndian.AppendUint64(buf, uint64(right))
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// ranking orders items by difficulty, ties by number: order[rank] is the item,
// rank[item] its place.
func ranking(difficulty []float64, order, rank []int32) ([]int32, []int32) {
	if len(order) != len(difficulty) {
		order, rank = make([]int32, len(difficulty)), make([]int32, len(difficulty))
		for i := range order {
			order[i] = int32(i)
		}
	}
	slices.SortFunc(order, func(a, b int32) int {
		if c := cmp.Compare(difficulty[a], difficulty[b]); c != 0 {
			return c
		}
		return cmp.Compare(a, b)
	})
	for n, i := range order {
		rank[i] = int32(n)
	}
	return order, rank
}

// sortByRank sorts items in place. Lists are nearly in order after the first
// iteration, where insertion is linear; a list far out of order is handed on.
func sortByRank(items, rank []int32) {
	moves := 0
	for n := 1; n < len(items); n++ {
		x := items[n]
		m := n
		for m > 0 && rank[x] < rank[items[m-1]] {
			items[m] = items[m-1]
			m--
		}
		items[m] = x
		if moves += n - m; moves > 8*len(items) {
			slices.SortFunc(items, func(a, b int32) int { return cmp.Compare(rank[a], rank[b]) })
			return
		}
	}
}
