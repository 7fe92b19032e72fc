package resolver

import (
	"slices"
	"strings"
)

// pair is an action on a component; job is its number, -1 where no procedure
// has it.
type pair struct{ action, component, job int32 }

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
	tries := make([]try, 0, len(found)+1)
	for _, f := range found {
		tries = append(tries, try{slices.Concat(words[:f.from], words[f.to:]), []int32{f.action}})
	}
	// The text without any action word comes last, so that at the same
	// closeness a try with one goes before it.
	tries = append(tries, try{words, nil})
	for how := exact; how > noMatch && len(j.pairs) == 0; how-- {
		r.match(j, tries, how)
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

// try is one way to read a job: the words left for the component, and the
// action; nil stands for every action that the component has.
type try struct {
	rest    []string
	actions []int32
}

// match keeps the tries whose words match a component in one way; of those that
// are misspelt the ones with the fewest edits.
func (r *Resolver) match(j *job, tries []try, how closeness) {
	for _, t := range tries {
		m := r.components.findAs(t.rest, how)
		if len(m) == 0 || len(j.pairs) > 0 && (m[0].edits > j.edits || t.actions == nil && m[0].edits == j.edits) {
			continue
		}
		if m[0].edits < j.edits {
			j.pairs = j.pairs[:0]
		}
		j.how, j.edits, j.term = how, m[0].edits, m[0].term
		for _, c := range m {
			acts := t.actions
			if acts == nil {
				acts = r.actionsOf[c.value]
			}
			for _, a := range acts {
				id, ok := r.jobID[pair{action: a, component: c.value}]
				if !ok {
					id = -1
				}
				j.pairs = append(j.pairs, pair{a, c.value, id})
			}
		}
	}
}

func (x *run) classified() *job {
	j, ok := x.r.jobs[x.q.Text]
	if !ok {
		if x.w.job == nil || x.w.jobOf != x.r || x.w.jobText != x.q.Text {
			x.w.job, x.w.jobOf, x.w.jobText = x.r.classify(x.q.Text), x.r, x.q.Text
		}
		j = x.w.job
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
