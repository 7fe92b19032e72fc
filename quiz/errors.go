package quiz

import (
	"errors"
	"fmt"
	"net/http"
)

// Code classifies an error by what the caller can do about it.
type Code string

// The codes.
const (
	Invalid      Code = "invalid"      // what was sent makes no sense: mend it
	NotFound     Code = "not found"    // there is no such record, or none that may be seen
	Forbidden    Code = "forbidden"    // somebody else may, this person may not
	Unidentified Code = "unidentified" // log in first
	Conflict     Code = "conflict"     // the record has changed since it was read: read again
	Closed       Code = "closed"       // too late, or too early: the state does not allow it
	TooMany      Code = "too many"     // wait, then try again
	Unavailable  Code = "unavailable"  // the database cannot be reached or is too busy: try again
	Internal     Code = "internal"     // a defect or damage: tell the administrator
	NotMigrated  Code = "not migrated" // the database has another schema version than the program
)

// Error is an error with a code, what went wrong and how to mend it.
type Error struct {
	Code Code
	Text string // what is wrong, as a clause: "the quiz closed on 2031-03-04 17:00"
	Mend string // what to do about it; may be empty
	Err  error  // cause; may be nil
}

// Error gives the text, the cause and the remedy.
func (e *Error) Error() string {
	s := e.Text
	if e.Err != nil {
		s += ": " + e.Err.Error()
	}
	if e.Mend != "" {
		s += "; " + e.Mend
	}
	return s
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Err }

// Is makes errors.Is(err, &Error{Code: c}) match any error of that code.
func (e *Error) Is(target error) bool {
	t, ok := target.(*Error)
	return ok && t.Text == "" && t.Err == nil && t.Code == e.Code
}

// Errorf makes an error of a code without a remedy.
func Errorf(code Code, format string, args ...any) *Error {
	return &Error{Code: code, Text: fmt.Sprintf(format, args...)}
}

// ErrorCode gives the code of err: that of the first *Error in its chain,
// Internal if there is none, and "" for nil.
func ErrorCode(err error) Code {
	if err == nil {
		return ""
	}
	var e *Error
	if errors.As(err, &e) {
		return e.Code
	}
	return Internal
}

// HTTPStatus is the status of a response to a request that failed with c.
func (c Code) HTTPStatus() int {
	switch c {
	case "":
		return http.StatusOK
	case Invalid:
		return http.StatusUnprocessableEntity
	case NotFound:
		return http.StatusNotFound
	case Forbidden:
		return http.StatusForbidden
	case Unidentified:
		return http.StatusUnauthorized
	case Conflict, Closed:
		return http.StatusConflict
	case TooMany:
		return http.StatusTooManyRequests
	case Unavailable, NotMigrated:
		return http.StatusServiceUnavailable
	}
	return http.StatusInternalServerError
}

// ExitStatus is the exit status of a command that failed with c: 0 done, 1 the
// answer is no, 2 wrong use.
func (c Code) ExitStatus() int {
	switch c {
	case "":
		return 0
	case Invalid:
		return 2
	}
	return 1
}
