package resolver

import (
	"cmp"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"rightpage/banks/catalog"
)

// LookupChange is a stretch of vehicles for which a lookup answers differently
// in two revisions.
type LookupChange struct {
	Unit   string       `json:"unit"` // code of the model, or of the primary unit
	Task   string       `json:"task"` // job, specification, trouble code, complaint or service
	Text   string       `json:"text"`
	Group  string       `json:"group,omitempty"`
	From   catalog.Date `json:"from,omitzero"` // build dates, inclusive; zero: open
	Until  catalog.Date `json:"through,omitzero"`
	Serial int64        `json:"serial,omitempty"` // first serial of the stretch, where serials matter
	Before string       `json:"before"`
	After  string       `json:"after"`
}

// LookupsChanged compares all lookups of two revisions.
type LookupsChanged struct {
	Compared int            `json:"compared"` // distinct lookups: unit × task
	Differ   int            `json:"differ"`   // of these, those with any change
	Changes  []LookupChange `json:"changes"`
}

// point is a vehicle that stands for a stretch between two limits.
type point struct {
	built  catalog.Date // first day of the stretch
	until  catalog.Date // its last; zero: open
	serial int64        // first serial of the stretch
}

// DiffLookups asks every lookup of both revisions: each unit, each job,
// quantity, trouble code, complaint and service, at one build date and serial
// in every stretch between the limits of either catalog. progress, if not nil,
// is told of units done.
func DiffLookups(before, after *Resolver, progress func(done, total int)) LookupsChanged {
	units := unionOf(before.comparedUnits(), after.comparedUnits())
	tasks := unionOf(before.tasks(), after.tasks())
	parts := make([][]LookupChange, len(units))
	differ := make([]int, len(units))
	var done atomic.Int64
	var mu sync.Mutex
	var wg sync.WaitGroup
	next := atomic.Int64{}
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			c := comparison{before: before, after: after}
			for {
				i := int(next.Add(1)) - 1
				if i >= len(units) {
					return
				}
				var l limitSet
				before.limitsOf(units[i], &l)
				after.limitsOf(units[i], &l)
				l.sort()
				points := unionOf(before.points(units[i], &l), after.points(units[i], &l))
				slices.SortFunc(points, func(a, b point) int {
					return cmp.Or(cmp.Compare(a.built.First(), b.built.First()), cmp.Compare(a.serial, b.serial))
				})
				for _, t := range tasks {
					if ch := c.compare(units[i], t, points); len(ch) > 0 {
						parts[i] = append(parts[i], ch...)
						differ[i]++
					}
				}
				n := int(done.Add(1))
				if progress != nil {
					mu.Lock()
					progress(n, len(units))
					mu.Unlock()
				}
			}
		})
	}
	wg.Wait()
	out := LookupsChanged{Compared: len(units) * len(tasks), Changes: []LookupChange{}}
	for i := range parts {
		out.Differ += differ[i]
		out.Changes = append(out.Changes, parts[i]...)
	}
	return out
}

type task struct {
	task        Task
	text, group string
}

// tasks lists everything that can be asked of a catalog.
func (r *Resolver) tasks() []task {
	seen := map[task]bool{}
	var out []task
	add := func(t task) {
		if !seen[t] {
			seen[t] = true
			out = append(out, t)
		}
	}
	t := r.t
	for i := range t.Procedures {
		p := &t.Procedures[i]
		g := ""
		if n := r.procWhat[i].group; n >= 0 {
			g = t.Groups[n].Code
		}
		add(task{JobTask, p.Action + " " + p.Component, g})
	}
	for i := range t.Schedule {
		add(task{JobTask, t.Schedule[i].Name, ""})
	}
	for i := range t.Specifications {
		add(task{SpecTask, t.Specifications[i].Quantity, t.Specifications[i].Group})
	}
	for i := range t.TroubleCodes {
		add(task{TroubleTask, t.TroubleCodes[i].Code, ""})
	}
	for i := range t.Guide {
		add(task{ComplaintTask, t.Guide[i].System, ""})
	}
	return out
}

// comparedUnits lists the codes of the primary unit.
func (r *Resolver) comparedUnits() []string {
	if r.primary != 0 {
		return r.units[r.primary].codes
	}
	var out []string
	for id, cards := range r.cards {
		if len(cards) > 0 {
			out = append(out, r.units[0].codes[id])
		}
	}
	slices.Sort(out)
	return out
}

func unionOf[T comparable](a, b []T) []T {
	out := slices.Clone(a)
	seen := make(map[T]bool, len(a))
	for _, x := range a {
		seen[x] = true
	}
	for _, x := range b {
		if !seen[x] {
			seen[x] = true
			out = append(out, x)
		}
	}
	return out
}

// limitSet collects, for one unit, the first day and the first serial of every
// stretch between two limits that can matter to it.
type limitSet struct {
	days    []catalog.Day
	serials []int64
}

func (l *limitSet) add(g catalog.Range, serials bool) {
	if !g.From.IsZero() {
		l.days = append(l.days, g.From.First())
	}
	if !g.Through.IsZero() {
		l.days = append(l.days, g.Through.Last()+1)
	}
	if !serials {
		return
	}
	if g.Serials.From != 0 {
		l.serials = append(l.serials, g.Serials.From)
	}
	if g.Serials.Through != 0 {
		l.serials = append(l.serials, g.Serials.Through+1)
	}
}

func (l *limitSet) sort() {
	slices.Sort(l.days)
	slices.Sort(l.serials)
	l.days, l.serials = slices.Compact(l.days), slices.Compact(l.serials)
}

// limitsOf adds the limits of every record whose pattern matches a code that a
// vehicle of the unit can have. Serials count where they are those of the
// primary unit itself.
func (r *Resolver) limitsOf(unit string, l *limitSet) {
	var codes [][]int32
	id := r.units[r.primary].lookup(unit)
	if id < 0 {
		return
	}
	if r.primary == 0 {
		for _, c := range r.cards[id] {
			codes = append(codes, r.cardInfo[c].units)
			l.add(r.t.Models[c].Range, true)
		}
	} else {
		only := make([]int32, len(r.units))
		for u := range only {
			only[u] = -1
		}
		only[r.primary] = id
		codes = append(codes, only)
	}
	for _, keys := range [...][]keyed{r.pubKey, r.procKey, r.specKey, r.guideKey, r.troubleKey, r.serviceKey, r.bulletinKey} {
		for _, k := range keys {
			if k.ef < 0 {
				continue
			}
			for _, c := range codes {
				if code := c[k.unit]; code < 0 || r.matches(k.pat, code) {
					for _, g := range r.efs[k.ef].src {
						l.add(g, k.unit == r.primary)
					}
					break
				}
			}
		}
	}
}

// points lists a vehicle of a unit for every stretch in which it was built. A
// card that limits both dates and serials numbers its vehicles as they are
// built: each break by date is taken with the serial of that day, and each
// break by serial with its day.
func (r *Resolver) points(unit string, l *limitSet) []point {
	var out []point
	if r.primary != 0 {
		for _, s := range l.serials {
			out = append(out, point{serial: s})
		}
		return append(out, point{serial: 1})
	}
	id := r.units[0].lookup(unit)
	if id < 0 {
		return nil
	}
	for _, c := range r.cards[id] {
		info := &r.cardInfo[c]
		lo, hi := info.serials.From, info.serials.Through
		span := float64(info.days.Through) - float64(info.days.From)
		both := info.days.From != catalog.MinDay && info.days.Through != catalog.MaxDay && lo != 0 && hi != 0 && span > 0
		for i, d := range l.days {
			if d < info.days.From || d > info.days.Through {
				continue
			}
			p := point{built: d.Date(), serial: lo}
			if both {
				p.serial = lo + int64(float64(d-info.days.From)/span*float64(hi-lo))
			}
			until := info.days.Through
			if i+1 < len(l.days) {
				until = min(until, l.days[i+1]-1)
			}
			if until != catalog.MaxDay {
				p.until = until.Date()
			}
			out = append(out, p)
		}
		for _, s := range l.serials {
			if !both || s <= lo || s > hi {
				continue
			}
			d := info.days.From + catalog.Day(float64(s-lo)/float64(hi-lo)*span)
			out = append(out, point{built: d.Date(), until: d.Date(), serial: s})
		}
	}
	slices.SortFunc(out, func(a, b point) int {
		return cmp.Or(cmp.Compare(a.built.First(), b.built.First()), cmp.Compare(a.serial, b.serial))
	})
	return slices.Compact(out)
}

// comparison holds the memory of one goroutine.
type comparison struct {
	before, after *Resolver
	a, b          Answer
}

func (c *comparison) compare(unit string, t task, points []point) []LookupChange {
	var out []LookupChange
	q := Query{Task: t.task, Text: t.text}
	open := false
	for _, p := range points {
		q.Vehicle = Vehicle{Built: p.built, Serial: p.serial}
		if c.before.primary != 0 {
			q.Vehicle.Engine = unit
			if c.before.meta.Primary == catalog.UnitTransmission {
				q.Vehicle.Engine, q.Vehicle.Transmission = "", unit
			}
		} else {
			q.Vehicle.Model = unit
		}
		c.before.Resolve(&q, Break{}, &c.a)
		c.after.Resolve(&q, Break{}, &c.b)
		if c.a.Status == NotCovered && c.b.Status == NotCovered {
			open = false
			continue
		}
		x, y := c.before.signature(&c.a), c.after.signature(&c.b)
		if x == y {
			open = false
			continue
		}
		if n := len(out) - 1; open && out[n].Before == x && out[n].After == y {
			out[n].Until = p.until
			continue
		}
		open = true
		out = append(out, LookupChange{
			Unit: unit, Task: t.task.String(), Text: t.text, Group: t.group,
			From: p.built, Until: p.until, Serial: p.serial, Before: x, After: y,
		})
	}
	return out
}

// signature is an answer in a form that can be compared across revisions.
func (r *Resolver) signature(a *Answer) string {
	if a.Status == NotCovered {
		return "not covered"
	}
	parts := make([]string, 0, len(a.Items))
	for i, it := range a.Items {
		s := r.Place(it)
		if it.Operation != "" {
			s = it.Operation + " " + s
		}
		if it.Table == SpecificationTable && it.Row >= 0 {
			s += ": " + SpecText(&r.t.Specifications[it.Row])
		}
		var bul []string
		for _, am := range a.Amendments {
			if am.Item == int32(i) && am.Bulletin != it.Bulletin {
				bul = append(bul, r.t.Bulletins[am.Bulletin].ID)
			}
		}
		slices.Sort(bul)
		if len(bul) > 0 {
			s += " with " + strings.Join(bul, ", ")
		}
		parts = append(parts, s)
	}
	slices.Sort(parts)
	return strings.Join(parts, "; ")
}
