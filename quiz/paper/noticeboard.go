package paper

import (
	"errors"
	"fmt"
	"io"
	"time"
)

// NoticeChange is one change of a supplement, in words for the noticeboard.
type NoticeChange struct {
	Kind    string // "Moved", "Replaced", "New", "Withdrawn", "Value changed"
	Subject string // "Front axle oil seal, renew"
	Applies string // "TC38 and TC44 built from June 2029"
	Was     string // "TR-210, section 4-12"; empty if new
	Now     string // "TR-214, section 3-2"; empty if withdrawn
	Hazard  string // the caution that goes with the work, if any
}

// Notice is the noticeboard summary of a supplement.
type Notice struct {
	Size                 PageSize
	Organisation         string
	CatalogTitle         string
	Was, Now             string    // revisions
	InForce              time.Time // since when
	Headline             string    // the one thing to remember, if any
	Changes              []NoticeChange
	LookupsChanged       int // lookups with another answer
	Lookups              int // of how many
	CertificatesOutdated int // certificates that need a top-up quiz
	URL                  string
}

// WriteNotice writes n as a PDF to be read standing: large type, one column,
// as many pages as it takes. The same n gives the same bytes.
func WriteNotice(w io.Writer, n Notice) error {
	if n.CatalogTitle == "" || n.Now == "" || n.InForce.IsZero() {
		return errors.New("paper: a notice needs its catalog, revision and day")
	}
	about := "in force since " + longDate(n.InForce)
	if n.Was != "" {
		about += ", in place of revision " + n.Was
	}
	return writeReport(w, reportOptions(n.Size, n.CatalogTitle+", revision "+n.Now+": what changed", n.Organisation, n.InForce),
		n.CatalogTitle+", revision "+n.Now+": what changed",
		"The literature itself is what counts: read the page before the work. "+n.Organisation,
		func(r *report) {
			r.title("What changed", n.CatalogTitle+", revision "+n.Now, about)
			n.drawFigures(r)
			for _, c := range n.Changes {
				c.draw(r)
			}
			if len(n.Changes) == 0 {
				r.note("Nothing that a lookup can find has changed.", 13)
			}
		})
}

// drawFigures draws the headline and the three figures, with the code beside
// them.
func (n Notice) drawFigures(r *report) {
	const code = 24.0
	textRight := r.right
	top := r.y
	if n.URL != "" {
		r.qr(n.URL, r.right-code, top-1, code)
		textRight -= code + 6
	}
	r.y += 3
	if n.Headline != "" {
		r.ink(inkText)
		r.y++
		for _, line := range clip(r.wrap(faceSansBold, 14, textRight-r.left, n.Headline), mostCellLines/2) {
			r.text(faceSansBold, 14, r.left, r.y, line)
			r.y += 6.4
		}
		r.y += 2
	}
	figures := []struct{ value, label string }{
		{fmt.Sprint(len(n.Changes)), plural(len(n.Changes), "change listed here", "changes listed here")},
		{fmt.Sprintf("%d of %d", n.LookupsChanged, n.Lookups), "lookups lead elsewhere now"},
		{fmt.Sprint(n.CertificatesOutdated), plural(n.CertificatesOutdated, "certificate needs a top-up quiz", "certificates need a top-up quiz")},
	}
	w := (textRight - r.left) / float64(len(figures))
	for i, f := range figures {
		x := r.left + float64(i)*w
		r.ink(inkText)
		r.fit(faceDisplay, 24, 12, x, r.y+7, w-3, f.value)
		r.ink(inkQuiet)
		r.fit(faceSans, 8.5, 6, x, r.y+12.8, w-3, f.label)
	}
	r.y = max(r.y+18, top+code+4)
	r.line(r.left, r.y, r.right, r.y, 0.35, inkText)
	r.y += 8
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// draw draws one change as a block that stays on one page.
func (c NoticeChange) draw(r *report) {
	const kindWidth, size, lead = 27.0, 11.0, 5.1
	x := r.left + kindWidth
	w := r.right - x
	subject := clip(r.wrap(faceSansBold, 12.5, w, c.Subject), mostCellLines/2)
	type part struct {
		f    face
		c    ink
		text string
	}
	var parts []part
	if c.Applies != "" {
		parts = append(parts, part{faceSans, inkQuiet, c.Applies})
	}
	if c.Was != "" && c.Now != "" {
		parts = append(parts, part{faceSans, inkText, c.Was + "  →  " + c.Now})
	} else if c.Now != "" {
		parts = append(parts, part{faceSans, inkText, "→  " + c.Now})
	} else if c.Was != "" {
		parts = append(parts, part{faceSans, inkText, "no longer: " + c.Was})
	}
	if c.Hazard != "" {
		parts = append(parts, part{faceSansBold, inkText, "⚠  " + c.Hazard})
	}
	h := 6.0 * float64(len(subject))
	lines := make([][]string, len(parts))
	for i, p := range parts {
		lines[i] = clip(r.wrap(p.f, size, w, p.text), mostCellLines/2)
		h += lead * float64(len(lines[i]))
	}
	r.room(h + 3)
	r.ink(inkText)
	r.fit(faceDisplayItalic, 13, 8, r.left, r.y, kindWidth-3, c.Kind)
	for _, line := range subject {
		r.text(faceSansBold, 12.5, x, r.y, line)
		r.y += 6
	}
	for i, p := range parts {
		r.ink(p.c)
		for _, line := range lines[i] {
			r.text(p.f, size, x, r.y-0.6, line)
			r.y += lead
		}
	}
	r.line(x, r.y-1.6, r.right, r.y-1.6, 0.1, inkRule)
	r.y += 4.6
}
