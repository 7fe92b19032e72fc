package credential

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// fastWork keeps scrypt short in tests.
const fastWork = 2

func TestKeyringSurvivesTheDisk(t *testing.T) {
	for name, passphrase := range map[string]string{"in clear": "", "with passphrase": "a shelf of leaves"} {
		t.Run(name, func(t *testing.T) {
			ring := testRing(t)
			bundle := testBundle(t, testSigner(t, ring))
			if err := ring.setPassphrase([]byte(passphrase), fastWork); err != nil {
				t.Fatal(err)
			}
			ring.MarkBackedUp(issuedAt)
			path := filepath.Join(t.TempDir(), "signing-keys.json")
			if err := ring.Save(path); err != nil {
				t.Fatal(err)
			}
			if info, err := os.Stat(path); err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
				t.Errorf("mode %v, %v; want 0600", info.Mode(), err)
			}
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			secret := encodeMultikey(codecSecret, ring.keys[0].secret.Seed())
			if clear := bytes.Contains(data, []byte(secret)); clear != (passphrase == "") {
				t.Errorf("the secret in clear: %v", clear)
			}

			back, err := LoadKeyring(path)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(ring.Keys(), back.Keys(), cmp.AllowUnexported(Key{})); diff != "" {
				t.Errorf("keys (-saved +loaded):\n%s", diff)
			}
			if passphrase != "" {
				if _, err := back.Signer(); err == nil || !back.Locked() {
					t.Error("a locked ring signs")
				}
				// Locked, it still verifies.
				if r := verify(t, bundle.PDF, Options{Now: issuedAt, Trusted: back.Trusted()}); !r.Valid {
					t.Errorf("verifying with a locked ring: %+v", r)
				}
				if err := back.Unlock([]byte("a shelf of leavez")); err == nil || !strings.Contains(err.Error(), "wrong passphrase") {
					t.Errorf("wrong passphrase: %v", err)
				}
				if err := back.setPassphrase(nil, fastWork); err == nil {
					t.Error("taking the passphrase off a locked ring: want an error")
				}
				if err := back.Unlock([]byte(passphrase)); err != nil {
					t.Fatal(err)
				}
			}
			if again := testBundle(t, testSigner(t, back)); !bytes.Equal(again.JSON, bundle.JSON) {
				t.Error("the loaded key signs otherwise")
			}
		})
	}
}

func TestRotationDestroysTheOldSecretAndSealsTheNew(t *testing.T) {
	ring := testRing(t)
	if err := ring.setPassphrase([]byte("a shelf of leaves"), fastWork); err != nil {
		t.Fatal(err)
	}
	old := encodeMultikey(codecSecret, ring.keys[0].secret.Seed())
	if err := ring.Rotate(issuedAt, newRandom(2)); err != nil {
		t.Fatal(err)
	}
	if err := ring.seal(&ring.keys[1], fastWork); err != nil { // what Save does, with less work
		t.Fatal(err)
	}
	text, err := ring.marshal()
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(text), old) || strings.Contains(string(text), "secretKeyMultibase") ||
		strings.Count(string(text), "secretKeyAge") != 1 {
		t.Errorf("the file holds more than the new secret, encrypted:\n%s", text)
	}
	if err := ring.Rotate(issuedAt.Add(-time.Hour), newRandom(3)); err == nil {
		t.Error("rotating back in time: want an error")
	}
}

func TestKeyFilesThatAreRefused(t *testing.T) {
	ring := testRing(t)
	if err := ring.Rotate(issuedAt, newRandom(2)); err != nil {
		t.Fatal(err)
	}
	good, err := ring.marshal()
	if err != nil {
		t.Fatal(err)
	}
	first, second := ring.keys[0].ID(), ring.keys[1].ID()
	replace := func(old, with string) string {
		out := strings.Replace(string(good), old, with, 1)
		if out == string(good) {
			t.Fatalf("nothing to replace: %s", old)
		}
		return out
	}
	for name, tt := range map[string]struct{ text, want string }{
		"not JSON":               {"keys", "key file"},
		"another format":         {replace(keyFileFormat, "something 2"), "format"},
		"unknown member":         {replace(`"format"`, `"extra": 1, "format"`), "extra"},
		"no keys":                {`{"format":"` + keyFileFormat + `","keys":[]}`, "no keys"},
		"secret of another key":  {replace(second, first), "belongs to another key"},
		"two keys in use":        {replace(`"retired": "2031-03-14T09:30:00Z"`, `"compromised": false`), "not retired"},
		"secret that is no key":  {replace(`"secretKeyMultibase": "z`, `"secretKeyMultibase": "y`), "secret key"},
		"public key that is not": {replace(`"publicKeyMultibase": "z`, `"publicKeyMultibase": "y`), "public key"},
		"did that is no did:web": {replace(`"format"`, `"did": "did:key:z", "format"`), "did:web"},
	} {
		if _, err := parseKeyring([]byte(tt.text)); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: got %v, want an error with %q", name, err, tt.want)
		}
	}
	if _, err := parseKeyring(good); err != nil {
		t.Errorf("the file itself: %v", err)
	}
}

func TestKeyFileOpenToOthersIsRefused(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("file modes mean nothing here")
	}
	path := filepath.Join(t.TempDir(), "signing-keys.json")
	if err := testRing(t).Save(path); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(path, 0o640); err != nil {
		t.Fatal(err)
	}
	if _, err := LoadKeyring(path); err == nil || !strings.Contains(err.Error(), "chmod 600") {
		t.Errorf("got %v, want an error that says how to mend it", err)
	}
	if _, err := LoadKeyring(path + ".missing"); err == nil {
		t.Error("a missing file: want an error")
	}
	if err := testRing(t).Save(filepath.Join(t.TempDir(), "no", "such", "folder")); err == nil {
		t.Error("saving into a missing folder: want an error")
	}
}

func TestWarnings(t *testing.T) {
	ring := testRing(t)
	expect := func(when string, now time.Time, want ...string) {
		t.Helper()
		got := ring.Warnings(now)
		if len(got) != len(want) {
			t.Errorf("%s: %d warnings, want %d: %q", when, len(got), len(want), got)
			return
		}
		for i := range want {
			if !strings.Contains(got[i], want[i]) {
				t.Errorf("%s: %q lacks %q", when, got[i], want[i])
			}
		}
	}
	expect("new", issuedAt, "never backed up", "without a passphrase")
	ring.MarkBackedUp(issuedAt)
	if err := ring.setPassphrase([]byte("a shelf of leaves"), fastWork); err != nil {
		t.Fatal(err)
	}
	expect("backed up and encrypted", issuedAt)
	expect("old", issuedAt.AddDate(3, 0, 0), "Rotate it")
	if err := ring.Rotate(issuedAt.AddDate(3, 0, 0), newRandom(2)); err != nil {
		t.Fatal(err)
	}
	expect("rotated", issuedAt.AddDate(3, 0, 0), "newer than the last backup")
	if err := ring.setPassphrase([]byte("short"), fastWork); err == nil {
		t.Error("a short passphrase: want an error")
	}
}

func TestCompromisedKeyInUseSignsNoMore(t *testing.T) {
	ring := testRing(t)
	if err := ring.Compromise(ring.Keys()[0].ID(), issuedAt); err != nil {
		t.Fatal(err)
	}
	if _, err := ring.Signer(); err == nil || !strings.Contains(err.Error(), "rotate") {
		t.Errorf("got %v, want an error that says to rotate", err)
	}
	if err := ring.Rotate(issuedAt, newRandom(2)); err != nil {
		t.Fatal(err)
	}
	testSigner(t, ring)
	if err := ring.Compromise("z6Mk", issuedAt); err == nil {
		t.Error("an unknown key: want an error")
	}
}

func TestPrintingDoesNotPrintSecrets(t *testing.T) {
	ring := testRing(t)
	s := testSigner(t, ring)
	secret := fmt.Sprintf("%d", s.key[0:4]) // "[1 2 3 4]"
	secret = secret[1 : len(secret)-1]
	for _, verb := range []string{"%v", "%+v", "%s", "%#v", "%d", "%x"} {
		for _, value := range []any{s, &s, ring, ring.Keys(), ring.Keys()[0]} {
			out := fmt.Sprintf(verb, value)
			if strings.Contains(out, secret) || strings.Contains(out, fmt.Sprintf("%x", []byte(s.key[:8]))) {
				t.Errorf("%s of %T prints the secret: %s", verb, value, out)
			}
		}
	}
}

// A signer in somebody's hands outlives the rotation of its ring: what it
// signs is well-formed, and refused because its key is retired.
func TestSignerOutlivesRotation(t *testing.T) {
	ring := testRing(t)
	s := testSigner(t, ring)
	if err := ring.Rotate(issuedAt.Add(-time.Hour), newRandom(2)); err != nil {
		t.Fatal(err)
	}
	r := verify(t, testBundle(t, s).JSON, Options{Now: issuedAt, Trusted: ring.Trusted()})
	if r.Outcome != KeyRefused {
		t.Errorf("got %s: %s", r.Outcome, r.Reason)
	}
}
