package credential

import (
	"crypto/ed25519"
	"encoding/json"
	"errors"
	"fmt"
	"net/url"
	"strings"
	"time"

	"github.com/mr-tron/base58"
)

// Multicodec prefixes of Ed25519 keys, from the multicodec table: 0xed01
// public key, 0x8026 private key seed (unsigned varints of 0xed and 0x1300).
var (
	codecPublic = [2]byte{0xed, 0x01}
	codecSecret = [2]byte{0x80, 0x26}
)

// encodeMultikey gives the Multikey text of a key: multibase base58btc ("z")
// of codec and key.
func encodeMultikey(codec [2]byte, key []byte) string {
	return "z" + base58.Encode(append(codec[:], key...))
}

// decodeMultikey reads what encodeMultikey wrote and nothing that merely
// decodes alike.
func decodeMultikey(codec [2]byte, text string) ([]byte, error) {
	if !strings.HasPrefix(text, "z") {
		return nil, errors.New("not a base58btc multibase value: it must begin with z")
	}
	if len(text) > 128 {
		return nil, errors.New("longer than any Ed25519 key")
	}
	raw, err := base58.Decode(text[1:])
	if err != nil {
		return nil, err
	}
	if len(raw) != 2+ed25519.PublicKeySize || raw[0] != codec[0] || raw[1] != codec[1] {
		return nil, errors.New("not an Ed25519 key")
	}
	return raw[2:], nil
}

// EncodePublicKey gives the Multikey text of an Ed25519 public key, "z6Mk…".
func EncodePublicKey(key ed25519.PublicKey) string { return encodeMultikey(codecPublic, key) }

// DecodePublicKey reads the Multikey text of an Ed25519 public key.
func DecodePublicKey(text string) (ed25519.PublicKey, error) {
	raw, err := decodeMultikey(codecPublic, text)
	if err != nil {
		return nil, fmt.Errorf("credential: public key %q: %w", text, err)
	}
	return raw, nil
}

const didKeyPrefix = "did:key:"

// didKey is the did:key of a public key.
func didKey(key ed25519.PublicKey) string { return didKeyPrefix + EncodePublicKey(key) }

// publicKeyOfDIDKey reads the key that a did:key is.
func publicKeyOfDIDKey(did string) (ed25519.PublicKey, error) {
	text, ok := strings.CutPrefix(did, didKeyPrefix)
	if !ok {
		return nil, fmt.Errorf("credential: %q is not a did:key", did)
	}
	return DecodePublicKey(text)
}

// WebDID gives the did:web for a site, such as
// "https://training.wexcombe.example" or a path below it, and the URL at
// which its DID document has to be served (W3C CCG did:web method).
func WebDID(site string) (did, documentURL string, err error) {
	u, err := url.Parse(strings.TrimSuffix(site, "/"))
	if err != nil {
		return "", "", fmt.Errorf("credential: site address %q: %w", site, err)
	}
	if u.Scheme != "https" || u.Hostname() == "" || u.User != nil || u.RawQuery != "" || u.Fragment != "" {
		return "", "", fmt.Errorf("credential: a did:web needs an address like https://training.example.org, not %q", site)
	}
	did = "did:web:" + u.Hostname()
	if u.Port() != "" {
		did += "%3A" + u.Port()
	}
	if u.EscapedPath() == "" {
		return did, site0(u) + "/.well-known/did.json", nil
	}
	return did + strings.ReplaceAll(u.EscapedPath(), "/", ":"), site0(u) + u.EscapedPath() + "/did.json", nil
}

func site0(u *url.URL) string { return u.Scheme + "://" + u.Host }

// TrustedKey is a key whose signatures are believed, and from when on not.
type TrustedKey struct {
	ID          string // the verification method: DID, "#", fragment
	Public      ed25519.PublicKey
	Retired     time.Time // zero while in use; proofs made later are refused
	Compromised bool      // all its proofs are refused
}

// TrustedIssuer is an issuer whose credentials are believed.
type TrustedIssuer struct {
	DID  string
	Keys []TrustedKey
	Ring string // equal and not empty for the DIDs of one keyring
}

// TrustDID believes a did:key, which is its own key.
func TrustDID(did string) (TrustedIssuer, error) {
	key, err := publicKeyOfDIDKey(did)
	if err != nil {
		return TrustedIssuer{}, err
	}
	return TrustedIssuer{DID: did, Keys: []TrustedKey{{ID: methodOfDIDKey(did), Public: key}}}, nil
}

// ParseTrust reads what a reader of certificates keeps of an issuer: a did:key
// as text, or a DID document.
func ParseTrust(text []byte) (TrustedIssuer, error) {
	trimmed := strings.TrimSpace(string(text))
	if strings.HasPrefix(trimmed, "did:") {
		return TrustDID(trimmed)
	}
	return TrustDocument(text)
}

// methodOfDIDKey is the verification method of a did:key: the DID with its
// own key as fragment.
func methodOfDIDKey(did string) string {
	return did + "#" + strings.TrimPrefix(did, didKeyPrefix)
}

// didDocument is the part of a DID document that concerns signing.
type didDocument struct {
	Context            []string             `json:"@context"`
	ID                 string               `json:"id"`
	VerificationMethod []verificationMethod `json:"verificationMethod"`
	AssertionMethod    []string             `json:"assertionMethod"`
}

// verificationMethod is a Multikey (W3C Controlled Identifiers).
type verificationMethod struct {
	ID                 string `json:"id"`
	Type               string `json:"type"`
	Controller         string `json:"controller"`
	PublicKeyMultibase string `json:"publicKeyMultibase"`
	Expires            string `json:"expires,omitempty"` // no proofs made after this
	Revoked            string `json:"revoked,omitempty"` // no proofs at all
}

// TrustDocument believes the issuer whose DID document this is. The reader
// vouches for where it came from.
func TrustDocument(document []byte) (TrustedIssuer, error) {
	var doc didDocument
	if err := json.Unmarshal(document, &doc); err != nil {
		return TrustedIssuer{}, fmt.Errorf("credential: DID document: %w", err)
	}
	if !strings.HasPrefix(doc.ID, "did:") {
		return TrustedIssuer{}, fmt.Errorf("credential: DID document: its id %q is not a DID", doc.ID)
	}
	issuer := TrustedIssuer{DID: doc.ID}
	for _, m := range doc.VerificationMethod {
		if m.Type != "Multikey" || m.Controller != doc.ID || !strings.HasPrefix(m.ID, doc.ID+"#") {
			continue // not a key of ours to judge by
		}
		key, err := DecodePublicKey(m.PublicKeyMultibase)
		if err != nil {
			continue // another kind of key
		}
		trusted := TrustedKey{ID: m.ID, Public: key, Compromised: m.Revoked != ""}
		asserts := false
		for _, id := range doc.AssertionMethod {
			asserts = asserts || id == m.ID
		}
		if !asserts && !trusted.Compromised {
			continue // not meant for signing credentials
		}
		if m.Expires != "" {
			if trusted.Retired, err = time.Parse(time.RFC3339, m.Expires); err != nil {
				return TrustedIssuer{}, fmt.Errorf("credential: DID document: key %s: expires: %w", m.ID, err)
			}
		}
		issuer.Keys = append(issuer.Keys, trusted)
	}
	if len(issuer.Keys) == 0 {
		return TrustedIssuer{}, fmt.Errorf("credential: DID document of %s has no Ed25519 Multikey for assertionMethod", doc.ID)
	}
	return issuer, nil
}
