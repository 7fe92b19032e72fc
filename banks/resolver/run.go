package resolver

import (
	"math"

	"rightpage/banks/catalog"
)

// work is memory that a lookup needs and the next one can use again.
type work struct {
	branches []branch
	units    []unitState
	ids      []identity
	numbers  []unitNumber
	fields   []catalog.FieldValue
	tally    []tally // of Answer.Items
	notes    []tally // of Answer.Amendments
	rows     []int32
	pubs     []edition
	due      []dueRow

	// The job that the last text was classified as: the same text is often
	// asked again for another vehicle or with a slip.
	job     *job
	jobOf   *Resolver
	jobText string
}

// tally counts on how many branches an item, or a bulletin for it, was found.
type tally struct {
	within int32 // branches on which it fits Within
	last   int32 // the last branch that counted
	on     int32 // branches on which it was found at all
	seen   int32 // the last of those
}

// edition is a publication that fits a branch.
type edition struct {
	pub int32
	fit catalog.Fit
}

// dueRow is a row of the schedule that is due on a branch.
type dueRow struct {
	row int32
	fit catalog.Fit
}

// run is one lookup under way.
type run struct {
	r     *Resolver
	q     *Query
	brk   Break
	a     *Answer
	w     *work
	tr    *tracer
	path  Path
	depth int
	best  int
	now   int32 // number of the present branch
}

// Resolve answers a query, with one rule broken if brk names a slip, into a.
// What a held before is lost; its memory is used again, so that a caller who
// keeps one Answer per goroutine causes no garbage. An answer reached with a
// slip may be no answer at all (NotCovered), or the right one by accident.
func (r *Resolver) Resolve(q *Query, brk Break, a *Answer) { r.resolve(q, brk, a, nil) }

// Explain answers a query like [Resolver.Resolve] and gives the trace.
func (r *Resolver) Explain(q *Query, brk Break) (*Answer, Trace) {
	var a Answer
	t := &tracer{}
	r.resolve(q, brk, &a, t)
	return &a, t.trace()
}

func (r *Resolver) resolve(q *Query, brk Break, a *Answer, tr *tracer) {
	a.reset()
	x := run{r: r, q: q, brk: brk, a: a, w: &a.work, tr: tr, best: -1}
	for i := range x.path {
		x.path[i] = -1
	}
	a.Path = x.path
	switch q.Task {
	case JobTask:
		x.job()
	case DueTask:
		x.due()
	case SpecTask:
		x.specification()
	case ComplaintTask:
		x.complaint()
	case TroubleTask:
		x.troubleCode()
	case CardTask:
		x.card()
	}
	x.commit()
	x.finish()
}

func (a *Answer) reset() {
	a.Status, a.FailedAt, a.Unsure = NotCovered, ClassifyStep, false
	a.Items, a.Amendments, a.Services = a.Items[:0], a.Amendments[:0], a.Services[:0]
	w := &a.work
	w.branches, w.units, w.ids, w.numbers = w.branches[:0], w.units[:0], w.ids[:0], w.numbers[:0]
	w.tally, w.notes, w.rows, w.pubs = w.tally[:0], w.notes[:0], w.rows[:0], w.pubs[:0]
}

// reach notes that a step was reached, and what was chosen there.
func (x *run) reach(s Step, value int32) {
	x.path[s] = value
	x.depth = max(x.depth, int(s))
}

// stopAt notes that a record was ruled out at a step, beside others that may
// not have been.
func (x *run) stopAt(s Step) { x.depth = max(x.depth, int(s)) }

// commit keeps the path walked so far if no earlier one reached further, and
// starts the next one after the steps that all branches share.
func (x *run) commit() {
	if x.depth > x.best {
		x.best, x.a.Path = x.depth, x.path
		x.a.FailedAt = Step(x.depth)
	}
}

// next begins the path of a branch or of a component on it.
func (x *run) next(after Step) {
	x.commit()
	x.depth = int(after)
	for s := after + 1; s < stepCount; s++ {
		x.path[s] = -1
	}
}

// card resolves the vehicle alone.
func (x *run) card() {
	if x.vehicle() {
		x.eachBranch(func(*branch) {})
	}
}

// eachBranch calls f for each thing that the vehicle may be.
func (x *run) eachBranch(f func(b *branch)) {
	for i := range x.w.branches {
		b := &x.w.branches[i]
		x.now = int32(i)
		x.next(ClassifyStep)
		if code := x.state(b, 0).code; code >= 0 {
			x.reach(CodeStep, code)
		} else {
			x.reach(CodeStep, x.state(b, x.r.primary).code)
		}
		x.reach(CardStep, b.card)
		if x.tr != nil {
			x.tr.branch = ""
			if len(x.w.branches) > 1 {
				x.tr.branch = x.r.cardText(b.card)
			}
		}
		f(b)
	}
	if x.tr != nil {
		x.tr.branch = ""
	}
}

// add counts an item on the present branch.
func (x *run) add(it Item, fit catalog.Fit) int32 {
	for i := range x.a.Items {
		o := &x.a.Items[i]
		if o.Table == it.Table && o.Row == it.Row && o.Publication == it.Publication && o.Bulletin == it.Bulletin && o.Operation == it.Operation {
			t := &x.w.tally[i]
			if t.seen != x.now {
				t.on++
				t.seen = x.now
			}
			if fit == catalog.Within && t.last != x.now {
				t.within++
				t.last = x.now
			}
			return int32(i)
		}
	}
	t := tally{last: -1, on: 1, seen: x.now}
	if fit == catalog.Within {
		t.within, t.last = 1, x.now
	}
	x.a.Items = append(x.a.Items, it)
	x.w.tally = append(x.w.tally, t)
	return int32(len(x.a.Items) - 1)
}

// slot tells two items apart that answer the same part of the question.
func (x *run) slot(it *Item) string {
	switch it.Table {
	case OperationTable:
		return it.Operation
	case TestTable:
		return x.r.t.Tests[it.Row].Step
	}
	return ""
}

// finish decides the status from the items.
func (x *run) finish() {
	a := x.a
	if x.q.Task == CardTask {
		a.Status = [...]Status{NotCovered, Found, Ambiguous}[min(2, len(x.w.branches))]
		return
	}
	if len(a.Items) == 0 {
		return
	}
	a.Status = Found
	n := int32(len(x.w.branches))
	located := false
	for i := range a.Items {
		it := &a.Items[i]
		it.Partly = x.w.tally[i].within < n
		located = located || it.Publication >= 0
		if it.Partly {
			a.Status = Ambiguous
		}
		for j := range a.Items[:i] {
			o := &a.Items[j]
			if x.slot(o) == x.slot(it) && (it.Table != TestTable || x.r.t.Tests[it.Row].Chapter == x.r.t.Tests[o.Row].Chapter) {
				a.Status = Ambiguous
			}
		}
	}
	for i := range a.Amendments {
		am := &a.Amendments[i]
		am.Partly = x.w.notes[i].within < x.w.tally[am.Item].on
	}
	if !located {
		a.Status = NotCovered
	}
}

// floorDiv counts whole intervals; the small term keeps 1250/250 at 5 whatever
// the division rounds to.
func floorDiv(a, b float64) float64 { return math.Floor(a/b + 1e-9) }
