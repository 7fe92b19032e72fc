package psychometrics

import (
	"encoding/binary"
	"math"
	"slices"
)

// scoreGroup is a set of people who answered the same items with the same
// number right. Under the Rasch model that number is sufficient for ability,
// so such people are interchangeable and are computed once.
type scoreGroup struct {
	items  []int32 // shared by all groups of one pattern
	right  int
	people float64
}

// groupScores gathers people by (set of items answered, number right),
// counting only the items for which use is true. Nobody who answered none of
// them is gathered. Order is that of first appearance, so results do not
// depend on map order. Time is linear in the number of cells.
func groupScores(r Responses, use []bool) []scoreGroup {
	type key struct {
		pattern int
		right   int
	}
	var (
		groups   []scoreGroup
		index    = map[key]int{}
		patterns = map[string]int{}
		lists    [][]int32
		mask     = make([]byte, (r.items+7)/8)
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
		p, seen := patterns[string(mask)]
		if !seen {
			p = len(lists)
			patterns[string(mask)] = p
			list := make([]int32, 0, answered)
			for i, x := range r.Row(v) {
				if x >= 0 && use[i] {
					list = append(list, int32(i))
				}
			}
			lists = append(lists, list)
		}
		k := key{p, right}
		g, seen := index[k]
		if !seen {
			g = len(groups)
			index[k] = g
			groups = append(groups, scoreGroup{items: lists[p], right: right})
		}
		groups[g].people++
	}
	return groups
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

// sortByDifficulty orders items by difficulty, ties by index. The lists are
// nearly in order after the first iteration, where insertion is linear.
func sortByDifficulty(items []int32, difficulty []float64) {
	less := func(a, b int32) bool {
		if difficulty[a] != difficulty[b] {
			return difficulty[a] < difficulty[b]
		}
		return a < b
	}
	moves := 0
	for n := 1; n < len(items); n++ {
		x := items[n]
		m := n
		for m > 0 && less(x, items[m-1]) {
			items[m] = items[m-1]
			m--
			moves++
		}
		items[m] = x
		if moves > 8*len(items) {
			slices.SortFunc(items, func(a, b int32) int {
				if less(a, b) {
					return -1
				}
				return 1
			})
			return
		}
	}
}
