// Package postbox is a mail server of its own for tests.
package postbox

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"io"
	"math/big"
	"mime/quotedprintable"
	"net"
	"net/mail"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"

	"rightpage/server/account"
)

// Letter is a mail that arrived.
type Letter struct {
	From, To string
	Header   mail.Header
	Text     string
	Secret   bool // it travelled by TLS
}

// Postbox is a mail server (SMTP, RFC 5321) on this machine.
type Postbox struct {
	mu      sync.Mutex
	letters []Letter
	refuse  error
	pool    *x509.CertPool
	port    int
}

// NewSession begins a visit of the mail server.
func (b *Postbox) NewSession(c *smtp.Conn) (smtp.Session, error) { return &visit{b: b, c: c}, nil }

// All lists the mails that arrived, the first first.
func (b *Postbox) All() []Letter {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.letters
}

type visit struct {
	b        *Postbox
	c        *smtp.Conn
	known    bool
	from, to string
}

func (v *visit) AuthMechanisms() []string { return []string{sasl.Plain} }

func (v *visit) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		if user != "rightpage" || password != "mail secret" {
			return smtp.ErrAuthFailed
		}
		v.known = true
		return nil
	}), nil
}

func (v *visit) Mail(from string, _ *smtp.MailOptions) error {
	if !v.known {
		return smtp.ErrAuthRequired
	}
	v.from = from
	return nil
}

func (v *visit) Rcpt(to string, _ *smtp.RcptOptions) error {
	v.b.mu.Lock()
	defer v.b.mu.Unlock()
	v.to = to
	return v.b.refuse
}

func (v *visit) Data(r io.Reader) error {
	m, err := mail.ReadMessage(r)
	if err != nil {
		return err
	}
	text, err := io.ReadAll(quotedprintable.NewReader(m.Body))
	if err != nil {
		return err
	}
	_, secret := v.c.TLSConnectionState()
	v.b.mu.Lock()
	defer v.b.mu.Unlock()
	v.b.letters = append(v.b.letters, Letter{v.from, v.to, m.Header, strings.ReplaceAll(string(text), "\r\n", "\n"), secret})
	return nil
}

func (v *visit) Reset()        {}
func (v *visit) Logout() error { return nil }

// Open starts a mail server with a certificate of its own.
func Open(t testing.TB) *Postbox {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{SerialNumber: big.NewInt(1), DNSNames: []string{"localhost"}, NotBefore: time.Now().Add(-time.Hour),
		NotAfter: time.Now().Add(time.Hour), IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	b := &Postbox{pool: x509.NewCertPool()}
	b.pool.AddCert(cert)
	s := smtp.NewServer(b)
	s.Domain = "localhost"
	s.TLSConfig = &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}}}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	b.port = l.Addr().(*net.TCPAddr).Port
	go func() { _ = s.Serve(l) }()
	t.Cleanup(func() { s.Close() })
	return b
}

// Refuse has every receiver refused from now on.
func (b *Postbox) Refuse(err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.refuse = err
}

// Mailer gives the settings with which the mail server takes mails.
func (b *Postbox) Mailer() account.Mailer {
	return account.Mailer{Host: "localhost", Port: b.port, User: "rightpage", Password: "mail secret",
		From: "Training <training@wexcombe.example>", Roots: b.pool}
}
