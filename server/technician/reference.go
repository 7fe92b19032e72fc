package technician

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"time"

	"rightpage/quiz"
)

// reference names a practice question that somebody was asked, in an address,
// without anything that tells its key. It is sealed (AES-GCM, NIST SP 800-38D)
// for the person: nobody can make one up, as for a question whose key is known
// already, nor use another's.
type reference struct {
	Catalog string    // ID
	At      uint32    // position in the catalog's bank
	Check   [8]byte   // of the question's ID: the bank is the one that it was
	Asked   time.Time // to the millisecond
	Key     [10]byte  // of the outcome
}

func newReference(catalog string, at int, question string, now time.Time) reference {
	r := reference{Catalog: catalog, At: uint32(at), Check: checkOf(question), Asked: now}
	rand.Read(r.Key[:]) // never fails: crypto/rand
	return r
}

func checkOf(question string) (c [8]byte) {
	sum := sha256.Sum256([]byte(question))
	copy(c[:], sum[:])
	return c
}

// key is the key under which the outcome is kept.
func (r reference) key() string { return "ex-" + hex.EncodeToString(r.Key[:]) }

func newSeal(secret []byte) (cipher.AEAD, error) {
	if secret == nil {
		secret = make([]byte, 32)
		rand.Read(secret)
	}
	if len(secret) < 16 {
		return nil, fmt.Errorf("technician: a secret of %d bytes is too short; use 16 or more", len(secret))
	}
	key := sha256.Sum256(append([]byte("rightpage practice reference\x00"), secret...))
	block, err := aes.NewCipher(key[:])
	if err != nil {
		return nil, err
	}
	return cipher.NewGCM(block)
}

// write seals a reference for a person.
func (p *Pages) write(r reference, person string) string {
	b := make([]byte, 0, 64)
	b = binary.BigEndian.AppendUint32(b, r.At)
	b = binary.BigEndian.AppendUint64(b, uint64(r.Asked.UnixMilli()))
	b = append(append(append(b, r.Check[:]...), r.Key[:]...), r.Catalog...)
	nonce := make([]byte, p.seal.NonceSize())
	rand.Read(nonce)
	return base64.RawURLEncoding.EncodeToString(p.seal.Seal(nonce, nonce, b, []byte(person)))
}

func goneError() error {
	return &quiz.Error{Code: quiz.Closed, Text: "this practice question is not under way any more", Mend: "go on with another"}
}

// read opens a reference. One that was not made for the person, or before the
// secret changed, is Closed: the question is asked anew.
func (p *Pages) read(text, person string) (reference, error) {
	sealed, err := base64.RawURLEncoding.DecodeString(text)
	n := p.seal.NonceSize()
	if err != nil || len(sealed) < n {
		return reference{}, goneError()
	}
	b, err := p.seal.Open(nil, sealed[:n], sealed[n:], []byte(person))
	if err != nil || len(b) < 30 {
		return reference{}, goneError()
	}
	r := reference{At: binary.BigEndian.Uint32(b), Asked: time.UnixMilli(int64(binary.BigEndian.Uint64(b[4:]))), Catalog: string(b[30:])}
	copy(r.Check[:], b[12:20])
	copy(r.Key[:], b[20:30])
	return r, nil
}
