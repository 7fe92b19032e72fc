package psychometrics

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mat"
)

// PersonRecord is all that readiness is forecast from for one person.
type PersonRecord struct {
	// Ability is the person's Rasch ability in logits with its standard error,
	// from checks rather than practice. AbilitySE of 0, NaN or +Inf means that
	// the person took none.
	Ability, AbilitySE float64
	// Histories holds one history per skill, in the order of the model's
	// skills; a skill never practised has an empty one.
	Histories []SkillHistory
}

func (r PersonRecord) knowsAbility() bool {
	return r.AbilitySE > 0 && !math.IsInf(r.AbilitySE, 1) && !math.IsNaN(r.Ability)
}

// SkillModel is what a [ReadinessModel] holds of one skill. With
// [MethodTracing] the chance to know the skill before the first answer and the
// chance to learn it from one explanation rise with ability θ:
//
//	logit Known(θ) = Start + StartSlope · (θ − mean ability)
//	logit Learn(θ) = Learn + LearnSlope · (θ − mean ability)
//
// as do the individualised variants of knowledge tracing (Yudelson, Koedinger &
// Gordon 2013, AIED, LNCS 7926); the other three are as in
// [MasteryParameters]. With [MethodAverage] only Average counts.
type SkillModel struct {
	Method                               MasteryMethod
	Start, StartSlope, Learn, LearnSlope float64
	Guess, Slip, Forget                  float64
	// Covariance is that of Start, StartSlope, Learn, LearnSlope, logit Guess,
	// logit (1 − Slip), ln Forget.
	Covariance [7][7]float64
	Average    MovingAverage
	// People and Answers are what the skill was fitted to.
	People, Answers int
}

// at gives the five parameters for a person x logits above the mean ability.
func (s *SkillModel) at(x float64) MasteryParameters {
	return MasteryParameters{
		Known: Probability(s.Start+s.StartSlope*x, 0), Learn: Probability(s.Learn+s.LearnSlope*x, 0),
		Guess: s.Guess, Slip: s.Slip, Forget: s.Forget,
	}
}

// ReadinessModel is the result of [FitReadiness]; it is plain data and may be
// kept until the next night's fit. Safe for concurrent use.
type ReadinessModel struct {
	AbilityMean, AbilitySD float64
	Skills                 []SkillModel
	// LogLikelihood is that of the answers to the traced skills.
	LogLikelihood float64
	Iterations    int
}

// The number of points over which ability is integrated: few in the fit, where
// every answer is visited at each, more in a forecast.
const (
	fitNodes      = 7
	forecastNodes = 15
)

// slopePrior is the standard deviation of the normal priors of the slopes on
// ability, in logits per logit; it keeps them near 0 while few people have been
// seen.
const slopePrior = 0.7

// FitReadiness fits all skills together, so that a person's ability, known from
// checks or only felt through the other skills, informs each of them. methods
// says how each skill is tracked, as [SelectMastery] found; nil traces all.
//
// Ability is normal among people with mean and SD taken from the estimates
// (variance less the mean squared standard error; SD 1 counts as 4 people), and
// each person's own estimate, where there is one, narrows it. Given ability the
// skills are independent. EM: the E-step integrates over ability by
// Gauss–Hermite quadrature (7 points placed for each person) and runs
// forward–backward in each skill at each point; the M-step is a logistic
// regression on ability for Start and Learn, and as in [FitMastery] for the
// rest. The covariance per skill is the inverse of the summed outer products of
// the people's scores plus the prior's curvature.
//
// Everybody's list of histories must be as long as the number of skills. A skill
// without answers keeps the prior, with the prior's wide covariance. No skills
// or people: [ErrEmpty]. Constant answers are held off the edge by the prior.
func FitReadiness(people []PersonRecord, skills int, methods []MasteryMethod, prior MasteryPrior) (*ReadinessModel, error) {
	if len(people) == 0 || skills == 0 {
		return nil, fmt.Errorf("readiness of %d people in %d skills: %w", len(people), skills, ErrEmpty)
	}
	if methods != nil && len(methods) != skills {
		return nil, fmt.Errorf("%d methods for %d skills: %w", len(methods), skills, ErrShape)
	}
	if err := prior.validate(); err != nil {
		return nil, err
	}
	m := &ReadinessModel{Skills: make([]SkillModel, skills)}
	perSkill := make([][]SkillHistory, skills)
	for j, p := range people {
		if len(p.Histories) != skills {
			return nil, &DataError{Row: j + 1, Err: ErrShape,
				Problem: fmt.Sprintf("has %d histories for %d skills", len(p.Histories), skills),
				Mend:    "give one history per skill, empty where the skill was never practised"}
		}
		for k, h := range p.Histories {
			if err := h.check(j + 1); err != nil {
				return nil, fmt.Errorf("skill %d: %w", k+1, err)
			}
			perSkill[k] = append(perSkill[k], h)
		}
	}
	m.fitAbility(people)

	sets := make([]*skillSet, skills)
	for k := range m.Skills {
		s := &m.Skills[k]
		s.Method = MethodTracing
		if methods != nil {
			s.Method = methods[k]
		}
		set := newAnswerSet(perSkill[k])
		s.People, s.Answers = set.people, set.answers
		start := prior.Mode()
		if set.answers > 0 {
			var err error
			if s.Average, err = FitMovingAverage(perSkill[k]); err != nil {
				return nil, fmt.Errorf("skill %d: %w", k+1, err)
			}
			// Each skill alone is a good place to start from.
			fit, err := FitMastery(perSkill[k], prior)
			if err != nil {
				return nil, fmt.Errorf("skill %d: %w", k+1, err)
			}
			start = fit.MasteryParameters
		} else {
			s.Average = MovingAverage{Weight: 2, Base: start.Known*(1-start.Slip) + (1-start.Known)*start.Guess}
		}
		s.Start, s.StartSlope = logitOf(start.Known), 0.5
		s.Learn, s.LearnSlope = logitOf(start.Learn), 0
		s.Guess, s.Slip, s.Forget = start.Guess, start.Slip, start.Forget
		sets[k] = &skillSet{answerSet: set}
	}

	last := math.Inf(-1)
	for m.Iterations = 1; ; m.Iterations++ {
		value := m.emStep(people, sets, prior)
		// An expected log score that moves by less than a thousandth of a unit
		// in one step is far below the standard errors.
		if math.Abs(value-last) < 1e-3 {
			break
		}
		if m.Iterations == 2000 {
			return nil, fmt.Errorf("readiness model after %d steps: %w", m.Iterations, ErrNotConverged)
		}
		last = value
	}
	for k := range m.Skills {
		m.Skills[k].setCovariance(sets[k], prior)
	}
	return m, nil
}

func logitOf(p float64) float64 { return math.Log(p) - math.Log1p(-p) }

// fitAbility sets mean and SD of ability among people.
func (m *ReadinessModel) fitAbility(people []PersonRecord) {
	n, sum := 0.0, 0.0
	for _, p := range people {
		if p.knowsAbility() {
			n++
			sum += p.Ability
		}
	}
	if n == 0 {
		m.AbilitySD = 1
		return
	}
	m.AbilityMean = sum / n
	ss := 0.0
	for _, p := range people {
		if p.knowsAbility() {
			d := p.Ability - m.AbilityMean
			ss += d*d - p.AbilitySE*p.AbilitySE
		}
	}
	m.AbilitySD = math.Sqrt(max((ss+4)/(n+4), 0.01))
}

// abilityNodes fills x (logits from the mean) and w for one person.
func (m *ReadinessModel) abilityNodes(p PersonRecord, x, w []float64) {
	mean, precision := 0.0, 1/(m.AbilitySD*m.AbilitySD)
	if p.knowsAbility() {
		own := 1 / (p.AbilitySE * p.AbilitySE)
		mean = own * (p.Ability - m.AbilityMean) / (precision + own)
		precision += own
	}
	scale := math.Sqrt(2 / precision)
	// gonum has the points for ∫ f(x) exp(−x²) dx.
	quad.Hermite{}.FixedLocations(x, w, math.Inf(-1), math.Inf(1))
	for q := range x {
		w[q] /= math.Sqrt(math.Pi)
		x[q] = mean + scale*x[q]
	}
}

// skillSet is the memory of the E-step for one skill.
type skillSet struct {
	*answerSet
	// One entry per person and node: place, weight, expected counts.
	x, w, known, learned, tries []float64
	lost, days                  float64
	// scores of each person, for the covariance.
	scores [][7]float64
	// per node, reused
	gamma  [fitNodes][]float64
	ll     [fitNodes]float64
	counts [fitNodes]masteryCounts
}

// emStep improves the model in place and returns the penalised log-likelihood
// that it had before.
func (m *ReadinessModel) emStep(people []PersonRecord, sets []*skillSet, prior MasteryPrior) (value float64) {
	at := make([]int, len(sets))
	for k, s := range sets {
		s.x, s.w, s.known, s.learned, s.tries = s.x[:0], s.w[:0], s.known[:0], s.learned[:0], s.tries[:0]
		s.lost, s.days = 0, 0
		s.scores = s.scores[:0]
		value += m.Skills[k].logPrior(prior)
	}
	x, base := make([]float64, fitNodes), make([]float64, fitNodes)
	m.LogLikelihood = 0
	for _, p := range people {
		m.abilityNodes(p, x, base)
		var logWeight [fitNodes]float64
		for q := range logWeight {
			logWeight[q] = math.Log(base[q])
		}
		for k, s := range sets {
			h := p.Histories[k]
			if len(h) == 0 || m.Skills[k].Method != MethodTracing {
				continue
			}
			s.trace.prepare(m.Skills[k].at(0), h)
			for q := range x {
				par := m.Skills[k].at(x[q])
				s.ll[q], s.counts[q] = s.trace.expect(par.Known, par.Learn)
				s.gamma[q] = append(s.gamma[q][:0], s.trace.gamma...)
				logWeight[q] += s.ll[q]
			}
		}
		weights, ll := normalise(logWeight[:])
		m.LogLikelihood += ll
		for k, s := range sets {
			h := p.Histories[k]
			if len(h) == 0 || m.Skills[k].Method != MethodTracing {
				continue
			}
			mean := s.weight[at[k] : at[k]+len(h)]
			clear(mean)
			var score [7]float64
			var lost, days float64
			for q, w := range weights {
				c := &s.counts[q]
				s.x, s.w = append(s.x, x[q]), append(s.w, w)
				s.known, s.learned, s.tries = append(s.known, c.known), append(s.learned, c.learned), append(s.tries, c.tries)
				par := m.Skills[k].at(x[q])
				a, b := w*(c.known-par.Known), w*(c.learned-c.tries*par.Learn)
				score[0] += a
				score[1] += a * x[q]
				score[2] += b
				score[3] += b * x[q]
				lost += w * c.lost
				days += w * c.days
				for i, g := range s.gamma[q] {
					mean[i] += w * g
				}
			}
			at[k] += len(h)
			s.lost += lost
			s.days += days
			score[4], score[5] = answerScore(m.Skills[k].at(0), h, mean)
			score[6] = lost - m.Skills[k].Forget*days
			s.scores = append(s.scores, score)
		}
	}
	value += m.LogLikelihood
	for k, s := range sets {
		if m.Skills[k].Method == MethodTracing && s.answers > 0 {
			m.Skills[k].improve(s, prior)
		}
	}
	return value
}

// normalise turns log weights into weights that sum to 1, and gives the log of
// their sum.
func normalise(logWeight []float64) (weights []float64, logSum float64) {
	top := math.Inf(-1)
	for _, l := range logWeight {
		top = max(top, l)
	}
	sum := 0.0
	for q, l := range logWeight {
		logWeight[q] = math.Exp(l - top)
		sum += logWeight[q]
	}
	for q := range logWeight {
		logWeight[q] /= sum
	}
	return logWeight, top + math.Log(sum)
}

func (s *SkillModel) logPrior(prior MasteryPrior) float64 {
	return logPrior(s.at(0), prior) - (s.StartSlope*s.StartSlope+s.LearnSlope*s.LearnSlope)/(2*slopePrior*slopePrior)
}

// improve is the M-step of one skill.
func (s *SkillModel) improve(set *skillSet, prior MasteryPrior) {
	one := func(int) float64 { return 1 }
	s.Start, s.StartSlope = abilityRegression(s.Start, s.StartSlope, set, prior.Known, one,
		func(i int) float64 { return set.known[i] })
	s.Learn, s.LearnSlope = abilityRegression(s.Learn, s.LearnSlope, set, prior.Learn,
		func(i int) float64 { return set.tries[i] }, func(i int) float64 { return set.learned[i] })
	s.Guess = min(set.rightShare(s.Guess, false, prior.Guess), guessSlipBound)
	s.Slip = min(1-set.rightShare(1-s.Slip, true, PseudoCounts{prior.Slip.No, prior.Slip.Yes}), guessSlipBound)
	s.Forget = (set.lost + prior.Forget.Losses) / (set.days + prior.Forget.Days)
}

// abilityRegression maximises the logistic regression of expected successes on
// ability by Newton's method, from the current intercept and slope. The prior
// counts sit at the mean ability.
func abilityRegression(intercept, slope float64, set *skillSet, prior PseudoCounts, trials, successes func(int) float64) (float64, float64) {
	for range 4 {
		p := Probability(intercept, 0)
		n := prior.Yes + prior.No
		g0, g1 := prior.Yes-n*p, -slope/(slopePrior*slopePrior)
		h00, h01, h11 := n*p*(1-p), 0.0, 1/(slopePrior*slopePrior)
		for i, x := range set.x {
			w := set.w[i]
			n := w * trials(i)
			p := Probability(intercept+slope*x, 0)
			r := w*successes(i) - n*p
			v := n * p * (1 - p)
			g0 += r
			g1 += r * x
			h00 += v
			h01 += v * x
			h11 += v * x * x
		}
		det := h00*h11 - h01*h01
		d0, d1 := (h11*g0-h01*g1)/det, (h00*g1-h01*g0)/det
		// A long step on a flat stretch could overshoot.
		if size := math.Hypot(d0, d1); size > 1 {
			d0, d1 = d0/size, d1/size
		}
		intercept += d0
		slope += d1
		if math.Abs(d0)+math.Abs(d1) < 1e-8 {
			break
		}
	}
	return intercept, slope
}

// setCovariance inverts the information about the seven parameters.
func (s *SkillModel) setCovariance(set *skillSet, prior MasteryPrior) {
	info := mat.NewSymDense(7, nil)
	for _, score := range set.scores {
		info.SymRankOne(info, 1, mat.NewVecDense(7, score[:]))
	}
	p := s.at(0)
	spread := func(c PseudoCounts, x float64) float64 { return (c.Yes + c.No) * x * (1 - x) }
	slope := 1 / (slopePrior * slopePrior)
	for i, x := range []float64{spread(prior.Known, p.Known), slope, spread(prior.Learn, p.Learn), slope,
		spread(prior.Guess, p.Guess), spread(prior.Slip, p.Slip), prior.Forget.Days * p.Forget} {
		info.SetSym(i, i, info.At(i, i)+x)
	}
	var root mat.Cholesky
	var cov mat.SymDense
	// Positive definite because every diagonal entry of the prior is.
	root.Factorize(info)
	if err := root.InverseTo(&cov); err != nil {
		return
	}
	for i := range 7 {
		for j := range 7 {
			s.Covariance[i][j] = cov.At(i, j)
		}
	}
}
