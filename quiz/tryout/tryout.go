// Package tryout runs the main job end to end on one catalog and tells what it
// does: check the catalog, resolve sample repair orders, make a bank, set a
// quiz, grade a made-up set of answers, issue a certificate and verify it. It is
// the demonstration that a newcomer runs first.
package tryout

import (
	"bufio"
	"bytes"
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

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
	"rightpage/grading"
	"rightpage/quiz/certificate"
	"rightpage/quiz/credential"
	"rightpage/quiz/paper"
)

// Config is what to run on, and where to leave what is made.
type Config struct {
	Catalog string    // folder or workbook
	Out     string    // folder for the files made; must exist
	Now     time.Time // day of issue of the certificate
	Seed    uint64
}

// The sizes of the demonstration.
const (
	bankSize = 500
	quizSize = 20
	cutShare = 0.8
)

// Run runs the main job and writes what it does to w. The error is of something
// that could not be read, made or written; a catalog with errors is one.
func Run(ctx context.Context, cfg Config, w io.Writer) error {
	t := &trial{cfg: cfg, w: w}
	for _, step := range []func(context.Context) error{t.check, t.lookups, t.bank, t.quiz, t.grade, t.certify, t.verify} {
		if err := step(ctx); err != nil {
			return err
		}
	}
	t.say("\nEverything that was made is in %s\n", cfg.Out)
	return nil
}

type trial struct {
	cfg   Config
	w     io.Writer
	c     *catalog.Catalog
	r     *resolver.Resolver
	pool  []*banks.Question
	form  *banks.TestForm
	sheet *grading.Sheet
	rings *credential.Keyring
}

func (t *trial) say(format string, args ...any) { fmt.Fprintf(t.w, format, args...) }

func (t *trial) head(n int, text string) {
	t.say("\n%d. %s\n", n, text)
}

// file writes one of the files that are left for the reader to look at.
func (t *trial) file(name string, write func(io.Writer) error) error {
	f, err := os.Create(filepath.Join(t.cfg.Out, name))
	if err != nil {
		return err
	}
	b := bufio.NewWriterSize(f, 1<<16)
	err = write(b)
	if err == nil {
		err = b.Flush()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		t.say("   wrote %s\n", name)
	}
	return err
}

func (t *trial) check(context.Context) error {
	t.head(1, "Check the catalog")
	c, report, err := catalog.Read(t.cfg.Catalog, catalog.DefaultLimits())
	if err != nil {
		return err
	}
	if c != nil {
		report = append(report, catalog.Check(c)...)
	}
	report.Sort()
	for _, f := range report {
		if f.Severity >= catalog.Warning {
			t.say("   %s: %v\n", f.Severity, f)
		}
	}
	if err := report.Err(); err != nil {
		return err
	}
	t.c = c
	tb := c.Tables()
	t.say("   %s, revision %s: %d data cards, %d groups, %d components, %d publications, %d procedures, %d bulletins\n",
		c.Meta().Title, c.Meta().Revision, len(tb.Models), len(tb.Groups), len(tb.Components), len(tb.Publications), len(tb.Procedures), len(tb.Bulletins))
	t.say("   %d errors, %d warnings, %d notes: fit for use\n", report.Count(catalog.Error), report.Count(catalog.Warning), report.Count(catalog.Note))
	return nil
}

func (t *trial) lookups(context.Context) error {
	t.head(2, "Answer three repair orders, every step shown")
	t.r = resolver.New(t.c)
	orders, err := findOrders(t.cfg.Catalog)
	if err != nil {
		return err
	}
	if len(orders) == 0 {
		orders = t.inventOrders()
	}
	for _, o := range orders[:min(3, len(orders))] {
		t.say("\n   Order %s", o.Order)
		if o.Customer != "" {
			t.say(": “%s”", o.Customer)
		}
		t.say("\n")
		a, tr := t.r.Explain(&o.Query, resolver.Break{})
		rep := t.r.Report(&o.Query, a, tr)
		var b bytes.Buffer
		if err := rep.WriteText(&b, false); err != nil {
			return err
		}
		for line := range strings.Lines(b.String()) {
			t.say("   | %s", line)
		}
	}
	return nil
}

// inventOrders takes lookups from the catalog itself where it comes without
// sample orders.
func (t *trial) inventOrders() []order {
	src := banks.NewSource(t.r)
	k, _ := kinds.Find("location")
	m := banks.NewMaker(src, banks.StartingWeights())
	var out []order
	sites := k.Sites(src).Inside
	for i := 0; i < len(sites) && len(out) < 3; i += max(1, len(sites)/7) {
		if m.Make(&k, sites[i], t.cfg.Seed) {
			out = append(out, order{Order: fmt.Sprint(len(out) + 1), Customer: m.Q.Query.Text, Query: m.Q.Query})
		}
	}
	return out
}

func (t *trial) bank(ctx context.Context) error {
	t.head(3, fmt.Sprintf("Make a bank of %d questions, each with its key and a slip behind every wrong option", bankSize))
	src := banks.NewSource(t.r)
	var lines bytes.Buffer
	outcomes, err := banks.Generate(ctx, src, banks.Plan{Seed: t.cfg.Seed, Size: bankSize, Shares: kinds.Equal()}, func(q *banks.Question, line []byte) bool {
		c := *q
		t.pool = append(t.pool, &c)
		lines.Write(line)
		lines.WriteByte('\n')
		return true
	})
	if err != nil {
		return err
	}
	var made []string
	for _, o := range outcomes {
		if o.Taken > 0 {
			made = append(made, fmt.Sprintf("%s %d", o.Kind, o.Taken))
		}
	}
	t.say("   %d questions of %d kinds: %s\n", len(t.pool), len(made), strings.Join(made, ", "))
	v := banks.NewVerifier(src, kinds.All())
	for _, q := range t.pool {
		if err := v.Verify(q); err != nil {
			return fmt.Errorf("question %s: %w", q.ID, err)
		}
	}
	t.say("   every key and every wrong option was computed a second time and agrees\n")
	return t.file("bank.jsonl", func(w io.Writer) error { _, err := lines.WriteTo(w); return err })
}

func (t *trial) quiz(context.Context) error {
	t.head(4, fmt.Sprintf("Set a quiz of %d questions", quizSize))
	b := banks.EvenBlueprint("Finding the right page", quizSize, t.pool)
	b.Seed, b.Cut = t.cfg.Seed, cutShare
	form, rep, err := banks.Assemble(t.pool, b, banks.AssembleOptions{})
	if err != nil {
		return err
	}
	t.form = form
	v := rep.Variants[0]
	t.say("   %d questions, predicted difficulty %.2f logits on average: %d easy, %d medium, %d hard; %.0f %% passes\n", v.Size, v.Mean, v.Easy, v.Medium, v.Hard, b.Cut*100)
	body, err := banks.EncodeForm(form)
	if err != nil {
		return err
	}
	if err := t.file("quiz.json", func(w io.Writer) error { _, err := w.Write(body); return err }); err != nil {
		return err
	}
	booklet := paper.BookletOf(form, &form.Variants[0], "T-01", "", organisation, t.c.Meta().Cautions)
	if err := t.file("quiz.pdf", func(w io.Writer) error {
		_, err := paper.WriteRun(w, func(yield func(paper.Booklet, error) bool) { yield(booklet, nil) },
			paper.RunOptions{Booklets: true, Sheets: true, Created: t.cfg.Now})
		return err
	}); err != nil {
		return err
	}
	return t.file("key.pdf", func(w io.Writer) error {
		return paper.WriteKeySheet(w, paper.KeySheetOf(form, &form.Variants[0], organisation), paper.BookletOptions{}, t.cfg.Now)
	})
}

const organisation = "Wexcombe Estate & Farm Services"

func (t *trial) grade(context.Context) error {
	t.head(5, "Grade a made-up set of answers, with the slip behind every wrong one")
	questions := t.form.Variants[0].Questions
	byID := map[string]*banks.Question{}
	for _, q := range questions {
		byID[q.ID] = q
	}
	answers := madeUpAnswers(questions, t.cfg.Seed)
	if err := t.file("answers.csv", func(w io.Writer) error { _, err := w.Write(answers); return err }); err != nil {
		return err
	}
	sheet, err := grading.GradeCSV(bytes.NewReader(answers), func(id string) (*banks.Question, bool) { q, ok := byID[id]; return q, ok }, grading.Rules{})
	if err != nil {
		return err
	}
	t.sheet = sheet
	for i := range sheet.Rows {
		r := &sheet.Rows[i]
		switch {
		case r.Score == nil:
			t.say("   row %d, %s: refused: %s\n", r.Row, r.Person, r.Refused)
		case r.Score.Verdict == grading.Wrong || r.Score.Verdict == grading.Partly:
			t.say("   %s, %s: “%s” instead of “%s”\n      %s\n", r.Person, r.Score.Kind, r.Score.Given, r.Score.Right, r.Score.Says)
		}
	}
	for i := range sheet.People {
		p := &sheet.People[i]
		result := "not passed"
		if p.Share() >= cutShare {
			result = "passed"
		}
		t.say("   %s: %.2f of %d points (%.0f %%): %s", p.Person, p.Points, p.Of, 100*p.Share(), result)
		if len(p.Slips) > 0 {
			t.say("; most frequent slip: %s", p.Slips[0].Slip)
		}
		t.say("\n")
	}
	return nil
}

func (t *trial) certify(context.Context) error {
	t.head(6, "Issue a certificate to whoever passed")
	i := slices.IndexFunc(t.sheet.People, func(p grading.PersonResult) bool { return p.Share() >= cutShare })
	if i < 0 {
		return errors.New("nobody passed the demonstration quiz: that is a fault of the demonstration")
	}
	p := &t.sheet.People[i]
	issued := t.cfg.Now.UTC().Truncate(24 * time.Hour)
	c := certificate.Certificate{
		Number: "DEMO-0001", Person: p.Person, Organisation: organisation, Site: "Wexcombe", Quiz: t.form.Title,
		CatalogTitle: t.form.Catalog, CatalogRevision: t.form.Revision,
		Issued: issued, Expires: issued.AddDate(1, 0, -1), VerifyURL: "https://rightpage.example/verify/DEMO-0001",
	}
	for _, s := range p.Skills {
		if s.Points == float64(s.Of) {
			c.Skills = append(c.Skills, certificate.Skill{Name: s.Skill, Level: "shown", Score: fmt.Sprintf("%g of %d", s.Points, s.Of)})
		}
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
	if err := t.file("certificate.pdf", func(w io.Writer) error { _, err := w.Write(bundle.PDF); return err }); err != nil {
		return err
	}
	t.say("   %s, %d skills, valid until %s; signed by %s\n", p.Person, len(c.Skills), c.Expires.Format(time.DateOnly), signer.DID)
	t.say("   It proves skill in looking things up. It is no licence to do the work.\n")
	return nil
}

func (t *trial) verify(context.Context) error {
	t.head(7, "Verify the certificate offline, then a copy with one letter changed")
	data, err := os.ReadFile(filepath.Join(t.cfg.Out, "certificate.pdf"))
	if err != nil {
		return err
	}
	o := credential.Options{Now: t.cfg.Now, Trusted: t.rings.Trusted()}
	good, err := credential.VerifyFile(data, o)
	if err != nil {
		return err
	}
	t.say("   certificate.pdf: %s\n", good.Reason)
	forged := bytes.Clone(data)
	forged[len(forged)/2] ^= 1
	bad, err := credential.VerifyFile(forged, o)
	if err != nil {
		return err
	}
	t.say("   the changed copy: %s\n", bad.Reason)
	if !good.Valid || bad.Valid {
		return fmt.Errorf("the certificate verifies as %v and its forgery as %v", good.Valid, bad.Valid)
	}
	return nil
}
