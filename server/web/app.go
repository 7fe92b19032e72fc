package web

import (
	"crypto/rand"
	"encoding/base32"
	"errors"
	"io/fs"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"github.com/alexedwards/scs/v2"
	"github.com/labstack/echo/v4"

	"rightpage/quiz"
	"rightpage/quiz/store"
	"rightpage/server/words"
)

// Options are what may be chosen about the pages. The zero value serves plain
// HTTP to browsers that reach the server directly.
type Options struct {
	Now       func() time.Time // the clock; nil: time.Now
	Log       *slog.Logger     // nil: nothing is logged
	Secure    bool             // pages are reached by HTTPS alone, if only up to a proxy
	Passwords quiz.Passwords   // how they are hashed; zero: quiz.DefaultPasswords
	Version   string           // of the program, in the foot of the pages
}

// App is what all pages share.
type App struct {
	Store     *store.Store
	Words     *words.Catalog
	Sessions  *scs.SessionManager
	Passwords quiz.Passwords
	Log       *slog.Logger
	Now       func() time.Time
	Secure    bool
	Version   string
	Menu      []MenuItem // of every page, in order; a visitor sees what their roles cover

	base   fs.FS
	assets map[string]asset
	own    *PageSet // the pages of this package alone
}

// How long a session lasts: at most a shift, and not longer than this after it
// was last used. OWASP ASVS 5.0, 7.3 asks for both limits (from memory).
const (
	sessionLife = 12 * time.Hour
	sessionIdle = 2 * time.Hour
)

// New makes what all pages share.
func New(s *store.Store, o Options) (*App, error) {
	all, err := words.Load()
	if err != nil {
		return nil, err
	}
	a := &App{Store: s, Words: all, Now: o.Now, Log: o.Log, Secure: o.Secure, Passwords: o.Passwords, Version: o.Version}
	if a.Now == nil {
		a.Now = time.Now
	}
	if a.Log == nil {
		a.Log = slog.New(slog.DiscardHandler)
	}
	if a.Passwords == (quiz.Passwords{}) {
		a.Passwords = quiz.DefaultPasswords()
	}
	m := scs.New()
	m.Store = s.Sessions()
	m.Lifetime = sessionLife
	m.Cookie.Name = a.cookieName("session")
	m.Cookie.HttpOnly = true
	m.Cookie.Secure = a.Secure
	m.Cookie.SameSite = http.SameSiteLaxMode
	m.Cookie.Path = "/"
	m.Cookie.Persist = false
	m.HashTokenInStore = false // the store does
	m.ErrorFunc = func(w http.ResponseWriter, r *http.Request, err error) {
		a.Log.ErrorContext(r.Context(), "session", "error", err)
		http.Error(w, http.StatusText(http.StatusServiceUnavailable), http.StatusServiceUnavailable)
	}
	a.Sessions = m
	if a.base, err = fs.Sub(files, "pages"); err != nil {
		return nil, err
	}
	if a.assets, err = readAssets(); err != nil {
		return nil, err
	}
	if a.own, err = a.Pages(nil); err != nil {
		return nil, err
	}
	return a, nil
}

// cookieName names a cookie. The prefix binds it to this host and to HTTPS
// (RFC 6265bis, 4.1.3.2).
func (a *App) cookieName(name string) string {
	if a.Secure {
		return "__Host-" + name
	}
	return name
}

// NewKey makes a key for something that must be done once however often it is
// sent: 80 random bits.
func NewKey() string {
	var b [10]byte
	rand.Read(b[:]) // never fails: crypto/rand
	return strings.ToLower(base32.StdEncoding.EncodeToString(b[:]))
}

// asQuizError gives err as an error with a code: those of echo and of package
// http are translated.
func asQuizError(err error) *quiz.Error {
	var q *quiz.Error
	if errors.As(err, &q) {
		return q
	}
	var big *http.MaxBytesError
	if errors.As(err, &big) {
		return &quiz.Error{Code: quiz.Invalid, Text: "what was sent is too large", Mend: "send less, or a smaller file"}
	}
	var h *echo.HTTPError
	if errors.As(err, &h) {
		switch h.Code {
		case http.StatusNotFound, http.StatusMethodNotAllowed:
			return &quiz.Error{Code: quiz.NotFound, Text: "there is no such page"}
		case http.StatusForbidden:
			return &quiz.Error{Code: quiz.Forbidden, Text: "the request did not come from a page of this server, or the page was too old",
				Mend: "open the page again and repeat what you did"}
		case http.StatusBadRequest, http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType:
			return &quiz.Error{Code: quiz.Invalid, Text: "the request makes no sense", Mend: "open the page again and repeat what you did"}
		case http.StatusTooManyRequests:
			return &quiz.Error{Code: quiz.TooMany, Text: "too many requests", Mend: "wait a moment"}
		case http.StatusServiceUnavailable, http.StatusGatewayTimeout:
			return &quiz.Error{Code: quiz.Unavailable, Text: "the server is too busy", Mend: "try again"}
		}
	}
	return &quiz.Error{Code: quiz.Internal, Text: "something went wrong that should not", Err: err, Mend: "tell the administrator"}
}
