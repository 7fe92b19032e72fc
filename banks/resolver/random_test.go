package resolver_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"

	"pgregory.net/rapid"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// dice gives the choices from which catalogs and queries are made, so that one
// generator serves both the property test, which shrinks a failure by lowering
// the choices, and the long run from a seed.
type dice interface{ n(k int) int } // 0 to k-1

type rapidDice struct{ t *rapid.T }

func (d rapidDice) n(k int) int { return rapid.IntRange(0, k-1).Draw(d.t, "") }

type seededDice struct{ r *rand.Rand }

func (d seededDice) n(k int) int { return d.r.IntN(k) }

func pick[T any](d dice, of []T) T { return of[d.n(len(of))] }

// oneIn is true once in k; a shrunk choice is false.
func oneIn(d dice, k int) bool { return d.n(k) == k-1 }

// sizes of a random catalog.
type sizes struct {
	models, engines, gearboxes, loaders, groups, components, publications, procedures, services, operations,
	specifications, guide, tests, trouble, bulletins int
}

var (
	small = sizes{5, 3, 2, 2, 6, 10, 8, 14, 6, 8, 8, 6, 14, 6, 8}
	mid   = sizes{24, 8, 4, 3, 24, 90, 50, 500, 14, 60, 80, 40, 160, 40, 40}
)

// Words that meet and nearly meet: plurals, shared heads, words one and two
// edits apart, words too short to be misspelt.
var (
	nouns      = []string{"filter", "pump", "valve", "hose", "seal", "bearing", "belt", "gauge", "lift arm", "pins"}
	attributes = []string{"fuel", "oil", "air", "water", "brake", "hydraulic", "front", "rear", "coolant", "coolent", "dual"}
	complaints = []string{"engine does not start", "engine starts badly", "no lift", "lift is slow", "brakes pull", "overheats", "smoke"}
	quantities = []string{"oil capacity", "oil pressure", "tyre pressure", "belt tension", "valve clearance", "idle speed"}
	systems    = []string{"engine", "hydraulics", "brakes", "electrics"}
	duties     = []string{"", "", "heavy", "municipal"}
	conditions = []string{"", "", "with filter", "without filter", "cold"}
	faults     = []string{"1208-3", "P0143", "120-8", "U0100", "E17", "8-3", "2048-3"} // the last two: 00 01 03 81 packed in version 1 and in version 2
)

// book makes one random catalog.
type book struct {
	d                        dice
	z                        sizes
	meta                     catalog.Meta
	t                        catalog.Tables
	codes                    map[string][]string // unit → codes
	terms                    []string
	chapters                 []string
	procedureIDs, operations []string
}

func randomCatalog(d dice, z sizes) *book {
	b := &book{d: d, z: z, codes: map[string][]string{}}
	b.meta = catalog.Meta{
		Title: "Random", Primary: pick(d, []string{"model", "model", "model", "engine"}),
		Actions: map[string]catalog.Action{
			"replace":     {Classes: []catalog.Class{catalog.Repair}, Synonyms: []string{"renew", "take out and fit", "de:erneuern"}},
			"remove":      {Classes: []catalog.Class{catalog.Repair}, Synonyms: []string{"take out", "dismantle"}},
			"check":       {Classes: []catalog.Class{catalog.Maintenance, catalog.Repair}, Synonyms: []string{"inspect", "test"}},
			"measure":     {Classes: []catalog.Class{catalog.Diagnosis}, Synonyms: []string{"test"}},
			"pre-deliver": {Classes: []catalog.Class{catalog.PreDelivery}},
		},
		Jobs: map[string]catalog.Job{"pre-delivery inspection": {Service: "PDI", Synonyms: []string{"hand over", "de:Übergabe"}}},
	}
	if b.meta.Primary != "model" && oneIn(d, 2) {
		z.models = 0
	}
	b.z = z
	for unit, k := range map[string]int{"engine": z.engines, "transmission": z.gearboxes, "loader": z.loaders, "model": z.models} {
		for i := range k {
			b.codes[unit] = append(b.codes[unit], fmt.Sprintf("%s%c%d", strings.ToUpper(unit[:1]), 'A'+i%3, 1+i/3))
		}
	}
	b.models()
	b.schemes()
	b.groups()
	b.components()
	b.publications()
	b.procedures()
	b.schedule()
	b.specifications()
	b.guide()
	b.trouble()
	b.bulletins()
	return b
}

func (b *book) catalog() *catalog.Catalog { return catalog.New(b.meta, b.t) }

// date is near enough to the others for limits to meet: at month precision, at
// day precision at and beside the ends of months, rarely of a year.
func (b *book) date() catalog.Date {
	d := catalog.Date{Year: int16(2015 + b.d.n(3)), Month: int8(1 + 3*b.d.n(4) + b.d.n(2))}
	switch b.d.n(8) {
	case 5:
		d.Day = 1
	case 6:
		d.Day = d.Span().Through.Date().Day
	case 7:
		d.Day = 15
	}
	return d
}

func (b *book) serial() int64 { return int64(100*(1+b.d.n(5)) + b.d.n(3) - 1) }

func (b *book) limits() catalog.Range {
	var r catalog.Range
	switch b.d.n(4) {
	case 1:
		r.From = b.date()
	case 2:
		r.Through = b.date()
	case 3:
		r.From = b.date()
		r.Through = r.From.AddMonths(b.d.n(18))
	}
	switch b.d.n(6) {
	case 3:
		r.Serials.From = b.serial()
	case 4:
		r.Serials.Through = b.serial()
	case 5:
		r.Serials.From = b.serial()
		r.Serials.Through = r.Serials.From + int64(b.d.n(200))
	}
	return r
}

func (b *book) effectivity() catalog.Effectivity {
	switch b.d.n(7) {
	case 4, 5:
		return catalog.Effectivity{b.limits()}
	case 6:
		return catalog.Effectivity{b.limits(), b.limits()}
	}
	return nil
}

func (b *book) pattern(unit string) catalog.Pattern {
	codes := b.codes[unit]
	if len(codes) == 0 {
		return ""
	}
	c := pick(b.d, codes)
	switch b.d.n(10) {
	case 5:
		return catalog.Pattern(c)
	case 6:
		return catalog.Pattern(c + "; " + strings.ToLower(pick(b.d, codes)))
	case 7:
		return catalog.Pattern(c[:2] + "*")
	case 8:
		return catalog.Pattern(c[:1] + "?" + c[2:] + ";!" + pick(b.d, codes))
	case 9:
		return catalog.Pattern("!" + c)
	}
	return ""
}

func (b *book) unit() string {
	return pick(b.d, []string{b.meta.Primary, b.meta.Primary, "engine", "engine", "transmission", "loader"})
}

func (b *book) models() {
	for _, code := range b.codes["model"] {
		one := func(r catalog.Range) {
			m := catalog.Model{Code: code, SalesName: "Name " + code[:2], Engine: pick(b.d, b.codes["engine"]), Range: r}
			if !oneIn(b.d, 4) {
				m.Transmission = pick(b.d, b.codes["transmission"])
			}
			if oneIn(b.d, 2) {
				m.Units = []catalog.UnitCode{{Unit: "loader", Code: pick(b.d, b.codes["loader"])}}
			}
			b.t.Models = append(b.t.Models, m)
		}
		switch b.d.n(4) {
		case 0, 1:
			one(catalog.Range{})
		case 2: // a break by date
			at := b.date()
			at.Day = 0
			one(catalog.Range{Through: at})
			one(catalog.Range{From: at.AddMonths(1)})
		case 3:
			one(b.limits())
			one(b.limits())
		}
	}
}

// schemes makes two chassis schemes of one length, an engine scheme and
// schemes for trouble codes.
//
//	chassis: R model(1) year(1) engine(1) serial(4)
//	engine:  engine(1) serial(rest)
func (b *book) schemes() {
	field := func(scheme, kind, name string, first, length int) {
		b.t.Schemes = append(b.t.Schemes, catalog.SchemeField{Scheme: scheme, Kind: kind, Field: name, First: first, Length: length})
	}
	value := func(scheme, kind, name, value, means string, r catalog.Range) {
		b.t.Schemes = append(b.t.Schemes, catalog.SchemeField{Scheme: scheme, Kind: kind, Field: name, Value: value, Means: means, Range: r})
	}
	for i, scheme := range []string{"RA", "RB"} {
		if i == 1 && !oneIn(b.d, 3) || len(b.codes["model"]) == 0 {
			break
		}
		field(scheme, "chassis", "maker", 1, 1)
		field(scheme, "chassis", "model", 2, 1)
		field(scheme, "chassis", "year", 3, 1)
		field(scheme, "chassis", "engine", 4, 1)
		field(scheme, "chassis", "serial", 5, 4)
		value(scheme, "chassis", "maker", "R", "", catalog.Range{})
		for j, code := range b.codes["model"] {
			var r catalog.Range
			if oneIn(b.d, 4) {
				r = catalog.Range{From: b.date()}
			}
			value(scheme, "chassis", "model", string(rune('A'+(i+j)%24)), code, r)
		}
		for y := range 3 {
			value(scheme, "chassis", "year", string(rune('5'+y)), fmt.Sprint(2015+y), catalog.Range{})
		}
		value(scheme, "chassis", "year", "8", "2016", catalog.Range{Through: catalog.Date{Year: 2016, Month: 6}})
		value(scheme, "chassis", "year", "8", "2017", catalog.Range{From: catalog.Date{Year: 2016, Month: 7}})
		for j, code := range b.codes["engine"] {
			value(scheme, "chassis", "engine", string(rune('A'+j)), code, catalog.Range{})
		}
	}
	if oneIn(b.d, 2) {
		field("EN", "engine", "engine", 1, 1)
		field("EN", "engine", "serial", 2, 0)
		for j, code := range b.codes["engine"] {
			value("EN", "engine", "engine", string(rune('P'+j)), code, catalog.Range{})
		}
		value("EN", "engine", "engine", "P", pick(b.d, b.codes["engine"]), catalog.Range{From: b.date()})
	}
	if oneIn(b.d, 2) {
		for _, scheme := range []string{"TC", "TD"} {
			b.t.Schemes = append(b.t.Schemes, catalog.SchemeField{Scheme: scheme, Kind: "trouble", Field: "code",
				Pack: pick(b.d, []string{catalog.PackJ1939, catalog.PackJ1939v1, catalog.PackJ1939v2, catalog.PackISO15031})})
		}
	}
}

func (b *book) groups() {
	for i := range b.z.groups {
		g := catalog.Group{Code: fmt.Sprintf("%02d", i), Title: "Group", KeyedBy: b.unit()}
		if i > 0 && oneIn(b.d, 2) {
			g.Parent = fmt.Sprintf("%02d", b.d.n(i))
		}
		b.t.Groups = append(b.t.Groups, g)
	}
}

func (b *book) group() string { return pick(b.d, b.t.Groups).Code }

func (b *book) term() string {
	if oneIn(b.d, 4) {
		return pick(b.d, nouns)
	}
	term := pick(b.d, attributes) + " " + pick(b.d, nouns)
	if oneIn(b.d, 6) {
		term = pick(b.d, attributes) + " " + term
	}
	return term
}

func (b *book) synonyms(of func() string) []catalog.Synonym {
	var s []catalog.Synonym
	for range max(0, b.d.n(4)-1) {
		s = append(s, catalog.Synonym{Term: of()})
	}
	return s
}

func (b *book) components() {
	for i := range b.z.components {
		c := catalog.Component{Term: b.term(), Synonyms: b.synonyms(b.term), Group: b.group()}
		if slices.Contains(b.terms, c.Term) && !oneIn(b.d, 8) { // else a component in two groups
			c.Term = fmt.Sprintf("%s %c%d", c.Term, 'p'+i%5, i)
		}
		if i > 0 && oneIn(b.d, 3) {
			c.PartOf = pick(b.d, b.terms)
			if oneIn(b.d, 2) {
				c.Group = ""
			}
		} else if oneIn(b.d, 12) {
			c.Group = ""
		}
		b.terms = append(b.terms, c.Term)
		b.t.Components = append(b.t.Components, c)
	}
}

func (b *book) publications() {
	classes := []catalog.Class{catalog.Repair, catalog.Repair, catalog.Repair, catalog.Maintenance, catalog.Maintenance, catalog.Diagnosis, catalog.Diagnosis, catalog.PreDelivery}
	for i := range b.z.publications {
		p := catalog.Publication{ID: fmt.Sprintf("P%02d", i), Class: classes[i%len(classes)], Title: "Book",
			KeyedBy: b.unit(), Effectivity: b.effectivity()}
		p.AppliesTo = b.pattern(p.KeyedBy)
		for range max(0, b.d.n(4)-1) {
			p.Groups = append(p.Groups, b.group())
		}
		if i > 0 && oneIn(b.d, 4) { // one of its class more often than not
			j := b.d.n(i)
			if i >= len(classes) && oneIn(b.d, 2) {
				j = i - len(classes)
			}
			p.Supersedes = append(p.Supersedes, fmt.Sprintf("P%02d", j))
			if oneIn(b.d, 2) { // a full heir, so that supersession is often Within
				q := b.t.Publications[j]
				p.Class, p.KeyedBy, p.AppliesTo, p.Groups = q.Class, q.KeyedBy, q.AppliesTo, q.Groups
			}
		}
		b.t.Publications = append(b.t.Publications, p)
	}
}

func (b *book) publication() catalog.Publication { return pick(b.d, b.t.Publications) }

// fitting finds a publication in which a procedure of the component would be
// found, if there is one; once in a while it takes any.
func (b *book) fitting(c catalog.Component, action string) string {
	var fit []string
	for _, p := range b.t.Publications {
		g := slices.IndexFunc(b.t.Groups, func(g catalog.Group) bool { return g.Code == c.Group })
		if slices.Contains(b.meta.Actions[action].Classes, p.Class) &&
			(g < 0 || b.t.Groups[g].KeyedBy == p.KeyedBy && (len(p.Groups) == 0 || slices.Contains(p.Groups, c.Group) || slices.Contains(p.Groups, b.t.Groups[g].Parent))) {
			fit = append(fit, p.ID)
		}
	}
	if len(fit) > 0 && !oneIn(b.d, 12) {
		return pick(b.d, fit)
	}
	return b.publication().ID
}

func (b *book) action() string {
	return pick(b.d, []string{"replace", "replace", "remove", "check", "measure", "pre-deliver"})
}

func (b *book) procedures() {
	for i := range b.z.procedures {
		c := pick(b.d, b.t.Components)
		p := catalog.Procedure{ID: fmt.Sprintf("J%03d", i), Component: c.Term, Action: b.action(), Location: catalog.Location{Page: fmt.Sprint(i)}}
		p.Publication = b.fitting(c, p.Action)
		if oneIn(b.d, 3) {
			p.Effectivity = b.effectivity()
		}
		if oneIn(b.d, 4) {
			k := slices.IndexFunc(b.t.Publications, func(q catalog.Publication) bool { return q.ID == p.Publication })
			p.AppliesTo = b.pattern(b.t.Publications[k].KeyedBy)
		}
		if i > 0 && oneIn(b.d, 3) {
			j := b.d.n(i)
			p.Replaces = []string{fmt.Sprintf("J%03d", j)}
			if oneIn(b.d, 2) {
				q := b.t.Procedures[j]
				p.Component, p.Action, p.Publication = q.Component, q.Action, q.Publication
			}
		}
		b.procedureIDs = append(b.procedureIDs, p.ID)
		b.t.Procedures = append(b.t.Procedures, p)
	}
}

func (b *book) counters(scale int) catalog.Counters {
	var c catalog.Counters
	switch b.d.n(5) {
	case 0:
		c.Hours = float64(50 * scale * (1 + b.d.n(4)))
	case 1:
		c.Hours = float64(50 * scale * (1 + b.d.n(4)))
		c.Months = float64(3 * scale * (1 + b.d.n(4)))
	case 2:
		c.Months = float64(3 * scale * (1 + b.d.n(4)))
	case 3:
		c.Distance = float64(1000 * scale * (1 + b.d.n(4)))
		c.Months = float64(3 * scale * (1 + b.d.n(4)))
	}
	return c
}

func (b *book) schedule() {
	for i := range b.z.operations {
		n := fmt.Sprint(10 * (1 + i/2))
		b.operations = append(b.operations, n)
		b.t.Operations = append(b.t.Operations, catalog.Operation{Number: n, Title: "Do " + n, Publication: b.publication().ID,
			Location: catalog.Location{Page: fmt.Sprint(i)}})
	}
	for i := range b.z.services {
		s := catalog.Service{Name: pick(b.d, []string{"B", "C", "D", "PDI", "S500"}), Title: fmt.Sprintf("%d hours service", 100*(i%3+1)),
			KeyedBy: pick(b.d, []string{"", "", "engine"}), Duty: pick(b.d, duties), Every: b.counters(1), Effectivity: b.effectivity()}
		if s.Name == "PDI" && !oneIn(b.d, 4) {
			s.Class, s.Every = catalog.PreDelivery, catalog.Counters{}
		}
		if oneIn(b.d, 2) {
			s.First = b.counters(1)
		}
		key := s.KeyedBy
		if key == "" {
			key = b.meta.Primary
		}
		s.AppliesTo = b.pattern(key)
		for range 1 + b.d.n(4) {
			s.Operations = append(s.Operations, pick(b.d, append(b.operations, "999")))
		}
		b.t.Schedule = append(b.t.Schedule, s)
	}
}

func (b *book) specifications() {
	for i := range b.z.specifications {
		low, high := float64(-20+10*b.d.n(4)), float64(10*b.d.n(4))
		s := catalog.Specification{ID: fmt.Sprintf("S%03d", i), Quantity: pick(b.d, quantities), Value: fmt.Sprint(i), Unit: "L",
			Condition: pick(b.d, conditions), Effectivity: b.effectivity(), Location: catalog.Location{Page: fmt.Sprint(i)}}
		s.Synonyms = b.synonyms(func() string { return pick(b.d, quantities) + pick(b.d, []string{"", " cold", " front"}) })
		if !oneIn(b.d, 6) {
			s.Publication = b.publication().ID
		}
		if oneIn(b.d, 3) {
			s.KeyedBy = b.unit()
			s.AppliesTo = b.pattern(s.KeyedBy)
		}
		switch b.d.n(4) {
		case 1:
			s.Ambient.Low = &low
		case 2:
			s.Ambient.High = &high
		case 3:
			s.Ambient.Low, s.Ambient.High = &low, &high
		}
		b.t.Specifications = append(b.t.Specifications, s)
	}
}

func (b *book) guide() {
	b.chapters = []string{"1", "2", "10"}
	for range b.z.guide {
		g := catalog.GuideEntry{System: pick(b.d, systems), Effectivity: b.effectivity(), Publication: b.publication().ID, Section: pick(b.d, b.chapters)}
		for range b.d.n(3) {
			g.Complaints = append(g.Complaints, catalog.Synonym{Term: pick(b.d, complaints)})
		}
		if oneIn(b.d, 3) {
			g.KeyedBy = b.unit()
			g.AppliesTo = b.pattern(g.KeyedBy)
		}
		b.t.Guide = append(b.t.Guide, g)
	}
	steps := []string{"1", "2", "2a", "10"}
	seen := map[string]bool{}
	for range b.z.tests {
		t := catalog.TestStep{Publication: b.publication().ID, Chapter: pick(b.d, b.chapters), Step: pick(b.d, steps), Tests: "it",
			Side: pick(b.d, []string{"", "", "left", "right"})}
		if g := pick(b.d, b.t.Guide); !oneIn(b.d, 4) {
			t.Publication, t.Chapter = g.Publication, g.Section
		}
		key := t.Publication + "/" + t.Chapter + "/" + t.Step + "/" + t.Side
		if seen[key] {
			continue
		}
		seen[key] = true
		if oneIn(b.d, 2) {
			t.FailChapter = pick(b.d, b.chapters)
		}
		for range b.d.n(3) {
			t.FailSteps = append(t.FailSteps, pick(b.d, steps))
		}
		b.t.Tests = append(b.t.Tests, t)
	}
}

func (b *book) trouble() {
	for i := range b.z.trouble {
		c := catalog.TroubleCode{System: pick(b.d, systems), Code: pick(b.d, faults), Meaning: "fault", Effectivity: b.effectivity(),
			Location: catalog.Location{Section: fmt.Sprint(i)}}
		if !oneIn(b.d, 5) {
			c.Publication = b.publication().ID
		}
		if oneIn(b.d, 3) {
			c.KeyedBy = b.unit()
			c.AppliesTo = b.pattern(c.KeyedBy)
		}
		b.t.TroubleCodes = append(b.t.TroubleCodes, c)
	}
}

func (b *book) target() catalog.Target {
	switch b.d.n(7) {
	case 0, 1:
		return catalog.Target{Table: "procedure", Key: pick(b.d, b.procedureIDs)}
	case 2:
		return catalog.Target{Table: "publication", Key: b.publication().ID}
	case 3:
		return catalog.Target{Table: "operation", Key: pick(b.d, b.operations)}
	case 4:
		return catalog.Target{Table: "specification", Key: pick(b.d, b.t.Specifications).ID}
	case 5:
		if len(b.t.Tests) > 0 && oneIn(b.d, 2) {
			t := pick(b.d, b.t.Tests)
			return catalog.Target{Table: "test", Key: t.Publication + "/" + t.Chapter + "/" + t.Step}
		}
		return catalog.Target{Table: "service", Key: pick(b.d, b.t.Schedule).Name}
	}
	c := pick(b.d, b.t.TroubleCodes)
	return catalog.Target{Table: "trouble", Key: c.System + "/" + c.Code}
}

func (b *book) bulletins() {
	for i := range b.z.bulletins {
		u := catalog.Bulletin{ID: fmt.Sprintf("B%02d", i), Issued: b.date(), Effectivity: b.effectivity()}
		if oneIn(b.d, 3) {
			u.KeyedBy = b.unit()
			u.AppliesTo = b.pattern(u.KeyedBy)
		}
		for range 1 + b.d.n(2) {
			if oneIn(b.d, 2) {
				u.Replaces = append(u.Replaces, b.target())
			} else {
				u.Amends = append(u.Amends, b.target())
			}
		}
		b.t.Bulletins = append(b.t.Bulletins, u)
	}
}

// ---- Queries

func (b *book) vehicle() resolver.Vehicle {
	var v resolver.Vehicle
	if !oneIn(b.d, 4) {
		v.Built = b.date()
	}
	code := func(unit string) string {
		if codes := b.codes[unit]; len(codes) > 0 && !oneIn(b.d, 12) {
			if c := pick(b.d, codes); oneIn(b.d, 4) {
				return strings.ToLower(c[:1] + "-" + c[1:])
			} else {
				return c
			}
		}
		return pick(b.d, []string{"ZZ9", "M", ""})
	}
	if b.meta.Primary == "model" || oneIn(b.d, 4) {
		switch b.d.n(8) {
		case 0, 1, 2, 3:
			v.Model = code("model")
		case 7:
			v.Model = code("model")
			v.Serial = b.serial()
		default:
			v.Chassis = "R" + string(rune('A'+b.d.n(min(24, 1+b.z.models)))) + pick(b.d, []string{"5", "6", "7", "8", "6", "7", "9"}) +
				string(rune('A'+b.d.n(b.z.engines))) + fmt.Sprintf("%04d", b.serial())
			if b.d.n(4) > 0 { // most dates would contradict the year of the number
				v.Built = catalog.Date{}
			}
			if oneIn(b.d, 12) {
				v.Chassis = v.Chassis[1:]
			}
		}
	} else if !oneIn(b.d, 4) {
		v.Serial = b.serial()
	}
	if b.meta.Primary == "engine" && !oneIn(b.d, 6) || oneIn(b.d, 8) {
		v.Engine = code("engine")
		if oneIn(b.d, 2) {
			v.Engine = string(rune('P'+b.d.n(b.z.engines))) + fmt.Sprint(b.serial())
			if b.meta.Primary == "engine" && b.d.n(4) > 0 {
				v.Serial = 0
			}
		}
	}
	if oneIn(b.d, 10) {
		v.Transmission = code("transmission")
	}
	return v
}

func (b *book) query() *resolver.Query {
	d := b.d
	q := &resolver.Query{Vehicle: b.vehicle()}
	switch d.n(8) {
	case 0, 1, 2, 3:
		q.Text = b.jobText()
		if oneIn(d, 3) {
			q.Duty = pick(d, duties)
		}
	case 4:
		q.Task = resolver.DueTask
		q.Duty = pick(d, duties)
		q.Due.Now = catalog.Counters{Hours: float64(50 * d.n(25)), Months: float64(3 * d.n(20)), Distance: float64(500 * d.n(20))}
		if oneIn(d, 2) {
			q.Due.Last = q.Due.Now
			q.Due.Last.Hours = max(0, q.Due.Last.Hours-float64(50*d.n(6)))
			q.Due.Last.Months = max(0, q.Due.Last.Months-float64(3*d.n(6)))
			q.Due.Last.Distance = max(0, q.Due.Last.Distance-float64(500*d.n(6)))
		}
		if oneIn(d, 3) {
			q.Due.Done = map[string]catalog.Counters{pick(d, b.t.Schedule).Name: {Hours: float64(50 * d.n(20)), Months: float64(3 * d.n(12))}}
		}
	case 5:
		q.Task = resolver.SpecTask
		q.Text = say(d, pick(d, quantities))
		if oneIn(d, 6) {
			q.Text = say(d, pick(d, quantities)+" cold")
		}
		if oneIn(d, 2) {
			t := float64(-25 + 5*d.n(15))
			q.Ambient = &t
		}
		q.Condition = pick(d, conditions)
	case 6:
		q.Task = resolver.ComplaintTask
		q.Text = say(d, pick(d, append(complaints, systems...)))
		q.Side = pick(d, []string{"", "", "left", "right"})
		if oneIn(d, 2) {
			q.At = resolver.StepAt{Chapter: pick(d, append(b.chapters, "")), Step: pick(d, []string{"1", "2", "2a", "10"})}
			q.Outcome = pick(d, []resolver.Outcome{resolver.Failed, resolver.Passed})
		}
	case 7:
		q.Task = resolver.TroubleTask
		q.Text = pick(d, append(faults, "B8 04 03 0A", "01 43", "b804030A", "SPN 1208 FMI 3", "p0143", "1208", "C100", "nonsense", "00 01 03 81", "00 01 03 81", "e-17"))
		if oneIn(d, 4) {
			q.System = pick(d, systems)
		}
	}
	return q
}

func (b *book) jobText() string {
	d := b.d
	switch d.n(10) {
	case 7:
		return say(d, pick(d, []string{"B", "PDI", "200 hours service", "hand over", "pre-delivery inspection", "Ubergabe"}))
	case 8:
		return say(d, pick(d, b.terms))
	case 9:
		return say(d, pick(d, []string{"replace", "inspect", "take out and fit", "erneuern", "test", "polish"})+" "+b.term())
	}
	p := pick(d, b.t.Procedures)
	word := p.Action
	if oneIn(d, 3) {
		word = pick(d, append([]string{p.Action}, b.meta.Actions[p.Action].Synonyms...))
		word = strings.TrimPrefix(word, "de:")
	}
	text := word + " " + p.Component
	if oneIn(d, 3) {
		text = say(d, text)
	}
	return text
}
