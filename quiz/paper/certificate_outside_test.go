package paper

import (
	"bytes"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"rightpage/quiz/certificate"
	"rightpage/quiz/credential"
)

// What this package prints is checked by programs that have no code in common
// with it: poppler (pdfinfo, pdftotext, pdffonts, pdftoppm, pdfdetach), qpdf,
// and zbar for QR codes. Debian: poppler-utils qpdf zbar-tools.

// outside runs another program and returns what it prints. A program that is
// not installed skips the test at a desk and fails it in CI.
func outside(t *testing.T, name string, args ...string) string {
	t.Helper()
	requireTool(t, name)
	var stderr bytes.Buffer
	cmd := exec.Command(name, args...)
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s%s", name, strings.Join(args, " "), err, out, stderr.Bytes())
	}
	return string(out)
}

// onDisk writes data to a file for another program to read.
func onDisk(t *testing.T, name string, data []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestOutsideProgramsReadOurPDFs(t *testing.T) {
	long := sampleCertificate()
	long.Size = Letter
	for len(long.Skills) < 30 {
		long.Skills = append(long.Skills, CertifiedSkill{Name: "Skill of a long list", Level: "Assured"})
	}
	letterNotice := longNotice()
	letterNotice.Size = Letter
	tests := []struct {
		name  string
		write func(*bytes.Buffer) error
		pages string
		size  string // pdfinfo's words
		title string
		text  []string
		qr    string // on the first page; empty for none
	}{
		{"certificate", func(b *bytes.Buffer) error { return WriteCertificate(b, sampleCertificate()) }, "1", "841.89 x 595.28 pts (A4)",
			"Certificate WX-2031-0042: Maren Ostvold",
			[]string{"Maren Ostvold", "WX-2031-0042", "Edition for a build date", "38 of 40", "14 March 2031", "13 March 2033",
				"revision 2031-02", "not a licence", "Wexcombe Estate & Farm Services", "did:key:z6Mk"},
			sampleCertificate().VerifyURL},
		{"certificate of 30 skills", func(b *bytes.Buffer) error { return WriteCertificate(b, long) }, "2", "792 x 612 pts (letter)",
			"Certificate WX-2031-0042: Maren Ostvold", []string{"30 skills", "Skill of a long list"}, long.VerifyURL},
		{"progress", func(b *bytes.Buffer) error { return WriteProgressReport(b, sampleProgress()) }, "1", "595.28 x 841.89 pts (A4)",
			"Progress of Teun Hallewas",
			[]string{"Teun Hallewas", "6 January 2031 to 30 March 2031", "Limit read on the wrong side", "86 %", "34 of 40", "page 1 of 1"}, ""},
		{"readiness", func(b *bytes.Buffer) error { return WriteReadinessReport(b, sampleReadiness()) }, "1", "595.28 x 841.89 pts (A4)",
			"Readiness, 30 March 2031", []string{"2 of 5 ready", "Anselm Yeo", "96 %", "12 May 2031", "page 1 of 1"}, ""},
		{"notice", func(b *bytes.Buffer) error { return WriteNotice(b, sampleNotice()) }, "1", "595.28 x 841.89 pts (A4)",
			"Tarnfell service literature, revision 2031-09: what changed",
			[]string{"Front axle oil seal", "TR-214, section 3-2", "214 of 6120", "Stored energy", "page 1 of 1"}, sampleNotice().URL},
		{"notice of 60 changes", func(b *bytes.Buffer) error { return WriteNotice(b, letterNotice) }, "7", "612 x 792 pts (letter)",
			"Tarnfell service literature, revision 2031-09: what changed", []string{"(1)", "(60)", "page 1 of 7", "page 7 of 7"}, sampleNotice().URL},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var buf bytes.Buffer
			if err := tt.write(&buf); err != nil {
				t.Fatal(err)
			}
			path := onDisk(t, "document.pdf", buf.Bytes())
			if out := outside(t, "qpdf", "--check", path); !strings.Contains(out, "No syntax or stream encoding errors found") {
				t.Errorf("qpdf: %s", out)
			}
			info := outside(t, "pdfinfo", path)
			for field, want := range map[string]string{"Pages": tt.pages, "Page size": tt.size, "Title": tt.title, "Encrypted": "no"} {
				if got := infoField(info, field); got != want {
					t.Errorf("pdfinfo: %s is %q, want %q", field, got, want)
				}
			}
			text := strings.Join(strings.Fields(outside(t, "pdftotext", "-layout", path, "-")), " ")
			for _, want := range tt.text {
				if !strings.Contains(text, want) {
					t.Errorf("pdftotext: no %q in\n%.2000s", want, text)
				}
			}
			if strings.ContainsRune(text, '\uFFFD') {
				t.Error("pdftotext: a character that the fonts do not have")
			}
			for _, line := range strings.Split(strings.TrimSpace(outside(t, "pdffonts", path)), "\n")[2:] {
				// name, type (CID TrueType), encoding, emb, sub, uni, object
				if !regexp.MustCompile(`CID TrueType\s+Identity-H\s+yes\s`).MatchString(line) {
					t.Errorf("pdffonts: not an embedded font: %s", line)
				}
			}
			page := strings.TrimSuffix(path, ".pdf")
			outside(t, "pdftoppm", "-r", "150", "-gray", "-png", "-singlefile", path, page)
			if tt.qr == "" {
				return
			}
			if got := strings.TrimSpace(outside(t, "zbarimg", "--quiet", "--raw", page+".png")); got != tt.qr {
				t.Errorf("zbarimg reads %q, want %q", got, tt.qr)
			}
		})
	}
}

func infoField(info, field string) string {
	for _, line := range strings.Split(info, "\n") {
		if value, ok := strings.CutPrefix(line, field+":"); ok {
			return strings.TrimSpace(value)
		}
	}
	return ""
}

// chain issues the sample certificate with its printed page and badge.
func chain(t *testing.T) (credential.Bundle, credential.Options) {
	t.Helper()
	now := time.Date(2031, 3, 14, 9, 0, 0, 0, time.UTC)
	ring, err := credential.NewKeyring(now, bytes.NewReader(bytes.Repeat([]byte{7}, 32)))
	if err != nil {
		t.Fatal(err)
	}
	signer, err := ring.Signer()
	if err != nil {
		t.Fatal(err)
	}
	s := sampleCertificate()
	c := certificate.Certificate{Number: s.Number, Person: s.Person, Organisation: s.Organisation, Site: s.Site, Quiz: s.Quiz,
		Skills: s.Skills, CatalogTitle: s.CatalogTitle, CatalogRevision: s.CatalogRevision,
		Issued: s.Issued, Expires: s.Expires, VerifyURL: s.VerifyURL}
	printed := CertificateOf(c)
	printed.KeyName = signer.DID
	bundle, err := signer.Issue(c, credential.IssueOptions{Now: now, PDF: certificatePDF(t, printed), PNG: badgePNG(t, BadgeOf(c))})
	if err != nil {
		t.Fatal(err)
	}
	return bundle, credential.Options{Now: now, Trusted: ring.Trusted()}
}

func TestCertificateCarriesItsCredential(t *testing.T) {
	bundle, o := chain(t)
	for name, data := range map[string][]byte{"PDF": bundle.PDF, "PNG": bundle.PNG} {
		r, err := credential.VerifyFile(data, o)
		if err != nil || !r.Valid || r.Person != "Maren Ostvold" {
			t.Errorf("%s: %+v, %v", name, r, err)
		}
	}
	// Poppler and qpdf find the attachment and no fault; the page is the same.
	path := onDisk(t, "signed.pdf", bundle.PDF)
	if out := outside(t, "qpdf", "--check", path); !strings.Contains(out, "No syntax or stream encoding errors found") {
		t.Errorf("qpdf: %s", out)
	}
	saved := filepath.Join(t.TempDir(), "credential.json")
	outside(t, "pdfdetach", "-save", "1", "-o", saved, path)
	if got, err := os.ReadFile(saved); err != nil || !bytes.Equal(got, bundle.JSON) {
		t.Errorf("pdfdetach saves %d bytes, %v; want the credential of %d", len(got), err, len(bundle.JSON))
	}
	if out := outside(t, "pdfdetach", "-list", path); !strings.Contains(out, "1 embedded files") || !strings.Contains(out, "credential.json") {
		t.Errorf("pdfdetach: %s", out)
	}
	page := strings.TrimSuffix(path, ".pdf")
	outside(t, "pdftoppm", "-r", "100", "-png", "-singlefile", path, page)
	if got := strings.TrimSpace(outside(t, "zbarimg", "--quiet", "--raw", page+".png")); got != sampleCertificate().VerifyURL {
		t.Errorf("zbarimg reads %q", got)
	}
	if _, err := png.Decode(bytes.NewReader(bundle.PNG)); err != nil {
		t.Errorf("the baked badge: %v", err)
	}
}

// The file that another program saved is not the file that was issued, even
// though it looks the same: it must not pass for it.
func TestSavedAgainIsNotTheOriginal(t *testing.T) {
	bundle, o := chain(t)
	path := onDisk(t, "signed.pdf", bundle.PDF)
	again := path + ".again.pdf"
	outside(t, "qpdf", path, again)
	data, err := os.ReadFile(again)
	if err != nil {
		t.Fatal(err)
	}
	r, err := credential.VerifyFile(data, o)
	if err != nil || r.Valid || !strings.Contains(r.Reason, "original") {
		t.Errorf("%+v, %v; want a refusal that asks for the original", r, err)
	}
}

// Every part of the real files counts. All bits of smaller files by the same
// writers have their turn in package credential; here every 151st byte does.
func TestFlippedBitInTheRealCertificateFails(t *testing.T) {
	bundle, o := chain(t)
	for name, data := range map[string][]byte{"PDF": bundle.PDF, "PNG": bundle.PNG} {
		changed := bytes.Clone(data)
		for i := 0; i < len(data); i += 151 {
			changed[i] ^= 1 << (i % 8)
			if r, err := credential.VerifyFile(changed, o); err != nil || r.Valid {
				t.Errorf("%s: byte %d does not matter (%v)", name, i, err)
			}
			changed[i] ^= 1 << (i % 8)
		}
	}
}
