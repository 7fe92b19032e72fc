package catalog

import (
	"fmt"
	"slices"
)

func cycleChecks() family {
	return family{"cycles", checkCycles, []CheckKind{
		{"circular", Error, "groups, components, publications or procedures form a circle of parent, part_of, supersedes or replaces"},
	}}
}

// cycles finds the circles of a graph with nodes 0 to n-1: its strongly
// connected components of more than one node, and nodes that point to
// themselves. Each is in ascending order. Tarjan (1972), without recursion, so
// that a chain of a hundred thousand rows needs no deep stack.
func cycles(n int, next func(i int) []int) [][]int {
	const unseen = -1
	order, low := make([]int, n), make([]int, n)
	onStack := make([]bool, n)
	for i := range order {
		order[i] = unseen
	}
	type frame struct {
		node int
		out  []int
	}
	var found [][]int
	var stack []int
	count := 0
	for root := range n {
		if order[root] != unseen {
			continue
		}
		open := func(i int) frame {
			order[i], low[i] = count, count
			count++
			stack = append(stack, i)
			onStack[i] = true
			return frame{i, next(i)}
		}
		work := []frame{open(root)}
		for len(work) > 0 {
			f := &work[len(work)-1]
			if len(f.out) > 0 {
				j := f.out[0]
				f.out = f.out[1:]
				if order[j] == unseen {
					work = append(work, open(j))
				} else if onStack[j] {
					low[f.node] = min(low[f.node], order[j])
				}
				continue
			}
			i := f.node
			work = work[:len(work)-1]
			if len(work) > 0 {
				up := work[len(work)-1].node
				low[up] = min(low[up], low[i])
			}
			if low[i] != order[i] {
				continue
			}
			at := len(stack) - 1
			for stack[at] != i {
				at--
			}
			part := slices.Clone(stack[at:])
			for _, j := range part {
				onStack[j] = false
			}
			stack = stack[:at]
			if len(part) > 1 || slices.Contains(next(i), i) {
				slices.Sort(part)
				found = append(found, part)
			}
		}
	}
	return found
}

func checkCycles(k *checker) {
	t := k.t
	report := func(table, column string, circle []int, name func(int) string, origin func(int) Origin, lookups int) {
		names := make([]string, len(circle))
		for i, j := range circle {
			names[i] = name(j)
		}
		what := fmt.Sprintf("%s of %s comes back to itself", column, names[0])
		if len(names) > 1 {
			what = fmt.Sprintf("%s of %s form a circle", column, some(names))
		}
		k.add("circular", table, origin(circle[0]), column, what, "decide which comes first, and empty its "+column, lookups)
	}
	one := func(m map[string]int, key string) []int {
		if i, ok := m[key]; ok && key != "" {
			return []int{i}
		}
		return nil
	}
	for _, c := range cycles(len(t.Groups), func(i int) []int { return one(k.c.grp, t.Groups[i].Parent) }) {
		report("groups", "parent", c, func(i int) string { return t.Groups[i].Code }, func(i int) Origin { return t.Groups[i].Origin },
			k.groupLookups(c...))
	}
	for _, c := range cycles(len(t.Components), func(i int) []int { return one(k.comps, t.Components[i].PartOf) }) {
		var terms []string
		for _, i := range c {
			terms = append(terms, t.Components[i].Term)
		}
		report("components", "part_of", c, func(i int) string { return t.Components[i].Term }, func(i int) Origin { return t.Components[i].Origin },
			k.componentLookups(terms...))
	}
	many := func(m map[string]int, keys []string) []int {
		var out []int
		for _, key := range keys {
			out = append(out, one(m, key)...)
		}
		return out
	}
	for _, c := range cycles(len(t.Publications), func(i int) []int { return many(k.c.pub, t.Publications[i].Supersedes) }) {
		n := 0
		for _, p := range c {
			n += k.pubLookups(p)
		}
		report("publications", "supersedes", c, func(i int) string { return t.Publications[i].ID }, func(i int) Origin { return t.Publications[i].Origin }, n)
	}
	procs := k.procIDs()
	for _, c := range cycles(len(t.Procedures), func(i int) []int { return many(procs, t.Procedures[i].Replaces) }) {
		n := 0
		for _, i := range c {
			n += k.procLookups(i)
		}
		report("procedures", "replaces", c, func(i int) string { return t.Procedures[i].ID }, func(i int) Origin { return t.Procedures[i].Origin }, n)
	}
}

// procIDs maps procedure IDs to rows.
func (k *checker) procIDs() map[string]int {
	m := make(map[string]int, len(k.t.Procedures))
	for i := range k.t.Procedures {
		if _, dup := m[k.t.Procedures[i].ID]; !dup {
			m[k.t.Procedures[i].ID] = i
		}
	}
	return m
}
