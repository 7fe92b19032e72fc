// Package observe lets whoever runs the server see how it is: metrics for
// Prometheus, probes for what starts and stops it, and a log that names nobody.
//
//	log, err := observe.Logger(os.Stderr, observe.LogOptions{Format: "json"})
//	o := observe.New(store, observe.Options{})
//	srv, err := server.New(ctx, server.Config{…, Log: log, Middleware: []echo.MiddlewareFunc{o.Middleware()}})
//	err = listen.Run(ctx, listen.Config{Handler: o.Probes(srv), Admin: o.Admin(), Draining: o.Drain, …})
//
// The probes are at /healthz and /readyz. The first says that the process is
// alive, whatever the database does: one that restarts it would mend nothing.
// The second says that requests may be sent: the database is reached and has
// the schema of this program, and the server is not about to stop. Neither
// tells anything else, as anybody may ask.
//
// Metrics are at /metrics of [Observer.Admin], which is for a listener of its
// own that the outside does not reach.
package observe
