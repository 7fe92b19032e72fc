package progress

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rightpage/banks/resolver"
	"rightpage/grading"
	"rightpage/quiz/store"
)

// An answer speaks for or against a person at the steps at which its kind of
// question can be got wrong, up to where it went wrong.
func TestStepsThatAnAnswerSpeaksOf(t *testing.T) {
	right := func(steps ...resolver.Step) []StepMark {
		var m []StepMark
		for _, s := range steps {
			m = append(m, StepMark{s, true})
		}
		return m
	}
	wrong := func(s resolver.Step) StepMark { return StepMark{s, false} }
	// Questions of the kind edition can be got wrong at the key, the card and
	// the edition; ask the kind itself which.
	edition := stepsOfKind("edition")
	if len(edition) < 2 || edition[len(edition)-1] != resolver.EditionStep {
		t.Fatalf("questions about editions can be got wrong at %v; the edition is to be the last", edition)
	}
	before := edition[:len(edition)-1]
	for name, c := range map[string]struct {
		score grading.Score
		want  []StepMark
	}{
		"right: right at each": {
			grading.Score{Kind: "edition", Verdict: grading.Right}, right(edition...)},
		"by a slip: right before it, nothing known after it": {
			grading.Score{Kind: "edition", Verdict: grading.Wrong, Known: true, Slip: resolver.LimitOffByOne, Step: resolver.EditionStep},
			append(right(before...), wrong(resolver.EditionStep))},
		"by a slip at the first step": {
			grading.Score{Kind: "edition", Verdict: grading.Wrong, Known: true, Slip: resolver.WrongDigits, Step: resolver.CodeStep},
			[]StepMark{wrong(resolver.CodeStep)}},
		"not recognised: wrong at what was asked for": {
			grading.Score{Kind: "edition", Verdict: grading.Wrong, Step: resolver.EditionStep}, []StepMark{wrong(resolver.EditionStep)}},
		"blank": {
			grading.Score{Kind: "edition", Verdict: grading.Blank, Step: resolver.EditionStep}, []StepMark{wrong(resolver.EditionStep)}},
		"a chase says it itself, and what is carried forward is right": {
			grading.Score{Kind: "chase", Verdict: grading.Partly, Steps: []grading.StepScore{
				{Step: resolver.CodeStep, Verdict: grading.Right}, {Step: resolver.GroupStep, Verdict: grading.Wrong},
				{Step: resolver.EditionStep, Verdict: grading.Carried}, {Step: resolver.LocationStep, Verdict: grading.Blank}}},
			[]StepMark{{resolver.CodeStep, true}, {resolver.GroupStep, false}, {resolver.EditionStep, true}, {resolver.LocationStep, false}}},
		"a kind that is not known any more": {
			grading.Score{Kind: "gone", Verdict: grading.Right}, nil},
	} {
		t.Run(name, func(t *testing.T) {
			got := AnswerOf(store.Outcome{Score: c.score}).Marks
			if len(got) == 0 {
				got = nil
			}
			if d := cmp.Diff(c.want, got); d != "" {
				t.Error(d)
			}
		})
	}
}

func TestWhatAnAnswerKeeps(t *testing.T) {
	at := time.Date(2031, 3, 4, 8, 0, 0, 0, time.UTC)
	a := AnswerOf(store.Outcome{Source: store.FromQuiz, Ref: "a1", At: at, Spent: time.Minute, Score: grading.Score{
		Question: "q", Kind: "edition", Skill: "editions", Verdict: grading.Wrong, Points: 0, Known: true, Slip: resolver.WrongSideLimit, Step: resolver.EditionStep}})
	if !a.Quiz || a.Ref != "a1" || a.Right || a.Slip != resolver.WrongSideLimit || a.Spent != time.Minute || !a.At.Equal(at) {
		t.Errorf("kept %+v", a)
	}
	if a := AnswerOf(store.Outcome{Score: grading.Score{Verdict: grading.Partly, Points: 0.8}}); a.Right || a.Points != 0.8 {
		t.Errorf("part of the points counts as %+v, want not right", a)
	}
}
