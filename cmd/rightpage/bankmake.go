package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"
	"github.com/spf13/cobra"

	"rightpage/banks"
	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
)

func bankMakeCommand() *cobra.Command {
	var path, out, blueprint, format string
	var seed uint64
	var size int
	var census bool
	cmd := &cobra.Command{
		Use:   "make",
		Short: "Make questions from a catalog",
		Long: `Makes questions and their keys from a catalog, each wrong option from a known
slip. The same catalog, seed, size and blueprint give the same bytes on any
machine.

The report says how many questions the catalog has in it and how many were
taken, by kind, skill, group, model and publication, and which records no
question reaches; --census=false leaves that out, which is quicker. The report
goes to standard output, or to standard error if the bank itself goes there.

Exit status 1 if the catalog has fewer questions than were asked for; the bank
then holds all there are.`,
		Example: `  rightpage bank make --catalog testdata/quillan --size 300 -o bank.jsonl
  rightpage bank make --catalog testdata/tarnfell/2026-1 --seed 7 --size 500 --census=false -o tractors.jsonl`,
		Args: arguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			switch {
			case out == "":
				return usagef("-o FILE is missing: where to write the bank (- for standard output)")
			case size < 1:
				return usagef("--size %d: a bank has at least one question", size)
			}
			plan := banks.Plan{Shares: kinds.Equal()}
			if blueprint != "" {
				var err error
				if plan, err = blueprintPlan(blueprint); err != nil {
					return err
				}
			}
			plan.Size = size
			if blueprint == "" || cmd.Flags().Changed("seed") {
				plan.Seed = seed
			}
			c, err := loadCatalog(path)
			if err != nil {
				return err
			}
			src := banks.NewSource(resolver.New(c))
			tally := &banks.Tally{}
			outcomes, err := makeBank(cmd.Context(), src, plan, out, cmd.OutOrStdout(), tally)
			if err != nil {
				return err
			}
			doc := bankDocument{File: out, Catalog: c.Meta().Title, Revision: c.Meta().Revision, Seed: plan.Seed, AskedFor: size, Kinds: outcomes}
			for _, o := range outcomes {
				doc.Questions += o.Taken
			}
			if census {
				note(os.Stderr, "counting the questions that the catalog has in it")
				if doc.Census, err = banks.TakeCensus(cmd.Context(), src, kinds.All(), banks.CensusOptions{Seed: plan.Seed, Options: plan.Options, Weights: plan.Weights, Taken: tally}); err != nil {
					return err
				}
			}
			w := reportTo(cmd, out)
			if format == "json" {
				err = writeJSON(w, doc)
			} else {
				err = printBankReport(w, &doc)
			}
			if err == nil && doc.Questions < size {
				return errNo
			}
			return err
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	catalogFlag(cmd, &path)
	fl.Uint64Var(&seed, "seed", 1, "seed `number` of the pseudo-random choices; with a blueprint the blueprint's, if not given")
	fl.IntVar(&size, "size", 500, "`number` of questions")
	fl.StringVar(&blueprint, "blueprint", "", "blueprint in `FILE` (YAML) that the bank is to serve")
	fl.BoolVar(&census, "census", true, "count all the questions that the catalog has, and what none reaches")
	fl.StringVarP(&out, "output", "o", "", "write the bank to `FILE` (JSON Lines), - for standard output")
	completeFiles(cmd, "blueprint", "yaml", "yml")
	formatFlag(cmd, &format, "text", "json")
	return cmd
}

// bankDocument is what bank make prints as JSON.
type bankDocument struct {
	File      string          `json:"file"`
	Catalog   string          `json:"catalog"`
	Revision  string          `json:"revision"`
	Seed      uint64          `json:"seed"`
	AskedFor  int             `json:"asked_for"`
	Questions int             `json:"questions"`
	Kinds     []banks.Outcome `json:"kinds"`
	Census    *banks.Census   `json:"census,omitempty"`
}

// reportTo is where the report of a command goes that writes a file: standard
// output, unless that is the file.
func reportTo(cmd *cobra.Command, out string) io.Writer {
	if out == "-" {
		return cmd.ErrOrStderr()
	}
	return cmd.OutOrStdout()
}

func blueprintPlan(file string) (banks.Plan, error) {
	b, err := readBlueprint(file)
	if err != nil {
		return banks.Plan{}, err
	}
	plan, err := b.Plan(kinds.All())
	if err != nil {
		return banks.Plan{}, fmt.Errorf("%s: %w", file, err)
	}
	return plan, nil
}

func readBlueprint(file string) (banks.Blueprint, error) {
	text, err := readBounded(file, 1<<20)
	if err != nil {
		return banks.Blueprint{}, err
	}
	b, err := banks.ParseBlueprint(text)
	if err != nil {
		return b, fmt.Errorf("%s: %w", file, err)
	}
	return b, nil
}

func makeBank(ctx context.Context, src *banks.Source, plan banks.Plan, out string, stdout io.Writer, tally *banks.Tally) (outcomes []banks.Outcome, err error) {
	err = writeFile(ctx, out, stdout, func(w io.Writer) error {
		bar := progress(os.Stderr, plan.Size, "making questions")
		defer bar.Finish()
		var werr error
		var gerr error
		outcomes, gerr = banks.Generate(ctx, src, plan, func(q *banks.Question, line []byte) bool {
			_, werr = w.Write(append(line, '\n'))
			tally.Add(q)
			_ = bar.Add(1)
			return werr == nil
		})
		return errors.Join(werr, gerr)
	})
	return outcomes, err
}

func printBankReport(w io.Writer, doc *bankDocument) error {
	if doc.Census != nil {
		text := newWrapper(w)
		if err := doc.Census.WriteText(text); err != nil {
			return err
		}
		if err := text.Close(); err != nil {
			return err
		}
		fmt.Fprintln(w)
	} else {
		printOutcomes(w, doc)
	}
	from := fmt.Sprintf("%s, revision %s, seed %d", doc.Catalog, doc.Revision, doc.Seed)
	if doc.File != "-" {
		fmt.Fprintf(w, "%s written to %s (%s).\n", capital(counted(doc.Questions, "question")), doc.File, from)
	} else {
		fmt.Fprintf(w, "%s written (%s).\n", capital(counted(doc.Questions, "question")), from)
	}
	if doc.Questions < doc.AskedFor {
		fmt.Fprintf(w, "%d were asked for; the catalog has no more of these kinds.\n", doc.AskedFor)
	}
	return nil
}

func printOutcomes(w io.Writer, doc *bankDocument) {
	t := newTable(w)
	t.AppendHeader(table.Row{"kind", "what is asked", "places to ask", "at a limit", "tried", "of these none", "taken"})
	configs := []table.ColumnConfig{column(2, 44, text.AlignLeft)}
	for i := 3; i <= 7; i++ {
		configs = append(configs, column(i, 13, text.AlignRight))
	}
	t.SetColumnConfigs(configs)
	for _, o := range doc.Kinds {
		k, _ := kinds.Find(o.Kind)
		t.AppendRow(table.Row{o.Kind, k.Title, o.Sites, o.Limits, o.Tried, o.Without, o.Taken})
	}
	t.AppendFooter(table.Row{"all", "", "", "", "", "", doc.Questions})
	t.Render()
	fmt.Fprintln(w, "Of these none: places that give no question, as the answer is not unique or no slip leads to a wrong one.")
}
