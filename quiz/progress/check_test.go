package progress

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"rightpage/banks"
	"rightpage/grading/psychometrics"
	"rightpage/quiz"
)

// checkable gives n questions of each skill, of difficulties from −1.5 to 1.5.
func checkable(n int, skills ...string) []CheckQuestion {
	var list []CheckQuestion
	for _, s := range skills {
		for i := range n {
			list = append(list, CheckQuestion{Question: &banks.Question{ID: fmt.Sprintf("%s-%03d", s, i), Skill: s, Logit: -1.5 + 3*float64(i)/float64(n-1)}})
		}
	}
	return list
}

// sit answers a check to its end.
func sit(t *testing.T, questions []CheckQuestion, rng *rand.Rand, right func(*banks.Question) bool) CheckState {
	t.Helper()
	var given []CheckAnswer
	for {
		s, err := NextInCheck(questions, given, 0, 0, rng)
		if err != nil {
			t.Fatal(err)
		}
		if s.Ended() {
			if s.Next != nil {
				t.Fatal("a question after the end")
			}
			return s
		}
		given = append(given, CheckAnswer{s.Next, right(s.Next)})
	}
}

// The interval that people are told holds what they can do, and a check is
// shorter than one of fixed length that is as precise would be.
func TestACheckSaysWhatPeopleCanDo(t *testing.T) {
	rng := rand.New(rand.NewPCG(51, 1))
	questions := checkable(60, "editions", "groups")
	inside, length, precise := 0, 0, 0
	const people = 300
	for range people {
		theta := rng.NormFloat64()
		s := sit(t, questions, rng, func(q *banks.Question) bool { return rng.Float64() < psychometrics.Probability(theta, q.Logit) })
		length += len(s.Answers)
		if s.End == psychometrics.CheckPrecise {
			precise++
			if s.Ability.SE > CheckStopSE {
				t.Fatalf("stopped at a standard error of %v", s.Ability.SE)
			}
		}
		_, low, high := s.Chance()
		if truth := psychometrics.Probability(theta, s.Average); low <= truth && truth <= high {
			inside++
		}
		if s.Says().Phrase != psychometrics.PhraseAbility {
			t.Errorf("%d answers, standard error %.2f: %s", len(s.Answers), s.Ability.SE, psychometrics.English{}.Render(s.Says()))
		}
	}
	t.Logf("%.1f questions on average, %d of %d stopped at the standard error, %d within the 90 %% interval", float64(length)/people, precise, people, inside)
	if share := float64(inside) / people; share < 0.85 || share > 0.96 {
		t.Errorf("the 90 %% interval holds the truth in %.3f of the checks", share)
	}
	if precise < people*8/10 || length > 20*people {
		t.Errorf("%d of %d precise, %d questions", precise, people, length)
	}
}

func TestACheckOfSeveralSkillsAsksEachAsOften(t *testing.T) {
	rng := rand.New(rand.NewPCG(52, 1))
	s := sit(t, checkable(30, "a", "b", "c"), rng, func(*banks.Question) bool { return rng.Float64() < 0.5 })
	times := map[string]int{}
	seen := map[string]bool{}
	for _, a := range s.Answers {
		times[a.Question.Skill]++
		if seen[a.Question.ID] {
			t.Errorf("%s is asked twice", a.Question.ID)
		}
		seen[a.Question.ID] = true
	}
	for skill, n := range times {
		if math.Abs(float64(n)-float64(len(s.Answers))/3) > 1 {
			t.Errorf("%d of %d questions are of skill %s", n, len(s.Answers), skill)
		}
	}
}

// All right and all wrong end at the greatest number, and something is said.
func TestACheckOfWhoKnowsAllOrNothing(t *testing.T) {
	for _, right := range []bool{true, false} {
		s := sit(t, checkable(40, "a"), rand.New(rand.NewPCG(53, 1)), func(*banks.Question) bool { return right })
		chance, low, high := s.Chance()
		if s.End != psychometrics.CheckLongEnough || len(s.Answers) != CheckMost || s.Says().Phrase != psychometrics.PhraseAbility {
			t.Errorf("all right %v: %d answers, %s", right, len(s.Answers), psychometrics.English{}.Render(s.Says()))
		}
		if right && (chance < 0.9 || low < 0.7) || !right && (chance > 0.1 || high > 0.3) {
			t.Errorf("all right %v: %.2f to %.2f", right, low, high)
		}
	}
	// Of three answers nothing can be said.
	few := checkable(3, "a")
	s := sit(t, few, rand.New(rand.NewPCG(54, 1)), func(*banks.Question) bool { return true })
	if s.End != psychometrics.CheckExhausted || s.Says().Phrase != psychometrics.PhraseAbilityFew {
		t.Errorf("%+v: %s", s, psychometrics.English{}.Render(s.Says()))
	}
	if s, err := NextInCheck(few, nil, 0, 0, rand.New(rand.NewPCG(54, 1))); err != nil || s.Next == nil {
		t.Errorf("the beginning: %+v, %v", s, err)
	} else if _, low, high := s.Chance(); low != 0 || high != 1 {
		t.Errorf("before the first answer the chance is between %v and %v", low, high)
	}
}

// The same answers lead to the same question, on whichever server.
func TestACheckKeepsNoState(t *testing.T) {
	questions := checkable(50, "a", "b")
	given := []CheckAnswer{{questions[20].Question, true}, {questions[70].Question, false}}
	var first *banks.Question
	for range 5 {
		s, err := NextInCheck(questions, given, 20, 0.25, rand.New(rand.NewPCG(7, 2)))
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = s.Next
		}
		if s.Next != first {
			t.Errorf("%s, then %s", first.ID, s.Next.ID)
		}
	}
	for name, list := range map[string][]CheckAnswer{
		"a question of another bank": {{&banks.Question{ID: "x"}, true}},
		"answered twice":             {{questions[1].Question, true}, {questions[1].Question, true}},
	} {
		if _, err := NextInCheck(questions, list, 0, 0, rand.New(rand.NewPCG(7, 2))); !errors.Is(err, psychometrics.ErrRange) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := NextInCheck(nil, nil, 0, 0, rand.New(rand.NewPCG(7, 2))); !errors.Is(err, psychometrics.ErrEmpty) {
		t.Errorf("no questions: %v", err)
	}
}

// What the person has had before is left out while enough is left.
func TestACheckAsksWhatIsNew(t *testing.T) {
	questions := checkable(60, "a")
	for i := range 30 {
		questions[i].Seen = true
	}
	rng := rand.New(rand.NewPCG(55, 1))
	s := sit(t, questions, rng, func(q *banks.Question) bool { return rng.Float64() < 0.5 })
	for _, a := range s.Answers {
		if a.Question.Logit <= questions[29].Question.Logit {
			t.Errorf("%s was had before", a.Question.ID)
		}
	}
	for i := range 50 {
		questions[i].Seen = true
	}
	if s := sit(t, questions, rng, func(*banks.Question) bool { return true }); len(s.Answers) != CheckMost {
		t.Errorf("with 10 new questions a check has %d", len(s.Answers))
	}
}

func TestCheckOfAPerson(t *testing.T) {
	ctx := context.Background()
	p := practising(series("a", "editions", times9(true)...)...)
	bank := smallBank()
	rng := func() *rand.Rand { return rand.New(rand.NewPCG(1, 3)) }
	for skill, want := range map[string]map[string]bool{
		"editions": {"editions": true},
		"":         {"editions": true, "groups": true}, // without whole lookups
		ChaseSkill: {ChaseSkill: true},
	} {
		var given []CheckAnswer
		for {
			s, err := p.Check(ctx, "a", skill, bank, given, []string{"editions-00"}, rng())
			if err != nil {
				t.Fatal(err)
			}
			if s.Ended() {
				break
			}
			if !want[s.Next.Skill] || s.Next.ID == "editions-00" {
				t.Errorf("check of %q asks %s", skill, s.Next.ID)
			}
			given = append(given, CheckAnswer{s.Next, len(given)%2 == 0})
		}
		if len(given) < 16 {
			t.Errorf("check of %q ended after %d answers", skill, len(given))
		}
	}
	if _, err := p.Check(ctx, "a", "no such skill", bank, nil, nil, rng()); quiz.ErrorCode(err) != quiz.NotFound {
		t.Errorf("a skill that there is not: %v", err)
	}
}
