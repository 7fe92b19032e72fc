// Package tryout runs the main job end to end on one catalog and tells what it
// does: check the catalog, resolve sample repair orders, make a bank, set a
// quiz, grade a made-up set of answers, issue a certificate and verify it. It is
// the demonstration that a newcomer runs first.
package tryout

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
	"rightpage/grading"
	"rightpage/quiz/credential"
)

// Config is what to run on, and where to leave what is made.
type Config struct {
	Catalog      string    // folder or workbook
	Out          string    // folder for the files made; must exist
	Organisation string    // on the cover and the certificate
	Site         string    // on the certificate; may be empty
	Now          time.Time // day of issue of the certificate
	Seed         uint64
}

// The sizes of the demonstration. A catalog that gives fewer questions makes do
// with what there are.
const (
	bankSize = 500
	quizSize = 20
	cutShare = 0.8
)

// Summary is what a run made and found.
type Summary struct {
	Catalog     string          `json:"catalog"`
	Revision    string          `json:"revision"`
	Folder      string          `json:"folder"` // of the files
	Files       []string        `json:"files"`
	Warnings    int             `json:"warnings"` // of the check of the catalog
	Orders      []OrderSummary  `json:"orders"`
	Questions   int             `json:"questions"` // of the bank
	Kinds       int             `json:"kinds"`
	Quiz        int             `json:"quiz"` // questions
	Graded      int             `json:"graded"`
	Refused     int             `json:"refused"`
	People      []PersonSummary `json:"people"`
	Certificate string          `json:"certificate"` // whose
	Verified    bool            `json:"verified"`    // the certificate is genuine
	Forgery     string          `json:"forgery"`     // what was said of the changed copy
}

// OrderSummary is the answer to a repair order.
type OrderSummary struct {
	Order     string `json:"order"`
	Status    string `json:"status"`
	Statement string `json:"statement"`
	Places    int    `json:"places"`
	Command   string `json:"command"` // shows all of it
}

// PersonSummary is the result of a person.
type PersonSummary struct {
	Person string  `json:"person"`
	Points float64 `json:"points"`
	Of     int     `json:"of"`
	Passed bool    `json:"passed"`
}

// Run runs the main job and writes what it does to w. The error is of something
// that could not be read, made or written; a catalog with errors is one.
func Run(ctx context.Context, cfg Config, w io.Writer) (*Summary, error) {
	t := &trial{cfg: cfg, w: w, sum: Summary{Folder: cfg.Out}}
	t.intro()
	for _, step := range []func(context.Context) error{t.check, t.lookups, t.bank, t.quiz, t.grade, t.certify, t.verify} {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := step(ctx); err != nil {
			return nil, err
		}
	}
	t.next()
	return &t.sum, nil
}

// steps is the number of headings of Run.
const steps = 7

type trial struct {
	cfg   Config
	w     io.Writer
	sum   Summary
	c     *catalog.Catalog
	r     *resolver.Resolver
	pool  []*banks.Question
	form  *banks.TestForm
	sheet *grading.Sheet
	rings *credential.Keyring
}

func (t *trial) say(format string, args ...any) { fmt.Fprintf(t.w, format, args...) }

// head begins step n.
func (t *trial) head(n int, text string) { t.say("\n%d of %d. %s\n\n", n, steps, text) }

func (t *trial) intro() {
	t.say("From a catalog of service literature to a certificate, in %d steps.\n\n", steps)
	t.say("A workshop writes down once which publication and which page holds for which vehicle and job: its catalog. " +
		"Out of it rightpage computes the answer to any lookup and says why, makes exercises whose wrong options " +
		"each come from a known slip, grades the answers, and certifies who finds the right page.\n\n")
	t.say("People, answers and repair orders below are invented. Nobody may work by what is shown: work is done by the maker's current literature.\n\n")
	t.say("  catalog   %s\n  files     %s\n", t.cfg.Catalog, t.cfg.Out)
}

// next says what to do with the files.
func (t *trial) next() {
	out := func(name string) string { return quoted(filepath.Join(t.cfg.Out, name)) }
	t.say("\nWhat to try next. Everything is in %s\n\n", t.cfg.Out)
	for _, line := range []struct{ what, command string }{
		{"Print quiz.pdf and key.pdf. Look through the questions with their keys:", "rightpage bank show " + out("bank.jsonl") + " --most 3"},
		{"Set a quiz of your own from the bank, in two variants:", "rightpage form make --bank " + out("bank.jsonl") + " --questions 12 --variants 2 -o " + out("mine.json")},
		{"See how questions and people hold up:", "rightpage stats --scores " + out("scores.csv")},
		{"Verify the certificate as its reader would:", "rightpage certificate verify " + out("certificate.pdf") + " --issuer " + out("issuer.txt")},
		{"Begin a catalog of your own from this one, and check it:", "rightpage catalog check " + quoted(t.cfg.Catalog)},
	} {
		t.say("  %s\n    %s\n", line.what, line.command)
	}
}

// file writes one of the files that are left for the reader to look at.
func (t *trial) file(name, what string, write func(io.Writer) error) error {
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
	if err != nil {
		return err
	}
	t.sum.Files = append(t.sum.Files, name)
	t.say("  wrote %-16s  %s\n", name, what)
	return nil
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
	command := "rightpage catalog check " + quoted(t.cfg.Catalog)
	if err := report.Err(); err != nil {
		t.say("  The catalog has errors. All of them, with how to mend each:\n    %s\n", command)
		return fmt.Errorf("catalog %s: %w", t.cfg.Catalog, err)
	}
	t.c, t.r = c, resolver.New(c)
	t.sum.Catalog, t.sum.Revision, t.sum.Warnings = c.Meta().Title, c.Meta().Revision, report.Count(catalog.Warning)
	tb := c.Tables()
	var parts []string
	for _, p := range []struct {
		n         int
		one, many string
	}{
		{len(tb.Models), "data card", "data cards"}, {len(tb.Groups), "group", "groups"}, {len(tb.Components), "component", "components"},
		{len(tb.Publications), "publication", "publications"}, {len(tb.Procedures), "procedure", "procedures"},
		{len(tb.Specifications), "specification", "specifications"}, {len(tb.Bulletins), "bulletin", "bulletins"},
	} {
		if p.n > 0 {
			parts = append(parts, count(p.n, p.one, p.many))
		}
	}
	t.say("  %s, revision %s: %s\n", c.Meta().Title, c.Meta().Revision, strings.Join(parts, ", "))
	t.say("  No errors, %s, %s: fit for use.\n", count(t.sum.Warnings, "warning", "warnings"), count(report.Count(catalog.Note), "note", "notes"))
	if t.sum.Warnings > 0 {
		t.say("  The first warning: %v\n", report[0])
	}
	if len(report) > 1 {
		t.say("  All of them:\n    %s\n", command)
	}
	return nil
}

// count writes a number with its noun.
func count(n int, one, many string) string {
	switch n {
	case 0:
		return "no " + many
	case 1:
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
