package credential

import (
	"crypto/ed25519"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
)

// Key is one signing key of an organisation.
type Key struct {
	Public      ed25519.PublicKey
	Created     time.Time
	Retired     time.Time // zero for the key in use
	Compromised bool
	secret      ed25519.PrivateKey // nil when locked or retired
	sealed      string             // the secret encrypted by passphrase
}

// ID is the key's Multikey text, "z6Mk…".
func (k Key) ID() string { return EncodePublicKey(k.Public) }

// Keyring holds the keys that an organisation signs with: one in use and
// those retired, whose proofs stay valid. The zero value is not usable; start
// with NewKeyring or LoadKeyring. A Keyring is not safe for concurrent use;
// the Signers and TrustedIssuers that it gives are.
type Keyring struct {
	keys     []Key  // in order of creation; the last is in use
	web      string // the did:web to sign as; empty to sign as the key's did:key
	backedUp time.Time
	pass     []byte // passphrase to seal new keys with; nil to store them in clear
}

// NewKeyring makes a keyring with one new key. Randomness is crypto/rand.Reader
// but for tests.
func NewKeyring(now time.Time, random io.Reader) (*Keyring, error) {
	r := &Keyring{}
	return r, r.Rotate(now, random)
}

// Rotate retires the key in use and makes a new one. Proofs made until now
// stay valid; the retired secret is destroyed, as nothing needs it again.
func (r *Keyring) Rotate(now time.Time, random io.Reader) error {
	if random == nil {
		return errors.New("credential: no source of randomness")
	}
	seed := make([]byte, ed25519.SeedSize)
	if _, err := io.ReadFull(random, seed); err != nil {
		return fmt.Errorf("credential: making a key: %w", err)
	}
	secret := ed25519.NewKeyFromSeed(seed)
	if n := len(r.keys); n > 0 {
		last := &r.keys[n-1]
		if now.Before(last.Created) {
			return fmt.Errorf("credential: rotating at %s, before the key in use was made", now.Format(time.RFC3339))
		}
		last.retire(now)
	}
	r.keys = append(r.keys, Key{Public: secret.Public().(ed25519.PublicKey), Created: now.UTC().Truncate(time.Second), secret: secret})
	return nil
}

func (k *Key) retire(now time.Time) {
	if k.Retired.IsZero() {
		k.Retired = now.UTC().Truncate(time.Second)
	}
	clear(k.secret)
	k.secret, k.sealed = nil, ""
}

// Compromise marks a key as known to others: every proof made with it is
// refused from now on, as nobody can tell who made it. Compromising the key
// in use leaves the ring without one until Rotate.
func (r *Keyring) Compromise(id string, now time.Time) error {
	for i := range r.keys {
		if r.keys[i].ID() == id {
			r.keys[i].Compromised = true
			r.keys[i].retire(now)
			return nil
		}
	}
	return fmt.Errorf("credential: no key %s in the keyring", id)
}

// UseWebDID makes the ring sign as a did:web (see WebDID), so that the issuer
// stays the same when keys change. Credentials already issued keep theirs.
func (r *Keyring) UseWebDID(did string) error {
	if !strings.HasPrefix(did, "did:web:") || strings.ContainsAny(did, "# ?/") {
		return fmt.Errorf("credential: %q is not a did:web", did)
	}
	r.web = did
	return nil
}

// Keys lists the keys, oldest first, without their secrets.
func (r *Keyring) Keys() []Key {
	keys := make([]Key, len(r.keys))
	for i, k := range r.keys {
		k.secret, k.sealed = nil, ""
		keys[i] = k
	}
	return keys
}

// String names the key in use and never prints a secret.
func (r *Keyring) String() string {
	return fmt.Sprintf("keyring of %d keys, %s in use", len(r.keys), r.keys[len(r.keys)-1].ID())
}

// Format prints String for every verb.
func (r *Keyring) Format(f fmt.State, _ rune) { _, _ = io.WriteString(f, r.String()) }

// method gives the DID and the verification method that a key signs as.
func (r *Keyring) method(k Key) (did, method string) {
	if r.web != "" {
		return r.web, r.web + "#" + k.ID()
	}
	did = didKey(k.Public)
	return did, methodOfDIDKey(did)
}

// Signer gives what issues credentials with the key in use.
func (r *Keyring) Signer() (Signer, error) {
	k := r.keys[len(r.keys)-1]
	switch {
	case !k.Retired.IsZero():
		return Signer{}, errors.New("credential: the keyring has no key in use: rotate it")
	case k.secret == nil:
		return Signer{}, errors.New("credential: the keyring is locked: it needs its passphrase")
	}
	s := Signer{key: slices.Clone(k.secret)} // Rotate wipes the ring's own
	s.DID, s.Method = r.method(k)
	return s, nil
}

// Trusted gives the issuers that the ring has signed as, for Options.Trusted:
// each key as its own did:key, and all of them as the did:web if there is one.
func (r *Keyring) Trusted() []TrustedIssuer {
	var issuers []TrustedIssuer
	ring := r.keys[0].ID()
	web := TrustedIssuer{DID: r.web, Ring: ring}
	for _, k := range r.keys {
		did := didKey(k.Public)
		trusted := TrustedKey{ID: methodOfDIDKey(did), Public: k.Public, Retired: k.Retired, Compromised: k.Compromised}
		issuers = append(issuers, TrustedIssuer{DID: did, Keys: []TrustedKey{trusted}, Ring: ring})
		trusted.ID = r.web + "#" + k.ID()
		web.Keys = append(web.Keys, trusted)
	}
	if r.web != "" {
		issuers = append(issuers, web)
	}
	return issuers
}

// DIDDocument gives the document to serve for the ring's did:web. Retired
// keys stay in it with the day from which they sign no more; compromised ones
// are revoked.
func (r *Keyring) DIDDocument() ([]byte, error) {
	if r.web == "" {
		return nil, errors.New("credential: the keyring signs as a did:key, which needs no document")
	}
	doc := didDocument{
		Context: []string{"https://www.w3.org/ns/did/v1", "https://w3id.org/security/multikey/v1"},
		ID:      r.web,
	}
	for _, k := range r.keys {
		_, method := r.method(k)
		m := verificationMethod{ID: method, Type: "Multikey", Controller: r.web, PublicKeyMultibase: k.ID()}
		switch {
		case k.Compromised:
			m.Revoked = k.Retired.Format(time.RFC3339)
		case !k.Retired.IsZero():
			m.Expires = k.Retired.Format(time.RFC3339)
		}
		doc.VerificationMethod = append(doc.VerificationMethod, m)
		if !k.Compromised {
			doc.AssertionMethod = append(doc.AssertionMethod, method)
		}
	}
	out, err := json.MarshalIndent(doc, "", "  ")
	return append(out, '\n'), err
}

// MarkBackedUp records that a copy of the keyring file was put away.
func (r *Keyring) MarkBackedUp(now time.Time) { r.backedUp = now.UTC().Truncate(time.Second) }

// staleKey is the age at which replacing a key is recommended (common
// practice, no source).
const staleKey = 2 * 365 * 24 * time.Hour

// Warnings lists what should be seen to, in sentences for an administrator.
func (r *Keyring) Warnings(now time.Time) []string {
	var warnings []string
	last := r.keys[len(r.keys)-1]
	switch {
	case r.backedUp.IsZero():
		warnings = append(warnings, "The signing keys were never backed up. If this file is lost, no certificate can be "+
			"issued or revoked as the same issuer again. Put a copy away, not beside the database backup.")
	case r.backedUp.Before(last.Created):
		warnings = append(warnings, fmt.Sprintf("The signing key of %s is newer than the last backup of %s. Put a copy of the file away.",
			last.Created.Format(time.DateOnly), r.backedUp.Format(time.DateOnly)))
	}
	if last.Retired.IsZero() && r.pass == nil && last.sealed == "" {
		warnings = append(warnings, "The signing key is stored without a passphrase: whoever reads the file can sign "+
			"certificates. Only its file mode protects it.")
	}
	if last.Retired.IsZero() && now.Sub(last.Created) > staleKey {
		warnings = append(warnings, fmt.Sprintf("The signing key dates from %s. Rotate it; certificates issued so far stay valid.",
			last.Created.Format(time.DateOnly)))
	}
	return warnings
}
