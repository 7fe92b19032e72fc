package web

import (
	"errors"
	"io"
	"net/http"

	"github.com/labstack/echo/v4"

	"rightpage/quiz"
)

// Of a multipart form, so much is kept in memory; more goes to temporary files.
const formMemory = 8 << 20

// drainMost is how much of a body that is too large is still read, so that the
// browser, which sends all of it before it reads, gets to see the answer.
const drainMost = 32 << 20

// readBody bounds the body of a request, and reads it if it is a form: before
// anything looks into it for a token, and with an error that says what is wrong
// if it is too large. Large ones are taken only from those who have signed in,
// unless the route is for everybody.
func (a *App) readBody(c echo.Context, r Route) error {
	req := c.Request()
	limit := max(MaxForm, r.Body)
	stranger := !r.Access.Public && !r.Token && a.Sessions.GetString(req.Context(), sessionPerson) == ""
	if stranger {
		limit = MaxForm
	}
	whole := req.Body
	req.Body = http.MaxBytesReader(c.Response(), whole, limit)
	if r.Token || req.Method != http.MethodPost {
		return nil
	}
	err := req.ParseForm()
	if err == nil {
		err = req.ParseMultipartForm(formMemory)
	}
	var big *http.MaxBytesError
	if !errors.As(err, &big) {
		return nil // one that is broken has no token in it, and is refused for that
	}
	_, _ = io.CopyN(io.Discard, whole, drainMost)
	if stranger && r.Body > limit {
		return &quiz.Error{Code: quiz.Unidentified, Text: "you are not signed in", Mend: "sign in"}
	}
	return big
}
