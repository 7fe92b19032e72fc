package issuing

import (
	"context"
	"slices"
	"strings"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/credential"
)

// Public is what anybody may see of a certificate who has its number and code:
// what is printed on it, and its standing.
type Public struct {
	Number          string              `json:"number"`
	Person          string              `json:"person"`
	Organisation    string              `json:"organisation"`
	Site            string              `json:"site,omitempty"`
	Quiz            string              `json:"quiz"`
	Skills          []certificate.Skill `json:"skills"`
	CatalogTitle    string              `json:"catalog"`
	CatalogRevision string              `json:"revision"`
	Issued          time.Time           `json:"issued"`
	Expires         time.Time           `json:"expires"`
	State           certificate.State   `json:"state"`
	Reason          string              `json:"reason"` // of the state, in a sentence
	Changed         int                 `json:"changed"`
	Lookups         int                 `json:"lookups"`
	Statement       string              `json:"statement"` // what it does not prove
}

// Verify gives what anybody may see of a certificate. A wrong code and a number
// that does not exist are told apart by nobody: both are quiz.NotFound. The
// caller limits how often it is tried.
func (x *Issuer) Verify(ctx context.Context, number, code string) (Public, error) {
	unknown := &quiz.Error{Code: quiz.NotFound, Text: "there is no certificate with this number and code", Mend: "compare both with the certificate"}
	c, err := x.s.Certificate(ctx, strings.ToUpper(strings.TrimSpace(number)))
	if quiz.ErrorCode(err) == quiz.NotFound || err == nil && !certificate.SameCode(code, c.Code) {
		return Public{}, unknown
	}
	if err != nil {
		return Public{}, err
	}
	p, err := x.Policy(ctx)
	if err != nil {
		return Public{}, err
	}
	s := c.Standing(p, x.now())
	return Public{Number: c.Number, Person: c.Person, Organisation: c.Organisation, Site: c.Site, Quiz: c.Quiz, Skills: c.Skills,
		CatalogTitle: c.CatalogTitle, CatalogRevision: c.CatalogRevision, Issued: c.Issued, Expires: c.Expires,
		State: s.State, Reason: s.Reason, Changed: len(s.Changed), Lookups: s.Total, Statement: certificate.NotALicence}, nil
}

// statusFor is how long a copy of the status list may be relied on, and
// statusEvery how often it is signed anew.
const (
	statusFor   = 7 * 24 * time.Hour
	statusEvery = time.Hour
)

// signedStatus is the status list as it was signed last.
type signedStatus struct {
	list    []byte
	revoked []int
	made    time.Time
	url     string
}

// StatusList gives the signed list of revoked certificates, to be served at
// [StatusURL]. It is signed anew when a certificate was revoked, and once an
// hour. Without an address of the server there is none: quiz.NotFound.
func (x *Issuer) StatusList(ctx context.Context) ([]byte, error) {
	settings, err := x.s.Settings(ctx)
	if err != nil {
		return nil, err
	}
	if settings.BaseURL == "" {
		return nil, &quiz.Error{Code: quiz.NotFound, Text: "there is no status list", Mend: "give the address of the server in the settings"}
	}
	revoked, err := x.s.RevokedIndexes(ctx)
	if err != nil {
		return nil, err
	}
	url, now := StatusURL(settings.BaseURL), x.now()
	x.mu.Lock()
	defer x.mu.Unlock()
	if s := &x.status; s.list != nil && s.url == url && slices.Equal(s.revoked, revoked) && now.Sub(s.made) < statusEvery && !now.Before(s.made) {
		return s.list, nil
	}
	signer, err := x.k.Signer()
	if err != nil {
		return nil, err
	}
	bits := credential.NewBitstring()
	for _, i := range revoked {
		if err := bits.Set(i, true); err != nil {
			return nil, &quiz.Error{Code: quiz.Internal, Text: "make the status list", Err: err}
		}
	}
	list, err := signer.IssueStatusList(url, bits, now, now.Add(statusFor))
	if err != nil {
		return nil, &quiz.Error{Code: quiz.Internal, Text: "sign the status list", Err: err}
	}
	x.status = signedStatus{list, revoked, now, url}
	return list, nil
}

// DIDDocument gives the document that tells the organisation's keys, for a
// server that signs as a web site (see [Keys.UseWeb]).
func (x *Issuer) DIDDocument() ([]byte, error) { return x.k.DIDDocument() }
