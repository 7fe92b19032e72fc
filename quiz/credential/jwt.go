package credential

import (
	"crypto/ed25519"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	jose "github.com/go-jose/go-jose/v4"
)

// tokenClaims are the registered claims that Open Badges 3.0 asks of a
// VC-JWT, beside the members of the credential.
type tokenClaims struct {
	Issuer    string `json:"iss"`
	ID        string `json:"jti"`
	NotBefore int64  `json:"nbf"`
	IssuedAt  int64  `json:"iat,omitempty"` // when it was signed
	Subject   string `json:"sub,omitempty"`
	Expires   int64  `json:"exp,omitempty"`
}

// signToken gives a credential as a compact JWS (Open Badges 3.0, JSON Web
// Token Proof Format; W3C vc-jose-cose): the payload is the credential with
// the registered claims among its members, the header has alg, kid and jwk.
func (s Signer) signToken(document []byte, id, subject, from, until string, now time.Time) ([]byte, error) {
	members, err := objectMembers(document)
	if err != nil {
		return nil, err
	}
	claims := tokenClaims{Issuer: s.DID, ID: id, Subject: subject, IssuedAt: now.Unix()}
	nbf, err := time.Parse(time.RFC3339, from)
	if err != nil {
		return nil, err
	}
	claims.NotBefore = nbf.Unix()
	if until != "" {
		exp, err := time.Parse(time.RFC3339, until)
		if err != nil {
			return nil, err
		}
		claims.Expires = exp.Unix()
	}
	registered, err := json.Marshal(claims)
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(registered, &members); err != nil {
		return nil, err
	}
	payload, err := canonicalOf(members)
	if err != nil {
		return nil, err
	}
	options := (&jose.SignerOptions{EmbedJWK: true}).WithHeader("kid", s.Method)
	signer, err := jose.NewSigner(jose.SigningKey{Algorithm: jose.EdDSA,
		Key: jose.JSONWebKey{Key: s.key, KeyID: s.Method}}, options)
	if err != nil {
		return nil, fmt.Errorf("credential: token: %w", err)
	}
	object, err := signer.Sign(payload)
	if err != nil {
		return nil, fmt.Errorf("credential: token: %w", err)
	}
	compact, err := object.CompactSerialize()
	return []byte(compact), err
}

// signedToken is a token taken apart for checking.
type signedToken struct {
	jws     *jose.JSONWebSignature
	method  string // kid: the verification method
	payload []byte // canonical JSON, not yet to be believed
}

// parseToken takes a compact JWS apart. Encodings other than the one that
// signing writes are refused: base64url has several spellings of the same
// bytes, and each bit of the file is to count.
func parseToken(data []byte) (*signedToken, error) {
	if len(data) > maxCredential {
		return nil, fmt.Errorf("larger than %d bytes", maxCredential)
	}
	text := string(data)
	jws, err := jose.ParseSignedCompact(text, []jose.SignatureAlgorithm{jose.EdDSA})
	if err != nil {
		return nil, fmt.Errorf("not a token signed with EdDSA: %w", err)
	}
	again, err := jws.CompactSerialize()
	if err != nil || again != text {
		return nil, errors.New("its base64url encoding is not the canonical one")
	}
	header := jws.Signatures[0].Protected
	for name := range header.ExtraHeaders {
		if name != "typ" {
			return nil, fmt.Errorf("header %q is not supported", name)
		}
	}
	t := &signedToken{jws: jws, method: header.KeyID, payload: jws.UnsafePayloadWithoutVerification()}
	if t.method == "" {
		return nil, errors.New("it does not name its key (kid)")
	}
	if t.payload, err = canonical(t.payload); err != nil {
		return nil, err
	}
	if jwk := header.JSONWebKey; jwk != nil {
		if _, ok := jwk.Key.(ed25519.PublicKey); !ok {
			return nil, errors.New("its jwk is not an Ed25519 public key")
		}
	}
	return t, nil
}

// verify checks the signature with key, and that a key named in the header
// is this one.
func (t *signedToken) verify(key ed25519.PublicKey) bool {
	if jwk := t.jws.Signatures[0].Protected.JSONWebKey; jwk != nil {
		if named, ok := jwk.Key.(ed25519.PublicKey); !ok || !named.Equal(key) {
			return false
		}
	}
	_, err := t.jws.Verify(key)
	return err == nil
}

// made is when the token was signed: what it says, else its first day.
func (c tokenClaims) made() time.Time {
	if c.IssuedAt != 0 {
		return time.Unix(c.IssuedAt, 0).UTC()
	}
	return time.Unix(c.NotBefore, 0).UTC()
}

// claims reads the registered claims.
func (t *signedToken) claims() (tokenClaims, error) {
	var c tokenClaims
	if err := json.Unmarshal(t.payload, &c); err != nil {
		return c, fmt.Errorf("its claims: %w", err)
	}
	return c, nil
}

// check says how the claims contradict the credential (Open Badges 3.0,
// Verify a Credential VC-JWT Signature).
func (c tokenClaims) check(b openBadge) error {
	from, err := time.Parse(time.RFC3339, b.ValidFrom)
	if err != nil {
		return fmt.Errorf("validFrom: %w", err)
	}
	switch {
	case c.Issuer != b.Issuer.ID:
		return fmt.Errorf("iss %q is not the credential's issuer %q", c.Issuer, b.Issuer.ID)
	case c.ID != b.ID:
		return fmt.Errorf("jti %q is not the credential's id %q", c.ID, b.ID)
	case c.Subject != b.Subject.ID:
		return fmt.Errorf("sub %q is not the credential's subject %q", c.Subject, b.Subject.ID)
	case c.NotBefore != from.Unix():
		return errors.New("nbf is not the credential's validFrom")
	}
	if b.ValidUntil == "" {
		if c.Expires != 0 {
			return errors.New("exp without validUntil in the credential")
		}
		return nil
	}
	until, err := time.Parse(time.RFC3339, b.ValidUntil)
	if err != nil {
		return fmt.Errorf("validUntil: %w", err)
	}
	if c.Expires != until.Unix() {
		return errors.New("exp is not the credential's validUntil")
	}
	return nil
}
