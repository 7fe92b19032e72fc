package catalog

import (
	"fmt"
	"slices"
)

func reachChecks() family {
	return family{"reach", checkReach, []CheckKind{
		{"unreachable", Warning, "no lookup can reach a record: wrong class, group or unit, no code, or limits outside those of its publication or of what was built"},
		{"lost", Warning, "a job is described only in a place that is superseded or replaced, so that a lookup finds nothing"},
		{"superseded", Note, "a publication or procedure is superseded everywhere and answers no lookup any more"},
		{"two-places", Warning, "one job on the same vehicles is described in two places, and a lookup finds both"},
		{"unused", Note, "nothing leads to a record: an operation that no service includes, a chapter of tests, a publication without records"},
	}}
}

// reachIndex holds, for each publication and procedure, where a lookup reaches
// it.
type reachIndex struct {
	pubs  []pubReach
	procs []procReach
}

// pubReach is where a publication stands: for each of its codes the part of the
// built range in which it applies and is not superseded. Codes that share a
// built range share the regions.
type pubReach struct {
	codes     codeSet
	eff       region
	overruled bool              // some publication supersedes it
	free      map[string]region // by key of the built range (and the code, if overruled)
}

// procReach is what is known of a procedure.
type procReach struct {
	why      string  // why no lookup can reach it, "" if one can
	codes    codeSet // that its pattern and its publication's match
	own      region  // its limits and its publication's
	replaced []int   // procedures that replace it
	alive    codeSet // codes for which a lookup reaches it
}

func checkReach(k *checker) {
	k.indexReach()
	k.unreachableProcedures()
	k.lostJobs()
	k.twoPlaces()
	k.unreachableRows()
	k.unusedRecords()
}

func (k *checker) indexReach() {
	t := k.t
	x := &reachIndex{pubs: make([]pubReach, len(t.Publications)), procs: make([]procReach, len(t.Procedures))}
	k.reached = x
	for i := range t.Publications {
		x.pubs[i] = pubReach{codes: k.pubCodes(i), eff: regionOf(t.Publications[i].Effectivity), overruled: len(k.superseders(i)) > 0, free: map[string]region{}}
	}
	ids := k.procIDs()
	for i := range t.Procedures {
		for _, id := range t.Procedures[i].Replaces {
			if j, ok := ids[id]; ok && j != i {
				x.procs[j].replaced = append(x.procs[j].replaced, i)
			}
		}
	}
	for i := range t.Procedures {
		k.reachProcedure(i)
	}
}

// pubFree is where a publication applies to a code and is not superseded.
func (k *checker) pubFree(p, code int) region {
	x, u := &k.reached.pubs[p], k.pubUnit(p)
	b := &u.built[code]
	if !x.overruled {
		if len(x.eff) == 1 && x.eff[0] == anyBox {
			return b.where
		}
		return k.meet(x.eff, b.where)
	}
	key := u.codes[code]
	if r, ok := x.free[key]; ok {
		return r
	}
	one := newCodeSet(len(u.codes))
	one.set(code)
	r := k.meet(x.eff, b.where).minus(k.superseded(p, one))
	x.free[key] = r
	return r
}

// procFree is where a procedure answers for a code: it applies there, its
// publication does, and nothing takes the place of either.
func (k *checker) procFree(i, code int) region {
	p := k.c.pub[k.t.Procedures[i].Publication]
	r := k.pubFree(p, code)
	if e := k.t.Procedures[i].Effectivity; len(e) > 0 {
		r = k.meet(r, regionOf(e))
	}
	for _, j := range k.reached.procs[i].replaced {
		if len(r) == 0 || !k.spend(1+len(r)) {
			break
		}
		r = r.minus(k.replacedBy(j, k.pubUnit(p), code))
	}
	return r
}

// replacedBy is where procedure j applies to a code of a unit, so that it takes
// the place of one that it replaces.
func (k *checker) replacedBy(j int, u *unitCodes, code int) region {
	q, ok := k.c.pub[k.t.Procedures[j].Publication]
	if !ok {
		return nil
	}
	one := newCodeSet(len(u.codes))
	one.set(code)
	return k.appliesTo(k.pubUnit(q), k.procCodes(j), k.t.Publications[q].AppliesTo == "" && k.t.Procedures[j].AppliesTo == "", k.procOwn(j), u, one)
}

// procOwn is the region of a procedure's limits and its publication's.
func (k *checker) procOwn(i int) region {
	r := regionOf(k.t.Procedures[i].Effectivity)
	if p, ok := k.c.pub[k.t.Procedures[i].Publication]; ok {
		r = k.meet(r, k.reached.pubs[p].eff)
	}
	return r
}

// meet is region.meet within the budget; beyond it, r itself, which is never
// too small.
func (k *checker) meet(r, s region) region {
	if !k.spend(len(r) * len(s)) {
		return r
	}
	return r.meet(s)
}

// reachProcedure finds for which codes a procedure can be reached, and why for
// none.
func (k *checker) reachProcedure(i int) {
	x := &k.reached.procs[i]
	r := &k.t.Procedures[i]
	p, ok := k.c.pub[r.Publication]
	comp, known := k.comps[r.Component]
	action, does := k.meta.Actions[r.Action]
	if !ok || !known || !does {
		return // dangling says so
	}
	pub := &k.t.Publications[p]
	g := k.compGrp[comp]
	x.codes = k.procCodes(i)
	x.own = k.procOwn(i)
	u := k.pubUnit(p)
	switch {
	case g < 0: // no-group or dangling says so
		x.codes = nil
		return
	case !slices.Contains(action.Classes, pub.Class):
		x.why = fmt.Sprintf("its publication %s is of class %s, but catalog.yaml says that %s is looked up in %s", pub.ID, pub.Class, r.Action, orNone(joinClasses(action.Classes)))
	case k.t.Groups[g].KeyedBy != pub.KeyedBy:
		x.why = fmt.Sprintf("group %s of its component is keyed by %s, its publication %s by %s", k.t.Groups[g].Code, k.t.Groups[g].KeyedBy, pub.ID, pub.KeyedBy)
	case !k.covers(p, g):
		x.why = fmt.Sprintf("its publication %s does not cover group %s of its component", pub.ID, k.t.Groups[g].Code)
	case len(u.codes) == 0 || k.reached.pubs[p].codes.empty() || r.AppliesTo != "" && k.matched(u, r.AppliesTo).empty():
		x.codes = nil // no-codes or no-code says so
		return
	case x.codes.empty():
		x.why = fmt.Sprintf("its pattern and that of its publication %s match no code in common", pub.ID)
	case len(x.own) == 0:
		x.why = fmt.Sprintf("its limits lie outside those of its publication %s", pub.ID)
	}
	if x.why != "" {
		return
	}
	x.alive = newCodeSet(len(u.codes))
	if len(r.Effectivity) == 0 && len(x.replaced) == 0 && !k.reached.pubs[p].overruled {
		x.alive.add(k.pubAlive(p).and(x.codes))
	} else {
		x.codes.each(func(code int) {
			if k.spend(1) && len(k.procFree(i, code)) > 0 {
				x.alive.set(code)
			}
		})
	}
	if x.alive.empty() && !k.appliesSomewhere(x, u) {
		x.why = "its limits lie outside the build dates and serials of every code that it applies to"
	}
}

// pubAlive is the set of codes for which a publication that nothing supersedes
// applies somewhere.
func (k *checker) pubAlive(p int) codeSet {
	if k.alivePubs == nil {
		k.alivePubs = make([]codeSet, len(k.t.Publications))
	}
	if s := k.alivePubs[p]; s != nil {
		return s
	}
	u := k.pubUnit(p)
	s := newCodeSet(len(u.codes))
	k.reached.pubs[p].codes.each(func(code int) {
		if len(k.pubFree(p, code)) > 0 {
			s.set(code)
		}
	})
	k.alivePubs[p] = s
	return s
}

// appliesSomewhere tells whether a procedure's limits meet the built range of
// some code, whatever takes its place there.
func (k *checker) appliesSomewhere(x *procReach, u *unitCodes) bool {
	found := false
	x.codes.each(func(code int) {
		found = found || x.own.meets(u.built[code].where)
	})
	return found
}

func joinClasses(classes []Class) string {
	var w []string
	for _, c := range classes {
		w = append(w, string(c))
	}
	return some(w)
}

func (k *checker) unreachableProcedures() {
	for i := range k.t.Procedures {
		if x := &k.reached.procs[i]; x.why != "" {
			r := &k.t.Procedures[i]
			k.add("unreachable", "procedures", r.Origin, "procedure", fmt.Sprintf("no lookup reaches procedure %s: %s", r.ID, x.why),
				"correct the one or the other, or delete the procedure", x.codes.count())
		}
	}
}

// lostJobs finds jobs that only a superseded or replaced procedure describes,
// and what is superseded everywhere.
func (k *checker) lostJobs() {
	t, x := k.t, k.reached
	byTask := map[string][]int{}
	for i := range t.Procedures {
		if x.procs[i].why == "" && x.procs[i].codes != nil {
			task := procTask(&t.Procedures[i])
			byTask[task] = append(byTask[task], i)
		}
	}
	dead := make([][]int, len(t.Publications)) // procedures of a publication that answer no more
	reported := map[string]codeSet{}
	for i := range t.Procedures {
		r, s := &t.Procedures[i], &x.procs[i]
		if s.why != "" || s.codes == nil {
			continue
		}
		p := k.c.pub[r.Publication]
		if s.alive.empty() {
			dead[p] = append(dead[p], i)
		}
		if !x.pubs[p].overruled && len(s.replaced) == 0 {
			continue
		}
		task := procTask(r)
		u := k.pubUnit(p)
		at := t.Publications[p].KeyedBy + "\x00" + task
		lost := newCodeSet(len(u.codes))
		s.codes.each(func(code int) {
			if reported[at] != nil && reported[at].has(code) || !k.spend(len(byTask[task])) {
				return
			}
			left := s.own.meet(u.built[code].where)
			for _, j := range byTask[task] {
				if len(left) == 0 {
					break
				}
				q := k.c.pub[t.Procedures[j].Publication]
				if k.pubUnit(q) == u && x.procs[j].alive.has(code) {
					left = left.minus(k.procFree(j, code))
				}
			}
			if len(left) > 0 {
				lost.set(code)
			}
		})
		if lost.empty() || k.spent {
			continue
		}
		if reported[at] == nil {
			reported[at] = newCodeSet(len(u.codes))
		}
		reported[at].add(lost)
		var names []string
		lost.each(func(c int) { names = append(names, u.codes[c]) })
		k.add("lost", "procedures", r.Origin, "procedure",
			fmt.Sprintf("%s of %q for %s %s stands only in %s, and there it is superseded or replaced", r.Action, r.Component, u.name, some(names), r.Publication),
			"add the procedure to the publication that supersedes, or let that one supersede only what it describes", lost.count())
	}
	for i := range t.Publications {
		p := &t.Publications[i]
		if n := len(k.byPub[i].procs); x.pubs[i].overruled && n > 0 && len(dead[i]) == n {
			k.add("superseded", "publications", p.Origin, "publication",
				fmt.Sprintf("publication %s is superseded everywhere: its %s", p.ID, plural(n, "procedure answers no lookup", fmt.Sprintf("%d procedures answer no lookup", n))),
				"delete it with its procedures, unless it is kept for the record", 0)
			continue
		}
		for _, j := range dead[i] {
			k.add("superseded", "procedures", t.Procedures[j].Origin, "procedure",
				fmt.Sprintf("procedure %s is superseded or replaced everywhere and answers no lookup", t.Procedures[j].ID),
				"delete it, unless it is kept for the record", 0)
		}
	}
}

// twoPlaces finds jobs that are described twice for the same vehicles. Editions
// of one series are left to the check of editions.
func (k *checker) twoPlaces() {
	t, x := k.t, k.reached
	byTask := map[string][]int{}
	for i := range t.Procedures {
		s := &x.procs[i]
		if s.why != "" || s.alive == nil || s.alive.empty() {
			continue
		}
		task := procTask(&t.Procedures[i])
		p := k.c.pub[t.Procedures[i].Publication]
		for _, j := range byTask[task] {
			q := k.c.pub[t.Procedures[j].Publication]
			if !k.spend(1) {
				return
			}
			if p != q && t.Publications[p].Series == t.Publications[q].Series || t.Publications[p].KeyedBy != t.Publications[q].KeyedBy {
				continue
			}
			o := &x.procs[j]
			if !s.alive.meets(o.alive) || !s.own.meets(o.own) {
				continue
			}
			common := s.alive.and(o.alive)
			both := newCodeSet(len(k.pubUnit(p).codes))
			common.each(func(code int) {
				if k.spend(1) && k.procFree(i, code).meets(k.procFree(j, code)) {
					both.set(code)
				}
			})
			if both.empty() || k.spent {
				continue
			}
			a, b := &t.Procedures[j], &t.Procedures[i]
			k.add("two-places", "procedures", b.Origin, "procedure",
				fmt.Sprintf("%s of %q is described in %s (%s) and in %s (%s) for the same vehicles", b.Action, b.Component, a.ID, a.Publication, b.ID, b.Publication),
				"limit one of the two, name the other in its replaces, or let one publication supersede the other", both.count())
			break
		}
		byTask[task] = append(byTask[task], i)
	}
}
