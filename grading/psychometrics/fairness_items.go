package psychometrics

import (
	"fmt"
	"math"
	"slices"
)

// Membership says which of two groups a person belongs to in a comparison: one
// site against the others, one language against another, paper against screen.
type Membership int8

const (
	// LeftOut takes no part in the comparison.
	LeftOut Membership = iota
	// Reference is the group compared with, usually the larger one.
	Reference
	// Focal is the group asked about.
	Focal
)

// EffectClass sorts differential functioning by size.
type EffectClass int

const (
	// TooFewToTell: the answers could not have told even a large difference
	// from none, and did not.
	TooFewToTell EffectClass = iota
	// Negligible is class A.
	Negligible
	// Moderate is class B.
	Moderate
	// Large is class C: have a look at the question.
	Large
)

// Letter is the customary letter A, B or C, or "–" for TooFewToTell.
func (c EffectClass) Letter() string {
	return [...]string{"–", "A", "B", "C"}[c]
}

// ItemComparison says whether people of equal standing in two groups find one
// question equally hard.
type ItemComparison struct {
	Item int
	MantelHaenszelTest
	// Delta is −2.35 ln α: below 0 where the question is harder for the focal
	// group than for people of equal standing in the reference group. SE is its
	// standard error.
	Delta, SE float64
	Class     EffectClass
	// Harder is the group that finds the question harder than the other,
	// LeftOut if Class is Negligible or TooFewToTell.
	Harder Membership
	// ReferenceAnswers and FocalAnswers count the answers compared.
	ReferenceAnswers, FocalAnswers int
}

// ComparisonOptions governs [CompareGroups].
type ComparisonOptions struct {
	// Standing is what people are matched on, one value per person, for example
	// the Rasch ability; NaN leaves a person out. nil matches on the number
	// right, for which everybody must have answered everything.
	Standing []float64
	// Strata is the number of groups of about equal size that Standing is cut
	// into; 0 means 8. Without Standing every score is a stratum.
	Strata int
}

// minFocalAnswers and largestSE are the two bounds of [TooFewToTell]. With a
// standard error above 1.5/1.96 even a difference of 1.5, where class C begins,
// would not be told from none; in groups of equal size and questions that seven
// in ten get right this takes some 90 answers in each. Below 20 answers the
// standard error is itself a guess.
//
// That a difference of 1.5 would have been missed says nothing of one of 6: a
// difference so large that it shows despite a standard error above the bound is
// class C, and no class below it can be told. It is asked to lie above 1 with
// 99.5 % (one-sided) rather than 95 % confidence, which keeps false alarms as
// rare as they are among many answers.
const (
	minFocalAnswers = 20
	largestSE       = 1.5 / 1.959963984540054
	plainDeviate    = 2.5758293035489004
)

// CompareGroups looks for questions that are harder for one group than for
// people of equal standing in another: differential item functioning by the
// Mantel–Haenszel method of Holland & Thayer (1988, in Wainer & Braun, Test
// Validity, ch. 9), with the effect classes of Dorans & Holland (1993, in
// Holland & Wainer, Differential Item Functioning, ch. 3; from memory):
//
//	A  |Δ| < 1, or Δ not significantly different from 0 (χ², 5 %)
//	C  |Δ| ≥ 1.5 and significantly above 1 (one-sided 5 %: |Δ| − 1.645 SE > 1)
//	B  otherwise
//
// Matching on the number right is done twice, as Holland & Thayer advise: the
// second time questions flagged B or C the first time are left out of the score
// with which the others are matched; the question looked at always counts. With
// Standing given there is one pass.
//
// A flag means that the question deserves a look (its wording, a page that one
// site does not have, a translation), never that somebody did wrong. Under no
// difference about 1 question in 100 or fewer is flagged C (measured in the
// tests).
//
// One entry per item. Lengths that do not match: [ErrShape]; a group without
// people, or no items: [ErrEmpty]; missing answers without Standing:
// [ErrRange]. Questions everybody got right or wrong, and those with few
// answers, are TooFewToTell, the latter unless the difference shows all the
// same. A missing answer leaves the person out of that
// question alone.
func CompareGroups(r Responses, members []Membership, o ComparisonOptions) ([]ItemComparison, error) {
	if len(members) != r.People() || o.Standing != nil && len(o.Standing) != r.People() {
		return nil, fmt.Errorf("%d memberships and %d standings for %d people: %w", len(members), len(o.Standing), r.People(), ErrShape)
	}
	if !slices.Contains(members, Reference) || !slices.Contains(members, Focal) || r.ItemCount() == 0 {
		return nil, fmt.Errorf("comparison needs people in both groups and at least one question: %w", ErrEmpty)
	}
	if o.Standing != nil {
		stratum, count := cutStanding(o, members)
		out := make([]ItemComparison, r.ItemCount())
		for i := range out {
			out[i] = compareItem(r, members, i, count, func(v int) int { return stratum[v] })
		}
		return out, nil
	}
	if !r.Complete() {
		return nil, fmt.Errorf("number right cannot be compared where people saw different questions; give Standing, for example Rasch abilities: %w", ErrRange)
	}
	inScore := make([]bool, r.ItemCount())
	for i := range inScore {
		inScore[i] = true
	}
	var out []ItemComparison
	for pass := range 2 {
		score := make([]int, r.People())
		for v := range score {
			for i, x := range r.Row(v) {
				if inScore[i] {
					score[v] += int(x)
				}
			}
		}
		out = make([]ItemComparison, r.ItemCount())
		for i := range out {
			out[i] = compareItem(r, members, i, r.ItemCount()+1, func(v int) int {
				if inScore[i] {
					return score[v]
				}
				return score[v] + int(r.At(v, i))
			})
		}
		if pass == 0 {
			flagged := false
			for i, c := range out {
				inScore[i] = c.Class < Moderate
				flagged = flagged || !inScore[i]
			}
			// A score of nothing matches nobody.
			if !flagged || !slices.Contains(inScore, true) {
				break
			}
		}
	}
	return out, nil
}

// cutStanding gives each person the index of a stratum, −1 for nobody.
func cutStanding(o ComparisonOptions, members []Membership) (stratum []int, count int) {
	count = o.Strata
	if count < 1 {
		count = 8
	}
	var values []float64
	for v, s := range o.Standing {
		if members[v] != LeftOut && !math.IsNaN(s) {
			values = append(values, s)
		}
	}
	slices.Sort(values)
	stratum = make([]int, len(members))
	for v, s := range o.Standing {
		stratum[v] = -1
		if members[v] != LeftOut && !math.IsNaN(s) {
			// Equal standings share a stratum: take the rank of the first.
			at, _ := slices.BinarySearch(values, s)
			stratum[v] = at * count / len(values)
		}
	}
	return stratum, count
}

func compareItem(r Responses, members []Membership, item, count int, stratumOf func(person int) int) ItemComparison {
	c := ItemComparison{Item: item}
	strata := make([]Stratum, count)
	for v, m := range members {
		x := r.At(v, item)
		if m == LeftOut || x < 0 {
			continue
		}
		k := stratumOf(v)
		if k < 0 {
			continue
		}
		s := &strata[k]
		if m == Reference {
			c.ReferenceAnswers++
			s.ReferenceRight += int(x)
			s.ReferenceWrong += int(1 - x)
		} else {
			c.FocalAnswers++
			s.FocalRight += int(x)
			s.FocalWrong += int(1 - x)
		}
	}
	c.MantelHaenszelTest = MantelHaenszel(strata)
	c.Delta, c.SE = -2.35*math.Log(c.OddsRatio), 2.35*c.LogSE
	c.Class = c.effectClass()
	if c.Class >= Moderate {
		c.Harder = Focal
		if c.Delta > 0 {
			c.Harder = Reference
		}
	}
	return c
}

func (c ItemComparison) effectClass() EffectClass {
	size := math.Abs(c.Delta)
	switch {
	case min(c.ReferenceAnswers, c.FocalAnswers) < minFocalAnswers:
		return TooFewToTell
	case !(c.SE <= largestSE): // or NaN
		if size-plainDeviate*c.SE > 1 {
			return Large
		}
		return TooFewToTell
	case size < 1 || c.P > 0.05:
		return Negligible
	case size >= 1.5 && size-1.6448536269514722*c.SE > 1:
		return Large
	}
	return Moderate
}
