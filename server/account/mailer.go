package account

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"time"

	"github.com/wneessen/go-mail"

	"rightpage/quiz"
)

// TLS says how mails travel to the mail server.
type TLS string

// How mails travel.
const (
	TLSRequired TLS = "required" // STARTTLS or nothing (RFC 3207); the default
	TLSImplicit TLS = "implicit" // TLS from the first byte, as on port 465 (RFC 8314)
	TLSIfThere  TLS = "if there" // STARTTLS if the server offers it
	TLSNone     TLS = "none"     // none: for a mail server on the same machine
)

// mailTimeout bounds how long the mail server may take.
const mailTimeout = 20 * time.Second

// Mailer sends mails by SMTP (RFC 5321). The zero value sends none.
type Mailer struct {
	Host     string // empty: no mail is sent
	Port     int    // 0: 587, or 465 for TLSImplicit, or 25 for TLSNone
	User     string // empty: without signing in
	Password string
	From     string         // address, with or without a name
	TLS      TLS            // empty: TLSRequired
	Roots    *x509.CertPool // who may vouch for the mail server; nil: those of the system
}

// On tells whether mails are sent.
func (m Mailer) On() bool { return m.Host != "" }

// Check reports what is wrong with m.
func (m Mailer) Check() error {
	if !m.On() {
		return nil
	}
	if err := mail.NewMsg().From(m.From); err != nil {
		return &quiz.Error{Code: quiz.Invalid, Text: "mail: the sender " + m.From + " is no address", Err: err, Mend: "give one such as training@example.org"}
	}
	_, err := m.client()
	return err
}

func (m Mailer) client() (*mail.Client, error) {
	options := []mail.Option{mail.WithTimeout(mailTimeout), mail.WithTLSConfig(&tls.Config{ServerName: m.Host, RootCAs: m.Roots, MinVersion: tls.VersionTLS12})}
	port := 587
	switch m.TLS {
	case TLSRequired, "":
		options = append(options, mail.WithTLSPolicy(mail.TLSMandatory))
	case TLSIfThere:
		options = append(options, mail.WithTLSPolicy(mail.TLSOpportunistic))
	case TLSImplicit:
		port = 465
		options = append(options, mail.WithSSL())
	case TLSNone:
		port = 25
		options = append(options, mail.WithTLSPolicy(mail.NoTLS))
	default:
		return nil, &quiz.Error{Code: quiz.Invalid, Text: "mail: there is no way " + string(m.TLS) + " to travel", Mend: "use required, implicit, if there or none"}
	}
	if m.Port != 0 {
		port = m.Port
	}
	options = append(options, mail.WithPort(port))
	if m.User != "" {
		options = append(options, mail.WithSMTPAuth(mail.SMTPAuthAutoDiscover), mail.WithUsername(m.User), mail.WithPassword(m.Password))
	}
	c, err := mail.NewClient(m.Host, options...)
	if err != nil {
		return nil, &quiz.Error{Code: quiz.Invalid, Text: "mail: the settings of the mail server will not do", Err: err}
	}
	return c, nil
}

// Send sends a mail of plain text. The error names nobody.
func (m Mailer) Send(ctx context.Context, to, subject, text string) error {
	failed := func(why string, err error) error {
		return &quiz.Error{Code: quiz.Unavailable, Text: "the mail was not sent: " + why, Err: err, Mend: "check the settings of the mail server, or print a code"}
	}
	msg := mail.NewMsg(mail.WithNoDefaultUserAgent())
	if err := msg.From(m.From); err != nil {
		return failed("the sender is no address", nil)
	}
	if err := msg.To(to); err != nil {
		return failed("the receiver's address cannot be used", nil)
	}
	msg.Subject(subject)
	msg.SetBodyString(mail.TypeTextPlain, text)
	msg.SetDate()
	msg.SetMessageID()
	msg.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834: no answers by machines
	c, err := m.client()
	if err != nil {
		return err
	}
	err = c.DialAndSendWithContext(ctx, msg)
	var refused *mail.SendError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &refused): // its text repeats addresses
		return failed(fmt.Sprintf("%v, code %d of the mail server", refused.Reason, refused.ErrorCode()), nil)
	}
	return failed("the mail server cannot be reached", err)
}
