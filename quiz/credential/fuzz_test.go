package credential

import (
	"bytes"
	"testing"
)

// Whatever is uploaded to be checked: no panic, always a verdict with its
// reason, and a valid one only for what was issued.
func FuzzVerifyFile(f *testing.F) {
	ring := testRing(f)
	bundle := testBundle(f, testSigner(f, ring))
	valid := bundle.forms()
	for _, data := range valid {
		f.Add(data)
	}
	f.Add([]byte(w3cUnsecured))
	f.Add([]byte("a.b.c"))
	f.Add(smallPDF(f))
	f.Add(smallPNG(f))
	o := Options{Now: issuedAt, Trusted: ring.Trusted()}
	f.Fuzz(func(t *testing.T, data []byte) {
		r := verify(t, data, o)
		if !r.Valid {
			return
		}
		for _, issued := range valid {
			if bytes.Equal(data, issued) {
				return
			}
		}
		// JSON alone has other spellings of the same statement.
		again, err := canonical(data)
		if err != nil || !bytes.Equal(again, bundle.JSON) {
			t.Errorf("valid, but never issued: %q", data)
		}
	})
}

func FuzzParseKeyring(f *testing.F) {
	ring := testRing(f)
	text, err := ring.marshal()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := parseKeyring(data)
		if err != nil {
			return
		}
		r.Warnings(issuedAt)
		r.Trusted()
		if _, err := r.marshal(); err != nil {
			t.Errorf("read but cannot be written: %v", err)
		}
	})
}

func FuzzTrustDocument(f *testing.F) {
	ring := testRing(f)
	if err := ring.UseWebDID("did:web:training.wexcombe.example"); err != nil {
		f.Fatal(err)
	}
	document, err := ring.DIDDocument()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(document)
	f.Fuzz(func(t *testing.T, data []byte) {
		if issuer, err := TrustDocument(data); err == nil && len(issuer.Keys) == 0 {
			t.Error("an issuer without keys")
		}
	})
}

func FuzzStatusList(f *testing.F) {
	f.Add("uH4sIAAAAAAAAA-3BMQEAAADCoPVPbQwfoAAAAAAAAAAAAAAAAAAAAIC3AYbSVKsAQAAA")
	f.Fuzz(func(t *testing.T, text string) {
		if bits, err := decodeBitstring(text); err == nil && len(bits) < StatusListSize/8 {
			t.Error("a list shorter than allowed")
		}
	})
}
