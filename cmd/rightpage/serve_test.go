package main

import (
	"bufio"
	"context"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"
)

// goOn runs a command that goes on until it is interrupted, waits for the line
// with its address, and gives that with everything said so far. Stop interrupts it
// and gives the exit status.
func goOn(t *testing.T, args ...string) (address, said string, stop func() int) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	out, in := io.Pipe()
	var errs lockedBuffer
	status := make(chan int, 1)
	go func() {
		status <- run(ctx, args, in, &errs)
		in.Close()
	}()
	var once sync.Once
	got := -1
	stop = func() int {
		once.Do(func() {
			cancel()
			go io.Copy(io.Discard, out)
			got = <-status
		})
		return got
	}
	t.Cleanup(func() { stop() })
	lines := make(chan string)
	go func() {
		defer close(lines)
		for r := bufio.NewScanner(out); r.Scan(); {
			lines <- r.Text()
			if strings.Contains(r.Text(), "http://") && !strings.Contains(r.Text(), "/setup") {
				return
			}
		}
	}()
	limit := time.After(2 * time.Minute)
	for {
		select {
		case line, ok := <-lines:
			if !ok {
				if address == "" {
					t.Fatalf("%v ended, status %d: %s%s", args, stop(), said, errs.String())
				}
				return address, said, stop
			}
			said += line + "\n"
			if m := regexp.MustCompile(`http://[0-9.:]+`).FindString(line); m != "" {
				address = m
			}
		case <-limit:
			t.Fatalf("%v: no address: %s%s", args, said, errs.String())
		}
	}
}

type lockedBuffer struct {
	mu sync.Mutex
	b  strings.Builder
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

func page(t *testing.T, url string) (int, string) {
	t.Helper()
	res, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, string(body)
}

func TestServe(t *testing.T) {
	db := filepath.Join(t.TempDir(), "training.db")
	at, said, stop := goOn(t, "serve", "--db", db, "--listen", "127.0.0.1:0")
	if !regexp.MustCompile(`set up at http://127\.0\.0\.1:\d+/setup with the secret [A-Z2-7]{12}\n`).MatchString(said) {
		t.Errorf("on an empty database it says:\n%s", said)
	}
	if status, body := page(t, at+"/setup"); status != http.StatusOK || !strings.Contains(body, "rightpage") {
		t.Errorf("the set-up: status %d", status)
	}
	if status, _ := page(t, at+"/readyz"); status != http.StatusOK {
		t.Errorf("ready: status %d", status)
	}
	if got := stop(); got != exitDone {
		t.Errorf("interrupted: exit status %d", got)
	}
	// What was made is there the next time, and with somebody in it there is no
	// set-up any more.
	if got := run(context.Background(), []string{"user", "add", "--db", db, "--name", "Ada", "--login", "ada", "--role", "administrator"}, io.Discard, io.Discard); got != exitDone {
		t.Fatalf("user add: exit status %d", got)
	}
	at, said, stop = goOn(t, "serve", "--db", db, "--listen", "127.0.0.1:0")
	if strings.Contains(said, "secret") {
		t.Errorf("with somebody in the database it says:\n%s", said)
	}
	if status, body := page(t, at+"/"); status != http.StatusOK || !strings.Contains(body, `name="password"`) {
		t.Errorf("the first page: status %d", status)
	}
	if got := stop(); got != exitDone {
		t.Errorf("interrupted: exit status %d", got)
	}
}

func TestServeRefusesWhatItCannotWorkWith(t *testing.T) {
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"--log", "runes"}, "--log"},
		{[]string{"--behind-proxy", "everybody"}, "--behind-proxy"},
		{[]string{"--listen", "nowhere"}, "nowhere"},
		{[]string{"--smtp", "mail.example", "--smtp-from", "nobody"}, "nobody"},
		{[]string{"--tls-cert", "none.pem", "--tls-key", "none.pem"}, "none.pem"},
	} {
		var errs lockedBuffer
		args := append([]string{"serve", "--db", filepath.Join(t.TempDir(), "x.db"), "--listen", "127.0.0.1:0"}, c.args...)
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		if got := run(ctx, args, io.Discard, &errs); got == exitDone || !strings.Contains(errs.String(), c.want) {
			t.Errorf("%v: exit status %d, %s", c.args, got, errs.String())
		}
		cancel()
	}
}

func TestTryGoesOnToServe(t *testing.T) {
	at, said, stop := goOn(t, "try", "--listen", "127.0.0.1:0", "--out", t.TempDir(), "--dir", "../../testdata/quillan")
	if !strings.Contains(said, "Verify the certificate") {
		t.Errorf("it says:\n%s", said)
	}
	if status, body := page(t, at+"/sign-in"); status != http.StatusOK || !strings.Contains(body, `name="password"`) {
		t.Errorf("status %d", status)
	}
	if got := stop(); got != exitDone {
		t.Errorf("interrupted: exit status %d", got)
	}
}

func TestNobodyElseReadsABackup(t *testing.T) {
	dir := t.TempDir()
	db, file := filepath.Join(dir, "training.db"), filepath.Join(dir, "training.zip")
	for _, args := range [][]string{{"migrate", "--db", db}, {"backup", "--db", db, "-o", file}} {
		if got := run(context.Background(), args, io.Discard, io.Discard); got != exitDone {
			t.Fatalf("%v: exit status %d", args, got)
		}
	}
	info, err := os.Stat(file)
	if err != nil {
		t.Fatal(err)
	}
	if runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v", info.Mode())
	}
}
