package credential

import (
	"bytes"
	"encoding/binary"
	"flag"
	"hash/crc32"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

var allBits = flag.Bool("all-bits", false, "flip all eight bits of each byte instead of one")

// One flipped bit anywhere in a file, as issued, fails, in all four forms:
// every byte has its turn, every other one with the bit that changes the case
// of a letter, the likeliest to go unnoticed, the rest with a bit that moves
// on from byte to byte (go test -run Flipped -all-bits does all eight). The PDF and PNG are small
// ones by the same writers; package paper's tests flip the real certificate
// in samples.
func TestOneFlippedBitAnywhereFails(t *testing.T) {
	ring := testRing(t)
	bundle := testBundle(t, testSigner(t, ring))
	o := Options{Now: issuedAt, Trusted: ring.Trusted()}
	const caseBit = 5
	for format, data := range bundle.forms() {
		t.Run(format, func(t *testing.T) {
			t.Parallel()
			if r := verify(t, data, o); !r.Valid {
				t.Fatalf("not valid to begin with: %+v", r)
			}
			flipped := 0
			changed := bytes.Clone(data)
			for i := range changed {
				if underRace && i%31 != 0 {
					continue
				}
				turn := caseBit
				if i%2 == 0 {
					turn = i / 2 % 8
				}
				for bit := range 8 {
					if !*allBits && bit != turn {
						continue
					}
					flipped++
					changed[i] ^= 1 << bit
					if r := verify(t, changed, o); r.Valid {
						t.Errorf("bit %d of byte %d (%q to %q) does not matter", bit, i, data[i], changed[i])
					}
					changed[i] ^= 1 << bit
				}
			}
			if !bytes.Equal(changed, data) || !underRace && flipped < len(data) {
				t.Fatal("the test does not do what it says")
			}
			t.Logf("%d bits of %d bytes flipped, none unnoticed", flipped, len(data))
		})
	}
}

// The checksums of a PNG are no secret: a flip with the chunk's CRC put right
// again fails as well.
func TestFlippedBitInPNGWithItsChecksumRepairedFails(t *testing.T) {
	ring := testRing(t)
	bundle := testBundle(t, testSigner(t, ring))
	o := Options{Now: issuedAt, Trusted: ring.Trusted()}
	chunks, err := pngChunks(bundle.PNG)
	if err != nil {
		t.Fatal(err)
	}
	reached := 0
	for _, c := range chunks {
		for i := c.start + 4; i < c.end-4; i++ { // type and data
			changed := bytes.Clone(bundle.PNG)
			changed[i] ^= 1 << (i % 8)
			binary.BigEndian.PutUint32(changed[c.end-4:], crc32.ChecksumIEEE(changed[c.start+4:c.end-4]))
			r := verify(t, changed, o)
			if r.Valid {
				t.Errorf("byte %d, in chunk %q, does not matter", i, c.kind)
			}
			if r.Outcome == Altered {
				reached++
			}
		}
	}
	if reached < len(bundle.JSON)/4 {
		t.Errorf("only %d flips came as far as signature or digest: are the checksums repaired?", reached)
	}
}

// Any change that keeps the file a different one fails: bytes replaced, cut
// out, put in, or the end cut off.
func TestAnyEditFails(t *testing.T) {
	ring := testRing(t)
	bundle := testBundle(t, testSigner(t, ring))
	o := Options{Now: issuedAt, Trusted: ring.Trusted()}
	rapid.Check(t, func(t *rapid.T) {
		format := rapid.SampledFrom([]string{"json", "jwt", "pdf", "png"}).Draw(t, "format")
		data := bundle.forms()[format]
		from := rapid.IntRange(0, len(data)).Draw(t, "from")
		to := rapid.IntRange(from, min(len(data), from+40)).Draw(t, "to")
		// No white space in what is put in: between the tokens of JSON it
		// carries no meaning and is allowed.
		put := rapid.SliceOfN(rapid.ByteRange('!', 255), 0, 40).Draw(t, "put")
		edited := bytes.Join([][]byte{data[:from], put, data[to:]}, nil)
		if bytes.Equal(edited, data) {
			t.Skip("nothing changed")
		}
		r, err := VerifyFile(edited, o)
		if err != nil {
			t.Fatal(err)
		}
		if r.Valid {
			t.Fatalf("%s with bytes %d to %d replaced by %q is still valid", format, from, to, put)
		}
	})
}

// A token's signature has unused bits in its last character; no other
// spelling of the same bytes is taken.
func TestTokenHasOneSpelling(t *testing.T) {
	ring := testRing(t)
	token := string(testBundle(t, testSigner(t, ring)).JWT)
	o := Options{Now: issuedAt, Trusted: ring.Trusted()}
	for _, c := range "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_" {
		respelled := token[:len(token)-1] + string(c)
		if r := verify(t, []byte(respelled), o); r.Valid != (respelled == token) {
			t.Errorf("ending in %q: valid is %v", c, r.Valid)
		}
	}
	for _, respelled := range []string{token + "=", token + "\n", strings.Replace(token, ".", "\n.", 1), token + "."} {
		if r := verify(t, []byte(respelled), o); r.Valid {
			t.Errorf("%q… is valid", respelled[len(respelled)-10:])
		}
	}
}
