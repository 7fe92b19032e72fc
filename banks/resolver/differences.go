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
	dates, serials := breaks(before, after)
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
				points := before.points(units[i], dates, serials)
				if more := after.points(units[i], dates, serials); len(more) > len(points) {
					points = more
				}
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
		if r.procGroup[i] >= 0 {
			g = t.Groups[r.procGroup[i]].Code
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

// breaks lists the first day, and the first serial, of every stretch between
// two limits of either catalog.
func breaks(rs ...*Resolver) ([]catalog.Day, []int64) {
	var days []catalog.Day
	serials := []int64{1}
	put := func(g catalog.Range) {
		if !g.From.IsZero() {
			days = append(days, g.From.First())
		}
		if !g.Through.IsZero() {
			days = append(days, g.Through.Last()+1)
		}
		if g.Serials.From != 0 {
			serials = append(serials, g.Serials.From)
		}
		if g.Serials.Through != 0 {
			serials = append(serials, g.Serials.Through+1)
		}
	}
	for _, r := range rs {
		for i := range r.efs {
			for _, g := range r.efs[i].src {
				put(g)
			}
		}
		for i := range r.t.Models {
			put(r.t.Models[i].Range)
		}
	}
	slices.Sort(days)
	slices.Sort(serials)
	return slices.Compact(days), slices.Compact(serials)
}

// points lists a vehicle of a unit for every stretch in which it was built.
func (r *Resolver) points(unit string, days []catalog.Day, serials []int64) []point {
	if r.primary != 0 {
		var out []point
		for _, s := range serials {
			out = append(out, point{serial: s})
		}
		return out
	}
	id := r.units[0].lookup(unit)
	if id < 0 {
		return nil
	}
	var out []point
	for _, c := range r.cards[id] {
		m := &r.t.Models[c]
		span := r.cardInfo[c].days
		own := func(s int64) bool {
			return s >= m.Range.Serials.From && (m.Range.Serials.Through == 0 || s <= m.Range.Serials.Through)
		}
		for i, d := range days {
			if d < span.From || d > span.Through {
				continue
			}
			until := span.Through
			if i+1 < len(days) {
				until = min(until, days[i+1]-1)
			}
			end := catalog.Date{}
			if until != catalog.MaxDay {
				end = until.Date()
			}
			any := false
			for _, s := range serials {
				if own(s) {
					any = true
					out = append(out, point{d.Date(), end, s})
				}
			}
			if !any {
				out = append(out, point{d.Date(), end, m.Range.Serials.From})
			}
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
