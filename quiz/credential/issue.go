package credential

import (
	"crypto/ed25519"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"

	"rightpage/quiz/certificate"
)

// A Signer issues credentials with one key in the name of one issuer.
type Signer struct {
	DID    string // did:key or did:web
	Method string // the verification method, DID and fragment
	key    ed25519.PrivateKey
}

// String names the key and never prints it.
func (s Signer) String() string { return "signer " + s.Method }

// Format prints String for every verb.
func (s Signer) Format(f fmt.State, _ rune) { _, _ = io.WriteString(f, s.String()) }

// IssueOptions say what goes into a credential besides the certificate.
type IssueOptions struct {
	Now             time.Time    // when the proof is made
	OrganisationURL string       // the organisation's web site; may be empty
	Status          *StatusEntry // where revocation will be shown; nil without a server
	PDF             []byte       // the printed certificate, to carry the credential; nil for none
	PNG             []byte       // the badge image, to carry the credential; nil for none
}

// Bundle is one certificate in every form that it is handed out in. The files
// are to be kept and handed out as they are: printing the PDF again with
// another version of this program may give other bytes, which the credential
// does not know.
type Bundle struct {
	ID   string // the credential's identifier
	JSON []byte // signed Open Badge, canonical form
	JWT  []byte // the same statement as a signed token
	PDF  []byte // the printed certificate with JSON attached; nil if none was given
	PNG  []byte // the badge with JSON baked in; nil if none was given
}

// Issue signs what c states. The same certificate, options and key give the
// same bytes.
func (s Signer) Issue(c certificate.Certificate, o IssueOptions) (Bundle, error) {
	if s.key == nil {
		return Bundle{}, errors.New("credential: no signing key: unlock the keyring first")
	}
	if o.Now.IsZero() {
		return Bundle{}, errors.New("credential: IssueOptions.Now is not set")
	}
	if err := c.Check(); err != nil {
		return Bundle{}, err
	}
	for _, text := range []string{c.Number, c.Person, c.Organisation, c.Quiz, c.CatalogTitle, c.CatalogRevision, c.VerifyURL} {
		if err := checkText(text); err != nil {
			return Bundle{}, fmt.Errorf("certificate %s: %q %w", c.Number, text, err)
		}
	}
	badge := badgeOf(c, profile{ID: s.DID, Type: []string{"Profile"}, Name: c.Organisation, URL: o.OrganisationURL}, o)
	unsigned, err := json.Marshal(badge)
	if err != nil {
		return Bundle{}, fmt.Errorf("certificate %s: %w", c.Number, err)
	}
	b := Bundle{ID: badge.ID}
	if b.JSON, err = addProof(unsigned, s.key, s.Method, o.Now); err != nil {
		return Bundle{}, err
	}
	if b.JWT, err = s.signToken(unsigned, badge.ID, badge.Subject.ID, badge.ValidFrom, badge.ValidUntil, o.Now); err != nil {
		return Bundle{}, err
	}
	if o.PDF != nil {
		if b.PDF, err = AttachToPDF(o.PDF, b.JSON); err != nil {
			return Bundle{}, err
		}
	}
	if o.PNG != nil {
		if b.PNG, err = BakePNG(o.PNG, b.JSON); err != nil {
			return Bundle{}, err
		}
	}
	return b, nil
}

// checkText refuses control characters: they print as nothing, and JSON
// writes them in more than one way.
func checkText(text string) error {
	for _, r := range text {
		if r < ' ' || r == 0x7f || r == '\uFFFD' {
			return errors.New("contains a character that cannot be printed: remove it")
		}
	}
	return nil
}
