package certificate

import (
	"bytes"
	"math/rand/v2"
	"regexp"
	"testing"
	"testing/iotest"

	"pgregory.net/rapid"
)

func TestCodes(t *testing.T) {
	random := rand.NewChaCha8([32]byte{1})
	pattern := regexp.MustCompile(`^[0-9A-HJKMNP-TV-Z]{4}-[0-9A-HJKMNP-TV-Z]{4}$`)
	seen := make(map[string]bool)
	letters := make(map[rune]int)
	for range 2000 {
		code, err := NewCode(random)
		if err != nil || !pattern.MatchString(code) || seen[code] {
			t.Fatalf("code %q, %v", code, err)
		}
		seen[code] = true
		for _, r := range code {
			letters[r]++
		}
	}
	// 16,000 characters over 32 letters: 500 each, give or take 22 (binomial).
	for _, r := range codeAlphabet {
		if n := letters[r]; n < 390 || n > 610 {
			t.Errorf("%c occurs %d times, want about 500", r, n)
		}
	}
	if _, err := NewCode(iotest.ErrReader(bytes.ErrTooLarge)); err == nil {
		t.Error("without randomness: want an error")
	}
}

func TestSameCode(t *testing.T) {
	for typed, want := range map[string]bool{
		"7K4M-2Q0D": true, "7k4m2q0d": true, " 7K4M 2QOD": true, "7K4M-2Q0E": false, "7K4M-2Q0": false, "": false,
	} {
		if got := SameCode(typed, "7K4M-2Q0D"); got != want {
			t.Errorf("SameCode(%q) = %v", typed, got)
		}
	}
	if SameCode("", "") {
		t.Error("no code matches no code")
	}
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.StringOfN(rapid.RuneFrom([]rune(codeAlphabet)), 8, 8, -1).Draw(t, "a")
		b := rapid.StringOfN(rapid.RuneFrom([]rune(codeAlphabet)), 8, 8, -1).Draw(t, "b")
		if SameCode(a, b) != (a == b) {
			t.Fatalf("SameCode(%q, %q)", a, b)
		}
	})
}

func TestNumber(t *testing.T) {
	if got := Number("WX", 2031, 42); got != "WX-2031-0042" {
		t.Error(got)
	}
}
