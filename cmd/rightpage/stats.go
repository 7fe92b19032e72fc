package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"rightpage/grading/psychometrics"
)

func statsCommand() *cobra.Command {
	var scores, format string
	cmd := &cobra.Command{
		Use:   "stats",
		Short: "Compute the statistics of questions and people from a table of scores",
		Long: `Reads a table of scores (a row a person, a column a question, 1 right, 0 wrong,
empty not seen) and prints how the questions and the scores hold up: difficulty,
discrimination, reliability with its interval, Rasch difficulties and abilities
with their standard errors, and fit.`,
		Example: `  rightpage try --once --out demo
  rightpage stats --scores demo/scores.csv
  rightpage stats --scores demo/scores.csv --format json`,
		Args: arguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if scores == "" {
				return usagef("--scores FILE is missing: a table with a row a person, a column a question, 0 or 1")
			}
			f, err := os.Open(scores)
			if err != nil {
				return err
			}
			defer f.Close()
			r, err := psychometrics.ReadScores(f)
			if err != nil {
				return fmt.Errorf("%s: %w", scores, err)
			}
			s, err := psychometrics.Summarize(r)
			if err != nil {
				return fmt.Errorf("%s: %w", scores, err)
			}
			switch format {
			case "json":
				return writeJSON(cmd.OutOrStdout(), statsDocumentOf(&s))
			case "csv":
				return writeItemCSV(cmd.OutOrStdout(), s)
			}
			printSummary(cmd.OutOrStdout(), &s)
			return nil
		},
	}
	cmd.Flags().StringVar(&scores, "scores", "", "table of scores in `FILE` (CSV)")
	completeFiles(cmd, "scores", "csv")
	formatFlag(cmd, &format, "table", "csv", "json")
	return cmd
}
