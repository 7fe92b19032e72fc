package progress

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"rightpage/banks"
	"rightpage/banks/resolver"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/store"
)

// fakeBank holds questions by skill.
type fakeBank map[string][]*banks.Question

func (b fakeBank) Skills() []string {
	var list []string
	for s := range b {
		list = append(list, s)
	}
	slices.Sort(list)
	return list
}
func (b fakeBank) BySkill(s string) []*banks.Question { return b[s] }

// smallBank has 20 questions of two skills and of whole lookups each. Those of
// editions can be got wrong at the edition, every other one at the data card,
// too.
func smallBank() fakeBank {
	b := fakeBank{}
	for _, skill := range []string{"editions", "groups", ChaseSkill} {
		for i := range 20 {
			q := &banks.Question{ID: fmt.Sprintf("%s-%02d", skill, i), Skill: skill, Kind: "edition", Logit: float64(i%5) / 4}
			slips := []resolver.Slip{resolver.LimitOffByOne}
			switch {
			case skill == "groups":
				slips[0], q.Kind = resolver.SiblingGroup, "group"
			case i%2 == 0:
				slips = append(slips, resolver.NeighbourCard)
			}
			for _, s := range slips {
				q.Options = append(q.Options, banks.Option{Slip: s})
			}
			b[skill] = append(b[skill], q)
		}
	}
	return b
}

// practising gives a Progress of people who answered.
func practising(list ...store.Outcome) *Progress {
	now := begin.AddDate(0, 0, 20)
	p := New(nil, Options{Now: func() time.Time { return now }, Every: -1})
	p.h = &history{src: &fakeSource{gone: 1, list: list}, now: p.o.Now}
	return p
}

// series gives answers of a person in a skill, every hour.
func series(person, skill string, right ...bool) []store.Outcome {
	var list []store.Outcome
	for i, r := range right {
		o := exercise(person, fmt.Sprintf("%s-%s-%02d", person, skill, i), fmt.Sprintf("old-%s-%d", skill, i), begin.Add(time.Duration(i)*time.Hour), r)
		o.Score.Skill = skill
		if skill == "groups" {
			o.Score.Kind = "group"
		}
		if !r {
			o.Score.Step, o.Score.Known, o.Score.Slip = resolver.EditionStep, true, resolver.LimitOffByOne
			if skill == "groups" {
				o.Score.Step, o.Score.Slip = resolver.GroupStep, resolver.SiblingGroup
			}
		}
		list = append(list, o)
	}
	return list
}

func times9(x bool) []bool { return slices.Repeat([]bool{x}, 9) }

func TestNextQuestion(t *testing.T) {
	ctx := context.Background()
	p := practising(slices.Concat(series("a", "editions", times9(false)...), series("a", "groups", times9(true)...))...)
	for name, c := range map[string]struct {
		mode  Mode
		skill string
		right func(*banks.Question, Why) bool
	}{
		"by need: the weakest skill":          {Mode{}, "editions", func(_ *banks.Question, w Why) bool { return w.Mode.Kind == ByNeed && w.Known < 0.5 && w.Answers == 9 }},
		"the skill asked for":                 {Mode{Kind: OneSkill, Skill: "groups"}, "groups", func(_ *banks.Question, w Why) bool { return w.Known > 0.5 }},
		"whole lookups":                       {Mode{Kind: Chases}, ChaseSkill, func(_ *banks.Question, w Why) bool { return w.Answers == 0 }},
		"the weakest step":                    {Mode{Kind: OneStep}, "editions", func(_ *banks.Question, w Why) bool { return w.Mode.Step == resolver.EditionStep && w.Step.Right == 0 }},
		"a step: what can be got wrong there": {Mode{Kind: OneStep, Step: resolver.CardStep, Chosen: true}, "editions", func(q *banks.Question, _ Why) bool { return canSlipAt(q, resolver.CardStep) }},
	} {
		t.Run(name, func(t *testing.T) {
			for seed := range uint64(20) {
				q, why, err := p.Next(ctx, "a", c.mode, smallBank(), nil, rand.New(rand.NewPCG(seed, 1)))
				if err != nil {
					t.Fatal(err)
				}
				if q.Skill != c.skill || why.Skill != c.skill || why.Again || !c.right(q, why) {
					t.Fatalf("question %s because %+v", q.ID, why)
				}
			}
		})
	}
}

// Practice never ends: each question comes once before any comes again, and one
// that was just asked is not asked next.
func TestPracticeGoesOn(t *testing.T) {
	ctx := context.Background()
	bank := smallBank()
	p := practising()
	p.o.Now = func() time.Time { return begin.Add(time.Hour) } // nothing is forgotten yet
	src := p.h.src.(*fakeSource)
	if _, err := p.Model(ctx); err != nil {
		t.Fatal(err)
	}
	p.fitting.Lock() // the models stay those that nobody's answers give
	rng := rand.New(rand.NewPCG(3, 3))
	seen := map[string]int{}
	last := ""
	for i := range 50 {
		var avoid []string
		if last != "" {
			avoid = []string{last}
		}
		q, why, err := p.Next(ctx, "a", Mode{Kind: OneSkill, Skill: "groups"}, bank, avoid, rng)
		if err != nil {
			t.Fatal(err)
		}
		if q.ID == last {
			t.Fatalf("question %s is asked twice on end", q.ID)
		}
		if why.Again != (seen[q.ID] > 0) || why.Again && len(seen) < 20 {
			t.Fatalf("question %d is %s, had %d times after %d others; again: %v", i+1, q.ID, seen[q.ID], len(seen), why.Again)
		}
		seen[q.ID]++
		last = q.ID
		at := begin.Add(time.Duration(i) * time.Minute)
		x := quiz.Practice{Person: "a", Key: fmt.Sprint("key ", i), At: at, Score: grading.Score{Question: q.ID, Kind: "group", Skill: "groups", Verdict: grading.Right, Points: 1}}
		p.Note(x)
		o := exercise("a", x.Key, q.ID, at, true)
		o.Score = x.Score
		src.list = append(src.list, o)
		if n := len(p.h.of("a")); n != i+1 {
			t.Fatalf("%d answers after %d", n, i+1)
		}
	}
	if _, why, err := p.Next(ctx, "a", Mode{Kind: OneSkill, Skill: "groups"}, bank, nil, rng); err != nil || !why.Mastered {
		t.Errorf("after 50 right answers: %+v, %v; want it mastered", why, err)
	}
}

func TestNothingToPractise(t *testing.T) {
	ctx := context.Background()
	p := practising()
	rng := rand.New(rand.NewPCG(1, 1))
	for _, m := range []Mode{{Kind: OneSkill, Skill: "welding"}, {Kind: OneStep, Step: resolver.AmendStep, Chosen: true}} {
		if _, _, err := p.Next(ctx, "a", m, smallBank(), nil, rng); quiz.ErrorCode(err) != quiz.NotFound {
			t.Errorf("%v gives %v, want not found", m, err)
		}
	}
	for _, m := range []Mode{{}, {Kind: OneStep}, {Kind: Chases}} {
		if _, _, err := p.Next(ctx, "a", m, fakeBank{}, nil, rng); quiz.ErrorCode(err) != quiz.NotFound {
			t.Errorf("%v of an empty bank gives %v, want not found", m, err)
		}
		if q, _, err := p.Next(ctx, "new", m, smallBank(), nil, rng); err != nil || q == nil {
			t.Errorf("%v of somebody who answered nothing: %v", m, err)
		}
	}
}

// A question that a quarter of the people had is kept for others while there
// are other questions.
func TestQuestionsAreSpreadOverPeople(t *testing.T) {
	var list []store.Outcome
	for i := range 8 {
		for j := range 10 { // each of the first half of the questions, by all
			o := exercise(fmt.Sprint("p", i), fmt.Sprintf("k-%d-%d", i, j), fmt.Sprintf("groups-%02d", j), begin.Add(time.Duration(10*i+j)*time.Minute), j%2 == 0)
			o.Score.Skill, o.Score.Kind = "groups", "group"
			list = append(list, o)
		}
	}
	p := practising(list...)
	for seed := range uint64(40) {
		q, why, err := p.Next(context.Background(), "newcomer", Mode{Kind: OneSkill, Skill: "groups"}, smallBank(), nil, rand.New(rand.NewPCG(seed, 2)))
		if err != nil {
			t.Fatal(err)
		}
		if q.ID < "groups-10" || why.Scarce {
			t.Fatalf("question %s, which everybody had; scarce: %v", q.ID, why.Scarce)
		}
	}
}
