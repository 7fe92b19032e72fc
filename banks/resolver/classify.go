package resolver

import (
	"slices"
	"strings"
)

// pair is an action on a component.
type pair struct{ action, component int32 }

// job is a text after classification.
type job struct {
	services []int32 // services asked for by name
	pairs    []pair
	how      closeness
	edits    int
	term     string // the component's term that matched
	words    []string
}

// classify reads a job: a service by name, or an action on a component. Every
// action word that occurs is tried, and none at all; those whose other words
// match a component best are kept.
func (r *Resolver) classify(text string) *job {
	words := r.wording.words(text)
	j := &job{words: words}
	if hits := r.services.byBag[bag(words)]; len(hits) > 0 {
		for _, m := range r.services.collect(hits, 0) {
			j.services = append(j.services, m.value)
		}
		return j
	}
	found := r.actionsIn(words, false)
	if len(found) == 0 {
		found = r.actionsIn(words, true)
	}
	for _, f := range found {
		rest := slices.Concat(words[:f.from], words[f.to:])
		r.consider(j, rest, []int32{f.action})
	}
	if j.how < exact {
		r.consider(j, words, nil)
	}
	slices.SortFunc(j.pairs, func(a, b pair) int {
		if a.component != b.component {
			return int(a.component) - int(b.component)
		}
		return int(a.action) - int(b.action)
	})
	j.pairs = slices.Compact(j.pairs)
	return j
}

// actionAt is an action word found at words[from:to].
type actionAt struct {
	action   int32
	from, to int
}

// actionsIn finds action words and phrases; with forgiving, single words with
// small misspellings.
func (r *Resolver) actionsIn(words []string, forgiving bool) []actionAt {
	var out []actionAt
	for from := range words {
		if forgiving {
			if m, how := r.actionVoc.find(words[from : from+1]); how == misspelt {
				for _, a := range m {
					out = append(out, actionAt{a.value, from, from + 1})
				}
			}
			continue
		}
		for to := from + 1; to <= min(len(words), from+4); to++ {
			for _, e := range r.actionVoc.byBag[bag(words[from:to])] {
				out = append(out, actionAt{r.actionVoc.entries[e].value, from, to})
			}
		}
	}
	return out
}

// consider matches the remaining words of a job and keeps them if they match
// no worse than what is there.
func (r *Resolver) consider(j *job, rest []string, actions []int32) {
	m, how := r.components.find(rest)
	if how == noMatch || how < j.how || how == j.how && how == misspelt && m[0].edits > j.edits {
		return
	}
	// With an action word is better than without at the same closeness.
	if actions == nil && how == j.how && len(j.pairs) > 0 {
		return
	}
	if how > j.how || how == misspelt && m[0].edits < j.edits {
		j.pairs = j.pairs[:0]
	}
	j.how, j.edits, j.term = how, m[0].edits, m[0].term
	for _, c := range m {
		acts := actions
		if acts == nil {
			acts = r.actionsOf[c.value]
		}
		for _, a := range acts {
			j.pairs = append(j.pairs, pair{a, c.value})
		}
	}
}

func (x *run) classified() *job {
	j, ok := x.r.jobs[x.q.Text]
	if !ok {
		j = x.r.classify(x.q.Text)
	}
	if x.tr != nil {
		x.traceClassify(j)
	}
	return j
}

func (x *run) traceClassify(j *job) {
	r := x.r
	s := x.tr.step(ClassifyStep, "the action word tells the class of literature; a job that the schedule names is that service", x.q.Text)
	if len(j.services) > 0 {
		s.Result = "service " + r.serviceNames(j.services) + " of the schedule"
		return
	}
	seen := map[int32]bool{}
	for _, p := range j.pairs {
		if seen[p.action] {
			continue
		}
		seen[p.action] = true
		var cl []string
		for _, c := range r.classes[p.action] {
			cl = append(cl, r.className(c))
		}
		s.consider("action:"+r.actions[p.action], "", Chosen, "class of literature: %s", joinOr(cl))
		s.Result = orText(s.Result, strings.Join(cl, ", "))
	}
	c := x.tr.step(ComponentStep, "the other words are matched to component terms and synonyms: exactly, else misspelt, else as a part of longer terms", strings.Join(j.words, " "))
	comps := map[int32]bool{}
	for _, p := range j.pairs {
		if comps[p.component] {
			continue
		}
		comps[p.component] = true
		v := Chosen
		if len(comps) > 1 {
			v = Possible
		}
		how := j.how.String()
		if j.how == misspelt {
			how = "read as a misspelling of " + quote(j.term)
		}
		c.consider("component:"+r.t.Components[p.component].Term, "", v, "%s", how)
		c.Result = orText(c.Result, r.t.Components[p.component].Term)
	}
	if len(comps) > 1 {
		for i := range c.Considered {
			c.Considered[i].Verdict = Possible
		}
		c.Result += ": the words fit each of them"
	}
	if len(j.pairs) == 0 {
		s.Result = "no action on a known component"
		c.Result = "no component matches; nearest: " + joinOr(r.components.nearest(j.words, 3))
	}
}

func quote(s string) string { return "“" + s + "”" }
