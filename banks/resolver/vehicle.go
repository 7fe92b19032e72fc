package resolver

import (
	"cmp"
	"slices"
	"strconv"

	edlib "github.com/hbollon/go-edlib"

	"rightpage/banks/catalog"
)

// unitNumber is a unit's code and serial as read from its number.
type unitNumber struct {
	unit   int8
	code   int32
	serial catalog.Serials
}

// identity is one way in which the plate can be read.
type identity struct {
	code    int32 // model code, -1 where the plate does not say
	built   catalog.Days
	serial  catalog.Serials
	numbers [2]int32 // work.numbers[numbers[0]:numbers[1]]: units named on the plate
}

// vehicle reads the codes of the query and fills work.branches. It tells
// whether any branch is left.
func (x *run) vehicle() bool {
	r, v := x.r, &x.q.Vehicle
	x.reach(CodeStep, -1)
	if !x.unitNumbers() {
		return false
	}
	given := len(x.w.numbers)
	built := v.Built.Span()
	serial := catalog.Serials{From: v.Serial, Through: v.Serial}
	switch {
	case v.Chassis != "":
		x.chassis(built, serial)
	case v.Model != "":
		x.modelCode(built, serial)
	default:
		if len(x.w.numbers) == 0 {
			if x.tr != nil {
				s := x.tr.step(CodeStep, "a vehicle, an engine or a unit must be named", "")
				s.Result = "nothing to read: give the chassis number, the model code or the engine number"
			}
			return false
		}
		b := x.newBranch(-1, built)
		x.apply(&b, x.w.numbers)
		if v.Serial != 0 {
			x.state(&b, r.primary).serial = serial
		}
		x.w.branches = append(x.w.branches, b)
		x.reach(CodeStep, x.state(&b, r.primary).code)
		return true
	}
	if len(x.w.ids) == 0 {
		return false
	}
	if x.brk.Slip == SalesNameAsCode {
		if x.mistakeName(); len(x.w.ids) == 0 {
			return false
		}
	}
	for i := range x.w.ids {
		x.takeCards(&x.w.ids[i], x.w.numbers[:given])
	}
	if len(x.w.branches) == 0 {
		x.reach(CodeStep, x.w.ids[0].code)
		x.reach(CardStep, -1)
	}
	return len(x.w.branches) > 0
}

func (x *run) newBranch(card int32, built catalog.Days) branch {
	b := branch{card: card, built: built, at: int32(len(x.w.units))}
	for range x.r.units {
		x.w.units = append(x.w.units, unitState{code: -1})
	}
	return b
}

func (x *run) apply(b *branch, numbers []unitNumber) {
	for _, n := range numbers {
		s := x.state(b, n.unit)
		s.serial = n.serial
		if n.code >= 0 {
			s.code = n.code
		}
	}
}

// unitNumbers reads the numbers or codes of engine and transmission that the
// query gives.
func (x *run) unitNumbers() bool {
	for i, number := range [...]string{x.q.Vehicle.Engine, x.q.Vehicle.Transmission} {
		if number == "" {
			continue
		}
		unit := x.r.unitID[[...]string{catalog.UnitEngine, catalog.UnitTransmission}[i]]
		n, ok := x.unitNumber(unit, catalog.Fold(number))
		if !ok {
			return false
		}
		x.w.numbers = append(x.w.numbers, n)
	}
	return true
}

// unitNumber reads one number by the schemes of its unit, failing that as a
// code.
func (x *run) unitNumber(unit int8, number string) (unitNumber, bool) {
	r := x.r
	u := r.units[unit]
	var s *TraceStep
	if x.tr != nil {
		s = x.tr.step(CodeStep, "the schemes of the unit read its number", u.name+" "+number)
	}
	for _, d := range r.unitRead[unit] {
		if !d.Fits(number) && s == nil {
			continue
		}
		fields, err := d.Read(number, x.w.fields[:0])
		x.w.fields = fields[:0]
		if err != nil {
			if s != nil {
				s.consider("scheme:"+d.Name(), "", RuledOut, "%v", err)
			}
			continue
		}
		n, known := unitNumber{unit: unit, code: -1}, false
		for i := range fields {
			f := &fields[i]
			switch f.Field.Name {
			case u.name:
				n.code, known = u.named(f, x.q.Vehicle.Built.Span())
			case "serial":
				if v, ok := digitsOf(f.Raw); ok {
					n.serial = catalog.Serials{From: v, Through: v}
				}
			}
		}
		if !known {
			if s != nil {
				s.consider("scheme:"+d.Name(), "", RuledOut, "its field %s is not a code that the catalog knows", u.name)
			}
			continue
		}
		if s != nil {
			s.consider("scheme:"+d.Name(), "", Chosen, "reads every field")
			s.Result = u.name + " of several codes, by the build date"
			if n.code >= 0 {
				s.Result = u.name + " " + u.codes[n.code]
			}
			if n.serial.From != 0 {
				s.Result += ", serial " + strconv.FormatInt(n.serial.From, 10)
			}
		}
		return n, true
	}
	if id := u.lookup(number); id >= 0 {
		if s != nil {
			s.consider(u.name+":"+number, "", Chosen, "is itself a code that the catalog knows")
			s.Result = u.name + " " + number + ", serial not known"
		}
		return unitNumber{unit: unit, code: id}, true
	}
	if s != nil {
		s.Result = "no scheme reads it and it is no " + u.name + " code; nearest: " + joinOr(nearestCodes(u, number, 3))
	}
	return unitNumber{}, false
}

func (u *unitIndex) lookup(code string) int32 {
	if id, ok := u.id[code]; ok {
		return id
	}
	if id, ok := u.id[catalog.Fold(code)]; ok {
		return id
	}
	return -1
}

// named gives the code that a field names in a span of build dates, -1 where it
// can name several; known is false where it names none.
func (u *unitIndex) named(f *catalog.FieldValue, built catalog.Days) (code int32, known bool) {
	if len(f.Means) == 0 {
		code = u.lookup(f.Raw)
		return code, code >= 0
	}
	code = -1
	for i := range f.Means {
		m := &f.Means[i]
		if catalog.FitDays(built, m.Days) == catalog.Outside {
			continue
		}
		switch c := u.lookup(cmp.Or(m.Text, f.Raw)); {
		case c < 0 || known && c == code:
		case known:
			return -1, true
		default:
			code, known = c, true
		}
	}
	return code, known
}

// fieldText is the meaning of a field where it has one in the period, else the
// characters themselves.
func fieldText(f *catalog.FieldValue, built catalog.Days) string {
	for i := range f.Means {
		if catalog.FitDays(built, f.Means[i].Days) != catalog.Outside && f.Means[i].Text != "" {
			return f.Means[i].Text
		}
	}
	return f.Raw
}

func digitsOf(s string) (int64, bool) {
	var n int64
	if s == "" || len(s) > 18 {
		return 0, false
	}
	for i := 0; i < len(s); i++ {
		if s[i] < '0' || s[i] > '9' {
			return 0, false
		}
		n = n*10 + int64(s[i]-'0')
	}
	return n, true
}

func (x *run) modelCode(built catalog.Days, serial catalog.Serials) {
	code := catalog.Fold(x.q.Vehicle.Model)
	id := x.r.units[0].lookup(code)
	if x.tr != nil {
		s := x.tr.step(CodeStep, "the model code is looked up as it stands", x.q.Vehicle.Model)
		if id < 0 {
			s.Result = "no such model code; nearest: " + joinOr(nearestCodes(x.r.units[0], code, 3))
		} else {
			s.Result = "model " + x.r.units[0].codes[id]
		}
	}
	if id >= 0 {
		n := int32(len(x.w.numbers))
		x.w.ids = append(x.w.ids, identity{id, built, serial, [2]int32{n, n}})
	}
}

// chassis reads the chassis number by every scheme and collects what it can
// mean.
func (x *run) chassis(built catalog.Days, serial catalog.Serials) {
	code := catalog.Fold(x.q.Vehicle.Chassis)
	var s *TraceStep
	if x.tr != nil {
		s = x.tr.step(CodeStep, "every chassis scheme reads the number: length, check digit, value tables", code)
	}
	for _, d := range x.r.chassis {
		if s == nil && !d.Fits(code) {
			continue
		}
		fields, err := d.Read(code, x.w.fields[:0])
		x.w.fields = fields[:0]
		if err != nil {
			if s != nil {
				s.consider("scheme:"+d.Name(), "", RuledOut, "%v", err)
			}
			continue
		}
		n := len(x.w.ids)
		x.readChassis(code, fields, built, serial)
		if s != nil {
			if len(x.w.ids) == n {
				s.consider("scheme:"+d.Name(), "", RuledOut, "what it reads does not agree with the build date or names no model code")
			} else {
				s.consider("scheme:"+d.Name(), "", Chosen, "reads every field, the check digit is right")
			}
		}
	}
	if want := x.q.Vehicle.Model; want != "" {
		id := x.r.units[0].lookup(catalog.Fold(want))
		x.w.ids = slices.DeleteFunc(x.w.ids, func(i identity) bool { return i.code != id })
	}
	if s != nil {
		x.traceChassis(s)
	}
}

func (x *run) traceChassis(s *TraceStep) {
	if len(x.w.ids) == 0 {
		s.Result = "no scheme reads it: compare it with the plate, sign by sign"
		return
	}
	for i := range x.w.ids {
		id := &x.w.ids[i]
		if s.Result != "" {
			s.Result += "; or "
		}
		s.Result += "model " + x.r.units[0].codes[id.code]
		if id.serial.From != 0 {
			s.Result += ", serial " + strconv.FormatInt(id.serial.From, 10)
		}
		s.Result += ", built " + spanText(id.built)
	}
}

// readChassis adds one identity for each meaning that the fields can have.
func (x *run) readChassis(code string, fields []catalog.FieldValue, built catalog.Days, serial catalog.Serials) {
	var model, year, month *catalog.FieldValue
	for i := range fields {
		f := &fields[i]
		switch f.Field.Name {
		case "model":
			model = f
		case "year":
			year = f
		case "month":
			month = f
		case "serial":
			if v, ok := digitsOf(f.Raw); ok {
				s := catalog.Serials{From: v, Through: v}
				if serial.From != 0 && serial != s {
					return // the plate contradicts the serial that was given
				}
				serial = s
			}
		}
	}
	if model == nil {
		return
	}
	eachYear(year, month, built, func(narrow catalog.Days) {
		span := [2]int32{int32(len(x.w.numbers)), 0}
		for i := range fields {
			f := &fields[i]
			if len(f.Means) > 0 && f != year && !anyMeaning(f.Means, narrow) {
				return
			}
			if u, ok := x.r.unitID[f.Field.Name]; ok && u != 0 {
				if id, _ := x.r.units[u].named(f, narrow); id >= 0 {
					x.w.numbers = append(x.w.numbers, unitNumber{unit: u, code: id})
				}
			}
		}
		span[1] = int32(len(x.w.numbers))
		raw, means := model.Raw, model.Means
		if x.brk.Slip == WrongDigits {
			if raw, means = misread(code, model.Field, x.brk.Variant); raw == "" {
				return
			}
		}
		if len(means) == 0 {
			if id := x.r.units[0].lookup(raw); id >= 0 {
				x.w.ids = append(x.w.ids, identity{id, narrow, serial, span})
			}
			return
		}
		for i := range means {
			m := &means[i]
			if catalog.FitDays(narrow, m.Days) == catalog.Outside {
				continue
			}
			if id := x.r.units[0].lookup(cmp.Or(m.Text, raw)); id >= 0 {
				x.w.ids = append(x.w.ids, identity{id, narrow.Meet(m.Days), serial, span})
			}
		}
	})
}

func anyMeaning(means []catalog.Meaning, built catalog.Days) bool {
	for i := range means {
		if catalog.FitDays(built, means[i].Days) != catalog.Outside {
			return true
		}
	}
	return false
}

// eachYear calls f for each interval of build dates that the fields year and
// month leave of what is known.
func eachYear(year, month *catalog.FieldValue, built catalog.Days, f func(catalog.Days)) {
	if year == nil {
		f(built)
		return
	}
	narrow := func(text string, within catalog.Days) {
		y, ok := digitsOf(text)
		if !ok || y < 1900 || y > 2199 {
			return
		}
		d := catalog.Date{Year: int16(y)}
		if month != nil {
			if m, ok := digitsOf(fieldText(month, within)); ok && m >= 1 && m <= 12 {
				d.Month = int8(m)
			}
		}
		if n := built.Meet(within).Meet(d.Span()); !n.Empty() {
			f(n)
		}
	}
	if len(year.Means) == 0 {
		narrow(year.Raw, catalog.AnyDay())
		return
	}
	for i := range year.Means {
		m := &year.Means[i]
		narrow(cmp.Or(m.Text, year.Raw), m.Days)
	}
}

// misread reads a field one or two positions beside its place.
func misread(code string, f *catalog.Field, variant int) (string, []catalog.Meaning) {
	at := f.First - 1 + [...]int{1, -1, 2, -2}[variant%4]
	if at < 0 || at+f.Length > len(code) || f.Length == 0 {
		return "", nil
	}
	raw := code[at : at+f.Length]
	means, known := f.Lookup(raw)
	if !known {
		return "", nil // no such value: whoever misreads this notices
	}
	return raw, means
}

// mistakeName replaces the model code by one that looks like the sales name.
func (x *run) mistakeName() {
	id := &x.w.ids[0]
	like := x.r.lookAlikes(id.code)
	if x.brk.Variant >= len(like) {
		x.w.ids = x.w.ids[:0]
		return
	}
	id.code = like[x.brk.Variant]
	id.serial = catalog.Serials{}
	x.w.ids = x.w.ids[:1]
}

// lookAlikes lists other model codes by how much they look like the sales name
// of a model. The list is worked out when it is first asked for; whoever else
// works it out at the same time gets the same.
func (r *Resolver) lookAlikes(code int32) []int32 {
	if p := r.alike[code].Load(); p != nil {
		return *p
	}
	var like []int32
	if cards := r.cards[code]; len(cards) > 0 {
		name := catalog.Fold(r.t.Models[cards[0]].SalesName)
		like = nearestIDs(r.units[0], name, SalesNameAsCode.Variants()+1)
		like = slices.DeleteFunc(like, func(c int32) bool { return c == code || len(r.cards[c]) == 0 })
	}
	r.alike[code].Store(&like)
	return like
}

// takeCards adds a branch for each data card of an identity.
func (x *run) takeCards(id *identity, given []unitNumber) {
	r := x.r
	cards := r.cards[id.code]
	loose := false
	if x.brk.Slip == NeighbourCard {
		cards, loose = x.neighbourCards(id), true
	} else if x.brk.Slip == SalesNameAsCode {
		loose = true
	}
	var s *TraceStep
	if x.tr != nil {
		s = x.tr.step(CardStep, "the data cards of the model code whose build dates and serials agree with what is known",
			r.units[0].codes[id.code]+", built "+spanText(id.built)+serialText(id.serial))
	}
	for _, c := range cards {
		m, info := &r.t.Models[c], &r.cardInfo[c]
		if !loose && (catalog.FitDays(id.built, info.days) == catalog.Outside || catalog.FitSerials(id.serial, info.serials) == catalog.Outside) {
			if s != nil {
				s.consider("model:"+m.Code, m.SalesName, RuledOut, "its card applies %s", r.rangeText(m.Range))
			}
			continue
		}
		b := x.newBranch(c, id.built)
		if !loose {
			b.built = id.built.Meet(info.days)
		}
		*x.state(&b, 0) = unitState{code: info.units[0], serial: id.serial}
		if id.serial.From == 0 && !loose {
			x.state(&b, 0).serial = info.serials
		}
		for u := 1; u < len(r.units); u++ {
			x.state(&b, int8(u)).code = info.units[u]
		}
		for _, n := range x.w.numbers[id.numbers[0]:id.numbers[1]] {
			if x.state(&b, n.unit).code < 0 {
				x.state(&b, n.unit).code = n.code
			}
		}
		clash := int8(-1)
		for _, n := range given {
			if have := x.state(&b, n.unit).code; have >= 0 && n.code >= 0 && have != n.code && !loose {
				clash = n.unit
			}
		}
		if clash >= 0 {
			if s != nil {
				s.consider("model:"+m.Code, m.SalesName, RuledOut, "its card has another %s", r.units[clash].name)
			}
			continue
		}
		x.apply(&b, given)
		x.w.branches = append(x.w.branches, b)
		if s != nil {
			s.consider("model:"+m.Code, m.SalesName, Chosen, "its card applies %s", r.rangeText(m.Range))
			if s.Result != "" {
				s.Result += "; or "
			}
			s.Result += r.cardText(c)
		}
	}
	if s != nil && s.Result == "" {
		s.Result = "no data card of " + r.units[0].codes[id.code] + " agrees: check the build date and the serial on the plate"
	}
}

// neighbourCards gives the cards of a model code near to the right one, or
// another card of the same code.
func (x *run) neighbourCards(id *identity) []int32 {
	r := x.r
	step := [...]int32{1, -1, 2, -2}[x.brk.Variant%4]
	n := int32(len(r.units[0].codes))
	for c := id.code + step; c >= 0 && c < n; c += step / max(step, -step) {
		if cards := r.cards[c]; len(cards) > 0 {
			for i, k := range cards {
				if catalog.FitDays(id.built, r.cardInfo[k].days) != catalog.Outside {
					return cards[i : i+1]
				}
			}
			return cards[:1]
		}
	}
	return nil
}

func (r *Resolver) cardText(c int32) string {
	m := &r.t.Models[c]
	text := m.Code
	if m.SalesName != "" {
		text += " " + m.SalesName
	}
	if m.Engine != "" {
		text += ", engine " + m.Engine
	}
	if m.Transmission != "" {
		text += ", transmission " + m.Transmission
	}
	for _, u := range m.Units {
		text += ", " + u.Unit + " " + u.Code
	}
	return text
}

func (r *Resolver) rangeText(g catalog.Range) string {
	return r.meta.Limits.Format(catalog.Effectivity{g})
}

func spanText(d catalog.Days) string {
	switch {
	case d.From == catalog.MinDay && d.Through == catalog.MaxDay:
		return "at a date not known"
	case d.From == catalog.MinDay:
		return "through " + d.Through.Date().String()
	case d.Through == catalog.MaxDay:
		return "from " + d.From.Date().String()
	case d.From == d.Through:
		return d.From.Date().String()
	}
	return d.From.Date().String() + " to " + d.Through.Date().String()
}

func serialText(s catalog.Serials) string {
	if s.From == 0 && s.Through == 0 {
		return ""
	}
	if s.From == s.Through {
		return ", serial " + strconv.FormatInt(s.From, 10)
	}
	return ", serial " + strconv.FormatInt(s.From, 10) + " to " + strconv.FormatInt(s.Through, 10)
}

// nearestIDs orders the codes of a unit by edit distance to a text.
func nearestIDs(u *unitIndex, text string, n int) []int32 {
	ids := make([]int32, len(u.codes))
	far := make([]int, len(u.codes))
	for i, c := range u.codes {
		ids[i] = int32(i)
		far[i] = edlib.OSADamerauLevenshteinDistance(text, c)
	}
	slices.SortStableFunc(ids, func(a, b int32) int { return far[a] - far[b] })
	return ids[:min(n, len(ids))]
}

func nearestCodes(u *unitIndex, text string, n int) []string {
	var out []string
	for _, id := range nearestIDs(u, text, n) {
		out = append(out, u.codes[id])
	}
	return out
}

func joinOr(list []string) string {
	switch len(list) {
	case 0:
		return "none"
	case 1:
		return list[0]
	}
	out := list[0]
	for _, s := range list[1 : len(list)-1] {
		out += ", " + s
	}
	return out + " or " + list[len(list)-1]
}
