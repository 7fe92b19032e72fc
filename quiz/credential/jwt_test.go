package credential

import (
	"crypto/ed25519"
	"encoding/base64"
	"encoding/json"
	"strings"
	"testing"

	jose "github.com/go-jose/go-jose/v4"
)

// RFC 8037, appendix A.4 and A.5: a compact JWS signed with Ed25519.
func TestTokenOfRFC8037(t *testing.T) {
	const published = "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc." +
		"hgyY0il_MGCjP0JzlnLWG1PPOt7-09PGcvMg3AIbQR6dWbhijcNR4ki4iylGjg5BhVsPt9g7sVvpAr_MuM0KAg"
	seed, err := base64.RawURLEncoding.DecodeString("nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A")
	if err != nil {
		t.Fatal(err)
	}
	key := ed25519.NewKeyFromSeed(seed)
	signer, err := jose.NewSigner(jose.SigningKey{Algorithm: jose.EdDSA, Key: key}, nil)
	if err != nil {
		t.Fatal(err)
	}
	object, err := signer.Sign([]byte("Example of Ed25519 signing"))
	if err != nil {
		t.Fatal(err)
	}
	if got, err := object.CompactSerialize(); err != nil || got != published {
		t.Errorf("got %s, %v\nwant %s", got, err, published)
	}
}

func tokenParts(t *testing.T, token []byte) (header, payload map[string]any) {
	t.Helper()
	parts := strings.Split(string(token), ".")
	for i, into := range []*map[string]any{&header, &payload} {
		raw, err := base64.RawURLEncoding.DecodeString(parts[i])
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(raw, into); err != nil {
			t.Fatal(err)
		}
	}
	return header, payload
}

// Open Badges 3.0, JSON Web Token Proof Format: which headers and claims a
// VC-JWT has and what they equal.
func TestTokenFollowsOpenBadges(t *testing.T) {
	ring := testRing(t)
	s := testSigner(t, ring)
	header, payload := tokenParts(t, testBundle(t, s).JWT)
	for name := range header {
		switch name {
		case "alg", "kid", "jwk", "typ": // "Additional JOSE Headers are NOT allowed"
		default:
			t.Errorf("header %q", name)
		}
	}
	if header["alg"] != "EdDSA" || header["kid"] != s.Method {
		t.Errorf("header %v", header)
	}
	jwk, _ := header["jwk"].(map[string]any)
	if jwk["kty"] != "OKP" || jwk["crv"] != "Ed25519" || jwk["d"] != nil {
		t.Errorf("jwk %v: want an Ed25519 key and never a secret", jwk)
	}
	c := testCertificate()
	subject := payload["credentialSubject"].(map[string]any)
	for claim, want := range map[string]any{
		"iss": payload["issuer"].(map[string]any)["id"], "jti": payload["id"], "sub": subject["id"],
		"nbf": float64(c.ValidFrom().Unix()), "exp": float64(c.ValidUntil().Unix()), "iat": float64(issuedAt.Unix()),
	} {
		if want == nil || payload[claim] != want {
			t.Errorf("%s is %v, want %v", claim, payload[claim], want)
		}
	}
	if payload["proof"] != nil || payload["vc"] != nil {
		t.Error("the payload is not the bare credential")
	}
}

// Signed by the right key, but saying two things at once.
func TestTokensThatContradictThemselves(t *testing.T) {
	ring := testRing(t)
	s := testSigner(t, ring)
	_, payload := tokenParts(t, testBundle(t, s).JWT)
	sign := func(change map[string]any, options *jose.SignerOptions, key any) []byte {
		t.Helper()
		members := make(map[string]any)
		for k, v := range payload {
			members[k] = v
		}
		for k, v := range change {
			if v == nil {
				delete(members, k)
			} else {
				members[k] = v
			}
		}
		data, err := json.Marshal(members)
		if err != nil {
			t.Fatal(err)
		}
		alg := jose.EdDSA
		if _, ok := key.([]byte); ok {
			alg = jose.HS256
		}
		signer, err := jose.NewSigner(jose.SigningKey{Algorithm: alg, Key: key}, options)
		if err != nil {
			t.Fatal(err)
		}
		object, err := signer.Sign(data)
		if err != nil {
			t.Fatal(err)
		}
		token, err := object.CompactSerialize()
		if err != nil {
			t.Fatal(err)
		}
		return []byte(token)
	}
	kid := func() *jose.SignerOptions { return (&jose.SignerOptions{}).WithHeader("kid", s.Method) }
	public := s.key.Public().(ed25519.PublicKey)
	tests := []struct {
		name  string
		token []byte
		want  Outcome
	}{
		{"nothing changed, no jwk", sign(nil, kid(), s.key), Genuine},
		{"typ", sign(nil, kid().WithType("JWT"), s.key), Genuine},
		{"issuer", sign(map[string]any{"iss": "did:key:z6Mk"}, kid(), s.key), Altered},
		{"id", sign(map[string]any{"jti": "urn:x"}, kid(), s.key), Altered},
		{"subject", sign(map[string]any{"sub": "urn:x"}, kid(), s.key), Altered},
		{"start", sign(map[string]any{"nbf": 1}, kid(), s.key), Altered},
		{"end", sign(map[string]any{"exp": 1}, kid(), s.key), Altered},
		{"end missing", sign(map[string]any{"exp": nil}, kid(), s.key), Altered},
		{"end without validUntil", sign(map[string]any{"validUntil": nil}, kid(), s.key), Altered},
		{"unknown header", sign(nil, kid().WithHeader("b65", true), s.key), Unreadable},
		{"jwk of another key", sign(nil, kid().WithHeader("jwk", jose.JSONWebKey{Key: w3cKey(t).Public()}), s.key), Altered},
		{"jwk of another kind", sign(nil, kid().WithHeader("jwk", jose.JSONWebKey{Key: []byte("symmetric")}), s.key), Unreadable},
		{"no kid", sign(nil, nil, s.key), Unreadable},
		{"kid of another issuer", sign(nil, (&jose.SignerOptions{}).WithHeader("kid", "did:key:z6MkiTBz1ymuepAQ4HEHYSF1H8quG5GLVVQR3djdX3mDooWp#z6MkiTBz1ymuepAQ4HEHYSF1H8quG5GLVVQR3djdX3mDooWp"), s.key), Altered},
		// The public key used as the secret of a symmetric algorithm.
		{"another algorithm", sign(nil, kid(), []byte(public)), Unreadable},
		{"not a badge", sign(map[string]any{"type": []string{"VerifiableCredential"}}, kid(), s.key), Unreadable},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := verify(t, tt.token, Options{Now: issuedAt, Trusted: ring.Trusted()})
			if r.Outcome != tt.want {
				t.Errorf("got %s: %s; want %s", r.Outcome, r.Reason, tt.want)
			}
		})
	}
}
