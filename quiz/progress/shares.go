package progress

import (
	"cmp"
	"slices"
	"time"

	"rightpage/banks/resolver"
	"rightpage/grading"
	"rightpage/grading/psychometrics"
)

// Share is how many of so many answers were right, with the interval in which
// the share lies with 95 % confidence (Wilson 1927). Without answers the
// interval is everything.
type Share struct {
	Answers, Right int
	Low, High      float64
}

// ShareOf gives the share of right of n answers.
func ShareOf(right, n int) Share {
	low, high := psychometrics.WilsonInterval(right, n)
	return Share{Answers: n, Right: right, Low: low, High: high}
}

// Value is the share, 0 to 1; 0 without answers.
func (s Share) Value() float64 {
	if s.Answers == 0 {
		return 0
	}
	return float64(s.Right) / float64(s.Answers)
}

// Enough tells whether there are enough answers to show the share.
func (s Share) Enough() bool { return s.Answers >= psychometrics.MinShareAnswers }

// Says says the share in words, or that there are too few answers to tell.
func (s Share) Says() psychometrics.Statement { return psychometrics.SayShare(s.Right, s.Answers) }

// StepShare is how a person does at one step of a lookup.
type StepShare struct {
	Step resolver.Step
	Share
	Recent Share // of the last 12 answers
}

// StepShares counts right and wrong by step of the lookup; steps that no answer
// speaks of are left out. Answers are in order of time.
func StepShares(answers []Answer) []StepShare {
	marks := map[resolver.Step][]bool{}
	for _, a := range answers {
		for _, m := range a.Marks {
			marks[m.Step] = append(marks[m.Step], m.Right)
		}
	}
	var list []StepShare
	for _, step := range resolver.Steps() {
		if all := marks[step]; len(all) > 0 {
			recent := all[max(0, len(all)-psychometrics.MinShareAnswers):]
			list = append(list, StepShare{step, ShareOf(countTrue(all), len(all)), ShareOf(countTrue(recent), len(recent))})
		}
	}
	return list
}

// WeakestStep is the step with the smallest share of right answers, each drawn
// towards the share of all steps together as if four more answers had been
// given, so that a single wrong answer does not outweigh many; ok is false
// without answers.
func WeakestStep(steps []StepShare) (weakest resolver.Step, ok bool) {
	right, n := 0, 0
	for _, s := range steps {
		right += s.Right
		n += s.Answers
	}
	if n == 0 {
		return 0, false
	}
	const weight = 4
	base := float64(right) / float64(n)
	least := 2.0
	for _, s := range steps {
		if v := (float64(s.Right) + weight*base) / (float64(s.Answers) + weight); v < least {
			weakest, least = s.Step, v
		}
	}
	return weakest, true
}

// SlipCounts counts the slips made, most frequent first. Each step of a chase
// that is wrong is not counted by itself: the chase counts the slip that its
// score names.
func SlipCounts(answers []Answer) []grading.SlipCount {
	times := map[resolver.Slip]int{}
	for _, a := range answers {
		if a.Slip != resolver.NoSlip {
			times[a.Slip]++
		}
	}
	list := make([]grading.SlipCount, 0, len(times))
	for s, n := range times {
		list = append(list, grading.SlipCount{Slip: s, Times: n})
	}
	slices.SortFunc(list, func(a, b grading.SlipCount) int {
		return cmp.Or(cmp.Compare(b.Times, a.Times), cmp.Compare(a.Slip, b.Slip))
	})
	return list
}

// Month is what was answered in one month.
type Month struct {
	Starts time.Time // its first day
	Share
}

// Months counts by month, in the zone given, from the first month with an
// answer to the last; months between without answers are there, too.
func Months(answers []Answer, zone *time.Location) []Month {
	var list []Month
	counted(answers, zone, monthOf, func(t time.Time) time.Time { return t.AddDate(0, 1, 0) }, func(start time.Time, right, n int) {
		list = append(list, Month{start, ShareOf(right, n)})
	})
	return list
}

// counted calls f for each period from the first with an answer to the last.
func counted(answers []Answer, zone *time.Location, start func(time.Time) time.Time, next func(time.Time) time.Time, f func(start time.Time, right, n int)) {
	if len(answers) == 0 {
		return
	}
	type count struct{ right, n int }
	by := map[time.Time]count{}
	first, last := start(answers[0].At.In(zone)), start(answers[0].At.In(zone))
	for _, a := range answers {
		s := start(a.At.In(zone))
		if s.Before(first) {
			first = s
		}
		if s.After(last) {
			last = s
		}
		c := by[s]
		c.n++
		if a.Right {
			c.right++
		}
		by[s] = c
	}
	for s := first; !s.After(last); s = next(s) {
		c := by[s]
		f(s, c.right, c.n)
	}
}

func monthOf(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), 1, 0, 0, 0, 0, t.Location())
}

func countTrue(list []bool) int {
	n := 0
	for _, x := range list {
		if x {
			n++
		}
	}
	return n
}
