package main

import (
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"rightpage/banks"
	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
)

func bankShowCommand() *cobra.Command {
	var path, format, id string
	var verify bool
	var most int
	cmd := &cobra.Command{
		Use:   "show FILE",
		Short: "Print the questions of a bank with their keys, or verify them",
		Long: `Prints questions with key, slips and trace. With --verify every key and every
wrong option is computed again from the catalog: the key must be the one answer,
and no wrong option may be right. Exit status 1 if any is not so.`,
		Example: "  rightpage bank show bank.jsonl --most 3\n  rightpage bank show bank.jsonl --verify --catalog testdata/tarnfell/2026-1",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			f, err := os.Open(args[0])
			if err != nil {
				return err
			}
			defer f.Close()
			if verify {
				return verifyBank(cmd, f, path)
			}
			n := 0
			for q, err := range banks.ReadBank(f) {
				if err != nil {
					return fmt.Errorf("%s: %w", args[0], err)
				}
				if id != "" && q.ID != id {
					continue
				}
				if n++; most > 0 && n > most {
					break
				}
				if format == "json" {
					if err := writeJSON(cmd.OutOrStdout(), q); err != nil {
						return err
					}
					continue
				}
				printQuestion(cmd.OutOrStdout(), q)
			}
			if n == 0 && id != "" {
				fmt.Fprintf(cmd.ErrOrStderr(), "%s holds no question %s\n", args[0], id)
				return errNo
			}
			return nil
		},
	}
	fl := cmd.Flags()
	fl.BoolVar(&verify, "verify", false, "compute every key and wrong option again")
	fl.StringVar(&path, "catalog", "", "with --verify: catalog that the bank was made from")
	fl.StringVar(&id, "id", "", "show this question alone")
	fl.IntVar(&most, "most", 0, "show at most so many questions; 0 shows all")
	formatFlag(cmd, &format, "text", "json")
	return cmd
}

func verifyBank(cmd *cobra.Command, f io.Reader, path string) error {
	c, err := loadCatalog(path)
	if err != nil {
		return err
	}
	v := banks.NewVerifier(banks.NewSource(resolver.New(c)), kinds.All())
	total, bad := 0, 0
	for q, err := range banks.ReadBank(f) {
		if err != nil {
			return err
		}
		total++
		if err := v.Verify(q); err != nil {
			bad++
			fmt.Fprintf(cmd.OutOrStdout(), "%s %s: %v\n", q.ID, q.Kind, err)
		}
	}
	fmt.Fprintf(cmd.OutOrStdout(), "%d questions, %d not as the catalog has it\n", total, bad)
	if bad > 0 {
		return errNo
	}
	return nil
}

func printQuestion(w io.Writer, q *banks.Question) {
	fmt.Fprintf(w, "%s  %s, skill %s, %s, difficulty %.2f", q.ID, q.Kind, q.Skill, q.Form, q.Logit)
	if q.Boundary {
		fmt.Fprint(w, ", at a limit")
	}
	fmt.Fprintln(w)
	for _, l := range q.Order {
		fmt.Fprintf(w, "    %-20s %s\n", l.Label, l.Value)
	}
	fmt.Fprintf(w, "  %s\n", q.Stem)
	printOptions(w, "  ", q.Options)
	for _, s := range q.Steps {
		fmt.Fprintf(w, "  – %s: %s\n", s.Ask, s.KeyText())
		printOptions(w, "      ", s.Options)
	}
	fmt.Fprintf(w, "  key: %s\n", q.KeyText())
	for _, s := range q.Slipped {
		fmt.Fprintf(w, "  slip: %s — %s\n", s.Value, s.Slip)
	}
	for _, t := range q.Trace {
		fmt.Fprintf(w, "  trace: %s → %s\n", t.Step, t.Result)
	}
	for _, c := range q.Cautions {
		fmt.Fprintf(w, "  ! %s\n", c)
	}
	fmt.Fprintln(w)
}

func printOptions(w io.Writer, indent string, options []banks.Option) {
	for i, o := range options {
		mark := ""
		if !o.Right {
			mark = "   [" + o.Slip.String() + "]"
		}
		fmt.Fprintf(w, "%s%s  %s%s\n", indent, banks.Letter(i), strings.TrimSpace(o.Text), mark)
	}
}
