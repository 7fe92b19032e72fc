package psychometrics

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.6g, want %.6g ± %.2g", what, got, want, tolerance)
	}
}

// learner is a simulated person in one skill.
type learner struct {
	p     MasteryParameters
	known bool
	day   float64
	any   bool
}

func newLearner(p MasteryParameters, rng *rand.Rand) *learner {
	return &learner{p: p, known: rng.Float64() < p.Known}
}

// until lets the days up to the one given pass.
func (l *learner) until(day float64, rng *rand.Rand) {
	if l.any && l.known && rng.Float64() > l.p.retain(day-l.day) {
		l.known = false
	}
	l.day, l.any = day, true
}

// answer gives an answer on the day, followed by its explanation if taught.
func (l *learner) answer(day, difficulty float64, taught bool, rng *rand.Rand) SkillAnswer {
	l.until(day, rng)
	k, u := l.p.rightIf(difficulty)
	if !l.known {
		k = u
	}
	a := SkillAnswer{Right: rng.Float64() < k, Day: day, Difficulty: difficulty}
	if taught && !l.known && rng.Float64() < l.p.Learn {
		l.known = true
	}
	return a
}

// practise simulates people who each answer in sessions of 3 questions, a
// random 1 to 28 days apart.
func practise(p MasteryParameters, people, sessions int, spread float64, rng *rand.Rand) []SkillHistory {
	out := make([]SkillHistory, people)
	for i := range out {
		l, day := newLearner(p, rng), 0.0
		for range sessions {
			for range 3 {
				out[i] = append(out[i], l.answer(day, spread*rng.NormFloat64(), true, rng))
			}
			day += 1 + 27*rng.Float64()
		}
	}
	return out
}

func TestTraceWorkedByHand(t *testing.T) {
	// Corbett & Anderson (1995), eqs 1–3, worked by hand for
	// P(L0) = 0.4, P(T) = 0.3, P(G) = 0.2, P(S) = 0.1.
	p := MasteryParameters{Known: 0.4, Learn: 0.3, Guess: 0.2, Slip: 0.1}
	right := p.Trace(SkillHistory{{Right: true}})[0]
	near(t, "P(right)", right.Right, 0.4*0.9+0.6*0.2, 1e-12)
	near(t, "known after a right answer", right.After, 0.75+0.25*0.3, 1e-12)
	wrong := p.Trace(SkillHistory{{Right: false}})[0]
	near(t, "known after a wrong answer", wrong.After, 1.0/13+12.0/13*0.3, 1e-12)

	// Forgetting: with a half-life of 30 days half of it is left after 30 days.
	p.Forget = math.Ln2 / 30
	near(t, "half-life", p.HalfLife(), 30, 1e-9)
	near(t, "known a month later", p.KnownAt(SkillHistory{{Right: true, Day: 5}}, 35), right.After/2, 1e-12)
	near(t, "an earlier day counts as the last one", p.KnownAt(SkillHistory{{Right: true, Day: 5}}, 1), right.After, 1e-12)
	near(t, "without answers", p.KnownAt(nil, 400), 0.4, 0)
	if got := p.Trace(nil); len(got) != 0 {
		t.Errorf("no answers gave %v", got)
	}
	// One logit harder: logit P(right | known) falls from ln 9 to ln 9 − 1.
	k, u := p.rightIf(1)
	near(t, "right if known, one logit harder", k, Probability(math.Log(9), 1), 1e-12)
	near(t, "right if not known, one logit harder", u, Probability(math.Log(0.25), 1), 1e-12)
}

func TestImpossibleAnswerLeavesBelief(t *testing.T) {
	p := MasteryParameters{Known: 0, Learn: 0, Guess: 0, Slip: 0}
	for _, s := range p.Trace(SkillHistory{{Right: true}, {Right: false}}) {
		if math.IsNaN(s.After) || s.After != 0 {
			t.Errorf("step %+v", s)
		}
	}
}

// enumerate sums over every path of known and not known.
func enumerate(p MasteryParameters, h SkillHistory) float64 {
	n := len(h)
	total := 0.0
	for path := range 1 << (2*n - 1) { // state at answer i: bit 2i; after its explanation: bit 2i+1
		w := 1.0
		pick := func(prob float64, yes bool) {
			if !yes {
				prob = 1 - prob
			}
			w *= prob
		}
		bit := func(i int) bool { return path>>i&1 == 1 }
		pick(p.Known, bit(0))
		for i, a := range h {
			k, u := p.rightIf(a.Difficulty)
			if bit(2 * i) {
				pick(k, a.Right)
			} else {
				pick(u, a.Right)
			}
			if i == n-1 {
				break
			}
			if bit(2 * i) {
				pick(1, bit(2*i+1))
			} else {
				pick(p.Learn, bit(2*i+1))
			}
			if bit(2*i + 1) {
				pick(math.Exp(-p.Forget*(h[i+1].Day-a.Day)), bit(2*i+2))
			} else {
				pick(0, bit(2*i+2))
			}
		}
		total += w
	}
	return total
}

func TestLikelihoodEqualsSumOverAllPaths(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.Float64Range(0.02, 0.98)
		p := MasteryParameters{Known: unit.Draw(t, "known"), Learn: unit.Draw(t, "learn"),
			Guess: unit.Draw(t, "guess") / 2, Slip: unit.Draw(t, "slip") / 2, Forget: unit.Draw(t, "forget") / 10}
		h := make(SkillHistory, rapid.IntRange(1, 5).Draw(t, "answers"))
		for i := range h {
			h[i].Right = rapid.Bool().Draw(t, "right")
			h[i].Difficulty = rapid.Float64Range(-2, 2).Draw(t, "difficulty")
			if i > 0 {
				h[i].Day = h[i-1].Day + float64(rapid.IntRange(0, 40).Draw(t, "gap"))
			}
		}
		want := math.Log(enumerate(p, h))
		var tr tracer
		tr.prepare(p, h)
		got, counts := tr.expect(p.Known, p.Learn)
		if math.Abs(got-want) > 1e-9 {
			t.Fatalf("log-likelihood %v, all paths give %v", got, want)
		}
		if loss, n := LogLoss(p, []SkillHistory{h}); math.Abs(loss*float64(n)+want) > 1e-6 {
			t.Fatalf("log loss %v does not add up to the log-likelihood %v", loss, want)
		}
		// The derivative of the log-likelihood is that of its expectation given
		// the answers (Fisher's identity), which checks every count of the
		// E-step at once.
		slope := func(change func(p *MasteryParameters, x float64), at float64) float64 {
			const e = 1e-5
			up, down := p, p
			change(&up, at+e*at)
			change(&down, at-e*at)
			return (math.Log(enumerate(up, h)) - math.Log(enumerate(down, h))) / (2 * e * at)
		}
		g, r := answerScore(p, h, tr.gamma)
		for _, c := range []struct {
			name      string
			got, want float64
		}{
			{"Known", (counts.known - p.Known) / (p.Known * (1 - p.Known)), slope(func(p *MasteryParameters, x float64) { p.Known = x }, p.Known)},
			{"Learn", (counts.learned - counts.tries*p.Learn) / (p.Learn * (1 - p.Learn)), slope(func(p *MasteryParameters, x float64) { p.Learn = x }, p.Learn)},
			{"Guess", g / (p.Guess * (1 - p.Guess)), slope(func(p *MasteryParameters, x float64) { p.Guess = x }, p.Guess)},
			{"Slip", -r / (p.Slip * (1 - p.Slip)), slope(func(p *MasteryParameters, x float64) { p.Slip = x }, p.Slip)},
			{"Forget", counts.lost/p.Forget - counts.days, slope(func(p *MasteryParameters, x float64) { p.Forget = x }, p.Forget)},
		} {
			if math.Abs(c.got-c.want) > 1e-4*(1+math.Abs(c.want)) {
				t.Fatalf("derivative by %s: %v, numerically %v (%+v, %+v)", c.name, c.got, c.want, p, h)
			}
		}
	})
}

func TestTracingALongHistory(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 9))
	p := MasteryParameters{Known: 0.3, Learn: 0.1, Guess: 0.2, Slip: 0.1, Forget: 0.05}
	h := practise(p, 1, 1500, 1, rng)[0]
	var tr tracer
	tr.prepare(p, h)
	// The product of 4,500 chances is far below the smallest number.
	got, _ := tr.forward(p.Known, p.Learn)
	loss, n := LogLoss(p, []SkillHistory{h})
	near(t, "log-likelihood", got, -loss*float64(n), 1e-6*float64(n))

	// RightAt is the next step's prediction.
	next := append(h[:20:20], SkillAnswer{Day: h[19].Day + 9})
	near(t, "P(right) nine days later", p.RightAt(h[:20], h[19].Day+9), p.Trace(next)[20].Right, 1e-12)
}

func TestFitMasteryRecoversParameters(t *testing.T) {
	truth := MasteryParameters{Known: 0.3, Learn: 0.15, Guess: 0.2, Slip: 0.08, Forget: 0.02}
	for _, c := range []struct {
		name   string
		spread float64
	}{{"questions of one difficulty", 0}, {"difficulties spread by one logit", 1}} {
		t.Run(c.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(1, 2))
			fit, err := FitMastery(practise(truth, 400, 8, c.spread, rng), DefaultMasteryPrior())
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%d steps: %+v, SE %+v", fit.Iterations, fit.MasteryParameters, fit.SE)
			for _, q := range []struct {
				name          string
				got, want, se float64
			}{
				{"Known", fit.Known, truth.Known, fit.SE.Known}, {"Learn", fit.Learn, truth.Learn, fit.SE.Learn},
				{"Guess", fit.Guess, truth.Guess, fit.SE.Guess}, {"Slip", fit.Slip, truth.Slip, fit.SE.Slip},
				{"Forget", fit.Forget, truth.Forget, fit.SE.Forget},
			} {
				near(t, q.name, q.got, q.want, 3*q.se)
				if q.se <= 0 || q.se > 0.3*q.want {
					t.Errorf("standard error of %s is %v", q.name, q.se)
				}
			}
			// At the maximum no parameter can be moved for the better.
			set := newAnswerSet(practise(truth, 400, 8, c.spread, rand.New(rand.NewPCG(1, 2))))
			_, best := set.emStep(fit.MasteryParameters, DefaultMasteryPrior())
			for k := range 5 {
				for _, f := range []float64{0.98, 1.02} {
					p := fit.MasteryParameters
					*[]*float64{&p.Known, &p.Learn, &p.Guess, &p.Slip, &p.Forget}[k] *= f
					if _, v := set.emStep(p, DefaultMasteryPrior()); v > best {
						t.Errorf("parameter %d × %v raises the penalised log-likelihood from %v to %v", k, f, best, v)
					}
				}
			}
		})
	}
}

func TestFitMasteryOnPoorData(t *testing.T) {
	prior := DefaultMasteryPrior()
	all := func(right bool, people, answers int) []SkillHistory {
		out := make([]SkillHistory, people)
		for i := range out {
			for range answers {
				out[i] = append(out[i], SkillAnswer{Right: right})
			}
		}
		return out
	}
	for _, c := range []struct {
		name      string
		histories []SkillHistory
		check     func(t *testing.T, f MasteryFit)
	}{
		{"one answer", all(true, 1, 1), func(t *testing.T, f MasteryFit) {
			near(t, "Slip stays near its prior", f.Slip, 0.1, 0.02)
		}},
		{"all right", all(true, 20, 10), func(t *testing.T, f MasteryFit) {
			if f.Known < 0.8 || f.Known >= 1 {
				t.Errorf("Known = %v", f.Known)
			}
		}},
		{"all wrong", all(false, 20, 10), func(t *testing.T, f MasteryFit) {
			if f.Known > 0.2 || f.Known <= 0 || f.Learn > 0.05 {
				t.Errorf("Known = %v, Learn = %v", f.Known, f.Learn)
			}
		}},
		{"people without answers are skipped", append(all(true, 3, 4), nil, SkillHistory{}), func(t *testing.T, f MasteryFit) {
			if f.People != 3 || f.Answers != 12 {
				t.Errorf("%d people, %d answers", f.People, f.Answers)
			}
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, err := FitMastery(c.histories, prior)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "without gaps Forget stays at the prior", f.Forget, prior.Mode().Forget, 1e-6)
			if err := f.validate(); err != nil {
				t.Error(err)
			}
			for _, se := range []float64{f.SE.Known, f.SE.Learn, f.SE.Guess, f.SE.Slip, f.SE.Forget} {
				if !(se > 0) {
					t.Errorf("standard errors %+v", f.SE)
				}
			}
			c.check(t, f)
		})
	}
	if _, err := FitMastery([]SkillHistory{nil, {}}, prior); !errors.Is(err, ErrEmpty) {
		t.Errorf("no answers: %v", err)
	}
	for name, h := range map[string]SkillHistory{
		"days out of order": {{Day: 3}, {Day: 2}},
		"no day":            {{Day: math.NaN()}},
		"no difficulty":     {{Difficulty: math.Inf(1)}},
	} {
		var de *DataError
		if _, err := FitMastery([]SkillHistory{{{Right: true}}, h}, prior); !errors.As(err, &de) || de.Row != 2 {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := FitMastery(all(true, 2, 2), MasteryPrior{}); !errors.Is(err, ErrRange) {
		t.Errorf("empty prior: %v", err)
	}
}

func TestMovingAverage(t *testing.T) {
	h := SkillHistory{{Right: true}, {Right: false}, {Right: true}, {Right: true}}
	near(t, "window of 2", MovingAverage{Window: 2, Weight: 2, Base: 0.5}.RightAt(h, 0), 3.0/4, 1e-12)
	near(t, "all answers", MovingAverage{Weight: 2, Base: 0.5}.RightAt(h, 0), 4.0/6, 1e-12)
	near(t, "no answers", MovingAverage{Window: 3, Weight: 1, Base: 0.6}.RightAt(nil, 0), 0.6, 1e-12)
	if _, err := FitMovingAverage(nil); !errors.Is(err, ErrEmpty) {
		t.Errorf("no answers: %v", err)
	}
	if loss, n := LogLoss(MovingAverage{}, nil); !math.IsNaN(loss) || n != 0 {
		t.Errorf("no answers lose %v over %d", loss, n)
	}

	// The running counts of the fit equal predicting answer by answer.
	rng := rand.New(rand.NewPCG(3, 4))
	histories := practise(MasteryParameters{Known: 0.4, Learn: 0.1, Guess: 0.3, Slip: 0.1, Forget: 0.01}, 30, 5, 0, rng)
	best, err := FitMovingAverage(histories)
	if err != nil {
		t.Fatal(err)
	}
	least, _ := LogLoss(best, histories)
	for _, w := range averageWindows {
		for _, k := range averageWeights {
			if loss, _ := LogLoss(MovingAverage{Window: w, Weight: k, Base: best.Base}, histories); loss < least-1e-12 {
				t.Errorf("window %d, weight %v lose %v, the fit %v", w, k, loss, least)
			}
		}
	}
}

// The comparison that decides whether knowledge tracing is kept: where people
// learn and forget in jumps it wins on people it has not seen, where everybody
// simply has a level of their own that never changes it does not.
func TestSelectMasteryKeepsTracingOnlyWhereItWins(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	jumps := practise(MasteryParameters{Known: 0.3, Learn: 0.12, Guess: 0.2, Slip: 0.06, Forget: 0.02}, 150, 8, 0.5, rng)
	levels := make([]SkillHistory, 150)
	for i := range levels {
		share := 0.15 + 0.8*rng.Float64()
		for n := range 24 {
			levels[i] = append(levels[i], SkillAnswer{Right: rng.Float64() < share, Day: float64(7 * (n / 3))})
		}
	}
	for _, c := range []struct {
		name      string
		histories []SkillHistory
		want      MasteryMethod
	}{{"learning and forgetting in jumps", jumps, MethodTracing}, {"fixed levels", levels, MethodAverage}} {
		t.Run(c.name, func(t *testing.T) {
			s, err := SelectMastery(c.histories, DefaultMasteryPrior(), 5, rand.New(rand.NewPCG(7, 8)))
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("held-out log loss: tracing %.4f, moving average (window %d, weight %v) %.4f, gain %.4f ± %.4f",
				s.TracingLoss, s.Average.Window, s.Average.Weight, s.AverageLoss, s.Gain, s.SE)
			if s.Method != c.want {
				t.Errorf("chose %v", s.Method)
			}
			if want := fmt.Sprintf("%T", s.Forecaster()); (s.Method == MethodTracing) != (want == "psychometrics.MasteryParameters") {
				t.Errorf("forecaster is a %s for %v", want, s.Method)
			}
			if s.Method == MethodTracing && s.Gain < 2*s.SE {
				t.Errorf("gain %v with SE %v proves little", s.Gain, s.SE)
			}
		})
	}
}

func TestSelectMasteryOnPoorData(t *testing.T) {
	one := SkillHistory{{Right: true}, {Right: true}}
	rng := rand.New(rand.NewPCG(9, 9))
	few, err := SelectMastery([]SkillHistory{one, one, one}, DefaultMasteryPrior(), 5, rng)
	if err != nil || few.Method != MethodAverage || !math.IsNaN(few.Gain) || few.People != 3 {
		t.Errorf("three people: %+v, %v", few, err)
	}
	same := make([]SkillHistory, 12)
	for i := range same {
		same[i] = one
	}
	if s, err := SelectMastery(same, DefaultMasteryPrior(), 50, rng); err != nil || math.IsNaN(s.Gain) || s.Method != MethodAverage {
		t.Errorf("constant answers, more folds than people: %+v, %v", s, err)
	}
	if _, err := SelectMastery(nil, DefaultMasteryPrior(), 5, rng); !errors.Is(err, ErrEmpty) {
		t.Errorf("nobody: %v", err)
	}
	if _, err := SelectMastery(same, DefaultMasteryPrior(), 1, rng); !errors.Is(err, ErrRange) {
		t.Errorf("one fold: %v", err)
	}
}
