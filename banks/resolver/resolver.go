package resolver

import (
	"cmp"
	"slices"
	"strings"
	"sync/atomic"

	"rightpage/banks/catalog"
)

// Resolver answers lookups in one catalog. It is immutable and safe for use by
// any number of goroutines.
type Resolver struct {
	cat  *catalog.Catalog
	t    *catalog.Tables
	meta catalog.Meta

	units   []*unitIndex // model is 0
	unitID  map[string]int8
	primary int8

	patterns map[patternKey]int32
	covers   [][]uint64 // pattern → bit set of the unit's codes
	efs      []ef
	stretch  []stretch // of all effectivities, one after the other

	pubKey, procKey, specKey, guideKey, troubleKey, serviceKey, bulletinKey []keyed

	pubIdx       map[string]int32
	classCount   int
	classOf      []int8  // publication → index of its class
	seriesOf     []int32 // publication → first publication of its series
	series       map[int32][]int32
	supersededBy [][]int32 // publication → publications that name it
	shelves      [][]shelf // unit → shelves of code × class; the last code's stand for a code not known
	shelved      []int32   // publications, a run for each group of each shelf
	groupIdx     map[string]int32
	ancestors    [][]int32 // group → itself and its ancestors
	groupUnit    []int8

	actions  []string
	actionID map[string]int32
	classes  [][]int8 // action → classes

	compGroup  []int32   // component → group, -1
	compParent []int32   // component → major component, -1
	compParts  [][]int32 // component → its parts
	compIdx    map[string]int32

	procPub    []int32
	procWhat   []procWhat
	jobID      map[pair]int32 // action and component → number of the job
	jobRows    jobTable
	procsOfPub [][]int32 // publication → its procedures
	replacedBy [][]int32 // procedure → procedures that replace it
	actionsOf  map[int32][]int32

	cards     [][]int32                 // model code → rows of models
	alike     []atomic.Pointer[[]int32] // model code → codes that look like its sales name, made when first asked for
	cardInfo  []cardInfo
	opsByNo   map[string][]int32
	opPub     []int32
	specPub   []int32
	guidePub  []int32
	troubPub  []int32
	chapters  map[chapterKey][]int32 // rows of tests, in order of steps
	chapterOf []chapterKey
	troubles  map[string][]int32

	pubBul, procBul, specBul, opBul, testBul, troubBul, serviceBul [][]bulletinRef

	wording    *wording
	components *vocabulary
	quantities *vocabulary
	quantRows  [][]int32 // quantity → rows
	systems    *vocabulary
	actionVoc  *vocabulary
	services   *vocabulary
	serviceID  map[string]int32
	serviceNm  []string
	jobs       map[string]*job // jobs already classified

	chassis  []*catalog.Decoder
	unitRead [][]*catalog.Decoder
	trouble  []*catalog.Decoder
}

type (
	patternKey struct {
		unit int8
		p    catalog.Pattern
	}
	// shelf is the publications of one class for one code: for each group a
	// run in Resolver.shelved. It is nil where there are none.
	shelf []run32
	run32 struct{ from, to int32 }
	// procWhat is what a procedure is about, -1 for what is not known.
	procWhat struct{ action, component, group int32 }
	// cardInfo is what a lookup needs of a data card.
	cardInfo struct {
		days    catalog.Days
		serials catalog.Serials
		units   []int32 // code of each unit, -1
	}
	// stretch is a range of an effectivity with its limits as days.
	stretch struct {
		days    catalog.Days
		serials catalog.Serials
	}
	chapterKey struct {
		pub     int32
		chapter string
	}
	bulletinRef struct {
		row      int32
		replaces bool
	}
	// keyed is what decides whether a record fits a vehicle.
	keyed struct {
		unit  int8
		ruled bool  // something may supersede or replace the record
		noted bool  // a bulletin names the record
		pat   int32 // index into covers, -1: every code
		ef    int32 // index into efs, -1: always
	}
	// ef is an effectivity: a run in Resolver.stretch, and what it was made of.
	ef struct {
		from, to int32
		src      catalog.Effectivity
	}
	unitIndex struct {
		name  string
		codes []string // folded
		id    map[string]int32
	}
)

// New builds the indexes of a catalog. A catalog with findings of severity
// Error can be resolved as well: what dangles is not found.
func New(c *catalog.Catalog) *Resolver {
	r := &Resolver{
		cat: c, t: c.Tables(), meta: c.Meta(),
		unitID: map[string]int8{}, patterns: map[patternKey]int32{},
		pubIdx: map[string]int32{}, groupIdx: map[string]int32{}, compIdx: map[string]int32{},
		actionID: map[string]int32{}, wording: newWording(), classCount: len(catalog.Classes()),
	}
	r.indexUnits()
	r.indexCodes()
	r.indexKeys()
	r.indexGroups()
	r.indexPublications()
	r.indexComponents()
	r.indexProcedures()
	r.indexRest()
	r.indexBulletins()
	r.indexWords()
	r.wording.seal()
	return r
}

// Catalog gives the catalog that is resolved.
func (r *Resolver) Catalog() *catalog.Catalog { return r.cat }

func (r *Resolver) unit(name string) int8 {
	if id, ok := r.unitID[name]; ok {
		return id
	}
	id := int8(len(r.units))
	r.unitID[name] = id
	r.units = append(r.units, &unitIndex{name: name, id: map[string]int32{}})
	return id
}

func (r *Resolver) indexUnits() {
	for _, u := range []string{catalog.UnitModel, catalog.UnitEngine, catalog.UnitTransmission, r.meta.Primary} {
		r.unit(u)
	}
	r.primary = r.unitID[r.meta.Primary]
	t := r.t
	for i := range t.Models {
		for _, u := range t.Models[i].Units {
			r.unit(u.Unit)
		}
	}
	for i := range t.Groups {
		r.unit(t.Groups[i].KeyedBy)
	}
	for i := range t.Publications {
		r.unit(t.Publications[i].KeyedBy)
	}
	for _, k := range r.keyedBy() {
		r.unit(k.unit)
	}
	r.chassis = r.cat.Decoders("chassis")
	r.trouble = r.cat.Decoders("trouble")
	r.unitRead = make([][]*catalog.Decoder, len(r.units))
	for i, u := range r.units {
		r.unitRead[i] = r.cat.Decoders(u.name)
	}
}

type unitPattern struct {
	unit string
	p    catalog.Pattern
}

// keyedBy lists the unit and pattern of every record that has one.
func (r *Resolver) keyedBy() []unitPattern {
	var all []unitPattern
	t := r.t
	byPub := map[string]string{}
	for i := range t.Publications {
		byPub[t.Publications[i].ID] = t.Publications[i].KeyedBy
		all = append(all, unitPattern{t.Publications[i].KeyedBy, t.Publications[i].AppliesTo})
	}
	for i := range t.Procedures {
		if u, ok := byPub[t.Procedures[i].Publication]; ok {
			all = append(all, unitPattern{u, t.Procedures[i].AppliesTo})
		}
	}
	for i := range t.Schedule {
		all = append(all, unitPattern{t.Schedule[i].KeyedBy, t.Schedule[i].AppliesTo})
	}
	for i := range t.Specifications {
		all = append(all, unitPattern{t.Specifications[i].KeyedBy, t.Specifications[i].AppliesTo})
	}
	for i := range t.Guide {
		all = append(all, unitPattern{t.Guide[i].KeyedBy, t.Guide[i].AppliesTo})
	}
	for i := range t.TroubleCodes {
		all = append(all, unitPattern{t.TroubleCodes[i].KeyedBy, t.TroubleCodes[i].AppliesTo})
	}
	for i := range t.Bulletins {
		all = append(all, unitPattern{t.Bulletins[i].KeyedBy, t.Bulletins[i].AppliesTo})
	}
	return all
}

func (u *unitIndex) add(code string) {
	code = catalog.Fold(code)
	if code == "" {
		return
	}
	if _, ok := u.id[code]; !ok {
		u.id[code] = -1
		u.codes = append(u.codes, code)
	}
}

// indexCodes collects every code that a unit can have: on data cards, written
// out in an applies-to cell, or a value of the unit's own field in a scheme.
func (r *Resolver) indexCodes() {
	t := r.t
	for i := range t.Models {
		m := &t.Models[i]
		r.units[0].add(m.Code)
		r.units[r.unitID[catalog.UnitEngine]].add(m.Engine)
		r.units[r.unitID[catalog.UnitTransmission]].add(m.Transmission)
		for _, u := range m.Units {
			r.units[r.unitID[u.Unit]].add(u.Code)
		}
	}
	seen := map[unitPattern]bool{}
	for _, k := range r.keyedBy() {
		if seen[k] {
			continue
		}
		seen[k] = true
		for alt := range strings.SplitSeq(string(k.p), ";") {
			alt = strings.TrimPrefix(strings.TrimSpace(alt), "!")
			if !strings.ContainsAny(alt, "*?") {
				r.units[r.unitID[k.unit]].add(alt)
			}
		}
	}
	for i := range t.Schemes {
		s := &t.Schemes[i]
		if id, ok := r.unitID[s.Field]; ok && s.Value != "" && (s.Kind == s.Field || s.Kind == "chassis") {
			if s.Means != "" {
				r.units[id].add(s.Means)
			} else {
				r.units[id].add(s.Value)
			}
		}
	}
	for _, u := range r.units {
		slices.Sort(u.codes)
		for i, c := range u.codes {
			u.id[c] = int32(i)
		}
	}
}

func (r *Resolver) pattern(unit int8, p catalog.Pattern) int32 {
	if strings.TrimSpace(string(p)) == "" {
		return -1
	}
	k := patternKey{unit, p}
	if id, ok := r.patterns[k]; ok {
		return id
	}
	u := r.units[unit]
	bits := make([]uint64, (len(u.codes)+63)/64)
	for i, c := range u.codes {
		if p.Match(c) {
			bits[i/64] |= 1 << (i % 64)
		}
	}
	id := int32(len(r.covers))
	r.patterns[k] = id
	r.covers = append(r.covers, bits)
	return id
}

func (r *Resolver) key(unit string, p catalog.Pattern, e catalog.Effectivity) keyed {
	k := keyed{unit: r.unitID[unit], ef: -1}
	k.pat = r.pattern(k.unit, p)
	if len(e) > 0 {
		k.ef = int32(len(r.efs))
		from := int32(len(r.stretch))
		for _, rg := range e {
			r.stretch = append(r.stretch, stretch{rg.Days(), rg.Serials})
		}
		r.efs = append(r.efs, ef{from, int32(len(r.stretch)), e})
	}
	return k
}

func (r *Resolver) indexKeys() {
	t := r.t
	for i := range t.Publications {
		p := &t.Publications[i]
		if _, dup := r.pubIdx[p.ID]; !dup {
			r.pubIdx[p.ID] = int32(i)
		}
		r.pubKey = append(r.pubKey, r.key(p.KeyedBy, p.AppliesTo, p.Effectivity))
	}
	for i := range t.Procedures {
		p := &t.Procedures[i]
		unit := r.meta.Primary
		pub := r.pub(p.Publication)
		if pub >= 0 {
			unit = t.Publications[pub].KeyedBy
		}
		r.procPub = append(r.procPub, pub)
		r.procKey = append(r.procKey, r.key(unit, p.AppliesTo, p.Effectivity))
	}
	for i := range t.Specifications {
		s := &t.Specifications[i]
		r.specKey = append(r.specKey, r.key(s.KeyedBy, s.AppliesTo, s.Effectivity))
		r.specPub = append(r.specPub, r.pub(s.Publication))
	}
	for i := range t.Guide {
		g := &t.Guide[i]
		r.guideKey = append(r.guideKey, r.key(g.KeyedBy, g.AppliesTo, g.Effectivity))
		r.guidePub = append(r.guidePub, r.pub(g.Publication))
	}
	for i := range t.TroubleCodes {
		c := &t.TroubleCodes[i]
		r.troubleKey = append(r.troubleKey, r.key(c.KeyedBy, c.AppliesTo, c.Effectivity))
		r.troubPub = append(r.troubPub, r.pub(c.Publication))
	}
	for i := range t.Schedule {
		s := &t.Schedule[i]
		r.serviceKey = append(r.serviceKey, r.key(s.KeyedBy, s.AppliesTo, s.Effectivity))
	}
	for i := range t.Bulletins {
		b := &t.Bulletins[i]
		r.bulletinKey = append(r.bulletinKey, r.key(b.KeyedBy, b.AppliesTo, b.Effectivity))
	}
}

func (r *Resolver) pub(id string) int32 {
	if i, ok := r.pubIdx[id]; ok {
		return i
	}
	return -1
}

func (r *Resolver) indexGroups() {
	t := r.t
	for i := range t.Groups {
		if _, dup := r.groupIdx[t.Groups[i].Code]; !dup {
			r.groupIdx[t.Groups[i].Code] = int32(i)
		}
		r.groupUnit = append(r.groupUnit, r.unitID[t.Groups[i].KeyedBy])
	}
	r.ancestors = make([][]int32, len(t.Groups))
	for i := range t.Groups {
		for g, ok := int32(i), true; ok && !slices.Contains(r.ancestors[i], g); g, ok = r.groupIdx[t.Groups[g].Parent] {
			r.ancestors[i] = append(r.ancestors[i], g)
		}
	}
}

func (r *Resolver) classIndex(c catalog.Class) int8 {
	return int8(slices.Index(catalog.Classes(), c))
}

func (r *Resolver) indexPublications() {
	t := r.t
	r.supersededBy = make([][]int32, len(t.Publications))
	r.seriesOf = make([]int32, len(t.Publications))
	r.series = map[int32][]int32{}
	first := map[string]int32{}
	for i := range t.Publications {
		p, n := &t.Publications[i], int32(i)
		r.classOf = append(r.classOf, r.classIndex(p.Class))
		if _, ok := first[p.Series]; !ok {
			first[p.Series] = n
		}
		r.seriesOf[i] = first[p.Series]
		r.series[r.seriesOf[i]] = append(r.series[r.seriesOf[i]], n)
		for _, old := range p.Supersedes {
			if o := r.pub(old); o >= 0 && o != n && t.Publications[o].Class == p.Class {
				r.supersededBy[o] = append(r.supersededBy[o], n)
				r.pubKey[o].ruled = true
			}
		}
	}
	r.orderSeries()
	r.fillShelves()
}

// fillShelves sorts the publications by unit, code, class and group.
func (r *Resolver) fillShelves() {
	classes, groups := r.classCount, len(r.t.Groups)
	type place struct{ shelf, group int32 }
	r.shelves = make([][]shelf, len(r.units))
	for u := range r.units {
		r.shelves[u] = make([]shelf, (len(r.units[u].codes)+1)*classes)
		lists := map[place][]int32{}
		var order []place
		for i := range r.t.Publications {
			k := r.pubKey[i]
			if int(k.unit) != u || r.classOf[i] < 0 {
				continue
			}
			for g := range groups {
				if !r.coversGroup(int32(i), int32(g)) {
					continue
				}
				for code := range len(r.units[u].codes) + 1 {
					if code < len(r.units[u].codes) && !r.matches(k.pat, int32(code)) {
						continue
					}
					p := place{int32(code*classes) + int32(r.classOf[i]), int32(g)}
					if len(lists[p]) == 0 {
						order = append(order, p)
					}
					lists[p] = append(lists[p], int32(i))
				}
			}
		}
		for _, p := range order {
			s := &r.shelves[u][p.shelf]
			if *s == nil {
				*s = make(shelf, groups)
			}
			from := int32(len(r.shelved))
			r.shelved = append(r.shelved, lists[p]...)
			(*s)[p.group] = run32{from, int32(len(r.shelved))}
		}
	}
}

// shelfHas tells whether any publication of a class is for a code of the unit.
func (r *Resolver) shelfHas(unit, class int8, code int32) bool {
	if code < 0 {
		code = int32(len(r.units[unit].codes))
	}
	return r.shelves[unit][int(code)*r.classCount+int(class)] != nil
}

// candidates lists the publications of a class that cover a group and whose
// pattern matches a code of the unit; code -1 is a code not known.
func (r *Resolver) candidates(unit, class int8, group, code int32) []int32 {
	if code < 0 {
		code = int32(len(r.units[unit].codes))
	}
	s := r.shelves[unit][int(code)*r.classCount+int(class)]
	if s == nil {
		return nil
	}
	return r.shelved[s[group].from:s[group].to]
}

// orderSeries puts the editions of each series in the order of their first
// limit, so that "the edition before" means something.
func (r *Resolver) orderSeries() {
	first := func(p int32) (catalog.Day, int64) {
		if e := r.t.Publications[p].Effectivity; len(e) > 0 {
			return e[0].From.First(), e[0].Serials.From
		}
		return catalog.MinDay, 0
	}
	for _, l := range r.series {
		slices.SortStableFunc(l, func(a, b int32) int {
			d1, s1 := first(a)
			d2, s2 := first(b)
			return cmp.Or(cmp.Compare(d1, d2), cmp.Compare(s1, s2))
		})
	}
}

// coversGroup tells whether a publication lists a group or an ancestor of it;
// one that lists no groups covers all.
func (r *Resolver) coversGroup(pub, group int32) bool {
	groups := r.t.Publications[pub].Groups
	if len(groups) == 0 {
		return true
	}
	for _, a := range r.ancestors[group] {
		if slices.Contains(groups, r.t.Groups[a].Code) {
			return true
		}
	}
	return false
}

func (r *Resolver) indexComponents() {
	t := r.t
	for i := range t.Components {
		if _, dup := r.compIdx[t.Components[i].Term]; !dup {
			r.compIdx[t.Components[i].Term] = int32(i)
		}
	}
	r.compParts = make([][]int32, len(t.Components))
	for i := range t.Components {
		parent := int32(-1)
		if p, ok := r.compIdx[t.Components[i].PartOf]; ok && p != int32(i) {
			parent = p
			r.compParts[p] = append(r.compParts[p], int32(i))
		}
		r.compParent = append(r.compParent, parent)
	}
	for i := range t.Components {
		group := int32(-1)
		for c, n := int32(i), 0; c >= 0 && n <= len(t.Components); c, n = r.compParent[c], n+1 {
			if g, ok := r.groupIdx[t.Components[c].Group]; ok {
				group = g
				break
			}
		}
		r.compGroup = append(r.compGroup, group)
	}
}

func (r *Resolver) indexProcedures() {
	t := r.t
	for a := range r.meta.Actions {
		r.actions = append(r.actions, a)
	}
	slices.Sort(r.actions)
	for i, a := range r.actions {
		r.actionID[a] = int32(i)
		var cl []int8
		for _, c := range r.meta.Actions[a].Classes {
			if n := r.classIndex(c); n >= 0 {
				cl = append(cl, n)
			}
		}
		r.classes = append(r.classes, cl)
	}
	r.jobID = map[pair]int32{}
	var filed []jobRow
	r.procsOfPub = make([][]int32, len(t.Publications))
	r.actionsOf = map[int32][]int32{}
	r.replacedBy = make([][]int32, len(t.Procedures))
	byID := map[string]int32{}
	for i := range t.Procedures {
		if _, dup := byID[t.Procedures[i].ID]; !dup {
			byID[t.Procedures[i].ID] = int32(i)
		}
	}
	for i := range t.Procedures {
		p, n := &t.Procedures[i], int32(i)
		what := procWhat{-1, -1, -1}
		if a, ok := r.actionID[p.Action]; ok {
			what.action = a
		}
		if c, ok := r.compIdx[p.Component]; ok {
			what.component, what.group = c, r.compGroup[c]
		}
		r.procWhat = append(r.procWhat, what)
		for _, old := range p.Replaces {
			if o, ok := byID[old]; ok && o != n {
				r.replacedBy[o] = append(r.replacedBy[o], n)
				r.procKey[o].ruled = true
			}
		}
		if pub := r.procPub[i]; pub >= 0 {
			r.procsOfPub[pub] = append(r.procsOfPub[pub], n)
		}
		a, c := what.action, what.component
		if a < 0 || c < 0 || r.procPub[i] < 0 {
			continue
		}
		id, known := r.jobID[pair{action: a, component: c}]
		if !known {
			id = int32(len(r.jobID))
			r.jobID[pair{action: a, component: c}] = id
		}
		filed = append(filed, jobRow{r.procPub[i], id, n})
		if !slices.Contains(r.actionsOf[c], a) {
			r.actionsOf[c] = append(r.actionsOf[c], a)
		}
	}
	for _, l := range r.actionsOf {
		slices.Sort(l)
	}
	slices.SortFunc(filed, func(a, b jobRow) int {
		return cmp.Or(cmp.Compare(a.pub, b.pub), cmp.Compare(a.job, b.job), cmp.Compare(a.row, b.row))
	})
	r.jobRows = newJobTable(filed)
	// A term listed twice, in two groups, has the same jobs in both.
	for i := range t.Components {
		c, n := r.compIdx[t.Components[i].Term], int32(i)
		if c == n || len(r.actionsOf[c]) == 0 {
			continue
		}
		r.actionsOf[n] = r.actionsOf[c]
		for _, a := range r.actionsOf[c] {
			r.jobID[pair{action: a, component: n}] = r.jobID[pair{action: a, component: c}]
		}
	}
}

// procedures lists the procedures of a publication for a job, -1 for none.
func (r *Resolver) procedures(pub, job int32) []int32 { return r.jobRows.find(pub, job) }

func (r *Resolver) indexRest() {
	t := r.t
	r.cards = make([][]int32, len(r.units[0].codes))
	r.alike = make([]atomic.Pointer[[]int32], len(r.units[0].codes))
	for i := range t.Models {
		m := &t.Models[i]
		code := r.units[0].id[catalog.Fold(m.Code)]
		r.cards[code] = append(r.cards[code], int32(i))
		codes := make([]int32, len(r.units))
		for u := range codes {
			codes[u] = -1
		}
		codes[0] = code
		put := func(unit, code string) {
			if u := r.unitID[unit]; code != "" {
				codes[u] = r.units[u].lookup(code)
			}
		}
		put(catalog.UnitEngine, m.Engine)
		put(catalog.UnitTransmission, m.Transmission)
		for _, u := range m.Units {
			put(u.Unit, u.Code)
		}
		r.cardInfo = append(r.cardInfo, cardInfo{m.Range.Days(), m.Range.Serials, codes})
	}
	r.opsByNo = map[string][]int32{}
	for i := range t.Operations {
		o := &t.Operations[i]
		r.opPub = append(r.opPub, r.pub(o.Publication))
		r.opsByNo[o.Number] = append(r.opsByNo[o.Number], int32(i))
	}
	r.chapters = map[chapterKey][]int32{}
	for i := range t.Tests {
		k := chapterKey{r.pub(t.Tests[i].Publication), t.Tests[i].Chapter}
		r.chapterOf = append(r.chapterOf, k)
		r.chapters[k] = append(r.chapters[k], int32(i))
	}
	r.troubles = map[string][]int32{}
	for i := range t.TroubleCodes {
		code := troubleText(t.TroubleCodes[i].Code)
		r.troubles[code] = append(r.troubles[code], int32(i))
	}
	r.serviceID = map[string]int32{}
	for i := range t.Schedule {
		n := t.Schedule[i].Name
		if _, ok := r.serviceID[n]; !ok {
			r.serviceID[n] = int32(len(r.serviceNm))
			r.serviceNm = append(r.serviceNm, n)
		}
	}
}

func (r *Resolver) indexBulletins() {
	t := r.t
	r.pubBul = make([][]bulletinRef, len(t.Publications))
	r.procBul = make([][]bulletinRef, len(t.Procedures))
	r.specBul = make([][]bulletinRef, len(t.Specifications))
	r.opBul = make([][]bulletinRef, len(t.Operations))
	r.testBul = make([][]bulletinRef, len(t.Tests))
	r.troubBul = make([][]bulletinRef, len(t.TroubleCodes))
	r.serviceBul = make([][]bulletinRef, len(t.Schedule))
	rows := map[catalog.Target][]*[]bulletinRef{}
	put := func(table, key string, l *[]bulletinRef) {
		k := catalog.Target{Table: table, Key: key}
		rows[k] = append(rows[k], l)
	}
	for i := range t.Publications {
		put("publication", t.Publications[i].ID, &r.pubBul[i])
	}
	for i := range t.Procedures {
		put("procedure", t.Procedures[i].ID, &r.procBul[i])
	}
	for i := range t.Specifications {
		put("specification", t.Specifications[i].ID, &r.specBul[i])
	}
	for i := range t.Operations {
		put("operation", t.Operations[i].Number, &r.opBul[i])
	}
	for i := range t.Tests {
		put("test", t.Tests[i].Publication+"/"+t.Tests[i].Chapter+"/"+t.Tests[i].Step, &r.testBul[i])
	}
	for i := range t.TroubleCodes {
		put("trouble", t.TroubleCodes[i].System+"/"+t.TroubleCodes[i].Code, &r.troubBul[i])
	}
	for i := range t.Schedule {
		put("service", t.Schedule[i].Name, &r.serviceBul[i])
	}
	for i := range t.Bulletins {
		for _, k := range t.Bulletins[i].Amends {
			for _, l := range rows[k] {
				*l = append(*l, bulletinRef{int32(i), false})
			}
		}
		for _, k := range t.Bulletins[i].Replaces {
			for _, l := range rows[k] {
				*l = append(*l, bulletinRef{int32(i), true})
			}
		}
	}
	for i := range t.Procedures {
		pub := r.procPub[i]
		r.procKey[i].noted = len(r.procBul[i]) > 0 || pub >= 0 && len(r.pubBul[pub]) > 0
	}
}

func (r *Resolver) indexWords() {
	t, w := r.t, r.wording
	r.components = newVocabulary(w)
	for i := range t.Components {
		r.components.add(t.Components[i].Term, int32(i))
		for _, s := range t.Components[i].Synonyms {
			r.components.add(s.Term, int32(i))
		}
	}
	r.quantities = newVocabulary(w)
	quantity := map[string]int32{}
	for i := range t.Specifications {
		s := &t.Specifications[i]
		id, ok := quantity[s.Quantity]
		if !ok {
			id = int32(len(r.quantRows))
			quantity[s.Quantity] = id
			r.quantRows = append(r.quantRows, nil)
			r.quantities.add(s.Quantity, id)
		}
		for _, syn := range s.Synonyms {
			r.quantities.add(syn.Term, id)
		}
		r.quantRows[id] = append(r.quantRows[id], int32(i))
	}
	r.systems = newVocabulary(w)
	for i := range t.Guide {
		r.systems.add(t.Guide[i].System, int32(i))
		for _, s := range t.Guide[i].Complaints {
			r.systems.add(s.Term, int32(i))
		}
	}
	r.actionVoc = newVocabulary(w)
	for i, a := range r.actions {
		r.actionVoc.add(a, int32(i))
		for _, s := range r.meta.Actions[a].Synonyms {
			r.actionVoc.add(dropLang(s), int32(i))
		}
	}
	r.services = newVocabulary(w)
	for i := range t.Schedule {
		id := r.serviceID[t.Schedule[i].Name]
		r.services.add(t.Schedule[i].Name, id)
		if t.Schedule[i].Title != "" {
			r.services.add(t.Schedule[i].Title, id)
		}
	}
	for name, j := range r.meta.Jobs {
		if id, ok := r.serviceID[j.Service]; ok {
			r.services.add(name, id)
			for _, s := range j.Synonyms {
				r.services.add(dropLang(s), id)
			}
		}
	}
	r.jobs = map[string]*job{}
	for i := range t.Procedures {
		title := t.Procedures[i].Job
		if _, ok := r.jobs[title]; !ok {
			r.jobs[title] = r.classify(title)
		}
	}
}

// dropLang takes the language tag off a synonym written "de:erneuern".
func dropLang(s string) string {
	if tag, rest, ok := strings.Cut(s, ":"); ok && len(tag) >= 2 && len(tag) <= 5 && !strings.Contains(tag, " ") {
		return strings.TrimSpace(rest)
	}
	return s
}

// Codes lists the known codes of a unit in order, in folded form.
func (r *Resolver) Codes(unit string) []string {
	id, ok := r.unitID[unit]
	if !ok {
		return nil
	}
	return slices.Clone(r.units[id].codes)
}
