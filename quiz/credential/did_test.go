package credential

import (
	"bytes"
	"crypto/ed25519"
	"strings"
	"testing"
)

// W3C CCG "The did:key Method", test vectors for Ed25519: the seed is 32
// bytes of which the last is 0, 1, 2.
func TestDIDKeyVectors(t *testing.T) {
	for last, want := range []string{
		"did:key:z6MkiTBz1ymuepAQ4HEHYSF1H8quG5GLVVQR3djdX3mDooWp",
		"did:key:z6MkjchhfUsD6mmvni8mCdXHw216Xrm9bQe2mBH1P5RDjVJG",
		"did:key:z6MknGc3ocHs3zdPiJbnaaqDi58NGb4pk1Sp9WxWufuXSdxf",
	} {
		seed := make([]byte, ed25519.SeedSize)
		seed[31] = byte(last)
		public := ed25519.NewKeyFromSeed(seed).Public().(ed25519.PublicKey)
		if got := didKey(public); got != want {
			t.Errorf("seed %d: %s, want %s", last, got, want)
		}
		back, err := publicKeyOfDIDKey(want)
		if err != nil || !back.Equal(public) {
			t.Errorf("seed %d: read back %x, %v", last, back, err)
		}
	}
}

func TestKeysThatAreRefused(t *testing.T) {
	for _, text := range []string{
		"", "z", "6MkrJVnaZkeFzdQyMZu1cgjg7k1pZZ6pvBQ7XJPt4swbTQ2", // no multibase prefix
		"z3u2en7t5LR2WtQH5PfFqMqwVHBeXouLzo6haApm8XHqvjxq",  // a secret key
		"z6MkrJVnaZkeFzdQyMZu1cgjg7k1pZZ6pvBQ7XJPt4swbTQ",   // cut short
		"z6MkrJVnaZkeFzdQyMZu1cgjg7k1pZZ6pvBQ7XJPt4swbTQ20", // 0 is not base58
		"zDnaerDaTF5BXEavCrfRZEk316dpbLsfPDZ3WJ5hRTPFU2169", // P-256, did:key specification
		"u7QEbWoLZmMkvJXVwqtFW2f1TUUZr3vD3vwkTTwr0rP6Zgw",   // base64url
		"z" + strings.Repeat("6", 4000),
	} {
		if _, err := DecodePublicKey(text); err == nil {
			t.Errorf("%.60q: want an error", text)
		}
	}
}

// W3C CCG "did:web Method Specification", section 2.5.2 Read (Resolve).
func TestWebDID(t *testing.T) {
	for _, tt := range []struct{ site, did, document string }{
		{"https://w3c-ccg.github.io", "did:web:w3c-ccg.github.io", "https://w3c-ccg.github.io/.well-known/did.json"},
		{"https://w3c-ccg.github.io/user/alice", "did:web:w3c-ccg.github.io:user:alice", "https://w3c-ccg.github.io/user/alice/did.json"},
		{"https://example.com:3000/user/alice/", "did:web:example.com%3A3000:user:alice", "https://example.com:3000/user/alice/did.json"},
	} {
		did, document, err := WebDID(tt.site)
		if err != nil || did != tt.did || document != tt.document {
			t.Errorf("%s: got %s, %s, %v", tt.site, did, document, err)
		}
	}
	for _, site := range []string{"http://plain.example", "training.example", "https://", "https://user@host.example", "https://host.example/?x", "://"} {
		if _, _, err := WebDID(site); err == nil {
			t.Errorf("%q: want an error", site)
		}
	}
}

// A did:web issuer is checked with its DID document, before and after a
// rotation, and after a key was compromised.
func TestWebIssuerAcrossRotation(t *testing.T) {
	ring := testRing(t)
	did, _, err := WebDID("https://training.wexcombe.example")
	if err != nil {
		t.Fatal(err)
	}
	if err := ring.UseWebDID(did); err != nil {
		t.Fatal(err)
	}
	before := testBundle(t, testSigner(t, ring))
	if r := verify(t, before.JSON, Options{Now: issuedAt}); r.Outcome != UnknownIssuer || !strings.Contains(r.Reason, "DID document is needed") {
		t.Errorf("without a document: %+v", r)
	}
	trust := func() []TrustedIssuer {
		t.Helper()
		document, err := ring.DIDDocument()
		if err != nil {
			t.Fatal(err)
		}
		issuer, err := TrustDocument(document)
		if err != nil {
			t.Fatalf("%v\n%s", err, document)
		}
		return []TrustedIssuer{issuer}
	}
	expect := func(when string, b Bundle, want Outcome) {
		t.Helper()
		for format, data := range b.forms() {
			for source, trusted := range map[string][]TrustedIssuer{"document": trust(), "keyring": ring.Trusted()} {
				if r := verify(t, data, Options{Now: issuedAt.AddDate(0, 3, 0), Trusted: trusted}); r.Outcome != want {
					t.Errorf("%s, %s by %s: %s (%s), want %s", when, format, source, r.Outcome, r.Reason, want)
				}
			}
		}
	}
	expect("before rotation", before, Genuine)

	old := ring.Keys()[0].ID()
	stolen := testSigner(t, ring)
	if err := ring.Rotate(issuedAt.AddDate(0, 1, 0), newRandom(2)); err != nil {
		t.Fatal(err)
	}
	after := testBundle(t, testSigner(t, ring))
	expect("the old proof after rotation", before, Genuine)
	expect("a new proof after rotation", after, Genuine)

	late, err := stolen.Issue(testCertificate(), IssueOptions{Now: issuedAt.AddDate(0, 2, 0)})
	if err != nil {
		t.Fatal(err)
	}
	for format, data := range map[string][]byte{"json": late.JSON, "jwt": late.JWT} {
		if r := verify(t, data, Options{Now: issuedAt.AddDate(0, 3, 0), Trusted: ring.Trusted()}); r.Outcome != KeyRefused {
			t.Errorf("%s made with the retired key: %+v", format, r)
		}
	}

	if err := ring.Compromise(old, issuedAt.AddDate(0, 4, 0)); err != nil {
		t.Fatal(err)
	}
	expect("the old proof after the key was lost to others", before, KeyRefused)
	expect("the new key's proof then", after, Genuine)
}

func TestDocumentsThatAreNotTrusted(t *testing.T) {
	ring := testRing(t)
	if err := ring.UseWebDID("did:web:training.wexcombe.example"); err != nil {
		t.Fatal(err)
	}
	document, err := ring.DIDDocument()
	if err != nil {
		t.Fatal(err)
	}
	replace := func(old, with string) []byte { return bytes.ReplaceAll(document, []byte(old), []byte(with)) }
	for name, data := range map[string][]byte{
		"not JSON":                     []byte("x"),
		"no DID":                       []byte(`{"id":"https://training.wexcombe.example"}`),
		"no keys":                      []byte(`{"id":"did:web:x.example"}`),
		"key of somebody else":         replace(`"controller": "did:web:training`, `"controller": "did:web:other`),
		"key not for assertion":        replace(`"assertionMethod"`, `"authentication"`),
		"kind of key not supported":    replace("Multikey", "JsonWebKey"),
		"date of expiry not a date":    replace(`"type": "Multikey"`, `"type": "Multikey", "expires": "soon"`),
		"public key that is not a key": replace("publicKeyMultibase\": \"z6Mk", "publicKeyMultibase\": \"z7Mk"),
	} {
		if issuer, err := TrustDocument(data); err == nil {
			t.Errorf("%s: got %+v, want an error", name, issuer)
		}
	}
	if err := ring.UseWebDID("did:key:z6Mk"); err == nil {
		t.Error("a did:key as did:web: want an error")
	}
	if _, err := testRing(t).DIDDocument(); err == nil {
		t.Error("a document for a did:key: want an error")
	}
	if _, err := TrustDID("did:web:x.example"); err == nil {
		t.Error("TrustDID of a did:web: want an error")
	}
}

func TestParseTrust(t *testing.T) {
	ring := testRing(t)
	did := testSigner(t, ring).DID
	if issuer, err := ParseTrust([]byte(did + "\n")); err != nil || issuer.DID != did {
		t.Errorf("a did:key: %+v, %v", issuer, err)
	}
	if err := ring.UseWebDID("did:web:training.wexcombe.example"); err != nil {
		t.Fatal(err)
	}
	document, err := ring.DIDDocument()
	if err != nil {
		t.Fatal(err)
	}
	if issuer, err := ParseTrust(document); err != nil || issuer.DID != "did:web:training.wexcombe.example" {
		t.Errorf("a document: %+v, %v", issuer, err)
	}
	if _, err := ParseTrust([]byte("hello")); err == nil {
		t.Error("neither: want an error")
	}
}
