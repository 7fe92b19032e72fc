package web

import (
	"encoding/json"
	"errors"
	"log/slog"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/labstack/echo/v4"

	"rightpage/quiz"
)

// Failure is an error as the scripts of pages are told it.
type Failure struct {
	Code  quiz.Code `json:"code"`
	Error string    `json:"error"`
	Mend  string    `json:"mend,omitempty"`
}

// Problem is an error as other programs are told it: the problem details of
// RFC 9457, with the type about:blank, for which the title is that of the
// status (4.2.1), and two members more.
type Problem struct {
	Type   string    `json:"type"`
	Title  string    `json:"title"`
	Status int       `json:"status"`
	Detail string    `json:"detail,omitempty"`
	Code   quiz.Code `json:"code"`           // what the program can decide by
	Mend   string    `json:"mend,omitempty"` // what to do about it
}

// MIMEProblem is the media type of a [Problem].
const MIMEProblem = "application/problem+json"

// Problem answers with a problem.
func (c *Context) Problem(status int, code quiz.Code, detail, mend string) error {
	h := c.Response().Header()
	h.Set(echo.HeaderCacheControl, "no-store")
	if status == http.StatusUnauthorized {
		h.Set(echo.HeaderWWWAuthenticate, `Bearer realm="rightpage"`) // RFC 9110, 11.6.1
	}
	if c.Request().Method == http.MethodHead {
		return c.NoContent(status)
	}
	body, err := json.Marshal(Problem{Type: "about:blank", Title: http.StatusText(status), Status: status, Detail: detail, Code: code, Mend: mend})
	if err != nil {
		return err
	}
	return c.Blob(status, MIMEProblem, body)
}

// HandleError answers a request that no route took, or that went wrong before
// one did. It is an echo.HTTPErrorHandler.
func (a *App) HandleError(err error, ec echo.Context) {
	if ec.Response().Committed {
		return
	}
	if err := a.fail(a.context(ec, Route{}), err); err != nil {
		a.Log.ErrorContext(ec.Request().Context(), "answer with an error page", "error", err)
	}
}

// fail answers a request with an error.
func (a *App) fail(c *Context, err error) error {
	if c.Response().Committed {
		return err
	}
	q := asQuizError(err)
	status := q.Code.HTTPStatus()
	var wait *tooMany
	if errors.As(err, &wait) {
		c.Response().Header().Set(echo.HeaderRetryAfter, strconv.Itoa(int(math.Ceil(wait.wait.Seconds()))))
	}
	if status >= http.StatusInternalServerError {
		// Only the error: what was asked may name people.
		a.Log.LogAttrs(c.Ctx(), slog.LevelError, "request failed", slog.String("route", c.Path()), slog.String("code", string(q.Code)), slog.Any("error", err))
	}
	if !c.session {
		return c.Problem(status, q.Code, q.Text, q.Mend)
	}
	if c.WantsJSON() {
		f := Failure{Code: q.Code, Error: q.Text, Mend: q.Mend}
		if c.Request().Method == http.MethodHead {
			return c.NoContent(status)
		}
		return c.JSON(status, f)
	}
	if q == errChangeFirst {
		return c.Go("/account/password")
	}
	if q.Code == quiz.Unidentified && c.Request().Method == http.MethodGet {
		return c.Go("/sign-in?next=" + url.QueryEscape(c.Request().URL.RequestURI()))
	}
	if q.Code == quiz.Unidentified && c.Request().Method == http.MethodPost {
		return a.keep(c)
	}
	data := map[string]any{"Code": string(q.Code), "Text": "", "Mend": sentence(q.Mend), "Wait": ""}
	switch q.Code {
	case quiz.NotFound, quiz.Unidentified, quiz.TooMany, quiz.Internal:
		// What the page says of the code, in the visitor's language, is all there is.
	default:
		data["Text"] = sentence(q.Text)
	}
	if wait != nil {
		data["Wait"] = c.Words.Lasting(time.Duration(math.Ceil(wait.wait.Seconds())) * time.Second)
	}
	return c.page(a.own, status, "error", c.T("error."+string(q.Code)+".title"), data)
}

// keep answers a change by somebody whose session has ended: they sign in, and
// what they sent is offered to be sent again. Nothing that was typed is lost.
func (a *App) keep(c *Context) error {
	type field struct{ Name, Value string }
	var fields []field
	if form, err := c.FormParams(); err == nil {
		for name, values := range form {
			// Passwords are typed again rather than written into a page.
			if name == csrfField || strings.Contains(name, "password") || name == "secret" {
				continue
			}
			for _, v := range values {
				fields = append(fields, field{name, v})
			}
		}
	}
	return c.page(a.own, http.StatusUnauthorized, "kept", c.T("kept.title"), map[string]any{
		"Action": c.Request().URL.RequestURI(), "Fields": fields})
}

// sentence makes a sentence of a clause, as errors have them.
func sentence(clause string) string {
	if clause == "" {
		return ""
	}
	first, size := utf8.DecodeRuneInString(clause)
	return string(unicode.ToUpper(first)) + clause[size:] + "."
}
