package resolver

import (
	"cmp"

	"rightpage/banks/catalog"
)

// place adds a record that answers, with the bulletins that amend it or take
// its place. Each of refs lists bulletins that name the record or what it
// stands in.
func (x *run) place(b *branch, it Item, fit catalog.Fit, refs ...[]bulletinRef) {
	it.Bulletin = -1
	if x.path[LocationStep] < 0 {
		x.reach(LocationStep, it.Row)
	}
	if x.brk.Slip == BulletinIgnored {
		x.add(it, fit)
		return
	}
	latest := int32(-1)
	any := false
	for _, list := range refs {
		for _, ref := range list {
			any = true
			if ref.replaces && x.fit(b, x.r.bulletinKey[ref.row]) == catalog.Within && x.later(ref.row, latest) {
				latest = ref.row
			}
		}
	}
	if !any {
		x.add(it, fit)
		return
	}
	// A bulletin that may or may not replace the record leaves two places.
	doubt := false
	for _, list := range refs {
		for _, ref := range list {
			if ref.replaces && x.fit(b, x.r.bulletinKey[ref.row]) == catalog.Partly && x.later(ref.row, latest) {
				doubt = true
				may := it
				may.Bulletin = ref.row
				i := x.add(may, catalog.Partly)
				x.amendment(i, ref.row, true, true)
			}
		}
	}
	it.Bulletin = latest
	if doubt {
		fit = min(fit, catalog.Partly)
	}
	i := x.add(it, fit)
	for _, list := range refs {
		for _, ref := range list {
			switch x.fit(b, x.r.bulletinKey[ref.row]) {
			case catalog.Within:
				x.amendment(i, ref.row, ref.replaces, false)
			case catalog.Partly:
				if !ref.replaces || !x.later(ref.row, latest) { // otherwise it has a place of its own
					x.amendment(i, ref.row, ref.replaces, true)
				}
			}
		}
	}
	first := latest
	for _, am := range x.a.Amendments {
		if first < 0 && am.Item == i && !am.Partly {
			first = am.Bulletin
		}
	}
	if x.path[AmendStep] < 0 {
		x.reach(AmendStep, first)
	}
	if x.tr != nil {
		x.traceAmend(b, it, refs)
	}
}

// later tells whether bulletin a counts before b: issued last, then the
// greater ID.
func (x *run) later(a, b int32) bool {
	if b < 0 {
		return true
	}
	p, q := &x.r.t.Bulletins[a], &x.r.t.Bulletins[b]
	return cmp.Or(cmp.Compare(p.Issued.First(), q.Issued.First()), cmp.Compare(p.ID, q.ID)) > 0
}

// amendment counts a bulletin of an item on the present branch.
func (x *run) amendment(item, bulletin int32, replaces, partly bool) {
	at := -1
	for i := range x.a.Amendments {
		if m := &x.a.Amendments[i]; m.Item == item && m.Bulletin == bulletin {
			m.Replaces = m.Replaces || replaces
			m.Partly = m.Partly && partly
			at = i
			break
		}
	}
	if at < 0 {
		at = len(x.a.Amendments)
		x.a.Amendments = append(x.a.Amendments, Amendment{item, bulletin, replaces, partly})
		x.w.notes = append(x.w.notes, tally{last: -1})
	}
	if t := &x.w.notes[at]; !partly && t.last != x.now {
		t.within++
		t.last = x.now
	}
}

func (x *run) traceAmend(b *branch, it Item, refs [][]bulletinRef) {
	s := x.tr.step(AmendStep, "bulletins and supplements that name the record or its publication and fit; of several that replace it the one issued last counts", x.r.recordName(it))
	for _, list := range refs {
		for _, ref := range list {
			bul := &x.r.t.Bulletins[ref.row]
			name, label := "bulletin:"+bul.ID, bul.Subject
			does := "amends it"
			if ref.replaces {
				does = "replaces it"
			}
			switch f := x.fit(b, x.r.bulletinKey[ref.row]); {
			case f == catalog.Outside:
				s.consider(name, label, RuledOut, "%s", x.why(b, x.r.bulletinKey[ref.row], bul.AppliesTo))
			case f == catalog.Partly:
				s.consider(name, label, Possible, "%s if it applies: %s", does, x.why(b, x.r.bulletinKey[ref.row], bul.AppliesTo))
			case ref.replaces && ref.row != it.Bulletin:
				s.consider(name, label, RuledOut, "replaces it, but a later bulletin does so too")
			default:
				s.consider(name, label, Chosen, "%s, issued %s", does, bul.Issued)
			}
		}
	}
	if it.Bulletin >= 0 {
		s.Result = "read bulletin " + x.r.t.Bulletins[it.Bulletin].ID + " instead"
	} else {
		s.Result = "the record stands, with what amends it"
	}
}
