package psychometrics

import (
	"fmt"
	"math"
	"slices"
)

// OptionTable shows who chose which option of one question.
type OptionTable struct {
	Options []OptionRow
	// Groups of people by score, lowest first. A group is empty if ties leave
	// nobody for it.
	Groups []ScoreGroup
	// Omitted is the number of people who saw the question and chose nothing.
	Omitted int
}

// ScoreGroup is a band of people by score.
type ScoreGroup struct {
	People    int     // who saw the question
	Low, High float64 // their lowest and highest score; NaN if the group is empty
	Omitted   int
}

// OptionRow describes one option.
type OptionRow struct {
	Chosen int
	// Share of those who chose any option.
	Share float64
	// ByGroup counts the choices, one per group, lowest scores first.
	ByGroup []int
	// MeanScore of the people who chose the option.
	MeanScore float64
	// PointBiserial is the correlation between choosing the option and the
	// score, over those who chose any option. It should be positive for the
	// key and negative for the others.
	PointBiserial float64
}

// Choices that are not an option.
const (
	Omit    = -1 // saw the question and chose nothing
	NotSeen = -2 // did not see the question
)

// TabulateOptions makes the option table of one question. choices has one
// value per person: the index of the option chosen (0 to options−1), [Omit] or
// [NotSeen]. scores has one value per person; use the score on the rest of the
// test, so that the question does not count for itself. groups is the number
// of bands (3 to 5 is usual), made by [ScoreGroups] among those who saw the
// question.
//
// An option that nobody chose has NaN MeanScore and PointBiserial, as has any
// where scores do not vary. Nobody gives zero counts. Errors: [ErrShape] if the
// lengths differ, [ErrRange] (a [*DataError] with the person's row) for a
// choice that is not an option, a score that is not finite, or options or
// groups below 1.
func TabulateOptions(choices []int, options int, scores []float64, groups int) (OptionTable, error) {
	if len(choices) != len(scores) {
		return OptionTable{}, fmt.Errorf("option table: %w: %d choices and %d scores", ErrShape, len(choices), len(scores))
	}
	if options < 1 || groups < 1 {
		return OptionTable{}, fmt.Errorf("option table: %w: %d options in %d groups; give at least one of each", ErrRange, options, groups)
	}
	var seen []int
	for v, c := range choices {
		switch {
		case c == NotSeen:
			continue
		case c < Omit || c >= options:
			return OptionTable{}, &DataError{Row: v + 1, Err: ErrRange,
				Problem: fmt.Sprintf("option %d of %d", c, options), Mend: fmt.Sprintf("use 0 to %d, or −1 for an omitted and −2 for an unseen question", options-1)}
		case !finite(scores[v]):
			return OptionTable{}, &DataError{Row: v + 1, Err: ErrRange,
				Problem: fmt.Sprintf("%v is not a score", scores[v]), Mend: "mark people without a score as not having seen the question"}
		}
		seen = append(seen, v)
	}
	t := OptionTable{Options: make([]OptionRow, options), Groups: make([]ScoreGroup, groups)}
	for o := range t.Options {
		t.Options[o].ByGroup = make([]int, groups)
	}
	for g := range t.Groups {
		t.Groups[g].Low, t.Groups[g].High = math.NaN(), math.NaN()
	}
	among := make([]float64, len(seen))
	for n, v := range seen {
		among[n] = scores[v]
	}
	group := ScoreGroups(among, groups)
	correlations := make([]moments, options)
	sums := make([]float64, options)
	chose := 0
	for n, v := range seen {
		g := &t.Groups[group[n]]
		g.People++
		// Comparisons with NaN are false, so the first score replaces it.
		if !(scores[v] >= g.Low) {
			g.Low = scores[v]
		}
		if !(scores[v] <= g.High) {
			g.High = scores[v]
		}
		if choices[v] == Omit {
			g.Omitted++
			t.Omitted++
			continue
		}
		chose++
		for o := range t.Options {
			picked := 0.0
			if o == choices[v] {
				picked = 1
				t.Options[o].Chosen++
				t.Options[o].ByGroup[group[n]]++
				sums[o] += scores[v]
			}
			correlations[o].add(picked, scores[v])
		}
	}
	for o := range t.Options {
		row := &t.Options[o]
		row.Share = float64(row.Chosen) / float64(chose)
		row.MeanScore = sums[o] / float64(row.Chosen)
		row.PointBiserial = correlations[o].correlation()
	}
	return t, nil
}

// ScoreGroups divides people into bands of near equal size by score, lowest
// first: person v is in band floor(groups · midrank/n), so that people with
// the same score are always in the same band. The result has one value from 0
// to groups−1 per person. NaN scores sort lowest. Fewer than one group panics,
// as a division by zero does; nobody gives an empty slice.
func ScoreGroups(scores []float64, groups int) []int {
	if groups < 1 {
		panic("psychometrics: fewer than one group")
	}
	order := make([]int, len(scores))
	for v := range order {
		order[v] = v
	}
	less := func(a, b float64) bool { return a < b || math.IsNaN(a) && !math.IsNaN(b) }
	slices.SortFunc(order, func(a, b int) int {
		switch {
		case less(scores[a], scores[b]):
			return -1
		case less(scores[b], scores[a]):
			return 1
		}
		return a - b
	})
	out := make([]int, len(scores))
	for from := 0; from < len(order); {
		to := from + 1
		for to < len(order) && !less(scores[order[from]], scores[order[to]]) {
			to++
		}
		// The middle of the tied block, as a share of everybody.
		g := groups * (from + to) / (2 * len(order))
		for _, v := range order[from:to] {
			out[v] = min(g, groups-1)
		}
		from = to
	}
	return out
}
