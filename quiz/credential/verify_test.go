package credential

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestEveryFormVerifies(t *testing.T) {
	ring := testRing(t)
	bundle := testBundle(t, testSigner(t, ring))
	for format, data := range bundle.forms() {
		t.Run(format, func(t *testing.T) {
			r := verify(t, data, Options{Now: issuedAt, Trusted: ring.Trusted()})
			if !r.Valid || r.Format != format || !r.IssuerKnown {
				t.Fatalf("got %+v", r)
			}
			c := testCertificate()
			if r.Number != c.Number || r.Person != c.Person || r.Organisation != c.Organisation || r.Quiz != c.Quiz ||
				r.CatalogTitle != c.CatalogTitle || r.CatalogRevision != c.CatalogRevision ||
				!r.ValidFrom.Equal(c.ValidFrom()) || !r.ValidUntil.Equal(c.ValidUntil()) {
				t.Errorf("what was signed is not what was certified: %+v", r)
			}
			if diff := cmp.Diff(c.Skills, r.Skills); diff != "" {
				t.Errorf("skills (-certified +signed):\n%s", diff)
			}
			if !strings.Contains(r.Statement, "not a licence") {
				t.Errorf("the statement %q does not say what it does not license", r.Statement)
			}
		})
	}
}

func TestIssuingIsDeterministic(t *testing.T) {
	s := testSigner(t, testRing(t))
	first, again := testBundle(t, s), testBundle(t, s)
	for format, data := range first.forms() {
		if !bytes.Equal(data, again.forms()[format]) {
			t.Errorf("%s differs between two issues of the same certificate", format)
		}
	}
}

func TestVerdicts(t *testing.T) {
	ring := testRing(t)
	bundle := testBundle(t, testSigner(t, ring))
	stranger, err := NewKeyring(issuedAt, newRandom(9))
	if err != nil {
		t.Fatal(err)
	}
	forged := testBundle(t, testSigner(t, stranger))
	tests := []struct {
		name   string
		data   []byte
		o      Options
		want   Outcome
		reason string
	}{
		{"no trust list: genuine, and says what was not checked", bundle.JSON, Options{Now: issuedAt}, Genuine, "compare did:key:"},
		{"first second", bundle.PDF, Options{Now: testCertificate().ValidFrom()}, Genuine, ""},
		{"second before", bundle.PDF, Options{Now: testCertificate().ValidFrom().Add(-time.Second)}, NotYet, "2031-03-14"},
		{"last second", bundle.JWT, Options{Now: testCertificate().ValidUntil()}, Genuine, ""},
		{"second after", bundle.JWT, Options{Now: testCertificate().ValidUntil().Add(time.Second)}, Expired, "2033-03-13"},
		{"another issuer", forged.PDF, Options{Now: issuedAt, Trusted: ring.Trusted()}, UnknownIssuer, "not among the trusted"},
		{"empty", nil, Options{Now: issuedAt}, Unreadable, "form that can be checked"},
		{"text", []byte("hello"), Options{Now: issuedAt}, Unreadable, "form that can be checked"},
		{"PDF without a credential", smallPDF(t), Options{Now: issuedAt}, Unreadable, "original file"},
		{"PNG without a credential", smallPNG(t), Options{Now: issuedAt}, Unreadable, "carries no credential"},
		{"too large", make([]byte, MaxFile+1), Options{Now: issuedAt}, Unreadable, "larger"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := verify(t, tt.data, tt.o)
			if r.Outcome != tt.want || !strings.Contains(r.Reason, tt.reason) {
				t.Errorf("got %s: %s; want %s with %q", r.Outcome, r.Reason, tt.want, tt.reason)
			}
		})
	}
	if _, err := VerifyFile(bundle.JSON, Options{}); err == nil {
		t.Error("without a time to judge by: want an error")
	}
}

// A genuine credential around which something else is printed must not pass.
func TestGenuineCredentialInAnotherFile(t *testing.T) {
	ring := testRing(t)
	s := testSigner(t, ring)
	bundle := testBundle(t, s)
	o := Options{Now: issuedAt, Trusted: ring.Trusted()}

	otherPage := bytes.Replace(smallPDF(t), []byte("/Title"), []byte("/Title"), 1)
	otherPage = append([]byte(nil), otherPage...)
	// Another page of the same length: one byte of its content differs.
	at := bytes.Index(otherPage, []byte("stream\n")) + 20
	otherPage[at] ^= 1
	swapped, err := AttachToPDF(otherPage, bundle.JSON)
	if err != nil {
		t.Fatal(err)
	}
	if r := verify(t, swapped, o); r.Outcome != Altered || r.Number != "WX-2031-0042" {
		t.Errorf("another page: %+v", r)
	}

	bare, err := s.Issue(testCertificate(), IssueOptions{Now: issuedAt})
	if err != nil {
		t.Fatal(err)
	}
	unbound, err := AttachToPDF(smallPDF(t), bare.JSON)
	if err != nil {
		t.Fatal(err)
	}
	if r := verify(t, unbound, o); r.Outcome != Altered || !strings.Contains(r.Reason, "not issued for this PDF") {
		t.Errorf("a credential that knows no PDF: %+v", r)
	}

	// Something appended behind the credential, as a later update of a PDF is.
	appended := append(bytes.Clone(bundle.PDF), "1 0 obj\n<< >>\nendobj\n%%EOF\n"...)
	if r := verify(t, appended, o); r.Valid {
		t.Errorf("something appended to the PDF: %+v", r)
	}
	if r := verify(t, append(bytes.Clone(bundle.PDF), '\n'), o); r.Valid {
		t.Errorf("a line end appended to the PDF: %+v", r)
	}
	// A text chunk slipped into the image.
	image, inner, err := UnbakePNG(bundle.PNG)
	if err != nil {
		t.Fatal(err)
	}
	moved := append(bytes.Clone(image), 0)
	if r := verify(t, moved, o); r.Valid {
		t.Errorf("the image alone, with a byte more: %+v", r)
	}
	twice, err := BakePNG(bundle.PNG, inner)
	if err == nil {
		t.Errorf("baking twice gave %d bytes, want an error", len(twice))
	}
}

func TestWhiteSpaceAndOrderOfJSONCarryNoMeaning(t *testing.T) {
	ring := testRing(t)
	bundle := testBundle(t, testSigner(t, ring))
	pretty := strings.Replace(string(bundle.JSON), `{"@context"`, "\n {\n \"@context\" ", 1) + "\n"
	if r := verify(t, []byte(pretty), Options{Now: issuedAt, Trusted: ring.Trusted()}); !r.Valid {
		t.Errorf("reformatted: %+v", r)
	}
}

func TestIssueRefuses(t *testing.T) {
	s := testSigner(t, testRing(t))
	c := testCertificate()
	c.Person = "Maren\nØstvold"
	if _, err := s.Issue(c, IssueOptions{Now: issuedAt}); err == nil || !strings.Contains(err.Error(), "cannot be printed") {
		t.Errorf("control character: %v", err)
	}
	if _, err := s.Issue(testCertificate(), IssueOptions{}); err == nil {
		t.Error("without a date: want an error")
	}
	if _, err := (Signer{}).Issue(testCertificate(), IssueOptions{Now: issuedAt}); err == nil {
		t.Error("without a key: want an error")
	}
	if _, err := s.Issue(testCertificate(), IssueOptions{Now: issuedAt, PDF: []byte("%PDF-1.7\nnot ours")}); err == nil {
		t.Error("a foreign PDF: want an error")
	}
	if _, err := s.Issue(testCertificate(), IssueOptions{Now: issuedAt, PNG: []byte("GIF89a")}); err == nil {
		t.Error("not a PNG: want an error")
	}
}
