package psychometrics

import (
	"errors"
	"fmt"
	"strings"
)

// Sentinels that errors of this package wrap; test for them with errors.Is.
var (
	// ErrEmpty: there are no people, no items or no answers to compute from.
	ErrEmpty = errors.New("no data")
	// ErrConstant: every answer (or every score) is the same, so the figure
	// asked for is not defined.
	ErrConstant = errors.New("no variation")
	// ErrDisconnected: the people and items fall into parts that no pattern of
	// right and wrong answers links, so their difficulties cannot be put on
	// one scale (Fischer 1981).
	ErrDisconnected = errors.New("items are not linked by the answers")
	// ErrNotConverged: the iteration stopped before it reached a maximum.
	ErrNotConverged = errors.New("estimation did not converge")
	// ErrRank: columns of a design matrix depend on each other, so their
	// weights are not identified.
	ErrRank = errors.New("features are not independent of each other")
	// ErrShape: two arguments that must have the same length do not.
	ErrShape = errors.New("lengths do not match")
	// ErrRange: an argument is outside the values that it may take.
	ErrRange = errors.New("value out of range")
)

// DataError says which cell of the caller's data is wrong, why, and how to
// mend it. Row and Column count from 1, as they do in a spreadsheet; 0 means
// that the problem is not tied to a row or column.
type DataError struct {
	Row, Column int
	// Name is the label of the column or row where there is one.
	Name string
	// Problem says what is wrong, Mend what to do about it.
	Problem, Mend string
	// Err is the sentinel that the error wraps; it may be nil.
	Err error
}

// Error reports place, problem and remedy in one line.
func (e *DataError) Error() string {
	var b strings.Builder
	if e.Row > 0 {
		fmt.Fprintf(&b, "row %d, ", e.Row)
	}
	if e.Column > 0 {
		fmt.Fprintf(&b, "column %d, ", e.Column)
	}
	if e.Name != "" {
		fmt.Fprintf(&b, "%q, ", e.Name)
	}
	s := strings.TrimSuffix(b.String(), ", ")
	if s != "" {
		s += ": "
	}
	s += e.Problem
	if e.Mend != "" {
		s += "; " + e.Mend
	}
	return s
}

// Unwrap gives the sentinel.
func (e *DataError) Unwrap() error { return e.Err }
