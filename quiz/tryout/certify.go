package tryout

import (
	"bytes"
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"rightpage/grading"
	"rightpage/quiz/certificate"
	"rightpage/quiz/credential"
	"rightpage/quiz/paper"
)

// mostSkills is how many skills a certificate lists, so that it has one page.
const mostSkills = 12

func (t *trial) certify(context.Context) error {
	t.head(6, "Issue a certificate to the best of those who passed")
	var best *grading.PersonResult
	for i := range t.sheet.People {
		p := &t.sheet.People[i]
		if p.Of > 0 && p.Share() >= cutShare && (best == nil || p.Points > best.Points) {
			best = p
		}
	}
	if best == nil {
		return errors.New("nobody passed the demonstration quiz: that is a fault of the demonstration")
	}
	issued := t.cfg.Now.UTC().Truncate(24 * time.Hour)
	c := certificate.Certificate{
		Number: "DEMO-0001", Person: best.Person, Organisation: t.cfg.Organisation, Site: t.cfg.Site, Quiz: t.form.Title,
		CatalogTitle: t.form.Catalog, CatalogRevision: t.form.Revision,
		Issued: issued, Expires: issued.AddDate(1, 0, -1), VerifyURL: "https://rightpage.example/verify/DEMO-0001",
		Skills: skillsShown(best),
	}
	ring, err := credential.NewKeyring(t.cfg.Now, rand.Reader)
	if err != nil {
		return err
	}
	t.rings = ring
	signer, err := ring.Signer()
	if err != nil {
		return err
	}
	view := paper.CertificateOf(c)
	view.Signatory, view.SignatoryRole, view.KeyName = "R. Ashcombe", "Training coordinator", signer.DID
	var pdf bytes.Buffer
	if err := paper.WriteCertificate(&pdf, view); err != nil {
		return err
	}
	bundle, err := signer.Issue(c, credential.IssueOptions{Now: t.cfg.Now, PDF: pdf.Bytes()})
	if err != nil {
		return err
	}
	if err := t.file("certificate.pdf", "the certificate, with its signed credential attached", func(w io.Writer) error { _, err := w.Write(bundle.PDF); return err }); err != nil {
		return err
	}
	if err := t.file("issuer.txt", "who signs: what its readers need to know", func(w io.Writer) error { _, err := fmt.Fprintln(w, signer.DID); return err }); err != nil {
		return err
	}
	t.sum.Certificate = c.Person
	t.say("  For %s, with %s, valid through %s.\n", c.Person, count(len(c.Skills), "skill", "skills"), c.Expires.Format(time.DateOnly))
	t.say("  It proves skill in looking things up. It is no licence to do the work.\n")
	return nil
}

// skillsShown lists the skills in which somebody has every point, those with
// the most questions first.
func skillsShown(p *grading.PersonResult) []certificate.Skill {
	list := slices.Clone(p.Skills)
	list = slices.DeleteFunc(list, func(s grading.SkillResult) bool { return s.Points != float64(s.Of) })
	slices.SortStableFunc(list, func(a, b grading.SkillResult) int { return cmp.Compare(b.Of, a.Of) })
	var out []certificate.Skill
	for _, s := range list[:min(mostSkills, len(list))] {
		out = append(out, certificate.Skill{Name: upper(s.Skill), Level: "shown", Score: fmt.Sprintf("%g of %d", s.Points, s.Of)})
	}
	return out
}

func (t *trial) verify(context.Context) error {
	t.head(steps, "Verify the certificate offline, then a copy with one byte changed")
	data, err := os.ReadFile(filepath.Join(t.cfg.Out, "certificate.pdf"))
	if err != nil {
		return err
	}
	o := credential.Options{Now: t.cfg.Now, Trusted: t.rings.Trusted()}
	good, err := credential.VerifyFile(data, o)
	if err != nil {
		return err
	}
	t.line("original", good.Reason)
	forged := bytes.Clone(data)
	forged[len(forged)/2] ^= 1
	bad, err := credential.VerifyFile(forged, o)
	if err != nil {
		return err
	}
	t.line("copy", bad.Reason)
	if !good.Valid || bad.Valid {
		return fmt.Errorf("the certificate verifies as %s and its forgery as %s", good.Outcome, bad.Outcome)
	}
	t.sum.Verified, t.sum.Forgery = true, string(bad.Outcome)
	return nil
}

// upper and lower begin a text with a capital or a small letter.
func upper(s string) string { return strings.ToUpper(s[:min(1, len(s))]) + s[min(1, len(s)):] }

func lower(s string) string { return strings.ToLower(s[:min(1, len(s))]) + s[min(1, len(s)):] }
