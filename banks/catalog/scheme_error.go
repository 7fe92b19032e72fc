package catalog

import (
	"fmt"
	"strings"
)

// Reason is why a code is not one of a scheme's.
type Reason uint8

// The reasons.
const (
	fits            Reason = iota
	WrongLength            // too many or too few characters
	BadCharacter           // a character that may not stand there
	WrongCheckDigit        // the check digit does not belong to the rest
	NotInTable             // the field has a value table and this is not in it
	NothingStored          // the bytes that mean "no trouble code"
	UnknownPacking         // packed in one of several ways that the bytes do not tell apart
	NotACode               // it has the form of no trouble code
	NotGiven               // in composing: a field has no value
)

var reasonNames = [...]string{"fits", "length", "character not allowed", "check digit", "value not in table",
	"no code stored", "packing unknown", "not a code", "value missing"}

// String names the reason.
func (r Reason) String() string { return reasonNames[r] }

// MarshalText writes the name.
func (r Reason) MarshalText() ([]byte, error) { return []byte(r.String()), nil }

// CodeError tells why a code could not be read, or not be composed.
type CodeError struct {
	Scheme   string `json:"scheme,omitempty"` // "" where no scheme was involved
	Field    string `json:"field,omitempty"`
	Position int    `json:"position,omitempty"` // from 1; 0 where it is the code as a whole
	Reason   Reason `json:"reason"`
	Code     string `json:"code"`
	Got      string `json:"got,omitempty"`  // what stands there
	Want     string `json:"want,omitempty"` // what should
}

// Error tells the reason in words.
func (e *CodeError) Error() string {
	var b strings.Builder
	if e.Scheme != "" {
		fmt.Fprintf(&b, "scheme %s: ", e.Scheme)
	}
	fmt.Fprintf(&b, "%q", e.Code)
	if e.Field != "" {
		fmt.Fprintf(&b, " field %s", e.Field)
	}
	if e.Position > 0 {
		fmt.Fprintf(&b, " position %d", e.Position)
	}
	fmt.Fprintf(&b, ": %s", e.Reason)
	switch {
	case e.Got != "" && e.Want != "":
		fmt.Fprintf(&b, ": %q where it should be %s", e.Got, e.Want)
	case e.Got != "":
		fmt.Fprintf(&b, ": %q", e.Got)
	case e.Want != "":
		fmt.Fprintf(&b, ": it should be %s", e.Want)
	}
	return b.String()
}
