package listen_test

import (
	"bufio"
	"bytes"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/store"
	"rightpage/server/listen"
	"rightpage/server/observe"
)

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// running is a server that runs.
type running struct {
	at   listen.Addresses
	stop context.CancelFunc
	done chan error
}

func run(t *testing.T, c listen.Config) *running {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	r := &running{stop: cancel, done: make(chan error, 1)}
	ready := make(chan struct{})
	if c.Address == "" {
		c.Address = "127.0.0.1:0"
	}
	c.Ready = func(a listen.Addresses) { r.at = a; close(ready) }
	go func() { r.done <- listen.Run(ctx, c) }()
	t.Cleanup(cancel)
	select {
	case <-ready:
	case err := <-r.done:
		t.Fatalf("it did not start: %v", err)
	}
	return r
}

func get(client *http.Client, url string) (int, string, error) {
	res, err := client.Get(url)
	if err != nil {
		return 0, "", err
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	return res.StatusCode, string(body), err
}

// until waits until something is so, which must come about soon.
func until(t *testing.T, what string, is func() bool) {
	t.Helper()
	for end := time.Now().Add(10 * time.Second); time.Now().Before(end); time.Sleep(time.Millisecond) {
		if is() {
			return
		}
	}
	t.Fatalf("it never came about: %s", what)
}

func TestWhatWasAcceptedIsFinished(t *testing.T) {
	s, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "x.db"), store.Options{})
	must(t, err)
	defer s.Close()
	must(t, s.Migrate(t.Context()))
	o := observe.New(s, observe.Options{})
	entered, release := make(chan struct{}), make(chan struct{})
	pages := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/quick" {
			return
		}
		close(entered)
		<-release
		if err := r.Context().Err(); err != nil {
			t.Errorf("the request was given up: %v", err)
		}
		fmt.Fprint(w, "saved")
	})
	r := run(t, listen.Config{Handler: o.Probes(pages), Admin: o.Admin(), AdminAddress: "127.0.0.1:0", Draining: o.Drain})
	base := "http://" + r.at.Server.String()
	fresh := func() *http.Client {
		return &http.Client{Transport: &http.Transport{DisableKeepAlives: true}, Timeout: 10 * time.Second}
	}
	if status, body, err := get(fresh(), base+"/readyz"); err != nil || status != 200 {
		t.Fatalf("readyz: %d %s %v", status, body, err)
	}
	idle := &http.Client{Transport: &http.Transport{}} // a browser that keeps its connection
	if status, _, err := get(idle, base+"/quick"); err != nil || status != 200 {
		t.Fatal(status, err)
	}
	type answer struct {
		status int
		body   string
		err    error
	}
	answered := make(chan answer, 1)
	go func() {
		status, body, err := get(fresh(), base+"/save")
		answered <- answer{status, body, err}
	}()
	<-entered
	r.stop()
	ready := "http://" + r.at.Admin.String() + "/readyz"
	until(t, "readyz says draining", func() bool {
		status, body, err := get(fresh(), ready)
		return err == nil && status == http.StatusServiceUnavailable && strings.Contains(body, "draining")
	})
	until(t, "new connections are refused", func() bool {
		c, err := net.Dial("tcp", r.at.Server.String())
		if err == nil {
			c.Close()
		}
		return err != nil
	})
	if _, _, err := get(idle, base+"/quick"); err == nil {
		t.Error("an idle connection is served on")
	}
	select {
	case err := <-r.done:
		t.Fatalf("it ended before the request was answered: %v", err)
	case a := <-answered:
		t.Fatalf("answered too soon: %+v", a)
	default:
	}
	close(release)
	if a := <-answered; a.err != nil || a.status != http.StatusOK || a.body != "saved" {
		t.Errorf("the request under way: %+v", a)
	}
	if err := <-r.done; err != nil {
		t.Errorf("it ended with %v", err)
	}
	if _, _, err := get(fresh(), ready); err == nil {
		t.Error("the listener for administration is still open")
	}
}

func TestTheGracePeriodEnds(t *testing.T) {
	entered := make(chan struct{})
	r := run(t, listen.Config{Grace: 20 * time.Millisecond, Handler: http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		close(entered)
		<-r.Context().Done() // cut off
	})})
	failed := make(chan error, 1)
	go func() {
		_, _, err := get(http.DefaultClient, "http://"+r.at.Server.String())
		failed <- err
	}()
	<-entered
	r.stop()
	if err := <-r.done; quiz.ErrorCode(err) != quiz.Unavailable || !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("it ended with %v", err)
	}
	if err := <-failed; err == nil {
		t.Error("the request got an answer")
	}
}

func TestNoticeIsGivenBeforeItCloses(t *testing.T) {
	drained := make(chan struct{})
	r := run(t, listen.Config{Notice: time.Minute, Draining: func() { close(drained) }, Handler: http.HandlerFunc(func(http.ResponseWriter, *http.Request) {})})
	r.stop()
	<-drained
	if status, _, err := get(http.DefaultClient, "http://"+r.at.Server.String()); err != nil || status != 200 {
		t.Errorf("it closed before proxies could know: %d %v", status, err)
	}
}

func TestWhatCannotBeListenedTo(t *testing.T) {
	h := http.NotFoundHandler()
	r := run(t, listen.Config{Handler: h})
	missing := filepath.Join(t.TempDir(), "none.pem")
	for name, c := range map[string]struct {
		config listen.Config
		want   quiz.Code
	}{
		"an address that is taken":       {listen.Config{Handler: h, Address: r.at.Server.String()}, quiz.Unavailable},
		"its redirect taken":             {listen.Config{Handler: h, Address: "127.0.0.1:0", Redirect: r.at.Server.String()}, quiz.Unavailable},
		"the one for metrics taken":      {listen.Config{Handler: h, Address: "127.0.0.1:0", Admin: h, AdminAddress: r.at.Server.String()}, quiz.Unavailable},
		"no certificate":                 {listen.Config{Handler: h, Address: "127.0.0.1:0", TLS: listen.TLS{CertFile: missing, KeyFile: missing}}, quiz.Invalid},
		"a certificate without a key":    {listen.Config{Handler: h, Address: "127.0.0.1:0", TLS: listen.TLS{CertFile: missing}}, quiz.Invalid},
		"certificates from two sources":  {listen.Config{Handler: h, Address: "127.0.0.1:0", TLS: listen.TLS{CertFile: missing, KeyFile: missing, Hosts: []string{"a.example"}}}, quiz.Invalid},
		"automatic ones without a cache": {listen.Config{Handler: h, Address: "127.0.0.1:0", TLS: listen.TLS{Hosts: []string{"a.example"}}}, quiz.Invalid},
	} {
		if err := listen.Run(t.Context(), c.config); quiz.ErrorCode(err) != c.want {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestCertificatesFromFiles(t *testing.T) {
	dir := t.TempDir()
	a := newAuthority(t)
	cert, key := filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	a.write(t, cert, key, 1, "training.example")
	r := run(t, listen.Config{TLS: listen.TLS{CertFile: cert, KeyFile: key}, Redirect: "127.0.0.1:0", Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		fmt.Fprint(w, r.Proto)
	})})
	client := a.client(r.at.Server.String())
	if status, body, err := get(client, "https://training.example/"); err != nil || status != 200 || body != "HTTP/2.0" {
		t.Errorf("HTTPS: %d %s %v", status, body, err)
	}
	if _, err := tls.Dial("tcp", r.at.Server.String(), &tls.Config{RootCAs: a.pool, ServerName: "training.example", MinVersion: tls.VersionTLS10, MaxVersion: tls.VersionTLS11}); err == nil {
		t.Error("TLS 1.1 is spoken")
	}
	_, port, _ := net.SplitHostPort(r.at.Server.String())
	plain := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	for _, c := range []struct {
		method, host, want string
		status             int
	}{
		{"GET", "training.example", "https://training.example:" + port + "/quizzes/1?a=b", 308},
		{"HEAD", "training.example:8080", "https://training.example:" + port + "/quizzes/1?a=b", 308},
		{"GET", "[2001:db8::1]:80", "https://[2001:db8::1]:" + port + "/quizzes/1?a=b", 308},
		{"POST", "training.example", "", 400}, // what was typed has been sent in the clear
	} {
		req, _ := http.NewRequest(c.method, "http://"+r.at.Redirect.String()+"/quizzes/1?a=b", nil)
		req.Host = c.host
		res, err := plain.Do(req)
		must(t, err)
		res.Body.Close()
		if res.StatusCode != c.status || res.Header.Get("Location") != c.want {
			t.Errorf("%s http://%s: %d to %q", c.method, c.host, res.StatusCode, res.Header.Get("Location"))
		}
	}
}

func TestSlowClientsAreCutOff(t *testing.T) {
	var asked atomic.Int32
	r := run(t, listen.Config{Times: listen.Times{Header: 20 * time.Millisecond}, Handler: http.HandlerFunc(func(http.ResponseWriter, *http.Request) { asked.Add(1) })})
	c, err := net.Dial("tcp", r.at.Server.String())
	must(t, err)
	defer c.Close()
	fmt.Fprint(c, "GET / HTTP/1.1\r\nHost: x\r\nX-Slow: ") // and no more
	must(t, c.SetReadDeadline(time.Now().Add(10*time.Second)))
	if rest, err := io.ReadAll(c); err != nil && !strings.Contains(err.Error(), "reset") || bytes.Contains(rest, []byte("200 OK")) {
		t.Errorf("a slow client: %q, %v", rest, err)
	}
	big, err := net.Dial("tcp", r.at.Server.String())
	must(t, err)
	defer big.Close()
	fmt.Fprintf(big, "GET / HTTP/1.1\r\nHost: x\r\nX-Big: %s\r\n\r\n", strings.Repeat("x", 100<<10))
	if res, err := http.ReadResponse(bufio.NewReader(big), nil); err == nil && res.StatusCode != http.StatusRequestHeaderFieldsTooLarge {
		t.Errorf("a head of 100 KiB: %v", res.Status)
	}
	if asked.Load() != 0 {
		t.Error("they reached the handler")
	}
}

func TestItSaysWhereItListens(t *testing.T) {
	var log bytes.Buffer
	l, err := observe.Logger(&log, observe.LogOptions{})
	must(t, err)
	r := run(t, listen.Config{Handler: http.NotFoundHandler(), Log: l})
	r.stop()
	must(t, <-r.done)
	for _, want := range []string{"listen=" + r.at.Server.String(), "msg=stopping", "msg=stopped"} {
		if !strings.Contains(log.String(), want) {
			t.Errorf("no %s in\n%s", want, log.String())
		}
	}
}
