package quiz

import (
	"errors"
	"fmt"
	"testing"
)

func TestErrorCodesMapToStatuses(t *testing.T) {
	for _, c := range []struct {
		code       Code
		http, exit int
	}{
		{"", 200, 0}, {Invalid, 422, 2}, {NotFound, 404, 1}, {Forbidden, 403, 1}, {Unidentified, 401, 1},
		{Conflict, 409, 1}, {Closed, 409, 1}, {TooMany, 429, 1}, {Unavailable, 503, 1}, {NotMigrated, 503, 1},
		{Internal, 500, 1}, {"unheard of", 500, 1},
	} {
		if c.code.HTTPStatus() != c.http || c.code.ExitStatus() != c.exit {
			t.Errorf("%q: status %d, exit %d; want %d, %d", c.code, c.code.HTTPStatus(), c.code.ExitStatus(), c.http, c.exit)
		}
	}
}

func TestErrorTellsWhatAndHow(t *testing.T) {
	cause := errors.New("disk full")
	err := fmt.Errorf("saving: %w", &Error{Code: Unavailable, Text: "the answer was not kept", Err: cause, Mend: "try again"})
	if got, want := err.Error(), "saving: the answer was not kept: disk full; try again"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if ErrorCode(err) != Unavailable || ErrorCode(cause) != Internal || ErrorCode(nil) != "" {
		t.Error("the code is not that of the first *Error in the chain")
	}
	if !errors.Is(err, cause) || !errors.Is(err, &Error{Code: Unavailable}) || errors.Is(err, &Error{Code: Conflict}) {
		t.Error("errors.Is does not match by cause and code")
	}
}
