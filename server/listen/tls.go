package listen

import (
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"log/slog"
	"net/http"
	"os"
	"sync"
	"time"

	"golang.org/x/crypto/acme"
	"golang.org/x/crypto/acme/autocert"

	"rightpage/quiz"
)

// TLS says where certificates come from: from files, or from an authority that
// gives them automatically. The zero value is plain HTTP.
type TLS struct {
	// CertFile is a chain of certificates in PEM, that of the server first, and
	// KeyFile its key. When they change, the new ones are used from the next
	// connection on; as long as the new ones cannot be used, the old ones are.
	CertFile, KeyFile string

	// Hosts are the names for which certificates are had by ACME (RFC 8555).
	// Port 443 of each must lead to the server, or port 80 to its redirect. Who
	// names hosts accepts the authority's terms.
	Hosts []string
	// Cache is the folder that keeps certificates and the key of the account.
	Cache string
	// Contact is a mail address that the authority may write to; may be empty.
	Contact string
	// Directory is the address of the authority's directory; empty: that of the
	// authority that golang.org/x/crypto/acme/autocert takes by itself.
	Directory string
	// Roots are trusted to vouch for the authority's own server; nil: those of
	// the system.
	Roots *x509.CertPool
}

// lookEvery is how often files are looked at, at most.
const lookEvery = time.Second

// config gives the configuration, nil for plain HTTP; and, for automatic
// certificates, what answers the authority on plain HTTP.
func (t TLS) config(log *slog.Logger) (*tls.Config, func(http.Handler) http.Handler, error) {
	files, auto := t.CertFile != "" || t.KeyFile != "", len(t.Hosts) > 0
	switch {
	case files && auto:
		return nil, nil, &quiz.Error{Code: quiz.Invalid, Text: "certificates are to come from files and automatically", Mend: "choose one"}
	case files:
		f := &certFiles{cert: t.CertFile, key: t.KeyFile, log: log, now: time.Now}
		if err := f.read(); err != nil {
			return nil, nil, &quiz.Error{Code: quiz.Invalid, Text: "read the certificate " + t.CertFile + " and its key " + t.KeyFile, Err: err,
				Mend: "give both as PEM files that belong together"}
		}
		return modern(&tls.Config{GetCertificate: f.get}), nil, nil
	case auto:
		if t.Cache == "" {
			return nil, nil, &quiz.Error{Code: quiz.Invalid, Text: "automatic certificates have no folder to be kept in", Mend: "name one; without it the authority soon refuses more"}
		}
		m := &autocert.Manager{Prompt: autocert.AcceptTOS, Cache: autocert.DirCache(t.Cache), HostPolicy: autocert.HostWhitelist(t.Hosts...), Email: t.Contact,
			Client: &acme.Client{DirectoryURL: t.Directory, UserAgent: "rightpage"}}
		if t.Directory == "" {
			m.Client.DirectoryURL = autocert.DefaultACMEDirectory
		}
		if t.Roots != nil {
			m.Client.HTTPClient = &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: t.Roots, MinVersion: tls.VersionTLS12}}}
		}
		return modern(m.TLSConfig()), m.HTTPHandler, nil
	}
	return nil, nil, nil
}

// modern bounds a configuration to versions without known weaknesses: OWASP
// ASVS 5.0, 12.1.1 (from memory).
func modern(c *tls.Config) *tls.Config {
	c.MinVersion = tls.VersionTLS12
	return c
}

// certFiles is a certificate in files, which is read again when they change.
type certFiles struct {
	cert, key string
	log       *slog.Logger
	now       func() time.Time

	mu     sync.Mutex
	looked time.Time
	state  [2]stamp
	have   *tls.Certificate
}

// stamp is what tells that a file has changed.
type stamp struct {
	at   time.Time
	size int64
}

func (f *certFiles) stamps() (s [2]stamp, err error) {
	for i, name := range []string{f.cert, f.key} {
		info, err := os.Stat(name)
		if err != nil {
			return s, err
		}
		s[i] = stamp{info.ModTime(), info.Size()}
	}
	return s, nil
}

// read reads the files.
func (f *certFiles) read() error {
	s, err := f.stamps()
	if err != nil {
		return err
	}
	c, err := tls.LoadX509KeyPair(f.cert, f.key)
	if err != nil {
		return err
	}
	if c.Leaf != nil && f.now().After(c.Leaf.NotAfter) {
		return fmt.Errorf("it expired on %s", c.Leaf.NotAfter.Format(time.DateOnly))
	}
	f.state, f.have = s, &c
	return nil
}

// get is of tls.Config.GetCertificate.
func (f *certFiles) get(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	now := f.now()
	if now.Sub(f.looked) < lookEvery && !now.Before(f.looked) {
		return f.have, nil
	}
	f.looked = now
	s, err := f.stamps()
	if err == nil && s == f.state {
		return f.have, nil
	}
	if err == nil {
		err = f.read()
	}
	if err != nil {
		// Both files are seldom written in one moment: it is tried again.
		f.log.Warn("the certificate has changed and cannot be used; the one before stays in use", "error", err)
		return f.have, nil
	}
	f.log.Info("the certificate has changed", "until", f.have.Leaf.NotAfter.Format(time.DateOnly))
	return f.have, nil
}
