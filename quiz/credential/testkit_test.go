package credential

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/jung-kurt/gofpdf"

	"rightpage/quiz/certificate"
)

// Everything below is fixed, so that every run checks the same bytes.

var issuedAt = time.Date(2031, 3, 14, 9, 30, 0, 0, time.UTC)

func newRandom(seed byte) *rand.ChaCha8 {
	return rand.NewChaCha8([32]byte{seed})
}

func testRing(t testing.TB) *Keyring {
	t.Helper()
	ring, err := NewKeyring(issuedAt.Add(-24*time.Hour), newRandom(1))
	if err != nil {
		t.Fatal(err)
	}
	return ring
}

func testSigner(t testing.TB, ring *Keyring) Signer {
	t.Helper()
	s, err := ring.Signer()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func testCertificate() certificate.Certificate {
	return certificate.Certificate{
		Number: "WX-2031-0042", Person: "Maren Østvold", Organisation: "Wexcombe Estate & Farm Services",
		Quiz: "Tarnfell lookup, workshop level",
		Skills: []certificate.Skill{
			{Name: "Edition for a build date", Level: "Assured", Score: "38 of 40"},
			{Name: "Group of a component", Level: "Independent"},
		},
		CatalogTitle: "Tarnfell service literature", CatalogRevision: "2031-02",
		Issued: time.Date(2031, 3, 14, 0, 0, 0, 0, time.UTC), Expires: time.Date(2033, 3, 13, 0, 0, 0, 0, time.UTC),
		VerifyURL: "https://training.wexcombe.example/verify/WX-2031-0042?code=7K4M-2QXD",
	}
}

// smallPDF is a page by the library that prints certificates, small enough to
// flip each of its bits.
func smallPDF(t testing.TB) []byte {
	t.Helper()
	pdf := gofpdf.New("L", "mm", "A4", "")
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(issuedAt)
	pdf.SetModificationDate(issuedAt)
	pdf.AddPage()
	pdf.SetFont("Helvetica", "", 20)
	pdf.Text(20, 40, "Maren Ostvold")
	var buf bytes.Buffer
	if err := pdf.Output(&buf); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

// smallPNG is an image small enough to flip each of its bits.
func smallPNG(t testing.TB) []byte {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, 12, 12))
	for i := range 12 {
		img.SetGray(i, i, color.Gray{Y: uint8(20 * i)})
	}
	var buf bytes.Buffer
	if err := png.Encode(&buf, img); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func testBundle(t testing.TB, s Signer) Bundle {
	t.Helper()
	b, err := s.Issue(testCertificate(), IssueOptions{Now: issuedAt, PDF: smallPDF(t), PNG: smallPNG(t)})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// forms lists a bundle's files by format.
func (b Bundle) forms() map[string][]byte {
	return map[string][]byte{"json": b.JSON, "jwt": b.JWT, "pdf": b.PDF, "png": b.PNG}
}

func verify(t testing.TB, data []byte, o Options) Result {
	t.Helper()
	r, err := VerifyFile(data, o)
	if err != nil {
		t.Fatal(err)
	}
	if r.Reason == "" || r.Outcome == "" || r.Valid != (r.Outcome == Genuine) {
		t.Fatalf("incomplete result %+v", r)
	}
	return r
}
