package observe

import (
	"context"
	"encoding/json"
	"net/http"
	"time"

	"rightpage/quiz"
)

// probeTime is how long the database may take to answer a probe.
const probeTime = 2 * time.Second

// Drain has the server say from now on that no requests should be sent any
// more, while it finishes those that it has.
func (x *Observer) Drain() { x.draining.Store(true) }

// Probes serves /healthz and /readyz, and everything else by next. A probe goes
// around sessions, limits and logs.
func (x *Observer) Probes(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch {
		case r.Method != http.MethodGet && r.Method != http.MethodHead:
			next.ServeHTTP(w, r)
		case r.URL.Path == "/healthz":
			state(w, http.StatusOK, "alive")
		case r.URL.Path == "/readyz":
			status, word := x.ready(r.Context())
			state(w, status, word)
		default:
			next.ServeHTTP(w, r)
		}
	})
}

// ready tells whether requests may be sent, and in a word why not.
func (x *Observer) ready(ctx context.Context) (status int, word string) {
	if x.draining.Load() {
		return http.StatusServiceUnavailable, "draining"
	}
	ctx, cancel := context.WithTimeout(ctx, probeTime)
	defer cancel()
	switch err := x.store.Ready(ctx); {
	case err == nil:
		return http.StatusOK, "ready"
	case quiz.ErrorCode(err) == quiz.NotMigrated:
		return http.StatusServiceUnavailable, string(quiz.NotMigrated)
	}
	return http.StatusServiceUnavailable, "no database"
}

func state(w http.ResponseWriter, status int, word string) {
	h := w.Header()
	h.Set("Content-Type", "application/json")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Content-Type-Options", "nosniff")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(map[string]string{"state": word}) // to a client that may be gone
}
