package resolver_test

import (
	"slices"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// try is a way to take the words of a job.
type try struct {
	how        match
	actionWord bool
	action     string
	component  int
}

func (n *naive) tries(text string) []try {
	words := n.words(text)
	var all []try
	leftover := func(from, to int) []string { return slices.Concat(words[:from], words[to:]) }
	add := func(from, to int, actions []string) {
		m, components := n.bestOf(leftover(from, to), len(n.t.Components), func(i int) []string {
			return termsOf(n.t.Components[i].Term, n.t.Components[i].Synonyms)
		})
		for _, c := range components {
			for _, action := range actions {
				all = append(all, try{m, true, action, c})
			}
		}
	}
	run := false
	for from := range words {
		for to := from + 1; to <= min(from+4, len(words)); to++ {
			if actions := n.actions(words[from:to], exactly); len(actions) > 0 {
				run = true
				add(from, to, actions)
			}
		}
	}
	if !run {
		for from := range words {
			add(from, from+1, n.actions(words[from:from+1], misspelt))
		}
	}
	doneTo := map[string]bool{}
	for i := range n.t.Procedures {
		doneTo[n.t.Procedures[i].Component] = true
	}
	var done []int // components that something is done to
	for i := range n.t.Components {
		if doneTo[n.t.Components[i].Term] {
			done = append(done, i)
		}
	}
	m, components := n.bestOf(words, len(done), func(i int) []string {
		return termsOf(n.t.Components[done[i]].Term, n.t.Components[done[i]].Synonyms)
	})
	for _, c := range components {
		for _, p := range n.t.Procedures {
			if p.Component == n.t.Components[done[c]].Term {
				all = append(all, try{m, false, p.Action, done[c]})
			}
		}
	}
	best := func(a, b try) bool {
		return a.how.better(b.how) || a.how == b.how && a.actionWord && !b.actionWord
	}
	var stay []try
	for _, t := range all {
		if !slices.Contains(stay, t) && !slices.ContainsFunc(all, func(o try) bool { return best(o, t) }) {
			stay = append(stay, t)
		}
	}
	return stay
}

// actions gives the actions that words match in one way, with the fewest edits.
func (n *naive) actions(words []string, how int) []string {
	var best match
	var found []string
	for action, a := range n.meta.Actions {
		var m match
		for _, term := range append([]string{action}, a.Synonyms...) {
			if k := compare(words, n.words(plainTerm(term))); k.kind == how && k.better(m) {
				m = k
			}
		}
		switch {
		case m.kind == 0:
		case m.better(best):
			best, found = m, []string{action}
		case m == best:
			found = append(found, action)
		}
	}
	return found
}

// groupOf gives the code of a component's group, "" for none.
func (n *naive) groupOf(component int) string {
	c := &n.t.Components[component]
	for range len(n.t.Components) + 1 {
		if c.Group != "" {
			return c.Group
		}
		i := slices.IndexFunc(n.t.Components, func(o catalog.Component) bool { return o.Term == c.PartOf })
		if i < 0 {
			return ""
		}
		c = &n.t.Components[i]
	}
	return ""
}

func (n *naive) job(b naiveBranch, tries []try) (finds []find, failed resolver.Step, settled bool) {
	if len(tries) == 0 {
		return nil, 0, false
	}
	failed = resolver.GroupStep
	for _, t := range tries {
		code := n.groupOf(t.component)
		g := slices.IndexFunc(n.t.Groups, func(g catalog.Group) bool { return g.Code == code })
		if g < 0 {
			continue
		}
		failed = max(failed, resolver.PublicationStep)
		keyed := n.t.Groups[g].KeyedBy
		for i := range n.t.Publications {
			p := &n.t.Publications[i]
			if !slices.Contains(n.meta.Actions[t.action].Classes, p.Class) || p.KeyedBy != keyed || !n.covers(p, code) {
				continue
			}
			if unit := b.units[keyed]; unit.code != "" && !p.AppliesTo.Match(unit.code) {
				continue
			}
			failed = max(failed, resolver.EditionStep)
			edition := n.publicationFit(b, i)
			if edition == catalog.Outside || n.superseded(b, i) {
				continue
			}
			failed = max(failed, resolver.LocationStep)
			for j := range n.t.Procedures {
				pr := &n.t.Procedures[j]
				if pr.Publication != p.ID || pr.Action != t.action || pr.Component != n.t.Components[t.component].Term {
					continue
				}
				if fit := n.procedureFit(b, j); fit != catalog.Outside && !n.replaced(b, j) {
					finds = append(finds, find{naiveRecord{resolver.ProcedureTable, j, i, ""}, "job", min(edition, fit), -1})
				}
			}
		}
	}
	return finds, failed, true
}
