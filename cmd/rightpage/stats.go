package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"rightpage/grading/psychometrics"
)

func statsCommand() *cobra.Command {
	var scores, folder, format string
	cmd := &cobra.Command{
		Use:   "stats",
		Short: "Compute the statistics of questions and people from a table of scores",
		Long: `Reads a table of scores (a row a person, a column a question, 1 right, 0 wrong,
empty not seen) and prints how the questions and the scores hold up: difficulty,
discrimination, reliability with its interval, Rasch difficulties and abilities
with their standard errors, and fit; what that means in words, and where it is
too few to tell.

With --charts it draws the map of people and questions, and the curve of each
question with what was observed, as SVG in a folder; charts.html there shows all
of them.`,
		Example: `  rightpage try --once --out demo
  rightpage stats --scores demo/scores.csv
  rightpage stats --scores demo/scores.csv --charts demo/charts
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
			drawn := 0
			if folder != "" {
				if drawn, err = charts(cmd.Context(), folder, r, &s); err != nil {
					return err
				}
			}
			switch format {
			case "json":
				return writeJSON(cmd.OutOrStdout(), statsDocumentOf(&s))
			case "csv":
				return writeItemCSV(cmd.OutOrStdout(), s)
			}
			printSummary(cmd.OutOrStdout(), &s)
			if drawn > 0 {
				fmt.Fprintf(cmd.OutOrStdout(), "%s in %s; charts.html shows them all.\n", counted(drawn, "chart"), folder)
			}
			return nil
		},
	}
	cmd.Flags().StringVar(&scores, "scores", "", "table of scores in `FILE` (CSV)")
	cmd.Flags().StringVar(&folder, "charts", "", "draw charts into the `FOLDER`")
	completeFiles(cmd, "scores", "csv")
	_ = cmd.MarkFlagDirname("charts")
	formatFlag(cmd, &format, "table", "csv", "json")
	return cmd
}
