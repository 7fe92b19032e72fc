package server

import (
	"context"
	"log/slog"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"rightpage/quiz/issuing"
	"rightpage/quiz/library"
	"rightpage/quiz/marking"
	"rightpage/quiz/progress"
	"rightpage/quiz/store"
	"rightpage/server/account"
	"rightpage/server/administrator"
	"rightpage/server/api"
	"rightpage/server/coordinator"
	"rightpage/server/listen"
	"rightpage/server/manager"
	"rightpage/server/marks"
	"rightpage/server/public"
	"rightpage/server/technician"
	"rightpage/server/web"
)

// Config says what a server works with. Store and Keys are needed.
type Config struct {
	Store *store.Store // open, and migrated
	Keys  *issuing.Keys
	// Mailer sends mails; the zero value sends none, and people get printed codes.
	Mailer account.Mailer
	// SetupSecret has to be entered to set up an empty database; see package
	// account.
	SetupSecret string
	Secure      bool                  // pages are reached by HTTPS alone
	Proxies     []echo.TrustOption    // whose word on where a request comes from is taken
	Middleware  []echo.MiddlewareFunc // around everything, such as what counts requests
	Log         *slog.Logger          // nil: nothing is logged
	Now         func() time.Time      // the clock, which should be the store's; nil: time.Now
	Version     string                // of the program
}

// Server serves the pages and the API.
type Server struct {
	App    *web.App
	Marker *marking.Marker
	Issuer *issuing.Issuer

	known   *progress.Progress
	store   *store.Store
	log     *slog.Logger
	account *account.Pages
	routes  []web.Route
	echo    *echo.Echo
}

// New makes a server.
func New(ctx context.Context, cfg Config) (*Server, error) {
	app, err := web.New(cfg.Store, web.Options{Now: cfg.Now, Log: cfg.Log, Secure: cfg.Secure, Version: cfg.Version})
	if err != nil {
		return nil, err
	}
	secret, err := cfg.Store.Secret(ctx)
	if err != nil {
		return nil, err
	}
	s := &Server{App: app, store: cfg.Store, log: app.Log}
	shelf := library.New(cfg.Store, library.Options{})
	s.Marker = marking.New(cfg.Store, shelf, marking.Options{Now: app.Now})
	s.Issuer = issuing.New(cfg.Store, s.Marker, shelf, cfg.Keys, issuing.Options{Now: app.Now})
	s.known = progress.New(cfg.Store, progress.Options{Now: app.Now})

	if s.account, err = account.New(app, account.Deps{Mailer: cfg.Mailer, SetupSecret: cfg.SetupSecret}); err != nil {
		return nil, err
	}
	technicians, err := technician.New(app, technician.Deps{Marker: s.Marker, Library: shelf, Progress: s.known, Issuer: s.Issuer, Secret: secret})
	if err != nil {
		return nil, err
	}
	coordinators, err := coordinator.New(app, coordinator.Deps{Library: shelf, Marker: s.Marker, Issuer: s.Issuer})
	if err != nil {
		return nil, err
	}
	marked, err := marks.New(app, marks.Deps{Library: shelf, Marker: s.Marker, Issuer: s.Issuer})
	if err != nil {
		return nil, err
	}
	managers, err := manager.New(app, manager.Deps{Progress: s.known, Issuer: s.Issuer})
	if err != nil {
		return nil, err
	}
	administrators, err := administrator.New(app, administrator.Deps{Account: s.account, Keys: keys{cfg.Keys, app.Now}})
	if err != nil {
		return nil, err
	}
	outside, err := public.New(app, s.Issuer)
	if err != nil {
		return nil, err
	}
	programs, err := api.New(app, api.Deps{Progress: s.known})
	if err != nil {
		return nil, err
	}
	for _, menu := range [][]web.MenuItem{technician.Menu(), coordinator.Menu(), marks.Menu(), manager.Menu(), administrator.Menu()} {
		app.Menu = append(app.Menu, menu...)
	}
	for _, routes := range [][]web.Route{app.Assets(), s.account.Routes(), technicians.Routes(), coordinators.Routes(), marked.Routes(),
		managers.Routes(), administrators.Routes(), outside.Routes(), programs.Routes()} {
		s.routes = append(s.routes, routes...)
	}
	if s.echo, err = app.Handler(s.routes, cfg.Proxies, cfg.Middleware...); err != nil {
		return nil, err
	}
	s.echo.SchemeExtractor = listen.Scheme
	return s, nil
}

// Routes lists what the server does, and who may use it.
func (s *Server) Routes() []web.Route { return s.routes }

// ServeHTTP answers a request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.echo.ServeHTTP(w, r) }

// Wait waits for what was begun after an answer was sent, such as mails.
func (s *Server) Wait() { s.account.Wait() }

// keys are the signing keys, as the pages of the administrator need them.
type keys struct {
	*issuing.Keys
	now func() time.Time
}

func (k keys) Warnings() []string { return k.Keys.Warnings(k.now()) }

func (k keys) Rotate(context.Context, string) error { return k.Keys.Rotate(k.now()) }
