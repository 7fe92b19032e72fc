package banks

import "strings"

// Near-duplicates are questions that must not stand in one form, because who
// has answered one has answered the other or finds its answer there. Two
// questions are near-duplicates if
//
//   - they are about the same record of the catalog, whatever their kinds: the
//     location question about a job prints the publication that the publication
//     question about the same job asks for; or
//   - they are of one kind, show the same repair order or plate (its number
//     aside) and have the same key: the same question, worded or mixed anew.
//
// What is a near-duplicate of a near-duplicate counts as one, too.

// marks gives what makes a question a near-duplicate of others: those that
// share one are.
func (q *Question) marks(yield func(string)) {
	if q.About.Record != "" {
		yield("record\x00" + q.About.Record)
	}
	var b strings.Builder
	b.WriteString("question\x00" + q.Kind)
	for _, l := range q.Order {
		if l.Label == orderNumberLabel {
			continue
		}
		b.WriteString("\x00" + l.Label + "\x00" + l.Value)
	}
	if len(q.Order) == 0 {
		b.WriteString("\x00" + q.Stem)
	}
	b.WriteString("\x00\x00" + q.KeyText())
	yield(b.String())
}

// orderNumberLabel is the line of a repair order that says nothing about the
// job.
const orderNumberLabel = "Repair order"

// NearDuplicates tells whether two questions must not stand in one form.
func NearDuplicates(a, b *Question) bool {
	marks := map[string]bool{}
	a.marks(func(m string) { marks[m] = true })
	found := false
	b.marks(func(m string) { found = found || marks[m] })
	return found
}

// duplicateClasses numbers the classes of near-duplicates, from zero in the
// order in which they occur, and gives each question its class (union and find
// over the marks).
func duplicateClasses(bank []*Question) []int {
	parent := make([]int, len(bank))
	for i := range parent {
		parent[i] = i
	}
	find := func(i int) int {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	first := map[string]int{}
	for i, q := range bank {
		q.marks(func(m string) {
			j, seen := first[m]
			if !seen {
				first[m] = i
				return
			}
			// The earlier one stays the root, so that classes are numbered in
			// the order of the bank.
			a, b := find(j), find(i)
			parent[max(a, b)] = min(a, b)
		})
	}
	out := make([]int, len(bank))
	number := map[int]int{}
	for i := range bank {
		r := find(i)
		n, ok := number[r]
		if !ok {
			n = len(number)
			number[r] = n
		}
		out[i] = n
	}
	return out
}
