package resolver

import "rightpage/banks/catalog"

// unitState is what is known of one unit of a vehicle.
type unitState struct {
	code   int32 // index into unitIndex.codes, -1 unknown
	serial catalog.Serials
}

// branch is one thing that the vehicle at hand may be.
type branch struct {
	card  int32 // row of models, -1 where there are no cards
	built catalog.Days
	at    int32 // its units are work.units[at:at+len(r.units)]
}

func (x *run) state(b *branch, unit int8) *unitState { return &x.w.units[int(b.at)+int(unit)] }

// covered compares a code with an applies-to pattern; -1 covers every code.
func (r *Resolver) covered(pat, code int32) bool {
	return pat < 0 || r.covers[pat][code/64]&(1<<(code%64)) != 0
}

// matches is like covered, for a pattern that may be open.
func (r *Resolver) matches(pat, code int32) bool { return pat < 0 || r.covered(pat, code) }

// fit compares a record with a branch: pattern first, then limits.
func (x *run) fit(b *branch, k keyed) catalog.Fit {
	s := x.state(b, k.unit)
	best := catalog.Within
	switch {
	case s.code >= 0:
		if !x.r.matches(k.pat, s.code) {
			return catalog.Outside
		}
	case k.pat >= 0:
		best = catalog.Partly
	}
	if k.ef < 0 {
		return best
	}
	return min(best, x.limits(&x.r.efs[k.ef], b.built, s.serial))
}

// limits compares an effectivity with what is known, or does so with the slip
// that is asked for.
func (x *run) limits(e *ef, built catalog.Days, serial catalog.Serials) catalog.Fit {
	switch x.brk.Slip {
	case WrongSideLimit:
		return flipped(e.src).Fit(built, serial)
	case LimitOffByOne:
		n := 1
		if x.brk.Variant == 0 {
			n = -1
		}
		return shifted(e.src, n).Fit(built, serial)
	}
	if e.to == e.from+1 {
		st := &x.r.stretch[e.from]
		return min(catalog.FitDays(built, st.days), catalog.FitSerials(serial, st.serials))
	}
	all := x.r.stretch[e.from:e.to]
	return catalog.FitRanges(len(all), func(i int) (catalog.Days, catalog.Serials) { return all[i].days, all[i].serials }, built, serial)
}

// flipped is what an effectivity says to somebody who takes every from for a
// through and every through for a from.
func flipped(e catalog.Effectivity) catalog.Effectivity {
	var out catalog.Effectivity
	for _, r := range e {
		f := catalog.Range{From: r.Through, Through: r.From, Serials: catalog.Serials{From: r.Serials.Through, Through: r.Serials.From}}
		// A limit on both sides, read the wrong way round, leaves what lies
		// outside of it.
		both := f.From.First() > f.Through.Last() && !f.From.IsZero() && !f.Through.IsZero()
		bothSerials := f.Serials.From != 0 && f.Serials.Through != 0
		switch {
		case both:
			out = append(out, catalog.Range{Through: f.Through, Serials: f.Serials}, catalog.Range{From: f.From, Serials: f.Serials})
		case bothSerials:
			out = append(out, catalog.Range{From: f.From, Through: f.Through, Serials: catalog.Serials{Through: f.Serials.Through}},
				catalog.Range{From: f.From, Through: f.Through, Serials: catalog.Serials{From: f.Serials.From}})
		default:
			out = append(out, f)
		}
	}
	return out
}

// shifted moves every limit by n of the unit that it is given in: months, days
// or serials.
func shifted(e catalog.Effectivity, n int) catalog.Effectivity {
	date := func(d catalog.Date) catalog.Date {
		switch {
		case d.IsZero():
			return d
		case d.Day != 0:
			return (d.First() + catalog.Day(n)).Date()
		case d.Month != 0:
			return d.AddMonths(n)
		}
		d.Year += int16(n)
		return d
	}
	serial := func(s int64) int64 {
		if s == 0 {
			return 0
		}
		return max(s+int64(n), 1)
	}
	out := make(catalog.Effectivity, len(e))
	for i, r := range e {
		out[i] = catalog.Range{From: date(r.From), Through: date(r.Through), Serials: catalog.Serials{From: serial(r.Serials.From), Through: serial(r.Serials.Through)}}
	}
	return out
}

// pubFit is the fit of a publication on its own, Outside where it is
// superseded on this branch.
func (x *run) pubFit(b *branch, pub int32) catalog.Fit {
	if pub < 0 {
		return catalog.Outside
	}
	f := x.fit(b, x.r.pubKey[pub])
	if x.brk.Slip == SupersededEdition {
		return x.staleFit(b, pub, f)
	}
	if f != catalog.Outside && x.r.pubKey[pub].ruled && x.superseder(b, pub) >= 0 {
		return catalog.Outside
	}
	return f
}

// staleFit is the fit of a publication to somebody who stops at an edition that
// another one has superseded.
func (x *run) staleFit(b *branch, pub int32, f catalog.Fit) catalog.Fit {
	if f == catalog.Outside || x.superseder(b, pub) >= 0 {
		return f
	}
	for _, old := range x.r.t.Publications[pub].Supersedes {
		if o := x.r.pub(old); o >= 0 && x.fit(b, x.r.pubKey[o]) != catalog.Outside {
			return catalog.Outside
		}
	}
	return f
}

// superseder gives the publication that takes the place of pub on this branch,
// -1 for none.
func (x *run) superseder(b *branch, pub int32) int32 {
	for _, s := range x.r.supersededBy[pub] {
		if x.fit(b, x.r.pubKey[s]) == catalog.Within {
			return s
		}
	}
	return -1
}

// procFit is the fit of a procedure on its own, Outside where another one
// replaces it on this branch.
func (x *run) procFit(b *branch, proc int32) catalog.Fit {
	f := x.fit(b, x.r.procKey[proc])
	if f != catalog.Outside && x.r.procKey[proc].ruled && x.replacer(b, proc) >= 0 {
		return catalog.Outside
	}
	return f
}

// replacer gives the procedure that replaces proc on this branch, -1 for none.
func (x *run) replacer(b *branch, proc int32) int32 {
	for _, p := range x.r.replacedBy[proc] {
		pub := x.r.procPub[p]
		if pub >= 0 && x.fit(b, x.r.procKey[p]) == catalog.Within && (pub == x.r.procPub[proc] || x.fit(b, x.r.pubKey[pub]) == catalog.Within) {
			return p
		}
	}
	return -1
}
