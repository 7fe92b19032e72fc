package observe

import (
	"database/sql"
	"net/http"
	"slices"
	"strconv"
	"sync/atomic"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"rightpage/quiz/store"
)

// Options are what may be chosen. The zero value will do.
type Options struct {
	Now func() time.Time // the clock, which should be the store's; nil: time.Now
	// Saves are the routes that save an answer, as "POST /path/:of", with the
	// name of what is answered. Nil: those of quizzes and practice.
	Saves map[string]string
	// Pools gives the state of the pools of connections to the database, by
	// name; nil: it is not told.
	Pools func() map[string]sql.DBStats
	// Version is the version of the program.
	Version string
	// Keep is how long what was counted in the database is told again before it
	// is counted anew; 0: 10 s, negative: each time.
	Keep time.Duration
}

// Observer counts. It is safe for concurrent use. Its metrics are its own: two
// in one process do not get into each other's way.
type Observer struct {
	store    *store.Store
	o        Options
	registry *prometheus.Registry
	draining atomic.Bool

	requests *prometheus.CounterVec
	took     *prometheus.HistogramVec
	underWay prometheus.Gauge
	saved    *prometheus.CounterVec
}

// quizSaves are the routes by which answers are saved.
func quizSaves() map[string]string {
	return map[string]string{"POST /attempts/:attempt/questions/:n": "quiz", "POST /practice/exercises/:ref": "practice"}
}

// New makes an Observer of a server on a store.
func New(s *store.Store, o Options) *Observer {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Saves == nil {
		o.Saves = quizSaves()
	}
	if o.Keep == 0 {
		o.Keep = 10 * time.Second
	}
	x := &Observer{store: s, o: o, registry: prometheus.NewRegistry(),
		requests: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "rightpage_requests_total", Help: "Requests that were answered."}, []string{"method", "route", "status"}),
		took: prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: "rightpage_request_seconds", Help: "Time until a request was answered.",
			Buckets: []float64{.005, .01, .025, .05, .1, .25, .5, 1, 2.5, 5, 10, 20}}, []string{"method", "route"}),
		underWay: prometheus.NewGauge(prometheus.GaugeOpts{Name: "rightpage_requests_under_way", Help: "Requests that are not answered yet."}),
		saved:    prometheus.NewCounterVec(prometheus.CounterOpts{Name: "rightpage_answers_saved_total", Help: "Answers that were acknowledged, repeated ones too."}, []string{"of"}),
	}
	version := prometheus.NewGauge(prometheus.GaugeOpts{Name: "rightpage_info", Help: "Always 1.", ConstLabels: prometheus.Labels{"version": o.Version}})
	version.Set(1)
	x.registry.MustRegister(x.requests, x.took, x.underWay, x.saved, version, &work{store: s, now: o.Now, keep: o.Keep},
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	if o.Pools != nil {
		x.registry.MustRegister(pools(o.Pools))
	}
	for _, of := range o.Saves {
		x.saved.WithLabelValues(of) // there from the start, at 0
	}
	return x
}

// methods are those that are told by their name: what clients make up is not.
var methods = []string{http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete, http.MethodOptions}

// Middleware counts requests. It goes around everything else, so that it sees
// what was answered in the end. Routes are told as they are in the table of
// routes: addresses hold IDs.
func (x *Observer) Middleware() echo.MiddlewareFunc {
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			start := time.Now()
			x.underWay.Inc()
			defer x.underWay.Dec()
			err := next(c)
			if err != nil {
				c.Error(err) // answers it, if that is not done yet
			}
			method, route, status := c.Request().Method, c.Path(), c.Response().Status
			if route == "" {
				route = "none"
			}
			if !slices.Contains(methods, method) {
				method = "other"
			}
			x.requests.WithLabelValues(method, route, strconv.Itoa(status)).Inc()
			x.took.WithLabelValues(method, route).Observe(time.Since(start).Seconds())
			if of, ok := x.o.Saves[method+" "+route]; ok && status < http.StatusBadRequest {
				x.saved.WithLabelValues(of).Inc()
			}
			return nil
		}
	}
}

// Metrics answers with the metrics, in the format that is asked for.
func (x *Observer) Metrics() http.Handler {
	return promhttp.HandlerFor(x.registry, promhttp.HandlerOpts{Registry: x.registry, EnableOpenMetrics: true, ErrorHandling: promhttp.ContinueOnError})
}

// Admin serves the metrics at /metrics, and the probes.
func (x *Observer) Admin() http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", x.Metrics())
	return x.Probes(mux)
}
