package credential

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"rightpage/quiz/certificate"
)

// Outcome is the result of a check in one word.
type Outcome string

// The outcomes. Only Genuine is valid.
const (
	Genuine       Outcome = "genuine"
	Unreadable    Outcome = "unreadable"     // not a file that carries a credential
	Altered       Outcome = "altered"        // not what was signed
	UnknownIssuer Outcome = "unknown issuer" // signed by somebody not trusted
	KeyRefused    Outcome = "key refused"    // signed with a key after its time, or one known to others
	NotYet        Outcome = "not yet valid"
	Expired       Outcome = "expired"
	Revoked       Outcome = "revoked"
)

// Options say what is believed. None of it is looked up: checking is offline.
type Options struct {
	Now     time.Time       // the time to judge by; must be set
	Trusted []TrustedIssuer // who is believed; empty accepts any did:key, with IssuerKnown false
	// StatusLists are signed status lists at hand. Without the one that a
	// credential names, its revocation is not checked and Status says so.
	StatusLists [][]byte
}

// Result is what a check found. Everything from Number on is set only when
// the signature is right, and is then what was signed.
type Result struct {
	Valid   bool
	Outcome Outcome
	Reason  string // one sentence for the person who asks; always set
	Format  string // "json", "jwt", "png" or "pdf"

	Number          string
	ID              string
	Person          string
	Organisation    string
	Quiz            string
	Skills          []certificate.Skill
	CatalogTitle    string
	CatalogRevision string
	Statement       string // what is certified and what is not, as signed
	ValidFrom       time.Time
	ValidUntil      time.Time // zero if it does not expire
	Issuer          string    // DID
	Key             string    // the verification method that signed
	IssuerKnown     bool      // the issuer is among Options.Trusted
	StatusChecked   bool      // a status list in force said that it is not revoked, or is
}

// MaxFile is the largest file that VerifyFile reads, in bytes.
const MaxFile = 16 << 20

// VerifyFile checks a credential in any form that Issue gives: signed JSON, a
// token, a PNG badge or a PDF certificate. What it finds, good or bad, is the
// Result; an error means that it was called wrongly.
func VerifyFile(data []byte, o Options) (Result, error) {
	if o.Now.IsZero() {
		return Result{}, errors.New("credential: Options.Now is not set")
	}
	if len(data) > MaxFile {
		return Result{Outcome: Unreadable, Reason: fmt.Sprintf("The file is larger than %d MB.", MaxFile>>20)}, nil
	}
	var r Result
	var err error
	switch {
	case bytes.HasPrefix(data, []byte("%PDF-")):
		r.Format = "pdf"
		err = r.carrier(data, o, mediaPDF, DetachFromPDF, AttachToPDF)
	case bytes.HasPrefix(data, pngSignature):
		r.Format = "png"
		err = r.carrier(data, o, mediaPNG, UnbakePNG, BakePNG)
	default:
		_, err = r.text(data, o)
	}
	var why *finding
	switch {
	case err == nil:
		r.Valid, r.Outcome, r.Reason = true, Genuine, r.good()
	case errors.As(err, &why):
		r.Outcome, r.Reason = why.outcome, why.reason
	default:
		return Result{}, err
	}
	return r, nil
}

// finding is why a credential is not valid.
type finding struct {
	outcome Outcome
	reason  string
}

func (f *finding) Error() string { return f.reason }

func found(outcome Outcome, format string, args ...any) error {
	return &finding{outcome, fmt.Sprintf(format, args...)}
}

// good is the reason of a valid result.
func (r *Result) good() string {
	var b strings.Builder
	fmt.Fprintf(&b, "Genuine: certificate %s for %s, signed by %s", r.Number, r.Person, r.Organisation)
	if r.Number == "" {
		b.Reset()
		fmt.Fprintf(&b, "Genuine: %s, signed by %s", r.ID, r.Issuer)
	}
	if !r.ValidUntil.IsZero() {
		fmt.Fprintf(&b, ", valid through %s", r.ValidUntil.Format(time.DateOnly))
	}
	b.WriteString(".")
	if !r.IssuerKnown {
		fmt.Fprintf(&b, " Whose key this is was not checked: compare %s with the one that the organisation publishes.", r.Key)
	}
	if !r.StatusChecked {
		b.WriteString(" Whether it has been revoked was not checked.")
	}
	return b.String()
}

// carrier checks a file that carries a credential: the credential, that the
// file was this one before it went in, and that nothing else went in.
func (r *Result) carrier(data []byte, o Options, media string,
	detach func([]byte) (base, credential []byte, err error),
	attach func(base, credential []byte) ([]byte, error)) error {
	base, inner, err := detach(data)
	if err != nil {
		return found(Unreadable, "%s", sentence(err))
	}
	var whole Result
	badge, err := whole.text(inner, o)
	whole.Format = r.Format
	*r = whole
	if badge == nil {
		return err // not signed as it stands: nothing more to say
	}
	bound := slices.ContainsFunc(badge.RelatedResource, func(rr relatedResource) bool { return rr.MediaType == media })
	if !bound {
		return found(Altered, "The credential in this file is genuine, but was not issued for this %s: only the credential can be believed, not what is printed here.",
			strings.ToUpper(r.Format))
	}
	if !slices.Contains(badge.RelatedResource, relatedFile(media, base)) {
		return found(Altered, "Altered: what this %s shows is not what was certified. The credential inside is for certificate %s, %s.",
			strings.ToUpper(r.Format), badge.CertificateNumber, badge.person())
	}
	again, attachErr := attach(base, inner)
	if attachErr != nil || !bytes.Equal(again, data) {
		return found(Altered, "Altered: something was changed in this file after the certificate was issued.")
	}
	return err
}

// text checks signed JSON or a token. The badge is what was signed, nil if
// the signature is not right; then err says why.
func (r *Result) text(data []byte, o Options) (*openBadge, error) {
	trimmed := bytes.TrimLeft(data, " \t\r\n")
	switch {
	case bytes.HasPrefix(trimmed, []byte("{")):
		r.Format = "json"
		return r.json(data, o)
	case bytes.Count(data, []byte(".")) == 2 && !bytes.ContainsAny(data, " {}"):
		r.Format = "jwt"
		return r.token(data, o)
	}
	return nil, found(Unreadable, "This is not a certificate in a form that can be checked: a PDF, PNG, JSON or JWT file as it was issued.")
}

func (r *Result) json(data []byte, o Options) (*openBadge, error) {
	doc, err := parseSigned(data)
	if err != nil {
		return nil, found(Unreadable, "The credential cannot be read: %s", sentence(err))
	}
	var badge openBadge
	if err := json.Unmarshal(doc.unsecured, &badge); err != nil {
		return nil, found(Unreadable, "The credential is not an Open Badge: %s", sentence(err))
	}
	key, known, err := o.keyFor(badge.Issuer.ID, doc.proof.VerificationMethod)
	if err != nil {
		return nil, err
	}
	if !doc.verify(key.Public) {
		return nil, found(Altered, "Altered: the signature does not match what is written.")
	}
	created, err := time.Parse(time.RFC3339, doc.proof.Created)
	if err != nil {
		return nil, found(Unreadable, "The proof does not say when it was made.")
	}
	r.fill(badge, key, known)
	if doc.proof.Expires != "" {
		expires, err := time.Parse(time.RFC3339, doc.proof.Expires)
		if err != nil || o.Now.After(expires) {
			return &badge, found(Expired, "The proof expired on %s.", doc.proof.Expires)
		}
	}
	return &badge, r.judge(badge, key, created, o)
}

func (r *Result) token(data []byte, o Options) (*openBadge, error) {
	token, err := parseToken(data)
	if err != nil {
		return nil, found(Unreadable, "The token cannot be read: %s", sentence(err))
	}
	var badge openBadge
	if err := json.Unmarshal(token.payload, &badge); err != nil {
		return nil, found(Unreadable, "The credential is not an Open Badge: %s", sentence(err))
	}
	key, known, err := o.keyFor(badge.Issuer.ID, token.method)
	if err != nil {
		return nil, err
	}
	if !token.verify(key.Public) {
		return nil, found(Altered, "Altered: the signature does not match what is written.")
	}
	claims, err := token.claims()
	if err == nil {
		err = claims.check(badge)
	}
	if err != nil {
		return nil, found(Altered, "The token contradicts itself: %s", sentence(err))
	}
	r.fill(badge, key, known)
	return &badge, r.judge(badge, key, claims.made(), o)
}

// keyFor finds the key of a verification method that an issuer signs with.
func (o Options) keyFor(issuer, method string) (TrustedKey, bool, error) {
	did, _, _ := strings.Cut(method, "#")
	if did != issuer {
		return TrustedKey{}, false, found(Altered, "It says that %s issued it but is signed by %s.", orNobody(issuer), orNobody(did))
	}
	for _, t := range o.Trusted {
		if t.DID != issuer {
			continue
		}
		for _, k := range t.Keys {
			if k.ID == method {
				if k.Compromised {
					return TrustedKey{}, false, found(KeyRefused, "Signed with %s, a key that others may have: ask %s for a new certificate.", method, issuer)
				}
				return k, true, nil
			}
		}
		return TrustedKey{}, false, found(UnknownIssuer, "Signed with %s, which is not a key of %s.", method, issuer)
	}
	if len(o.Trusted) > 0 {
		return TrustedKey{}, false, found(UnknownIssuer, "Signed by %s, who is not among the trusted issuers.", orNobody(issuer))
	}
	if !strings.HasPrefix(issuer, didKeyPrefix) {
		return TrustedKey{}, false, found(UnknownIssuer, "Signed by %s: its DID document is needed to check the signature.", orNobody(issuer))
	}
	self, err := TrustDID(issuer)
	if err != nil || self.Keys[0].ID != method {
		return TrustedKey{}, false, found(Altered, "Its key %q is not a did:key.", method)
	}
	return self.Keys[0], false, nil
}

func orNobody(did string) string {
	if did == "" {
		return "nobody"
	}
	return did
}

// fill records what was signed.
func (r *Result) fill(b openBadge, key TrustedKey, known bool) {
	r.Number, r.ID, r.Person, r.Organisation = b.CertificateNumber, b.ID, b.person(), b.Issuer.Name
	r.Quiz, r.Skills, r.Statement = b.Subject.Achievement.Name, b.skills(), b.Subject.Achievement.Description
	r.CatalogTitle, r.CatalogRevision = b.CatalogTitle, b.CatalogRevision
	r.Issuer, r.Key, r.IssuerKnown = b.Issuer.ID, key.ID, known
	r.ValidFrom, _ = time.Parse(time.RFC3339, b.ValidFrom)
	if b.ValidUntil != "" {
		r.ValidUntil, _ = time.Parse(time.RFC3339, b.ValidUntil)
	}
}

// judge decides on a credential whose signature is right.
func (r *Result) judge(b openBadge, key TrustedKey, made time.Time, o Options) error {
	if !slices.Contains(b.Type, typeVC) || !slices.Contains(b.Type, typeOpenBadge) {
		return found(Unreadable, "What was signed is a %s, not a certificate.", strings.Join(b.Type, ", "))
	}
	if !key.Retired.IsZero() && made.After(key.Retired) {
		return found(KeyRefused, "Signed on %s with a key retired on %s.", made.Format(time.DateOnly), key.Retired.Format(time.DateOnly))
	}
	if r.ValidFrom.IsZero() || b.ValidUntil != "" && r.ValidUntil.IsZero() {
		return found(Unreadable, "Its dates cannot be read.")
	}
	if err := r.status(b, o); err != nil {
		return err
	}
	switch {
	case o.Now.Before(r.ValidFrom):
		return found(NotYet, "Not valid yet: its first day is %s.", r.ValidFrom.Format(time.DateOnly))
	case !r.ValidUntil.IsZero() && o.Now.After(r.ValidUntil):
		return found(Expired, "Expired: its last day was %s.", r.ValidUntil.Format(time.DateOnly))
	}
	return nil
}

// status looks the credential up in the status list that it names, if that is
// at hand, signed by the same issuer and still in force.
func (r *Result) status(b openBadge, o Options) error {
	if b.Status == nil {
		return nil
	}
	e := b.Status
	if e.Type != "BitstringStatusListEntry" || e.Purpose != "revocation" {
		return nil // not a kind of status that says anything about revocation
	}
	index, err := strconv.Atoi(e.Index)
	if err != nil {
		return found(Unreadable, "Its place in the status list, %q, is not a number.", e.Index)
	}
	for _, data := range o.StatusLists {
		list, bits, err := o.readStatusList(data)
		if err != nil || list.ID != e.List || !o.sameIssuer(list.issuer(), b.Issuer.ID) {
			continue // not the list in question, or not to be believed
		}
		revoked, err := bits.Get(index)
		if err != nil {
			continue
		}
		r.StatusChecked = true
		if revoked {
			return found(Revoked, "Revoked: so says the issuer's status list of %s.", list.ValidFrom)
		}
		return nil
	}
	return nil
}

// sameIssuer says whether two DIDs are one issuer: they are equal, or trusted
// as keys of one keyring. After a rotation, a did:key issuer's list is signed
// by its next key.
func (o Options) sameIssuer(a, b string) bool {
	if a == b {
		return true
	}
	ring := func(did string) string {
		for _, t := range o.Trusted {
			if t.DID == did {
				return t.Ring
			}
		}
		return ""
	}
	return ring(a) != "" && ring(a) == ring(b)
}

// issuer is the id of a status list's issuer.
func (l statusListCredential) issuer() string {
	var id string
	if json.Unmarshal(l.Issuer, &id) == nil {
		return id
	}
	var object struct {
		ID string `json:"id"`
	}
	if json.Unmarshal(l.Issuer, &object) == nil {
		return object.ID
	}
	return ""
}

// readStatusList checks and unpacks a signed status list.
func (o Options) readStatusList(data []byte) (statusListCredential, Bitstring, error) {
	var list statusListCredential
	doc, err := parseSigned(data)
	if err != nil {
		return list, nil, err
	}
	if err := json.Unmarshal(doc.unsecured, &list); err != nil {
		return list, nil, err
	}
	key, _, err := o.keyFor(list.issuer(), doc.proof.VerificationMethod)
	if err != nil {
		return list, nil, err
	}
	if !doc.verify(key.Public) {
		return list, nil, errors.New("status list: the signature does not match")
	}
	if !slices.Contains(list.Type, typeStatusList) || list.Subject.Purpose != "revocation" {
		return list, nil, errors.New("status list: not a list of revocations")
	}
	if created, err := time.Parse(time.RFC3339, doc.proof.Created); err != nil || !key.Retired.IsZero() && created.After(key.Retired) {
		return list, nil, errors.New("status list: signed with a retired key")
	}
	if list.ValidUntil != "" {
		if until, err := time.Parse(time.RFC3339, list.ValidUntil); err != nil || o.Now.After(until) {
			return list, nil, errors.New("status list: too old to rely on")
		}
	}
	bits, err := decodeBitstring(list.Subject.List)
	return list, bits, err
}

// sentence gives an error as a sentence.
func sentence(err error) string {
	text := strings.TrimSuffix(err.Error(), ".")
	if text == "" {
		return "unknown error."
	}
	return strings.ToUpper(text[:1]) + text[1:] + "."
}
