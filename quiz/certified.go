package quiz

import (
	"strings"
	"time"

	"rightpage/quiz/certificate"
)

// Certified is a certificate on record: what it states, whose it is and what
// became of it.
type Certified struct {
	certificate.Certificate
	PersonID   string
	Attempt    string // ID of the attempt that earned it; empty: entered by hand
	Code       string // printed beside the number, see certificate.NewCode
	By         string // ID of who issued it
	Revocation *certificate.Revocation
	Changes    []certificate.Change // found when the catalog in force was last asked
	Version    int                  // counts changes; 0: not stored yet
}

// Standing is the standing of the certificate at the time.
func (c Certified) Standing(policy certificate.Policy, now time.Time) certificate.Standing {
	return certificate.Assess(c.Certificate, c.Changes, c.Revocation, policy, now)
}

// Revoke withdraws the certificate for a reason. It is done once; nobody
// takes it back.
func (c *Certified) Revoke(reason string, now time.Time) error {
	if c.Revocation != nil {
		return Errorf(Closed, "certificate %s was revoked on %s", c.Number, stamp(c.Revocation.At))
	}
	reason = strings.TrimSpace(reason)
	if reason == "" || len(reason) > maxReason {
		return &Error{Code: Invalid, Text: "the revocation has no reason or a very long one", Mend: "say why in a few sentences"}
	}
	c.Revocation = &certificate.Revocation{At: now, Reason: reason}
	return nil
}
