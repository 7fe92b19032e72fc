// Package listen runs a server on the network until it is told to stop, and
// stops it so that nothing that was accepted is lost.
//
//	err := listen.Run(ctx, listen.Config{
//		Handler: h, Address: ":443",
//		TLS:     listen.TLS{CertFile: "cert.pem", KeyFile: "key.pem"},   // read again when they change
//		Redirect: ":80",                                                // sends plain HTTP to HTTPS
//		Admin: o.Admin(), AdminAddress: "127.0.0.1:9102", Draining: o.Drain,
//		Log: log,
//	})
//
// Certificates can be had automatically instead, from an authority that speaks
// ACME (RFC 8555): see [TLS]. Behind a proxy that ends TLS, no certificate is
// needed here, but whose word is taken on where a request comes from: see
// [Proxies].
//
// # How it stops
//
// When the context ends, Draining is called, so that /readyz says so, and the
// server goes on for Notice, in which a proxy can learn of it. Then it takes no
// new connections, and finishes the requests that are under way, for at most
// Grace. What is not finished then is cut off, and Run says so by its error. The
// listener of Admin is the last to close.
package listen
