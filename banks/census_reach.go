package banks

import (
	"context"
	"slices"
	"strings"
	"sync"

	"rightpage/banks/resolver"
)

// Reach says of a table of the catalog which of its records no question
// reaches. A question reaches a record if its answer rests on it.
type Reach struct {
	Table   string `json:"table"`
	Records int    `json:"records"`
	Reached int    `json:"reached"`
	// Certain tells that no question at all reaches the others. Otherwise none
	// of those that were tried does.
	Certain bool     `json:"certain"`
	Missed  []string `json:"missed,omitempty"` // keys of the others, in the order of the table; at most MissedListed
}

// MissedListed is how many keys of records that are not reached a census lists
// of each table.
const MissedListed = 1000

// tableReach notes which rows of a table were reached.
type tableReach struct {
	name    string
	key     []string         // of each row, as a target of the catalog names it; "" for what is no record
	label   []string         // of each row, with more to tell rows of one key apart
	rows    map[string][]int // by key
	reached []bool
}

// reach notes what was reached; it is safe for use by many goroutines. Only
// ever more is noted, so that the result does not depend on the order.
type reach struct {
	src    *Source
	mu     sync.Mutex
	tables []*tableReach
	byName map[string]*tableReach
}

func newReach(src *Source) *reach {
	r := &reach{src: src, byName: map[string]*tableReach{}}
	t := src.T
	r.add("scheme", len(t.Schemes), func(i int) string {
		if t.Schemes[i].Value != "" {
			return "" // a value of a field is no record to ask about
		}
		return t.Schemes[i].Scheme + "/" + t.Schemes[i].Field
	})
	r.add("model", len(t.Models), func(i int) string { return t.Models[i].Code })
	r.add("group", len(t.Groups), func(i int) string { return t.Groups[i].Code })
	r.add("component", len(t.Components), func(i int) string { return t.Components[i].Term })
	r.add("publication", len(t.Publications), func(i int) string { return t.Publications[i].ID })
	r.add("procedure", len(t.Procedures), func(i int) string { return t.Procedures[i].ID })
	r.add("service", len(t.Schedule), func(i int) string { return t.Schedule[i].Name })
	r.add("operation", len(t.Operations), func(i int) string { return t.Operations[i].Number })
	r.add("specification", len(t.Specifications), func(i int) string { return t.Specifications[i].ID })
	r.add("guide", len(t.Guide), func(i int) string {
		return t.Guide[i].System + "/" + t.Guide[i].Publication + "/" + t.Guide[i].Section
	})
	r.add("test", len(t.Tests), func(i int) string {
		return t.Tests[i].Publication + "/" + t.Tests[i].Chapter + "/" + t.Tests[i].Step
	})
	r.add("trouble", len(t.TroubleCodes), func(i int) string { return t.TroubleCodes[i].System + "/" + t.TroubleCodes[i].Code })
	r.add("bulletin", len(t.Bulletins), func(i int) string { return t.Bulletins[i].ID })
	// Several rows share a number or a name: say which.
	for i, s := range t.Schedule {
		if s.AppliesTo != "" {
			r.byName["service"].label[i] += " for " + string(s.AppliesTo)
		}
	}
	for i, o := range t.Operations {
		r.byName["operation"].label[i] += " in " + o.Publication
	}
	return r
}

func (r *reach) add(name string, n int, key func(int) string) {
	t := &tableReach{name: name, key: make([]string, n), rows: map[string][]int{}, reached: make([]bool, n)}
	for i := range n {
		t.key[i] = key(i)
		t.rows[t.key[i]] = append(t.rows[t.key[i]], i)
	}
	t.label = slices.Clone(t.key)
	r.tables = append(r.tables, t)
	r.byName[name] = t
}

func (t *tableReach) row(i int32) {
	if i >= 0 && int(i) < len(t.reached) {
		t.reached[i] = true
	}
}

func (t *tableReach) named(key string) {
	if key != "" {
		for _, i := range t.rows[key] {
			t.reached[i] = true
		}
	}
}

// itemTables gives the table of the catalog for that of an answer's item.
var itemTables = [...]struct {
	table resolver.Table
	name  string
}{
	{resolver.ProcedureTable, "procedure"}, {resolver.OperationTable, "operation"}, {resolver.SpecificationTable, "specification"},
	{resolver.TestTable, "test"}, {resolver.TroubleTable, "trouble"}, {resolver.BulletinTable, "bulletin"},
}

// mark notes what the question on the workbench reaches: what it says that it
// is about, and what its answer rests on.
func (r *reach) mark(m *Maker) {
	var a resolver.Answer
	m.R.Resolve(&m.Q.Query, resolver.Break{}, &a)
	r.mu.Lock()
	defer r.mu.Unlock()
	about := &m.Q.About
	if table, key, ok := strings.Cut(about.Record, ":"); ok && r.byName[table] != nil {
		r.byName[table].named(key)
	}
	r.byName["publication"].named(about.Publication)
	r.byName["group"].named(about.Group)
	for _, g := range about.Within {
		r.byName["group"].named(g)
	}
	if card := a.Path[resolver.CardStep]; card >= 0 {
		r.byName["model"].row(card)
	} else {
		r.byName["model"].named(about.Model)
	}
	for _, row := range a.Services {
		r.byName["service"].row(row)
	}
	if m.Q.Query.Task == resolver.DueTask {
		return // which services are due is asked, not where their operations stand
	}
	for _, it := range a.Items {
		for _, t := range itemTables {
			if it.Table == t.table {
				r.byName[t.name].row(it.Row)
			}
		}
		r.byName["publication"].row(it.Publication)
		r.byName["bulletin"].row(it.Bulletin)
		if it.Table == resolver.ProcedureTable && it.Row >= 0 {
			r.byName["component"].named(r.src.T.Procedures[it.Row].Component)
		}
	}
	for _, am := range a.Amendments {
		r.byName["bulletin"].row(am.Bulletin)
	}
}

// run is the sites of one row: a stretch of those inside and one of those at
// limits, each up to and without its end.
type run struct {
	row                  int32
	from, to, lfrom, lto int
}

// walk looks for the records that a sample may have missed. Kinds put the row
// of the record that they ask about into Site.Row: for each row of which no
// question was made the sites are tried one after the other until there is
// one. The same is done for each card.
func (t *taker) walk(ctx context.Context, s *stratum) error {
	if s.exact() {
		return nil
	}
	table := t.tableOf(s)
	runs := s.runs()
	if table != nil {
		t.reach.mu.Lock()
		runs = slices.DeleteFunc(runs, func(r run) bool { return int(r.row) < len(table.reached) && table.reached[r.row] })
		t.reach.mu.Unlock()
	}
	err := t.each(ctx, len(runs), func(_ int, m *Maker, i int) {
		r := runs[i]
		for j := r.from; j < r.to; j++ {
			if t.try(m, s, s.sites.Inside[j]) {
				return
			}
		}
		for j := r.lfrom; j < r.lto; j++ {
			if t.try(m, s, s.sites.Limits[j]) {
				return
			}
		}
	})
	if err != nil {
		return err
	}
	cards := t.cardsMissed()
	if len(cards) == 0 {
		return nil
	}
	byCard := map[int32][]Site{}
	for site := range s.sites.All() {
		if cards[site.Card] {
			byCard[site.Card] = append(byCard[site.Card], site)
		}
	}
	var missed []int32
	for c := range byCard {
		missed = append(missed, c)
	}
	slices.Sort(missed)
	return t.each(ctx, len(missed), func(_ int, m *Maker, i int) {
		for _, site := range byCard[missed[i]] {
			if t.try(m, s, site) {
				return
			}
		}
	})
}

func (t *taker) try(m *Maker, s *stratum, site Site) bool {
	if !m.Make(s.kind, site, t.o.Seed) {
		return false
	}
	t.reach.mark(m)
	return true
}

// tableOf finds out which table the rows of a kind's sites belong to, by making
// a few questions; nil if it cannot be told.
func (t *taker) tableOf(s *stratum) *tableReach {
	m := NewMaker(t.src, t.o.Weights)
	m.Options = t.o.Options
	w := newWalk(s.sites.Len(), t.o.Seed)
	var table *tableReach
	const enough = 8
	for i, made := 0, 0; i < min(s.sites.Len(), 40*enough) && made < enough; i++ {
		site := s.at(w.at(i))
		if !m.Make(s.kind, site, t.o.Seed) {
			continue
		}
		made++
		name, key, _ := strings.Cut(m.Q.About.Record, ":")
		of := t.reach.byName[name]
		if of == nil || int(site.Row) >= len(of.key) || of.key[site.Row] != key || table != nil && table != of {
			return nil
		}
		table = of
	}
	return table
}

// runs parts the sites by row; both lists are in the order of rows.
func (s *stratum) runs() []run {
	var out []run
	in, lim := s.sites.Inside, s.sites.Limits
	i, l := 0, 0
	for i < len(in) || l < len(lim) {
		var r run
		switch {
		case l == len(lim), i < len(in) && in[i].Row <= lim[l].Row:
			r.row = in[i].Row
		default:
			r.row = lim[l].Row
		}
		r.from = i
		for i < len(in) && in[i].Row == r.row {
			i++
		}
		r.to, r.lfrom = i, l
		for l < len(lim) && lim[l].Row == r.row {
			l++
		}
		r.lto = l
		out = append(out, r)
	}
	return out
}

// cardsMissed lists the units (indexes into Source.Units, as in Site.Card) whose
// data cards were not reached.
func (t *taker) cardsMissed() map[int32]bool {
	t.reach.mu.Lock()
	defer t.reach.mu.Unlock()
	out := map[int32]bool{}
	models := t.reach.byName["model"]
	for i := range t.src.Units {
		if card := t.src.Units[i].Card; card >= 0 && !models.reached[card] {
			out[int32(i)] = true
		}
	}
	return out
}

// vehicleDependent are the tables whose records an answer can rest on without
// their being what the question is about.
var vehicleDependent = []string{"bulletin", "service", "operation", "test"}

// report lists what was not reached. What hangs on the vehicle and not on the
// record alone is certain only if every site was tried.
func (r *reach) report(exact bool) []Reach {
	var out []Reach
	for _, t := range r.tables {
		line := Reach{Table: t.name, Certain: exact || !slices.Contains(vehicleDependent, t.name)}
		for i, key := range t.key {
			if key == "" {
				continue
			}
			line.Records++
			if t.reached[i] {
				line.Reached++
			} else if len(line.Missed) < MissedListed {
				line.Missed = append(line.Missed, t.label[i])
			}
		}
		if line.Records > 0 {
			out = append(out, line)
		}
	}
	return out
}
