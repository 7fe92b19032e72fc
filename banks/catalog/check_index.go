package catalog

import (
	"cmp"
	"math/bits"
	"slices"
	"strings"
)

// codeSet is a set of the codes of one unit, by index.
type codeSet []uint64

func newCodeSet(n int) codeSet { return make(codeSet, (n+63)/64) }

func (s codeSet) set(i int)      { s[i/64] |= 1 << (i % 64) }
func (s codeSet) clear(i int)    { s[i/64] &^= 1 << (i % 64) }
func (s codeSet) has(i int) bool { return s[i/64]&(1<<(i%64)) != 0 }

func (s codeSet) count() int {
	n := 0
	for _, w := range s {
		n += bits.OnesCount64(w)
	}
	return n
}

func (s codeSet) empty() bool {
	for _, w := range s {
		if w != 0 {
			return false
		}
	}
	return true
}

func (s codeSet) and(t codeSet) codeSet {
	out := make(codeSet, len(s))
	for i := range s {
		out[i] = s[i] & t[i]
	}
	return out
}

func (s codeSet) minus(t codeSet) codeSet {
	out := make(codeSet, len(s))
	for i := range s {
		out[i] = s[i] &^ t[i]
	}
	return out
}

func (s codeSet) add(t codeSet) {
	for i := range t {
		s[i] |= t[i]
	}
}

func (s codeSet) meets(t codeSet) bool {
	for i := range s {
		if s[i]&t[i] != 0 {
			return true
		}
	}
	return false
}

func (s codeSet) each(f func(i int)) {
	for w, x := range s {
		for x != 0 {
			f(w*64 + bits.TrailingZeros64(x))
			x &= x - 1
		}
	}
}

// built is where a code was built.
type built struct {
	known      bool // some data card names the code
	where      region
	stillMade  bool // some card gives a first build date: an open end means that it is still built
	stillCount bool // the same for serials
}

// settle makes one region of the ranges of a code's cards, of boxes that do not
// overlap. A code whose ranges are too many to compare counts as unlimited.
func (b *built) settle() {
	const most = 200
	b.where = b.where.joined()
	if !b.known || len(b.where) > most {
		*b = built{where: region{anyBox}}
		return
	}
	var apart region
	for _, x := range b.where {
		apart = append(apart, region{x}.minus(apart)...)
	}
	b.where = apart.joined()
}

// unitCodes are the codes of a unit.
type unitCodes struct {
	name  string
	codes []string // folded, in order
	id    map[string]int
	built []built
	all   codeSet
	sets  map[Pattern]codeSet
}

// unit gives the codes of a unit. See Check for which codes count.
func (k *checker) unit(name string) *unitCodes {
	u := k.units[name]
	if u == nil {
		u = k.makeUnit(name)
		k.units[name] = u
	}
	return u
}

func (k *checker) makeUnit(name string) *unitCodes {
	u := &unitCodes{name: name, id: map[string]int{}, sets: map[Pattern]codeSet{}}
	spans := map[string]*built{}
	take := func(code string) *built {
		code = Fold(code)
		if code == "" {
			return nil
		}
		b := spans[code]
		if b == nil {
			b = &built{}
			spans[code] = b
		}
		return b
	}
	for i := range k.t.Models {
		m := &k.t.Models[i]
		r := m.Range
		if name != UnitModel {
			r.Serials = Serials{}
		}
		for _, code := range m.codesOf(name) {
			if b := take(code); b != nil {
				b.known = true
				b.stillMade = b.stillMade || !r.From.IsZero()
				b.stillCount = b.stillCount || r.Serials.From != 0
				if x, ok := boxOf(r); ok {
					b.where = append(b.where, x)
				}
			}
		}
	}
	if name != UnitModel {
		for _, code := range k.schemeCodes(name) {
			take(code)
		}
	}
	// An engine or a transmission may be named by the code that the literature
	// uses; a model needs a data card, and a further unit is found on one only.
	if len(spans) == 0 && (name == UnitEngine || name == UnitTransmission) {
		k.eachPattern(func(unit string, p Pattern) {
			if unit == name {
				for _, code := range p.exact() {
					take(code)
				}
			}
		})
	}
	for code := range spans {
		u.codes = append(u.codes, code)
	}
	slices.Sort(u.codes)
	u.all = newCodeSet(len(u.codes))
	for i, code := range u.codes {
		b := spans[code]
		b.settle()
		u.id[code] = i
		u.built = append(u.built, *b)
		u.all.set(i)
	}
	return u
}

// codesOf lists the codes of a unit on a data card.
func (m *Model) codesOf(unit string) []string {
	switch unit {
	case UnitModel:
		return []string{m.Code}
	case UnitEngine:
		return []string{m.Engine}
	case UnitTransmission:
		return []string{m.Transmission}
	}
	var codes []string
	for _, x := range m.Units {
		if x.Unit == unit {
			codes = append(codes, x.Code)
		}
	}
	return codes
}

// schemeCodes lists the codes of a unit that the value tables of the schemes
// name: those that read its own number, and chassis schemes.
func (k *checker) schemeCodes(unit string) []string {
	var codes []string
	for _, kind := range []string{unit, KindChassis} {
		for _, d := range k.c.Decoders(kind) {
			if f, ok := d.Field(unit); ok {
				for _, v := range f.Values {
					for _, m := range v.Means {
						codes = append(codes, cmp.Or(m.Text, v.Raw))
					}
				}
			}
		}
	}
	return codes
}

// eachPattern gives every applies-to pattern with the unit that it speaks of.
func (k *checker) eachPattern(f func(unit string, p Pattern)) {
	for i := range k.t.Publications {
		f(k.t.Publications[i].KeyedBy, k.t.Publications[i].AppliesTo)
	}
	for i := range k.t.Procedures {
		if p, ok := k.c.Publication(k.t.Procedures[i].Publication); ok {
			f(p.KeyedBy, k.t.Procedures[i].AppliesTo)
		}
	}
	for i := range k.t.Schedule {
		f(k.t.Schedule[i].KeyedBy, k.t.Schedule[i].AppliesTo)
	}
	for i := range k.t.Specifications {
		f(k.t.Specifications[i].KeyedBy, k.t.Specifications[i].AppliesTo)
	}
	for i := range k.t.Guide {
		f(k.t.Guide[i].KeyedBy, k.t.Guide[i].AppliesTo)
	}
	for i := range k.t.TroubleCodes {
		f(k.t.TroubleCodes[i].KeyedBy, k.t.TroubleCodes[i].AppliesTo)
	}
	for i := range k.t.Bulletins {
		f(k.t.Bulletins[i].KeyedBy, k.t.Bulletins[i].AppliesTo)
	}
}

// exact lists the alternatives of a pattern that are codes themselves.
func (p Pattern) exact() []string {
	var codes []string
	for alt := range strings.SplitSeq(string(p), ";") {
		if alt = strings.TrimSpace(alt); alt != "" && !strings.ContainsAny(alt, "*?!") {
			codes = append(codes, alt)
		}
	}
	return codes
}

// matched is the set of a unit's codes that a pattern covers. It agrees with
// Pattern.Match, but looks exact codes up.
func (k *checker) matched(u *unitCodes, p Pattern) codeSet {
	if s, ok := u.sets[p]; ok {
		return s
	}
	yes, no := newCodeSet(len(u.codes)), newCodeSet(len(u.codes))
	positive := false
	for alt := range strings.SplitSeq(string(p), ";") {
		alt = strings.TrimSpace(alt)
		if alt == "" {
			continue
		}
		into := yes
		if rest, ok := strings.CutPrefix(alt, "!"); ok {
			into, alt = no, rest
		} else {
			positive = true
		}
		pat := Fold(alt)
		if !strings.ContainsAny(pat, "*?") {
			if i, ok := u.id[pat]; ok {
				into.set(i)
			}
			continue
		}
		if !k.spend(len(u.codes)) {
			continue
		}
		for i, code := range u.codes {
			if glob(pat, code) {
				into.set(i)
			}
		}
	}
	if !positive {
		yes.add(u.all)
	}
	s := yes.minus(no)
	u.sets[p] = s
	return s
}

// carry is a publication and a unit other than its own.
type carry struct {
	pub  int
	unit string
}

// pubCodesIn are the codes of another unit that stand on a data card with a
// code that the publication covers.
func (k *checker) pubCodesIn(p int, to *unitCodes) codeSet {
	from := k.pubUnit(p)
	if from == to {
		return k.pubCodes(p)
	}
	at := carry{p, to.name}
	if s, ok := k.carried[at]; ok {
		return s
	}
	covered, out := k.pubCodes(p), newCodeSet(len(to.codes))
	if !k.spend(len(k.t.Models)) {
		return out
	}
	for i := range k.t.Models {
		m := &k.t.Models[i]
		hit := false
		for _, code := range m.codesOf(from.name) {
			j, ok := from.id[Fold(code)]
			hit = hit || ok && covered.has(j)
		}
		if hit {
			for _, code := range m.codesOf(to.name) {
				if j, ok := to.id[Fold(code)]; ok {
					out.set(j)
				}
			}
		}
	}
	k.carried[at] = out
	return out
}

// pubRecords are the rows that stand in a publication.
type pubRecords struct {
	procs, ops, specs, guide, trouble []int
}

func (k *checker) index() {
	t := k.t
	k.comps = make(map[string]int, len(t.Components))
	for i := range t.Components {
		if _, dup := k.comps[t.Components[i].Term]; !dup {
			k.comps[t.Components[i].Term] = i
		}
	}
	k.compGrp = k.groupsOfComponents()
	k.procsOf = map[string][]int{}
	k.byPub = make([]pubRecords, len(t.Publications))
	put := func(id string, i int, list func(*pubRecords) *[]int) {
		if p, ok := k.c.pub[id]; ok {
			l := list(&k.byPub[p])
			*l = append(*l, i)
		}
	}
	for i := range t.Procedures {
		k.procsOf[t.Procedures[i].Component] = append(k.procsOf[t.Procedures[i].Component], i)
		put(t.Procedures[i].Publication, i, func(r *pubRecords) *[]int { return &r.procs })
	}
	for i := range t.Operations {
		put(t.Operations[i].Publication, i, func(r *pubRecords) *[]int { return &r.ops })
	}
	for i := range t.Specifications {
		put(t.Specifications[i].Publication, i, func(r *pubRecords) *[]int { return &r.specs })
	}
	for i := range t.Guide {
		put(t.Guide[i].Publication, i, func(r *pubRecords) *[]int { return &r.guide })
	}
	for i := range t.TroubleCodes {
		put(t.TroubleCodes[i].Publication, i, func(r *pubRecords) *[]int { return &r.trouble })
	}
	k.pubTasks = make([]map[string]codeSet, len(t.Publications))
	k.pubGroups = make([]map[string]bool, len(t.Publications))
}

// groupsOfComponents finds the index of each component's group: its own, or that
// of the nearest major component above it that has one; -1 where there is none.
func (k *checker) groupsOfComponents() []int {
	const open, none = -2, -1
	t := k.t
	grp := make([]int, len(t.Components))
	for i := range grp {
		grp[i] = open
	}
	var path []int
	for i := range t.Components {
		at, found := i, none
		path = path[:0]
		for grp[at] == open {
			grp[at] = none // until it is known; ends a circle
			path = append(path, at)
			c := &t.Components[at]
			if c.Group != "" {
				if g, ok := k.c.grp[c.Group]; ok {
					found = g
				}
				break
			}
			next, ok := k.comps[c.PartOf]
			if c.PartOf == "" || !ok {
				break
			}
			at = next
			found = max(grp[at], none)
		}
		if len(path) == 0 {
			continue
		}
		for _, j := range path {
			grp[j] = found
		}
	}
	return grp
}

// covers tells whether a publication lists a group or an ancestor of it; one
// that lists none covers all.
func (k *checker) covers(pub, g int) bool {
	list := k.t.Publications[pub].Groups
	if len(list) == 0 {
		return true
	}
	set := k.pubGroups[pub]
	if set == nil {
		set = make(map[string]bool, len(list))
		for _, code := range list {
			set[code] = true
		}
		k.pubGroups[pub] = set
	}
	for steps := 0; g >= 0 && steps < 1000; steps++ {
		if set[k.t.Groups[g].Code] {
			return true
		}
		next, ok := k.c.grp[k.t.Groups[g].Parent]
		if k.t.Groups[g].Parent == "" || !ok {
			return false
		}
		g = next
	}
	return false
}

// Tasks, as lookups count them.

func procTask(p *Procedure) string          { return "job\x00" + p.Action + "\x00" + p.Component }
func operationTask(number string) string    { return "operation\x00" + number }
func quantityTask(s *Specification) string  { return "quantity\x00" + s.Quantity + "\x00" + s.Condition }
func systemTask(g *GuideEntry) string       { return "system\x00" + g.System }
func troubleTask(c *TroubleCode) string     { return "trouble\x00" + c.System + "\x00" + c.Code }
func (k *checker) pubUnit(p int) *unitCodes { return k.unit(k.t.Publications[p].KeyedBy) }
func (k *checker) pubCodes(p int) codeSet {
	return k.matched(k.pubUnit(p), k.t.Publications[p].AppliesTo)
}

// procCodes are the codes that a procedure's own pattern and its publication's
// both match; nil where it has no publication.
func (k *checker) procCodes(i int) codeSet {
	p, ok := k.c.pub[k.t.Procedures[i].Publication]
	if !ok {
		return nil
	}
	s := k.pubCodes(p)
	if k.t.Procedures[i].AppliesTo == "" {
		return s
	}
	return s.and(k.matched(k.pubUnit(p), k.t.Procedures[i].AppliesTo))
}

// rowCodes are the codes that a row with a unit and pattern of its own
// matches, narrowed to those of its publication where it has one.
func (k *checker) rowCodes(unit string, pattern Pattern, publication string) codeSet {
	u := k.unit(unit)
	s := k.matched(u, pattern)
	if p, ok := k.c.pub[publication]; ok {
		s = s.and(k.pubCodesIn(p, u))
	}
	return s
}

// tasksOf maps the tasks that a publication describes to the codes for which it
// does.
func (k *checker) tasksOf(p int) map[string]codeSet {
	if k.pubTasks[p] != nil {
		return k.pubTasks[p]
	}
	u, all, r := k.pubUnit(p), k.pubCodes(p), &k.byPub[p]
	m := make(map[string]codeSet, len(r.procs)+len(r.ops))
	put := func(task string, s codeSet) {
		if have, ok := m[task]; ok {
			have.add(s)
			return
		}
		m[task] = slices.Clone(s)
	}
	own := func(task, unit string, pattern Pattern) {
		if unit == u.name && pattern != "" {
			put(task, all.and(k.matched(u, pattern)))
			return
		}
		put(task, all)
	}
	for _, i := range r.procs {
		own(procTask(&k.t.Procedures[i]), u.name, k.t.Procedures[i].AppliesTo)
	}
	for _, i := range r.ops {
		put(operationTask(k.t.Operations[i].Number), all)
	}
	for _, i := range r.specs {
		s := &k.t.Specifications[i]
		own(quantityTask(s), s.KeyedBy, s.AppliesTo)
	}
	for _, i := range r.guide {
		g := &k.t.Guide[i]
		own(systemTask(g), g.KeyedBy, g.AppliesTo)
	}
	for _, i := range r.trouble {
		c := &k.t.TroubleCodes[i]
		own(troubleTask(c), c.KeyedBy, c.AppliesTo)
	}
	k.pubTasks[p] = m
	return m
}

// pubLookups counts the lookups that a publication answers.
func (k *checker) pubLookups(p int) int {
	n := 0
	for _, s := range k.tasksOf(p) {
		n += s.count()
	}
	return n
}

// procLookups counts the lookups that a procedure answers.
func (k *checker) procLookups(i int) int { return k.procCodes(i).count() }

// componentLookups counts the lookups that ask for any of some components:
// pairs of code and action on one of them.
func (k *checker) componentLookups(terms ...string) int {
	type key struct{ unit, task string }
	sets := map[key]codeSet{}
	for _, term := range terms {
		for _, i := range k.procsOf[term] {
			p, ok := k.c.pub[k.t.Procedures[i].Publication]
			if !ok {
				continue
			}
			at := key{k.t.Publications[p].KeyedBy, procTask(&k.t.Procedures[i])}
			if sets[at] == nil {
				sets[at] = newCodeSet(len(k.pubUnit(p).codes))
			}
			sets[at].add(k.procCodes(i))
		}
	}
	n := 0
	for _, s := range sets {
		n += s.count()
	}
	return n
}

// codeLookups counts the lookups that ask with one code of a unit.
func (k *checker) codeLookups(unit, code string) int {
	u := k.unit(unit)
	i, ok := u.id[Fold(code)]
	if !ok {
		return 0
	}
	if k.tasks == nil {
		k.tasks = map[string]map[string]codeSet{}
	}
	m := k.tasks[unit]
	if m == nil {
		m = map[string]codeSet{}
		for p := range k.t.Publications {
			if k.t.Publications[p].KeyedBy != unit {
				continue
			}
			for task, s := range k.tasksOf(p) {
				if m[task] == nil {
					m[task] = newCodeSet(len(u.codes))
				}
				m[task].add(s)
			}
		}
		k.tasks[unit] = m
	}
	n := 0
	for _, s := range m {
		if s.has(i) {
			n++
		}
	}
	return n
}
