package catalog

import (
	"cmp"
	"encoding/hex"
	"slices"
	"strconv"
)

// The kinds of scheme beside those that bear the name of a unit.
const (
	KindChassis     = "chassis"
	KindModel       = UnitModel
	KindTrouble     = "trouble"
	KindPublication = "publication"
)

// A Decoder reads the codes of one scheme. It is made from the rows of the
// schemes table when the catalog is built, does not change, and may be used by
// any number of goroutines.
type Decoder struct {
	name   string
	kind   string
	pack   string
	fields []Field
	length int  // characters; the least number where open
	open   bool // the last field takes the rest
	check  string
	digit  int // position of the check digit, from 1; 0 where there is none
}

// Field is one field of a code.
type Field struct {
	Name   string
	First  int     // position of the first character, from 1
	Length int     // number of characters; 0: all the rest, and at least one
	Values []Value // value table in order of value; empty: any value
	Check  string  // rule of the check digit that stands in this field, or ""

	table  map[string][]Meaning
	number bool // serial, year or month without a table: digits only
}

// Value is a row of a field's value table.
type Value struct {
	Raw   string // as it stands in the code, folded
	Means []Meaning
}

// Meaning is what a value means, and the build dates in which it does. One
// value may have several meanings at different times; they are in order of
// time.
type Meaning struct {
	Text string
	Days Days
}

// FieldValue is what one field of a code holds. Means is shared with the
// decoder: do not change it. It is empty where the field has no value table.
type FieldValue struct {
	Field *Field
	Raw   string
	Means []Meaning
}

// Number is the value of a field of at most 18 digits.
func (v FieldValue) Number() (n int64, ok bool) {
	if v.Raw == "" || len(v.Raw) > 18 || digits(v.Raw) != len(v.Raw) {
		return 0, false
	}
	n, err := strconv.ParseInt(v.Raw, 10, 64)
	return n, err == nil
}

// Lookup finds a folded value in the field's table.
func (f *Field) Lookup(raw string) ([]Meaning, bool) {
	m, ok := f.table[raw]
	return m, ok
}

// RawFor finds the first value of the table that has a meaning at some time
// within built; where the field has no table, the folded text itself.
func (f *Field) RawFor(means string, built Days) (raw string, ok bool) {
	if len(f.Values) == 0 {
		return Fold(means), true
	}
	for _, v := range f.Values {
		for _, m := range v.Means {
			if m.Text == means && !m.Days.Meet(built).Empty() {
				return v.Raw, true
			}
		}
	}
	return "", false
}

// Decoders lists the decoders of a kind in order of name. The slice is shared:
// do not change it.
func (c *Catalog) Decoders(kind string) []*Decoder { return c.decoders.byKind[kind] }

// Decoder finds a decoder by the name of its scheme.
func (c *Catalog) Decoder(name string) (*Decoder, bool) {
	d, ok := c.decoders.byName[name]
	return d, ok
}

// decoders are the readers of codes of a catalog.
type decoders struct {
	byKind map[string][]*Decoder // in order of name
	byName map[string]*Decoder
}

// Name is the scheme's name.
func (d *Decoder) Name() string { return d.name }

// Kind is what the scheme reads: chassis, trouble, publication or the name of
// a unit.
func (d *Decoder) Kind() string { return d.kind }

// Pack is the byte packing of a trouble code, or "".
func (d *Decoder) Pack() string { return d.pack }

// Fields lists the fields in order of position. Do not change them.
func (d *Decoder) Fields() []Field { return d.fields }

// Field finds a field by name.
func (d *Decoder) Field(name string) (*Field, bool) {
	for i := range d.fields {
		if d.fields[i].Name == name {
			return &d.fields[i], true
		}
	}
	return nil, false
}

// maxPosition bounds what is believed of a field's position and length: no plate
// holds a longer code.
const maxPosition = 1000

// compileSchemes makes the decoders of all schemes, by kind. Rows that
// contradict each other are taken as they come; [Check] reports them. A row that
// declares a field comes before rows that give its values, then the first row
// counts; so does the first kind, packing and check rule of a scheme.
func compileSchemes(rows []SchemeField) decoders {
	byName := map[string]*schemeDraft{}
	var drafts []*schemeDraft
	for _, values := range []bool{false, true} {
		for i := range rows {
			r := &rows[i]
			if (r.Value != "") != values {
				continue
			}
			s := byName[r.Scheme]
			if s == nil {
				s = &schemeDraft{d: &Decoder{name: r.Scheme}, field: map[string]int{}, value: map[[2]string]int{}}
				byName[r.Scheme] = s
				drafts = append(drafts, s)
			}
			s.row(r)
		}
	}
	slices.SortFunc(drafts, func(a, b *schemeDraft) int { return cmp.Compare(a.d.name, b.d.name) })
	out := decoders{map[string][]*Decoder{}, make(map[string]*Decoder, len(drafts))}
	for _, s := range drafts {
		s.d.finish()
		out.byKind[s.d.kind] = append(out.byKind[s.d.kind], s.d)
		out.byName[s.d.name] = s.d
	}
	return out
}

// schemeDraft is a decoder in the making, with indexes by field and by field
// and value.
type schemeDraft struct {
	d     *Decoder
	field map[string]int
	value map[[2]string]int
}

func (s *schemeDraft) row(r *SchemeField) {
	d := s.d
	d.kind = cmp.Or(d.kind, r.Kind)
	d.pack = cmp.Or(d.pack, r.Pack)
	i, ok := s.field[r.Field]
	if !ok {
		i = len(d.fields)
		s.field[r.Field] = i
		d.fields = append(d.fields, Field{Name: r.Field})
	}
	f := &d.fields[i]
	if f.First == 0 { // a value's row may leave the position to the row that declares the field
		f.First, f.Length = r.First, r.Length
	}
	f.Check = cmp.Or(f.Check, r.Check)
	if r.Value == "" {
		return
	}
	raw, m := Fold(r.Value), Meaning{r.Means, r.Range.Days()}
	j, ok := s.value[[2]string{r.Field, raw}]
	if !ok {
		s.value[[2]string{r.Field, raw}] = len(f.Values)
		f.Values = append(f.Values, Value{raw, []Meaning{m}})
		return
	}
	f.Values[j].Means = append(f.Values[j].Means, m)
}

func (d *Decoder) finish() {
	if d.pack != "" {
		d.fields = slices.DeleteFunc(d.fields, func(f Field) bool { return !isPackedField(d.pack, f.Name) })
	} else {
		d.fields = slices.DeleteFunc(d.fields, func(f Field) bool {
			return f.First < 1 || f.First > maxPosition || f.Length < 0 || f.Length > maxPosition
		})
	}
	slices.SortStableFunc(d.fields, func(a, b Field) int { return cmp.Compare(a.First, b.First) })
	for i := range d.fields {
		f := &d.fields[i]
		slices.SortFunc(f.Values, func(a, b Value) int { return cmp.Compare(a.Raw, b.Raw) })
		for j := range f.Values {
			v := &f.Values[j]
			slices.SortFunc(v.Means, compareMeanings)
			v.Means = slices.Compact(v.Means)
		}
		if len(f.Values) > 0 {
			f.table = make(map[string][]Meaning, len(f.Values))
			for _, v := range f.Values {
				f.table[v.Raw] = v.Means
			}
		}
		f.number = len(f.Values) == 0 && (f.Name == "serial" || f.Name == "year" || f.Name == "month")
		if d.pack != "" {
			continue
		}
		if f.Length == 0 && i == len(d.fields)-1 {
			d.open = true
			d.length = max(d.length, f.First)
		} else {
			d.length = max(d.length, f.First+f.Length-1)
		}
		if f.Check != "" && f.Check != CheckNone && d.check == "" {
			d.check, d.digit = f.Check, f.First
			if d.check == CheckISO3779 {
				d.digit = 9
			}
		}
	}
}

func compareMeanings(a, b Meaning) int {
	return cmp.Or(cmp.Compare(a.Days.From, b.Days.From), cmp.Compare(a.Days.Through, b.Days.Through), cmp.Compare(a.Text, b.Text))
}

// failure is why a code is not one of the scheme's, without allocating.
type failure struct {
	why   Reason
	field int // index, or -1
	pos   int
}

// Fits tells whether [Decoder.Read] would read a folded code. It allocates
// nothing.
func (d *Decoder) Fits(code string) bool {
	_, bad := d.read(code, nil, false)
	return bad.why == fits
}

// Read takes a folded code apart and appends its fields, in order of position,
// to dst. The length must be right, every character printable ASCII, the check
// digit right, and each field that has a value table must hold one of its
// values; whether a value's period suits is for the caller to judge. A field
// named serial, year or month without a table holds digits.
//
// It allocates nothing when it succeeds and dst has room, except for a packed
// trouble code. Errors are of type [*CodeError]; dst then comes back as it was.
func (d *Decoder) Read(code string, dst []FieldValue) ([]FieldValue, error) {
	out, bad := d.read(code, dst, true)
	if bad.why != fits {
		return dst, d.explain(code, bad)
	}
	return out, nil
}

func (d *Decoder) read(code string, dst []FieldValue, keep bool) ([]FieldValue, failure) {
	if d.pack != "" {
		return d.readPacked(code, dst, keep)
	}
	if len(d.fields) == 0 || len(code) < d.length || len(code) > d.length && !d.open {
		return dst, failure{WrongLength, -1, 0}
	}
	if d.check != "" { // its rules know which characters may occur
		if bad := d.judgeDigit(code); bad.why != fits {
			return dst, bad
		}
	} else if pos := unprintable(code); pos > 0 {
		return dst, failure{BadCharacter, -1, pos}
	}
	for i := range d.fields {
		f := &d.fields[i]
		raw := f.part(code)
		var means []Meaning
		if f.table != nil {
			var ok bool
			if means, ok = f.table[raw]; !ok {
				return dst, failure{NotInTable, i, f.First}
			}
		} else if f.number {
			if n := digits(raw); n != len(raw) {
				return dst, failure{BadCharacter, i, f.First + n}
			} else if n > 18 {
				return dst, failure{WrongLength, i, f.First}
			}
		}
		if keep {
			dst = append(dst, FieldValue{f, raw, means})
		}
	}
	return dst, failure{field: -1}
}

// part is the field's piece of a code that is long enough. A field of length 0
// that is not the last takes the rest too; Check reports it.
func (f *Field) part(code string) string {
	if f.Length == 0 {
		return code[f.First-1:]
	}
	return code[f.First-1 : f.First-1+f.Length]
}

// unprintable is the position of the first character that is not printable
// ASCII, or 0.
func unprintable(code string) int {
	for i := 0; i < len(code); i++ {
		if code[i] <= ' ' || code[i] > '~' {
			return i + 1
		}
	}
	return 0
}

// judgeDigit applies the scheme's check-digit rule.
func (d *Decoder) judgeDigit(code string) failure {
	switch d.check {
	case CheckISO3779:
		digit, why, pos := checkISO3779(code)
		if why != fits {
			return failure{why, -1, pos}
		}
		if code[8] != digit {
			return failure{WrongCheckDigit, -1, 9}
		}
	case CheckMod10:
		sum, pos := luhn(code, false)
		if pos != 0 {
			return failure{BadCharacter, -1, pos}
		}
		if sum%10 != 0 {
			return failure{WrongCheckDigit, -1, d.digit}
		}
	default: // a rule that Check reports as unknown judges nothing
		if pos := unprintable(code); pos > 0 {
			return failure{BadCharacter, -1, pos}
		}
	}
	return failure{field: -1}
}

// explain makes the error of a failure.
func (d *Decoder) explain(code string, bad failure) *CodeError {
	if d.pack != "" {
		return d.explainPacked(code, bad)
	}
	e := &CodeError{Scheme: d.name, Code: code, Reason: bad.why, Position: bad.pos}
	var f *Field
	switch {
	case bad.field >= 0:
		f = &d.fields[bad.field]
	case bad.pos > 0:
		for i := range d.fields {
			if g := &d.fields[i]; bad.pos >= g.First && (g.Length == 0 || bad.pos < g.First+g.Length) {
				f = g
				break
			}
		}
	}
	if f != nil {
		e.Field = f.Name
	}
	e.Got = charAt(code, bad.pos)
	switch bad.why {
	case WrongLength:
		e.Got = strconv.Itoa(len(code)) + " characters"
		e.Want = strconv.Itoa(d.length) + " characters"
		if d.open {
			e.Want = "at least " + e.Want
		}
		if bad.field >= 0 {
			e.Want = "at most 18 digits"
		}
	case NotInTable:
		e.Got, e.Want = f.part(code), "a value of the field's table"
	case WrongCheckDigit:
		if d.check == CheckISO3779 {
			c, _, _ := checkISO3779(code)
			e.Want = strconv.Quote(string(c))
		} else if c, ok := d.digitFor([]byte(code)); ok {
			e.Want = strconv.Quote(string(c))
		}
	case BadCharacter:
		switch {
		case bad.field >= 0 || d.check == CheckMod10:
			e.Want = "a digit"
		case d.check == CheckISO3779:
			e.Want = iso3779Want(BadCharacter, bad.pos)
		default:
			e.Want = "a letter, digit or other printable ASCII character"
		}
	}
	return e
}

// Packed codes. Their fields have names of their own instead of positions.

// isPackedField tells whether a packed code has a field of that name: code (the
// canonical text) and spn, fmi, count, or system (P, C, B, U) and number.
func isPackedField(pack, name string) bool {
	switch name {
	case "code":
		return true
	case "spn", "fmi", "count":
		return pack != PackISO15031
	case "system", "number":
		return pack == PackISO15031
	}
	return false
}

func packedField(t Trouble, name string) string {
	switch name {
	case "spn":
		return strconv.FormatUint(uint64(t.SPN), 10)
	case "fmi":
		return strconv.Itoa(int(t.FMI))
	case "count":
		return strconv.Itoa(int(t.Count))
	case "system":
		return t.String()[:1]
	case "number":
		return t.String()[1:]
	}
	return t.String()
}

// Unpack reads the bytes of a trouble code, written as hexadecimal and folded,
// by the scheme's packing. It allocates nothing when it succeeds. A scheme
// without a packing reads none. Errors are of type [*CodeError].
func (d *Decoder) Unpack(code string) (Trouble, error) {
	t, why := d.unpack(code)
	if why != fits {
		return Trouble{}, d.explainPacked(code, failure{why, -1, 0})
	}
	return t, nil
}

func (d *Decoder) unpack(code string) (Trouble, Reason) {
	if d.pack == "" {
		return Trouble{}, NotACode
	}
	want := 8
	if d.pack == PackISO15031 {
		want = 4
	}
	if len(code) != want {
		return Trouble{}, WrongLength
	}
	var b [4]byte
	for i := range code {
		n := hexDigit(code[i])
		if n < 0 {
			return Trouble{}, BadCharacter
		}
		b[i/2] = b[i/2]<<4 | byte(n)
	}
	return unpack(d.pack, b[:want/2])
}

func hexDigit(c byte) int {
	switch {
	case c >= '0' && c <= '9':
		return int(c - '0')
	case c >= 'A' && c <= 'F':
		return int(c-'A') + 10
	}
	return -1
}

func (d *Decoder) readPacked(code string, dst []FieldValue, keep bool) ([]FieldValue, failure) {
	t, why := d.unpack(code)
	if why != fits {
		return dst, failure{why, -1, 0}
	}
	for i := range d.fields {
		f := &d.fields[i]
		if !keep && f.table == nil {
			continue
		}
		raw := packedField(t, f.Name)
		var means []Meaning
		if f.table != nil {
			var ok bool
			if means, ok = f.table[Fold(raw)]; !ok {
				return dst, failure{NotInTable, i, 0}
			}
		}
		if keep {
			dst = append(dst, FieldValue{f, raw, means})
		}
	}
	return dst, failure{field: -1}
}

func (d *Decoder) explainPacked(code string, bad failure) *CodeError {
	e := &CodeError{Reason: bad.why}
	b, err := hex.DecodeString(code)
	switch {
	case d.pack == "":
		e.Want = "read as text: the scheme has no byte packing"
	case bad.why == NotInTable:
		f := &d.fields[bad.field]
		t, _ := d.unpack(code)
		e.Field, e.Got, e.Want = f.Name, packedField(t, f.Name), "a value of the field's table"
	case err != nil || bad.why == BadCharacter:
		if bad.why == WrongLength {
			e.Got = strconv.Itoa(len(code)) + " characters"
		}
		e.Want = "4 bytes as 8 hexadecimal digits"
		if d.pack == PackISO15031 {
			e.Want = "2 bytes as 4 hexadecimal digits"
		}
	default:
		e = unpackError(d.pack, b, bad.why)
	}
	e.Scheme, e.Code = d.name, code
	return e
}
