package web

import (
	"context"
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
// if it is too large. Large ones are taken only from those who may use the
// route, unless it is for everybody.
func (a *App) readBody(c echo.Context, r Route) error {
	req := c.Request()
	limit := max(MaxForm, r.Body)
	var refused error
	if limit > MaxForm && !r.Access.Public && !r.Token {
		var err error
		if refused, err = a.mayUpload(req.Context(), r); err != nil {
			return err
		}
		if refused != nil {
			limit = MaxForm
		}
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
	if refused != nil {
		return refused
	}
	return big
}

// mayUpload tells why nothing large is taken by a route from whoever asks, nil
// if it is. The route itself is guarded as any other, once the body is read.
func (a *App) mayUpload(ctx context.Context, r Route) (refused, err error) {
	id := a.Sessions.GetString(ctx, sessionPerson)
	if id == "" {
		return &quiz.Error{Code: quiz.Unidentified, Text: "you are not signed in", Mend: "sign in"}, nil
	}
	p, err := a.Store.Person(ctx, id)
	if err != nil && quiz.ErrorCode(err) != quiz.NotFound {
		return nil, err
	}
	if err != nil || !p.Active(a.Now()) || r.Access.For(&p) == Nobody {
		return errNotYours, nil
	}
	return nil, nil
}
