package psychometrics

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// Columns of a judges' file that do not belong to a judge.
const (
	questionColumn = "question"
	textColumn     = "text"
	observedColumn = "observed %"
)

// WriteJudgePage writes a page for judges as CSV: columns question, text,
// observed % (only if some question has it), then one column per judge with
// percentages, empty where there is no rating. A page without judges gets one
// empty column for each name that the caller put in Judges, or one named "judge
// 1" if there is none, so that the file can be printed or handed out as it is.
// Cells that a spreadsheet would take for a formula are preceded by an
// apostrophe, which [ReadJudgePage] takes off again. The error is the writer's,
// or wraps [ErrShape] if Percent does not match Judges and Questions.
func WriteJudgePage(w io.Writer, page JudgePage) error {
	judges := page.Judges
	if len(judges) == 0 {
		judges = []string{"judge 1"}
	}
	if len(page.Percent) > len(judges) {
		return fmt.Errorf("judges' page: %w: %d rows of ratings for %d judges", ErrShape, len(page.Percent), len(judges))
	}
	observed := false
	for _, q := range page.Questions {
		observed = observed || finite(q.Observed)
	}
	header := []string{questionColumn, textColumn}
	if observed {
		header = append(header, observedColumn)
	}
	for _, j := range judges {
		header = append(header, guardCell(j))
	}
	out := csv.NewWriter(w)
	if err := out.Write(header); err != nil {
		return err
	}
	for i, q := range page.Questions {
		row := []string{guardCell(q.ID), guardCell(q.Text)}
		if observed {
			row = append(row, formatPercent(q.Observed))
		}
		for j := range judges {
			cell := ""
			if j < len(page.Percent) {
				if len(page.Percent[j]) != len(page.Questions) {
					return fmt.Errorf("judges' page: %w: judge %d has %d ratings for %d questions",
						ErrShape, j+1, len(page.Percent[j]), len(page.Questions))
				}
				cell = formatPercent(page.Percent[j][i])
			}
			row = append(row, cell)
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// ReadJudgePage reads what [WriteJudgePage] wrote and judges filled in. The
// column question is needed, text and observed % are not; every other column is
// a judge, in the order of the file; one without any value is left out, as a
// judge who did not attend. Percentages may have a per cent sign or a decimal
// comma. All problems are reported at once, joined, each a [*DataError] with
// row, column and remedy; they wrap [ErrRange], [ErrShape] or [ErrEmpty].
func ReadJudgePage(in io.Reader) (JudgePage, error) {
	records, err := readTable(in)
	if err != nil {
		return JudgePage{}, err
	}
	problems := records.problems
	question, text, observed := -1, -1, -1
	var columns []int
	var page JudgePage
	header := records.header
	for c, name := range header {
		switch strings.ToLower(name) {
		case questionColumn:
			question = c
		case textColumn:
			text = c
		case observedColumn, "observed":
			observed = c
		case "":
			// An empty column at the end of a spreadsheet.
		default:
			columns = append(columns, c)
			page.Judges = append(page.Judges, unguardCell(name))
		}
	}
	if question < 0 {
		return JudgePage{}, &DataError{Row: 1, Err: ErrShape,
			Problem: fmt.Sprintf("no column is named %q", questionColumn), Mend: "name the column with the questions so"}
	}
	ratings := make([][]float64, len(columns))
	filled := make([]bool, len(columns))
	for n, row := range records.rows {
		line := records.lines[n]
		q := JudgedQuestion{ID: unguardCell(row[question]), Observed: math.NaN()}
		if text >= 0 {
			q.Text = unguardCell(row[text])
		}
		if observed >= 0 {
			q.Observed = problems.percent(line, observed, header[observed], row[observed])
		}
		page.Questions = append(page.Questions, q)
		for k, c := range columns {
			x := problems.percent(line, c, header[c], row[c])
			ratings[k] = append(ratings[k], x)
			filled[k] = filled[k] || !math.IsNaN(x)
		}
	}
	judges := page.Judges
	page.Judges = nil
	for k, row := range ratings {
		if filled[k] {
			page.Judges = append(page.Judges, judges[k])
			page.Percent = append(page.Percent, row)
			problems.fractions(columns[k], judges[k], row)
		}
	}
	if err := problems.err(); err != nil {
		return JudgePage{}, err
	}
	if len(page.Questions) == 0 || len(page.Judges) == 0 {
		return page, &DataError{Err: ErrEmpty, Problem: fmt.Sprintf("%d questions and %d judges with ratings", len(page.Questions), len(page.Judges)),
			Mend: "give each question a row and each judge a column of percentages"}
	}
	return page, nil
}

// percent reads a cell; an empty one is NaN.
func (p *problemList) percent(line, column int, name, cell string) float64 {
	s := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(unguardCell(cell)), "%"))
	if s == "" {
		return math.NaN()
	}
	x, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	if err != nil || !(x >= 0 && x <= 100) {
		p.add(&DataError{Row: line, Column: column + 1, Name: name, Err: ErrRange,
			Problem: fmt.Sprintf("%q is not a percentage", clip(cell)), Mend: "give a number from 0 to 100, or leave the cell empty"})
		return math.NaN()
	}
	return x
}

// fractions finds a judge who wrote 0.65 for 65: all values at most 1 and some
// neither 0 nor 1.
func (p *problemList) fractions(column int, name string, row []float64) {
	between := false
	for _, x := range row {
		if x > 1 {
			return
		}
		between = between || x > 0 && x < 1
	}
	if between {
		p.add(&DataError{Column: column + 1, Name: name, Err: ErrRange,
			Problem: "all ratings are at most 1 %, which looks like fractions", Mend: "write 65 for 65 %"})
	}
}

func formatPercent(x float64) string {
	if math.IsNaN(x) {
		return ""
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// guardCell keeps a spreadsheet from running a cell as a formula.
func guardCell(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r'", rune(s[0])) {
		return "'" + s
	}
	return s
}

func unguardCell(s string) string {
	if len(s) > 1 && s[0] == '\'' && strings.ContainsRune("=+-@\t\r'", rune(s[1])) {
		return s[1:]
	}
	return s
}

// problemList gathers what is wrong with a file, so that it can be mended in
// one go.
type problemList struct {
	errs []error
	more int
}

// reported is how many problems are listed before the rest are counted.
const reported = 50

func (p *problemList) add(err error) {
	if len(p.errs) < reported {
		p.errs = append(p.errs, err)
	} else {
		p.more++
	}
}

func (p *problemList) err() error {
	if p.more > 0 {
		return errors.Join(append(p.errs, fmt.Errorf("and %d more problems", p.more))...)
	}
	return errors.Join(p.errs...)
}

// clip shortens a cell for a message.
func clip(s string) string {
	const most = 40
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "…"
	}
	return s
}
