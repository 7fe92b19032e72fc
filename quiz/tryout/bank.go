package tryout

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"rightpage/banks"
	"rightpage/banks/kinds"
	"rightpage/quiz/paper"
)

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
	if len(t.pool) == 0 {
		return errors.New("no question can be made from this catalog: it has too few records for any lookup with a single answer")
	}
	var made []string
	for _, o := range outcomes {
		if o.Taken > 0 {
			made = append(made, fmt.Sprintf("%s %d", o.Kind, o.Taken))
		}
	}
	t.sum.Questions, t.sum.Kinds = len(t.pool), len(made)
	t.say("  %s of %s: %s\n", count(len(t.pool), "question", "questions"), count(len(made), "kind", "kinds"), strings.Join(made, ", "))
	if len(t.pool) < bankSize {
		t.say("  The catalog has no more than these.\n")
	}
	v := banks.NewVerifier(src, kinds.All())
	for _, q := range t.pool {
		if err := v.Verify(q); err != nil {
			return fmt.Errorf("question %s: %w", q.ID, err)
		}
	}
	t.say("  Every key and every wrong option was computed a second time and agrees.\n")
	t.example()
	return t.file("bank.jsonl", "the bank, a question a line", func(w io.Writer) error { _, err := lines.WriteTo(w); return err })
}

// example prints one question of the bank: the first that has options of
// several slips.
func (t *trial) example() {
	best := t.pool[0]
	slips := 0
	for _, q := range t.pool {
		seen := map[string]bool{}
		for _, o := range q.Options {
			if !o.Right {
				seen[o.Slip.String()] = true
			}
		}
		if q.Form == banks.OneOf && len(seen) > slips {
			best, slips = q, len(seen)
		}
	}
	t.say("\n  One of them:\n")
	for _, l := range best.Order {
		t.say("    %-16s  %s\n", l.Label, l.Value)
	}
	t.say("    %s\n", best.Stem)
	width := 0
	for _, o := range best.Options {
		width = max(width, utf8.RuneCountInString(o.Text))
	}
	for i, o := range best.Options {
		why := "right"
		if !o.Right {
			why = "who chooses this: " + o.Slip.String()
		}
		t.say("      %s  %-*s  [%s]\n", banks.Letter(i), width, o.Text, why)
	}
	t.say("\n")
}

func (t *trial) quiz(context.Context) error {
	form, rep, err := t.assemble(min(quizSize, len(t.pool)))
	if err != nil {
		return err
	}
	t.form = form
	v := rep.Variants[0]
	t.sum.Quiz = v.Size
	t.head(4, fmt.Sprintf("Set a quiz of %s", count(v.Size, "question", "questions")))
	t.say("  By predicted difficulty %d easy, %d medium, %d hard; %.0f %% of the points passes.\n", v.Easy, v.Medium, v.Hard, form.Blueprint.Cut*100)
	body, err := banks.EncodeForm(form)
	if err != nil {
		return err
	}
	if err := t.file("quiz.json", "the form with its key", func(w io.Writer) error { _, err := w.Write(body); return err }); err != nil {
		return err
	}
	booklet := paper.BookletOf(form, &form.Variants[0], "P1", "", t.cfg.Organisation, t.c.Meta().Cautions)
	day := t.cfg.Now
	if err := t.file("quiz.pdf", "booklet and answer sheet, to print", func(w io.Writer) error {
		_, err := paper.WriteRun(w, func(yield func(paper.Booklet, error) bool) { yield(booklet, nil) },
			paper.RunOptions{Booklets: true, Sheets: true, Created: day})
		return err
	}); err != nil {
		return err
	}
	return t.file("key.pdf", "the coordinator's key", func(w io.Writer) error {
		return paper.WriteKeySheet(w, paper.KeySheetOf(form, &form.Variants[0], t.cfg.Organisation), paper.BookletOptions{}, day)
	})
}

// assemble sets a quiz of n questions spread evenly over the kinds, or of as
// many as are no near-duplicates of one another.
func (t *trial) assemble(n int) (*banks.TestForm, banks.Report, error) {
	b := banks.EvenBlueprint("Finding the right page", n, t.pool)
	b.Seed, b.Cut = t.cfg.Seed, cutShare
	form, rep, err := banks.Assemble(t.pool, b, banks.AssembleOptions{})
	var impossible *banks.ImpossibleError
	if errors.As(err, &impossible) {
		if impossible.Nearest > 0 && impossible.Nearest < n {
			return t.assemble(impossible.Nearest)
		}
		// The kinds cannot be spread evenly: leave them to chance.
		b.Quotas = nil
		form, rep, err = banks.Assemble(t.pool, b, banks.AssembleOptions{})
	}
	return form, rep, err
}
