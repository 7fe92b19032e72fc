package credential

import (
	"bytes"
	"compress/gzip"
	"encoding/base64"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// W3C Recommendation "Bitstring Status List v1.0", example of a
// BitstringStatusListCredential: its encodedList is a list of the least size
// in which nothing is set.
func TestEncodedListOfTheRecommendation(t *testing.T) {
	bits, err := decodeBitstring("uH4sIAAAAAAAAA-3BMQEAAADCoPVPbQwfoAAAAAAAAAAAAAAAAAAAAIC3AYbSVKsAQAAA")
	if err != nil {
		t.Fatal(err)
	}
	if len(bits) != 16*1024 || bytes.Count(bits, []byte{0}) != len(bits) {
		t.Errorf("got %d bytes, %d of them zero; want 16 KB of zeros", len(bits), bytes.Count(bits, []byte{0}))
	}
}

// "The first index, with a value of zero (0), is located at the left-most bit"
// (Bitstring Status List, section 2.2).
func TestFirstIndexIsTheLeftmostBit(t *testing.T) {
	bits := NewBitstring()
	for index, want := range map[int]byte{0: 0x80, 7: 0x01} {
		clear(bits)
		if err := bits.Set(index, true); err != nil || bits[0] != want {
			t.Errorf("index %d: first byte %#x, %v; want %#x", index, bits[0], err, want)
		}
	}
	clear(bits)
	if err := bits.Set(8, true); err != nil || bits[0] != 0 || bits[1] != 0x80 {
		t.Errorf("index 8: % x, %v", bits[:2], err)
	}
	for _, index := range []int{-1, StatusListSize} {
		if bits.Set(index, true) == nil {
			t.Errorf("index %d: want an error", index)
		}
		if _, err := bits.Get(index); err == nil {
			t.Errorf("reading index %d: want an error", index)
		}
	}
}

func TestBitstringReadsBackWhatWasSet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		set := rapid.SliceOfDistinct(rapid.IntRange(0, StatusListSize-1), rapid.ID[int]).Draw(t, "set")
		bits := NewBitstring()
		for _, i := range set {
			if err := bits.Set(i, true); err != nil {
				t.Fatal(err)
			}
		}
		encoded, err := bits.encode()
		if err != nil {
			t.Fatal(err)
		}
		back, err := decodeBitstring(encoded)
		if err != nil || !bytes.Equal(back, bits) {
			t.Fatalf("read back differs: %v", err)
		}
		for _, i := range set {
			if on, err := back.Get(i); err != nil || !on {
				t.Fatalf("index %d is not set: %v", i, err)
			}
			if err := back.Set(i, false); err != nil {
				t.Fatal(err)
			}
		}
		if bytes.Count(back, []byte{0}) != len(back) {
			t.Fatal("more was set than that")
		}
	})
}

func TestListsThatAreRefused(t *testing.T) {
	pack := func(n int) string {
		var b bytes.Buffer
		w := gzip.NewWriter(&b)
		if _, err := w.Write(make([]byte, n)); err != nil {
			t.Fatal(err)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		return "u" + base64.RawURLEncoding.EncodeToString(b.Bytes())
	}
	for name, tt := range map[string]struct{ text, want string }{
		"too short":       {pack(StatusListSize/8 - 1), "fewer"},
		"unpacks to much": {pack(maxStatusBytes + 1), "more than"},
		"other multibase": {"z" + pack(StatusListSize / 8)[1:], "multibase"},
		"not base64url":   {"u!!", "illegal"},
		"not GZIP":        {"uAAAA", "status list"},
		"cut off":         {pack(StatusListSize / 8)[:40], "status list"},
	} {
		if _, err := decodeBitstring(tt.text); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: got %v, want an error with %q", name, err, tt.want)
		}
	}
}

func TestRevocation(t *testing.T) {
	const listURL = "https://training.wexcombe.example/status/1"
	ring := testRing(t)
	s := testSigner(t, ring)
	bundle, err := s.Issue(testCertificate(), IssueOptions{Now: issuedAt, PDF: smallPDF(t), PNG: smallPNG(t),
		Status: NewStatusEntry(listURL, 94567)})
	if err != nil {
		t.Fatal(err)
	}
	list := func(signer Signer, url string, revoked ...int) []byte {
		t.Helper()
		bits := NewBitstring()
		for _, i := range revoked {
			if err := bits.Set(i, true); err != nil {
				t.Fatal(err)
			}
		}
		data, err := signer.IssueStatusList(url, bits, issuedAt, issuedAt.AddDate(0, 0, 7))
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	stranger, err := NewKeyring(issuedAt, newRandom(9))
	if err != nil {
		t.Fatal(err)
	}
	tampered := bytes.Replace(list(s, listURL), []byte("BitstringStatusList\""), []byte("BitstringStatusLisT\""), 1)
	tests := []struct {
		name    string
		lists   [][]byte
		later   int // days after issue
		want    Outcome
		checked bool
	}{
		{"no list at hand", nil, 0, Genuine, false},
		{"not revoked", [][]byte{list(s, listURL, 94566, 94568)}, 0, Genuine, true},
		{"revoked", [][]byte{list(s, listURL, 94567)}, 0, Revoked, true},
		{"another list", [][]byte{list(s, listURL+"0", 94567)}, 0, Genuine, false},
		{"the right one among others", [][]byte{[]byte("junk"), list(s, listURL+"0"), list(s, listURL, 94567)}, 0, Revoked, true},
		{"list of a stranger", [][]byte{list(testSigner(t, stranger), listURL, 94567)}, 0, Genuine, false},
		{"list changed after signing", [][]byte{tampered}, 0, Genuine, false},
		{"list too old", [][]byte{list(s, listURL)}, 8, Genuine, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for format, data := range bundle.forms() {
				r := verify(t, data, Options{Now: issuedAt.AddDate(0, 0, tt.later), Trusted: ring.Trusted(), StatusLists: tt.lists})
				if r.Outcome != tt.want || r.StatusChecked != tt.checked {
					t.Errorf("%s: %s, checked %v (%s); want %s, %v", format, r.Outcome, r.StatusChecked, r.Reason, tt.want, tt.checked)
				}
				if !r.StatusChecked && !strings.Contains(r.Reason, "revoked was not checked") {
					t.Errorf("%s: the reason %q does not say that revocation was not checked", format, r.Reason)
				}
			}
		})
	}
	t.Run("list of another trusted issuer", func(t *testing.T) {
		o := Options{Now: issuedAt, Trusted: append(ring.Trusted(), stranger.Trusted()...),
			StatusLists: [][]byte{list(testSigner(t, stranger), listURL, 94567)}}
		if r := verify(t, bundle.JSON, o); r.Outcome != Genuine || r.StatusChecked {
			t.Errorf("one issuer revokes another's certificate: %s", r.Reason)
		}
	})
	t.Run("list signed by the next key of the ring", func(t *testing.T) {
		if err := ring.Rotate(issuedAt.Add(time.Hour), newRandom(3)); err != nil {
			t.Fatal(err)
		}
		next := testSigner(t, ring)
		if next.DID == s.DID {
			t.Fatal("rotation did not change the did:key")
		}
		r := verify(t, bundle.JSON, Options{Now: issuedAt.AddDate(0, 0, 1), Trusted: ring.Trusted(), StatusLists: [][]byte{list(next, listURL, 94567)}})
		if r.Outcome != Revoked {
			t.Errorf("got %s: %s", r.Outcome, r.Reason)
		}
	})
}

func TestPickStatusIndex(t *testing.T) {
	random := newRandom(4)
	taken := make(map[int]bool)
	for range 2000 {
		index, err := PickStatusIndex(func(i int) bool { return taken[i] }, random)
		if err != nil || index < 0 || index >= StatusListSize || taken[index] {
			t.Fatalf("index %d, %v", index, err)
		}
		taken[index] = true
	}
	low := 0
	for index := range taken {
		if index < StatusListSize/2 {
			low++
		}
	}
	if low < 850 || low > 1150 { // 1000, give or take 22 (binomial)
		t.Errorf("%d of 2000 in the lower half", low)
	}
	if _, err := PickStatusIndex(func(int) bool { return true }, random); err == nil || !strings.Contains(err.Error(), "full") {
		t.Errorf("a full list: %v", err)
	}
	if _, err := PickStatusIndex(func(int) bool { return false }, strings.NewReader("")); err == nil {
		t.Error("without randomness: want an error")
	}
}
