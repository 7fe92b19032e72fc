package psychometrics

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// JudgePage is what judges fill in to set a cut score by Angoff's method: for
// each question, out of a hundred people who are just competent enough, how
// many would answer it right. [WriteJudgePage] and [ReadJudgePage] carry it as
// a CSV file.
type JudgePage struct {
	Questions []JudgedQuestion
	// Judges are the names of the columns.
	Judges []string
	// Percent is judges × questions, 0 to 100; NaN where a judge gave no value.
	Percent [][]float64
}

// JudgedQuestion is a row of a [JudgePage].
type JudgedQuestion struct {
	ID   string
	Text string // shown to the judge; may be empty
	// Observed is the percentage of people who did answer right, shown to
	// judges before a second round; NaN if it is not known.
	Observed float64
}

// CutScore is the outcome of [Angoff].
type CutScore struct {
	// Right is the cut in questions right (seldom whole), Percent the same as a
	// percentage of the questions.
	Right, Percent float64
	// SE of Right, from the differences between judges, and the bounds of Right
	// at confidence Level.
	SE, Low, High, Level float64
	Judges               []JudgeFigure
	Questions            []JudgedFigure
	// Discuss lists questions by how far the judges differ, the furthest
	// first, leaving out those with fewer than two ratings.
	Discuss []int
}

// JudgeFigure describes one judge.
type JudgeFigure struct {
	// Rated is the number of questions rated, Right the cut by this judge.
	Rated int
	Right float64
	// Leniency is how many percentage points the judge's ratings lie below the
	// mean of all judges on the same questions, on average: a lenient judge
	// sets a lower cut.
	Leniency float64
	// Agreement is the correlation with the mean of the other judges over
	// questions, Realism that with Observed. NaN below three questions.
	Agreement, Realism float64
}

// JudgedFigure describes one question: mean and standard deviation of its
// ratings in percent, and their number.
type JudgedFigure struct {
	Mean, SD float64
	Ratings  int
}

// Angoff computes the cut score from judges' ratings,
//
//	cut = Σ_i mean_j(percent_ij) / 100,   SE = sd_j(cut_j) / √J
//
// with cut_j the sum over the questions of judge j, and an interval from the t
// distribution with J − 1 degrees of freedom. A rating that is missing is taken
// as the mean of the other judges on that question plus the judge's own mean
// difference from them, kept within 0 to 100, for cut_j only. level is the
// confidence, such as 0.95. Sources: Angoff (1971) in Thorndike (ed.),
// Educational Measurement; the standard error: Brennan & Lockwood (1980),
// Applied Psychological Measurement 4, for judges as the random facet.
//
// One judge gives a cut with NaN SE and bounds; judges who all agree give SE 0.
// Errors wrap [ErrEmpty] (no judges or questions, or a [*DataError] for a
// question or judge without any rating), [ErrShape] (rows of other lengths than
// the number of questions) or [ErrRange] (a [*DataError] for a value outside 0
// to 100).
func Angoff(page JudgePage, level float64) (CutScore, error) {
	judges, questions := len(page.Percent), len(page.Questions)
	if judges == 0 || questions == 0 {
		return CutScore{}, fmt.Errorf("Angoff: %w: %d judges and %d questions", ErrEmpty, judges, questions)
	}
	out := CutScore{SE: math.NaN(), Low: math.NaN(), High: math.NaN(), Level: level,
		Judges: make([]JudgeFigure, judges), Questions: make([]JudgedFigure, questions)}
	ratings := make([]moments, questions)
	for j, row := range page.Percent {
		if len(row) != questions {
			return CutScore{}, fmt.Errorf("Angoff: %w: judge %d has %d ratings for %d questions", ErrShape, j+1, len(row), questions)
		}
		for i, x := range row {
			if math.IsNaN(x) {
				continue
			}
			if !(x >= 0 && x <= 100) {
				return CutScore{}, &DataError{Row: i + 1, Column: j + 1, Name: page.judgeName(j), Err: ErrRange,
					Problem: fmt.Sprintf("rating %g", x), Mend: "give a percentage from 0 to 100"}
			}
			ratings[i].add(x, 0)
			out.Judges[j].Rated++
		}
		if out.Judges[j].Rated == 0 {
			return CutScore{}, &DataError{Column: j + 1, Name: page.judgeName(j), Err: ErrEmpty,
				Problem: "has no ratings", Mend: "fill the column or take it out"}
		}
	}
	for i, m := range ratings {
		if m.n == 0 {
			return CutScore{}, &DataError{Row: i + 1, Name: page.Questions[i].ID, Err: ErrEmpty,
				Problem: "nobody rated this question", Mend: "rate it or take it out"}
		}
		out.Questions[i] = JudgedFigure{Mean: m.meanX, SD: math.Sqrt(m.xx / (m.n - 1)), Ratings: int(m.n)}
		out.Right += m.meanX / 100
		if m.n >= 2 {
			out.Discuss = append(out.Discuss, i)
		}
	}
	slices.SortStableFunc(out.Discuss, func(a, b int) int {
		switch d := out.Questions[b].SD - out.Questions[a].SD; {
		case d > 0:
			return 1
		case d < 0:
			return -1
		}
		return 0
	})
	out.Percent = 100 * out.Right / float64(questions)

	var cuts moments
	for j, row := range page.Percent {
		f := &out.Judges[j]
		f.judge(row, out.Questions, page.Questions)
		cuts.add(f.Right, 0)
	}
	if judges >= 2 {
		out.SE = math.Sqrt(cuts.xx / (cuts.n - 1) / cuts.n)
		if level > 0 && level < 1 {
			t := distuv.StudentsT{Sigma: 1, Nu: cuts.n - 1}.Quantile((1 + level) / 2)
			out.Low, out.High = out.Right-t*out.SE, out.Right+t*out.SE
		}
	}
	return out, nil
}

// judge fills in the figures of one judge from the judge's row.
func (f *JudgeFigure) judge(row []float64, means []JudgedFigure, questions []JudgedQuestion) {
	others := func(i int) float64 { // mean of the other judges
		n := float64(means[i].Ratings)
		if math.IsNaN(row[i]) {
			return means[i].Mean
		}
		return (means[i].Mean*n - row[i]) / (n - 1) // NaN if there are none
	}
	var peers, facts moments
	difference, below := 0.0, 0.0
	for i, x := range row {
		if math.IsNaN(x) {
			continue
		}
		below += (means[i].Mean - x) / float64(f.Rated)
		if o := others(i); finite(o) {
			peers.add(x, o)
			difference += x - o
		}
		if o := questions[i].Observed; finite(o) {
			facts.add(x, o)
		}
	}
	f.Leniency = below
	f.Agreement, f.Realism = math.NaN(), math.NaN()
	if peers.n >= 3 {
		f.Agreement = peers.correlation()
	}
	if facts.n >= 3 {
		f.Realism = facts.correlation()
	}
	if peers.n > 0 {
		difference /= peers.n
	}
	for i, x := range row {
		if math.IsNaN(x) {
			x = min(max(others(i)+difference, 0), 100)
		}
		f.Right += x / 100
	}
}

func (p JudgePage) judgeName(j int) string {
	if j < len(p.Judges) {
		return p.Judges[j]
	}
	return ""
}
