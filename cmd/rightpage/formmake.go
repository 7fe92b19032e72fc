package main

import (
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"
	"github.com/spf13/cobra"

	"rightpage/banks"
)

func formMakeCommand() *cobra.Command {
	var bank, blueprint, out, format, title string
	var variants, questions int
	var seed uint64
	cmd := &cobra.Command{
		Use:   "make",
		Short: "Choose the questions of a form by a blueprint",
		Long: `Chooses questions from a bank so that every line of the blueprint is met, no form
holds near-duplicates, and variants are alike in predicted difficulty. Without a
blueprint the kinds of the bank are spread evenly over --questions questions.

A form file holds the key: keep it where the technicians cannot read it.

Exit status 1 if the blueprint cannot be met; then every line that cannot is
named, and by how much, and no form is written.`,
		Example: `  rightpage bank make --catalog testdata/quillan --size 300 -o bank.jsonl
  rightpage form make --bank bank.jsonl --questions 20 --variants 2 -o quiz.json`,
		Args: arguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			fl := cmd.Flags()
			switch {
			case bank == "":
				return usagef("--bank FILE is missing: the bank to choose from")
			case out == "":
				return usagef("-o FILE is missing: where to write the form (- for standard output)")
			case questions < 1:
				return usagef("--questions %d: a form has at least one question", questions)
			case fl.Changed("variants") && variants < 1:
				return usagef("--variants %d: a form has at least one variant", variants)
			case blueprint != "" && fl.Changed("questions"):
				return usagef("--questions and --blueprint exclude each other: the blueprint says how many questions")
			}
			if err := sameFile(bank, out); err != nil {
				return err
			}
			var b banks.Blueprint
			if blueprint != "" {
				var err error
				if b, err = readBlueprint(blueprint); err != nil {
					return err
				}
			}
			pool, err := loadBank(bank)
			if err != nil {
				return err
			}
			if blueprint == "" {
				b = banks.EvenBlueprint("Finding the right page", questions, pool)
			}
			if title != "" {
				b.Title = title
			}
			form, rep, err := banks.Assemble(pool, b, banks.AssembleOptions{Seed: seed, Variants: variants})
			var impossible *banks.ImpossibleError
			if errors.As(err, &impossible) {
				return printImpossible(cmd, impossible, &rep, bank, format)
			}
			if err != nil {
				return err
			}
			body, err := banks.EncodeForm(form)
			if err != nil {
				return err
			}
			if err := writeFile(cmd.Context(), out, cmd.OutOrStdout(), func(w io.Writer) error { _, err := w.Write(body); return err }); err != nil {
				return err
			}
			w := reportTo(cmd, out)
			if format == "json" {
				return writeJSON(w, formDocument{File: out, Form: form.ID, Title: form.Title, Possible: true, Questions: form.Blueprint.Questions, Report: rep})
			}
			printFormReport(w, rep)
			if out != "-" {
				fmt.Fprintf(w, "%s of %s written to %s.\n", capital(counted(len(form.Variants), "variant")), counted(form.Blueprint.Questions, "question"), out)
			}
			return nil
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	fl.StringVar(&bank, "bank", "", "choose from the bank in `FILE`")
	fl.StringVar(&blueprint, "blueprint", "", "blueprint in `FILE` (YAML)")
	fl.IntVar(&questions, "questions", 20, "`number` of questions where there is no blueprint")
	fl.IntVar(&variants, "variants", 0, "`number` of variants (default: the blueprint's, or 1)")
	fl.Uint64Var(&seed, "seed", 0, "seed `number` of the pseudo-random choices (default: the blueprint's)")
	fl.StringVar(&title, "title", "", "`title` on the cover (default: the blueprint's)")
	fl.StringVarP(&out, "output", "o", "", "write the form to `FILE`, - for standard output")
	completeFiles(cmd, "bank", "jsonl")
	completeFiles(cmd, "blueprint", "yaml", "yml")
	formatFlag(cmd, &format, "text", "json")
	return cmd
}

// formDocument is what form make prints as JSON.
type formDocument struct {
	File      string `json:"file,omitempty"`
	Form      string `json:"form,omitempty"` // its ID
	Title     string `json:"title,omitempty"`
	Possible  bool   `json:"possible"`
	Questions int    `json:"questions"` // asked for
	banks.Report
	Nearest    int               `json:"nearest,omitempty"`    // questions of the nearest form, where the blueprint cannot be met
	Proven     bool              `json:"proven,omitempty"`     // no form comes nearer
	Shortfalls []banks.Shortfall `json:"shortfalls,omitempty"` // the lines that cannot be met
	Together   []banks.Quota     `json:"together,omitempty"`   // lines of which each can be met, but not all together
}

func printImpossible(cmd *cobra.Command, e *banks.ImpossibleError, rep *banks.Report, bank, format string) error {
	if format == "json" {
		doc := formDocument{Questions: e.Questions, Report: *rep, Nearest: e.Nearest, Proven: e.Proven, Shortfalls: e.Lines, Together: e.Together}
		if err := writeJSON(cmd.OutOrStdout(), doc); err != nil {
			return err
		}
		return errNo
	}
	w := newWrapper(cmd.OutOrStdout())
	fmt.Fprintf(w, "%s: %v\n", bank, e)
	if err := w.Close(); err != nil {
		return err
	}
	return errNo
}

func printFormReport(w io.Writer, rep banks.Report) {
	fmt.Fprintf(w, "The bank has %s", counted(rep.Bank, "question"))
	if rep.TooManyOptions > 0 {
		fmt.Fprintf(w, ", %d of them with more options than the blueprint has", rep.TooManyOptions)
	}
	fmt.Fprintf(w, "; %d can stand in one form, the rest are near-duplicates.\n", rep.Distinct)
	if len(rep.Lines) > 0 {
		t := newTable(w)
		t.AppendHeader(table.Row{"line of the blueprint", "asked for", "available", "taken"})
		t.SetColumnConfigs([]table.ColumnConfig{column(2, 20, text.AlignRight), column(3, 20, text.AlignRight), column(4, 40, text.AlignRight)})
		for _, l := range rep.Lines {
			asked := strconv.Itoa(l.Least)
			if l.Most != l.Least {
				asked = fmt.Sprintf("%d to %d", l.Least, l.Most)
			}
			taken := make([]string, len(l.Taken))
			for i, n := range l.Taken {
				taken[i] = strconv.Itoa(n)
			}
			t.AppendRow(table.Row{l.Quota.Name(), asked, l.Available, strings.Join(taken, " ")})
		}
		t.Render()
	}
	t := newTable(w)
	t.AppendHeader(table.Row{"variant", "questions", "predicted difficulty (logits)", "SD", "easy", "medium", "hard"})
	var configs []table.ColumnConfig
	for i := 2; i <= 7; i++ {
		configs = append(configs, column(i, 30, text.AlignRight))
	}
	t.SetColumnConfigs(configs)
	for _, v := range rep.Variants {
		t.AppendRow(table.Row{v.Name, v.Size, signed(v.Mean), signed(v.SD), v.Easy, v.Medium, v.Hard})
	}
	t.Render()
	if len(rep.Variants) > 1 {
		fmt.Fprintf(w, "The variants differ from their mean difficulty by at most %.3f logits and share %s.\n", rep.Imbalance, counted(rep.Shared, "question"))
	}
}
