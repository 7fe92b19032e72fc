package paper

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"rightpage/quiz/certificate"
)

// CertifiedSkill is one skill shown on a certificate.
type CertifiedSkill = certificate.Skill

// Certificate is what a certificate prints. Everything but Site, Signatory,
// SignatoryRole, KeyName and Size is needed.
type Certificate struct {
	Size            PageSize // empty is A4; always landscape
	Person          string
	Organisation    string // who issues it
	Site            string // where the person works, if shown
	Quiz            string // what was passed
	Skills          []CertifiedSkill
	CatalogTitle    string
	CatalogRevision string
	Issued          time.Time // a date; its time of day is not shown
	Expires         time.Time // the last day on which it is valid
	Number          string
	VerifyURL       string // opens the verify page for this certificate
	Signatory       string // name under the line for the signature
	SignatoryRole   string
	KeyName         string // the issuer's DID or key fingerprint, printed small
}

// CertificateOf lays out what c states. Signatory and KeyName are the
// caller's to add.
func CertificateOf(c certificate.Certificate) Certificate {
	return Certificate{
		Person: c.Person, Organisation: c.Organisation, Site: c.Site, Quiz: c.Quiz, Skills: c.Skills,
		CatalogTitle: c.CatalogTitle, CatalogRevision: c.CatalogRevision,
		Issued: c.Issued, Expires: c.Expires, Number: c.Number, VerifyURL: c.VerifyURL,
	}
}

// check reports everything that keeps c from being printed.
func (c Certificate) check() error {
	var problems []error
	need := func(name, value string) {
		if strings.TrimSpace(value) == "" {
			problems = append(problems, fmt.Errorf("paper: certificate without %s", name))
		}
	}
	need("person", c.Person)
	need("organisation", c.Organisation)
	need("quiz", c.Quiz)
	need("catalog title", c.CatalogTitle)
	need("catalog revision", c.CatalogRevision)
	need("number", c.Number)
	need("verify URL", c.VerifyURL)
	if len(c.Skills) == 0 {
		problems = append(problems, errors.New("paper: certificate without skills"))
	}
	for i, s := range c.Skills {
		if s.Name == "" || s.Level == "" {
			problems = append(problems, fmt.Errorf("paper: skill %d of the certificate lacks its name or level", i+1))
		}
	}
	switch {
	case c.Issued.IsZero() || c.Expires.IsZero():
		problems = append(problems, errors.New("paper: certificate without issue or expiry date"))
	case c.Expires.Before(c.Issued):
		problems = append(problems, fmt.Errorf("paper: certificate expires on %s, before it is issued on %s",
			c.Expires.Format(time.DateOnly), c.Issued.Format(time.DateOnly)))
	}
	// A certificate with a box in place of a letter is worse than none.
	for _, t := range []struct{ what, text string }{
		{"person", c.Person}, {"organisation", c.Organisation}, {"signatory", c.Signatory}, {"quiz", c.Quiz},
	} {
		if missing := faceSans.missingGlyphs(compose(t.text)); len(missing) > 0 {
			problems = append(problems, fmt.Errorf(
				"paper: the embedded fonts cannot draw %q in the certificate's %s: write it in Latin, Greek or Cyrillic letters",
				string(missing), t.what))
		}
	}
	return errors.Join(problems...)
}

// The most skills that the front page lists; more move to a second page.
const skillsOnFront = 12

// WriteCertificate writes c as a PDF, landscape, one page (two when it lists
// more than twelve skills). The same c gives the same bytes. The credential
// is not part of it: package credential attaches that to the finished file,
// because the credential holds the digest of the bytes written here.
func WriteCertificate(w io.Writer, c Certificate) error {
	if err := c.check(); err != nil {
		return err
	}
	pdf, err := newDocument(documentOptions{
		Size: c.Size, Landscape: true, Created: dateOf(c.Issued),
		Title:   "Certificate " + c.Number + ": " + c.Person,
		Subject: c.Quiz + ", " + c.CatalogTitle + " " + c.CatalogRevision,
		Author:  c.Organisation,
		Faces:   []face{faceSans, faceMono, faceDisplay, faceDisplayItalic, faceDisplayCaps},
	})
	if err != nil {
		return err
	}
	d := newDrawing(pdf)
	if err := c.front(d); err != nil {
		return err
	}
	if len(c.Skills) > skillsOnFront {
		c.schedule(d)
	}
	if err := pdf.Output(w); err != nil {
		return fmt.Errorf("paper: writing certificate %s: %w", c.Number, err)
	}
	return nil
}

// dateOf drops the time of day, so that reprints do not depend on it.
func dateOf(t time.Time) time.Time {
	y, m, d := t.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// longDate prints a date with the month in words, which no reader of any
// country takes for another.
func longDate(t time.Time) string { return t.Format("2 January 2006") }

// front draws the page that is framed.
func (c Certificate) front(d *drawing) error {
	d.pdf.AddPage()
	d.frame()
	const margin = 26.0
	left, right := margin, d.width-margin
	width := right - left

	d.foreEdge(c.Number, left, 20, width, 17)

	d.ink(inkText)
	d.text(faceDisplayCaps, 15, left, 47, "Certificate of lookup skill")
	d.ink(inkQuiet)
	d.textRight(faceMono, 8, right, 47, c.Number)

	// The person, as large as the width allows.
	d.ink(inkText)
	nameFace := displayFace(c.Person, faceDisplay)
	size, name := d.lines(nameFace, 42, 20, width, 2, c.Person)
	baseline := 70 - float64(len(name)-1)*10
	for _, line := range name {
		d.text(nameFace, size, left-0.6, baseline, line)
		baseline += 10
	}

	d.ink(inkText)
	y := d.paragraph(displayFace(c.Organisation, faceDisplayItalic), 15, left, 81, width, 6.6,
		"has shown "+c.Organisation+" the skill to find the right page for the machine and the job in hand, "+
			"with the service literature open and no other help, and is certified in")
	y = c.drawSkills(d, left, y+5.5, width)

	c.drawFoot(d, left, right)
	if y > d.height-71 {
		return fmt.Errorf("paper: certificate %s: its text is too long for one page", c.Number)
	}
	return nil
}

// drawSkills lists the skills of the front page and returns the y below them.
func (c Certificate) drawSkills(d *drawing, x, y, width float64) float64 {
	if len(c.Skills) > skillsOnFront {
		d.ink(inkText)
		d.text(faceDisplay, 17, x, y, fmt.Sprintf("%d skills, listed with their levels on the second page.", len(c.Skills)))
		return y + 8
	}
	columns, gap := 1, 14.0
	if len(c.Skills) > 4 {
		columns = 2
	}
	rows := (len(c.Skills) + columns - 1) / columns
	size, lead := 15.0, 7.6
	if rows > 4 {
		size, lead = 12.5, 6.0
	}
	w := (width - gap*float64(columns-1)) / float64(columns)
	if columns == 1 {
		w = width * 0.66
	}
	size = d.skillSize(c.Skills, w, size)
	for i, s := range c.Skills {
		col, row := i/rows, i%rows
		d.skillLine(s, x+float64(col)*(w+gap), y+float64(row)*lead, w, size)
	}
	return y + float64(rows)*lead
}

// skillSize is the largest size up to size at which every skill fits in a
// line of width w, so that all stand in one size.
func (d *drawing) skillSize(skills []CertifiedSkill, w, size float64) float64 {
	const least = 7.5
	for _, s := range skills {
		for size > least {
			right := levelAndScore(s)
			need := d.widthOf(displayFace(s.Name, faceDisplay), size, s.Name) +
				d.widthOf(displayFace(right, faceDisplayItalic), size, right) + 6
			if need <= w {
				break
			}
			size -= 0.25
		}
	}
	return size
}

// drawFoot draws dates, catalog, signature, code and the statement of what
// the certificate is not.
func (c Certificate) drawFoot(d *drawing, left, right float64) {
	const code = 29.0 // side of the QR code, millimetres
	top := d.height - 64
	qrLeft := right - code

	d.line(left, top-5.5, right, top-5.5, 0.2, inkRule)

	column := (qrLeft - left - 10) / 3
	entry := func(i int, label, value, more string) {
		x := left + float64(i)*column
		d.ink(inkQuiet)
		d.text(faceDisplayCaps, 10, x, top, label)
		y := top + 6
		d.ink(inkText)
		f := displayFace(value, faceDisplay)
		size, lines := d.lines(f, 13.5, 8.5, column-5, 2, value)
		for _, line := range lines {
			d.text(f, size, x, y, line)
			y += 5
		}
		if more == "" {
			return
		}
		d.ink(inkQuiet)
		f = displayFace(more, faceDisplayItalic)
		size, lines = d.lines(f, 10.5, 7, column-5, 2, more)
		for _, line := range lines {
			d.text(f, size, x, y, line)
			y += 4.2
		}
	}
	entry(0, "Issued", longDate(c.Issued), "valid through "+longDate(c.Expires))
	entry(1, "Service literature", c.CatalogTitle, "revision "+c.CatalogRevision)
	entry(2, "Passed", c.Quiz, c.Site)

	// Room for a signature in ink.
	lineY := top + 27.5
	lineEnd := left + 2*column - 5
	d.line(left, lineY, lineEnd, lineY, 0.25, inkText)
	signed := c.Signatory
	if c.SignatoryRole != "" {
		if signed != "" {
			signed += ", "
		}
		signed += c.SignatoryRole
	}
	if signed != "" {
		signed += ", "
	}
	signed += "for " + c.Organisation
	d.ink(inkQuiet)
	signedFace := displayFace(signed, faceDisplay)
	signedSize, signedLines := d.lines(signedFace, 10.5, 7, lineEnd-left, 1, signed)
	d.text(signedFace, signedSize, left, lineY+4.6, signedLines[0])

	d.qr(c.VerifyURL, qrLeft, top-2.4, code)
	d.ink(inkQuiet)
	d.fitRight(faceSans, 6.4, 4, right, top+code+0.6, 80, "Check it: "+c.VerifyURL)

	d.ink(inkQuiet)
	y := d.paragraph(faceSans, 6.6, left, d.height-26.2, right-left, 3, certificate.NotALicence)
	if c.KeyName != "" {
		d.fit(faceMono, 5, 3.5, left, y+0.6, right-left, "Signed with "+c.KeyName)
	}
}

// schedule draws the second page: every skill with level and score.
func (c Certificate) schedule(d *drawing) {
	const margin, lead, top = 26.0, 6.4, 58.0
	left, right := margin, d.width-margin
	perColumn := int((d.height - top - 30) / lead)
	perPage := 2 * perColumn
	for start := 0; start < len(c.Skills); start += perPage {
		d.pdf.AddPage()
		d.frame()
		d.ink(inkText)
		d.text(faceDisplayCaps, 15, left, 34, "Skills certified")
		d.fit(displayFace(c.Person, faceDisplayItalic), 13, 8, left, 42, right-left-60, c.Person+", "+c.CatalogTitle+", revision "+c.CatalogRevision)
		d.ink(inkQuiet)
		d.textRight(faceMono, 8, right, 34, c.Number)
		d.line(left, 47, right, 47, 0.2, inkRule)
		w := (right - left - 14) / 2
		size := d.skillSize(c.Skills, w, 12)
		for i, s := range c.Skills[start:min(start+perPage, len(c.Skills))] {
			col, row := i/perColumn, i%perColumn
			d.skillLine(s, left+float64(col)*(w+14), top+float64(row)*lead, w, size)
		}
	}
}

// levelAndScore is what stands at the end of a skill's line.
func levelAndScore(s CertifiedSkill) string {
	if s.Score == "" {
		return s.Level
	}
	return s.Level + "  " + s.Score
}

// skillLine draws "name ........ level  score" on a baseline.
func (d *drawing) skillLine(s CertifiedSkill, x, y, w, size float64) {
	right := levelAndScore(s)
	rightFace := displayFace(right, faceDisplayItalic)
	rightWidth := d.widthOf(rightFace, size, right)
	nameFace := displayFace(s.Name, faceDisplay)
	d.ink(inkText)
	used := d.widthOf(nameFace, size, s.Name)
	if used+rightWidth+2 > w {
		d.pdf.SetError(fmt.Errorf("paper: skill %q with level %q is too long to print: shorten it", firstRunes(s.Name, 100), firstRunes(right, 100)))
	}
	d.text(nameFace, size, x, y, s.Name)
	d.textRight(rightFace, size, x+w, y, right)
	d.leader(x+used+2, x+w-rightWidth-2, y)
}

// displayFace is want when it can draw all of text, else the sans face,
// which knows more letters.
func displayFace(text string, want face) face {
	if len(want.missingGlyphs(compose(text))) > 0 {
		return faceSans
	}
	return want
}
