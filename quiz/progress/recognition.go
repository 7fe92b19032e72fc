package progress

import (
	"cmp"
	"math"
	"slices"

	"rightpage/banks/resolver"
	"rightpage/grading/psychometrics"
)

// Growth is how far somebody has come in something from one time to another,
// on a scale on which people of different standing can be compared, with the
// standard error that somebody who began and answered alike would have.
type Growth struct {
	Person string
	Value  float64
	SE     float64
}

// Judged is a growth after all of them have been looked at together.
type Judged struct {
	Growth
	// Z is how far the growth lies above the common one, in standard deviations
	// of what is to be expected of somebody who answered as much.
	Z float64
}

// StandsOut is the Z from which on a growth is worth naming: nine in ten people
// like this one show less (normal distribution).
const StandsOut = 1.2816

// Judge ranks growths by how much they stand out, most first:
//
//	Z = (g − mean) / √(SE² + τ²)
//
// with τ the standard deviation of true growths among people. Raw growths would
// favour those who answered little, whose figures vary most; limits of certainty
// would favour those who answer much or stand in the middle of the scale,
// whose figures vary least. By Z everybody has the same chance to be named who
// does not differ in growth itself, as in the comparison of hospitals of
// different size (Spiegelhalter 2005, Statistics in Medicine 24, with random
// effects). Mean and τ come from the data; τ is where the likelihood times τ is
// greatest, so that it is never 0 (Chung et al. 2013, Psychometrika 78). A
// growth that is not finite, or has no standard error above 0, is left out. With
// fewer than three there is nothing in common to speak of, and Z = g / SE.
//
// The order of the list does not matter; ties go by person.
func Judge(list []Growth) []Judged {
	var out []Judged
	for _, g := range list {
		if g.SE > 0 && !math.IsInf(g.SE, 0) && !math.IsNaN(g.Value) && !math.IsInf(g.Value, 0) {
			out = append(out, Judged{Growth: g})
		}
	}
	mean, variance := common(out)
	for i := range out {
		j := &out[i]
		j.Z = (j.Value - mean) / math.Sqrt(j.SE*j.SE+variance)
	}
	slices.SortFunc(out, func(a, b Judged) int {
		return cmp.Or(cmp.Compare(b.Z, a.Z), cmp.Compare(a.Person, b.Person))
	})
	return out
}

// common gives the mean of the growths and the variance of the true ones
// around it; 0 and 0 for fewer than three.
func common(list []Judged) (mean, variance float64) {
	if len(list) < 3 {
		return 0, 0
	}
	// Summed in one order, so that the order of the list does not matter.
	list = slices.Clone(list)
	slices.SortFunc(list, func(a, b Judged) int { return cmp.Or(cmp.Compare(a.Value, b.Value), cmp.Compare(a.SE, b.SE)) })
	at := func(tau float64) (mean, score float64) {
		sum := 0.0
		for _, j := range list {
			w := 1 / (j.SE*j.SE + tau*tau)
			sum += w
			mean += w * j.Value
		}
		mean /= sum
		// The likelihood with the mean integrated out.
		score = math.Log(tau) - 0.5*math.Log(sum)
		for _, j := range list {
			v := j.SE*j.SE + tau*tau
			score -= 0.5 * (math.Log(v) + (j.Value-mean)*(j.Value-mean)/v)
		}
		return mean, score
	}
	spread := 0.0
	for _, j := range list {
		spread = max(spread, math.Abs(j.Value-list[0].Value), j.SE)
	}
	// τ in steps of 2 %, from far below to above all that the data can show.
	best, tau := math.Inf(-1), 0.0
	for x := spread / 1000; x < 3*spread; x *= 1.02 {
		if m, score := at(x); score > best {
			best, mean, tau = score, m, x
		}
	}
	return mean, tau * tau
}

// minRecognition is how many answers at a step it takes before a month and in
// it to speak of growth: as many as to speak of a share.
const minRecognition = psychometrics.MinShareAnswers

// StepGrowth is the growth of a person at a step of the lookup.
type StepGrowth struct {
	Step          resolver.Step
	Before, After Share
	Judged
}

// MostImproved ranks how far people have come at each step of a lookup between
// two sets of answers: the growth of the log odds of being right, r of n,
//
//	g = ln[(r₂+½)/(n₂−r₂+½)] − ln[(r₁+½)/(n₁−r₁+½)]
//
// (Haldane 1956, Annals of Human Genetics 20), on which the way from 90 to 95
// of 100 is as long as that from 50 to 68: who began well is not at a
// disadvantage, nor is a site of experienced people. Its standard error is that
// of somebody who began alike and grew as people do at this step, so that a good
// result does not make itself uncertain:
//
//	SE² = 1/(r₁+½) + 1/(n₁−r₁+½) + 1/(n₂ p (1−p)),  ln[p/(1−p)] = ln[(r₁+½)/(n₁−r₁+½)] + mean g
//
// Steps are judged each by itself ([Judge]), since everybody grows most where
// everybody was weak, and then ranked together. Only those are listed whose
// growth stands out ([StandsOut]) and is more than chance explains
// ([psychometrics.ShareChange]). Each person is listed once, by the best step.
func MostImproved(people []Compared) []StepGrowth {
	var all []StepGrowth
	for _, step := range resolver.Steps() {
		type pair struct{ before, after Share }
		of := map[string]pair{}
		var growth []Growth
		for _, p := range people {
			x := pair{atStep(p.Before, step), atStep(p.After, step)}
			if x.before.Answers < minRecognition || x.after.Answers < minRecognition {
				continue
			}
			of[p.Person] = x
			a, va := logOdds(x.before)
			b, vb := logOdds(x.after)
			growth = append(growth, Growth{p.Person, b - a, math.Sqrt(va + vb)})
		}
		// The mean growth decides the standard errors, and they the mean; it
		// settles within a few rounds.
		for range 5 {
			mean, _ := common(Judge(growth))
			for i := range growth {
				x := of[growth[i].Person]
				a, va := logOdds(x.before)
				p := psychometrics.Probability(a+mean, 0)
				growth[i].SE = math.Sqrt(va + 1/(float64(x.after.Answers)*p*(1-p)))
			}
		}
		for _, j := range Judge(growth) {
			x := of[j.Person]
			low, _ := psychometrics.ShareChange(x.before.Right, x.before.Answers, x.after.Right, x.after.Answers)
			if j.Z >= StandsOut && low > 0 {
				all = append(all, StepGrowth{step, x.before, x.after, j})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b StepGrowth) int {
		return cmp.Or(cmp.Compare(b.Z, a.Z), cmp.Compare(a.Person, b.Person), cmp.Compare(a.Step, b.Step))
	})
	return once(all, func(g StepGrowth) string { return g.Person })
}

// Compared is what a person answered before a month and in it.
type Compared struct {
	Person        string
	Before, After []Answer
}

func atStep(answers []Answer, step resolver.Step) Share {
	for _, s := range StepShares(answers) {
		if s.Step == step {
			return s.Share
		}
	}
	return ShareOf(0, 0)
}

func logOdds(s Share) (value, variance float64) {
	r, w := float64(s.Right)+0.5, float64(s.Answers-s.Right)+0.5
	return math.Log(r) - math.Log(w), 1/r + 1/w
}

// TimeGrowth is by how much a person has become quicker at whole lookups.
type TimeGrowth struct {
	// Before and After are the typical times in seconds (geometric means) of
	// the lookups that were right at least in half of their steps.
	Before, After float64
	Chases        int // in the month
	Judged            // of ln of the times: 0.69 is twice as quick
}

// minChases is how many chases it takes before and in a month: with four each
// the time is known within a third, about the smallest difference worth
// speaking of; see [psychometrics.MinTimedAnswers] for the spread.
const minChases = 4

// Quicker ranks how much quicker people have become at whole lookups, by the
// mean of ln seconds. Only lookups count that were right at least in half of
// their steps, and only people who have not become less right: their share of
// points may have fallen by no more than chance explains. Nobody is put first
// for hurrying. As for [MostImproved], only those are listed whose growth
// stands out and is more than chance explains (95 %).
//
// The spread of one person's ln seconds is that of all people together, since
// a few chases do not tell a person's own.
func Quicker(people []Compared) []TimeGrowth {
	type pair struct{ before, after times }
	of := map[string]pair{}
	ss, df := 0.0, 0
	for _, p := range people {
		x := pair{chaseTimes(p.Before), chaseTimes(p.After)}
		of[p.Person] = x
		for _, t := range []times{x.before, x.after} {
			if len(t.logs) > 1 {
				ss += t.squares()
				df += len(t.logs) - 1
			}
		}
	}
	if df == 0 {
		return nil
	}
	variance := ss / float64(df)
	var growth []Growth
	for _, p := range people {
		x := of[p.Person]
		if len(x.before.logs) < minChases || len(x.after.logs) < minChases || x.after.points < x.before.points-pointsSlack(x.before.n, x.after.n) {
			continue
		}
		growth = append(growth, Growth{p.Person, x.before.mean() - x.after.mean(),
			math.Sqrt(variance/float64(len(x.before.logs)) + variance/float64(len(x.after.logs)))})
	}
	var out []TimeGrowth
	for _, j := range Judge(growth) {
		x := of[j.Person]
		if j.Z >= StandsOut && j.Value > 1.96*j.SE {
			out = append(out, TimeGrowth{math.Exp(x.before.mean()), math.Exp(x.after.mean()), len(x.after.logs), j})
		}
	}
	return out
}

// times are the ln seconds of the chases that count, and the share of points of
// all n chases.
type times struct {
	logs   []float64
	points float64
	n      int
}

func chaseTimes(answers []Answer) times {
	var t times
	for _, a := range answers {
		if a.Skill != ChaseSkill {
			continue
		}
		t.n++
		t.points += a.Points
		if a.Spent > 0 && a.Spent <= longest && a.Points >= 0.5 {
			t.logs = append(t.logs, math.Log(a.Spent.Seconds()))
		}
	}
	if t.n > 0 {
		t.points /= float64(t.n)
	}
	return t
}

func (t times) mean() float64 {
	sum := 0.0
	for _, x := range t.logs {
		sum += x
	}
	return sum / float64(len(t.logs))
}

func (t times) squares() float64 {
	mean, ss := t.mean(), 0.0
	for _, x := range t.logs {
		ss += (x - mean) * (x - mean)
	}
	return ss
}

// pointsSlack is by how much the share of points may fall by chance: one
// standard error, with 0.25 as the standard deviation of the points of one
// chase (half of what it is at most).
func pointsSlack(before, after int) float64 {
	return 0.25 * math.Sqrt(1/float64(max(before, 1))+1/float64(max(after, 1)))
}

// Steady is for how many of the weeks of a month somebody practised.
type Steady struct {
	Person    string
	Weeks, Of int
	Answers   int
}

// Steadiest lists those who practised in each week of a month that they could
// ([Week.Practised]), by person: there is nothing to rank. Possible is the
// number of weeks that end in the month, less those before the person came;
// nobody is listed for fewer than two.
func Steadiest(list []Steady) []Steady {
	var out []Steady
	for _, s := range list {
		if s.Of >= 2 && s.Weeks >= s.Of {
			out = append(out, s)
		}
	}
	slices.SortFunc(out, func(a, b Steady) int { return cmp.Compare(a.Person, b.Person) })
	return out
}

// once keeps the first of each person.
func once[T any](list []T, person func(T) string) []T {
	seen := map[string]bool{}
	var out []T
	for _, x := range list {
		if id := person(x); !seen[id] {
			seen[id] = true
			out = append(out, x)
		}
	}
	return out
}
