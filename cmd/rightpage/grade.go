package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"strconv"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/spf13/cobra"

	"rightpage/banks"
	"rightpage/grading"
)

func gradeCommand() *cobra.Command {
	var bank, responses, format string
	var all bool
	cmd := &cobra.Command{
		Use:   "grade",
		Short: "Grade a spreadsheet of answers and name the slip behind every wrong one",
		Long: `Reads answers from a CSV file: either one answer a row (columns person, question,
answer), or one person a row and one question a column. Every row is accounted
for: graded, or refused with the reason. Exit status 1 if any row was refused.`,
		Example: `  rightpage try --once --out demo
  rightpage grade --bank demo/quiz.json --responses demo/answers.csv
  rightpage grade --bank demo/bank.jsonl --responses demo/answers.csv --format json`,
		Args: arguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if bank == "" || responses == "" {
				return usagef("grade needs --bank FILE (a bank or a form) and --responses FILE (the answers)")
			}
			byID, err := loadQuestions(bank)
			if err != nil {
				return err
			}
			f, err := os.Open(responses)
			if err != nil {
				return err
			}
			defer f.Close()
			sheet, err := grading.GradeCSV(f, func(id string) (*banks.Question, bool) { q, ok := byID[id]; return q, ok }, grading.Rules{AllOrNothing: all})
			if err != nil {
				return fmt.Errorf("%s: %w", responses, err)
			}
			switch format {
			case "json":
				err = writeJSON(cmd.OutOrStdout(), sheet)
			case "csv":
				err = writeScoresCSV(cmd.OutOrStdout(), sheet)
			default:
				printScores(cmd.OutOrStdout(), sheet)
			}
			if _, refused := sheet.Count(); err == nil && refused > 0 {
				return errNo
			}
			return err
		},
	}
	fl := cmd.Flags()
	fl.StringVar(&bank, "bank", "", "bank file or form file that the questions are from")
	fl.StringVar(&responses, "responses", "", "answers (CSV)")
	fl.BoolVar(&all, "all-or-nothing", false, "no partial credit")
	formatFlag(cmd, &format, "table", "csv", "json")
	return cmd
}

func printScores(w io.Writer, sheet *grading.Sheet) {
	t := newTable(w)
	t.AppendHeader(table.Row{"person", "points", "of", "share", "blank", "refused", "most frequent slip"})
	for _, p := range sheet.People {
		slip := ""
		if len(p.Slips) > 0 {
			slip = fmt.Sprintf("%s (%d)", p.Slips[0].Slip, p.Slips[0].Times)
		}
		t.AppendRow(table.Row{p.Person, fmt.Sprintf("%.2f", p.Points), p.Of, fmt.Sprintf("%.0f %%", 100*p.Share()), p.Blank, p.Refused, slip})
	}
	t.Render()
	wrong := newTable(w)
	wrong.AppendHeader(table.Row{"row", "person", "question", "given", "right", "what went wrong"})
	wrong.SetColumnConfigs([]table.ColumnConfig{{Number: 4, WidthMax: 24}, {Number: 5, WidthMax: 24}, {Number: 6, WidthMax: 60}})
	n := 0
	for i := range sheet.Rows {
		r := &sheet.Rows[i]
		switch {
		case r.Score == nil:
			wrong.AppendRow(table.Row{r.Row, r.Person, r.Question, r.Answer, "", "refused: " + r.Refused + "; " + r.Mend})
		case r.Score.Verdict == grading.Wrong || r.Score.Verdict == grading.Partly:
			wrong.AppendRow(table.Row{r.Row, r.Person, r.Question, r.Score.Given, r.Score.Right, r.Score.Says})
		default:
			continue
		}
		n++
	}
	if n > 0 {
		wrong.Render()
	}
	scored, refused := sheet.Count()
	fmt.Fprintf(w, "%d answers graded, %d refused, %d blank rows\n", scored, refused, sheet.Blank)
}

func writeScoresCSV(w io.Writer, sheet *grading.Sheet) error {
	c := csv.NewWriter(w)
	_ = c.Write([]string{"row", "person", "question", "kind", "skill", "answer", "right", "verdict", "points", "slip", "step", "says", "refused"})
	for i := range sheet.Rows {
		r := &sheet.Rows[i]
		cells := []string{strconv.Itoa(r.Row), formulaSafe(r.Person), formulaSafe(r.Question), "", "", formulaSafe(r.Answer), "", "", "", "", "", "", r.Refused}
		if s := r.Score; s != nil {
			slip := ""
			if s.Known {
				slip = s.Slip.String()
			}
			copy(cells[3:], []string{s.Kind, s.Skill, formulaSafe(r.Answer), formulaSafe(s.Right), string(s.Verdict), strconv.FormatFloat(s.Points, 'f', -1, 64), slip, s.Step.String(), s.Says, ""})
		}
		_ = c.Write(cells)
	}
	c.Flush()
	return c.Error()
}
