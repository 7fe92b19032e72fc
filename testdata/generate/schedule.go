package main

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"rightpage/banks/catalog"
)

// readSchedule reads schedule.txt and joins its rows, so that no two rows of a
// service apply to one vehicle: codes with the same operations share a row.
func (b *builder) readSchedule(name string) ([]catalog.Service, error) {
	rows, err := readVocabulary(name, 9)
	if err != nil {
		return nil, err
	}
	var read []catalog.Service
	for _, r := range rows {
		c := r.cells
		s := catalog.Service{Name: c[0], Title: c[1], Class: catalog.Class(c[2]), KeyedBy: c[3], AppliesTo: catalog.Pattern(c[4]), Duty: c[5], Operations: strings.Fields(c[8])}
		for _, side := range []struct {
			cell string
			to   *catalog.Counters
		}{{c[6], &s.First}, {c[7], &s.Every}} {
			if *side.to, err = counters(side.cell); err != nil {
				return nil, r.errorf("%v", err)
			}
		}
		read = append(read, s)
	}
	return b.joinServices(spreadDuties(read)), nil
}

// spreadDuties gives the operations of rows without a duty to each duty that
// the service has rows of their own for.
func spreadDuties(rows []catalog.Service) []catalog.Service {
	var out []catalog.Service
	for _, s := range rows {
		spread := false
		seen := map[string]bool{}
		for _, t := range rows {
			if s.Duty == "" && t.Duty != "" && t.Name == s.Name && t.KeyedBy == s.KeyedBy && !seen[t.Duty] {
				spread, seen[t.Duty] = true, true
				u := s
				u.Duty, u.First, u.Every = t.Duty, t.First, t.Every
				out = append(out, u)
			}
		}
		if !spread {
			out = append(out, s)
		}
	}
	return out
}

// joinServices makes rows of the same service, unit, duty and interval disjoint.
func (b *builder) joinServices(rows []catalog.Service) []catalog.Service {
	type key struct {
		name, title, unit, duty string
		class                   catalog.Class
		first, every            catalog.Counters
	}
	keyOf := func(s catalog.Service) key {
		return key{s.Name, s.Title, s.KeyedBy, s.Duty, s.Class, s.First, s.Every}
	}
	var out []catalog.Service
	done := map[key]bool{}
	for _, s := range rows {
		k := keyOf(s)
		if done[k] {
			continue
		}
		done[k] = true
		codes := b.life(s.KeyedBy).codes
		var lists []string // operations, in order of first use
		with := map[string][]string{}
		for _, c := range codes {
			var ops []string
			for _, t := range rows {
				if keyOf(t) == k && t.AppliesTo.Match(c) {
					ops = append(ops, t.Operations...)
				}
			}
			if len(ops) == 0 {
				continue
			}
			slices.SortFunc(ops, catalog.CompareSteps)
			list := strings.Join(slices.Compact(ops), " ")
			if with[list] == nil {
				lists = append(lists, list)
			}
			with[list] = append(with[list], c)
		}
		for _, list := range lists {
			t := s
			t.AppliesTo, t.Operations = shortest(codes, with[list]), strings.Fields(list)
			out = append(out, t)
		}
	}
	slices.SortStableFunc(out, func(a, b catalog.Service) int {
		return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.KeyedBy, b.KeyedBy))
	})
	return out
}

// shortest is a short pattern of beginnings of codes that picks the wanted ones
// among all.
func shortest(all, wanted []string) catalog.Pattern {
	if len(all) == len(wanted) {
		return ""
	}
	var alts []string
	left := slices.Clone(wanted)
	for n := 1; len(left) > 0; n++ {
		for _, c := range slices.Clone(left) {
			if !slices.Contains(left, c) {
				continue
			}
			alt := c
			if n < len(c) {
				alt = c[:n] + "*"
			}
			p := catalog.Pattern(alt)
			if slices.ContainsFunc(all, func(x string) bool { return p.Match(x) && !slices.Contains(wanted, x) }) {
				continue
			}
			alts = append(alts, alt)
			left = slices.DeleteFunc(left, p.Match)
		}
	}
	slices.Sort(alts)
	return catalog.Pattern(strings.Join(alts, ";"))
}

// counters reads "250h 12m 5000km".
func counters(cell string) (catalog.Counters, error) {
	var out catalog.Counters
	for _, w := range strings.Fields(cell) {
		n := strings.TrimRight(w, "hkm")
		v, err := strconv.ParseFloat(n, 64)
		if err != nil {
			return out, err
		}
		switch w[len(n):] {
		case "h":
			out.Hours = v
		case "m":
			out.Months = v
		case "km":
			out.Distance = v
		default:
			return out, &strconv.NumError{Func: "interval", Num: w, Err: strconv.ErrSyntax}
		}
	}
	return out, nil
}
