package psychometrics

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// drill simulates practice until the tracing model, fitted to other people,
// holds every skill to be known with 95 %. choose picks the next question.
type drill struct {
	questions []PracticeQuestion
	truth     []MasteryParameters
	model     []MasteryParameters
	rng       *rand.Rand
}

type drillResult struct {
	questions float64 // mean number to the end
	known     float64 // share of skills that are truly known then
}

func (d *drill) run(people int, choose func(skills []PracticeSkill, questions []PracticeQuestion) int) drillResult {
	var r drillResult
	questions := slices.Clone(d.questions)
	for range people {
		learners := make([]*learner, len(d.truth))
		skills := make([]PracticeSkill, len(d.truth))
		for k := range learners {
			learners[k] = newLearner(d.truth[k], d.rng)
			skills[k] = PracticeSkill{MasteryParameters: d.model[k], Now: d.model[k].Known}
		}
		for i := range questions {
			questions[i].Seen = false
		}
		for slices.ContainsFunc(skills, func(s PracticeSkill) bool { return s.Now < 0.95 }) {
			i := choose(skills, questions)
			q := &questions[i]
			a := learners[q.Skill].answer(0, q.Difficulty, true, d.rng)
			s := &skills[q.Skill]
			s.Now = s.step(s.Now, a).After
			q.Seen = true
			q.Shown++
			r.questions += 1 / float64(people)
		}
		for _, l := range learners {
			if l.known {
				r.known += 1 / float64(people*len(learners))
			}
		}
	}
	return r
}

// Mastery with at least 30 % fewer questions than in random order, and without
// calling anything mastered that is not.
func TestAdaptivePracticeNeedsFewerQuestions(t *testing.T) {
	d := &drill{rng: rand.New(rand.NewPCG(11, 1))}
	for k := range 6 {
		p := MasteryParameters{Known: 0.15 + 0.13*float64(k), Learn: 0.12 + 0.03*float64(k), Guess: 0.2, Slip: 0.08, Forget: 0.01}
		d.truth = append(d.truth, p)
		fit, err := FitMastery(practise(p, 150, 6, 1, d.rng), DefaultMasteryPrior())
		if err != nil {
			t.Fatal(err)
		}
		d.model = append(d.model, fit.MasteryParameters)
		for range 150 {
			d.questions = append(d.questions, PracticeQuestion{Skill: k, Difficulty: d.rng.NormFloat64()})
		}
	}
	const people = 300
	fresh := func(questions []PracticeQuestion, fit func(PracticeQuestion) bool) int {
		for {
			if i := d.rng.IntN(len(questions)); !questions[i].Seen && fit(questions[i]) {
				return i
			}
		}
	}
	random := d.run(people, func(_ []PracticeSkill, q []PracticeQuestion) int {
		return fresh(q, func(PracticeQuestion) bool { return true })
	})
	// For comparison: random, but mastered skills are dropped.
	dropping := d.run(people, func(s []PracticeSkill, q []PracticeQuestion) int {
		return fresh(q, func(q PracticeQuestion) bool { return s[q.Skill].Now < 0.95 })
	})
	rules := PracticeRules{Target: 0.95, Exposure: Exposure{Limit: 0.3, People: people}}
	over := 0
	adaptive := d.run(people, func(s []PracticeSkill, q []PracticeQuestion) int {
		c, err := NextPractice(s, q, rules, d.rng)
		if err != nil || c.Done || c.Question < 0 {
			t.Fatalf("%+v, %v", c, err)
		}
		if c.OverLimit {
			over++
		}
		if !c.OverLimit && !rules.Exposure.allows(q[c.Question].Shown) {
			t.Fatalf("question shown %d times", q[c.Question].Shown)
		}
		return c.Question
	})
	t.Logf("questions to mastery of 6 skills: random %.1f, random without mastered skills %.1f, adaptive %.1f (%.0f %% fewer than random); truly known %.3f, %.3f, %.3f; over the limit %d times",
		random.questions, dropping.questions, adaptive.questions, 100*(1-adaptive.questions/random.questions),
		random.known, dropping.known, adaptive.known, over)
	if adaptive.questions > 0.7*random.questions {
		t.Errorf("adaptive order takes %.1f questions, random order %.1f", adaptive.questions, random.questions)
	}
	if adaptive.questions > dropping.questions {
		t.Errorf("choosing by information takes %.1f questions, choosing at random among unfinished skills %.1f", adaptive.questions, dropping.questions)
	}
	// The target was 95 % certainty.
	if adaptive.known < 0.93 {
		t.Errorf("only %v of the skills held to be mastered are known", adaptive.known)
	}
}

func TestNextPracticeRules(t *testing.T) {
	p := DefaultMasteryPrior().Mode()
	skills := []PracticeSkill{{p, 0.6}, {p, 0.3}, {p, 0.97}}
	rng := rand.New(rand.NewPCG(1, 1))
	next := func(rules PracticeRules, q ...PracticeQuestion) PracticeChoice {
		t.Helper()
		rules.Target = 0.95
		c, err := NextPractice(skills, q, rules, rng)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	// The weakest skill with questions left.
	if c := next(PracticeRules{}, PracticeQuestion{Skill: 0}, PracticeQuestion{Skill: 1}, PracticeQuestion{Skill: 2}); c.Question != 1 || c.Done {
		t.Errorf("%+v", c)
	}
	if c := next(PracticeRules{}, PracticeQuestion{Skill: 0}, PracticeQuestion{Skill: 2}); c.Question != 0 {
		t.Errorf("%+v", c)
	}
	// The most telling one, if picking among one: an answer anybody gets right
	// or wrong tells nothing.
	c := next(PracticeRules{Among: 1}, PracticeQuestion{Skill: 1, Difficulty: 6}, PracticeQuestion{Skill: 1}, PracticeQuestion{Skill: 1, Difficulty: -6})
	if c.Question != 1 || !(c.Information > 0.2 && c.Information < 1) {
		t.Errorf("%+v", c)
	}
	// Never seen before seen, never too often while others are left.
	limit := PracticeRules{Exposure: Exposure{Limit: 0.25, People: 12}}
	if c := next(limit, PracticeQuestion{Skill: 1, Shown: 3}, PracticeQuestion{Skill: 1, Shown: 2, Difficulty: 5}, PracticeQuestion{Skill: 1, Seen: true}); c.Question != 1 || c.OverLimit {
		t.Errorf("%+v", c)
	}
	if c := next(limit, PracticeQuestion{Skill: 1, Shown: 9}, PracticeQuestion{Skill: 1, Shown: 5, Difficulty: 5}, PracticeQuestion{Skill: 1, Seen: true}); c.Question != 1 || !c.OverLimit {
		t.Errorf("%+v", c)
	}
	if c := next(limit, PracticeQuestion{Skill: 1, Shown: 9, Seen: true}, PracticeQuestion{Skill: 1, Shown: 2, Seen: true}); c.Question != 1 || c.OverLimit {
		t.Errorf("%+v", c)
	}
	// Nothing left, or nothing left to do.
	if c := next(PracticeRules{}, PracticeQuestion{Skill: 2}, PracticeQuestion{Skill: 0, Difficulty: math.NaN()}); c.Done || c.Question != -1 {
		t.Errorf("%+v", c)
	}
	skills = skills[2:]
	if c := next(PracticeRules{}, PracticeQuestion{}); !c.Done || c.Question != -1 {
		t.Errorf("%+v", c)
	}

	ok := PracticeRules{Target: 0.95}
	for name, f := range map[string]func() (PracticeChoice, error){
		"unknown skill": func() (PracticeChoice, error) {
			return NextPractice(skills, []PracticeQuestion{{Skill: 4}}, ok, rng)
		},
		"no target":      func() (PracticeChoice, error) { return NextPractice(skills, nil, PracticeRules{}, rng) },
		"chance above 1": func() (PracticeChoice, error) { return NextPractice([]PracticeSkill{{p, 1.1}}, nil, ok, rng) },
		"no parameters": func() (PracticeChoice, error) {
			return NextPractice([]PracticeSkill{{MasteryParameters{Guess: 2}, 0}}, nil, ok, rng)
		},
		"exposure above 1": func() (PracticeChoice, error) {
			return NextPractice(skills, nil, PracticeRules{Target: 0.9, Exposure: Exposure{Limit: 3}}, rng)
		},
		"exposure not set": func() (PracticeChoice, error) {
			return NextPractice(skills, nil, PracticeRules{Target: math.NaN()}, rng)
		},
		"knowing would hurt": func() (PracticeChoice, error) {
			return NextPractice([]PracticeSkill{{MasteryParameters{Guess: 0.6, Slip: 0.6}, 0}}, nil, ok, rng)
		},
	} {
		if _, err := f(); !errors.Is(err, ErrRange) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := NextPractice(nil, nil, ok, rng); !errors.Is(err, ErrEmpty) {
		t.Errorf("no skills: %v", err)
	}
}

// An adaptive check stops at the standard error that it states, the estimates
// are off by as much as it says, and a random order would take longer.
func TestAdaptiveCheckStopsAtItsStandardError(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 1))
	bank := make([]CheckQuestion, 250)
	for i := range bank {
		bank[i] = CheckQuestion{Difficulty: 1.3 * rng.NormFloat64(), Skill: i % 3}
	}
	const people = 250
	run := func(rules CheckRules) (length, rmse, inside float64) {
		for i := range bank {
			bank[i].Shown = 0
		}
		for range people {
			theta := rng.NormFloat64()
			var given []CheckAnswer
			var step CheckStep
			for {
				var err error
				if step, err = NextCheck(bank, given, rules, rng); err != nil {
					t.Fatal(err)
				}
				if step.End != CheckContinues {
					break
				}
				bank[step.Question].Shown++
				given = append(given, CheckAnswer{step.Question, rng.Float64() < Probability(theta, bank[step.Question].Difficulty)})
			}
			if step.End != CheckPrecise || step.Ability.SE > rules.StopSE || step.Ability.Answered != len(given) {
				t.Fatalf("ended with %+v after %d answers", step, len(given))
			}
			d := step.Ability.Theta - theta
			length += float64(len(given)) / people
			rmse += d * d / people
			if math.Abs(d) < 1.96*step.Ability.SE {
				inside += 1.0 / people
			}
		}
		return length, math.Sqrt(rmse), inside
	}
	limit := Exposure{Limit: 0.3, People: people}
	length, rmse, inside := run(CheckRules{StopSE: 0.4, Least: 10, Exposure: limit})
	most := 0
	for _, q := range bank {
		most = max(most, q.Shown)
	}
	random, _, _ := run(CheckRules{StopSE: 0.4, Least: 10, Among: len(bank)})
	t.Logf("stops after %.1f questions (random order %.1f), root mean square error %.3f, %.3f within 1.96 SE, most shown question %d of %d", length, random, rmse, inside, most, people)
	near(t, "root mean square error", rmse, 0.4, 0.04)
	near(t, "share within 1.96 SE", inside, 0.95, 0.03)
	if length > 0.85*random || length < 25 {
		t.Errorf("%.1f questions, random order %.1f", length, random)
	}
	if float64(most) > 0.3*people {
		t.Errorf("a question was shown to %d of %d people", most, people)
	}
}

func TestNextCheckRules(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	bank := []CheckQuestion{{Difficulty: 0}, {Difficulty: 1, Skill: 1}, {Difficulty: -2, Skill: 1}, {Difficulty: math.NaN()}}
	next := func(rules CheckRules, given ...CheckAnswer) CheckStep {
		t.Helper()
		if rules.StopSE == 0 {
			rules.StopSE = 0.3
		}
		rules.Among = 1
		s, err := NextCheck(bank, given, rules, rng)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	if s := next(CheckRules{Start: 0.8}); s.Question != 1 || s.Ability.Theta != 0.8 || !math.IsInf(s.Ability.SE, 1) {
		t.Errorf("first question: %+v", s)
	}
	if s := next(CheckRules{}, CheckAnswer{0, true}); s.Question != 1 || s.Ability.Theta <= 0 {
		t.Errorf("after a right answer a harder one: %+v", s)
	}
	if s := next(CheckRules{}, CheckAnswer{0, false}); s.Question != 2 {
		t.Errorf("after a wrong answer an easier one: %+v", s)
	}
	if s := next(CheckRules{}, CheckAnswer{0, true}, CheckAnswer{1, true}, CheckAnswer{2, true}); s.End != CheckExhausted || !finite(s.Ability.Theta) {
		t.Errorf("nothing left, all right: %+v", s)
	}
	if s := next(CheckRules{Most: 1}, CheckAnswer{0, true}); s.End != CheckLongEnough {
		t.Errorf("%+v", s)
	}
	if s := next(CheckRules{StopSE: 9, Least: 2}, CheckAnswer{0, true}); s.End != CheckContinues {
		t.Errorf("%+v", s)
	}
	if s := next(CheckRules{Shares: []float64{1, 3}}); s.Question != 1 {
		t.Errorf("three quarters of the questions belong to skill 1: %+v", s)
	}
	if s := next(CheckRules{Shares: []float64{1, 1}}, CheckAnswer{1, true}); s.Question != 0 {
		t.Errorf("skill 0 is behind: %+v", s)
	}
	if s := next(CheckRules{Shares: []float64{1, 0}}, CheckAnswer{0, true}); s.Question != 1 {
		t.Errorf("skill 0 has no question left: %+v", s)
	}
	bank[0].Shown, bank[1].Shown, bank[2].Shown = 5, 9, 7
	if s := next(CheckRules{Exposure: Exposure{Limit: 0.5, People: 14}}); s.Question != 0 || s.OverLimit {
		t.Errorf("two of three are over the limit: %+v", s)
	}
	if s := next(CheckRules{Exposure: Exposure{Limit: 0.5, People: 8}, Start: 1}); s.Question != 0 || !s.OverLimit {
		t.Errorf("the least shown: %+v", s)
	}

	if _, err := NextCheck(nil, nil, CheckRules{StopSE: 1}, rng); !errors.Is(err, ErrEmpty) {
		t.Errorf("empty bank: %v", err)
	}
	for name, c := range map[string]struct {
		given []CheckAnswer
		rules CheckRules
	}{
		"no stopping rule": {nil, CheckRules{}},
		"outside the bank": {[]CheckAnswer{{Question: 9}}, CheckRules{StopSE: 1}},
		"answered twice":   {[]CheckAnswer{{Question: 1}, {Question: 1}}, CheckRules{StopSE: 1}},
		"exposure":         {nil, CheckRules{StopSE: 1, Exposure: Exposure{Limit: -1}}},
	} {
		if _, err := NextCheck(bank, c.given, c.rules, rng); !errors.Is(err, ErrRange) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
