package paper

import (
	"bytes"
	"strings"
	"testing"
	"time"
)

// sampleCertificate is one as the demo shop would issue it.
func sampleCertificate() Certificate {
	return Certificate{
		Person:       "Maren Ostvold",
		Organisation: "Wexcombe Estate & Farm Services",
		Site:         "Lower Wexcombe workshop",
		Quiz:         "Tarnfell lookup, workshop level",
		Skills: []CertifiedSkill{
			{Name: "Reading a product number", Level: "Assured", Score: "20 of 20"},
			{Name: "Edition for a build date", Level: "Assured", Score: "38 of 40"},
			{Name: "Group of a component", Level: "Independent", Score: "17 of 20"},
			{Name: "Service operations due", Level: "Independent", Score: "16 of 20"},
			{Name: "Trouble code to test step", Level: "Assured", Score: "19 of 20"},
			{Name: "Limits under a condition", Level: "Independent", Score: "15 of 18"},
		},
		CatalogTitle:    "Tarnfell service literature",
		CatalogRevision: "2031-02",
		Issued:          time.Date(2031, 3, 14, 0, 0, 0, 0, time.UTC),
		Expires:         time.Date(2033, 3, 13, 0, 0, 0, 0, time.UTC),
		Number:          "WX-2031-0042",
		VerifyURL:       "https://training.wexcombe.example/verify/WX-2031-0042?code=7K4M-2QXD",
		Signatory:       "Ida Brandreth",
		SignatoryRole:   "training coordinator",
		KeyName:         "did:key:z6MkrJVnaZkeFzdQyMZu1cgjg7k1pZZ6pvBQ7XJPt4swbTQ2",
	}
}

func certificatePDF(t *testing.T, c Certificate) []byte {
	t.Helper()
	var buf bytes.Buffer
	if err := WriteCertificate(&buf, c); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func TestCertificateIsDeterministic(t *testing.T) {
	first := certificatePDF(t, sampleCertificate())
	again := sampleCertificate()
	again.Issued = again.Issued.Add(7 * time.Hour) // the time of day does not matter
	if !bytes.Equal(first, certificatePDF(t, again)) {
		t.Error("the same certificate printed twice differs")
	}
}

func TestCertificateRefusesWhatIsMissing(t *testing.T) {
	tests := []struct {
		name   string
		change func(*Certificate)
		want   string
	}{
		{"person", func(c *Certificate) { c.Person = " " }, "without person"},
		{"skills", func(c *Certificate) { c.Skills = nil }, "without skills"},
		{"level", func(c *Certificate) { c.Skills[1].Level = "" }, "skill 2"},
		{"dates", func(c *Certificate) { c.Expires = time.Time{} }, "expiry date"},
		{"order of dates", func(c *Certificate) { c.Expires = c.Issued.AddDate(0, 0, -1) }, "before it is issued"},
		{"letters that cannot be drawn", func(c *Certificate) { c.Person = "山田" }, "cannot draw"},
		{"page size", func(c *Certificate) { c.Size = "A3" }, "unknown page size"},
		{"verify URL too long for a QR code", func(c *Certificate) { c.VerifyURL = strings.Repeat("x", 5000) }, "QR code"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := sampleCertificate()
			tt.change(&c)
			var buf bytes.Buffer
			err := WriteCertificate(&buf, c)
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got error %v, want one with %q", err, tt.want)
			}
		})
	}
}
