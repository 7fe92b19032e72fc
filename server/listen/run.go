package listen

import (
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"time"

	"rightpage/quiz"
)

// Config says where and how a server listens. Handler and Address are needed.
type Config struct {
	Handler http.Handler
	Address string // host and port: ":8080", "127.0.0.1:0"
	TLS     TLS    // zero: plain HTTP
	// Redirect is where plain HTTP is listened to as well, to be sent to HTTPS;
	// empty: nowhere. An automatic certificate may need it, at port 80.
	Redirect string
	// Proxies are those whose word on where a request comes from is taken. From
	// anybody else it is dropped before Handler sees it.
	Proxies Proxies
	// Secure has requests that reached a proxy by plain HTTP sent to HTTPS.
	Secure bool

	Admin        http.Handler // what the outside does not reach, such as metrics; nil: nothing
	AdminAddress string       // where; empty: nowhere

	Grace    time.Duration // for requests that are under way when it stops; 0: 30 s
	Notice   time.Duration // from Draining until no more is accepted; 0: not at all
	Draining func()        // called when it begins to stop; may be nil

	// Ready is called once everything listens, with the addresses; may be nil.
	Ready func(Addresses)
	Log   *slog.Logger // nil: nothing is logged
	Times Times
}

// Addresses are those that were listened to in the end.
type Addresses struct {
	Server, Redirect, Admin net.Addr // nil: it does not listen
}

// Times bound how long a client may take. Zero values stand for those given.
type Times struct {
	Header time.Duration // to send the head of a request; 0: 10 s
	Read   time.Duration // to send all of it, an upload too; 0: 5 min
	Write  time.Duration // to take the answer, from the head of the request on; 0: 6 min, more than any page takes
	Idle   time.Duration // between two requests; 0: 2 min
}

// headerBytes bounds the head of a request.
const headerBytes = 64 << 10

func (c Config) server(h http.Handler) *http.Server {
	t := c.Times
	return &http.Server{Handler: h, ReadHeaderTimeout: cmp.Or(t.Header, 10*time.Second), ReadTimeout: cmp.Or(t.Read, 5*time.Minute),
		WriteTimeout: cmp.Or(t.Write, 6*time.Minute), IdleTimeout: cmp.Or(t.Idle, 2*time.Minute), MaxHeaderBytes: headerBytes,
		ErrorLog: slog.NewLogLogger(c.Log.Handler(), slog.LevelWarn)}
}

// part is one listener with what it serves.
type part struct {
	name     string
	server   *http.Server
	listener net.Listener
	secure   bool
}

// Run listens and serves until ctx ends, and then stops as the package says. It
// gives nil when all was finished.
func Run(ctx context.Context, c Config) error {
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	c.Grace = cmp.Or(c.Grace, 30*time.Second)
	secure, challenge, err := c.TLS.config(c.Log)
	if err != nil {
		return err
	}
	handler := c.Proxies.Handler(c.Handler)
	if c.Secure {
		handler = c.Proxies.Handler(onlyHTTPS(c.Handler))
	}
	var parts []*part
	closeAll := func() {
		for _, p := range parts {
			_ = p.server.Close()
			_ = p.listener.Close()
		}
	}
	add := func(name, address string, h http.Handler, secure *tls.Config) (net.Addr, error) {
		l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", address)
		if err != nil {
			return nil, &quiz.Error{Code: quiz.Unavailable, Text: "listen to " + address, Err: err, Mend: "is the address right, and free?"}
		}
		p := &part{name, c.server(h), l, secure != nil}
		if secure != nil {
			p.server.TLSConfig = secure
		}
		parts = append(parts, p)
		return l.Addr(), nil
	}
	var at Addresses
	if at.Server, err = add("server", c.Address, handler, secure); err != nil {
		return err
	}
	if c.Redirect != "" {
		to := http.Handler(toHTTPS{port: portOf(at.Server)})
		if challenge != nil {
			to = challenge(to)
		}
		if at.Redirect, err = add("redirect", c.Redirect, to, nil); err != nil {
			closeAll()
			return err
		}
	}
	if c.Admin != nil && c.AdminAddress != "" {
		if at.Admin, err = add("admin", c.AdminAddress, c.Admin, nil); err != nil {
			closeAll()
			return err
		}
	}
	failed := make(chan error, len(parts))
	var serving sync.WaitGroup
	for _, p := range parts {
		serving.Go(func() {
			var err error
			if p.secure {
				err = p.server.ServeTLS(p.listener, "", "")
			} else {
				err = p.server.Serve(p.listener)
			}
			if !errors.Is(err, http.ErrServerClosed) {
				failed <- &quiz.Error{Code: quiz.Unavailable, Text: "serve at " + p.listener.Addr().String(), Err: err}
			}
		})
		c.Log.Info("listening", "what", p.name, "listen", p.listener.Addr().String(), "tls", p.secure)
	}
	if c.Ready != nil {
		c.Ready(at)
	}
	var cause error
	select {
	case <-ctx.Done():
	case cause = <-failed:
	}
	err = c.stop(parts)
	serving.Wait()
	return errors.Join(cause, err)
}

// stop stops the parts, the one for administration last.
func (c Config) stop(parts []*part) error {
	c.Log.Info("stopping", "grace", c.Grace.String())
	if c.Draining != nil {
		c.Draining()
	}
	if c.Notice > 0 {
		time.Sleep(c.Notice)
	}
	ctx, cancel := context.WithTimeout(context.Background(), c.Grace)
	defer cancel()
	var err error
	for _, p := range parts {
		left := p.server.Shutdown(ctx)
		if left == nil {
			continue
		}
		_ = p.server.Close()
		if p.name != "admin" {
			err = errors.Join(err, &quiz.Error{Code: quiz.Unavailable, Text: fmt.Sprintf("requests at %s were not finished after %v and were cut off", p.listener.Addr(), c.Grace), Err: left})
		}
	}
	if err == nil {
		c.Log.Info("stopped")
	}
	return err
}
