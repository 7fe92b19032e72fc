package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"
	"github.com/spf13/cobra"

	"rightpage/banks"
	"rightpage/grading/psychometrics"
)

func cutCommand() *cobra.Command {
	return group("cut", "Find the score to pass by: from judges, or from people whose ability is known", cutPageCommand(), cutAngoffCommand(), cutGroupsCommand())
}

// cutLevel is the confidence of the bounds of a cut score.
const cutLevel = 0.95

func cutPageCommand() *cobra.Command {
	var out, variant, judges, scores, format string
	cmd := &cobra.Command{
		Use:   "page FORM",
		Short: "Write the page that judges fill in",
		Long: `Writes a CSV file with a row a question of a form and a column a judge, for
Angoff's method. For each question a judge writes how many of 100 people who are
just competent enough would answer it right. Where there are scores, the share
that was right stands beside the question, for a second round.`,
		Example: `  rightpage try --once --out demo
  rightpage cut page demo/quiz.json --judges "Ada,Bo,Cy" -o judges.csv
  rightpage cut page demo/quiz.json --judges "Ada,Bo,Cy" --scores demo/scores.csv -o again.csv`,
		Args: arguments,
		RunE: func(cmd *cobra.Command, args []string) error {
			if out == "" {
				return usagef("-o FILE is missing: the page to write (- for standard output)")
			}
			if err := sameFile(args[0], out); err != nil {
				return err
			}
			form, err := loadForm(args[0])
			if err != nil {
				return err
			}
			chosen, err := chooseVariants(form, variant)
			if err != nil {
				return err
			}
			if len(chosen) > 1 {
				return usagef("the form has the variants %s: name one by --variant", variantNames(form))
			}
			observed, err := observedShares(scores)
			if err != nil {
				return err
			}
			var page psychometrics.JudgePage
			for _, q := range chosen[0].Questions {
				x := psychometrics.JudgedQuestion{ID: q.ID, Text: judgeText(q), Observed: math.NaN()}
				if p, ok := observed[q.ID]; ok {
					x.Observed = p
				}
				page.Questions = append(page.Questions, x)
			}
			for name := range strings.SplitSeq(judges, ",") {
				if name = strings.TrimSpace(name); name != "" {
					page.Judges = append(page.Judges, name)
					page.Percent = append(page.Percent, nothing(len(page.Questions)))
				}
			}
			if err := writeFile(cmd.Context(), out, cmd.OutOrStdout(), func(w io.Writer) error { return psychometrics.WriteJudgePage(w, page) }); err != nil {
				return err
			}
			w := reportTo(cmd, out)
			if format == "json" {
				return writeJSON(w, pageDocument{File: out, Questions: len(page.Questions), Judges: max(len(page.Judges), 1)})
			}
			fmt.Fprintf(w, "%s: %s for %s to fill in: how many of 100 people who are just competent enough would answer each right?\n",
				out, counted(len(page.Questions), "question"), counted(max(len(page.Judges), 1), "judge"))
			return nil
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	fl.StringVarP(&out, "out", "o", "", "write to `FILE` (CSV)")
	fl.StringVar(&variant, "variant", "", "`name` of the variant, where the form has several")
	fl.StringVar(&judges, "judges", "", "`names` of the judges, apart by commas")
	fl.StringVar(&scores, "scores", "", "table of scores in `FILE` (CSV), to show what was right")
	completeFiles(cmd, "out", "csv")
	completeFiles(cmd, "scores", "csv")
	formatFlag(cmd, &format, "text", "json")
	return cmd
}

type pageDocument struct {
	File      string `json:"file"`
	Questions int    `json:"questions"`
	Judges    int    `json:"judges"`
}

// judgeText is a question as a judge reads it, in one cell.
func judgeText(q *banks.Question) string {
	parts := make([]string, 0, len(q.Order)+1)
	for _, l := range q.Order {
		parts = append(parts, l.Label+": "+l.Value)
	}
	return strings.Join(append(parts, q.Stem), "; ")
}

// nothing is a judge's column before it is filled in.
func nothing(n int) []float64 {
	list := make([]float64, n)
	for i := range list {
		list[i] = math.NaN()
	}
	return list
}

// observedShares gives the percentage right of each question of a table of
// scores.
func observedShares(name string) (map[string]float64, error) {
	if name == "" {
		return nil, nil
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	r, err := psychometrics.ReadScores(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	out := map[string]float64{}
	for i, x := range psychometrics.ItemStatistics(r) {
		if x.Answered > 0 {
			out[r.Items[i]] = math.Round(100 * x.P)
		}
	}
	return out, nil
}

func cutAngoffCommand() *cobra.Command {
	var format string
	cmd := &cobra.Command{
		Use:   "angoff FILE",
		Short: "Find the cut score from the page that judges filled in",
		Long: `Reads the page of rightpage cut page as judges filled it in, and finds the cut
score by Angoff's method: the sum over questions of the mean of the judges'
figures, with how sure it is, how lenient each judge is, and which questions to
talk about before a second round.`,
		Example: `  rightpage cut angoff testdata/cut/judges.csv`,
		Args:    arguments,
		RunE: func(cmd *cobra.Command, args []string) error {
			f, err := os.Open(args[0])
			if err != nil {
				return err
			}
			defer f.Close()
			page, err := psychometrics.ReadJudgePage(f)
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			c, err := psychometrics.Angoff(page, cutLevel)
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			if format == "json" {
				return writeJSON(cmd.OutOrStdout(), angoffDocumentOf(page, c))
			}
			printAngoff(cmd.OutOrStdout(), page, c)
			return nil
		},
	}
	formatFlag(cmd, &format, "table", "json")
	return cmd
}

// mostDiscussed is how many questions are named to talk about.
const mostDiscussed = 5

func printAngoff(w io.Writer, page psychometrics.JudgePage, c psychometrics.CutScore) {
	n := len(page.Questions)
	wrap := newWrapper(w)
	fmt.Fprintf(wrap, "Cut score: %.1f of %s, %.0f %%.\n", c.Right, counted(n, "question"), c.Percent)
	switch {
	case math.IsNaN(c.SE):
		fmt.Fprintln(wrap, "One judge alone: too few to tell how sure that is.")
	case c.Low < 0 || c.High > float64(n) || c.High-c.Low >= float64(n)/2:
		fmt.Fprintf(wrap, "Too few judges, or judges too far apart, to tell how sure that is: other judges like these would set it anywhere from %.1f to %.1f. Talk it over, or ask more.\n",
			max(c.Low, 0), min(c.High, float64(n)))
	default:
		fmt.Fprintf(wrap, "Other judges like these would set it between %.1f and %.1f, 19 times out of 20.\n", c.Low, c.High)
	}
	_ = wrap.Close()
	t := newTable(w)
	t.AppendHeader(table.Row{"judge", "rated", "cut", "leniency", "agreement", "realism"})
	var configs []table.ColumnConfig
	for i := 2; i <= 6; i++ {
		configs = append(configs, column(i, 10, text.AlignRight))
	}
	t.SetColumnConfigs(configs)
	for i, j := range c.Judges {
		t.AppendRow(table.Row{page.Judges[i], j.Rated, figure(psychometrics.Number(j.Right), 1), figure(psychometrics.Number(j.Leniency), 1), figure(psychometrics.Number(j.Agreement), 2), figure(psychometrics.Number(j.Realism), 2)})
	}
	t.Render()
	wrap = newWrapper(w)
	fmt.Fprintln(wrap, "Leniency: points of a hundred below the mean of all judges. Agreement: correlation with the other judges; realism: with what was right. Both over questions; with few of them they are rough.")
	for k, i := range c.Discuss {
		if k == mostDiscussed {
			break
		}
		fmt.Fprintf(wrap, "talk about  %s: mean %.0f, SD %.0f. %s\n", page.Questions[i].ID, c.Questions[i].Mean, c.Questions[i].SD, page.Questions[i].Text)
	}
	_ = wrap.Close()
}

type angoffDocument struct {
	Questions int                  `json:"questions"`
	Right     psychometrics.Number `json:"right"`
	Percent   psychometrics.Number `json:"percent"`
	SE        psychometrics.Number `json:"se"`
	Low       psychometrics.Number `json:"low"`
	High      psychometrics.Number `json:"high"`
	Level     psychometrics.Number `json:"level"`
	Judges    []judgeDocument      `json:"judges"`
	Discuss   []string             `json:"discuss"`
}

type judgeDocument struct {
	Judge     string               `json:"judge"`
	Rated     int                  `json:"rated"`
	Right     psychometrics.Number `json:"right"`
	Leniency  psychometrics.Number `json:"leniency"`
	Agreement psychometrics.Number `json:"agreement"`
	Realism   psychometrics.Number `json:"realism"`
}

func angoffDocumentOf(page psychometrics.JudgePage, c psychometrics.CutScore) angoffDocument {
	n := func(x float64) psychometrics.Number { return psychometrics.Number(x) }
	doc := angoffDocument{Questions: len(page.Questions), Right: n(c.Right), Percent: n(c.Percent), SE: n(c.SE), Low: n(c.Low), High: n(c.High), Level: n(c.Level), Discuss: []string{}}
	for i, j := range c.Judges {
		doc.Judges = append(doc.Judges, judgeDocument{page.Judges[i], j.Rated, n(j.Right), n(j.Leniency), n(j.Agreement), n(j.Realism)})
	}
	for _, i := range c.Discuss {
		doc.Discuss = append(doc.Discuss, page.Questions[i].ID)
	}
	return doc
}

func cutGroupsCommand() *cobra.Command {
	var format string
	var cost float64
	cmd := &cobra.Command{
		Use:   "groups FILE",
		Short: "Find the cut score that divides people known to be competent from others",
		Long: `Reads a CSV file with the columns person, score and competent (yes or no, known
from elsewhere than the test), and finds the score at which to pass somebody does
no more harm than to fail them (contrasting groups).`,
		Example: `  rightpage cut groups testdata/cut/known.csv
  rightpage cut groups testdata/cut/known.csv --cost 3`,
		Args: arguments,
		RunE: func(cmd *cobra.Command, args []string) error {
			if !(cost > 0) || math.IsInf(cost, 0) {
				return usagef("--cost %g: write a number above 0", cost)
			}
			competent, others, err := readGroups(args[0])
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			c, err := psychometrics.ContrastingGroups(competent, others, cost, cutLevel)
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			if format == "json" {
				return writeJSON(cmd.OutOrStdout(), groupsDocument{len(competent), len(others), psychometrics.Number(c.Cut), psychometrics.Number(c.SE),
					psychometrics.Number(c.Low), psychometrics.Number(c.High), psychometrics.Number(c.Level), c.Separated, c.FalsePass, c.FalseFail})
			}
			w := newWrapper(cmd.OutOrStdout())
			fmt.Fprintf(w, "Cut score: %.1f, from %d competent people and %s.\n", c.Cut, len(competent), counted(len(others), "other"))
			if c.Separated {
				fmt.Fprintln(w, "All competent people scored above all others: any score between them divides the two, and this is the middle. Too few to tell more.")
			} else {
				fmt.Fprintf(w, "With other people like these it would lie between %.1f and %.1f, 19 times out of 20.\n", c.Low, c.High)
			}
			fmt.Fprintf(w, "Of these people it would pass %d who are not competent and fail %d who are.\n", c.FalsePass, c.FalseFail)
			return w.Close()
		},
	}
	cmd.Flags().Float64Var(&cost, "cost", 1, "to pass somebody who is not competent is so many `times` as bad as to fail somebody who is")
	formatFlag(cmd, &format, "text", "json")
	return cmd
}

type groupsDocument struct {
	Competent int                  `json:"competent"`
	Others    int                  `json:"others"`
	Cut       psychometrics.Number `json:"cut"`
	SE        psychometrics.Number `json:"se"`
	Low       psychometrics.Number `json:"low"`
	High      psychometrics.Number `json:"high"`
	Level     psychometrics.Number `json:"level"`
	Separated bool                 `json:"separated"`
	FalsePass int                  `json:"false_pass"`
	FalseFail int                  `json:"false_fail"`
}

// readGroups reads the scores of competent people and of others. All mistakes
// are reported, each with its row.
func readGroups(name string) (competent, others []float64, err error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.TrimLeadingSpace = true
	head, err := r.Read()
	if err != nil {
		return nil, nil, fmt.Errorf("cannot read the header row: %w", err)
	}
	score, known := -1, -1
	for i, h := range head {
		switch strings.ToLower(strings.TrimSpace(strings.TrimPrefix(h, "\uFEFF"))) {
		case "score":
			score = i
		case "competent":
			known = i
		}
	}
	if score < 0 || known < 0 {
		return nil, nil, errors.New("row 1: the columns score and competent are wanted; name them so")
	}
	var wrong []error
	for {
		cells, err := r.Read()
		if err == io.EOF {
			return competent, others, errors.Join(wrong...)
		}
		if err != nil {
			return nil, nil, errors.Join(append(wrong, err)...)
		}
		row, _ := r.FieldPos(score)
		x, err := strconv.ParseFloat(strings.TrimSpace(cells[score]), 64)
		if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
			wrong = append(wrong, fmt.Errorf("row %d, column score: %q is no number; write one, or leave the person out", row, cells[score]))
			continue
		}
		switch strings.ToLower(strings.TrimSpace(cells[known])) {
		case "yes", "1", "true":
			competent = append(competent, x)
		case "no", "0", "false":
			others = append(others, x)
		default:
			wrong = append(wrong, fmt.Errorf("row %d, column competent: %q; write yes or no", row, cells[known]))
		}
	}
}
