package public_test

import (
	"context"
	"net/http"
	"strings"
	"testing"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/issuing"
	"rightpage/server/public"
	"rightpage/server/web/webtest"
)

type issuer struct{ state certificate.State }

func (i issuer) Verify(_ context.Context, number, code string) (issuing.Public, error) {
	if number != "WX-2031-0042" || !certificate.SameCode(code, "7K4M-2QXD") {
		return issuing.Public{}, quiz.Errorf(quiz.NotFound, "there is no such certificate")
	}
	return issuing.Public{Number: number, Person: "Ines <b>Marlow</b>", Organisation: "Wexcombe", Quiz: "Editions", State: i.state, Reason: "A reason.",
		Skills: []certificate.Skill{{Name: "editions", Level: issuing.LevelAssured, Score: "9 of 10"}}, CatalogTitle: "Tarnfell", CatalogRevision: "2031-1",
		Issued: time.Date(2031, 3, 1, 0, 0, 0, 0, time.UTC), Expires: time.Date(2032, 2, 28, 0, 0, 0, 0, time.UTC), Changed: 1, Lookups: 20}, nil
}

func (issuer) StatusList(context.Context) ([]byte, error) { return []byte(`{"type":"list"}`), nil }
func (issuer) DIDDocument() ([]byte, error)               { return nil, quiz.Errorf(quiz.NotFound, "no web site") }

func visit(t *testing.T, state certificate.State) *webtest.Browser {
	t.Helper()
	a, _ := webtest.Open(t)
	p, err := public.New(a, issuer{state})
	if err != nil {
		t.Fatal(err)
	}
	return webtest.Visit(t, webtest.Serve(t, a, p.Routes()))
}

func TestAnybodyCanCheckACertificate(t *testing.T) {
	b := visit(t, certificate.Outdated)
	if a := b.Get("/verify"); a.Status != http.StatusOK || strings.Contains(a.Body, "Marlow") {
		t.Errorf("the form: %d\n%s", a.Status, a.Body)
	}
	// As the QR code has it, and typed without hyphen and in small letters.
	for _, path := range []string{issuing.VerifyURL("", "WX-2031-0042", "7K4M-2QXD"), "/verify?number=WX-2031-0042&code=7k4m2qxd"} {
		a := b.Get(path)
		for _, want := range []string{"outdated", "Ines &lt;b&gt;Marlow", "9 of 10", "1 March 2031", "28 February 2032", "One of 20 lookups", "not a licence"} {
			if !strings.Contains(strings.ToLower(a.Body), strings.ToLower(want)) {
				t.Errorf("%s: no %q in\n%s", path, want, a.Body)
			}
		}
	}
	for _, path := range []string{"/verify/WX-2031-0042/7K4M-2QXE", "/verify/WX-2031-0041/7K4M-2QXD"} {
		if a := b.Get(path); a.Status != http.StatusNotFound || strings.Contains(a.Body, "Marlow") {
			t.Errorf("%s: %d\n%s", path, a.Status, a.Body)
		}
	}
}

func TestGuessingIsSlow(t *testing.T) {
	b := visit(t, certificate.Valid)
	for n := 1; ; n++ {
		a := b.Get("/verify/WX-2031-0042/0000-0000")
		if a.Status == http.StatusTooManyRequests {
			if a.Header.Get("Retry-After") == "" {
				t.Error("it is not told how long to wait")
			}
			break
		}
		if n > 100 {
			t.Fatal("a hundred guesses at once were let through")
		}
	}
	// Even the right code is not told to whoever guesses that fast.
	if a := b.Get("/verify/WX-2031-0042/7K4M-2QXD"); a.Status != http.StatusTooManyRequests {
		t.Errorf("status %d", a.Status)
	}
}

func TestWhatProgramsNeed(t *testing.T) {
	b := visit(t, certificate.Valid)
	a := b.Get("/credentials/status")
	if a.Status != http.StatusOK || a.Header.Get("Access-Control-Allow-Origin") != "*" || a.Header.Get("Content-Type") != "application/vc" || len(a.Header.Values("Set-Cookie")) > 0 {
		t.Errorf("%d %v", a.Status, a.Header)
	}
	if a := b.Get("/.well-known/did.json"); a.Status != http.StatusNotFound || !strings.Contains(a.Body, `"not found"`) {
		t.Errorf("%d %s", a.Status, a.Body)
	}
}
