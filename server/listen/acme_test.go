package listen_test

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"encoding/json"
	"encoding/pem"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"rightpage/server/listen"
)

// acmeServer is an authority that speaks as much of ACME as is needed to get a
// certificate (RFC 8555, 7.1 to 7.5; challenges by 8.3, and RFC 8737 for the one
// over TLS). It does not check signatures: that is the library's business. It
// does check that the server answers its challenge, as only the holder of the
// name can.
type acmeServer struct {
	t         *testing.T
	a         *authority
	srv       *httptest.Server
	challenge string                         // type that it offers
	prove     func(host, token string) error // asks the server for its proof
	mu        sync.Mutex
	issued    []string
	valid     bool
	chain     []byte
	host      string
}

func newACME(t *testing.T, a *authority, challenge string) *acmeServer {
	s := &acmeServer{t: t, a: a, challenge: challenge}
	s.srv = httptest.NewTLSServer(http.HandlerFunc(s.serve))
	t.Cleanup(s.srv.Close)
	return s
}

// payload reads what a request holds (RFC 7515).
func payload(r *http.Request, v any) error {
	var jws struct{ Protected, Payload, Signature string }
	if err := json.NewDecoder(r.Body).Decode(&jws); err != nil || jws.Signature == "" {
		return fmt.Errorf("no signed request: %v", err)
	}
	text, err := base64.RawURLEncoding.DecodeString(jws.Payload)
	if err != nil || len(text) == 0 {
		return err
	}
	return json.Unmarshal(text, v)
}

const token = "evaGxfADs6pSRb2LAv9IZf17Dt3juxGJ-PCt92wr-oA" // RFC 8555, 8.3

func (s *acmeServer) serve(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	u := s.srv.URL
	w.Header().Set("Replay-Nonce", "nonce")
	answer := func(status int, at string, v any) {
		if at != "" {
			w.Header().Set("Location", u+at)
		}
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(status)
		_ = json.NewEncoder(w).Encode(v)
	}
	state := map[bool]string{true: "valid", false: "pending"}[s.valid]
	challenge := map[string]any{"type": s.challenge, "url": u + "/challenge", "token": token, "status": state}
	order := func() map[string]any {
		o := map[string]any{"status": "pending", "identifiers": []any{map[string]any{"type": "dns", "value": s.host}}, "authorizations": []string{u + "/authorization"}, "finalize": u + "/finalize"}
		if s.valid {
			o["status"] = "ready"
		}
		if s.chain != nil {
			o["status"], o["certificate"] = "valid", u+"/certificate"
		}
		return o
	}
	switch r.URL.Path {
	case "/directory":
		answer(200, "", map[string]any{"newNonce": u + "/nonce", "newAccount": u + "/account", "newOrder": u + "/order", "meta": map[string]any{"termsOfService": u + "/terms"}})
	case "/nonce":
	case "/account":
		var account struct {
			Agreed  bool     `json:"termsOfServiceAgreed"`
			Contact []string `json:"contact"`
		}
		if err := payload(r, &account); err != nil || !account.Agreed || !slices.Equal(account.Contact, []string{"mailto:office@wexcombe.example"}) {
			s.t.Errorf("account: %+v, %v", account, err)
		}
		answer(201, "/account/1", map[string]any{"status": "valid"})
	case "/order":
		var want struct {
			Identifiers []struct{ Type, Value string }
		}
		if err := payload(r, &want); err != nil || len(want.Identifiers) != 1 {
			s.t.Errorf("order: %+v, %v", want, err)
			return
		}
		s.host, s.valid, s.chain = want.Identifiers[0].Value, false, nil
		answer(201, "/order/1", order())
	case "/order/1":
		answer(200, "", order())
	case "/authorization":
		answer(200, "", map[string]any{"status": state, "identifier": map[string]any{"type": "dns", "value": s.host}, "challenges": []any{challenge}})
	case "/challenge":
		if err := s.prove(s.host, token); err != nil {
			s.t.Errorf("the server does not prove that it holds %s: %v", s.host, err)
			answer(200, "", challenge)
			return
		}
		s.valid = true
		challenge["status"] = "valid"
		answer(200, "", challenge)
	case "/finalize":
		var want struct{ CSR string }
		must(s.t, payload(r, &want))
		der, err := base64.RawURLEncoding.DecodeString(want.CSR)
		must(s.t, err)
		csr, err := x509.ParseCertificateRequest(der)
		if err != nil || csr.CheckSignature() != nil || !s.valid {
			s.t.Errorf("finalize: %v, valid %v", err, s.valid)
			return
		}
		s.chain = append(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: s.a.sign(s.t, csr.PublicKey, 42, time.Now().AddDate(0, 0, 90), csr.DNSNames...)}),
			pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: s.a.cert.Raw})...)
		s.issued = append(s.issued, csr.DNSNames...)
		answer(200, "/order/1", order())
	case "/certificate":
		w.Header().Set("Content-Type", "application/pem-certificate-chain")
		_, _ = w.Write(s.chain)
	default:
		s.t.Errorf("asked for %s", r.URL.Path)
		http.NotFound(w, r)
	}
}

func TestAutomaticCertificates(t *testing.T) {
	for _, challenge := range []string{"http-01", "tls-alpn-01"} {
		t.Run(challenge, func(t *testing.T) {
			a := newAuthority(t)
			s := newACME(t, a, challenge)
			roots := x509.NewCertPool()
			roots.AddCert(s.srv.Certificate())
			cache := t.TempDir()
			config := listen.Config{Redirect: "127.0.0.1:0", Handler: http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, "served") }),
				TLS: listen.TLS{Hosts: []string{"training.wexcombe.example"}, Cache: cache, Contact: "office@wexcombe.example", Directory: s.srv.URL + "/directory", Roots: roots}}
			r := run(t, config)
			s.prove = func(host, token string) error {
				if challenge == "tls-alpn-01" {
					return provedByTLS(r.at.Server.String(), host)
				}
				return provedByHTTP(r.at.Redirect.String(), host, token)
			}
			client := a.client(r.at.Server.String())
			for range 2 {
				if status, body, err := get(client, "https://training.wexcombe.example/"); err != nil || status != 200 || body != "served" {
					t.Fatalf("%d %s %v", status, body, err)
				}
			}
			if _, _, err := get(client, "https://other.example/"); err == nil {
				t.Error("a certificate for a name that was not given")
			}
			if res, err := http.Get("http://" + r.at.Redirect.String() + "/.well-known/acme-challenge/guessed"); err == nil {
				res.Body.Close()
				if res.StatusCode == http.StatusOK {
					t.Error("a challenge that nobody set is answered")
				}
			}
			r.stop()
			must(t, <-r.done)
			// The next process finds the certificate where it was kept.
			r = run(t, config)
			if status, _, err := get(a.client(r.at.Server.String()), "https://training.wexcombe.example/"); err != nil || status != 200 {
				t.Errorf("started again: %d %v", status, err)
			}
			if fmt.Sprint(s.issued) != "[training.wexcombe.example]" {
				t.Errorf("issued: %v", s.issued)
			}
			kept, err := os.ReadDir(cache)
			must(t, err)
			for _, f := range kept {
				if info, err := f.Info(); err != nil || info.Mode().Perm()&0o077 != 0 {
					t.Errorf("%s may be read by others: %v", f.Name(), info.Mode())
				}
			}
		})
	}
}

// provedByHTTP asks as RFC 8555, 8.3 has it.
func provedByHTTP(address, host, token string) error {
	client := &http.Client{Transport: &http.Transport{DialContext: func(ctx context.Context, network, _ string) (net.Conn, error) {
		return (&net.Dialer{}).DialContext(ctx, network, address)
	}}}
	res, err := client.Get("http://" + host + "/.well-known/acme-challenge/" + token)
	if err != nil {
		return err
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != 200 || !strings.HasPrefix(string(body), token+".") {
		return fmt.Errorf("%s %q: %v", res.Status, body, err)
	}
	return nil
}

// provedByTLS asks as RFC 8737 has it: the protocol acme-tls/1, and a
// certificate with the extension 1.3.6.1.5.5.7.1.31.
func provedByTLS(address, host string) error {
	c, err := tls.Dial("tcp", address, &tls.Config{ServerName: host, NextProtos: []string{"acme-tls/1"}, InsecureSkipVerify: true})
	if err != nil {
		return err
	}
	defer c.Close()
	state := c.ConnectionState()
	for _, e := range state.PeerCertificates[0].Extensions {
		if e.Id.String() == "1.3.6.1.5.5.7.1.31" && e.Critical && state.NegotiatedProtocol == "acme-tls/1" {
			return nil
		}
	}
	return fmt.Errorf("its certificate holds no proof")
}
