package credential

import "testing"

// Checking one certificate in each form.
func BenchmarkVerify(b *testing.B) {
	ring := testRing(b)
	bundle := testBundle(b, testSigner(b, ring))
	o := Options{Now: issuedAt, Trusted: ring.Trusted()}
	for _, format := range []string{"json", "jwt", "pdf", "png"} {
		data := bundle.forms()[format]
		b.Run(format, func(b *testing.B) {
			for b.Loop() {
				if r, err := VerifyFile(data, o); err != nil || !r.Valid {
					b.Fatal(err, r)
				}
			}
		})
	}
}

// Signing one certificate in all forms.
func BenchmarkIssue(b *testing.B) {
	s := testSigner(b, testRing(b))
	c, o := testCertificate(), IssueOptions{Now: issuedAt, PDF: smallPDF(b), PNG: smallPNG(b)}
	for b.Loop() {
		if _, err := s.Issue(c, o); err != nil {
			b.Fatal(err)
		}
	}
}
