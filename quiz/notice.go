package quiz

import (
	"strings"
	"time"
)

// Notice is something that a person is told.
type Notice struct {
	ID      string
	Person  string // whom
	At      time.Time
	Kind    string            // what happened: one of the kinds below, or another of that form
	Subject string            // to what: "attempt/…"
	Detail  map[string]string // what the text is made of, in the reader's language
	Read    time.Time         // when it was read; zero: not yet
}

// The kinds of notice that the program makes.
const (
	NoticeRegraded    = "regraded"
	NoticeDispute     = "dispute.decided"
	NoticeCertificate = "certificate.issued"
	NoticeOutdated    = "certificate.outdated"
	NoticeRevoked     = "certificate.revoked"
	NoticeAssignment  = "assignment.new"
)

// Check reports what is wrong with n.
func (n Notice) Check() error {
	ok := n.Person != "" && strings.TrimSpace(n.Kind) != "" && plain(n.Kind+n.Subject)
	for k, v := range n.Detail {
		ok = ok && plain(k+v)
	}
	if !ok {
		return Errorf(Invalid, "a notice has no person or no kind, or is not text")
	}
	return nil
}
