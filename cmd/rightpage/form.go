package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/spf13/cobra"

	"rightpage/banks"
	"rightpage/quiz/paper"
)

func formCommand() *cobra.Command {
	cmd := &cobra.Command{Use: "form", Short: "Set a form from a bank, and print it"}
	cmd.AddCommand(formMakeCommand(), formPrintCommand())
	return cmd
}

func formMakeCommand() *cobra.Command {
	var bank, blueprint, out, format string
	var variants, questions int
	var seed uint64
	cmd := &cobra.Command{
		Use:   "make",
		Short: "Choose the questions of a form by a blueprint",
		Long: `Chooses questions from a bank so that every line of the blueprint is met, no form
holds near-duplicates, and variants are alike in predicted difficulty. Without a
blueprint the kinds of the bank are spread evenly over --questions questions.

Exit status 1 if the blueprint cannot be met; then every line that cannot is
named, and by how much.`,
		Example: "  rightpage form make --bank bank.jsonl --blueprint spring.yaml --variants 2 -o quiz.json",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if bank == "" || out == "" {
				return &usageError{"form make needs --bank FILE and -o FILE"}
			}
			pool, err := loadBank(bank)
			if err != nil {
				return err
			}
			b := banks.EvenBlueprint("Finding the right page", questions, pool)
			if blueprint != "" {
				text, err := readBounded(blueprint, 1<<20)
				if err != nil {
					return err
				}
				if b, err = banks.ParseBlueprint(text); err != nil {
					return fmt.Errorf("%s: %w", blueprint, err)
				}
			}
			form, rep, err := banks.Assemble(pool, b, banks.AssembleOptions{Seed: seed, Variants: variants})
			if impossible, ok := asImpossible(err); ok {
				fmt.Fprintln(cmd.ErrOrStderr(), impossible)
				return errNo
			}
			if err != nil {
				return err
			}
			body, err := banks.EncodeForm(form)
			if err != nil {
				return err
			}
			w, finish, err := createFile(out, cmd.OutOrStdout())
			if err != nil {
				return err
			}
			_, err = w.Write(body)
			if err = finish(err); err != nil {
				return err
			}
			if format == "json" {
				return writeJSON(cmd.ErrOrStderr(), rep)
			}
			printFormReport(cmd.ErrOrStderr(), rep)
			return nil
		},
	}
	fl := cmd.Flags()
	fl.StringVar(&bank, "bank", "", "bank file")
	fl.StringVar(&blueprint, "blueprint", "", "blueprint (YAML)")
	fl.IntVar(&questions, "questions", 20, "number of questions where there is no blueprint")
	fl.IntVar(&variants, "variants", 0, "number of variants (default: the blueprint's)")
	fl.Uint64Var(&seed, "seed", 0, "seed of the pseudo-random choices (default: the blueprint's)")
	fl.StringVarP(&out, "output", "o", "", "form file to write, - for standard output")
	formatFlag(cmd, &format, "text", "json")
	return cmd
}

func loadBank(name string) ([]*banks.Question, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var pool []*banks.Question
	for q, err := range banks.ReadBank(f) {
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		pool = append(pool, q)
	}
	return pool, nil
}

func printFormReport(w io.Writer, rep banks.Report) {
	fmt.Fprintf(w, "%d of %d questions of the bank were eligible, %d of them distinct\n", rep.Eligible, rep.Bank, rep.Distinct)
	t := newTable(w)
	t.AppendHeader(table.Row{"line", "asked for", "available", "taken"})
	for _, l := range rep.Lines {
		asked := fmt.Sprint(l.Least)
		if l.Most != l.Least {
			asked = fmt.Sprintf("%d to %d", l.Least, l.Most)
		}
		t.AppendRow(table.Row{l.Quota.Name(), asked, l.Available, strings.Trim(fmt.Sprint(l.Taken), "[]")})
	}
	if len(rep.Lines) > 0 {
		t.Render()
	}
	for _, v := range rep.Variants {
		fmt.Fprintf(w, "variant %s: %d questions, predicted difficulty %.2f (SD %.2f); %d easy, %d medium, %d hard\n", v.Name, v.Size, v.Mean, v.SD, v.Easy, v.Medium, v.Hard)
	}
	if len(rep.Variants) > 1 {
		fmt.Fprintf(w, "variants differ from their mean by at most %.3f logits and share %d questions\n", rep.Imbalance, rep.Shared)
	}
}

func formPrintCommand() *cobra.Command {
	var out, variant, size, organisation, people string
	var key, sheets, large, duplex bool
	cmd := &cobra.Command{
		Use:   "print FILE",
		Short: "Print a form: booklets with answer sheets, or the key",
		Example: `  rightpage form print quiz.json -o quiz.pdf
  rightpage form print quiz.json --key -o key.pdf
  rightpage form print quiz.json --people people.txt --sheets --size letter -o quiz.pdf`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if out == "" {
				return &usageError{"-o PDF is missing: where to write"}
			}
			f, err := os.Open(args[0])
			if err != nil {
				return err
			}
			form, err := banks.DecodeForm(f)
			f.Close()
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			page, err := paper.ParsePageSize(size)
			if err != nil {
				return &usageError{"--size: " + err.Error()}
			}
			chosen, err := chooseVariants(form, variant)
			if err != nil {
				return err
			}
			list, err := readPeople(people)
			if err != nil {
				return err
			}
			w, finish, err := createFile(out, cmd.OutOrStdout())
			if err != nil {
				return err
			}
			o := paper.BookletOptions{Size: page, LargePrint: large, Duplex: duplex}
			if key {
				if len(chosen) > 1 {
					return finish(&usageError{"the form has several variants: name one by --variant to print its key"})
				}
				return finish(paper.WriteKeySheet(w, paper.KeySheetOf(form, chosen[0], organisation), o, time.Now()))
			}
			_, err = paper.WriteRun(w, func(yield func(paper.Booklet, error) bool) {
				for i, p := range list {
					b := paper.BookletOf(form, chosen[i%len(chosen)], p.id, p.name, organisation, nil)
					if !yield(b, nil) {
						return
					}
				}
			}, paper.RunOptions{BookletOptions: o, Booklets: true, Sheets: sheets, Created: time.Now()})
			return finish(err)
		},
	}
	fl := cmd.Flags()
	fl.StringVarP(&out, "output", "o", "", "PDF to write, - for standard output")
	fl.StringVar(&variant, "variant", "", "print this variant alone (default: people get the variants in turn)")
	fl.StringVar(&size, "size", "a4", "paper: a4 or letter")
	fl.StringVar(&organisation, "organisation", "", "organisation named on the cover")
	fl.StringVar(&people, "people", "", "file with a person a line; default one booklet with a line for the name")
	fl.BoolVar(&key, "key", false, "print the coordinator's key instead")
	fl.BoolVar(&sheets, "sheets", true, "add answer sheets")
	fl.BoolVar(&large, "large", false, "large print")
	fl.BoolVar(&duplex, "duplex", false, "arrange for printing on both sides")
	return cmd
}

func chooseVariants(form *banks.TestForm, name string) ([]*banks.Variant, error) {
	var out []*banks.Variant
	for i := range form.Variants {
		if name == "" || strings.EqualFold(form.Variants[i].Name, name) {
			out = append(out, &form.Variants[i])
		}
	}
	if len(out) == 0 {
		return nil, &usageError{"the form has no variant " + name}
	}
	return out, nil
}

type person struct{ id, name string }

// readPeople reads names, one a line; people are numbered in that order.
func readPeople(file string) ([]person, error) {
	if file == "" {
		return []person{{id: "P1"}}, nil
	}
	text, err := readBounded(file, 1<<20)
	if err != nil {
		return nil, err
	}
	var out []person
	for line := range strings.Lines(string(text)) {
		if name := strings.TrimSpace(line); name != "" {
			out = append(out, person{fmt.Sprintf("P%d", len(out)+1), name})
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("%s names nobody; write one person a line", file)
	}
	return out, nil
}
