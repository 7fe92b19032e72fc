package catalog

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
)

func editionChecks() family {
	return family{"editions", checkEditions, []CheckKind{
		{"overlap", Warning, "two editions of a series apply to the same vehicles, and neither supersedes the other"},
		{"gap", Warning, "between two editions of a series there are vehicles to which neither applies"},
		{"uncovered", Warning, "vehicles built before the first edition of a series, or after the last, have no edition"},
		{"mixed-break", Note, "one edition ends by date and another begins by serial, so that nobody can tell whether they meet"},
		{"series-mismatch", Warning, "editions of one series differ in class or in the unit that keys them"},
	}}
}

// series is a run of editions, all keyed by the same unit.
type series struct {
	name    string
	members []int // publications
	regions []region
	unit    *unitCodes
}

func checkEditions(k *checker) {
	bySeries := map[[2]string]*series{}
	first := map[string]int{}
	var order [][2]string
	for i := range k.t.Publications {
		p := &k.t.Publications[i]
		if j, seen := first[p.Series]; !seen {
			first[p.Series] = i
		} else if q := &k.t.Publications[j]; q.Class != p.Class || q.KeyedBy != p.KeyedBy {
			k.add("series-mismatch", "publications", p.Origin, "series",
				fmt.Sprintf("%s is of class %s keyed by %s, while %s of the same series %s is of class %s keyed by %s", p.ID, p.Class, p.KeyedBy, q.ID, p.Series, q.Class, q.KeyedBy),
				"let editions of a series agree, or give this one a series of its own", k.pubLookups(i))
		}
		at := [2]string{p.Series, p.KeyedBy}
		s := bySeries[at]
		if s == nil {
			s = &series{name: p.Series, unit: k.unit(p.KeyedBy)}
			bySeries[at] = s
			order = append(order, at)
		}
		s.members = append(s.members, i)
		s.regions = append(s.regions, regionOf(p.Effectivity))
	}
	for _, at := range order {
		k.checkSeries(bySeries[at])
	}
}

// alike is a set of codes that the same editions cover and that were built in
// the same range, so that they share every finding.
type alike struct {
	codes   codeSet
	built   *built
	members []int // indexes into series.members
}

func (k *checker) checkSeries(s *series) {
	limited := false
	for _, r := range s.regions {
		limited = limited || len(r) != 1 || r[0] != anyBox
	}
	if len(s.members) == 1 && !limited {
		return // one edition for all: there is no break
	}
	classes := map[string]*alike{}
	covered := newCodeSet(len(s.unit.codes))
	sets := make([]codeSet, len(s.members))
	for i, p := range s.members {
		sets[i] = k.pubCodes(p)
		covered.add(sets[i])
	}
	var order []string
	covered.each(func(code int) {
		if !k.spend(len(s.members)) {
			return
		}
		var key strings.Builder
		var members []int
		for i := range s.members {
			if sets[i].has(code) {
				members = append(members, i)
				key.WriteString(strconv.Itoa(i))
				key.WriteByte(',')
			}
		}
		b := &s.unit.built[code]
		fmt.Fprint(&key, b.known, b.stillMade, b.stillCount, b.where)
		a := classes[key.String()]
		if a == nil {
			a = &alike{newCodeSet(len(s.unit.codes)), b, members}
			classes[key.String()] = a
			order = append(order, key.String())
		}
		a.codes.set(code)
	})
	found := newBreaks(k, s)
	for _, key := range order {
		found.compare(classes[key])
	}
	found.report()
}

// breaks gathers what is found in a series, so that one gap in twelve codes is
// one finding.
type breaks struct {
	k     *checker
	s     *series
	codes map[breakAt]codeSet
}

// breakAt is a finding: two editions (members of the series, or -1) and where.
type breakAt struct {
	code string
	a, b int
	box  box
}

func newBreaks(k *checker, s *series) *breaks { return &breaks{k, s, map[breakAt]codeSet{}} }

func (f *breaks) note(at breakAt, codes codeSet) {
	if f.codes[at] == nil {
		f.codes[at] = newCodeSet(len(codes))
	}
	f.codes[at].add(codes)
}

func (f *breaks) compare(a *alike) {
	k, s := f.k, f.s
	mixed := false
	for x, i := range a.members {
		for _, j := range a.members[x+1:] {
			if !k.spend(1 + len(s.regions[i])*len(s.regions[j])) {
				return
			}
			if byDateAndSerial(s.regions[i], s.regions[j]) {
				mixed = true
				f.note(breakAt{"mixed-break", i, j, box{}}, a.codes)
				continue
			}
			p, q := s.members[i], s.members[j]
			both := s.regions[i].meet(s.regions[j])
			if len(both) == 0 || !both.meets(a.built.where) || !k.shareGroup(p, q) {
				continue
			}
			both = both.minus(k.ruledOut(p, q, a.codes)).minus(k.ruledOut(q, p, a.codes))
			for _, whole := range a.built.where {
				for _, b := range both.meet(region{whole}).joined() {
					f.note(breakAt{"overlap", i, j, b.loose(whole)}, a.codes)
				}
			}
		}
	}
	if !mixed {
		f.gaps(a)
	}
}

// byDateAndSerial tells whether one region is limited by date alone and the
// other by serial alone.
func byDateAndSerial(r, s region) bool {
	kind := func(r region) (days, serials bool) {
		for _, b := range r {
			days = days || b.limitsDays()
			serials = serials || b.limitsSerials()
		}
		return days, serials
	}
	rd, rs := kind(r)
	sd, ss := kind(s)
	return rd && !rs && ss && !sd || rs && !rd && sd && !ss
}

// shareGroup tells whether two publications cover a group in common.
func (k *checker) shareGroup(p, q int) bool {
	a, b := k.t.Publications[p].Groups, k.t.Publications[q].Groups
	if len(a) == 0 || len(b) == 0 {
		return true
	}
	for _, code := range a {
		if g, ok := k.c.grp[code]; ok && k.covers(q, g) {
			return true
		}
	}
	for _, code := range b {
		if g, ok := k.c.grp[code]; ok && k.covers(p, g) {
			return true
		}
	}
	return false
}

// gaps finds what of the built range no edition covers.
func (f *breaks) gaps(a *alike) {
	k, s := f.k, f.s
	for _, whole := range a.built.where {
		left := region{whole}
		for _, i := range a.members {
			if !k.spend(len(left) * len(s.regions[i])) {
				return
			}
			left = left.minus(s.regions[i])
		}
		if len(left) == 0 {
			continue
		}
		never := f.impossible(a)
		left = left.minus(never)
		if len(left) > 0 {
			left = left.minus(f.coveredElsewhere(a))
		}
		for _, b := range left.joined().widened(whole, never) {
			if f.unlimited(a, whole, b) {
				continue
			}
			before, after := f.neighbours(a, whole, b)
			code := "uncovered"
			if before >= 0 && after >= 0 {
				code = "gap"
			}
			f.note(breakAt{code, before, after, b.loose(whole)}, a.codes)
		}
	}
}

// impossible gives the combinations of date and serial that no vehicle has
// because a break is given by both. See Check.
func (f *breaks) impossible(a *alike) region {
	var both []box
	for _, i := range a.members {
		for _, b := range f.s.regions[i] {
			if b.limitsDays() && b.limitsSerials() {
				both = append(both, b)
			}
		}
	}
	var out region
	for _, x := range both {
		if !f.k.spend(len(both)) {
			return out
		}
		for _, y := range both {
			if x.d0 >= y.d0 || x.s0 >= y.s0 || x.d1 >= y.d1 || x.s1 >= y.s1 {
				continue
			}
			// Dates before y begins with serials after x ends, and the reverse.
			out = append(out, box{x.d0, min(x.d1, y.d0-1), max(y.s0, x.s1+1), y.s1}, box{max(y.d0, x.d1+1), y.d1, x.s0, min(x.s1, y.s0-1)})
		}
	}
	return out
}

// coveredElsewhere is what publications of other series cover that have the
// class and unit of this one and all its groups, for every one of the codes.
func (f *breaks) coveredElsewhere(a *alike) region {
	k := f.k
	var out region
	mine := &k.t.Publications[f.s.members[a.members[0]]]
	if !k.spend(len(k.t.Publications)) {
		return nil
	}
others:
	for i := range k.t.Publications {
		p := &k.t.Publications[i]
		if p.Series == mine.Series || p.Class != mine.Class || p.KeyedBy != mine.KeyedBy {
			continue
		}
		if !a.codes.minus(k.pubCodes(i)).empty() {
			continue
		}
		for _, m := range a.members {
			groups := k.t.Publications[f.s.members[m]].Groups
			if len(groups) == 0 && len(p.Groups) > 0 {
				continue others
			}
			for _, code := range groups {
				if g, ok := k.c.grp[code]; !ok || !k.covers(i, g) {
					continue others
				}
			}
		}
		out = append(out, regionOf(p.Effectivity)...)
	}
	return out
}

// unlimited tells whether a box runs to an end that nobody has given: before
// the first build date or serial that the editions name, where the data cards
// do not say when building began, or after the last, where they do not say that
// it goes on.
func (f *breaks) unlimited(a *alike, whole, b box) bool {
	days := b.d0 == whole.d0 && b.d1 == whole.d1
	serials := b.s0 == whole.s0 && b.s1 == whole.s1
	return !days && (b.d0 == dayLo || b.d1 == dayHi && !a.built.stillMade) ||
		!serials && (b.s0 == serialLo || b.s1 == serialHi && !a.built.stillCount)
}

// neighbours finds the edition that ends last before a box and the one that
// begins first after it, on the axis along which the box is short; -1 where
// there is none.
func (f *breaks) neighbours(a *alike, whole, b box) (before, after int) {
	bySerial := b.d0 == whole.d0 && b.d1 == whole.d1
	before, after = -1, -1
	var end, begin int64
	for _, i := range a.members {
		for _, r := range f.s.regions[i] {
			m, ok := r.meet(whole)
			if !ok {
				continue
			}
			lo, hi, blo, bhi := m.d0, m.d1, b.d0, b.d1
			if bySerial {
				lo, hi, blo, bhi = m.s0, m.s1, b.s0, b.s1
			}
			if hi < blo && (before < 0 || hi > end) {
				before, end = i, hi
			}
			if lo > bhi && (after < 0 || lo < begin) {
				after, begin = i, lo
			}
		}
	}
	return before, after
}

// lookups counts the lookups of some codes: for an overlap those that both
// editions answer, else those that any edition of the series does.
func (f *breaks) lookups(at breakAt, codes codeSet) int {
	k := f.k
	n := 0
	if at.code == "overlap" || at.code == "mixed-break" {
		a, b := k.tasksOf(f.s.members[at.a]), k.tasksOf(f.s.members[at.b])
		if len(a) > len(b) {
			a, b = b, a
		}
		for task, s := range a {
			if t, ok := b[task]; ok {
				n += s.and(t).and(codes).count()
			}
		}
		return n
	}
	all := map[string]codeSet{}
	for _, p := range f.s.members {
		for task, s := range k.tasksOf(p) {
			if all[task] == nil {
				all[task] = newCodeSet(len(codes))
			}
			all[task].add(s)
		}
	}
	for _, s := range all {
		n += s.and(codes).count()
	}
	return n
}

func (f *breaks) report() {
	k := f.k
	at := slices.SortedFunc(maps.Keys(f.codes), func(a, b breakAt) int {
		if c := strings.Compare(a.code, b.code); c != 0 {
			return c
		}
		if c := compareBoxes(a.box, b.box); c != 0 {
			return c
		}
		return slices.Compare([]int{a.a, a.b}, []int{b.a, b.b})
	})
	pub := func(i int) *Publication { return &k.t.Publications[f.s.members[i]] }
	for _, x := range at {
		codes := f.codes[x]
		var names []string
		codes.each(func(i int) { names = append(names, f.s.unit.codes[i]) })
		of := fmt.Sprintf("%s %s", f.s.unit.name, some(names))
		n := f.lookups(x, codes)
		column := "from"
		if !x.box.limitsDays() && x.box.limitsSerials() {
			column = "serial_from"
		}
		switch x.code {
		case "overlap":
			k.add(x.code, "publications", pub(x.b).Origin, column,
				fmt.Sprintf("series %s: %s and %s both apply to %s %s", f.s.name, pub(x.a).ID, pub(x.b).ID, of, k.span(x.box)),
				"let one end before the other begins, or name the older in supersedes of the newer", n)
		case "mixed-break":
			k.add(x.code, "publications", pub(x.b).Origin, column,
				fmt.Sprintf("series %s: of %s and %s one is limited by build date and the other by serial, for %s", f.s.name, pub(x.a).ID, pub(x.b).ID, of),
				"give both limits of the break in both editions", n)
		case "gap":
			k.add(x.code, "publications", pub(x.b).Origin, column,
				fmt.Sprintf("series %s: %s %s is in neither %s nor %s", f.s.name, of, k.span(x.box), pub(x.a).ID, pub(x.b).ID),
				"move one of the two limits, or add the edition that is missing", n)
		default:
			near := x.a
			if near < 0 {
				near = x.b
			}
			if near < 0 {
				near = 0
			}
			k.add(x.code, "publications", pub(near).Origin, column,
				fmt.Sprintf("series %s: %s %s is in no edition", f.s.name, of, k.span(x.box)),
				"widen the limits, narrow the pattern, or correct the data cards", n)
		}
	}
}
