package resolver_test

import (
	"slices"

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
