package resolver_test

import (
	"slices"
	"strings"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

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
