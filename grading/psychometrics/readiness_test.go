package psychometrics

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// workshop is a simulated service organisation: the generating model of the
// calibration tests, whose parameters the forecaster never sees.
type workshop struct {
	skills []SkillModel
	theta  []float64
	people []PersonRecord
	states [][]*learner
	rng    *rand.Rand
	rough  bool
}

// newWorkshop simulates technicians who practise six skills over 120 days. Some
// practise much and some hardly; abilities come from a check of 20 questions,
// whose difficulties are estimated from the answers. A rough workshop breaks the
// forecaster's assumptions: questions vary in difficulty unknown to it, everybody
// forgets at a rate of their own (log-normal, SD 0.5), and learns at one.
func newWorkshop(t *testing.T, people int, rough bool, seed uint64) *workshop {
	t.Helper()
	w := &workshop{rng: rand.New(rand.NewPCG(seed, 77)), rough: rough}
	rng := w.rng
	for k := range 6 {
		w.skills = append(w.skills, SkillModel{Method: MethodTracing,
			Start: -1 + 0.4*float64(k), StartSlope: 0.5 + 0.15*float64(k),
			Learn: -2.2 + 0.25*float64(k), LearnSlope: 0.4,
			Guess: 0.08 + 0.04*float64(k), Slip: 0.12 - 0.015*float64(k),
			Forget: 0.0008 * float64(1+k)})
	}
	check := New(people, 20)
	difficulty := make([]float64, 20)
	for i := range difficulty {
		difficulty[i] = rng.NormFloat64()
	}
	for j := range people {
		theta := rng.NormFloat64()
		w.theta = append(w.theta, theta)
		rec := PersonRecord{Histories: make([]SkillHistory, 6)}
		states := make([]*learner, 6)
		for k := range states {
			par := w.skills[k].at(theta)
			if rough {
				par.Forget *= math.Exp(0.5 * rng.NormFloat64())
				par.Learn = shiftLogit(par.Learn, 0.5*rng.NormFloat64())
			}
			states[k] = newLearner(par, rng)
		}
		zeal := rng.Float64() * 0.35
		for day := 0.0; day < 120; day++ {
			if rng.Float64() > zeal {
				continue
			}
			k := rng.IntN(6)
			for range 1 + rng.IntN(4) {
				rec.Histories[k] = append(rec.Histories[k], states[k].answer(day, w.unknown(), true, rng))
			}
		}
		for i, b := range difficulty {
			x := int8(0)
			if rng.Float64() < Probability(theta, b) {
				x = 1
			}
			check.Set(j, i, x)
		}
		w.people, w.states = append(w.people, rec), append(w.states, states)
	}
	c, err := Conditional(check)
	if err != nil {
		t.Fatal(err)
	}
	for j := range w.people {
		a, err := WLE(check.Row(j), c.Difficulty)
		if err != nil {
			t.Fatal(err)
		}
		w.people[j].Ability, w.people[j].AbilitySE = a.Theta, a.SE
	}
	return w
}

// unknown is a difficulty that the answer's record does not tell.
func (w *workshop) unknown() float64 {
	if w.rough {
		return 0.5 * w.rng.NormFloat64()
	}
	return 0
}

// outcome lets time pass to the requirement's day, asks the questions and says
// whether it is met. The person's state is left as it was, so that several
// requirements may be tried.
func (w *workshop) outcome(person int, r Requirement) bool {
	for _, line := range r.Skills {
		s := *w.states[person][line.Skill]
		right := 0
		for range line.Questions {
			if s.answer(r.Day, w.unknown(), false, w.rng).Right {
				right++
			}
		}
		if right < line.cut() {
			return false
		}
	}
	return true
}

// requirements of one to four skills, two weeks to three months ahead.
func courseRequirements() []Requirement {
	return []Requirement{
		{Day: 134, Skills: []RequiredSkill{{0, 0.7, 10}}},
		{Day: 134, Skills: []RequiredSkill{{4, 0.8, 5}, {5, 0.9, 10}}},
		{Day: 150, Skills: []RequiredSkill{{1, 0.6, 5}, {2, 0.6, 5}, {3, 0.6, 5}}},
		{Day: 165, Skills: []RequiredSkill{{5, 0.8, 10}}},
		{Day: 210, Skills: []RequiredSkill{{0, 0.4, 5}, {2, 0.6, 5}, {4, 0.6, 5}, {5, 0.6, 5}}},
	}
}

// The forecasts hold what they promise: technicians with five requirements
// each, outcomes drawn from a generating model. The forecaster sees the answers
// up to day 120 alone and estimates everything else. 500 technicians in one
// organisation; and as many forecasts from 20 small ones, each of which has
// only its own 26 people to learn from.
func TestReadinessIsCalibrated(t *testing.T) {
	for _, c := range []struct {
		name              string
		workshops, people int
		rough             bool
		limit             float64
	}{
		{"500 technicians, model as assumed", 1, 500, false, 0.05},
		{"500 technicians, rough workshop", 1, 500, true, 0.05},
		// With so few people the prior still shows: it expects skills to be
		// forgotten sooner than they are here, and forecasts come out low.
		{"20 workshops of 26 technicians", 20, 26, true, 0.06},
	} {
		t.Run(c.name, func(t *testing.T) {
			var predicted []float64
			var happened []bool
			for seed := range c.workshops {
				w := newWorkshop(t, c.people, c.rough, uint64(1+seed))
				m, err := FitReadiness(w.people, 6, nil, DefaultMasteryPrior())
				if err != nil {
					t.Fatal(err)
				}
				for j, p := range w.people {
					for _, r := range courseRequirements() {
						f, err := m.Forecast(p, r, ForecastOptions{})
						if err != nil {
							t.Fatal(err)
						}
						predicted = append(predicted, f.Probability)
						happened = append(happened, w.outcome(j, r))
					}
				}
			}
			check, err := CheckForecasts(predicted, happened, 10)
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("expected calibration error %.4f (chance alone %.4f), Brier %.4f, %d forecasts", check.Error, check.Floor, check.Brier, check.Count)
			filled := 0
			for _, b := range check.Bins {
				t.Logf("%.1f–%.1f: %4d forecasts, predicted %.3f, observed %.3f (%.3f–%.3f)", b.From, b.To, b.Count, b.Predicted, b.Observed, b.Low, b.High)
				if b.Count >= 30 {
					filled++
				}
			}
			if check.Error > c.limit {
				t.Errorf("expected calibration error %v", check.Error)
			}
			if filled < 10 {
				t.Errorf("only %d bins hold 30 forecasts or more, so the check says little", filled)
			}
			// A forecast that gives everybody the overall share is calibrated
			// too; ours must tell people apart.
			share := 0.0
			for _, h := range happened {
				if h {
					share += 1 / float64(len(happened))
				}
			}
			if useless := share * (1 - share); check.Brier > 0.8*useless {
				t.Errorf("Brier score %v against %v of the overall share", check.Brier, useless)
			}
		})
	}
}

// The interval means what its comment says: with ability and parameters known
// exactly, the chance would lie inside for about nine people in ten.
func TestReadinessInterval(t *testing.T) {
	w := newWorkshop(t, 200, false, 2)
	m, err := FitReadiness(w.people, 6, nil, DefaultMasteryPrior())
	if err != nil {
		t.Fatal(err)
	}
	exact := &ReadinessModel{AbilitySD: 1, Skills: w.skills}
	inside, n := 0, 0
	for j, p := range w.people {
		r := courseRequirements()[j%5]
		f, err := m.Forecast(p, r, ForecastOptions{Draws: 60, RNG: rand.New(rand.NewPCG(3, uint64(j)))})
		if err != nil {
			t.Fatal(err)
		}
		if !(0 <= f.Low && f.Low <= f.High && f.High <= 1) {
			t.Fatalf("%+v", f)
		}
		known := p
		known.Ability, known.AbilitySE = w.theta[j], 1e-4
		e, err := exact.Forecast(known, r, ForecastOptions{})
		if err != nil {
			t.Fatal(err)
		}
		n++
		if e.Probability >= f.Low-1e-3 && e.Probability <= f.High+1e-3 {
			inside++
		}
	}
	share := float64(inside) / float64(n)
	t.Logf("%.3f of the intervals hold the exact chance", share)
	if share < 0.83 || share > 0.97 {
		t.Errorf("%v of the 90 %% intervals hold the exact chance", share)
	}

	// The less there is to go by, the wider: an ability never checked, and
	// parameters from a tenth of the people.
	few, err := FitReadiness(w.people[:20], 6, nil, DefaultMasteryPrior())
	if err != nil {
		t.Fatal(err)
	}
	width := func(m *ReadinessModel, se float64) float64 {
		f, err := m.Forecast(PersonRecord{Ability: m.AbilityMean, AbilitySE: se, Histories: make([]SkillHistory, 6)},
			courseRequirements()[0], ForecastOptions{Draws: 200, RNG: rand.New(rand.NewPCG(4, 4))})
		if err != nil {
			t.Fatal(err)
		}
		return f.High - f.Low
	}
	if a, b, c := width(m, 0.2), width(m, 0), width(few, 0.2); !(a < b && a < c) {
		t.Errorf("width %.2f; %.2f without a checked ability; %.2f from few people", a, b, c)
	}
}

func TestForecastOfOneSkillByHand(t *testing.T) {
	// Slopes of 0 take ability out: P = κ Pass(1 − s) + (1 − κ) Pass(g).
	s := SkillModel{Method: MethodTracing, Start: logitOf(0.4), Learn: logitOf(0.3), Guess: 0.2, Slip: 0.1, Forget: math.Ln2 / 30}
	m := &ReadinessModel{AbilitySD: 1, Skills: []SkillModel{s}}
	p := PersonRecord{Histories: []SkillHistory{{{Right: true, Day: 5}}}}
	f, err := m.Forecast(p, Requirement{Day: 35, Skills: []RequiredSkill{{0, 1, 2}}}, ForecastOptions{})
	if err != nil {
		t.Fatal(err)
	}
	known := (0.75 + 0.25*0.3) / 2
	near(t, "chance", f.Probability, known*0.81+(1-known)*0.04, 1e-9)
	near(t, "known on the day", f.Skills[0].Known, known, 1e-9)
	near(t, "known now", f.Skills[0].Now, 2*known, 1e-9)
	if f.Enough || f.Skills[0].Answers != 1 || !math.IsNaN(f.Low) {
		t.Errorf("%+v", f)
	}
	// Without questions it is the level itself that counts.
	f, _ = m.Forecast(p, Requirement{Day: 35, Skills: []RequiredSkill{{0, 0.8, 0}}}, ForecastOptions{})
	near(t, "chance of the level", f.Probability, known, 1e-9)
	// A moving average: Beta(1 + 1, 1 + 0) share, P(2 of 2) = 2·3/(3·4).
	m.Skills[0] = SkillModel{Method: MethodAverage, Average: MovingAverage{Weight: 2, Base: 0.5}}
	f, _ = m.Forecast(p, Requirement{Day: 35, Skills: []RequiredSkill{{0, 1, 2}}}, ForecastOptions{Draws: 400, RNG: rand.New(rand.NewPCG(1, 1))})
	near(t, "beta-binomial chance", f.Probability, 0.5, 1e-9)
	// The share of two right answers is p², p ~ Beta(2, 1): quantiles are those of p² ~ U(0, 1).
	near(t, "5 %", f.Low, 0.05, 0.03)
	near(t, "95 %", f.High, 0.95, 0.03)
	f, _ = m.Forecast(p, Requirement{Day: 35, Skills: []RequiredSkill{{0, 0.5, 0}}}, ForecastOptions{})
	near(t, "P(share ≥ 1/2)", f.Probability, 0.75, 1e-9)
}

func TestBinomialTail(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 30).Draw(t, "questions")
		line := RequiredSkill{Level: rapid.Float64Range(0.01, 1).Draw(t, "level"), Questions: n}
		p := rapid.Float64Range(0, 1).Draw(t, "p")
		want := 0.0
		for k := line.cut(); k <= n; k++ {
			c := 1.0
			for i := range k {
				c *= float64(n-i) / float64(i+1)
			}
			want += c * math.Pow(p, float64(k)) * math.Pow(1-p, float64(n-k))
		}
		if got := line.passes(p); math.Abs(got-want) > 1e-9 {
			t.Fatalf("%v, summed %v", got, want)
		}
	})
}

// A technician's other skills and checks say something of a skill never tried.
func TestAbilityInformsSkillsNeverPractised(t *testing.T) {
	w := newWorkshop(t, 300, false, 4)
	m, err := FitReadiness(w.people, 6, nil, DefaultMasteryPrior())
	if err != nil {
		t.Fatal(err)
	}
	r := Requirement{Day: 10, Skills: []RequiredSkill{{3, 0.7, 10}}}
	at := func(ability, se float64) Readiness {
		f, err := m.Forecast(PersonRecord{Ability: ability, AbilitySE: se, Histories: make([]SkillHistory, 6)}, r, ForecastOptions{})
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	low, unknown, high := at(-1.5, 0.3).Probability, at(0, 0).Probability, at(1.5, 0.3).Probability
	if !(low+0.1 < unknown && unknown+0.1 < high) {
		t.Errorf("low ability %.2f, unknown %.2f, high %.2f", low, unknown, high)
	}
	near(t, "infinite SE is an unknown ability", at(2, math.Inf(1)).Probability, unknown, 1e-12)
	if at(1.5, 0.3).Enough {
		t.Error("no answer of one's own is not enough")
	}
}

func TestMinSkillAnswers(t *testing.T) {
	p := DefaultMasteryPrior().Mode()
	p.Known, p.Learn, p.Forget = 0.5, 0, 0
	// settled gives, for people who know and who do not, the share about whom n
	// answers leave P(known) at 0.9 or more, or 0.1 or less, on the right side.
	settled := func(n int) (know, not float64) {
		for pattern := range 1 << n {
			h := make(SkillHistory, n)
			pk, pu := 1.0, 1.0
			for i := range h {
				h[i].Right = pattern>>i&1 == 1
				k, u := p.rightIf(0)
				if !h[i].Right {
					k, u = 1-k, 1-u
				}
				pk *= k
				pu *= u
			}
			switch known := p.KnownAt(h, 0); {
			case known >= 0.9:
				know += pk
			case known <= 0.1:
				not += pu
			}
		}
		return know, not
	}
	if k, u := settled(MinSkillAnswers); k < 0.89 || u < 0.89 {
		t.Errorf("%d answers settle %v of those who know and %v of the others", MinSkillAnswers, k, u)
	}
	if k, _ := settled(MinSkillAnswers - 1); k > 0.67 {
		t.Errorf("%d answers would settle %v", MinSkillAnswers-1, k)
	}
}

func planModel() *ReadinessModel {
	skill := func(start, learn, guess, slip, forget float64) SkillModel {
		return SkillModel{Method: MethodTracing, Start: logitOf(start), Learn: logitOf(learn), Guess: guess, Slip: slip, Forget: forget}
	}
	return &ReadinessModel{AbilitySD: 1, Skills: []SkillModel{
		skill(0.2, 0.2, 0.2, 0.05, 0.005), skill(0.5, 0.1, 0.25, 0.08, 0.002),
		skill(0.9, 0.3, 0.1, 0.05, 0.001), skill(0.4, 0.25, 0.2, 0.1, 0.01),
	}}
}

func TestPlanIsTheShortest(t *testing.T) {
	m := planModel()
	rapid.Check(t, func(t *rapid.T) {
		p := PersonRecord{Histories: make([]SkillHistory, 4)}
		for k := range p.Histories {
			for range rapid.IntRange(0, 4).Draw(t, "answers") {
				p.Histories[k] = append(p.Histories[k], SkillAnswer{Right: rapid.Bool().Draw(t, "right")})
			}
		}
		r := Requirement{Day: 20, Skills: []RequiredSkill{{0, 0.6, 5}, {1, 0.6, 5}, {3, 0.6, 5}}}
		target := rapid.Float64Range(0.2, 0.75).Draw(t, "target")
		plan, err := m.Plan(p, r, PlanOptions{Target: target, Day: 10})
		if err != nil {
			t.Fatal(err)
		}
		if !plan.Reached {
			if plan.Ceiling >= target {
				t.Fatalf("gave up below the ceiling: %+v", plan)
			}
			return
		}
		// Practising as planned and forecasting anew must give After, and no
		// plan with a question less may do.
		chance := func(n [3]int) float64 {
			c := 1.0
			for i, line := range r.Skills {
				s := m.Skills[line.Skill]
				par := s.at(0)
				known := par.KnownAt(p.Histories[line.Skill], 10)
				known = 1 - (1-known)*math.Pow(1-par.Learn, float64(n[i]))
				known *= par.retain(10)
				c *= known*line.passes(1-s.Slip) + (1-known)*line.passes(s.Guess)
			}
			return c
		}
		var n [3]int
		for _, s := range plan.Skills {
			n[slices.IndexFunc(r.Skills, func(l RequiredSkill) bool { return l.Skill == s.Skill })] = s.Questions
		}
		if got := chance(n); math.Abs(got-plan.After) > 1e-9 || got < target {
			t.Fatalf("plan %+v gives %v", plan, got)
		}
		for a := 0; a < plan.Questions; a++ {
			for b := 0; a+b < plan.Questions; b++ {
				if c := chance([3]int{a, b, plan.Questions - 1 - a - b}); c >= target {
					t.Fatalf("%d, %d, %d questions give %v, the plan takes %d", a, b, plan.Questions-1-a-b, c, plan.Questions)
				}
			}
		}
	})
}

// People who follow their plan reach the requirement as often as it says.
func TestPlanKeepsItsPromise(t *testing.T) {
	w := newWorkshop(t, 400, false, 5)
	m, err := FitReadiness(w.people, 6, nil, DefaultMasteryPrior())
	if err != nil {
		t.Fatal(err)
	}
	r := Requirement{Day: 135, Skills: []RequiredSkill{{0, 0.6, 5}, {2, 0.6, 5}, {4, 0.6, 5}}}
	promised, passed, without, questions := 0.0, 0.0, 0.0, 0
	for j, p := range w.people {
		plan, err := m.Plan(p, r, PlanOptions{Target: 0.7, Day: 130})
		if err != nil {
			t.Fatal(err)
		}
		promised += plan.After / 400
		questions += plan.Questions
		if w.outcome(j, r) {
			without += 1.0 / 400
		}
		for _, s := range plan.Skills {
			for range s.Questions {
				w.states[j][s.Skill].answer(130, 0, true, w.rng)
			}
		}
		if w.outcome(j, r) {
			passed += 1.0 / 400
		}
	}
	t.Logf("promised %.3f, passed %.3f, without practice %.3f, %.1f questions each", promised, passed, without, float64(questions)/400)
	near(t, "share that passed", passed, promised, 0.05)
	if passed < without+0.15 {
		t.Errorf("practice took %v to %v", without, passed)
	}
}

func TestPlanAtTheEdges(t *testing.T) {
	m := planModel()
	p := PersonRecord{Histories: make([]SkillHistory, 4)}
	easy := Requirement{Day: 5, Skills: []RequiredSkill{{2, 0.6, 5}}}
	plan, err := m.Plan(p, easy, PlanOptions{Target: 0.5, Day: 0})
	if err != nil || len(plan.Skills) != 0 || !plan.Reached || plan.Before != plan.After {
		t.Errorf("nothing to do: %+v, %v", plan, err)
	}
	far := Requirement{Day: 400, Skills: []RequiredSkill{{3, 0.9, 10}}}
	plan, err = m.Plan(p, far, PlanOptions{Target: 0.9, Day: 0, Draws: 20, RNG: rand.New(rand.NewPCG(1, 2))})
	if err != nil || plan.Reached || plan.Questions == 0 || plan.After > plan.Ceiling || plan.Ceiling > 0.9 {
		t.Errorf("out of reach: %+v, %v", plan, err)
	}
	plan, err = m.Plan(p, far, PlanOptions{Target: 0.6, Day: 399})
	if err != nil || !plan.Reached {
		t.Errorf("in reach if practised late: %+v, %v", plan, err)
	}
	m.Skills[0] = SkillModel{Method: MethodAverage, Average: MovingAverage{Weight: 2, Base: 0.5}}
	plan, err = m.Plan(p, Requirement{Day: 5, Skills: []RequiredSkill{{0, 0.9, 10}}}, PlanOptions{Target: 0.9, Day: 0})
	if err != nil || plan.Reached || len(plan.Skills) != 0 || !slices.Equal(plan.Untraced, []int{0}) {
		t.Errorf("no learning rate, no plan: %+v, %v", plan, err)
	}
	for name, o := range map[string]PlanOptions{"no target": {}, "certain": {Target: 1}, "too late": {Target: 0.8, Day: 6}, "no rng": {Target: 0.8, Draws: 3}} {
		if _, err := m.Plan(p, easy, o); !errors.Is(err, ErrRange) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestReadinessOnPoorData(t *testing.T) {
	prior := DefaultMasteryPrior()
	if _, err := FitReadiness(nil, 3, nil, prior); !errors.Is(err, ErrEmpty) {
		t.Errorf("nobody: %v", err)
	}
	if _, err := FitReadiness(make([]PersonRecord, 2), 1, nil, prior); !errors.Is(err, ErrShape) {
		t.Errorf("histories missing: %v", err)
	}
	if _, err := FitReadiness([]PersonRecord{{Histories: make([]SkillHistory, 2)}}, 2, make([]MasteryMethod, 3), prior); !errors.Is(err, ErrShape) {
		t.Errorf("methods: %v", err)
	}
	var de *DataError
	if _, err := FitReadiness([]PersonRecord{{Histories: []SkillHistory{{{Day: 2}, {Day: 1}}}}}, 1, nil, prior); !errors.As(err, &de) || de.Row != 1 {
		t.Errorf("days out of order: %v", err)
	}

	// Twelve people, one skill never practised, one all right, one all wrong.
	people := make([]PersonRecord, 12)
	for j := range people {
		people[j].Histories = make([]SkillHistory, 3)
		for range 6 {
			people[j].Histories[1] = append(people[j].Histories[1], SkillAnswer{Right: true})
			people[j].Histories[2] = append(people[j].Histories[2], SkillAnswer{})
		}
	}
	for name, methods := range map[string][]MasteryMethod{"traced": nil, "averaged": {MethodAverage, MethodAverage, MethodAverage}} {
		m, err := FitReadiness(people, 3, methods, prior)
		if err != nil {
			t.Fatal(err)
		}
		var chance [3]float64
		for k := range chance {
			f, err := m.Forecast(people[0], Requirement{Day: 9, Skills: []RequiredSkill{{k, 0.7, 10}}}, ForecastOptions{Draws: 50, RNG: rand.New(rand.NewPCG(8, 8))})
			if err != nil {
				t.Fatal(err)
			}
			if !(f.Low >= 0 && f.Low < f.High && f.High <= 1) {
				t.Errorf("%s skill %d: %+v", name, k, f)
			}
			chance[k] = f.Probability
		}
		if !(chance[2] < 0.15 && chance[2] < chance[0] && chance[0] < chance[1] && chance[1] > 0.7) {
			t.Errorf("%s: never practised %.2f, all right %.2f, all wrong %.2f", name, chance[0], chance[1], chance[2])
		}
	}

	m := planModel()
	p := PersonRecord{Histories: make([]SkillHistory, 4)}
	ok := []RequiredSkill{{0, 0.8, 5}}
	for name, c := range map[string]struct {
		p    PersonRecord
		r    Requirement
		o    ForecastOptions
		want error
	}{
		"no skill":             {p, Requirement{}, ForecastOptions{}, ErrEmpty},
		"unknown skill":        {p, Requirement{Skills: []RequiredSkill{{9, 0.8, 5}}}, ForecastOptions{}, ErrRange},
		"level of 80":          {p, Requirement{Skills: []RequiredSkill{{0, 80, 5}}}, ForecastOptions{}, ErrRange},
		"twice the same skill": {p, Requirement{Skills: []RequiredSkill{{0, 0.8, 5}, {0, 0.8, 5}}}, ForecastOptions{}, ErrRange},
		"no date":              {p, Requirement{Skills: ok, Day: math.NaN()}, ForecastOptions{}, ErrRange},
		"histories missing":    {PersonRecord{}, Requirement{Skills: ok}, ForecastOptions{}, ErrShape},
		"draws without rng":    {p, Requirement{Skills: ok}, ForecastOptions{Draws: 5}, ErrRange},
	} {
		if _, err := m.Forecast(c.p, c.r, c.o); !errors.Is(err, c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// A model that somebody has written by hand may call an answer impossible.
func TestForecastSurvivesImpossibleAnswers(t *testing.T) {
	m := &ReadinessModel{AbilitySD: 1, Skills: []SkillModel{{Method: MethodTracing, Start: math.Inf(1), Learn: math.Inf(-1)}}}
	p := PersonRecord{Histories: []SkillHistory{{{Right: false}, {Right: true, Difficulty: 1e6}}}}
	f, err := m.Forecast(p, Requirement{Skills: []RequiredSkill{{0, 0.8, 5}}}, ForecastOptions{})
	if err != nil || !(f.Probability >= 0 && f.Probability <= 1) {
		t.Errorf("%+v, %v", f, err)
	}
}

func TestCheckForecasts(t *testing.T) {
	c, err := CheckForecasts([]float64{0.1, 0.1, 0.9, 0.9, 1, 0}, []bool{false, true, true, true, true, false}, 2)
	if err != nil {
		t.Fatal(err)
	}
	// Bins: {0.1, 0.1, 0} came true 1 of 3, {0.9, 0.9, 1} 3 of 3.
	near(t, "error", c.Error, 0.5*math.Abs(1.0/3-0.2/3)+0.5*math.Abs(1-2.8/3), 1e-12)
	near(t, "Brier", c.Brier, (0.01+0.81+0.01+0.01)/6, 1e-12)
	near(t, "floor", c.Floor, 2*math.Sqrt(2/math.Pi*0.18)/6, 1e-12)
	if c, _ := CheckForecasts([]float64{0.5}, []bool{true}, 10); c.Bins[0].Count != 0 || !math.IsNaN(c.Bins[0].Observed) || c.Bins[5].Count != 1 {
		t.Errorf("%+v", c)
	}
	if _, err := CheckForecasts(nil, nil, 10); !errors.Is(err, ErrEmpty) {
		t.Error(err)
	}
	if _, err := CheckForecasts([]float64{1}, nil, 10); !errors.Is(err, ErrShape) {
		t.Error(err)
	}
	if _, err := CheckForecasts([]float64{1.2}, []bool{true}, 10); !errors.Is(err, ErrRange) {
		t.Error(err)
	}
	if _, err := CheckForecasts([]float64{1}, []bool{true}, 0); !errors.Is(err, ErrRange) {
		t.Error(err)
	}
}

// Wilson's interval against R 4.2.2: prop.test(right, n, correct = FALSE).
func TestWilsonInterval(t *testing.T) {
	for _, c := range []struct {
		right, n  int
		low, high float64
	}{{17, 20, 0.63958114, 0.94763125}, {0, 5, 0, 0.43448246}, {5, 5, 0.56551754, 1}, {1, 3, 0.061491945, 0.792340399}} {
		low, high := WilsonInterval(c.right, c.n)
		near(t, "low", low, c.low, 1e-8)
		near(t, "high", high, c.high, 1e-8)
	}
	if low, high := WilsonInterval(0, 0); low != 0 || high != 1 {
		t.Errorf("no answers: %v–%v", low, high)
	}
}
