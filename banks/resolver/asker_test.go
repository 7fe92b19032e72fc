package resolver_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// say spoils a text the way people do.
func say(d dice, text string) string {
	words := strings.Fields(text)
	for range d.n(3) {
		switch i := d.n(len(words)); d.n(8) {
		case 1: // another order
			j := d.n(len(words))
			words[i], words[j] = words[j], words[i]
		case 2:
			words[i] += "s"
		case 3:
			words[i] = strings.ToUpper(words[i][:1]) + words[i][1:]
		case 4:
			words[i] = "the " + words[i]
		case 5: // a letter too few
			if k := d.n(len(words[i])); len(words[i]) > 1 {
				words[i] = words[i][:k] + words[i][k+1:]
			}
		case 6: // two letters exchanged
			if w := []byte(words[i]); len(w) > 1 {
				k := d.n(len(w) - 1)
				w[k], w[k+1] = w[k+1], w[k]
				words[i] = string(w)
			}
		case 7: // a word too few
			if len(words) > 1 {
				words = slices.Delete(words, i, i+1)
			}
		}
	}
	return strings.Join(words, " ")
}

// asker draws lookups for any catalog from its own records: the codes on its
// data cards, dates and serials at its limits, its terms as people say them.
type asker struct {
	d        dice
	c        *catalog.Catalog
	t        *catalog.Tables
	limits   []catalog.Range
	readings []catalog.Counters
}

func newAsker(d dice, c *catalog.Catalog) *asker {
	a := &asker{d: d, c: c, t: c.Tables()}
	note := func(e catalog.Effectivity) { a.limits = append(a.limits, e...) }
	for i := range a.t.Publications {
		note(a.t.Publications[i].Effectivity)
	}
	for i := range a.t.Procedures {
		note(a.t.Procedures[i].Effectivity)
	}
	for i := range a.t.Bulletins {
		note(a.t.Bulletins[i].Effectivity)
	}
	for i := range a.t.Models {
		a.limits = append(a.limits, a.t.Models[i].Range)
	}
	for i := range a.t.Schedule {
		a.readings = append(a.readings, a.t.Schedule[i].First, a.t.Schedule[i].Every)
	}
	return a
}

// date is a limit, the month or the day beside one, or nothing.
func (a *asker) date() catalog.Date {
	for range 20 {
		r := pick(a.d, a.limits)
		d := pick(a.d, []catalog.Date{r.From, r.Through})
		if d.IsZero() {
			continue
		}
		switch a.d.n(6) {
		case 0:
			return d.AddMonths(a.d.n(3) - 1)
		case 1:
			return (d.First() + catalog.Day(a.d.n(3)-1)).Date()
		case 2:
			return (d.Last() + catalog.Day(a.d.n(3)-1)).Date()
		case 3:
			return catalog.Date{Year: d.Year}
		}
		return d.AddMonths(a.d.n(30))
	}
	return catalog.Date{}
}

func (a *asker) serial() int64 {
	for range 20 {
		s := pick(a.d, a.limits).Serials
		if n := pick(a.d, []int64{s.From, s.Through}); n > 0 {
			return max(1, n+int64(a.d.n(3)-1))
		}
	}
	return int64(1 + a.d.n(9999))
}

// serialOf is a serial that a data card is for, or now and then any.
func (a *asker) serialOf(m *catalog.Model) int64 {
	n := a.serial()
	if s := m.Range.Serials; !oneIn(a.d, 8) && (n < s.From || s.Through > 0 && n > s.Through) {
		n = s.From + int64(a.d.n(300))
	}
	return max(1, n)
}

// vehicleFor is a vehicle that a record is likely to be for.
func (a *asker) vehicleFor(keyed string, p catalog.Pattern) resolver.Vehicle {
	v := a.vehicle()
	for range 30 {
		if oneIn(a.d, 15) {
			break
		}
		code := v.Model
		for i := range a.t.Models {
			if m := &a.t.Models[i]; keyed != catalog.UnitModel && m.Code == v.Model {
				code = cardCodes(m)[keyed]
				break
			}
		}
		if len(a.t.Models) == 0 {
			code = v.Engine
			for _, d := range a.c.Decoders(catalog.UnitEngine) {
				if fields, err := d.Read(catalog.Fold(v.Engine), nil); err == nil {
					for _, f := range fields {
						if f.Field.Name == catalog.UnitEngine && len(f.Means) > 0 {
							code = f.Means[0].Text
						}
					}
				}
			}
		}
		if code != "" && p.Match(code) {
			break
		}
		v = a.vehicle()
	}
	return v
}

// vehicleOf is a vehicle that a publication is likely to be for.
func (a *asker) vehicleOf(id string) resolver.Vehicle {
	p, ok := a.c.Publication(id)
	if !ok {
		return a.vehicle()
	}
	return a.vehicleFor(p.KeyedBy, p.AppliesTo)
}

// number writes a number of a scheme from values of its tables.
func (a *asker) number(d *catalog.Decoder, want map[string]string) string {
	values := map[string]string{}
	for _, f := range d.Fields() {
		switch {
		case f.Check != "" && f.Check != catalog.CheckNone:
		case want[f.Name] != "":
			raw, ok := f.RawFor(want[f.Name], catalog.AnyDay())
			switch {
			case !ok:
				return ""
			case len(f.Values) == 0: // digits
				raw = fmt.Sprintf("%0*s", f.Length, raw)
				raw = raw[len(raw)-f.Length:]
			}
			values[f.Name] = raw
		case len(f.Values) > 0:
			values[f.Name] = pick(a.d, f.Values).Raw
		default:
			values[f.Name] = fmt.Sprintf("%0*d", max(f.Length, 1), a.serial())
			if f.Length > 0 {
				values[f.Name] = values[f.Name][len(values[f.Name])-f.Length:]
			}
		}
	}
	s, err := d.Compose(values)
	if err != nil {
		return ""
	}
	return s
}

func (a *asker) vehicle() resolver.Vehicle {
	d := a.d
	var v resolver.Vehicle
	if len(a.t.Models) > 0 {
		m := pick(d, a.t.Models)
		v.Model = m.Code
		if !oneIn(d, 6) {
			v.Built = a.date()
		}
		if m.Range.From.Year != 0 && oneIn(d, 2) { // mostly in the years of the card
			v.Built = m.Range.From.AddMonths(d.n(40))
		}
		if of := a.c.Decoders(catalog.KindChassis); len(of) > 0 && oneIn(d, 2) {
			want := map[string]string{"model": m.Code, "serial": fmt.Sprint(a.serialOf(&m))}
			if m.Range.From.Year != 0 {
				want["year"] = fmt.Sprint(int(m.Range.From.Year) + d.n(3))
			}
			if s := a.number(pick(d, of), want); s != "" {
				v = resolver.Vehicle{Chassis: s, Model: m.Code}
			}
		}
		switch { // the number and the date should mostly agree
		case v.Chassis != "" && !oneIn(d, 8):
			v.Built = catalog.Date{}
		case v.Chassis == "" && oneIn(d, 4):
			v.Serial = a.serialOf(&m)
		}
		if oneIn(d, 12) {
			v.Engine = m.Engine
		}
		if oneIn(d, 30) {
			v.Transmission = m.Transmission
		}
	}
	if of := a.c.Decoders(catalog.UnitEngine); len(of) > 0 && (len(a.t.Models) == 0 || oneIn(d, 16)) {
		v.Engine = a.number(pick(d, of), nil)
		if oneIn(d, 4) { // the code alone
			if f, ok := pick(d, of).Field(catalog.UnitEngine); ok && len(f.Values) > 0 {
				m := pick(d, f.Values)
				v.Engine = m.Means[0].Text
			}
		}
		if len(a.t.Models) == 0 && oneIn(d, 4) {
			v.Serial = a.serial()
		}
		if oneIn(d, 4) {
			v.Built = a.date()
		}
	}
	if oneIn(d, 40) { // a slip of the pen
		v.Chassis, v.Engine = say(d, "x"+v.Chassis), v.Engine+"7"
	}
	return v
}

func (a *asker) synonym(first string, more []catalog.Synonym) string {
	if len(more) > 0 && oneIn(a.d, 3) {
		return pick(a.d, more).Term
	}
	return first
}

func (a *asker) query() *resolver.Query {
	d := a.d
	q := &resolver.Query{}
	switch d.n(10) {
	case 5, 4:
		q.Task = resolver.DueTask
		q.Duty = pick(d, []string{"", pick(d, a.t.Schedule).Duty})
		s := pick(d, a.t.Schedule)
		q.Vehicle = a.vehicleFor(s.KeyedBy, s.AppliesTo)
		now, every := pick(d, []catalog.Counters{s.First, pick(d, a.readings)}), s.Every
		times := float64(1 + d.n(8))
		q.Due.Now = catalog.Counters{Hours: now.Hours + times*every.Hours, Months: now.Months + times*every.Months, Distance: now.Distance + times*every.Distance}
		if oneIn(d, 3) {
			q.Due.Last = catalog.Counters{Hours: max(0, q.Due.Now.Hours-every.Hours), Months: max(0, q.Due.Now.Months-3)}
		}
		if oneIn(d, 4) {
			q.Due.Done = map[string]catalog.Counters{pick(d, a.t.Schedule).Name: now}
		}
	case 6:
		s := pick(d, a.t.Specifications)
		q.Vehicle = a.vehicleFor(s.KeyedBy, s.AppliesTo)
		q.Task, q.Text = resolver.SpecTask, say(d, a.synonym(s.Quantity, s.Synonyms))
		q.Condition = pick(d, []string{"", "", s.Condition})
		if oneIn(d, 2) {
			t := float64(d.n(14)*5 - 30)
			q.Ambient = &t
		}
	case 7:
		g := pick(d, a.t.Guide)
		q.Vehicle = a.vehicleFor(g.KeyedBy, g.AppliesTo)
		q.Task, q.Text = resolver.ComplaintTask, say(d, a.synonym(g.System, g.Complaints))
		q.Side = pick(d, []string{"", "left", "right"})
		if s := pick(d, a.t.Tests); oneIn(d, 2) {
			for k := range a.t.Tests { // a step of the guide's own chapter, if there is one
				if o := a.t.Tests[(k+d.n(7))%len(a.t.Tests)]; o.Publication == g.Publication && o.Chapter == g.Section && oneIn(d, 2) {
					s = o
					break
				}
			}
			q.At = resolver.StepAt{Chapter: pick(d, []string{"", s.Chapter}), Step: s.Step}
			q.Outcome = pick(d, []resolver.Outcome{resolver.Passed, resolver.Failed})
		}
	case 8:
		c := pick(d, a.t.TroubleCodes)
		q.Vehicle = a.vehicleFor(c.KeyedBy, c.AppliesTo)
		q.Task, q.Text = resolver.TroubleTask, c.Code
		if t, err := catalog.ParseTrouble(c.Code); err == nil && oneIn(d, 2) {
			q.Text = t.Hex()
		}
		if oneIn(d, 3) {
			q.System = pick(d, []string{c.System, strings.ToUpper(c.System), pick(d, a.t.TroubleCodes).System})
		}
	case 9:
		s := pick(d, a.t.Schedule)
		q.Vehicle = a.vehicleFor(s.KeyedBy, s.AppliesTo)
		q.Text = say(d, pick(d, []string{s.Name, s.Title}))
		q.Duty = pick(d, []string{"", s.Duty})
	default:
		p := pick(d, a.t.Procedures)
		q.Vehicle = a.vehicleOf(p.Publication)
		q.Text = a.jobText(&p)
	}
	return q
}

func (a *asker) jobText(p *catalog.Procedure) string {
	d := a.d
	text := p.Job
	if i := slices.IndexFunc(a.t.Components, func(c catalog.Component) bool { return c.Term == p.Component }); i >= 0 && oneIn(d, 2) {
		word := p.Action
		if more := a.c.Meta().Actions[p.Action].Synonyms; len(more) > 0 && oneIn(d, 3) {
			word = plainTerm(pick(d, more))
		}
		text = word + " " + a.synonym(a.t.Components[i].Term, a.t.Components[i].Synonyms)
		if oneIn(d, 6) {
			text = a.synonym(a.t.Components[i].Term, a.t.Components[i].Synonyms)
		}
	}
	if oneIn(d, 3) {
		text = say(d, text)
	}
	return text
}

// demo reads a demo catalog of the project.
func demo(t testing.TB, path string) *catalog.Catalog {
	t.Helper()
	c, report, err := catalog.Read("../../testdata/"+path, catalog.DefaultLimits())
	if err == nil {
		err = report.Err()
	}
	if err != nil {
		t.Fatal(err)
	}
	return c
}
