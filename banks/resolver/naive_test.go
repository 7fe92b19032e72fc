package resolver_test

import (
	"slices"
	"strconv"
	"strings"
	"unicode"

	"github.com/gertd/go-pluralize"
	"golang.org/x/text/unicode/norm"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// The naive resolver answers a lookup straight from the definitions in the
// package comment of resolver: nested loops over the tables, no index, nothing
// shared with the real one but the catalog's own records. It is written to be
// read beside the definitions; where the two resolvers differ one of them, or
// the definition, is wrong.
type naive struct {
	c    *catalog.Catalog
	t    *catalog.Tables
	meta catalog.Meta
	memo map[string][]string // words of a text: turning plurals takes most of the time
}

// naiveUnit is what is known of one unit: code "" is not known.
type naiveUnit struct {
	code    string
	serials catalog.Serials
}

// naiveBranch is one vehicle that the one at hand may be.
type naiveBranch struct {
	built catalog.Days
	units map[string]naiveUnit
}

// naiveRecord is a record at its place: the table, the row and the edition. An
// operation that is listed without a place has row -1.
type naiveRecord struct {
	table resolver.Table
	row   int
	pub   int
	op    string // operation number
}

// naivePlace is a record, or the bulletin to read instead of it (-1: none).
type naivePlace struct {
	naiveRecord
	bulletin int
}

// naiveAmendment says that a bulletin belongs to a record of the answer.
type naiveAmendment struct {
	naiveRecord
	bulletin int
	replaces bool
}

// naiveAnswer is what is compared. failed counts only where settled.
type naiveAnswer struct {
	status     resolver.Status
	places     map[naivePlace]bool // → Partly
	amendments map[naiveAmendment]bool
	services   map[int]bool
	failed     resolver.Step
	settled    bool
}

func newNaive(c *catalog.Catalog) *naive {
	return &naive{c: c, t: c.Tables(), meta: c.Meta(), memo: map[string][]string{}}
}

// find is one record found on one branch, before bulletins.
type find struct {
	rec     naiveRecord
	slot    string
	fit     catalog.Fit
	service int // row of the schedule that asks for it, -1: none
}

// resolve answers a lookup.
func (n *naive) resolve(q *resolver.Query) naiveAnswer {
	a := naiveAnswer{places: map[naivePlace]bool{}, amendments: map[naiveAmendment]bool{}, services: map[int]bool{}}
	branches, failed := n.branches(&q.Vehicle)
	if len(branches) == 0 {
		a.failed, a.settled = failed, n.understood(q)
		return a
	}

	var tries []try // of a job, the same on every branch
	if q.Task == resolver.JobTask {
		tries = n.tries(q.Text)
	}
	slotOf := map[naivePlace]string{}
	withinOn := map[naivePlace]int{} // on how many branches a place fits Within
	for _, b := range branches {
		var finds []find
		finds, failed, a.settled = n.onBranch(q, tries, b, a.services)
		a.failed = max(a.failed, failed)
		fits := map[naivePlace]catalog.Fit{}
		for _, f := range finds {
			for place, fit := range n.amend(b, f, a.amendments) {
				slotOf[place] = f.slot
				fits[place] = max(fits[place], fit)
			}
		}
		for place, fit := range fits {
			if fit == catalog.Within {
				withinOn[place]++
			}
			a.places[place] = true
		}
	}
	slots, partly, placed := map[string]int{}, false, false
	for place := range a.places {
		a.places[place] = withinOn[place] < len(branches)
		partly = partly || a.places[place]
		slots[slotOf[place]]++
		placed = placed || place.row >= 0
	}
	several := false
	for _, k := range slots {
		several = several || k > 1
	}
	switch {
	case !placed:
		a.status = resolver.NotCovered
	case several || partly:
		a.status = resolver.Ambiguous
	default:
		a.status = resolver.Found
	}
	return a
}

// understood tells whether the words or the code of a query mean anything; where
// they do not, and the vehicle is not known either, it is not settled which of
// the two ends the lookup.
func (n *naive) understood(q *resolver.Query) bool {
	switch q.Task {
	case resolver.JobTask:
		return len(n.servicesNamed(q.Text)) > 0 || len(n.tries(q.Text)) > 0
	case resolver.SpecTask:
		m, _ := n.quantities(q.Text)
		return m.kind > 0
	case resolver.ComplaintTask:
		m, _ := n.complaints(q.Text)
		return m.kind > 0
	case resolver.TroubleTask:
		return len(n.troubleRows(q)) > 0
	}
	return true
}

// onBranch dispatches on the task.
func (n *naive) onBranch(q *resolver.Query, tries []try, b naiveBranch, services map[int]bool) (finds []find, failed resolver.Step, settled bool) {
	switch q.Task {
	case resolver.JobTask:
		if names := n.servicesNamed(q.Text); len(names) > 0 {
			rows := n.scheduleRows(b, q.Duty, func(s *catalog.Service) bool { return slices.Contains(names, s.Name) })
			return n.operations(b, rows, services), 0, false
		}
		return n.job(b, tries)
	case resolver.DueTask:
		rows := n.scheduleRows(b, q.Duty, func(s *catalog.Service) bool { return s.Class == catalog.Maintenance })
		return n.operations(b, n.due(rows, &q.Due), services), 0, false
	case resolver.SpecTask:
		return n.specification(b, q)
	case resolver.ComplaintTask:
		return n.complaint(b, q)
	case resolver.TroubleTask:
		return n.trouble(b, q), 0, false
	}
	panic("no such task")
}

// ---- What is known of the vehicle

// reading is one way to read the plate.
type reading struct {
	built catalog.Days
	model naiveUnit
	units map[string]string // codes of further units
}

// branches gives every vehicle that the one at hand may be, or the step at
// which reading ended.
func (n *naive) branches(v *resolver.Vehicle) ([]naiveBranch, resolver.Step) {
	given := map[string]naiveUnit{} // units whose number or code the query gives
	for unit, number := range map[string]string{catalog.UnitEngine: v.Engine, catalog.UnitTransmission: v.Transmission} {
		if number != "" {
			u, ok := n.readNumber(unit, number, v.Built.Span())
			if !ok {
				return nil, resolver.CodeStep
			}
			given[unit] = u
		}
	}
	if v.Model != "" && !n.known(catalog.UnitModel, v.Model) {
		return nil, resolver.CodeStep
	}
	serial := catalog.Serials{From: v.Serial, Through: v.Serial}

	if v.Chassis == "" && v.Model == "" {
		if len(given) == 0 {
			return nil, resolver.CodeStep
		}
		if v.Serial != 0 {
			given[n.meta.Primary] = naiveUnit{given[n.meta.Primary].code, serial}
		}
		return []naiveBranch{{v.Built.Span(), given}}, 0
	}
	readings := []reading{{built: v.Built.Span(), model: naiveUnit{v.Model, serial}}}
	if v.Chassis != "" {
		readings = n.readChassis(v.Chassis, v.Built.Span())
	}
	var branches []naiveBranch
	failed := resolver.CodeStep
	for _, r := range readings {
		if v.Model != "" && !sameCode(v.Model, r.model.code) {
			continue
		}
		if v.Serial != 0 {
			if r.model.serials != (catalog.Serials{}) && r.model.serials != serial {
				continue
			}
			r.model.serials = serial
		}
		failed = resolver.CardStep
		for i := range n.t.Models {
			card := &n.t.Models[i]
			if !sameCode(card.Code, r.model.code) || card.Range.Fit(r.built, r.model.serials) == catalog.Outside {
				continue
			}
			b := naiveBranch{built: r.built.Meet(card.Range.Days()), units: map[string]naiveUnit{}}
			for unit, code := range r.units {
				b.units[unit] = naiveUnit{code: code}
			}
			for unit, code := range cardCodes(card) {
				b.units[unit] = naiveUnit{code: code}
			}
			another := false
			for unit, u := range given {
				on := b.units[unit].code
				switch {
				case u.code == "":
					u.code = on
				case on != "" && !sameCode(on, u.code):
					another = true
				}
				b.units[unit] = u
			}
			if another {
				continue
			}
			model := r.model
			if model.serials == (catalog.Serials{}) {
				model.serials = card.Range.Serials
			}
			b.units[catalog.UnitModel] = model
			branches = append(branches, b)
		}
	}
	return branches, failed
}

// cardCodes lists the codes on a data card by unit, the model's own left out.
func cardCodes(m *catalog.Model) map[string]string {
	codes := map[string]string{}
	for _, u := range append([]catalog.UnitCode{{Unit: catalog.UnitEngine, Code: m.Engine}, {Unit: catalog.UnitTransmission, Code: m.Transmission}}, m.Units...) {
		if u.Code != "" {
			codes[u.Unit] = u.Code
		}
	}
	return codes
}

func sameCode(a, b string) bool { return catalog.Fold(a) == catalog.Fold(b) }

// meanings gives what a field can mean in a span of build dates; nothing where
// its value table rules the value out.
func meanings(f catalog.FieldValue, built catalog.Days) []catalog.Meaning {
	if len(f.Means) == 0 {
		return []catalog.Meaning{{Text: f.Raw, Days: catalog.AnyDay()}}
	}
	var in []catalog.Meaning
	for _, m := range f.Means {
		if catalog.FitDays(built, m.Days) != catalog.Outside {
			if m.Text == "" {
				m.Text = f.Raw
			}
			in = append(in, m)
		}
	}
	return in
}

// only gives the code that all meanings name, "" where they differ.
func only(means []catalog.Meaning) string {
	for _, m := range means {
		if !sameCode(m.Text, means[0].Text) {
			return ""
		}
	}
	return means[0].Text
}

// readChassis reads a chassis number by every scheme that it meets.
func (n *naive) readChassis(number string, known catalog.Days) []reading {
	var readings []reading
	for _, d := range n.c.Decoders(catalog.KindChassis) {
		fields, err := d.Read(catalog.Fold(number), nil)
		if err != nil {
			continue
		}
		field := map[string]catalog.FieldValue{}
		for _, f := range fields {
			field[f.Field.Name] = f
		}
		for _, built := range years(field, known) {
			readings = append(readings, n.readFields(field, built)...)
		}
	}
	return readings
}

// years gives the spans of build dates that year and month can mean.
func years(field map[string]catalog.FieldValue, known catalog.Days) []catalog.Days {
	year, ok := field["year"]
	if !ok {
		return []catalog.Days{known}
	}
	var spans []catalog.Days
	for _, m := range meanings(year, known) {
		y, err := strconv.Atoi(m.Text)
		if err != nil || y < 1900 || y > 2199 {
			continue
		}
		d := catalog.Date{Year: int16(y)}
		if month, ok := field["month"]; ok {
			if k, err := strconv.Atoi(only(meanings(month, known))); err == nil && k >= 1 && k <= 12 {
				d.Month = int8(k)
			}
		}
		if span := known.Meet(d.Span()).Meet(m.Days); !span.Empty() {
			spans = append(spans, span)
		}
	}
	return spans
}

// readFields gives the readings of a number built in a span of dates: one for
// each model that it can mean.
func (n *naive) readFields(field map[string]catalog.FieldValue, built catalog.Days) []reading {
	units := map[string]string{}
	for name, f := range field {
		means := meanings(f, built)
		if len(means) == 0 {
			return nil
		}
		if name != catalog.UnitModel && slices.Contains(n.unitNames(), name) && n.known(name, only(means)) {
			units[name] = only(means)
		}
	}
	model, ok := field[catalog.UnitModel]
	if !ok {
		return nil
	}
	var readings []reading
	for _, m := range meanings(model, built) {
		if !n.known(catalog.UnitModel, m.Text) {
			continue
		}
		r := reading{built.Meet(m.Days), naiveUnit{code: m.Text}, units}
		if s, ok := field["serial"].Number(); ok {
			r.model.serials = catalog.Serials{From: s, Through: s}
		}
		readings = append(readings, r)
	}
	return readings
}

// readNumber reads the number, or the code, of a unit.
func (n *naive) readNumber(unit, number string, built catalog.Days) (naiveUnit, bool) {
	for _, d := range n.c.Decoders(unit) {
		fields, err := d.Read(catalog.Fold(number), nil)
		if err != nil {
			continue
		}
		var u naiveUnit
		fits := false
		for _, f := range fields {
			switch f.Field.Name {
			case unit:
				in := slices.DeleteFunc(meanings(f, built), func(m catalog.Meaning) bool { return !n.known(unit, m.Text) })
				if len(in) > 0 {
					fits, u.code = true, only(in)
				}
			case "serial":
				if s, ok := f.Number(); ok {
					u.serials = catalog.Serials{From: s, Through: s}
				}
			}
		}
		if fits {
			return u, true
		}
	}
	if n.known(unit, number) {
		return naiveUnit{code: number}, true
	}
	return naiveUnit{}, false
}

// unitNames lists the names of units.
func (n *naive) unitNames() []string {
	names := []string{catalog.UnitModel, catalog.UnitEngine, catalog.UnitTransmission}
	for _, m := range n.t.Models {
		for _, u := range m.Units {
			names = append(names, u.Unit)
		}
	}
	return names
}

// known tells whether a code of a unit occurs in the catalog.
func (n *naive) known(unit, code string) bool {
	if code == "" {
		return false
	}
	for i := range n.t.Models {
		on := cardCodes(&n.t.Models[i])
		on[catalog.UnitModel] = n.t.Models[i].Code
		if on[unit] != "" && sameCode(on[unit], code) {
			return true
		}
	}
	written := func(keyed string, p catalog.Pattern) bool {
		if keyed != unit {
			return false
		}
		for alt := range strings.SplitSeq(string(p), ";") {
			alt = strings.TrimPrefix(strings.TrimSpace(alt), "!")
			if alt != "" && !strings.ContainsAny(alt, "*?") && sameCode(alt, code) {
				return true
			}
		}
		return false
	}
	for _, r := range n.t.Publications {
		if written(r.KeyedBy, r.AppliesTo) {
			return true
		}
	}
	for _, r := range n.t.Procedures {
		if p := n.publication(r.Publication); p >= 0 && written(n.t.Publications[p].KeyedBy, r.AppliesTo) {
			return true
		}
	}
	for _, r := range n.t.Schedule {
		if written(r.KeyedBy, r.AppliesTo) {
			return true
		}
	}
	for _, r := range n.t.Specifications {
		if written(r.KeyedBy, r.AppliesTo) {
			return true
		}
	}
	for _, r := range n.t.Guide {
		if written(r.KeyedBy, r.AppliesTo) {
			return true
		}
	}
	for _, r := range n.t.TroubleCodes {
		if written(r.KeyedBy, r.AppliesTo) {
			return true
		}
	}
	for _, r := range n.t.Bulletins {
		if written(r.KeyedBy, r.AppliesTo) {
			return true
		}
	}
	for _, kind := range []string{unit, catalog.KindChassis} {
		for _, d := range n.c.Decoders(kind) {
			for _, f := range d.Fields() {
				if f.Name != unit {
					continue
				}
				for _, v := range f.Values {
					for _, m := range v.Means {
						if m.Text != "" && sameCode(m.Text, code) || m.Text == "" && sameCode(v.Raw, code) {
							return true
						}
					}
				}
			}
		}
	}
	return false
}

// ---- Fit, supersession, cover

// fit compares a record with a branch.
func (b naiveBranch) fit(keyed string, p catalog.Pattern, e catalog.Effectivity) catalog.Fit {
	u := b.units[keyed]
	f := e.Fit(b.built, u.serials)
	switch {
	case strings.TrimSpace(string(p)) == "":
		return f
	case u.code == "":
		return min(f, catalog.Partly)
	case !p.Match(u.code):
		return catalog.Outside
	}
	return f
}

// publication finds the row of an edition; -1: there is none.
func (n *naive) publication(id string) int {
	return slices.IndexFunc(n.t.Publications, func(p catalog.Publication) bool { return p.ID == id })
}

func (n *naive) publicationFit(b naiveBranch, i int) catalog.Fit {
	p := &n.t.Publications[i]
	return b.fit(p.KeyedBy, p.AppliesTo, p.Effectivity)
}

func (n *naive) superseded(b naiveBranch, i int) bool {
	for j := range n.t.Publications {
		other := &n.t.Publications[j]
		if j != i && other.Class == n.t.Publications[i].Class && slices.Contains(other.Supersedes, n.t.Publications[i].ID) &&
			n.publicationFit(b, j) == catalog.Within {
			return true
		}
	}
	return false
}

// editionFit is the fit of an edition that is not superseded.
func (n *naive) editionFit(b naiveBranch, id string) (int, catalog.Fit) {
	i := n.publication(id)
	if i < 0 || n.superseded(b, i) {
		return i, catalog.Outside
	}
	return i, n.publicationFit(b, i)
}

func (n *naive) procedureFit(b naiveBranch, i int) catalog.Fit {
	p := &n.t.Procedures[i]
	pub := n.publication(p.Publication)
	if pub < 0 {
		return catalog.Outside
	}
	return b.fit(n.t.Publications[pub].KeyedBy, p.AppliesTo, p.Effectivity)
}

func (n *naive) replaced(b naiveBranch, i int) bool {
	for j := range n.t.Procedures {
		other := &n.t.Procedures[j]
		if j == i || !slices.Contains(other.Replaces, n.t.Procedures[i].ID) || n.procedureFit(b, j) != catalog.Within {
			continue
		}
		if n.publicationFit(b, n.publication(other.Publication)) == catalog.Within {
			return true
		}
	}
	return false
}

func (n *naive) covers(p *catalog.Publication, group string) bool {
	if len(p.Groups) == 0 {
		return true
	}
	for range len(n.t.Groups) + 1 { // no longer than the longest chain of parents
		if slices.Contains(p.Groups, group) {
			return true
		}
		i := slices.IndexFunc(n.t.Groups, func(g catalog.Group) bool { return g.Code == group })
		if i < 0 {
			return false
		}
		group = n.t.Groups[i].Parent
		if group == "" {
			return false
		}
	}
	return false
}

// ---- Words

var fillers = strings.Fields("a an the of for on in at to and or with from my its it is are please")

// words brings a text to the words that count.
func (n *naive) words(text string) []string {
	if w, ok := n.memo[text]; ok {
		return w
	}
	plain := strings.Map(func(r rune) rune {
		switch {
		case unicode.Is(unicode.Mn, r):
			return -1
		case unicode.IsLetter(r) || unicode.IsDigit(r):
			return unicode.ToLower(r)
		}
		return ' '
	}, norm.NFD.String(text))
	words := []string{}
	for _, w := range strings.Fields(plain) {
		if slices.Contains(fillers, w) {
			continue
		}
		if len([]rune(w)) > 3 && !strings.ContainsFunc(w, unicode.IsDigit) {
			w = singulars.Singular(w)
		}
		words = append(words, w)
	}
	n.memo[text] = words
	return words
}

var singulars = pluralize.NewClient()

// match is how close two texts are: in what way, and for misspelt ones the edits.
type match struct{ kind, edits int }

// The ways of matching, from worst to best; 0 is none.
const (
	inPart = 1 + iota
	misspelt
	exactly
)

// better orders matches.
func (m match) better(o match) bool { return m.kind > o.kind || m.kind == o.kind && m.edits < o.edits }

// compare compares the words of a query with those of a term of the catalog.
func compare(query, term []string) match {
	if len(query) == 0 || len(term) == 0 {
		return match{}
	}
	if len(query) == len(term) {
		switch edits, ok := pair(query, term); {
		case ok && edits == 0:
			return match{kind: exactly}
		case ok && len(query) <= 8:
			return match{misspelt, edits}
		}
	}
	for _, w := range query {
		if !slices.Contains(term, w) {
			return match{}
		}
	}
	return match{kind: inPart}
}

// pair finds the pairing of words with the fewest edits.
func pair(query, term []string) (edits int, ok bool) {
	if len(query) == 0 {
		return 0, true
	}
	for j, w := range term {
		e := osa(query[0], w)
		if e > allowance(w) {
			continue
		}
		rest, fits := pair(query[1:], slices.Concat(term[:j], term[j+1:]))
		if fits && (!ok || e+rest < edits) {
			edits, ok = e+rest, true
		}
	}
	return edits, ok
}

func allowance(w string) int {
	switch n := len([]rune(w)); {
	case n <= 3:
		return 0
	case n <= 7:
		return 1
	}
	return 2
}

// osa counts insertions, deletions, substitutions and swaps of neighbours
// (optimal string alignment: no part of a word is edited twice).
func osa(s, t string) int {
	if s == t {
		return 0
	}
	a, b := []rune(s), []rune(t)
	if len(a)-len(b) > 2 || len(b)-len(a) > 2 {
		return 99 // more than any allowance
	}
	d := make([][]int, len(a)+1)
	for i := range d {
		d[i] = make([]int, len(b)+1)
		d[i][0] = i
	}
	for j := range d[0] {
		d[0][j] = j
	}
	for i := 1; i <= len(a); i++ {
		for j := 1; j <= len(b); j++ {
			change := 1
			if a[i-1] == b[j-1] {
				change = 0
			}
			d[i][j] = min(d[i-1][j]+1, d[i][j-1]+1, d[i-1][j-1]+change)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				d[i][j] = min(d[i][j], d[i-2][j-2]+1)
			}
		}
	}
	return d[len(a)][len(b)]
}

// bestOf gives the rows that have the best match among their terms.
func (n *naive) bestOf(query []string, rows int, terms func(i int) []string) (match, []int) {
	var best match
	var hits []int
	for i := range rows {
		var m match
		for _, term := range terms(i) {
			if k := compare(query, n.words(term)); k.better(m) {
				m = k
			}
		}
		switch {
		case m.kind == 0:
		case m.better(best):
			best, hits = m, []int{i}
		case m == best:
			hits = append(hits, i)
		}
	}
	return best, hits
}

func termsOf(first string, more []catalog.Synonym) []string {
	terms := []string{first}
	for _, s := range more {
		terms = append(terms, s.Term)
	}
	return terms
}

// plainTerm takes the language off a synonym of the settings: "de:erneuern".
func plainTerm(s string) string {
	if _, term, ok := strings.Cut(s, ":"); ok {
		return term
	}
	return s
}

// ---- Repair and maintenance jobs

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

// ---- Services

// servicesNamed gives the names of the services that a text asks for.
func (n *naive) servicesNamed(text string) []string {
	words := n.words(text)
	exact := func(term string) bool { return compare(words, n.words(term)).kind == exactly }
	var names []string
	for _, s := range n.t.Schedule {
		if exact(s.Name) || exact(s.Title) {
			names = append(names, s.Name)
		}
	}
	for name, job := range n.meta.Jobs {
		if exact(name) || slices.ContainsFunc(job.Synonyms, func(s string) bool { return exact(plainTerm(s)) }) {
			if slices.ContainsFunc(n.t.Schedule, func(s catalog.Service) bool { return s.Name == job.Service }) {
				names = append(names, job.Service)
			}
		}
	}
	return names
}

type scheduleRow struct {
	row int
	fit catalog.Fit
}

// scheduleRows gives the rows of the schedule that fit a branch and a duty.
func (n *naive) scheduleRows(b naiveBranch, duty string, want func(*catalog.Service) bool) []scheduleRow {
	var rows []scheduleRow
	for i := range n.t.Schedule {
		s := &n.t.Schedule[i]
		fit := b.fit(s.KeyedBy, s.AppliesTo, s.Effectivity)
		switch {
		case s.Duty == "" || strings.EqualFold(s.Duty, duty):
		case duty == "":
			fit = min(fit, catalog.Partly)
		default:
			continue
		}
		if want(s) && fit != catalog.Outside {
			rows = append(rows, scheduleRow{i, fit})
		}
	}
	return rows
}

func counters(c catalog.Counters) [3]float64 { return [3]float64{c.Distance, c.Hours, c.Months} }

// due keeps the rows that are due at a reading.
func (n *naive) due(rows []scheduleRow, r *resolver.Reading) []scheduleRow {
	now, last := counters(r.Now), counters(r.Last)
	for k := range last {
		if last[k] != 0 {
			continue
		}
		shortest := 0.0
		for _, row := range rows {
			if e := counters(n.t.Schedule[row.row].Every)[k]; e > 0 && (shortest == 0 || e < shortest) {
				shortest = e
			}
		}
		if shortest > 0 {
			last[k] = now[k] - shortest
		}
	}
	var due []scheduleRow
	for _, row := range rows {
		s := &n.t.Schedule[row.row]
		first, every := counters(s.First), counters(s.Every)
		done, wasDone := r.Done[s.Name]
		hit := false
		for k := range now {
			switch {
			case now[k] == 0:
			case wasDone:
				at := counters(done)[k]
				hit = hit || every[k] > 0 && at > 0 && now[k]-at >= every[k]
			default:
				point := first[k]
				if point == 0 {
					point = every[k]
				}
				for point > 0 && point <= last[k] && every[k] > 0 {
					point += every[k]
				}
				hit = hit || point > last[k] && point > 0 && point <= now[k]
			}
		}
		if hit {
			due = append(due, row)
		}
	}
	return due
}

// operations locates the operations of services.
func (n *naive) operations(b naiveBranch, rows []scheduleRow, services map[int]bool) []find {
	var finds []find
	for _, row := range rows {
		services[row.row] = true
		s := &n.t.Schedule[row.row]
		for _, number := range s.Operations {
			placed := false
			for i := range n.t.Operations {
				o := &n.t.Operations[i]
				if o.Number != number {
					continue
				}
				pub, fit := n.editionFit(b, o.Publication)
				if pub < 0 || n.t.Publications[pub].Class != s.Class || fit == catalog.Outside {
					continue
				}
				placed = true
				finds = append(finds, find{naiveRecord{resolver.OperationTable, i, pub, number}, number, min(row.fit, fit), row.row})
			}
			if !placed {
				finds = append(finds, find{naiveRecord{resolver.OperationTable, -1, -1, number}, number, row.fit, row.row})
			}
		}
	}
	return finds
}

// ---- Specifications, complaints, trouble codes

// quantities gives the rows of the quantities that a text names; a synonym
// written in one row of a quantity is one for all its rows.
func (n *naive) quantities(text string) (match, []int) {
	how, hits := n.bestOf(n.words(text), len(n.t.Specifications), func(i int) []string {
		return termsOf(n.t.Specifications[i].Quantity, n.t.Specifications[i].Synonyms)
	})
	var rows []int
	for i := range n.t.Specifications {
		if slices.ContainsFunc(hits, func(h int) bool { return n.t.Specifications[h].Quantity == n.t.Specifications[i].Quantity }) {
			rows = append(rows, i)
		}
	}
	return how, rows
}

func (n *naive) specification(b naiveBranch, q *resolver.Query) (finds []find, failed resolver.Step, settled bool) {
	how, rows := n.quantities(q.Text)
	if how.kind == 0 {
		return nil, resolver.ComponentStep, true
	}
	for _, i := range rows {
		s := &n.t.Specifications[i]
		pub, edition := n.editionFit(b, s.Publication)
		fit := min(edition, b.fit(s.KeyedBy, s.AppliesTo, s.Effectivity))
		if fit == catalog.Outside || q.Ambient != nil && !s.Ambient.Contains(*q.Ambient) {
			continue
		}
		if q.Condition != "" && !strings.EqualFold(s.Condition, q.Condition) {
			continue
		}
		finds = append(finds, find{naiveRecord{resolver.SpecificationTable, i, pub, ""}, "quantity", fit, -1})
	}
	return finds, 0, false
}

// complaints gives the rows of the guide that a text leads to.
func (n *naive) complaints(text string) (match, []int) {
	return n.bestOf(n.words(text), len(n.t.Guide), func(i int) []string {
		return termsOf(n.t.Guide[i].System, n.t.Guide[i].Complaints)
	})
}

func (n *naive) complaint(b naiveBranch, q *resolver.Query) (finds []find, failed resolver.Step, settled bool) {
	how, rows := n.complaints(q.Text)
	if how.kind == 0 {
		return nil, resolver.ComponentStep, true
	}
	for _, i := range rows {
		g := &n.t.Guide[i]
		pub, edition := n.editionFit(b, g.Publication)
		fit := min(edition, b.fit(g.KeyedBy, g.AppliesTo, g.Effectivity))
		if fit == catalog.Outside || pub < 0 {
			continue
		}
		for _, j := range n.nextSteps(g.Publication, g.Section, q) {
			t := &n.t.Tests[j]
			finds = append(finds, find{naiveRecord{resolver.TestTable, j, pub, ""}, t.Chapter + "/" + t.Step, fit, -1})
		}
	}
	return finds, 0, false
}

// nextSteps gives the rows of the steps to go to.
func (n *naive) nextSteps(pub, section string, q *resolver.Query) []int {
	in := func(chapter string) []int {
		var rows []int
		for i, t := range n.t.Tests {
			if t.Publication == pub && t.Chapter == chapter && (t.Side == "" || q.Side == "" || t.Side == q.Side) {
				rows = append(rows, i)
			}
		}
		return rows
	}
	// lowest gives the rows of the lowest step that is higher than a step.
	lowest := func(rows []int, above string) []int {
		var low []int
		for _, i := range rows {
			step := n.t.Tests[i].Step
			if above != "" && catalog.CompareSteps(step, above) <= 0 {
				continue
			}
			if len(low) > 0 {
				switch c := catalog.CompareSteps(step, n.t.Tests[low[0]].Step); {
				case c > 0:
					continue
				case c < 0:
					low = nil
				}
			}
			low = append(low, i)
		}
		return low
	}
	chapter := section
	if q.At.Chapter != "" {
		chapter = q.At.Chapter
	}
	switch q.Outcome {
	case resolver.Passed:
		if !slices.ContainsFunc(in(chapter), func(i int) bool { return n.t.Tests[i].Step == q.At.Step }) {
			return nil // the chapter has no such step
		}
		return lowest(in(chapter), q.At.Step)
	case resolver.Failed:
		var next []int
		for _, i := range in(chapter) {
			t := &n.t.Tests[i]
			if t.Step != q.At.Step {
				continue
			}
			to := t.FailChapter
			if to == "" {
				to = chapter
			}
			if len(t.FailSteps) == 0 {
				next = append(next, lowest(in(to), "")...)
				continue
			}
			for _, j := range in(to) {
				if slices.Contains(t.FailSteps, n.t.Tests[j].Step) {
					next = append(next, j)
				}
			}
		}
		return next
	}
	return lowest(in(section), "")
}

// troubleRows gives the rows of the code that a text is.
func (n *naive) troubleRows(q *resolver.Query) []int {
	rowsOf := func(code string) []int {
		var rows []int
		for i := range n.t.TroubleCodes {
			if troubleCode(n.t.TroubleCodes[i].Code) == troubleCode(code) {
				rows = append(rows, i)
			}
		}
		return rows
	}
	rows := rowsOf(q.Text)
	if len(rows) == 0 {
		for _, d := range n.c.Decoders(catalog.KindTrouble) {
			if t, err := d.Unpack(catalog.Fold(q.Text)); err == nil {
				rows = append(rows, rowsOf(t.String())...)
			}
		}
	}
	if len(rows) == 0 {
		if t, err := catalog.ParseTrouble(q.Text); err == nil {
			rows = rowsOf(t.String())
		}
	}
	return rows
}

// troubleCode folds a code, but keeps a hyphen between two digits.
func troubleCode(code string) string {
	parts := strings.FieldsFunc(code, func(r rune) bool { return r == '-' })
	out := ""
	for _, p := range parts {
		p = catalog.Fold(p)
		if out != "" && p != "" && isDigit(out[len(out)-1]) && isDigit(p[0]) {
			out += "-"
		}
		out += p
	}
	return out
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

func (n *naive) trouble(b naiveBranch, q *resolver.Query) []find {
	var finds []find
	for _, i := range n.troubleRows(q) {
		r := &n.t.TroubleCodes[i]
		if q.System != "" && !strings.EqualFold(r.System, q.System) {
			continue
		}
		pub, edition := n.editionFit(b, r.Publication)
		if fit := min(edition, b.fit(r.KeyedBy, r.AppliesTo, r.Effectivity)); fit != catalog.Outside {
			finds = append(finds, find{naiveRecord{resolver.TroubleTable, i, pub, ""}, "code", fit, -1})
		}
	}
	return finds
}

// ---- Bulletins

// targets gives the names by which a bulletin can name a find.
func (n *naive) targets(f find) []catalog.Target {
	var t []catalog.Target
	switch f.rec.table {
	case resolver.ProcedureTable:
		t = append(t, catalog.Target{Table: "procedure", Key: n.t.Procedures[f.rec.row].ID})
	case resolver.OperationTable:
		t = append(t, catalog.Target{Table: "operation", Key: f.rec.op})
	case resolver.SpecificationTable:
		t = append(t, catalog.Target{Table: "specification", Key: n.t.Specifications[f.rec.row].ID})
	case resolver.TestTable:
		s := &n.t.Tests[f.rec.row]
		t = append(t, catalog.Target{Table: "test", Key: s.Publication + "/" + s.Chapter + "/" + s.Step})
	case resolver.TroubleTable:
		c := &n.t.TroubleCodes[f.rec.row]
		t = append(t, catalog.Target{Table: "trouble", Key: c.System + "/" + c.Code})
	}
	if f.rec.pub >= 0 {
		t = append(t, catalog.Target{Table: "publication", Key: n.t.Publications[f.rec.pub].ID})
	}
	if f.service >= 0 {
		t = append(t, catalog.Target{Table: "service", Key: n.t.Schedule[f.service].Name})
	}
	return t
}

// amend gives the places where a find is to be read on a branch, with their
// fits, and notes the bulletins that name it.
func (n *naive) amend(b naiveBranch, f find, amendments map[naiveAmendment]bool) map[naivePlace]catalog.Fit {
	if f.rec.row < 0 {
		return map[naivePlace]catalog.Fit{{f.rec, -1}: f.fit} // listed without a place: nothing to amend
	}
	names := n.targets(f)
	named := func(list []catalog.Target) bool {
		return slices.ContainsFunc(list, func(t catalog.Target) bool { return slices.Contains(names, t) })
	}
	later := func(i, j int) bool { // i later than j
		x, y := &n.t.Bulletins[i], &n.t.Bulletins[j]
		if dx, dy := x.Issued.First(), y.Issued.First(); dx != dy {
			return dx > dy
		}
		return x.ID > y.ID
	}
	instead := -1
	var partly []int
	for i := range n.t.Bulletins {
		bu := &n.t.Bulletins[i]
		fit := b.fit(bu.KeyedBy, bu.AppliesTo, bu.Effectivity)
		amends, replaces := named(bu.Amends), named(bu.Replaces)
		if fit == catalog.Outside || !amends && !replaces {
			continue
		}
		amendments[naiveAmendment{f.rec, i, replaces}] = true
		switch {
		case !replaces:
		case fit == catalog.Partly:
			partly = append(partly, i)
		case instead < 0 || later(i, instead):
			instead = i
		}
	}
	places := map[naivePlace]catalog.Fit{{f.rec, instead}: f.fit}
	for _, i := range partly {
		if instead < 0 || later(i, instead) {
			places[naivePlace{f.rec, instead}] = catalog.Partly
			places[naivePlace{f.rec, i}] = catalog.Partly
		}
	}
	return places
}
