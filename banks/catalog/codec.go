package catalog

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// A codec is the one mapping between a record type and its row of cells. It
// serves reading, writing and comparing, so that the three cannot drift apart.
type codec interface {
	table() string
	header() []columnInfo
	// count tells how many records of the table t holds.
	count(t *Tables) int
	// cells writes one record as a row, in the order of header. The error tells
	// which cell could not be read back as it is; the row is whole all the same.
	cells(t *Tables, i int, style LimitStyle) ([]string, error)
	// decode reads one row, given as pairs of column index and cell, and appends
	// the record; when any fault is reported the record is left out.
	decode(t *Tables, style LimitStyle, at Origin, row []cellAt) []rowFault
	// key is the natural key of a record, for people and for comparing.
	key(t *Tables, i int) string
	// at is where a record was read.
	at(t *Tables, i int) Origin
}

// kind says what a column holds, which decides how a spreadsheet's own cell
// types are taken.
type kind uint8

const (
	kindText kind = iota
	kindNumber
	kindDate
)

// need says what a table requires of a column.
type need uint8

const (
	optional need = iota
	present       // the column must be there
	filled        // the column must be there and no cell of it empty
)

type columnInfo struct {
	name string
	kind kind
	need need
}

type cellAt struct {
	column int
	text   string
}

// cellFault is what is wrong with one cell.
type cellFault struct{ code, what, mend string }

func (f cellFault) Error() string { return f.what + "; " + f.mend }

type rowFault struct {
	column string
	cellFault
}

// rowInput collects what several columns say together.
type rowInput struct {
	style    LimitStyle
	span     Range
	hasSpan  bool
	printed  Effectivity
	hasPrint bool
}

type column[T any] struct {
	columnInfo
	// get gives the text of a cell, and why it could not be read back.
	get func(r *T, style LimitStyle) (string, error)
	set func(r *T, in *rowInput, cell string) error
}

// needs marks a column as required.
func (c column[T]) needs(n need) column[T] { c.need = n; return c }

type tableOf[T any] struct {
	name    string
	records func(*Tables) *[]T
	origin  func(*T) *Origin
	keyOf   func(*T) string
	limits  func(*T) *Effectivity // nil where a record has at most one range
	span    func(*T) *Range       // nil where a record has an Effectivity, or none
	columns []column[T]
}

func (c *tableOf[T]) table() string { return c.name }

func (c *tableOf[T]) header() []columnInfo {
	h := make([]columnInfo, len(c.columns))
	for i := range c.columns {
		h[i] = c.columns[i].columnInfo
	}
	return h
}

func (c *tableOf[T]) count(t *Tables) int { return len(*c.records(t)) }

func (c *tableOf[T]) key(t *Tables, i int) string { return c.keyOf(&(*c.records(t))[i]) }

func (c *tableOf[T]) at(t *Tables, i int) Origin { return *c.origin(&(*c.records(t))[i]) }

func (c *tableOf[T]) cells(t *Tables, i int, style LimitStyle) ([]string, error) {
	r := &(*c.records(t))[i]
	row := make([]string, len(c.columns))
	var first error
	for k := range c.columns {
		cell, err := c.columns[k].get(r, style)
		if err == nil {
			err = writable(cell)
		}
		if err == nil && cell == "" && c.columns[k].need == filled {
			err = errors.New("the cell must not be empty")
		}
		if err != nil && first == nil {
			first = fmt.Errorf("table %s, record %s, column %s: %w", c.name, c.keyOf(r), c.columns[k].name, err)
		}
		row[k] = cell
	}
	return row, first
}

func (c *tableOf[T]) decode(t *Tables, style LimitStyle, at Origin, row []cellAt) []rowFault {
	var r T
	var faults []rowFault
	in := rowInput{style: style}
	fail := func(column string, err error) {
		var f cellFault
		if !errors.As(err, &f) {
			f = cellFault{code: "cell", what: err.Error()}
		}
		faults = append(faults, rowFault{column, f})
	}
	for _, cell := range row {
		col := &c.columns[cell.column]
		if cell.text == "" {
			if col.need == filled {
				fail(col.name, cellFault{"empty", "the cell is empty", "fill it in: every row of " + c.name + " needs it"})
			}
			continue
		}
		if err := col.set(&r, &in, cell.text); err != nil {
			fail(col.name, err)
		}
	}
	switch {
	case c.limits != nil:
		e := c.limits(&r)
		switch {
		case in.hasSpan && in.hasPrint:
			fail("effectivity", cellFault{"twice", "the limits are given in this column and in from, through, serial_from or serial_through as well",
				"keep one of the two and empty the other"})
		case in.hasSpan:
			*e = Effectivity{in.span}
		case in.hasPrint:
			*e = in.printed
		}
		column := "from"
		if in.hasPrint {
			column = "effectivity"
		}
		for _, x := range *e {
			if err := inverted(x); err != nil {
				fail(column, err)
			}
		}
	case c.span != nil:
		*c.span(&r) = in.span
		if err := inverted(in.span); err != nil {
			fail(c.firstLimit(), err)
		}
	}
	if faults == nil {
		*c.origin(&r) = at
		s := c.records(t)
		*s = append(*s, r)
	}
	return faults
}

// firstLimit names the column to which a fault of the whole range is put down.
func (c *tableOf[T]) firstLimit() string {
	i := slices.IndexFunc(c.columns, func(x column[T]) bool { return strings.HasSuffix(x.name, "from") })
	return c.columns[max(i, 0)].name
}

// inverted reports a range whose from comes after its through.
func inverted(r Range) error {
	if d := r.Days(); d.Empty() {
		return cellFault{"inverted", fmt.Sprintf("from %s is after through %s", r.From, r.Through), "exchange the two, or correct one; limits are inclusive"}
	}
	if s := r.Serials; s.Through != 0 && s.From > s.Through {
		return cellFault{"inverted", fmt.Sprintf("from serial %d is after through serial %d", s.From, s.Through), "exchange the two, or correct one; limits are inclusive"}
	}
	return nil
}
