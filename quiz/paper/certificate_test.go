package paper

import (
	"bytes"
	"io"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
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
		{"a name too long to print", func(c *Certificate) { c.Person = strings.Repeat("Wolfeschlegelsteinhausen ", 12) }, "too long to print"},
		{"a quiz too long to print", func(c *Certificate) { c.Quiz = strings.Repeat("on and on ", 30) }, "too long to print"},
		{"a skill too long to print", func(c *Certificate) { c.Skills[0].Name = strings.Repeat("on and on ", 30) }, "too long to print"},
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

// hostileTexts are names and notes that trouble a layout or the PDF library,
// which fails by itself beyond the basic plane.
var hostileTexts = []string{
	"", " ", "\n\n", "\x00\x01", "a\tb", "\U0001F527 \U0010FFFF \uFFFF \U00010000", "Jose\u0301", "\u202eabc", "山田太郎", "عمر",
	"\xff\xfe", strings.Repeat("x", 3000), strings.Repeat("word ", 400), strings.Repeat("\n", 60), "(\\)%s %d & <b>",
}

func TestHostileTextPrintsOrIsRefused(t *testing.T) {
	for _, text := range hostileTexts {
		c := sampleCertificate()
		c.Person, c.Quiz, c.Site, c.Skills[0].Name = "M"+text, "Q"+text, text, "S"+text
		_ = WriteCertificate(io.Discard, c) // refused or printed, but no panic
		b := sampleBadge()
		b.Person = "M" + text
		if err := WriteBadge(io.Discard, b); err != nil {
			t.Errorf("badge for %.40q: %v", text, err)
		}
		p := sampleProgress()
		p.Person, p.Summary, p.Skills[0].Slip, p.Next[0] = "M"+text, text, text, text
		if err := WriteProgressReport(io.Discard, p); err != nil {
			t.Errorf("progress report with %.40q: %v", text, err)
		}
		r := sampleReadiness()
		r.Courses[0].Course, r.Courses[0].People[0].Person, r.Courses[0].People[0].Why = text, text, text
		if err := WriteReadinessReport(io.Discard, r); err != nil {
			t.Errorf("readiness report with %.40q: %v", text, err)
		}
		n := sampleNotice()
		n.Headline, n.Changes[0].Subject, n.Changes[0].Hazard, n.Changes[0].Kind = text, text, text, text
		if err := WriteNotice(io.Discard, n); err != nil {
			t.Errorf("notice with %.40q: %v", text, err)
		}
	}
}

// Wrapped lines are no wider than asked, none of the text is lost, and a line
// breaks only at spaces unless a word alone is too wide.
func TestWrapKeepsTheTextWithinTheWidth(t *testing.T) {
	pdf, err := newDocument(documentOptions{Created: testDate, Faces: []face{faceSans, faceDisplay}})
	if err != nil {
		t.Fatal(err)
	}
	pdf.AddPage()
	d := newDrawing(pdf)
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.StringMatching(`([a-z]{1,14} ){0,20}[0-9]{1,3} %`)).Draw(t, "text")
		f := rapid.SampledFrom([]face{faceSans, faceDisplay}).Draw(t, "face")
		w := rapid.Float64Range(20, 120).Draw(t, "width")
		lines := d.wrap(f, 10, w, text)
		for _, line := range lines {
			if got := d.widthOf(f, 10, line); got > w+1e-6 {
				t.Fatalf("line %q is %.2f wide, more than %.2f", line, got, w)
			}
			if strings.HasPrefix(line, "%") && strings.Contains(text, "0 %") {
				t.Fatalf("a line begins with the percent sign: %q", lines)
			}
		}
		letters := func(s string) string {
			return strings.Map(func(r rune) rune {
				if r == ' ' || r == '\n' {
					return -1
				}
				return r
			}, s)
		}
		if got, want := letters(strings.Join(lines, "")), letters(f.printable(keepUnit.Replace(text))); got != want {
			t.Fatalf("wrapped text is %q, want %q", got, want)
		}
		d.fit(f, 12, 6, 10, 10, w, text)
	})
	if err := pdf.Output(io.Discard); err != nil {
		t.Fatal(err)
	}
}
