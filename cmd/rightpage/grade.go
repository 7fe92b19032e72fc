package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"rightpage/grading"
)

func gradeCommand() *cobra.Command {
	var bank, responses, format string
	var all bool
	var most int
	cmd := &cobra.Command{
		Use:   "grade",
		Short: "Grade a spreadsheet of answers and name the slip behind every wrong one",
		Long: `Reads answers from a CSV file: either one answer a row (columns person, question,
answer), or one person a row and one question a column. Every row is accounted
for: graded, or refused with the reason. Exit status 1 if anything was refused.

The format csv has a row an answer; scores has a row a person and a column a
question, 1 or 0, as rightpage stats reads it.`,
		Example: `  rightpage try --once --out demo
  rightpage grade --bank demo/quiz.json --responses demo/answers.csv
  rightpage grade --bank demo/bank.jsonl --responses demo/answers.csv --format json
  rightpage grade --bank demo/quiz.json --responses demo/answers.csv --format scores > scores.csv`,
		Args: arguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			switch {
			case bank == "":
				return usagef("--bank FILE is missing: the bank or form that the questions are from")
			case responses == "":
				return usagef("--responses FILE is missing: the answers (CSV)")
			case most < 0:
				return usagef("--most %d: write a number from 0; 0 lists all", most)
			}
			f, err := os.Open(responses)
			if err != nil {
				return err
			}
			defer f.Close()
			questions, err := findQuestions(bank)
			if err != nil {
				return err
			}
			sheet, err := grading.GradeCSV(f, questions.find, grading.Rules{AllOrNothing: all})
			if cerr := questions.Close(); cerr != nil {
				return cerr
			}
			if err != nil {
				return fmt.Errorf("%s: %w", responses, err)
			}
			if err := cmd.Context().Err(); err != nil {
				return err
			}
			switch w := cmd.OutOrStdout(); format {
			case "json":
				err = sheet.WriteJSON(w)
			case "csv":
				err = sheet.WriteCSV(w)
			case "scores":
				err = sheet.WriteScores(w)
			default:
				text := newWrapper(w)
				if err = sheet.WriteTable(text, most); err == nil {
					err = text.Close()
				}
			}
			_, refused := sheet.Count()
			for _, c := range sheet.Columns {
				refused += c.Cells
			}
			if err == nil && refused > 0 {
				return errNo
			}
			return err
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	fl.StringVar(&bank, "bank", "", "bank or form in `FILE` that the questions are from")
	fl.StringVar(&responses, "responses", "", "answers in `FILE` (CSV)")
	fl.BoolVar(&all, "all-or-nothing", false, "no partial credit")
	fl.IntVar(&most, "most", 0, "list at most this `number` of answers that are not right; 0 lists all")
	completeFiles(cmd, "bank", "jsonl", "json")
	completeFiles(cmd, "responses", "csv")
	formatFlag(cmd, &format, "table", "csv", "scores", "json")
	return cmd
}
