package progress

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rightpage/banks/resolver"
	"rightpage/grading"
)

func TestSharesByStep(t *testing.T) {
	answers := []Answer{
		{Marks: []StepMark{{resolver.EditionStep, true}, {resolver.CodeStep, true}}},
		{Marks: []StepMark{{resolver.EditionStep, false}}},
		{Marks: []StepMark{{resolver.CodeStep, true}}},
	}
	got := StepShares(answers)
	want := []StepShare{
		{resolver.CodeStep, ShareOf(2, 2), ShareOf(2, 2)},
		{resolver.EditionStep, ShareOf(1, 2), ShareOf(1, 2)},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func TestRecentShareIsOfTheLastTwelve(t *testing.T) {
	var answers []Answer
	for i := range 30 {
		answers = append(answers, Answer{Marks: []StepMark{{resolver.GroupStep, i >= 20}}})
	}
	got := StepShares(answers)[0]
	if got.Share != ShareOf(10, 30) || got.Recent != ShareOf(10, 12) {
		t.Errorf("share %+v, recent %+v", got.Share, got.Recent)
	}
}

func TestWeakestStep(t *testing.T) {
	step := func(s resolver.Step, right, n int) StepShare { return StepShare{Step: s, Share: ShareOf(right, n)} }
	for name, c := range map[string]struct {
		steps []StepShare
		want  resolver.Step
		ok    bool
	}{
		"nothing answered":                       {nil, 0, false},
		"the smallest share":                     {[]StepShare{step(resolver.CodeStep, 9, 10), step(resolver.EditionStep, 5, 10)}, resolver.EditionStep, true},
		"one wrong answer makes no weakest step": {[]StepShare{step(resolver.CodeStep, 0, 1), step(resolver.EditionStep, 5, 20), step(resolver.LocationStep, 19, 20)}, resolver.EditionStep, true},
		"the earlier of two that tie":            {[]StepShare{step(resolver.CodeStep, 5, 10), step(resolver.EditionStep, 5, 10)}, resolver.CodeStep, true},
	} {
		t.Run(name, func(t *testing.T) {
			if got, ok := WeakestStep(c.steps); got != c.want || ok != c.ok {
				t.Errorf("weakest %v, %v; want %v, %v", got, ok, c.want, c.ok)
			}
		})
	}
}

func TestSlipsMostFrequentFirst(t *testing.T) {
	got := SlipCounts([]Answer{{Slip: resolver.OneCounter}, {}, {Slip: resolver.WrongClass}, {Slip: resolver.OneCounter}, {Slip: resolver.WrongDigits}})
	want := []grading.SlipCount{{Slip: resolver.OneCounter, Times: 2}, {Slip: resolver.WrongDigits, Times: 1}, {Slip: resolver.WrongClass, Times: 1}}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

// The interval of a share holds the share.
func TestIntervalHoldsItsShare(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 500).Draw(t, "n")
		s := ShareOf(rapid.IntRange(0, n).Draw(t, "right"), n)
		if n > 0 && (s.Value() < s.Low-1e-12 || s.Value() > s.High+1e-12) || s.Low < 0 || s.High > 1 {
			t.Fatalf("%+v", s)
		}
	})
}

func TestLevels(t *testing.T) {
	for _, c := range []struct {
		known   float64
		answers int
		want    Level
	}{{1, 4, TooFew}, {0.95, 5, Mastered}, {0.94, 5, Probable}, {0.75, 5, Probable}, {0.74, 5, Open}, {0.26, 5, Open}, {0.25, 5, NotYet}} {
		if got := LevelOf(c.known, c.answers); got != c.want {
			t.Errorf("known with %v from %d answers: %s, want %s", c.known, c.answers, got, c.want)
		}
	}
}
