package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/spf13/cobra"

	"rightpage/banks"
	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
)

func bankCommand() *cobra.Command {
	cmd := &cobra.Command{Use: "bank", Short: "Make a bank of questions, and look into one"}
	cmd.AddCommand(bankMakeCommand(), bankShowCommand())
	return cmd
}

func bankMakeCommand() *cobra.Command {
	var path, out, blueprint string
	var seed uint64
	var size int
	cmd := &cobra.Command{
		Use:   "make",
		Short: "Make questions from a catalog",
		Long: `Makes questions and their keys from a catalog, each wrong option from a known
slip. The same catalog, seed and size give the same bytes on any machine.`,
		Example: "  rightpage bank make --catalog testdata/tarnfell/2026-1 --seed 7 --size 500 -o bank.jsonl",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if out == "" {
				return &usageError{"-o FILE is missing: where to write the bank (- for standard output)"}
			}
			c, err := loadCatalog(path)
			if err != nil {
				return err
			}
			plan := banks.Plan{Seed: seed, Size: size, Shares: kinds.Equal()}
			if blueprint != "" {
				if plan.Shares, err = blueprintShares(blueprint); err != nil {
					return err
				}
			}
			outcomes, err := makeBank(cmd.Context(), banks.NewSource(resolver.New(c)), plan, out, cmd.OutOrStdout())
			if err != nil {
				return err
			}
			return printOutcomes(cmd.ErrOrStderr(), outcomes, size)
		},
	}
	fl := cmd.Flags()
	fl.StringVar(&path, "catalog", "", "catalog: a folder of CSV files or an XLSX workbook")
	fl.Uint64Var(&seed, "seed", 1, "seed of the pseudo-random choices")
	fl.IntVar(&size, "size", 500, "number of questions")
	fl.StringVar(&blueprint, "blueprint", "", "blueprint (YAML) whose shares of kinds the bank is to have")
	fl.StringVarP(&out, "output", "o", "", "bank file to write (JSON Lines), - for standard output")
	return cmd
}

// blueprintShares gives the kinds the shares that a form of the blueprint
// needs.
func blueprintShares(file string) ([]banks.Share, error) {
	text, err := readBounded(file, 1<<20)
	if err != nil {
		return nil, err
	}
	b, err := banks.ParseBlueprint(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	return banks.ShareOf(&b, kinds.All())
}

func makeBank(ctx context.Context, src *banks.Source, plan banks.Plan, out string, stdout io.Writer) ([]banks.Outcome, error) {
	if ctx == nil {
		ctx = context.Background()
	}
	w, finish, err := createFile(out, stdout)
	if err != nil {
		return nil, err
	}
	bw := bufio.NewWriterSize(w, 1<<20)
	bar := progress(os.Stderr, plan.Size, "making questions")
	outcomes, err := banks.Generate(ctx, src, plan, func(_ *banks.Question, line []byte) bool {
		_, werr := bw.Write(append(line, '\n'))
		_ = bar.Add(1)
		return werr == nil
	})
	_ = bar.Finish()
	if err == nil {
		err = bw.Flush()
	}
	return outcomes, finish(err)
}

func printOutcomes(w io.Writer, outcomes []banks.Outcome, size int) error {
	t := newTable(w)
	t.AppendHeader(table.Row{"kind", "sites", "at a limit", "visited", "without question", "taken"})
	total := 0
	for _, o := range outcomes {
		t.AppendRow(table.Row{o.Kind, o.Sites, o.Limits, o.Tried, o.Without, o.Taken})
		total += o.Taken
	}
	t.AppendFooter(table.Row{"all", "", "", "", "", total})
	t.Render()
	if total < size {
		fmt.Fprintf(w, "The catalog has no more than %d questions of these kinds; %d were asked for.\n", total, size)
		return errNo
	}
	return nil
}
