package technician

import (
	"crypto/rand"
	"encoding/base64"
	"encoding/binary"
	"encoding/hex"
	"time"

	"rightpage/quiz"
)

// checkReference is a check under way, in an address: which questions it has
// asked so far, the last of which may be without an answer yet. Outcomes are in
// the store, so that the address and the store are all that any server needs to
// go on. It is sealed for the person like [reference].
type checkReference struct {
	Catalog string // ID
	Skill   string // empty: all
	ID      [10]byte
	Started time.Time
	Asked   time.Time // the last question
	Stopped bool      // by the person, before the end
	List    []askedInCheck
}

// askedInCheck is a question by its place in the catalog's bank.
type askedInCheck struct {
	At    uint32
	Check [8]byte // of the question's ID: the bank is the one that it was
}

// key is the key under which the outcome of a question is kept: it belongs to
// the question, so that an answer sent twice, or from a page gone back to,
// counts once.
func (r checkReference) key(a askedInCheck) string {
	return "ck-" + hex.EncodeToString(r.ID[:]) + "-" + hex.EncodeToString(a.Check[:])
}

func newCheckReference(catalog, skill string, now time.Time) checkReference {
	r := checkReference{Catalog: catalog, Skill: skill, Started: now, Asked: now}
	rand.Read(r.ID[:]) // never fails: crypto/rand
	return r
}

// seed has the same check ask the same question after the same answers.
func (r checkReference) seed(answers int) (uint64, uint64) {
	return binary.BigEndian.Uint64(r.ID[:]), uint64(answers)
}

// forChecks keeps the two kinds of references apart.
const forChecks = "check\x00"

func (p *Pages) writeCheck(r checkReference, person string) string {
	b := make([]byte, 0, 256)
	b = binary.BigEndian.AppendUint64(b, uint64(r.Started.UnixMilli()))
	b = binary.BigEndian.AppendUint64(b, uint64(r.Asked.UnixMilli()))
	b = append(b, r.ID[:]...)
	stopped := byte(0)
	if r.Stopped {
		stopped = 1
	}
	b = append(b, stopped, byte(len(r.List)), byte(len(r.Skill)))
	for _, a := range r.List {
		b = binary.BigEndian.AppendUint32(b, a.At)
		b = append(b, a.Check[:]...)
	}
	b = append(append(b, r.Skill...), r.Catalog...)
	nonce := make([]byte, p.seal.NonceSize())
	rand.Read(nonce)
	return base64.RawURLEncoding.EncodeToString(p.seal.Seal(nonce, nonce, b, []byte(forChecks+person)))
}

func checkGone() error {
	return &quiz.Error{Code: quiz.Closed, Text: "this check is not under way any more", Mend: "begin another"}
}

// readCheck opens a reference. One that was not made for the person, or before
// the secret changed, is Closed.
func (p *Pages) readCheck(text, person string) (checkReference, error) {
	var r checkReference
	sealed, err := base64.RawURLEncoding.DecodeString(text)
	n := p.seal.NonceSize()
	if err != nil || len(sealed) < n {
		return r, checkGone()
	}
	const head, each = 29, 12
	b, err := p.seal.Open(nil, sealed[:n], sealed[n:], []byte(forChecks+person))
	if err != nil || len(b) < head || len(b) < head+each*int(b[27])+int(b[28]) {
		return r, checkGone()
	}
	r.Started, r.Asked = time.UnixMilli(int64(binary.BigEndian.Uint64(b))), time.UnixMilli(int64(binary.BigEndian.Uint64(b[8:])))
	copy(r.ID[:], b[16:26])
	r.Stopped = b[26] == 1
	count, skill := int(b[27]), int(b[28])
	b = b[head:]
	for range count {
		a := askedInCheck{At: binary.BigEndian.Uint32(b)}
		copy(a.Check[:], b[4:each])
		r.List, b = append(r.List, a), b[each:]
	}
	r.Skill, r.Catalog = string(b[:skill]), string(b[skill:])
	return r, nil
}
