package psychometrics

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
)

// Number is a figure that may be undefined (NaN) or unbounded (±Inf), neither
// of which JSON can write: they become null.
type Number float64

// MarshalJSON writes null for NaN and infinities.
func (n Number) MarshalJSON() ([]byte, error) {
	if !finite(float64(n)) {
		return []byte("null"), nil
	}
	return json.Marshal(float64(n))
}

// UnmarshalJSON reads null as NaN.
func (n *Number) UnmarshalJSON(data []byte) error {
	if string(data) == "null" {
		*n = Number(math.NaN())
		return nil
	}
	return json.Unmarshal(data, (*float64)(n))
}

// Summary has the classical and Rasch statistics of a table of answers.
type Summary struct {
	People   int `json:"people"`
	Items    int `json:"items"`
	Answers  int `json:"answers"`
	Missing  int `json:"missing"`
	Complete int `json:"complete"` // people who answered every item

	// Of the number right, over people who answered every item.
	Mean    Number `json:"mean"`
	SD      Number `json:"sd"`
	Median  Number `json:"median"`
	Lowest  Number `json:"lowest"`
	Highest Number `json:"highest"`

	Alpha      Number `json:"alpha"`
	AlphaLow   Number `json:"alphaLow"`
	AlphaHigh  Number `json:"alphaHigh"`
	Level      Number `json:"level"` // confidence of the bounds
	SEM        Number `json:"sem"`   // of the number right of all items
	Separation Number `json:"separationReliability"`

	// Informative is the number of people whom the Rasch model could use.
	Informative   int    `json:"informative"`
	LogLikelihood Number `json:"conditionalLogLikelihood"`
	// Andersen's test, people split by [SplitByScore].
	AndersenLR Number `json:"andersenLR"`
	AndersenDF int    `json:"andersenDF"`
	AndersenP  Number `json:"andersenP"`

	ItemRows   []ItemSummary   `json:"itemRows"`
	PersonRows []PersonSummary `json:"personRows"`
	// Notes say in plain words what could not be computed, and why.
	Notes []string `json:"notes"`
}

// ItemSummary is one row of the table of items.
type ItemSummary struct {
	Item         string `json:"item"`
	Answered     int    `json:"answered"`
	Right        int    `json:"right"`
	P            Number `json:"p"`
	ItemTotal    Number `json:"itemTotal"`
	ItemRest     Number `json:"itemRest"`
	AlphaWithout Number `json:"alphaWithout"`
	Difficulty   Number `json:"difficulty"`
	SE           Number `json:"se"`
	Infit        Number `json:"infit"`
	InfitZ       Number `json:"infitZ"`
	Outfit       Number `json:"outfit"`
	OutfitZ      Number `json:"outfitZ"`
}

// PersonSummary is one row of the table of people.
type PersonSummary struct {
	Person   string `json:"person"`
	Answered int    `json:"answered"`
	Right    int    `json:"right"`
	Percent  Number `json:"percent"`
	// Ability by [WLE] and its SE, in logits.
	Ability Number `json:"ability"`
	SE      Number `json:"se"`
	Infit   Number `json:"infit"`
	Outfit  Number `json:"outfit"`
}

// Summarize computes everything that one table of answers tells: [ItemStatistics],
// [Alpha] with its 95 % interval, [StandardError], and, if the Rasch model can be
// estimated, [Conditional] difficulties, [WLE] abilities, [Fit] (with [ML]
// abilities, so without people who have none or all right) and [Andersen]'s
// test. What cannot be computed is NaN and is explained in Notes. Labels are
// those of r, or "item 1", "person 1" where it has none.
//
// The only error wraps [ErrEmpty]: no people, no items or no answers.
func Summarize(r Responses) (Summary, error) {
	answers := r.Answered()
	if answers == 0 {
		return Summary{}, fmt.Errorf("summary: %w: %d people and %d items without an answer", ErrEmpty, r.people, r.items)
	}
	const level = 0.95
	nan := Number(math.NaN())
	s := Summary{People: r.people, Items: r.items, Answers: answers, Missing: r.people*r.items - answers, Level: level,
		Mean: nan, SD: nan, Median: nan, Lowest: nan, Highest: nan, Separation: nan,
		LogLikelihood: nan, AndersenLR: nan, AndersenP: nan, Notes: []string{}}
	s.scores(r)
	s.reliability(r, level)

	s.ItemRows = make([]ItemSummary, r.items)
	for i, c := range ItemStatistics(r) {
		s.ItemRows[i] = ItemSummary{Item: fmt.Sprintf("item %d", i+1), Answered: c.Answered, Right: c.Right,
			P: Number(c.P), ItemTotal: Number(c.ItemTotal), ItemRest: Number(c.ItemRest), AlphaWithout: Number(c.AlphaWithout),
			Difficulty: nan, SE: nan, Infit: nan, InfitZ: nan, Outfit: nan, OutfitZ: nan}
		if len(r.Items) > 0 {
			s.ItemRows[i].Item = r.Items[i]
		}
	}
	s.PersonRows = make([]PersonSummary, r.people)
	for v := range s.PersonRows {
		right, n := r.Score(v)
		s.PersonRows[v] = PersonSummary{Person: fmt.Sprintf("person %d", v+1), Answered: n, Right: right,
			Percent: Number(100 * float64(right) / float64(n)), Ability: nan, SE: nan, Infit: nan, Outfit: nan}
		if len(r.Persons) > 0 && r.Persons[v] != "" {
			s.PersonRows[v].Person = r.Persons[v]
		}
	}
	if err := s.rasch(r); err != nil {
		return s, err
	}
	return s, nil
}

// scores describes the number right of people who answered everything.
func (s *Summary) scores(r Responses) {
	var all []float64
	var m moments
	for v := range r.people {
		if right, n := r.Score(v); n == r.items {
			all = append(all, float64(right))
			m.add(float64(right), 0)
		}
	}
	s.Complete = len(all)
	if len(all) == 0 {
		s.Notes = append(s.Notes, "Nobody answered every question, so there is no distribution of the number right; compare people by ability instead.")
		return
	}
	slices.Sort(all)
	s.Mean, s.SD = Number(m.meanX), Number(math.Sqrt(m.xx/(m.n-1)))
	s.Lowest, s.Highest = Number(all[0]), Number(all[len(all)-1])
	s.Median = Number((all[(len(all)-1)/2] + all[len(all)/2]) / 2)
}

func (s *Summary) reliability(r Responses, level float64) {
	c := covariances(r)
	a := c.reliability(r, level)
	s.Alpha, s.AlphaLow, s.AlphaHigh = Number(a.Alpha), Number(a.Low), Number(a.High)
	s.SEM = Number(StandardError(math.Sqrt(c.total), a.Alpha))
	switch {
	case !math.IsNaN(a.Alpha):
	case s.Missing > 0:
		s.Notes = append(s.Notes, "Alpha needs every two questions to have been answered by the same two people at least; see the separation reliability instead.")
	default:
		s.Notes = append(s.Notes, "Alpha needs two questions and scores that differ.")
	}
}

// rasch adds what needs difficulties.
func (s *Summary) rasch(r Responses) error {
	c, err := Conditional(r)
	if err != nil {
		for _, expected := range []error{ErrConstant, ErrDisconnected, ErrNotConverged} {
			if errors.Is(err, expected) {
				s.Notes = append(s.Notes, "No difficulties and abilities: "+err.Error()+".")
				return nil
			}
		}
		return err
	}
	s.Informative, s.LogLikelihood = c.People, Number(c.LogLikelihood)
	if left := r.items - len(c.Estimated); left > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf(
			"%d of %d questions have no difficulty because everybody who tells people apart got them right, or wrong, or did not see them.", left, r.items))
	}
	able, err := Abilities(r, c.Difficulty, WLE)
	if err != nil {
		return err
	}
	plain, err := Abilities(r, c.Difficulty, ML)
	if err != nil {
		return err
	}
	theta := make([]float64, r.people)
	for v, a := range plain {
		theta[v] = a.Theta
	}
	fit, err := Fit(r, c.Difficulty, theta)
	if err != nil {
		return err
	}
	for i := range s.ItemRows {
		row, f := &s.ItemRows[i], fit.Items[i]
		row.Difficulty, row.SE = Number(c.Difficulty[i]), Number(c.SE[i])
		row.Infit, row.InfitZ = Number(f.Infit), Number(f.InfitZ)
		row.Outfit, row.OutfitZ = Number(f.Outfit), Number(f.OutfitZ)
	}
	for v := range s.PersonRows {
		row, f := &s.PersonRows[v], fit.People[v]
		row.Ability, row.SE = Number(able[v].Theta), Number(able[v].SE)
		row.Infit, row.Outfit = Number(f.Infit), Number(f.Outfit)
	}
	s.Separation = Number(SeparationReliability(able))
	t, err := andersen(r, SplitByScore(r), &c)
	if err != nil {
		s.Notes = append(s.Notes, "No test of the Rasch model: "+err.Error()+".")
		return nil
	}
	s.AndersenLR, s.AndersenDF, s.AndersenP = Number(t.LR), t.DF, Number(t.P)
	return nil
}

// ItemTable gives the table of items as text, header first: for printing and
// for CSV. Figures that are not defined are empty.
func (s Summary) ItemTable() [][]string {
	out := [][]string{{"item", "answered", "right", "p", "item-total r", "item-rest r", "alpha without",
		"difficulty", "SE", "infit", "infit z", "outfit", "outfit z"}}
	for _, i := range s.ItemRows {
		out = append(out, []string{i.Item, strconv.Itoa(i.Answered), strconv.Itoa(i.Right), i.P.text(3), i.ItemTotal.text(3), i.ItemRest.text(3),
			i.AlphaWithout.text(3), i.Difficulty.text(2), i.SE.text(2), i.Infit.text(2), i.InfitZ.text(1), i.Outfit.text(2), i.OutfitZ.text(1)})
	}
	return out
}

// PersonTable gives the table of people as text, header first.
func (s Summary) PersonTable() [][]string {
	out := [][]string{{"person", "answered", "right", "% right", "ability", "SE", "infit", "outfit"}}
	for _, p := range s.PersonRows {
		out = append(out, []string{p.Person, strconv.Itoa(p.Answered), strconv.Itoa(p.Right), p.Percent.text(1),
			p.Ability.text(2), p.SE.text(2), p.Infit.text(2), p.Outfit.text(2)})
	}
	return out
}

// TestTable gives the figures of the test as a whole, one name and value a row.
func (s Summary) TestTable() [][]string {
	interval := ""
	if finite(float64(s.AlphaLow)) {
		interval = fmt.Sprintf(" (%.0f %% interval %s to %s)", 100*float64(s.Level), s.AlphaLow.text(3), s.AlphaHigh.text(3))
	}
	test := ""
	if finite(float64(s.AndersenLR)) {
		test = fmt.Sprintf("LR %s, df %d, p %s", s.AndersenLR.text(2), s.AndersenDF, s.AndersenP.text(3))
	}
	return [][]string{
		{"people", strconv.Itoa(s.People)},
		{"questions", strconv.Itoa(s.Items)},
		{"answers", fmt.Sprintf("%d (%d missing)", s.Answers, s.Missing)},
		{"people who answered everything", strconv.Itoa(s.Complete)},
		{"mean number right", s.Mean.text(2)},
		{"standard deviation", s.SD.text(2)},
		{"lowest, median, highest", s.Lowest.text(0) + ", " + s.Median.text(1) + ", " + s.Highest.text(0)},
		{"KR-20 (alpha)", s.Alpha.text(3) + interval},
		{"standard error of measurement", s.SEM.text(2)},
		{"separation reliability", s.Separation.text(3)},
		{"Andersen test of the Rasch model", test},
	}
}

// text writes a number with the decimals given; empty if not finite.
func (n Number) text(decimals int) string {
	x := float64(n)
	if !finite(x) {
		return ""
	}
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if v, err := strconv.ParseFloat(s, 64); err == nil && v == 0 && s[0] == '-' {
		return s[1:] // no minus zero
	}
	return s
}
