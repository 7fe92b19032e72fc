package psychometrics

import (
	"errors"
	"strings"
	"testing"
)

func mustRows(t testing.TB, rows ...string) Responses {
	t.Helper()
	var cells [][]int8
	for _, s := range rows {
		row := make([]int8, len(s))
		for i, c := range []byte(s) {
			row[i] = Missing
			if c == '0' || c == '1' {
				row[i] = int8(c - '0')
			}
		}
		cells = append(cells, row)
	}
	r, err := FromRows(cells)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// wantError checks that an error wraps a sentinel and says all of the words.
func wantError(t *testing.T, err, sentinel error, words ...string) {
	t.Helper()
	if !errors.Is(err, sentinel) {
		t.Errorf("error %v does not wrap %q", err, sentinel)
		return
	}
	for _, w := range words {
		if !strings.Contains(err.Error(), w) {
			t.Errorf("error %q does not say %q", err, w)
		}
	}
}

func TestResponsesKeepWhatIsPutIn(t *testing.T) {
	r := New(2, 3)
	if r.People() != 2 || r.ItemCount() != 3 || r.Answered() != 0 || r.Complete() {
		t.Errorf("a new matrix is %d × %d with %d answers", r.People(), r.ItemCount(), r.Answered())
	}
	r.Set(0, 0, 1)
	r.Set(0, 2, 0)
	r.Set(1, 1, 1)
	for _, c := range []struct {
		person, item int
		want         int8
	}{{0, 0, 1}, {0, 1, Missing}, {0, 2, 0}, {1, 0, Missing}, {1, 1, 1}, {1, 2, Missing}} {
		if got := r.At(c.person, c.item); got != c.want {
			t.Errorf("At(%d, %d) = %d, want %d", c.person, c.item, got, c.want)
		}
	}
	if right, answered := r.Score(0); right != 1 || answered != 2 {
		t.Errorf("Score(0) = %d of %d, want 1 of 2", right, answered)
	}
	if r.Answered() != 3 {
		t.Errorf("Answered() = %d, want 3", r.Answered())
	}
}

func TestFromRowsSaysWhichCellIsWrong(t *testing.T) {
	_, err := FromRows([][]int8{{0, 1, 1}, {1, 0, 2}})
	wantError(t, err, ErrRange, "row 2", "column 3", "2 is not an answer", "−1 for not seen")
	_, err = FromRows([][]int8{{0, 1, 1}, {1, 0}})
	wantError(t, err, ErrShape, "row 2", "2 answers where row 1 has 3")
	_, err = FromCells(2, 2, []int8{0, 1, 1})
	wantError(t, err, ErrShape, "3 values do not fill 2 people × 2 items")

	var cell *DataError
	if _, err = FromRows([][]int8{{-2}}); !errors.As(err, &cell) || cell.Row != 1 || cell.Column != 1 {
		t.Errorf("error %v has no place", err)
	}
}

func TestFromRowsCopies(t *testing.T) {
	rows := [][]int8{{0, 1}}
	r, err := FromRows(rows)
	if err != nil {
		t.Fatal(err)
	}
	rows[0][0] = 1
	if r.At(0, 0) != 0 {
		t.Error("the matrix changed with the rows it was made from")
	}
}

func TestNoRowsAreAnEmptyMatrix(t *testing.T) {
	r, err := FromRows(nil)
	if err != nil || r.People() != 0 || r.ItemCount() != 0 || !r.Complete() || r.Answered() != 0 {
		t.Errorf("FromRows(nil) = %d × %d, %v", r.People(), r.ItemCount(), err)
	}
}

func TestSelectionTakesLabelsAlong(t *testing.T) {
	r := mustRows(t, "01.", "110", "001")
	r.Persons = []string{"a", "b", "c"}
	r.Items = []string{"x", "y", "z"}
	p := r.SelectPeople([]int{2, 0})
	if p.People() != 2 || p.At(0, 2) != 1 || p.At(1, 2) != Missing || p.Persons[0] != "c" || p.Persons[1] != "a" || p.Items[1] != "y" {
		t.Errorf("people 2, 0: %+v", p)
	}
	i := r.SelectItems([]int{2, 1})
	if i.ItemCount() != 2 || i.At(0, 0) != Missing || i.At(1, 1) != 1 || i.Items[0] != "z" || i.Persons[2] != "c" {
		t.Errorf("items 2, 1: %+v", i)
	}
}

func TestMistakesOfTheProgramPanic(t *testing.T) {
	r := New(1, 1)
	for name, f := range map[string]func(){
		"Set with another value": func() { r.Set(0, 0, 3) },
		"Set beyond the items":   func() { r.Set(0, 1, 1) },
		"At beyond the items":    func() { r.At(0, 1) },
		"At beyond the people":   func() { r.At(1, 0) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s does not panic", name)
				}
			}()
			f()
		}()
	}
}
