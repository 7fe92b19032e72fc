package psychometrics

import (
	"fmt"
	"math"
	"slices"
)

// OptionChoices is who chose which option of which question, in a check that
// people were to do alone.
type OptionChoices struct {
	// Choices holds a row per person and a column per question: the index of
	// the option chosen, or −1 if none was or the person did not see it.
	Choices [][]int
	// Options and Key are, per question, the number of options and the index
	// of the right one.
	Options, Key []int
	// Difficulty is the Rasch difficulty per question.
	Difficulty []float64
	// Slips, where given, names per question and option the slip that leads to
	// it (any number ≥ 0; −1 for the key or an option without one). People who
	// share a misconception choose alike without having spoken; see
	// [FindAlike].
	Slips [][]int
}

func (c OptionChoices) validate() error {
	n := len(c.Key)
	if len(c.Choices) == 0 || n == 0 {
		return fmt.Errorf("answers of %d people to %d questions: %w", len(c.Choices), n, ErrEmpty)
	}
	if len(c.Options) != n || len(c.Difficulty) != n || c.Slips != nil && len(c.Slips) != n {
		return fmt.Errorf("%d keys, %d option counts, %d difficulties, %d lists of slips: %w", n, len(c.Options), len(c.Difficulty), len(c.Slips), ErrShape)
	}
	for i := range c.Key {
		if c.Options[i] < 2 || c.Key[i] < 0 || c.Key[i] >= c.Options[i] || !finite(c.Difficulty[i]) {
			return &DataError{Column: i + 1, Err: ErrRange,
				Problem: fmt.Sprintf("question has %d options, key %d and difficulty %v", c.Options[i], c.Key[i], c.Difficulty[i]),
				Mend:    "give 2 or more options, the index of the key, and a finite difficulty, or leave the question out"}
		}
		if c.Slips != nil && len(c.Slips[i]) != c.Options[i] {
			return &DataError{Column: i + 1, Err: ErrShape,
				Problem: fmt.Sprintf("question has %d options and %d slips", c.Options[i], len(c.Slips[i])),
				Mend:    "give one slip per option, −1 for none"}
		}
	}
	for v, row := range c.Choices {
		if len(row) != n {
			return &DataError{Row: v + 1, Err: ErrShape,
				Problem: fmt.Sprintf("has %d choices for %d questions", len(row), n), Mend: "give −1 where nothing was chosen"}
		}
		for i, o := range row {
			if o < -1 || o >= c.Options[i] {
				return &DataError{Row: v + 1, Column: i + 1, Err: ErrRange,
					Problem: fmt.Sprintf("option %d of %d", o, c.Options[i]), Mend: "count options from 0, −1 for none"}
			}
		}
	}
	return nil
}

// AlikePair is two people whose answers are more alike than people of their
// abilities give each on their own.
type AlikePair struct {
	A, B int
	// Common is the number of questions that both answered, Same how many of
	// them alike, SameWrong how many of those wrongly, Expected how many alike
	// would be expected.
	Common, Same, SameWrong int
	Expected                float64
	// Omega is the larger of the two directions' ω.
	Omega float64
	// P is the chance that two people working alone are at least so alike.
	P float64
}

// AlikeScreen is the result of [FindAlike].
type AlikeScreen struct {
	// Pairs are those to look at again, the most alike first.
	Pairs []AlikePair
	// Compared counts the pairs with at least [MinCommonAnswers] questions in
	// common. FalseAlarms is how many of them at most would be expected in Pairs
	// if everybody worked alone.
	Compared    int
	FalseAlarms float64
}

// MinCommonAnswers is the number of questions in common below which a pair is
// not compared. Two people of middling ability agree on a four-option question
// about 55 times in 100; 13 agreements in a row then have chance 0.0004, just
// rare enough to stand out among the 66 pairs of a workshop of 12 (0.05/66 =
// 0.0008), 12 are not.
const MinCommonAnswers = 13

// choiceWeight is how many choices, spread evenly over a question's wrong
// options, are added to those observed.
const choiceWeight = 2.0

// slipWeight is how many wrong answers a person's leaning to a slip is drawn to
// the average with.
const slipWeight = 2.0

// FindAlike screens all pairs of people for answers that are too much alike:
// Wollack's ω (1997, Applied Psychological Measurement 21, 307–320), the number
// of answers of one person that equal the other's, against its mean and
// standard deviation given the other's answers,
//
//	ω = (h − Σ P_i) / √Σ P_i (1 − P_i),   P_i = P(person chooses what the other chose on i)
//
// with the exact distribution of h in place of the normal one (a sum of unequal
// yes-or-no trials, as in van der Linden & Sotaridou 2006, J. Educational and
// Behavioral Statistics 31), and P the smaller tail of the two directions. That
// is no exact level, but counts are coarse and copying lifts the ability that is
// estimated, so that fewer pairs who worked alone fall below a limit than it
// says: 4 in 1,000 below 0.01, and 2 in 10,000 below 0.001 (measured in the
// tests; at a limit for 0.05 false alarms per screening nearly half of the
// people who copied every other answer are found). P_i is Rasch's for the key, with Warm's ability of the person. For a wrong
// option it is the rest times the option's share among everybody's wrong
// answers, in place of the nominal response model, for which a workshop has too
// few answers. Where slips are given, that share is weighted by how much more
// often than others this person falls for the slip elsewhere,
//
//	(2 + wrong answers of the person, other than on i, from that slip) / (2 + the number expected)
//
// since a shared misconception makes answers alike without any copying, and
// would raise false alarms threefold below 0.001 without this correction.
//
// falseAlarms is how many pairs may be listed wrongly in one screening, on
// average, 0.05 being sensible: a pair is listed if P is at most falseAlarms
// divided by the number of pairs compared. A listed pair is a reason to look
// again: who sat where, who studied together, whether a question was talked
// about. It is never proof.
//
// People with all answers right or wrong are compared like others; agreement on
// right answers of able people is expected and weighs little. No people or
// questions: [ErrEmpty]. Shapes that do not match or options out of range: a
// [*DataError].
func FindAlike(c OptionChoices, falseAlarms float64) (AlikeScreen, error) {
	if err := c.validate(); err != nil {
		return AlikeScreen{}, err
	}
	if !(falseAlarms > 0) {
		return AlikeScreen{}, fmt.Errorf("%v false alarms; give a number above 0, 0.05 is sensible: %w", falseAlarms, ErrRange)
	}
	all, err := comparePairs(c)
	if err != nil {
		return AlikeScreen{}, err
	}
	s := AlikeScreen{Compared: len(all), FalseAlarms: falseAlarms}
	if len(all) == 0 {
		s.FalseAlarms = 0
		return s, nil
	}
	limit := falseAlarms / float64(len(all))
	for _, p := range all {
		if p.P <= limit {
			s.Pairs = append(s.Pairs, p)
		}
	}
	slices.SortStableFunc(s.Pairs, func(a, b AlikePair) int {
		switch {
		case a.P < b.P:
			return -1
		case a.P > b.P:
			return 1
		}
		return 0
	})
	return s, nil
}

// comparePairs compares every pair with enough in common.
func comparePairs(c OptionChoices) ([]AlikePair, error) {
	chances, err := choiceChances(c)
	if err != nil {
		return nil, err
	}
	var out []AlikePair
	var p []float64
	for a := range c.Choices {
		for b := range a {
			pair := AlikePair{A: b, B: a, P: 1, Omega: math.Inf(-1)}
			for _, d := range [2][2]int{{a, b}, {b, a}} {
				p = p[:0]
				same, wrong := 0, 0
				sum, variance := 0.0, 0.0
				for i, o := range c.Choices[d[1]] {
					own := c.Choices[d[0]][i]
					if o < 0 || own < 0 {
						continue
					}
					if own == o {
						same++
						if o != c.Key[i] {
							wrong++
						}
					}
					q := chances[d[0]][i][o]
					p = append(p, q)
					sum += q
					variance += q * (1 - q)
				}
				pair.Common, pair.Same, pair.SameWrong = len(p), same, wrong
				if len(p) < MinCommonAnswers {
					break
				}
				pair.Expected += sum / 2
				if variance > 0 {
					pair.Omega = max(pair.Omega, (float64(same)-sum)/math.Sqrt(variance))
				}
				pair.P = min(pair.P, upperTail(p, same))
			}
			if pair.Common >= MinCommonAnswers {
				out = append(out, pair)
			}
		}
	}
	return out, nil
}

// upperTail is P(at least h successes) of independent trials with chances p.
func upperTail(p []float64, h int) float64 {
	dist := make([]float64, len(p)+1)
	dist[0] = 1
	for n, q := range p {
		for k := n + 1; k > 0; k-- {
			dist[k] = dist[k]*(1-q) + dist[k-1]*q
		}
		dist[0] *= 1 - q
	}
	sum := 0.0
	// From the far end, where the terms are small.
	for k := len(p); k >= h; k-- {
		sum += dist[k]
	}
	return min(sum, 1)
}

// choiceChances gives P(person chooses option of question).
func choiceChances(c OptionChoices) ([][][]float64, error) {
	n := len(c.Key)
	// Share of each wrong option among the wrong answers to its question.
	share := make([][]float64, n)
	for i := range share {
		share[i] = make([]float64, c.Options[i])
		total := 0.0
		for o := range share[i] {
			if o != c.Key[i] {
				share[i][o] = choiceWeight / float64(c.Options[i]-1)
				total += share[i][o]
			}
		}
		for _, row := range c.Choices {
			if o := row[i]; o >= 0 && o != c.Key[i] {
				share[i][o]++
				total++
			}
		}
		for o := range share[i] {
			share[i][o] /= total
		}
	}
	slips := 0
	for _, s := range c.Slips {
		slips = max(slips, slices.Max(s)+1)
	}
	out := make([][][]float64, len(c.Choices))
	answers := make([]int8, n)
	seen, expected := make([]float64, slips), make([]float64, slips)
	for v, row := range c.Choices {
		for i, o := range row {
			switch {
			case o < 0:
				answers[i] = Missing
			case o == c.Key[i]:
				answers[i] = 1
			default:
				answers[i] = 0
			}
		}
		ability, err := WLE(answers, c.Difficulty)
		if err != nil {
			return nil, err
		}
		// How often the person's wrong answers came from each slip, and how
		// often those of anybody with the same questions wrong would.
		clear(seen)
		clear(expected)
		tally := func(i int, sign float64) {
			if c.Slips == nil || answers[i] != 0 {
				return
			}
			if s := c.Slips[i][row[i]]; s >= 0 {
				seen[s] += sign
			}
			for o, s := range c.Slips[i] {
				if s >= 0 {
					expected[s] += sign * share[i][o]
				}
			}
		}
		for i := range row {
			tally(i, 1)
		}
		out[v] = make([][]float64, n)
		for i := range row {
			// What the person did on this question must not explain itself.
			tally(i, -1)
			chance := make([]float64, c.Options[i])
			total := 0.0
			for o := range chance {
				if o == c.Key[i] {
					continue
				}
				chance[o] = share[i][o]
				if c.Slips != nil {
					if s := c.Slips[i][o]; s >= 0 {
						chance[o] *= (slipWeight + max(seen[s], 0)) / (slipWeight + max(expected[s], 0))
					}
				}
				total += chance[o]
			}
			p := 0.5
			if ability.Answered > 0 {
				p = Probability(ability.Theta, c.Difficulty[i])
			}
			for o := range chance {
				chance[o] *= (1 - p) / total
			}
			chance[c.Key[i]] = p
			out[v][i] = chance
			tally(i, 1)
		}
	}
	return out, nil
}
