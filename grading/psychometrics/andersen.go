package psychometrics

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/stat/distuv"
)

// AndersenTest is the outcome of [Andersen].
type AndersenTest struct {
	// LR is the statistic, DF its degrees of freedom, P the probability of a
	// value as large if the difficulties are the same in all groups.
	LR float64
	DF int
	P  float64
	// Items that could be estimated in every group; the test is on these.
	Items []int
	// Whole is the fit to everybody, Groups those to the groups.
	Whole  Calibration
	Groups []GroupCalibration
	// Z has for each item the difference of its difficulty between the two
	// groups (second less first) over its standard error, NaN for items not
	// tested; nil if there are not exactly two groups. Source: Fischer &
	// Scheiblechner (1970), Psychologische Beiträge 12.
	Z []float64
}

// GroupCalibration is the fit to one group of people.
type GroupCalibration struct {
	Group, Size int
	Calibration
}

// Andersen tests whether the difficulties of items are the same in groups of
// people, as the Rasch model says they are however people are grouped,
//
//	LR = 2 (Σ_g log L_g − log L),   df = (G − 1)(k − 1)
//
// with L the conditional likelihoods of the whole and of each of G groups and k
// items; LR is approximately chi-square distributed. group has one value per
// person; a negative one leaves the person out. Split by score
// ([SplitByScore]) it tests whether items discriminate alike, split by another
// trait whether they work alike for both kinds of people. Items that cannot be
// estimated in some group are left out everywhere. Source: Andersen (1973),
// Psychometrika 38.
//
// Errors wrap [ErrShape] (not one group per person), [ErrConstant] (fewer than
// two groups, or fewer than two items in common) or those of [Conditional] for
// a group, which is named.
func Andersen(r Responses, group []int) (AndersenTest, error) {
	return andersen(r, group, nil)
}

// andersen takes the fit to all people in r where the caller has it and group
// leaves out nobody who is informative.
func andersen(r Responses, group []int, known *Calibration) (AndersenTest, error) {
	const name = "Andersen test"
	if len(group) != r.people {
		return AndersenTest{}, fmt.Errorf("%s: %w: %d groups for %d people", name, ErrShape, len(group), r.people)
	}
	members := map[int][]int{}
	var everybody, labels []int
	for v, g := range group {
		if g < 0 {
			continue
		}
		if members[g] == nil {
			labels = append(labels, g)
		}
		members[g] = append(members[g], v)
		everybody = append(everybody, v)
	}
	slices.Sort(labels)
	if len(labels) < 2 {
		return AndersenTest{}, fmt.Errorf("%s: %w: %d group of people; it takes two", name, ErrConstant, len(labels))
	}
	parts := make([]Responses, len(labels))
	for n, g := range labels {
		parts[n] = r.SelectPeople(members[g])
	}
	// Leaving out an item can make a person's answers all right or all wrong,
	// and then another item in another group, so repeat.
	active := make([]bool, r.items)
	for i := range active {
		active[i] = true
	}
	for changed := true; changed; {
		changed = false
		for _, part := range parts {
			use, _ := estimable(part, active)
			if !slices.Equal(use, active) {
				active, changed = use, true
			}
		}
	}
	out := AndersenTest{}
	for i, a := range active {
		if a {
			out.Items = append(out.Items, i)
		}
	}
	k := len(out.Items)
	if k < 2 {
		return out, fmt.Errorf("%s: %w: fewer than two items have right and wrong answers in every group", name, ErrConstant)
	}
	if known != nil && slices.Equal(known.Estimated, out.Items) {
		out.Whole = *known
	} else {
		var err error
		if out.Whole, err = conditionalOn(r.SelectPeople(everybody), active, nil); err != nil {
			return out, fmt.Errorf("%s: %w", name, err)
		}
	}
	// The groups have nothing in common, so they are fitted side by side.
	out.Groups = make([]GroupCalibration, len(labels))
	failures := make([]error, len(labels))
	var wait sync.WaitGroup
	for n, g := range labels {
		wait.Go(func() {
			c, err := conditionalOn(parts[n], active, out.Whole.Difficulty)
			if err != nil {
				failures[n] = fmt.Errorf("%s: group %d cannot be estimated: %w", name, g, err)
			}
			out.Groups[n] = GroupCalibration{Group: g, Size: len(members[g]), Calibration: c}
		})
	}
	wait.Wait()
	if err := errors.Join(failures...); err != nil {
		return out, err
	}
	sum := 0.0
	for _, g := range out.Groups {
		sum += g.LogLikelihood
	}
	out.LR = max(0, 2*(sum-out.Whole.LogLikelihood))
	out.DF = (len(labels) - 1) * (k - 1)
	out.P = distuv.ChiSquared{K: float64(out.DF)}.Survival(out.LR)
	if len(labels) == 2 {
		a, b := out.Groups[0], out.Groups[1]
		out.Z = make([]float64, r.items)
		for i := range out.Z {
			out.Z[i] = (b.Difficulty[i] - a.Difficulty[i]) / math.Sqrt(a.SE[i]*a.SE[i]+b.SE[i]*b.SE[i])
		}
	}
	return out, nil
}

// SplitByScore divides people into group 0 (lower) and group 1 (higher) by their
// number right, at the place that makes the groups as equal in size as they can
// be without parting people of the same score (the lower of two such places).
// Where people answered different items the share right takes the place of the
// number. People with none or all right, or no answers, are in group −1: they
// tell nothing about items. If all others have the same score they are all in
// group 0. Nobody gives an empty slice.
func SplitByScore(r Responses) []int {
	out := make([]int, r.people)
	var shares []float64
	share := make([]float64, r.people)
	for v := range out {
		right, n := r.Score(v)
		if right == 0 || right == n {
			out[v] = -1
			continue
		}
		share[v] = float64(right) / float64(n)
		shares = append(shares, share[v])
	}
	slices.Sort(shares)
	cut, best := math.Inf(1), len(shares)
	for n := 1; n < len(shares); n++ {
		uneven := max(n, len(shares)-n) - min(n, len(shares)-n)
		if shares[n-1] < shares[n] && uneven < best {
			cut, best = shares[n], uneven
		}
	}
	for v, g := range out {
		if g == 0 && share[v] >= cut {
			out[v] = 1
		}
	}
	return out
}
