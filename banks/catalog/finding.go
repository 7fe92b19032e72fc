package catalog

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Severity grades a finding.
type Severity uint8

// Severities from least to most: a note is worth knowing, a warning leads some
// lookup to more than one answer or to none, an error makes the catalog unfit
// for use.
const (
	Note Severity = iota
	Warning
	Error
)

// String names the severity.
func (s Severity) String() string { return [...]string{"note", "warning", "error"}[s] }

// MarshalText writes the name.
func (s Severity) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// Finding is one thing that is wrong in a catalog: where, what, how to mend it.
type Finding struct {
	Severity Severity `json:"severity"`
	Code     string   `json:"code"` // a short fixed word, such as overlap or dangling
	Origin
	Column  string `json:"column,omitempty"`
	What    string `json:"what"`
	Mend    string `json:"mend"`
	Lookups int    `json:"lookups"` // how many lookups it affects; 0 where none or not countable
}

// Error makes a Finding usable as an error.
func (f Finding) Error() string {
	var b strings.Builder
	if f.File != "" {
		b.WriteString(f.File)
		if f.Row > 0 {
			fmt.Fprintf(&b, " row %d", f.Row)
		}
		if f.Column != "" {
			fmt.Fprintf(&b, " column %s", f.Column)
		}
		b.WriteString(": ")
	}
	b.WriteString(f.What)
	if f.Mend != "" {
		b.WriteString("; ")
		b.WriteString(f.Mend)
	}
	return b.String()
}

// Report is a list of findings.
type Report []Finding

// Sort orders the findings by severity (worst first), file, row and column, so
// that a report does not depend on the order in which they were found.
func (r Report) Sort() {
	slices.SortStableFunc(r, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(b.Severity, a.Severity), cmp.Compare(a.File, b.File), cmp.Compare(a.Row, b.Row),
			cmp.Compare(a.Column, b.Column), cmp.Compare(a.Code, b.Code), cmp.Compare(a.What, b.What))
	})
}

// Count tells how many findings have a severity.
func (r Report) Count(s Severity) int {
	n := 0
	for _, f := range r {
		if f.Severity == s {
			n++
		}
	}
	return n
}

// Err is nil when the report holds no finding of severity Error, and otherwise
// an error that lists the first of them and says how many there are.
func (r Report) Err() error {
	n := r.Count(Error)
	if n == 0 {
		return nil
	}
	for _, f := range r {
		if f.Severity == Error {
			if n == 1 {
				return f
			}
			return fmt.Errorf("%w (and %d more errors; run catalog check to see them all)", f, n-1)
		}
	}
	return nil
}
