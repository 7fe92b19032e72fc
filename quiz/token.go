package quiz

import (
	"strings"
	"time"
)

// Token is what another program reads with on behalf of a person, without the
// secret that it sends.
type Token struct {
	ID      string
	Person  string // whose
	Name    string // what the person calls it: "Staff system"
	Created time.Time
	Expires time.Time // zero: when it is revoked
	Used    time.Time // last, to the minute; zero: never
	Revoked time.Time // zero: it is not
}

// Alive tells whether the token may be used at the time.
func (t Token) Alive(now time.Time) bool {
	return t.Revoked.IsZero() && (t.Expires.IsZero() || now.Before(t.Expires))
}

// Check reports what is wrong with a token that is made at the time.
func (t Token) Check(now time.Time) error {
	switch {
	case t.Person == "":
		return &Error{Code: Invalid, Text: "the token is nobody's", Mend: "say whose it is"}
	case strings.TrimSpace(t.Name) == "" || !line(t.Name):
		return &Error{Code: Invalid, Text: "the token has no name or a very long one", Mend: "name the program that will use it"}
	case !t.Expires.IsZero() && !t.Expires.After(now):
		return &Error{Code: Invalid, Text: "the token expires before it can be used", Mend: "give a later day"}
	}
	return nil
}
