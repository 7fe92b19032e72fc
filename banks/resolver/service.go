package resolver

import (
	"slices"
	"strings"

	"rightpage/banks/catalog"
)

func (r *Resolver) serviceNames(ids []int32) string {
	var names []string
	for _, id := range ids {
		names = append(names, r.serviceNm[id])
	}
	return strings.Join(names, ", ")
}

// namedService resolves a service that is asked for by name; several services
// can bear one title, and then all are meant.
func (x *run) namedService(ids []int32) {
	x.reach(ClassifyStep, -1)
	if !x.vehicle() {
		return
	}
	x.eachBranch(func(b *branch) {
		x.next(CardStep)
		x.reach(ComponentStep, ids[0])
		var s *TraceStep
		if x.tr != nil {
			s = x.tr.step(PublicationStep, "the rows of the schedule with this name that fit the vehicle and the duty", x.r.serviceNames(ids))
		}
		any := false
		for row := range x.r.t.Schedule {
			sv := &x.r.t.Schedule[row]
			if !slices.ContainsFunc(ids, func(id int32) bool { return x.r.serviceNm[id] == sv.Name }) {
				continue
			}
			f := x.serviceFit(b, int32(row))
			if s != nil {
				x.traceService(s, b, int32(row), f, "")
			}
			if f == catalog.Outside {
				continue
			}
			any = true
			x.operations(b, int32(row), f)
		}
		if !any {
			x.reach(PublicationStep, -1)
		}
	})
}

// serviceFit is the fit of a row of the schedule, the duty included: a row for
// one duty fits only Partly while the query names none.
func (x *run) serviceFit(b *branch, row int32) catalog.Fit {
	sv := &x.r.t.Schedule[row]
	f := x.fit(b, x.r.serviceKey[row])
	switch {
	case sv.Duty == "" || strings.EqualFold(sv.Duty, x.q.Duty):
		return f
	case x.q.Duty == "":
		return min(f, catalog.Partly)
	}
	return catalog.Outside
}

// due resolves which services are due at a reading.
func (x *run) due() {
	if x.tr != nil {
		s := x.tr.step(ClassifyStep, "services due at a reading are maintenance", x.r.readingText(x.q.Due))
		s.Result = string(catalog.Maintenance)
	}
	x.reach(ClassifyStep, int32(x.r.classIndex(catalog.Maintenance)))
	if !x.vehicle() {
		return
	}
	x.eachBranch(func(b *branch) {
		x.next(CardStep)
		last := x.lastReading(b)
		var s *TraceStep
		if x.tr != nil {
			s = x.tr.step(ComponentStep, "a service is due when a point of any of its counters lies after the last reading and not after the present one", x.r.readingText(Reading{Now: x.q.Due.Now, Last: last, Done: x.q.Due.Done}))
		}
		rows := x.w.due[:0]
		for row := range x.r.t.Schedule {
			n := int32(row)
			if x.r.t.Schedule[row].Class != catalog.Maintenance {
				continue
			}
			f := x.serviceFit(b, n)
			isDue, why := false, ""
			if f != catalog.Outside {
				isDue, why = x.isDue(n, last)
			}
			if s != nil {
				if f != catalog.Outside && !isDue {
					s.consider("service:"+x.r.t.Schedule[row].Name, x.r.t.Schedule[row].Title, RuledOut, "%s", why)
				} else if f != catalog.Outside {
					x.traceService(s, b, n, f, why)
				}
			}
			if isDue {
				rows = append(rows, dueRow{n, f})
				x.reach(ComponentStep, x.r.serviceID[x.r.t.Schedule[row].Name])
			}
		}
		x.w.due = rows
		if len(rows) == 0 {
			if s != nil {
				s.Result = "nothing is due"
			}
			x.reach(ComponentStep, -1)
			return
		}
		for _, d := range rows {
			x.operations(b, d.row, d.fit)
		}
	})
}

// lastReading is the last reading that was given, or what stands for a counter
// of it that was not: one shortest regular interval before the present reading.
func (x *run) lastReading(b *branch) catalog.Counters {
	if l := x.q.Due.Last; l.Distance > 0 && l.Hours > 0 && l.Months > 0 {
		return l
	}
	var least catalog.Counters
	lower := func(p *float64, v float64) {
		if v > 0 && (*p == 0 || v < *p) {
			*p = v
		}
	}
	for row := range x.r.t.Schedule {
		s := &x.r.t.Schedule[row]
		if s.Class == catalog.Maintenance && x.serviceFit(b, int32(row)) != catalog.Outside {
			lower(&least.Distance, s.Every.Distance)
			lower(&least.Hours, s.Every.Hours)
			lower(&least.Months, s.Every.Months)
		}
	}
	back := func(last, now, step float64) float64 {
		if last > 0 || step == 0 {
			return last
		}
		return max(0, now-step)
	}
	n, l := x.q.Due.Now, x.q.Due.Last
	return catalog.Counters{Distance: back(l.Distance, n.Distance, least.Distance), Hours: back(l.Hours, n.Hours, least.Hours),
		Months: back(l.Months, n.Months, least.Months)}
}

// counter is one counter of a service: its intervals, the present and the last
// reading of it, and the reading at which the service itself was last done.
type counter struct {
	name, unit                    string
	first, every, now, last, done float64
}

func (x *run) counters(row int32, last catalog.Counters) [3]counter {
	s, n := &x.r.t.Schedule[row], &x.q.Due.Now
	d := x.q.Due.Done[s.Name]
	return [3]counter{
		{"hours", x.r.meta.Units.Hours, s.First.Hours, s.Every.Hours, n.Hours, last.Hours, d.Hours},
		{"months", "months", s.First.Months, s.Every.Months, n.Months, last.Months, d.Months},
		{"distance", x.r.meta.Units.Distance, s.First.Distance, s.Every.Distance, n.Distance, last.Distance, d.Distance},
	}
}

// isDue tells whether a service is due and, with a trace, why or why not.
func (x *run) isDue(row int32, last catalog.Counters) (bool, string) {
	s := &x.r.t.Schedule[row]
	_, done := x.q.Due.Done[s.Name]
	if done && s.Every.IsZero() {
		return false, "is done once only, and was done"
	}
	why := ""
	for i, c := range x.counters(row, last) {
		if x.brk.Slip == OneCounter && i != x.brk.Variant%3 {
			continue
		}
		isDue, point := x.counterDue(c, done)
		if isDue {
			if x.tr != nil {
				why = "due at " + number(point) + " " + c.unit + ", which lies after " + number(c.last) + " and not after " + number(c.now)
				if done {
					why = "due " + number(c.every) + " " + c.unit + " after " + number(c.done) + ", that is at " + number(point) + "; it is " + number(c.now) + " now"
				}
			}
			return true, why
		}
		if x.tr != nil && (c.first > 0 || c.every > 0) && c.now > 0 {
			if why != "" {
				why += "; "
			}
			switch {
			case !done:
				why += "no point of its " + c.name + " lies after " + number(c.last) + " and not after " + number(c.now)
			case c.done > 0:
				why += "done at " + number(c.done) + " " + c.unit + ", " + number(c.now) + " now, due after " + number(c.every)
			default:
				why += "it is not known at how many " + c.name + " it was done"
			}
		}
	}
	if x.tr != nil && why == "" {
		why = "none of its counters was read"
	}
	return false, why
}

// counterDue tells whether one counter makes the service due, and at which
// point.
func (x *run) counterDue(c counter, done bool) (bool, float64) {
	if c.now <= 0 || c.first <= 0 && c.every <= 0 {
		return false, 0
	}
	first := c.first
	if first == 0 {
		first = c.every
	}
	switch {
	case c.every <= 0: // one point alone
		return !done && c.last < first && first <= c.now, first
	case done && x.brk.Slip != WrongZero:
		return c.done > 0 && c.now-c.done >= c.every, c.done + c.every
	case x.brk.Slip == WrongZero && x.brk.Variant == 2:
		// Whatever interval has passed since new is taken to be due, as if
		// nothing had ever been done.
		return c.now >= first, first
	case x.brk.Slip == WrongZero && x.brk.Variant == 1:
		return c.now-c.last >= c.every, c.last + c.every
	case x.brk.Slip == WrongZero:
		first = c.every
	}
	if c.now < first {
		return false, 0
	}
	point := first + floorDiv(c.now-first, c.every)*c.every
	return point > c.last, point
}

// operations locates every operation that a row of the schedule asks for.
func (x *run) operations(b *branch, row int32, fit catalog.Fit) {
	r := x.r
	sv := &r.t.Schedule[row]
	class := r.classIndex(sv.Class)
	x.addService(row)
	x.a.Unsure = x.a.Unsure || fit == catalog.Partly
	x.reach(PublicationStep, -1)
	for _, no := range sv.Operations {
		var s *TraceStep
		if x.tr != nil {
			s = x.tr.step(LocationStep, "the operation in the editions that fit and that none supersedes", "operation "+no)
		}
		hit := false
		for _, op := range r.opsByNo[no] {
			pub := r.opPub[op]
			if pub < 0 || r.classOf[pub] != class {
				continue
			}
			f := min(fit, x.pubFit(b, pub))
			if s != nil {
				x.traceOperation(s, b, op, pub, f)
			}
			if f == catalog.Outside {
				continue
			}
			hit = true
			x.reach(PublicationStep, r.seriesOf[pub])
			x.reach(EditionStep, pub)
			x.place(b, Item{Table: OperationTable, Row: op, Publication: pub, Service: row, Operation: no}, f, r.opBul[op], r.serviceBul[row], r.pubBul[pub])
		}
		if !hit {
			if s != nil {
				s.Result = "no edition that applies holds it"
			}
			x.add(Item{Table: OperationTable, Row: -1, Publication: -1, Bulletin: -1, Service: row, Operation: no}, fit)
		}
	}
}

func (x *run) addService(row int32) {
	for _, s := range x.a.Services {
		if s == row {
			return
		}
	}
	x.a.Services = append(x.a.Services, row)
}

func (x *run) traceOperation(s *TraceStep, b *branch, op, pub int32, f catalog.Fit) {
	o, p := &x.r.t.Operations[op], &x.r.t.Publications[pub]
	name := "operation:" + o.Number + " in " + p.ID
	switch over := x.superseder(b, pub); {
	case f == catalog.Outside && over >= 0:
		s.consider(name, o.Title, RuledOut, "superseded by %s", x.r.t.Publications[over].ID)
	case f == catalog.Outside:
		s.consider(name, o.Title, RuledOut, "%s", x.why(b, x.r.pubKey[pub], p.AppliesTo))
	case f == catalog.Partly:
		s.consider(name, o.Title, Possible, "%s", x.why(b, x.r.pubKey[pub], p.AppliesTo))
		s.Result = orText(s.Result, p.ID+" "+PlaceText(o.Location))
	default:
		s.consider(name, o.Title, Chosen, "%s", x.why(b, x.r.pubKey[pub], p.AppliesTo))
		s.Result = orText(s.Result, p.ID+" "+PlaceText(o.Location))
	}
}

func (x *run) traceService(s *TraceStep, b *branch, row int32, f catalog.Fit, why string) {
	sv := &x.r.t.Schedule[row]
	if why == "" {
		why = x.why(b, x.r.serviceKey[row], sv.AppliesTo)
	}
	if sv.Duty != "" {
		why += "; for " + sv.Duty + " duty"
		if x.q.Duty == "" {
			why += ", and the duty is not stated"
		}
	}
	v := Chosen
	switch f {
	case catalog.Outside:
		v = RuledOut
	case catalog.Partly:
		v = Possible
	}
	s.consider("service:"+sv.Name, sv.Title, v, "%s", why)
	if v != RuledOut {
		if s.Result != "" {
			s.Result += ", "
		}
		s.Result += sv.Name
	}
}
