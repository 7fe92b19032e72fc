package catalog

import (
	"cmp"
	"fmt"
	"strconv"
)

func schemeChecks() family {
	return family{"schemes", checkSchemes, []CheckKind{
		{"bad-scheme", Error, "a scheme cannot be read as it stands: positions, lengths, check digit, values"},
		{"two-meanings", Warning, "a value of a field means two things at the same time"},
		{"scheme-gap", Note, "positions of a code belong to no field"},
		{"undecodable", Warning, "a code on a data card, or a trouble code, that its schemes cannot read"},
		{"no-card", Warning, "a scheme reads a code that has no data card"},
	}}
}

func checkSchemes(k *checker) {
	t := k.t
	rows := map[string][]int{}
	var names []string
	for i := range t.Schemes {
		s := t.Schemes[i].Scheme
		if rows[s] == nil {
			names = append(names, s)
		}
		rows[s] = append(rows[s], i)
	}
	for _, s := range names {
		if d, ok := k.c.Decoder(s); ok {
			k.checkScheme(d, rows[s])
		}
	}
	k.checkModelCodes()
	k.checkChassisModels()
	k.checkUnitNumbers()
	k.checkTroubleCodes()
	k.checkPublicationNumbers()
}

// checkScheme checks the rows of one scheme against the decoder made of them.
func (k *checker) checkScheme(d *Decoder, rows []int) {
	bad := func(i int, column, what, mend string) {
		k.add("bad-scheme", "schemes", k.t.Schemes[i].Origin, column, fmt.Sprintf("scheme %s: ", d.name)+what, mend, 0)
	}
	declared := map[string]int{} // field → row that declares it
	for _, declares := range []func(*SchemeField) bool{
		func(r *SchemeField) bool { return r.Value == "" },
		func(r *SchemeField) bool { return r.First != 0 },
		func(*SchemeField) bool { return true },
	} {
		for _, i := range rows {
			r := &k.t.Schemes[i]
			if _, seen := declared[r.Field]; !seen && declares(r) {
				declared[r.Field] = i
			}
		}
	}
	if d.kind == "" {
		bad(rows[0], "kind", "no row says of which kind it is", "fill in chassis, model, engine, transmission, trouble, publication or a unit's name")
	}
	if d.pack != "" && d.kind != KindTrouble {
		bad(rows[0], "pack", "only a trouble code can be packed in bytes", "empty the column pack, or make the kind trouble")
	}
	for _, i := range rows {
		r := &k.t.Schemes[i]
		first := declared[r.Field] == i
		f, _ := d.Field(r.Field)
		switch {
		case r.Kind != "" && r.Kind != d.kind:
			bad(i, "kind", fmt.Sprintf("rows give it the kinds %s and %s", d.kind, r.Kind), "give all rows the same")
		case r.Pack != "" && r.Pack != d.pack:
			bad(i, "pack", fmt.Sprintf("rows give it the packings %s and %s", d.pack, r.Pack), "give all rows the same")
		case d.pack != "" && first && !isPackedField(d.pack, r.Field):
			bad(i, "field", fmt.Sprintf("a code packed as %s has no field %s", d.pack, r.Field), "the fields are code, and spn, fmi, count (j1939) or system, number (iso15031)")
		case d.pack != "":
		case first && (r.First < 1 || r.First > maxPosition):
			bad(i, "first", fmt.Sprintf("field %s has no position", r.Field), "write the position of its first character, counted from 1")
		case first && (r.Length < 0 || r.Length > maxPosition):
			bad(i, "length", fmt.Sprintf("field %s has the length %d", r.Field, r.Length), "write the number of its characters, or 0 on the last field for all the rest")
		case !first && r.First > 0 && f != nil && (r.First != f.First || r.Length != 0 && r.Length != f.Length):
			bad(i, "first", fmt.Sprintf("field %s stands at position %d, length %d in one row and %d, %d in another", r.Field, f.First, f.Length, r.First, r.Length),
				"give all rows the same, or leave both cells empty where the row gives a value")
		case r.Value != "" && f != nil && f.Length > 0 && len(Fold(r.Value)) != f.Length:
			bad(i, "value", fmt.Sprintf("value %s of field %s has %s, the field %d", r.Value, r.Field, counted(len(Fold(r.Value)), "character", "characters"), f.Length),
				"correct one of the two")
		case r.Value != "" && !calendar(r.Field, r.Means):
			bad(i, "means", fmt.Sprintf("%q is no %s", r.Means, r.Field), "write a year as four digits, a month as 1 to 12")
		}
	}
	if d.pack == "" {
		k.checkPositions(d, declared, bad)
	}
	k.checkMeanings(d, declared)
}

// calendar tells whether a meaning suits a field of the name year or month.
func calendar(field, means string) bool {
	n, err := strconv.Atoi(means)
	switch field {
	case "year":
		return err == nil && n >= 1900 && n <= 2199
	case "month":
		return err == nil && n >= 1 && n <= 12
	}
	return true
}

// checkPositions checks the layout of a scheme's fields.
func (k *checker) checkPositions(d *Decoder, declared map[string]int, bad func(i int, column, what, mend string)) {
	covered := make([]bool, d.length+1)
	rules := 0
	for i := range d.fields {
		f := &d.fields[i]
		row := declared[f.Name]
		if f.Length == 0 && i < len(d.fields)-1 {
			bad(row, "length", fmt.Sprintf("field %s takes all the rest but is not the last", f.Name), "write its number of characters")
		}
		end := f.First + f.Length
		if f.Length == 0 {
			end = d.length + 1
		}
		for p := f.First; p < end && p <= d.length; p++ {
			covered[p] = true
		}
		if f.Check == "" || f.Check == CheckNone {
			continue
		}
		if rules++; rules == 2 {
			bad(row, "check", "two fields have a check digit", "keep one rule; a second check character is none")
		}
		switch {
		case f.Check == CheckISO3779 && (d.length != iso3779Length || d.open):
			bad(row, "check", fmt.Sprintf("%s needs a code of 17 characters, this has %d", CheckISO3779, d.length), "correct the fields, or write none")
		case f.Check == CheckISO3779 && (f.First != 9 || f.Length != 1):
			bad(row, "check", CheckISO3779+" puts the check digit in position 9", "declare a field of length 1 there, with this rule")
		case f.Check == CheckMod10 && f.Length != 1:
			bad(row, "check", CheckMod10+" needs a field of one digit", "make the length 1")
		}
	}
	var open []string
	for p := 1; p <= d.length; p++ {
		if !covered[p] {
			open = append(open, strconv.Itoa(p))
		}
	}
	if len(open) > 0 && len(d.fields) > 0 {
		k.add("scheme-gap", "schemes", k.t.Schemes[declared[d.fields[0].Name]].Origin, "first",
			fmt.Sprintf("scheme %s: %s to no field: %s", d.name, counted(len(open), "position belongs", "positions belong"), some(open)),
			"declare a field for them, so that a code can be composed for exercises", 0)
	}
}

// checkMeanings finds values that mean two things at once.
func (k *checker) checkMeanings(d *Decoder, declared map[string]int) {
	for i := range d.fields {
		f := &d.fields[i]
		for _, v := range f.Values {
			for j := 1; j < len(v.Means); j++ { // in order of time
				a, b := v.Means[j-1], v.Means[j]
				if a.Text == b.Text || a.Days.Meet(b.Days).Empty() || a.Days.Empty() || b.Days.Empty() {
					continue
				}
				k.add("two-meanings", "schemes", k.t.Schemes[declared[f.Name]].Origin, "means",
					fmt.Sprintf("scheme %s: value %s of field %s means %q and %q at the same time", d.name, v.Raw, f.Name, a.Text, b.Text),
					"give the two rows build dates that do not overlap", k.meansLookups(d, f, a.Text, b.Text))
				break
			}
		}
	}
}

// meansLookups counts the lookups with the codes that a field of a unit means.
func (k *checker) meansLookups(d *Decoder, f *Field, texts ...string) int {
	if d.kind == KindTrouble || d.kind == KindPublication {
		return 0
	}
	n := 0
	for _, text := range texts {
		n += k.codeLookups(f.Name, text)
	}
	return n
}

// checkModelCodes checks that the schemes of kind model, where there are any,
// read the codes on the data cards.
func (k *checker) checkModelCodes() {
	decoders := k.c.Decoders(KindModel)
	if len(decoders) == 0 {
		return
	}
	k.eachCode(UnitModel, func(code string, at Origin, cards []int) {
		folded := Fold(code)
		for _, d := range decoders {
			if d.Fits(folded) || !k.spend(1) {
				return
			}
		}
		_, err := decoders[0].Read(folded, nil)
		k.add("undecodable", "models", at, "model", fmt.Sprintf("no scheme of kind model reads the code %s: %v", code, err),
			"correct the code, or add its values to the scheme", k.codeLookups(UnitModel, code))
	})
}

// eachCode gives every code of a unit on the data cards, once, with the row of
// its first card and all its cards.
func (k *checker) eachCode(unit string, f func(code string, at Origin, cards []int)) {
	cards := map[string][]int{}
	var codes []string
	for i := range k.t.Models {
		for _, code := range k.t.Models[i].codesOf(unit) {
			key := Fold(code)
			if key == "" {
				continue
			}
			if cards[key] == nil {
				codes = append(codes, code)
			}
			cards[key] = append(cards[key], i)
		}
	}
	for _, code := range codes {
		own := cards[Fold(code)]
		f(code, k.t.Models[own[0]].Origin, own)
	}
}

// checkChassisModels compares the model field of the chassis schemes with the
// data cards, both ways.
func (k *checker) checkChassisModels() {
	k.compareWithCards(KindChassis, UnitModel, "chassis number")
}

// checkUnitNumbers does the same for the schemes that read the numbers of the
// other units.
func (k *checker) checkUnitNumbers() {
	seen := map[string]bool{}
	for i := range k.t.Schemes {
		kind := k.t.Schemes[i].Kind
		switch kind {
		case "", KindChassis, KindModel, KindTrouble, KindPublication:
			continue
		}
		if !seen[kind] {
			seen[kind] = true
			k.compareWithCards(kind, kind, kind+" number")
		}
	}
}

// compareWithCards compares the field of a unit in the schemes of a kind with
// the codes of the unit on the data cards: each code should be yielded by some
// scheme at a time when a card has it, and each meaning should have a card.
func (k *checker) compareWithCards(kind, unit, number string) {
	type yield struct{ days []Days }
	yields := map[string]*yield{}
	lengths := map[int]bool{} // of fields without a table; 0: any
	any := false
	decoders := k.c.Decoders(kind)
	for _, d := range decoders {
		f, ok := d.Field(unit)
		if !ok {
			continue
		}
		any = true
		if len(f.Values) == 0 {
			lengths[f.Length] = true
		}
		for _, v := range f.Values {
			for _, m := range v.Means {
				code := Fold(cmp.Or(m.Text, v.Raw))
				if yields[code] == nil {
					yields[code] = &yield{}
				}
				yields[code].days = append(yields[code].days, m.Days)
			}
		}
	}
	if !any || !k.hasCards {
		return
	}
	onCard := map[string]bool{}
	column := unit
	k.eachCode(unit, func(code string, at Origin, cards []int) {
		folded := Fold(code)
		onCard[folded] = true
		if lengths[0] || lengths[len(folded)] {
			return
		}
		y := yields[folded]
		if y == nil {
			k.add("undecodable", "models", at, column, fmt.Sprintf("no scheme yields the code %s from a %s", code, number),
				"add it to the values of the field "+unit+" of a scheme of kind "+kind, k.codeLookups(unit, code))
			return
		}
		for _, i := range cards {
			for _, d := range y.days {
				if !k.spend(1) || !d.Meet(k.t.Models[i].Range.Days()).Empty() {
					return
				}
			}
		}
		k.add("undecodable", "models", at, column, fmt.Sprintf("the schemes yield the code %s from a %s only for build dates at which it was not built", code, number),
			"correct the dates of the card or of the scheme's value", k.codeLookups(unit, code))
	})
	if len(onCard) == 0 {
		return
	}
	reported := map[string]bool{}
	for i := range k.t.Schemes {
		r := &k.t.Schemes[i]
		d, ok := k.c.Decoder(r.Scheme)
		if !ok || d.kind != kind || r.Field != unit || r.Value == "" {
			continue
		}
		code := cmp.Or(r.Means, r.Value)
		if folded := Fold(code); !onCard[folded] && !reported[folded] {
			reported[folded] = true
			k.add("no-card", "schemes", r.Origin, "means", fmt.Sprintf("scheme %s reads the %s %s, which is on no data card", r.Scheme, unit, code),
				"add a data card, or correct the meaning", k.codeLookups(unit, code))
		}
	}
}

// checkTroubleCodes checks that the codes that a scheme reads are written so
// that a lookup finds them: as the scheme gives them.
func (k *checker) checkTroubleCodes() {
	for i := range k.t.TroubleCodes {
		c := &k.t.TroubleCodes[i]
		d, ok := k.c.Decoder(c.Scheme)
		if !ok || d.kind != KindTrouble || c.Code == "" {
			continue
		}
		what, mend := "", ""
		if d.pack == "" {
			if _, err := d.Read(Fold(c.Code), nil); err != nil {
				what, mend = err.Error(), "correct the code, or the scheme"
			}
		} else {
			tr, err := ParseTrouble(c.Code)
			twoByte := d.pack == PackISO15031
			switch {
			case err != nil:
				what, mend = err.Error(), "write it as the scheme gives it, such as 1208-3 or P0143"
			case twoByte != (tr.Pack == PackISO15031):
				what, mend = fmt.Sprintf("code %s is of another kind than the bytes that scheme %s reads", c.Code, d.name), "name the scheme that reads it, or none"
			case tr.String() != c.Code:
				what, mend = fmt.Sprintf("scheme %s gives this code as %s", d.name, tr), "write "+tr.String()
			}
		}
		if what != "" {
			k.add("undecodable", "troublecodes", c.Origin, "code", what, mend, k.troubleLookups(i))
		}
	}
}

// checkPublicationNumbers checks that the schemes of kind publication, where
// there are any, read the numbers of the publications.
func (k *checker) checkPublicationNumbers() {
	decoders := k.c.Decoders(KindPublication)
	if len(decoders) == 0 {
		return
	}
next:
	for i := range k.t.Publications {
		p := &k.t.Publications[i]
		for _, d := range decoders {
			if d.Fits(Fold(p.ID)) || !k.spend(1) {
				continue next
			}
		}
		_, err := decoders[0].Read(Fold(p.ID), nil)
		k.add("undecodable", "publications", p.Origin, "publication", fmt.Sprintf("no scheme of kind publication reads the number %s: %v", p.ID, err),
			"correct the number, or the scheme", k.pubLookups(i))
	}
}
