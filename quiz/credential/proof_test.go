package credential

import (
	"crypto/ed25519"
	"encoding/hex"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/mr-tron/base58"
)

// RFC 8032, section 7.1, Ed25519 test vectors 1 to 3: secret key, public key,
// message, signature.
func TestEd25519VectorsOfRFC8032(t *testing.T) {
	vectors := []struct{ name, secret, public, message, signature string }{
		{"TEST 1",
			"9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
			"d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
			"",
			"e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b"},
		{"TEST 2",
			"4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
			"3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
			"72",
			"92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"},
		{"TEST 3",
			"c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
			"fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
			"af82",
			"6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a"},
	}
	for _, v := range vectors {
		t.Run(v.name, func(t *testing.T) {
			key := ed25519.NewKeyFromSeed(unhex(t, v.secret))
			if got := hex.EncodeToString(key.Public().(ed25519.PublicKey)); got != v.public {
				t.Errorf("public key %s, want %s", got, v.public)
			}
			if got := hex.EncodeToString(ed25519.Sign(key, unhex(t, v.message))); got != v.signature {
				t.Errorf("signature %s, want %s", got, v.signature)
			}
		})
	}
}

func unhex(t *testing.T, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(s)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// W3C Recommendation "Data Integrity EdDSA Cryptosuites v1.0" (vc-di-eddsa),
// appendix B.3 "Representation: eddsa-jcs-2022", examples 29 to 39.
const (
	w3cPublicKey  = "z6MkrJVnaZkeFzdQyMZu1cgjg7k1pZZ6pvBQ7XJPt4swbTQ2"
	w3cSecretKey  = "z3u2en7t5LR2WtQH5PfFqMqwVHBeXouLzo6haApm8XHqvjxq"
	w3cMethod     = "did:key:z6MkrJVnaZkeFzdQyMZu1cgjg7k1pZZ6pvBQ7XJPt4swbTQ2#z6MkrJVnaZkeFzdQyMZu1cgjg7k1pZZ6pvBQ7XJPt4swbTQ2"
	w3cProofValue = "z2HnFSSPPBzR36zdDgK8PbEHeXbR56YF24jwMpt3R1eHXQzJDMWS93FCzpvJpwTWd3GAVFuUfjoJdcnTMuVor51aX"
	w3cSignature  = "407cd12654b33d718ecbb99179a1506daaa849450bf3fc523cce3e1c96f8b80351da3f253d725c6f00b07c9e5448d50b3ef78012b9ab54255116d069c6dd2808"

	w3cUnsecured = `{
  "@context": [
    "https://www.w3.org/ns/credentials/v2",
    "https://www.w3.org/ns/credentials/examples/v2"
  ],
  "id": "urn:uuid:58172aac-d8ba-11ed-83dd-0b3aef56cc33",
  "type": ["VerifiableCredential", "AlumniCredential"],
  "name": "Alumni Credential",
  "description": "A minimum viable example of an Alumni Credential.",
  "issuer": "https://vc.example/issuers/5678",
  "validFrom": "2023-01-01T00:00:00Z",
  "credentialSubject": {
    "id": "did:example:abcdefgh",
    "alumniOf": "The School of Examples"
  }
}`
	w3cCanonicalDocument = `{"@context":["https://www.w3.org/ns/credentials/v2","https://www.w3.org/ns/credentials/examples/v2"],"credentialSubject":{"alumniOf":"The School of Examples","id":"did:example:abcdefgh"},"description":"A minimum viable example of an Alumni Credential.","id":"urn:uuid:58172aac-d8ba-11ed-83dd-0b3aef56cc33","issuer":"https://vc.example/issuers/5678","name":"Alumni Credential","type":["VerifiableCredential","AlumniCredential"],"validFrom":"2023-01-01T00:00:00Z"}`
	w3cCanonicalConfig   = `{"@context":["https://www.w3.org/ns/credentials/v2","https://www.w3.org/ns/credentials/examples/v2"],"created":"2023-02-24T23:36:38Z","cryptosuite":"eddsa-jcs-2022","proofPurpose":"assertionMethod","type":"DataIntegrityProof","verificationMethod":"did:key:z6MkrJVnaZkeFzdQyMZu1cgjg7k1pZZ6pvBQ7XJPt4swbTQ2#z6MkrJVnaZkeFzdQyMZu1cgjg7k1pZZ6pvBQ7XJPt4swbTQ2"}`
	// Proof options hash, then document hash.
	w3cHashData = "66ab154f5c2890a140cb8388a22a160454f80575f6eae09e5a097cabe539a1db" +
		"59b7cb6251b8991add1ce0bc83107e3db9dbbab5bd2c28f687db1a03abc92f19"
)

func w3cKey(t *testing.T) ed25519.PrivateKey {
	t.Helper()
	seed, err := decodeMultikey(codecSecret, w3cSecretKey)
	if err != nil {
		t.Fatal(err)
	}
	return ed25519.NewKeyFromSeed(seed)
}

func TestVectorOfVCDIEdDSA(t *testing.T) {
	key := w3cKey(t)
	if got := EncodePublicKey(key.Public().(ed25519.PublicKey)); got != w3cPublicKey {
		t.Errorf("public key %s, want %s", got, w3cPublicKey)
	}
	created := time.Date(2023, 2, 24, 23, 36, 38, 0, time.UTC)
	signed, err := addProof([]byte(w3cUnsecured), key, w3cMethod, created)
	if err != nil {
		t.Fatal(err)
	}
	doc, err := parseSigned(signed)
	if err != nil {
		t.Fatal(err)
	}
	if got := string(doc.unsecured); got != w3cCanonicalDocument {
		t.Errorf("canonical document\n got %s\nwant %s", got, w3cCanonicalDocument)
	}
	if got := string(doc.config); got != w3cCanonicalConfig {
		t.Errorf("canonical proof options\n got %s\nwant %s", got, w3cCanonicalConfig)
	}
	if got := hex.EncodeToString(hashData(doc.config, doc.unsecured)); got != w3cHashData {
		t.Errorf("hash data %s, want %s", got, w3cHashData)
	}
	if got := hex.EncodeToString(doc.signature); got != w3cSignature {
		t.Errorf("signature %s, want %s", got, w3cSignature)
	}
	if doc.proof.ProofValue != w3cProofValue {
		t.Errorf("proofValue %s, want %s", doc.proof.ProofValue, w3cProofValue)
	}
}

// The signed document as printed in the Recommendation verifies, and only
// with the key that signed it.
func TestVerifyTheSignedDocumentOfVCDIEdDSA(t *testing.T) {
	printed := strings.TrimSuffix(w3cUnsecured, "\n}") + `,
  "proof": {
    "type": "DataIntegrityProof",
    "cryptosuite": "eddsa-jcs-2022",
    "created": "2023-02-24T23:36:38Z",
    "verificationMethod": "` + w3cMethod + `",
    "proofPurpose": "assertionMethod",
    "@context": [
      "https://www.w3.org/ns/credentials/v2",
      "https://www.w3.org/ns/credentials/examples/v2"
    ],
    "proofValue": "` + w3cProofValue + `"
  }
}`
	doc, err := parseSigned([]byte(printed))
	if err != nil {
		t.Fatal(err)
	}
	public, err := DecodePublicKey(w3cPublicKey)
	if err != nil {
		t.Fatal(err)
	}
	if !doc.verify(public) {
		t.Error("the published document does not verify")
	}
	other := ed25519.NewKeyFromSeed(make([]byte, 32)).Public().(ed25519.PublicKey)
	if doc.verify(other) {
		t.Error("the published document verifies with another key")
	}
}

func TestProofsThatAreRefused(t *testing.T) {
	signed, err := addProof([]byte(w3cUnsecured), w3cKey(t), w3cMethod, time.Unix(1700000000, 0))
	if err != nil {
		t.Fatal(err)
	}
	replace := func(old, new string) string {
		changed := strings.Replace(string(signed), old, new, 1)
		if changed == string(signed) {
			t.Fatalf("nothing to replace: %s", old)
		}
		return changed
	}
	tests := []struct{ name, text, want string }{
		{"not JSON", "certificate", "not I-JSON"},
		{"duplicate name", replace(`"name":`, `"name":"Another","name":`), "not I-JSON"},
		{"no proof", `{"name":"x"}`, "nobody signed it"},
		{"two proofs", replace(`"proof":{`, `"proof":[{},{`) + "]}", "not I-JSON"},
		{"another suite", replace("eddsa-jcs-2022", "eddsa-rdfc-2022"), "not supported"},
		{"another purpose", replace("assertionMethod", "authentication"), "purpose"},
		{"context added", replace(`"credentialSubject"`, `"x":1,"credentialSubject"`), ""},
		{"signature of the wrong length", replace(`"proofValue":"z`, `"proofValue":"z1`), "proofValue"},
		{"chained", replace(`"proofValue"`, `"previousProof":"urn:x","proofValue"`), "chained"},
		{"context gained", replace(`credentials/v2"`, `credentials/v2","https://evil.example/"`), "@context"},
		{"array", "[]", "not a JSON object"},
		{"deep", strings.Repeat("[", 1000) + strings.Repeat("]", 1000), "deeper"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			doc, err := parseSigned([]byte(tt.text))
			if err == nil {
				if doc.verify(w3cKey(t).Public().(ed25519.PublicKey)) {
					t.Fatal("it verifies")
				}
				return
			}
			if !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %q lacks %q", err, tt.want)
			}
		})
	}
}

// A proof may have an end of its own (vc-data-integrity, section 2.1).
func TestProofThatExpires(t *testing.T) {
	ring := testRing(t)
	s := testSigner(t, ring)
	members, err := objectMembers(testBundle(t, s).JSON)
	if err != nil {
		t.Fatal(err)
	}
	proof, err := objectMembers(members["proof"])
	if err != nil {
		t.Fatal(err)
	}
	delete(members, "proof")
	delete(proof, "proofValue")
	proof["expires"] = json.RawMessage(`"2031-06-01T00:00:00Z"`)
	config, err := canonicalOf(proof)
	if err != nil {
		t.Fatal(err)
	}
	document, err := canonicalOf(members)
	if err != nil {
		t.Fatal(err)
	}
	value := "z" + base58.Encode(ed25519.Sign(s.key, hashData(config, document)))
	if proof["proofValue"], err = json.Marshal(value); err != nil {
		t.Fatal(err)
	}
	if members["proof"], err = json.Marshal(proof); err != nil {
		t.Fatal(err)
	}
	signed, err := json.Marshal(members)
	if err != nil {
		t.Fatal(err)
	}
	for day, want := range map[string]Outcome{"2031-05-31": Genuine, "2031-06-02": Expired} {
		now, err := time.Parse(time.DateOnly, day)
		if err != nil {
			t.Fatal(err)
		}
		if r := verify(t, signed, Options{Now: now, Trusted: ring.Trusted()}); r.Outcome != want {
			t.Errorf("%s: %s: %s; want %s", day, r.Outcome, r.Reason, want)
		}
	}
}
