// Package issuing issues certificates for attempts that passed, keeps their
// standing as the catalog changes, and renews them by short quizzes on what
// changed.
//
//	keys, err := issuing.OpenKeys("keys.json", passphrase)
//	x := issuing.New(s, m, l, keys, issuing.Options{})
//	c, err := x.Issue(ctx, actor, attempt)           // certificate, PDF, badge, credential
//	files, err := x.Files(ctx, c.Number)
//
//	effect, err := x.Effect(ctx, candidate)          // before a revision comes into force
//	changed, err := x.Refresh(ctx, actor)            // after it did
//	as, err := x.TopUp(ctx, actor, c.Number)         // a quiz on the lookups that changed
//	c, err = x.Issue(ctx, actor, topUpAttempt)       // passed: renewed
//
//	public, err := x.Verify(ctx, number, code)       // what anybody may see
//
// A certificate stands for the lookups that were answered in the attempt. It
// keeps for each what the catalog said on the day; [Issuer.Refresh] asks the
// catalog in force again.
package issuing

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/library"
	"rightpage/quiz/marking"
	"rightpage/quiz/store"
)

// Options are what may be chosen about an Issuer. The zero value will do.
type Options struct {
	Now func() time.Time // the clock: that of the store; nil: time.Now
}

// Issuer issues certificates. It is safe for concurrent use.
type Issuer struct {
	s *store.Store
	m *marking.Marker
	l *library.Library
	k *Keys
	o Options

	mu     sync.Mutex
	status signedStatus
}

// New makes an Issuer.
func New(s *store.Store, m *marking.Marker, l *library.Library, k *Keys, o Options) *Issuer {
	if o.Now == nil {
		o.Now = time.Now
	}
	return &Issuer{s: s, m: m, l: l, k: k, o: o}
}

func (x *Issuer) now() time.Time { return x.o.Now().UTC().Truncate(time.Microsecond) }

// Keys gives the keys that the issuer signs with.
func (x *Issuer) Keys() *Keys { return x.k }

// VerifyURL is the address at which anybody can check a certificate, for a
// server at base; it is printed on the certificate as text and as a QR code.
func VerifyURL(base, number, code string) string {
	return strings.TrimSuffix(base, "/") + "/verify/" + number + "/" + code
}

// StatusURL is the address of the status list, for a server at base.
func StatusURL(base string) string { return strings.TrimSuffix(base, "/") + "/credentials/status" }

// Policy is what the organisation has decided about standing.
func (x *Issuer) Policy(ctx context.Context) (certificate.Policy, error) {
	s, err := x.s.Settings(ctx)
	if err != nil {
		return certificate.DefaultPolicy(), err
	}
	return policy(s), nil
}

// Standing gives the standing of a certificate by the organisation's policy, or
// by the usual one while that cannot be read. Who asks for many takes
// [Issuer.Policy] and quiz.Certified.Standing.
func (x *Issuer) Standing(ctx context.Context, c quiz.Certified) certificate.Standing {
	p, _ := x.Policy(ctx)
	return c.Standing(p, x.now())
}

func policy(s quiz.Settings) certificate.Policy {
	return certificate.Policy{OutdatedAbove: s.OutdatedAbove}
}

// Revoke withdraws a certificate for a reason, once, and tells the person.
func (x *Issuer) Revoke(ctx context.Context, actor, number, reason string) (quiz.Certified, error) {
	c, err := x.s.RevokeCertificate(ctx, actor, number, reason)
	if err != nil {
		return c, err
	}
	return c, x.tell(ctx, c, quiz.NoticeRevoked, "revoked/"+number, map[string]string{DetailReason: c.Revocation.Reason})
}

// The keys of the detail of notices about certificates, whose subject is the
// certificate, or the assignment of its top-up quiz.
const (
	DetailNumber   = "number"
	DetailQuiz     = "quiz"     // title of the quiz that earned it
	DetailReason   = "reason"   // of a revocation or of being outdated
	DetailRevision = "revision" // of the catalog that outdated it
	DetailChanged  = "changed"  // how many lookups changed
	DetailTotal    = "total"    // of how many
	DetailRenews   = "renews"   // number of the certificate that a new one renews
)

// tell tells a person something about a certificate, once.
func (x *Issuer) tell(ctx context.Context, c quiz.Certified, kind, id string, detail map[string]string) error {
	if detail == nil {
		detail = map[string]string{}
	}
	detail[DetailNumber], detail[DetailQuiz] = c.Number, c.Quiz
	return x.s.AddNotices(ctx, []quiz.Notice{{ID: id, Person: c.PersonID, Kind: kind, Subject: "certificate/" + c.Number, Detail: detail}})
}

// Undermined lists the certificates whose attempt no longer passes since it was
// regraded, so that a coordinator may decide whether they stand.
func (x *Issuer) Undermined(ctx context.Context) ([]quiz.Certified, error) {
	all, err := x.s.Certificates(ctx)
	if err != nil {
		return nil, err
	}
	var out []quiz.Certified
	for _, c := range all {
		if c.Attempt == "" || c.Revocation != nil {
			continue
		}
		a, err := x.s.Attempt(ctx, c.Attempt)
		if err != nil {
			return nil, fmt.Errorf("certificate %s: %w", c.Number, err)
		}
		if a.State == quiz.Graded && !a.Result.Passed {
			out = append(out, c)
		}
	}
	return out, nil
}
