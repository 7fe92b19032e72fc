package credential

import (
	"bytes"
	"compress/gzip"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"
)

// StatusEntry says where a credential's revocation is shown: a bit of a
// Bitstring Status List (W3C Recommendation, BitstringStatusListEntry).
type StatusEntry struct {
	ID      string `json:"id"`
	Type    string `json:"type"`
	Purpose string `json:"statusPurpose"`
	Index   string `json:"statusListIndex"`
	List    string `json:"statusListCredential"`
}

// NewStatusEntry points to bit index of the list published at listURL.
func NewStatusEntry(listURL string, index int) *StatusEntry {
	return &StatusEntry{
		ID:   listURL + "#" + strconv.Itoa(index),
		Type: "BitstringStatusListEntry", Purpose: "revocation",
		Index: strconv.Itoa(index), List: listURL,
	}
}

// StatusListSize is the number of bits of a status list, the least that the
// Recommendation allows: with fewer, a bit would tell whose it is.
const StatusListSize = 131072

// maxStatusBytes bounds what a list may unpack to (16 million entries).
const maxStatusBytes = 2 << 20

// Bitstring is a list of revocation bits; the first is the highest bit of the
// first byte.
type Bitstring []byte

// NewBitstring is a list of StatusListSize bits, none set.
func NewBitstring() Bitstring { return make(Bitstring, StatusListSize/8) }

// Set sets or clears a bit.
func (b Bitstring) Set(index int, to bool) error {
	if index < 0 || index >= 8*len(b) {
		return fmt.Errorf("credential: status index %d outside the list of %d", index, 8*len(b))
	}
	mask := byte(0x80) >> (index % 8)
	if to {
		b[index/8] |= mask
	} else {
		b[index/8] &^= mask
	}
	return nil
}

// Get reads a bit.
func (b Bitstring) Get(index int) (bool, error) {
	if index < 0 || index >= 8*len(b) {
		return false, fmt.Errorf("credential: status index %d outside the list of %d", index, 8*len(b))
	}
	return b[index/8]&(0x80>>(index%8)) != 0, nil
}

// PickStatusIndex draws a place in a list that is not taken yet. Drawn rather
// than counted, it does not tell when a certificate was issued. Randomness is
// crypto/rand.Reader but for tests.
func PickStatusIndex(taken func(index int) bool, random io.Reader) (int, error) {
	const tries = 4096 // enough for a list that is 99 % full
	var raw [4]byte
	for range tries {
		if _, err := io.ReadFull(random, raw[:]); err != nil {
			return 0, fmt.Errorf("credential: drawing a status index: %w", err)
		}
		// The size of the list is a power of two: no bias.
		index := int(binary.BigEndian.Uint32(raw[:]) % StatusListSize)
		if !taken(index) {
			return index, nil
		}
	}
	return 0, errors.New("credential: the status list is full: begin another under its own address")
}

// encode gives the list as multibase base64url ("u") of its GZIP form.
func (b Bitstring) encode() (string, error) {
	var packed bytes.Buffer
	w, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		return "", err
	}
	if _, err := w.Write(b); err != nil {
		return "", err
	}
	if err := w.Close(); err != nil {
		return "", err
	}
	return "u" + base64.RawURLEncoding.EncodeToString(packed.Bytes()), nil
}

// decodeBitstring reads an encodedList.
func decodeBitstring(text string) (Bitstring, error) {
	text, ok := strings.CutPrefix(text, "u")
	if !ok {
		return nil, errors.New("status list: not multibase base64url")
	}
	packed, err := base64.RawURLEncoding.DecodeString(text)
	if err != nil {
		return nil, fmt.Errorf("status list: %w", err)
	}
	r, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		return nil, fmt.Errorf("status list: %w", err)
	}
	bits, err := io.ReadAll(io.LimitReader(r, maxStatusBytes+1))
	if err != nil {
		return nil, fmt.Errorf("status list: %w", err)
	}
	switch {
	case len(bits) > maxStatusBytes:
		return nil, fmt.Errorf("status list: unpacks to more than %d bytes", maxStatusBytes)
	case len(bits) < StatusListSize/8:
		return nil, fmt.Errorf("status list: %d bits are fewer than the %d required", 8*len(bits), StatusListSize)
	}
	return bits, nil
}

// statusListCredential is a BitstringStatusListCredential.
type statusListCredential struct {
	Context    []string          `json:"@context"`
	ID         string            `json:"id"`
	Type       []string          `json:"type"`
	Issuer     json.RawMessage   `json:"issuer"` // an id, or an object with one
	ValidFrom  string            `json:"validFrom,omitempty"`
	ValidUntil string            `json:"validUntil,omitempty"`
	Subject    statusListSubject `json:"credentialSubject"`
}

type statusListSubject struct {
	ID      string `json:"id"`
	Type    string `json:"type"`
	Purpose string `json:"statusPurpose"`
	List    string `json:"encodedList"`
}

// IssueStatusList signs a revocation list to be served at listURL. Until is
// how long a copy may be relied on; the list has to be issued again by then.
func (s Signer) IssueStatusList(listURL string, revoked Bitstring, now, until time.Time) ([]byte, error) {
	if s.key == nil {
		return nil, errors.New("credential: no signing key: unlock the keyring first")
	}
	encoded, err := revoked.encode()
	if err != nil {
		return nil, err
	}
	issuer, err := json.Marshal(s.DID)
	if err != nil {
		return nil, err
	}
	document, err := json.Marshal(statusListCredential{
		Context: []string{contextVC}, ID: listURL, Type: []string{typeVC, typeStatusList}, Issuer: issuer,
		ValidFrom: now.UTC().Format(time.RFC3339), ValidUntil: until.UTC().Format(time.RFC3339),
		Subject: statusListSubject{ID: listURL + "#list", Type: "BitstringStatusList", Purpose: "revocation", List: encoded},
	})
	if err != nil {
		return nil, err
	}
	return addProof(document, s.key, s.Method, now)
}
