package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/spf13/cobra"

	"rightpage/quiz"
	"rightpage/quiz/issuing"
	"rightpage/quiz/store"
	"rightpage/server"
	"rightpage/server/account"
	"rightpage/server/listen"
	"rightpage/server/observe"
)

// The variables that hold what is not to stand in a list of processes.
const (
	envDatabase   = "RIGHTPAGE_DB"
	envPassphrase = "RIGHTPAGE_KEYS_PASSPHRASE"
	envMail       = "RIGHTPAGE_SMTP_PASSWORD"
)

// usualAddress is where the server listens unless told otherwise: on this machine
// alone.
const usualAddress = "127.0.0.1:8321"

// serving is how a server is reached and what it works with.
type serving struct {
	address, redirect, metrics string
	certFile, keyFile          string
	hosts                      []string
	cache, contact             string
	proxies                    []string
	https                      bool
	keys                       string
	webIssuer                  bool
	mailHost, mailUser         string
	mailFrom, mailTLS          string
	mailPort                   int
	log, level                 string
	grace                      time.Duration
}

func serveCommand() *cobra.Command {
	var db string
	var o serving
	cmd := &cobra.Command{
		Use:   "serve",
		Short: "Serve the pages to browsers",
		Long: `Serves practice, quizzes, progress and readiness to browsers, until it is
interrupted; what was accepted by then is finished first.

An empty database is made ready, and the address at which to set it up is
printed, with a secret to be entered there. A database of an earlier version has
to be brought up by rightpage migrate first.

Certificates are signed with keys in a file that only its owner may read; it is
made when it is needed first. Keep a copy of it in another place than the
database. Secrets come from the environment: ` + envDatabase + `
(the database, if its URL has a password in it), ` + envPassphrase + `
(encrypts the key file) and ` + envMail + `.`,
		Example: `  rightpage serve --db training.db
  rightpage serve --db training.db --listen :8321 --log json --metrics 127.0.0.1:9102`,
		Args:        arguments,
		Annotations: map[string]string{patient: "yes"},
		RunE: func(cmd *cobra.Command, _ []string) (err error) {
			ctx := cmd.Context()
			s, err := openDatabase(ctx, db, true)
			if err != nil {
				return answerOf(cmd, err)
			}
			defer func() { err = errors.Join(err, s.Close()) }()
			at, err := s.SchemaVersion(ctx)
			if err == nil && at == "" {
				err = s.Migrate(ctx)
			}
			if err == nil {
				err = s.Ready(ctx)
			}
			if err != nil {
				return answerOf(cmd, err)
			}
			keys, err := o.openKeys(ctx, databaseURL(db), s)
			if err != nil {
				return answerOf(cmd, err)
			}
			people, err := s.People(ctx)
			if err != nil {
				return answerOf(cmd, err)
			}
			secret := ""
			if len(people) == 0 {
				secret = rand.Text()[:12]
			}
			return answerOf(cmd, o.run(ctx, cmd.ErrOrStderr(), s, keys, nil, secret, func(at string) {
				if secret != "" {
					fmt.Fprintf(cmd.OutOrStdout(), "set up at %s/setup with the secret %s\n", at, secret)
				}
				fmt.Fprintf(cmd.OutOrStdout(), "serving at %s\n", at)
				flush(cmd.OutOrStdout())
			}))
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	databaseFlag(cmd, &db)
	o.flags(cmd)
	fl.StringVar(&o.keys, "keys", "", "`FILE` with the signing keys (default: beside the database, with the ending .keys)")
	fl.BoolVar(&o.webIssuer, "web-issuer", false, "sign as the organisation's web site (did:web) at the address in the settings")
	fl.StringVar(&o.redirect, "redirect", "", "`ADDRESS` at which plain HTTP is sent to HTTPS, such as :80")
	fl.StringVar(&o.metrics, "metrics", "", "`ADDRESS` for metrics, that the outside does not reach")
	fl.StringVar(&o.certFile, "tls-cert", "", "serve HTTPS with the chain of certificates in this `FILE`")
	fl.StringVar(&o.keyFile, "tls-key", "", "and with the key in this `FILE`")
	fl.StringArrayVar(&o.hosts, "tls-host", nil, "serve HTTPS with a certificate for this `NAME` that is had automatically by ACME; it accepts the authority's terms (may be repeated)")
	fl.StringVar(&o.cache, "tls-cache", "", "`FOLDER` that keeps such certificates (default: beside the database)")
	fl.StringVar(&o.contact, "tls-contact", "", "mail `address` that the authority may write to")
	fl.StringArrayVar(&o.proxies, "behind-proxy", nil, "`RANGE` of addresses of a proxy in front, such as 10.0.0.0/8 (may be repeated)")
	fl.BoolVar(&o.https, "https", false, "browsers reach the proxy in front by HTTPS")
	fl.StringVar(&o.mailHost, "smtp", "", "send mails by the mail server of this `NAME`")
	fl.IntVar(&o.mailPort, "smtp-port", 0, "at this `port` (default: that of the kind of TLS)")
	fl.StringVar(&o.mailUser, "smtp-user", "", "sign in there as this `user`, with the password in "+envMail)
	fl.StringVar(&o.mailFrom, "smtp-from", "", "`address` that mails come from")
	fl.StringVar(&o.mailTLS, "smtp-tls", string(account.TLSRequired), "`how` mails travel: required, implicit, \"if there\" or none")
	return cmd
}

// flags adds what try has, too.
func (o *serving) flags(cmd *cobra.Command) {
	fl := cmd.Flags()
	fl.StringVar(&o.address, "listen", usualAddress, "`ADDRESS` to serve at: :8321 for the whole network")
	fl.StringVar(&o.log, "log", "text", "write the log as `text` or json")
	fl.StringVar(&o.level, "log-level", "warn", "write what is at least this: debug, info, warn or error; debug may name people, `what` the others do not")
	fl.DurationVar(&o.grace, "grace", 30*time.Second, "`time` for requests under way when it stops")
}

// openKeys opens the key file of a database.
func (o *serving) openKeys(ctx context.Context, url string, s *store.Store) (*issuing.Keys, error) {
	path := o.keys
	if path == "" {
		path = "rightpage.keys"
		if !isServer(url) {
			path = strings.TrimSuffix(url, filepath.Ext(url)) + ".keys"
		}
	}
	keys, err := issuing.OpenKeys(path, os.Getenv(envPassphrase))
	if err != nil || !o.webIssuer {
		return keys, err
	}
	settings, err := s.Settings(ctx)
	if err != nil {
		return nil, err
	}
	_, err = keys.UseWeb(settings.BaseURL)
	return keys, err
}

// run serves until ctx ends. ready is told the address once it can be opened.
func (o *serving) run(ctx context.Context, stderr io.Writer, s *store.Store, keys *issuing.Keys, now func() time.Time, secret string, ready func(at string)) error {
	log, err := observe.Logger(stderr, observe.LogOptions{Format: o.log, Level: o.level})
	if err != nil {
		return &quiz.Error{Code: quiz.Invalid, Text: "--log or --log-level", Err: err}
	}
	proxies, err := listen.ParseProxies(o.proxies...)
	if err != nil {
		return &quiz.Error{Code: quiz.Invalid, Text: "--behind-proxy", Err: err}
	}
	watch := observe.New(s, observe.Options{Now: now, Version: version(), Pools: s.Pools})
	encrypted := o.certFile != "" || len(o.hosts) > 0
	srv, err := server.New(ctx, server.Config{
		Store: s, Keys: keys, Now: now, Log: log, SetupSecret: secret, Version: version(),
		Secure: encrypted || o.https, Proxies: proxies.Trust(), Middleware: []echo.MiddlewareFunc{watch.Middleware()},
		Mailer: account.Mailer{Host: o.mailHost, Port: o.mailPort, User: o.mailUser, Password: os.Getenv(envMail), From: o.mailFrom, TLS: account.TLS(o.mailTLS)},
	})
	if err != nil {
		return err
	}
	cache := o.cache
	if cache == "" {
		cache = "rightpage-certificates"
	}
	// What is due is done until the last request has been answered.
	work, stop := context.WithCancel(context.WithoutCancel(ctx))
	var done sync.WaitGroup
	done.Go(func() { srv.Work(work) })
	err = listen.Run(ctx, listen.Config{
		Handler: watch.Probes(srv), Address: o.address, Redirect: o.redirect,
		TLS:     listen.TLS{CertFile: o.certFile, KeyFile: o.keyFile, Hosts: o.hosts, Cache: cache, Contact: o.contact},
		Proxies: proxies, Secure: o.https,
		Admin: watch.Admin(), AdminAddress: o.metrics, Draining: watch.Drain, Grace: o.grace, Log: log,
		Ready: func(a listen.Addresses) { ready(addressOf(a.Server, encrypted, o.hosts)) },
	})
	stop()
	done.Wait()
	srv.Wait()
	return err
}

// addressOf is what to type into a browser.
func addressOf(a net.Addr, encrypted bool, hosts []string) string {
	u := url.URL{Scheme: "http", Host: a.String()}
	if encrypted {
		u.Scheme = "https"
	}
	if host, port, err := net.SplitHostPort(u.Host); err == nil {
		if ip := net.ParseIP(host); len(hosts) > 0 {
			host = hosts[0]
		} else if ip.IsUnspecified() {
			host = "localhost"
		}
		u.Host = net.JoinHostPort(host, port)
	}
	return u.String()
}
