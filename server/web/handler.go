package web

import (
	"log/slog"
	"net/http"
	"strings"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/labstack/echo/v4/middleware"
)

// csrfField is the field of the form that holds the token against forged
// requests, and where echo keeps it.
const csrfField = "csrf"

// policy is the content security policy: everything comes from this server, and
// nothing runs that stands in a page. CSP Level 3.
const policy = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; font-src 'self'; " +
	"connect-src 'self'; manifest-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"

// Handler makes the server of the routes. Extra middleware goes around all of
// it, such as what counts requests.
func (a *App) Handler(routes []Route, proxies []echo.TrustOption, extra ...echo.MiddlewareFunc) (*echo.Echo, error) {
	e := echo.New()
	e.HideBanner, e.HidePort = true, true
	e.HTTPErrorHandler = a.HandleError
	e.IPExtractor = echo.ExtractIPDirect()
	if len(proxies) > 0 {
		e.IPExtractor = echo.ExtractIPFromXFFHeader(proxies...)
	}
	table := map[string]Route{}
	for _, r := range routes {
		table[r.Method+" "+r.Path] = r
	}
	of := func(c echo.Context) Route { return table[c.Request().Method+" "+c.Path()] }
	forged, err := middleware.CSRFConfig{
		TokenLookup: "form:" + csrfField + ",header:" + echo.HeaderXCSRFToken,
		ContextKey:  csrfField,
		CookieName:  a.cookieName("csrf"), CookiePath: "/", CookieSecure: a.Secure, CookieHTTPOnly: true,
		CookieSameSite: http.SameSiteLaxMode, CookieMaxAge: 7 * 24 * 3600,
		Skipper: func(c echo.Context) bool { return of(c).Token },
	}.ToMiddleware()
	if err != nil {
		return nil, err
	}
	e.Use(ownRequestID)
	e.Use(middleware.RequestID())
	e.Use(extra...)
	e.Use(middleware.RequestLoggerWithConfig(middleware.RequestLoggerConfig{
		LogStatus: true, LogLatency: true, LogMethod: true, LogRoutePath: true, LogRequestID: true, LogResponseSize: true, HandleError: true,
		// The route, not the address: addresses and queries can hold names.
		LogValuesFunc: func(c echo.Context, v middleware.RequestLoggerValues) error {
			level := slog.LevelInfo
			if v.Status >= http.StatusInternalServerError {
				level = slog.LevelError
			}
			a.Log.LogAttrs(c.Request().Context(), level, "request", slog.String("method", v.Method), slog.String("route", v.RoutePath),
				slog.Int("status", v.Status), slog.Duration("took", v.Latency), slog.Int64("bytes", v.ResponseSize), slog.String("id", v.RequestID))
			return nil
		},
	}))
	e.Use(middleware.RecoverWithConfig(middleware.RecoverConfig{LogErrorFunc: func(c echo.Context, err error, stack []byte) error {
		a.Log.ErrorContext(c.Request().Context(), "panic", "route", c.Path(), "error", err, "stack", string(stack))
		return err
	}}))
	secure := middleware.SecureConfig{ContentTypeNosniff: "nosniff", XFrameOptions: "DENY", ContentSecurityPolicy: policy, ReferrerPolicy: "same-origin"}
	if a.Secure {
		secure.HSTSMaxAge = int((365 * 24 * time.Hour).Seconds())
	}
	e.Use(middleware.SecureWithConfig(secure))
	e.Use(func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			h := c.Response().Header()
			h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=()")
			h.Set("Cross-Origin-Opener-Policy", "same-origin")
			h.Set("Cross-Origin-Resource-Policy", "same-origin")
			return next(c)
		}
	})
	e.Use(middleware.GzipWithConfig(middleware.GzipConfig{MinLength: 1024}))
	limit := func(d time.Duration) echo.MiddlewareFunc {
		return middleware.ContextTimeoutWithConfig(middleware.ContextTimeoutConfig{Timeout: d, ErrorHandler: func(err error, _ echo.Context) error { return err }})
	}
	ordinary, long := limit(ordinaryTime), limit(slowTime)
	e.Use(func(next echo.HandlerFunc) echo.HandlerFunc {
		short, patient := ordinary(next), long(next)
		return func(c echo.Context) error {
			if of(c).Slow {
				return patient(c)
			}
			return short(c)
		}
	})
	sessions := echo.WrapMiddleware(a.Sessions.LoadAndSave)
	e.Use(func(next echo.HandlerFunc) echo.HandlerFunc {
		with := sessions(next)
		return func(c echo.Context) error {
			if of(c).Token {
				return next(c)
			}
			return with(c)
		}
	})
	e.Use(func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			defer func() { // package http does so for the request that it made, and this is a copy
				if form := c.Request().MultipartForm; form != nil {
					_ = form.RemoveAll()
				}
			}()
			if err := a.readBody(c, of(c)); err != nil {
				return err
			}
			return next(c)
		}
	})
	e.Use(forged)
	a.Mount(e, routes)
	return e, nil
}

// ownRequestID drops an ID of a request that is none: it is written to the log
// and sent back, and whoever asks chooses it.
func ownRequestID(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		if h := c.Request().Header; !plainID(h.Get(echo.HeaderXRequestID)) {
			h.Del(echo.HeaderXRequestID)
		}
		return next(c)
	}
}

// plainID tells whether s can be an ID that another server gave a request.
func plainID(s string) bool {
	return len(s) <= 64 && !strings.ContainsFunc(s, func(r rune) bool {
		return r != '-' && (r < '0' || r > '9') && (r < 'A' || r > 'Z') && (r < 'a' || r > 'z')
	})
}
