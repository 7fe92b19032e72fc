package store

import (
	"bytes"
	"testing"
)

func TestAllServersShareASecret(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		a, b, _ := two(t, d)
		first, err := a.Secret(t.Context())
		if err != nil || len(first) != 32 || bytes.Equal(first, make([]byte, 32)) {
			t.Fatalf("%x, %v", first, err)
		}
		if again, err := b.Secret(t.Context()); err != nil || !bytes.Equal(first, again) {
			t.Errorf("%x, then %x, %v", first, again, err)
		}
	})
}
