package resolver

import (
	"slices"

	"rightpage/banks/catalog"
)

func (r *Resolver) className(c int8) string { return string(catalog.Classes()[c]) }

// job resolves a repair or maintenance job, or a service asked for by name.
func (x *run) job() {
	j := x.classified()
	if len(j.services) > 0 {
		x.namedService(j.services)
		return
	}
	if len(j.pairs) == 0 {
		x.reach(ComponentStep, -1)
		x.path[ClassifyStep] = -1
		return
	}
	if cl := x.r.classes[j.pairs[0].action]; len(cl) > 0 {
		x.reach(ClassifyStep, int32(cl[0]))
	}
	if !x.vehicle() {
		return
	}
	x.eachBranch(func(b *branch) {
		for _, p := range j.pairs {
			x.repair(b, p)
		}
	})
}

// repair resolves one action on one component on one branch.
func (x *run) repair(b *branch, p pair) {
	r := x.r
	x.next(CardStep)
	if x.brk.Slip == ParentForComponent {
		c, ok := x.relative(p.component)
		if !ok {
			return
		}
		p.component = c
		p.job = -1
		if id, ok := r.jobID[pair{action: p.action, component: c}]; ok {
			p.job = id
		}
	}
	x.reach(ComponentStep, p.component)
	group := r.compGroup[p.component]
	if x.brk.Slip == SiblingGroup && group >= 0 {
		group = x.sibling(group)
	}
	if x.tr != nil {
		x.traceGroup(p.component, group)
	}
	if group < 0 {
		x.reach(GroupStep, -1)
		return
	}
	x.reach(GroupStep, group)

	unit := r.groupUnit[group]
	if x.brk.Slip == ModelForEngine {
		if unit == 0 {
			return
		}
		unit = 0
	}
	x.reach(KeyStep, int32(unit))
	code := x.state(b, unit).code
	if x.tr != nil {
		x.traceKey(b, unit, group)
	}

	classes := r.classes[p.action]
	if x.brk.Slip == WrongClass {
		c, ok := x.otherClass(classes, unit, group, code)
		if !ok {
			return
		}
		classes = []int8{c}
		x.path[ClassifyStep] = int32(c)
	}
	cands := x.w.rows[:0]
	for _, c := range classes {
		cands = append(cands, r.candidates(unit, c, group, code)...)
		if x.brk.Slip == ModelForEngine {
			cands = x.anyOfDivision(cands, unit, c, group, code)
		}
	}
	x.w.rows = cands
	if x.tr != nil {
		x.tracePublications(unit, group, code, classes, cands)
	}
	if len(cands) == 0 {
		x.reach(PublicationStep, -1)
		return
	}
	x.reach(PublicationStep, r.seriesOf[cands[0]])
	eds := x.editions(b, cands)
	if x.tr != nil {
		x.tracePubs(b, cands, "built "+spanText(b.built)+serialText(x.state(b, unit).serial))
	}
	if len(eds) == 0 {
		x.reach(EditionStep, -1)
		return
	}
	x.path[PublicationStep] = r.seriesOf[eds[0].pub]
	x.reach(EditionStep, eds[0].pub)
	hit := false
	for _, e := range eds {
		hit = x.locate(b, p, e) || hit
	}
	if !hit && x.brk.Slip != NoSlip {
		x.stray(p, group, eds)
	}
	if x.tr != nil {
		x.traceLocate(b, p, eds)
	}
	if x.path[LocationStep] < 0 {
		x.reach(LocationStep, -1)
	}
}

// editions keeps those candidates that fit the branch and are not superseded.
func (x *run) editions(b *branch, cands []int32) []edition {
	out := x.w.pubs[:0]
	if x.brk.Slip == SupersededEdition {
		out = x.staleEditions(b, cands, out)
		x.w.pubs = out
		return out
	}
	for _, p := range cands {
		if f := x.pubFit(b, p); f != catalog.Outside {
			out = append(out, edition{p, f})
		}
	}
	x.w.pubs = out
	return out
}

// staleEditions is what somebody finds who does not check for a later edition:
// the superseded ones (variant 0), or the edition before or after the right
// one in its series (variants 1 and 2).
func (x *run) staleEditions(b *branch, cands []int32, out []edition) []edition {
	for _, p := range cands {
		f := x.fit(b, x.r.pubKey[p])
		if f == catalog.Outside {
			continue
		}
		if over := x.superseder(b, p) >= 0; x.brk.Variant == 0 {
			if over {
				out = append(out, edition{p, f})
			}
			continue
		} else if over {
			continue
		}
		all := x.r.series[x.r.seriesOf[p]]
		at := slices.Index(all, p) + [...]int{-1, 1}[(x.brk.Variant-1)%2]
		if at >= 0 && at < len(all) {
			out = append(out, edition{all[at], f})
		}
	}
	return out
}

// locate adds the procedures of an edition that answer the job, and tells
// whether there are any.
func (x *run) locate(b *branch, p pair, e edition) bool {
	r := x.r
	hit := false
	for _, row := range r.procedures(e.pub, p.job) {
		if f := min(e.fit, x.procFit(b, row)); f != catalog.Outside {
			hit = true
			if x.path[LocationStep] < 0 {
				// The path is that of the first procedure found.
				x.path[ClassifyStep] = int32(r.classOf[e.pub])
				x.path[PublicationStep], x.path[EditionStep] = r.seriesOf[e.pub], e.pub
			}
			it := Item{Table: ProcedureTable, Row: row, Publication: e.pub, Service: -1}
			if r.procKey[row].noted {
				x.place(b, it, f, r.procBul[row], r.pubBul[e.pub])
			} else {
				x.place(b, it, f)
			}
		}
	}
	return hit
}

// stray is where somebody ends up who has gone astray and finds no such
// procedure: at what looks nearest in the edition of the series that treats the
// job elsewhere, else in the first edition at hand, or at the book alone.
func (x *run) stray(p pair, group int32, eds []edition) {
	r := x.r
	e := eds[0]
	if at := slices.IndexFunc(eds, func(e edition) bool {
		return slices.ContainsFunc(r.series[r.seriesOf[e.pub]], func(pub int32) bool { return len(r.procedures(pub, p.job)) > 0 })
	}); at >= 0 {
		e = eds[at]
	}
	x.path[PublicationStep], x.path[EditionStep] = r.seriesOf[e.pub], e.pub
	row := x.nearestIn(p, group, e.pub)
	x.path[LocationStep] = row
	it := Item{Table: ProcedureTable, Row: row, Publication: e.pub, Bulletin: -1, Service: -1}
	if row < 0 {
		it.Table = NoTable
	} else {
		x.depth = max(x.depth, int(LocationStep))
	}
	x.add(it, e.fit)
}

// nearestIn finds the procedure of a publication that somebody would take who
// looks for the job in the wrong group or book: the same component, else the
// same action in the group.
func (x *run) nearestIn(p pair, group, pub int32) int32 {
	r := x.r
	best := int32(-1)
	for _, row := range r.procsOfPub[pub] {
		switch w := &r.procWhat[row]; {
		case w.component == p.component:
			return row
		case best < 0 && w.action == p.action && w.group == group:
			best = row
		}
	}
	return best
}

// relative is the component that the slip takes for the right one: a major
// component above it, or a part of it.
func (x *run) relative(c int32) (int32, bool) {
	n := x.brk.Variant
	for up, steps := x.r.compParent[c], 0; up >= 0 && steps < 3; up, steps = x.r.compParent[up], steps+1 {
		if n == 0 {
			return up, true
		}
		n--
	}
	parts := x.r.compParts[c]
	if n < len(parts) {
		return parts[n], true
	}
	return -1, false
}

// sibling is the group that the slip takes: others below the same parent
// first, then others of the division.
func (x *run) sibling(g int32) int32 {
	t, n := x.r.t, x.brk.Variant
	self := &t.Groups[g]
	for pass := range 2 {
		for d := 1; d <= len(t.Groups); d++ {
			i := (int(g) + d) % len(t.Groups)
			o := &t.Groups[i]
			near := o.Parent == self.Parent && o.Parent != ""
			if pass == 1 {
				near = !near && o.Division == self.Division
			}
			if int32(i) == g || !near {
				continue
			}
			if n == 0 {
				return int32(i)
			}
			n--
		}
	}
	return -1
}

// otherClass is the class of literature that the slip takes: another one that
// has a publication for the group, then any that has one for the code.
func (x *run) otherClass(right []int8, unit int8, group, code int32) (int8, bool) {
	n := x.brk.Variant
	for pass := range 2 {
		for c := range int8(x.r.classCount) {
			if slices.Contains(right, c) || !x.r.shelfHas(unit, c, code) {
				continue
			}
			if covers := len(x.r.candidates(unit, c, group, code)) > 0; covers != (pass == 0) {
				continue
			}
			if n == 0 {
				return c, true
			}
			n--
		}
	}
	return 0, false
}

// anyOfDivision adds publications of a class keyed by the unit for any group
// of the same division, for somebody who looks the job up by the wrong unit.
func (x *run) anyOfDivision(cands []int32, unit, class int8, group, code int32) []int32 {
	if len(cands) > 0 || code < 0 {
		return cands
	}
	for g := range x.r.t.Groups {
		if x.r.t.Groups[g].Division != x.r.t.Groups[group].Division {
			continue
		}
		for _, p := range x.r.candidates(unit, class, int32(g), code) {
			if !slices.Contains(cands, p) {
				cands = append(cands, p)
			}
		}
	}
	if n := x.brk.Variant; n < len(cands) {
		return cands[n : n+1]
	}
	return cands[:0]
}

func (x *run) traceGroup(c, group int32) {
	r := x.r
	comp := &r.t.Components[c]
	s := x.tr.step(GroupStep, "a component belongs to its own group, else to that of the major component above it", comp.Term)
	if group < 0 {
		s.Result = "neither it nor a component above it has a group"
		return
	}
	g := &r.t.Groups[group]
	why := "is its own group"
	if comp.Group != g.Code {
		why = "is the group of the major component " + comp.PartOf
	}
	s.consider("group:"+g.Code, g.Title, Chosen, "%s", why)
	s.Result = g.Code + " " + g.Title
}

func (x *run) traceKey(b *branch, unit int8, group int32) {
	r := x.r
	s := x.tr.step(KeyStep, "the group says which unit's code keys its literature", r.t.Groups[group].Code)
	for u := range r.units {
		st := x.state(b, int8(u))
		if int8(u) == unit {
			s.Result = r.units[u].name + " not known: read its plate"
			if st.code >= 0 {
				s.Result = r.units[u].name + " " + r.units[u].codes[st.code]
			}
			s.consider("unit:"+r.units[u].name, s.Result, Chosen, "group %s is keyed by %s", r.t.Groups[group].Code, r.units[u].name)
		} else if st.code >= 0 {
			s.consider("unit:"+r.units[u].name, r.units[u].codes[st.code], RuledOut, "group %s is keyed by %s", r.t.Groups[group].Code, r.units[unit].name)
		}
	}
}

// tracePublications explains which publications are candidates, by their
// series, and why those of the group or class that are not were passed over.
func (x *run) tracePublications(unit int8, group, code int32, classes []int8, cands []int32) {
	r := x.r
	var cl []string
	for _, c := range classes {
		cl = append(cl, r.className(c))
	}
	s := x.tr.step(PublicationStep, "publications of the class, keyed by the unit, that cover the group and whose applies-to names the code", joinOr(cl)+", group "+r.t.Groups[group].Code)
	seen := map[int32]bool{}
	for p := range r.t.Publications {
		n := int32(p)
		pub := &r.t.Publications[p]
		if seen[r.seriesOf[p]] {
			continue
		}
		in, covers := slices.Contains(cands, n), r.coversGroup(n, group)
		right := slices.Contains(classes, r.classOf[p])
		name := "publication:" + pub.Series
		switch {
		case in:
			seen[r.seriesOf[p]] = true
			s.consider(name, pub.Title, Chosen, "%s, covers the group, applies to %s", pub.Class, orAll(pub.AppliesTo))
			s.Result = orText(s.Result, pub.Series+" "+pub.Title)
		case covers && right && r.pubKey[p].unit == unit:
			s.consider("publication:"+pub.ID, pub.Title, RuledOut, "applies to %s %s", pub.KeyedBy, pub.AppliesTo)
		case covers && r.pubKey[p].unit == unit && code >= 0 && r.matches(r.pubKey[p].pat, code):
			s.consider("publication:"+pub.ID, pub.Title, RuledOut, "is %s literature", pub.Class)
		case covers && right && r.pubKey[p].unit != unit:
			s.consider("publication:"+pub.ID, pub.Title, RuledOut, "is keyed by %s", pub.KeyedBy)
		}
	}
	if s.Result == "" {
		s.Result = "no such publication"
	}
}

func orAll(p catalog.Pattern) string {
	if p == "" {
		return "all"
	}
	return string(p)
}

func (x *run) traceLocate(b *branch, p pair, eds []edition) {
	r := x.r
	job := r.actions[p.action] + " " + r.t.Components[p.component].Term
	s := x.tr.step(LocationStep, "the procedure for the job in the edition that fits and that none replaces", job)
	for _, e := range eds {
		for _, row := range r.procedures(e.pub, p.job) {
			pr := &r.t.Procedures[row]
			name := "procedure:" + pr.ID
			place := pr.Publication + " " + PlaceText(pr.Location)
			f := x.fit(b, r.procKey[row])
			rep := x.replacer(b, row)
			switch {
			case f == catalog.Outside:
				s.consider(name, pr.Job, RuledOut, "%s", x.why(b, r.procKey[row], pr.AppliesTo))
			case rep >= 0:
				s.consider(name, pr.Job, RuledOut, "replaced by %s", r.t.Procedures[rep].ID)
			case f == catalog.Partly || e.fit == catalog.Partly:
				s.consider(name, pr.Job, Possible, "%s", x.why(b, r.procKey[row], pr.AppliesTo))
				s.Result = orText(s.Result, place)
			default:
				s.consider(name, pr.Job, Chosen, "%s", x.why(b, r.procKey[row], pr.AppliesTo))
				s.Result = orText(s.Result, place)
			}
		}
	}
	if s.Result != "" {
		return
	}
	s.Result = "no procedure in " + r.t.Publications[eds[0].pub].ID + " for this job"
	var near []string
	for _, row := range r.procsOfPub[eds[0].pub] {
		q := &r.t.Procedures[row]
		if q.Component == r.t.Components[p.component].Term && len(near) < 3 {
			near = append(near, q.Job+" ("+PlaceText(q.Location)+")")
		}
	}
	if len(near) > 0 {
		s.Result += "; nearest: " + joinOr(near)
	}
}

// PlaceText writes a location the way a shop says it.
func PlaceText(l catalog.Location) string {
	out := ""
	put := func(word, v string) {
		if v == "" {
			return
		}
		if out != "" {
			out += ", "
		}
		out += word + " " + v
	}
	put("section", l.Section)
	put("sheet", l.Sheet)
	put("frame", l.Frame)
	put("page", l.Page)
	return out
}
