package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"

	"github.com/jedib0t/go-pretty/v6/table"
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
		Example: "  rightpage stats --scores scores.csv\n  rightpage stats --scores scores.csv --format json",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if scores == "" {
				return &usageError{"--scores CSV is missing: a row a person, a column a question, 0 or 1"}
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
				return err
			}
			switch format {
			case "json":
				return writeJSON(cmd.OutOrStdout(), s)
			case "csv":
				return writeItemCSV(cmd.OutOrStdout(), s)
			}
			printSummary(cmd.OutOrStdout(), s)
			return nil
		},
	}
	cmd.Flags().StringVar(&scores, "scores", "", "table of scores (CSV)")
	formatFlag(cmd, &format, "table", "csv", "json")
	return cmd
}

// figure prints a number, or a dash where there is none.
func figure(n psychometrics.Number, decimals int) string {
	f := float64(n)
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return "–"
	}
	return strconv.FormatFloat(f, 'f', decimals, 64)
}

func printSummary(w io.Writer, s psychometrics.Summary) {
	fmt.Fprintf(w, "%d people, %d questions, %d answers, %d not seen\n", s.People, s.Items, s.Answers, s.Missing)
	fmt.Fprintf(w, "score        mean %s, SD %s, median %s, from %s to %s\n", figure(s.Mean, 2), figure(s.SD, 2), figure(s.Median, 1), figure(s.Lowest, 0), figure(s.Highest, 0))
	fmt.Fprintf(w, "reliability  alpha (KR-20) %s, %s %% interval %s to %s; standard error of measurement %s\n",
		figure(s.Alpha, 4), figure(s.Level*100, 0), figure(s.AlphaLow, 3), figure(s.AlphaHigh, 3), figure(s.SEM, 2))
	fmt.Fprintf(w, "Rasch        conditional log-likelihood %s; Andersen LR %s on %d df, p %s\n", figure(s.LogLikelihood, 2), figure(s.AndersenLR, 2), s.AndersenDF, figure(s.AndersenP, 3))
	t := newTable(w)
	t.AppendHeader(table.Row{"question", "answered", "p", "item-rest r", "difficulty", "SE", "infit", "outfit"})
	for _, i := range s.ItemRows {
		t.AppendRow(table.Row{i.Item, i.Answered, figure(i.P, 3), figure(i.ItemRest, 3), figure(i.Difficulty, 3), figure(i.SE, 3), figure(i.Infit, 2), figure(i.Outfit, 2)})
	}
	t.Render()
	if len(s.PersonRows) <= mostShown {
		p := newTable(w)
		p.AppendHeader(table.Row{"person", "answered", "right", "ability", "SE"})
		for _, r := range s.PersonRows {
			p.AppendRow(table.Row{r.Person, r.Answered, r.Right, figure(r.Ability, 2), figure(r.SE, 2)})
		}
		p.Render()
	} else {
		fmt.Fprintf(w, "%d people: --format json lists them\n", len(s.PersonRows))
	}
	for _, n := range s.Notes {
		fmt.Fprintln(w, "note:", n)
	}
}

func writeItemCSV(w io.Writer, s psychometrics.Summary) error {
	c := csv.NewWriter(w)
	_ = c.Write([]string{"question", "answered", "right", "p", "item_total", "item_rest", "alpha_without", "difficulty", "se", "infit", "outfit"})
	for _, i := range s.ItemRows {
		n := func(x psychometrics.Number) string {
			if math.IsNaN(float64(x)) || math.IsInf(float64(x), 0) {
				return ""
			}
			return strconv.FormatFloat(float64(x), 'g', 8, 64)
		}
		_ = c.Write([]string{formulaSafe(i.Item), strconv.Itoa(i.Answered), strconv.Itoa(i.Right), n(i.P), n(i.ItemTotal), n(i.ItemRest), n(i.AlphaWithout), n(i.Difficulty), n(i.SE), n(i.Infit), n(i.Outfit)})
	}
	c.Flush()
	return c.Error()
}

// formulaSafe keeps a spreadsheet from taking text for a formula (OWASP: CSV
// injection).
func formulaSafe(s string) string {
	if s != "" && (s[0] == '=' || s[0] == '+' || s[0] == '-' || s[0] == '@' || s[0] == '\t' || s[0] == '\r') {
		return "'" + s
	}
	return s
}
