package certificate

import (
	"crypto/subtle"
	"fmt"
	"io"
	"strings"
)

// codeAlphabet is Crockford's base 32: no I, L, O or U, so that a code read
// from paper is typed right.
const codeAlphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

// codeLength is 40 bits: with the verify page's rate limit, out of reach of
// guessing.
const codeLength = 8

// NewCode makes the code that is printed beside a certificate's number, so
// that numbers alone, which run on, open nothing: "7K4M-2QXD". Randomness is
// crypto/rand.Reader but for tests.
func NewCode(random io.Reader) (string, error) {
	var raw [codeLength]byte
	if _, err := io.ReadFull(random, raw[:]); err != nil {
		return "", fmt.Errorf("certificate: making a code: %w", err)
	}
	code := make([]byte, 0, codeLength+1)
	for i, b := range raw {
		if i == codeLength/2 {
			code = append(code, '-')
		}
		code = append(code, codeAlphabet[b&31]) // 32 divides 256: no bias
	}
	return string(code), nil
}

// SameCode says whether what somebody typed is the code, in time that does
// not depend on where they differ. Case and hyphens do not matter, and
// letters that look like digits count as those digits.
func SameCode(typed, code string) bool {
	a, b := plainCode(typed), plainCode(code)
	return b != "" && subtle.ConstantTimeCompare([]byte(a), []byte(b)) == 1
}

func plainCode(code string) string {
	return strings.NewReplacer("-", "", " ", "", "O", "0", "I", "1", "L", "1").Replace(strings.ToUpper(code))
}

// Number gives a certificate's number from the organisation's prefix, the
// year and a count: "WX-2031-0042".
func Number(prefix string, year, count int) string {
	return fmt.Sprintf("%s-%04d-%04d", prefix, year, count)
}
