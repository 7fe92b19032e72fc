package listen_test

import (
	"bytes"
	"crypto/tls"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"log/slog"

	"rightpage/server/listen"
)

func TestCertificateIsReadAgainWhenItChanges(t *testing.T) {
	dir := t.TempDir()
	a := newAuthority(t)
	cert, key := filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	now := time.Now()
	var log bytes.Buffer
	a.write(t, cert, key, 1, "training.example")
	f, err := listen.NewCertFiles(cert, key, slog.New(slog.NewTextHandler(&log, nil)), func() time.Time { return now })
	must(t, err)
	serial := func() int64 {
		t.Helper()
		c, err := f.Get(&tls.ClientHelloInfo{})
		must(t, err)
		return c.Leaf.SerialNumber.Int64()
	}
	touched := now
	touch := func() { // whatever the clock of the file system
		touched = touched.Add(time.Minute)
		for _, name := range []string{cert, key} {
			must(t, os.Chtimes(name, touched, touched))
		}
	}
	if got := serial(); got != 1 {
		t.Fatalf("certificate %d", got)
	}
	a.write(t, cert, key, 2, "training.example")
	touch()
	if got := serial(); got != 1 {
		t.Errorf("the files are looked at for each connection")
	}
	now = now.Add(2 * time.Second)
	if got := serial(); got != 2 {
		t.Errorf("changed: certificate %d", got)
	}
	good, err := os.ReadFile(key)
	must(t, err)
	for name, spoil := range map[string]func(){
		"half written":          func() { must(t, os.WriteFile(cert, []byte("-----BEGIN CERTIFICATE-----\n"), 0o600)) },
		"with the key of other": func() { a.write(t, cert, key, 3, "training.example"); must(t, os.WriteFile(key, good, 0o600)) },
		"expired":               func() { a.writeUntil(t, cert, key, 4, now.Add(-time.Hour), "training.example") },
		"gone":                  func() { must(t, os.Remove(cert)) },
	} {
		log.Reset()
		spoil()
		for _, file := range []string{cert, key} {
			_ = os.Chtimes(file, touched.Add(time.Hour), touched.Add(time.Hour))
		}
		now = now.Add(2 * time.Second)
		if got := serial(); got != 2 {
			t.Errorf("%s: certificate %d", name, got)
		}
		if !strings.Contains(log.String(), "level=WARN") {
			t.Errorf("%s: nothing is said: %s", name, log.String())
		}
	}
	a.write(t, cert, key, 5, "training.example")
	touch()
	now = now.Add(2 * time.Second)
	if got := serial(); got != 5 {
		t.Errorf("whole again: certificate %d", got)
	}
}
