package listen

import (
	"crypto/tls"
	"log/slog"
	"time"
)

// CertFiles is certFiles, with a clock that tests move.
type CertFiles struct{ f *certFiles }

// NewCertFiles reads a certificate and its key.
func NewCertFiles(cert, key string, log *slog.Logger, now func() time.Time) (CertFiles, error) {
	f := &certFiles{cert: cert, key: key, log: log, now: now}
	return CertFiles{f}, f.read()
}

// Get gives the certificate for a connection.
func (c CertFiles) Get(h *tls.ClientHelloInfo) (*tls.Certificate, error) { return c.f.get(h) }
