package psychometrics

import (
	"fmt"
	"slices"
)

// Missing marks an answer that was not given because the person did not see or
// did not reach the question.
const Missing int8 = -1

// Responses is a matrix of people × items. A cell is 0 (wrong), 1 (right) or
// [Missing]. The zero value is an empty matrix; make others with [New],
// [FromRows] or [ReadScores]. Reading is safe for concurrent use; Set is not.
type Responses struct {
	people, items int
	cells         []int8 // row-major, people × items

	// Persons and Items are labels: either empty, or one for each row and one
	// for each column. They play no part in any computation.
	Persons, Items []string
}

// New makes a matrix of people × items cells, all of them Missing.
// It panics if a dimension is negative, as make does.
func New(people, items int) Responses {
	cells := make([]int8, people*items)
	for i := range cells {
		cells[i] = Missing
	}
	return Responses{people: people, items: items, cells: cells}
}

// FromRows copies rows (one per person, all of the same length, each value 0, 1
// or Missing) into a matrix. The error is a [*DataError] that names the first
// row and column at fault. No rows give an empty matrix.
func FromRows(rows [][]int8) (Responses, error) {
	if len(rows) == 0 {
		return Responses{}, nil
	}
	items := len(rows[0])
	cells := make([]int8, 0, len(rows)*items)
	for v, row := range rows {
		if len(row) != items {
			return Responses{}, &DataError{
				Row: v + 1, Err: ErrShape,
				Problem: fmt.Sprintf("has %d answers where row 1 has %d", len(row), items),
				Mend:    "give every person one value per item, −1 where the item was not seen",
			}
		}
		cells = append(cells, row...)
	}
	return FromCells(len(rows), items, cells)
}

// FromCells takes ownership of a flat row-major slice of people × items values
// (0, 1 or Missing). The error is a [*DataError] that names the first cell at
// fault, or wraps [ErrShape] if the length is not people × items.
func FromCells(people, items int, cells []int8) (Responses, error) {
	if people < 0 || items < 0 || len(cells) != people*items {
		return Responses{}, &DataError{
			Err:     ErrShape,
			Problem: fmt.Sprintf("%d values do not fill %d people × %d items", len(cells), people, items),
			Mend:    "give one value per person and item, row after row",
		}
	}
	for k, x := range cells {
		if x != 0 && x != 1 && x != Missing {
			return Responses{}, &DataError{
				Row: k/items + 1, Column: k%items + 1, Err: ErrRange,
				Problem: fmt.Sprintf("%d is not an answer", x),
				Mend:    "use 1 for right, 0 for wrong, −1 for not seen",
			}
		}
	}
	return Responses{people: people, items: items, cells: cells}, nil
}

// People is the number of rows.
func (r Responses) People() int { return r.people }

// ItemCount is the number of columns.
func (r Responses) ItemCount() int { return r.items }

// At gives the answer of a person to an item: 0, 1 or Missing.
// It panics if an index is out of range.
func (r Responses) At(person, item int) int8 {
	if item < 0 || item >= r.items {
		panic(fmt.Sprintf("psychometrics: item %d of %d", item, r.items))
	}
	return r.cells[person*r.items+item]
}

// Set writes one answer; x is 0, 1 or Missing. It panics if x is anything else
// or an index is out of range, since both are mistakes of the program and not
// of the data.
func (r Responses) Set(person, item int, x int8) {
	if x != 0 && x != 1 && x != Missing {
		panic(fmt.Sprintf("psychometrics: %d is not an answer", x))
	}
	if item < 0 || item >= r.items {
		panic(fmt.Sprintf("psychometrics: item %d of %d", item, r.items))
	}
	r.cells[person*r.items+item] = x
}

// Row gives the answers of one person, one per item. It is the matrix's own
// memory and must not be changed.
func (r Responses) Row(person int) []int8 {
	return r.cells[person*r.items : (person+1)*r.items : (person+1)*r.items]
}

// Score gives the number of right answers of a person and the number of items
// that the person answered. A person who answered nothing gives 0, 0.
func (r Responses) Score(person int) (right, answered int) {
	for _, x := range r.Row(person) {
		if x >= 0 {
			answered++
			right += int(x)
		}
	}
	return right, answered
}

// Complete reports whether no answer is missing. An empty matrix is complete.
func (r Responses) Complete() bool { return !slices.Contains(r.cells, Missing) }

// Answered is the number of cells that are not missing.
func (r Responses) Answered() int {
	n := 0
	for _, x := range r.cells {
		if x >= 0 {
			n++
		}
	}
	return n
}

// SelectPeople copies the rows given, in the order given; labels go with them.
// An index out of range panics.
func (r Responses) SelectPeople(rows []int) Responses {
	out := Responses{people: len(rows), items: r.items, Items: r.Items, cells: make([]int8, 0, len(rows)*r.items)}
	for _, v := range rows {
		out.cells = append(out.cells, r.Row(v)...)
		if len(r.Persons) > 0 {
			out.Persons = append(out.Persons, r.Persons[v])
		}
	}
	return out
}

// SelectItems copies the columns given, in the order given; labels go with
// them. An index out of range panics.
func (r Responses) SelectItems(columns []int) Responses {
	out := Responses{people: r.people, items: len(columns), Persons: r.Persons, cells: make([]int8, 0, r.people*len(columns))}
	for v := range r.people {
		row := r.Row(v)
		for _, i := range columns {
			out.cells = append(out.cells, row[i])
		}
	}
	if len(r.Items) > 0 {
		for _, i := range columns {
			out.Items = append(out.Items, r.Items[i])
		}
	}
	return out
}
