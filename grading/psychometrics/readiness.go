package psychometrics

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/mathext"
)

// Requirement is what a person must show on a date: a level in each of a set of
// skills.
type Requirement struct {
	Skills []RequiredSkill
	// Day is the date, on the scale of [SkillAnswer.Day].
	Day float64
}

// RequiredSkill is one line of a requirement.
type RequiredSkill struct {
	// Skill is its index in the model.
	Skill int
	// Level is the share of right answers to reach, above 0 and at most 1.
	Level float64
	// Questions is how many questions of the skill are asked on the date;
	// ⌈Level · Questions⌉ must be right. 0 asks for the chance of a right
	// answer itself to be Level or more, as endless questions would show it.
	Questions int
}

// cut is the number of right answers that passes.
func (r RequiredSkill) cut() int { return int(math.Ceil(r.Level*float64(r.Questions) - 1e-9)) }

// passes is the chance to pass when each answer is right with chance p.
func (r RequiredSkill) passes(p float64) float64 {
	if r.Questions == 0 {
		if p >= r.Level {
			return 1
		}
		return 0
	}
	c := r.cut()
	switch {
	case c <= 0 || p >= 1:
		return 1
	case p <= 0:
		return 0
	}
	// P(X ≥ c) of a binomial is a regularised incomplete beta function
	// (Abramowitz & Stegun 26.5.24).
	return mathext.RegIncBeta(float64(c), float64(r.Questions-c+1), p)
}

func (m *ReadinessModel) checkRequirement(r Requirement) error {
	if len(r.Skills) == 0 {
		return fmt.Errorf("requirement names no skill: %w", ErrEmpty)
	}
	if math.IsNaN(r.Day) || math.IsInf(r.Day, 0) {
		return fmt.Errorf("requirement has day %v, which is not a date: %w", r.Day, ErrRange)
	}
	for i, s := range r.Skills {
		if s.Skill < 0 || s.Skill >= len(m.Skills) {
			return fmt.Errorf("requirement line %d names skill %d of %d: %w", i+1, s.Skill, len(m.Skills), ErrRange)
		}
		if !(s.Level > 0 && s.Level <= 1) || s.Questions < 0 {
			return fmt.Errorf("requirement line %d asks for %v of %d questions; give a level above 0 and at most 1 and 0 or more questions: %w", i+1, s.Level, s.Questions, ErrRange)
		}
		for _, o := range r.Skills[:i] {
			if o.Skill == s.Skill {
				return fmt.Errorf("requirement line %d names skill %d again; give each skill one line: %w", i+1, s.Skill, ErrRange)
			}
		}
	}
	return nil
}

func (m *ReadinessModel) checkRecord(p PersonRecord) error {
	if len(p.Histories) != len(m.Skills) {
		return fmt.Errorf("person has %d histories for %d skills of the model: %w", len(p.Histories), len(m.Skills), ErrShape)
	}
	for k, h := range p.Histories {
		if err := h.check(0); err != nil {
			return fmt.Errorf("skill %d: %w", k+1, err)
		}
	}
	return nil
}

// Readiness is the forecast for one person and one requirement.
type Readiness struct {
	// Probability is the chance to reach the whole requirement on the date
	// without further practice. Low and High enclose it with 90 %
	// probability: they say how far it would move if this person's general
	// ability and the skills' parameters were known exactly, and narrow as
	// answers come in.
	Probability, Low, High float64
	// Skills holds one entry per line of the requirement, in its order.
	Skills []SkillReadiness
	// Weakest is the line least likely to be passed.
	Weakest int
	// Enough is false while some required skill has fewer than
	// [MinSkillAnswers] answers of this person: what is shown then is mostly
	// about people like them.
	Enough bool
}

// SkillReadiness is the forecast for one line of a requirement.
type SkillReadiness struct {
	Skill int
	// Pass is the chance to pass this line alone.
	Pass float64
	// Known is the chance that the skill is known on the date, and Now on the
	// day of its last answer: their difference is what will be forgotten. With
	// [MethodAverage] both are the expected share of right answers.
	Known, Now float64
	Answers    int
}

// MinSkillAnswers is the number of a person's own answers in a skill below
// which a forecast says more about the others than about the person. With
// guess 1/4 and slip 1/10 (the prior's) a right answer multiplies the odds of
// knowing by 3.6 and a wrong one divides them by 7.5, so that, starting from
// even odds, 5 answers settle the matter to 9 in 10 or better for nine people
// out of ten; 4 answers do so for only two out of three of those who know.
const MinSkillAnswers = 5

// ForecastOptions governs the interval of a forecast.
type ForecastOptions struct {
	// Draws is how many parameter sets are drawn for the interval; 200 give
	// limits good to a few points in a hundred. 0 gives no interval (NaN).
	Draws int
	// RNG is used for the draws only; nil is allowed where Draws is 0.
	RNG *rand.Rand
}

// Forecast gives the chance that a person reaches a requirement:
//
//	P = ∫ Π_k [ κ_k(θ) Pass_k(1 − Slip_k) + (1 − κ_k(θ)) Pass_k(Guess_k) ] p(θ | answers) dθ
//
// where κ_k(θ) is the chance to know skill k on the day given the person's
// answers in it, with forgetting up to the day, Pass_k(p) the chance of enough
// right answers if each is right with chance p, and p(θ | answers) what checks
// and the answers in all skills say about ability (15-point Gauss–Hermite
// quadrature). The product is taken at each ability before averaging, since
// skills of one person go together. A skill tracked by [MethodAverage] enters
// with a Beta distribution of the share of right answers, Weight·Base and the
// recent right answers against the rest, and is not forgotten.
//
// A person without answers gets the forecast for people of that ability, and
// Enough is false. A day before the last answer counts as that day. An empty
// requirement gives [ErrEmpty], an impossible one [ErrRange], histories that do
// not match the model [ErrShape].
func (m *ReadinessModel) Forecast(p PersonRecord, r Requirement, o ForecastOptions) (Readiness, error) {
	if err := m.checkRequirement(r); err != nil {
		return Readiness{}, err
	}
	if err := m.checkRecord(p); err != nil {
		return Readiness{}, err
	}
	if o.Draws > 0 && o.RNG == nil {
		return Readiness{}, fmt.Errorf("%d draws need a source of random numbers: %w", o.Draws, ErrRange)
	}
	var f forecaster
	skills := slices.Clone(m.Skills)
	f.run(m, skills, p, r)
	out := Readiness{Skills: f.skillReadiness(m, p, r), Enough: true, Low: math.NaN(), High: math.NaN()}
	for q, w := range f.weight {
		all := 1.0
		for i := range r.Skills {
			all *= f.pass[i][q]
		}
		out.Probability += w * all
	}
	for i, s := range out.Skills {
		if s.Pass < out.Skills[out.Weakest].Pass {
			out.Weakest = i
		}
		out.Enough = out.Enough && s.Answers >= MinSkillAnswers
	}
	if o.Draws == 0 {
		return out, nil
	}

	roots := make([]*mat.Cholesky, len(skills))
	for k := range skills {
		roots[k] = m.Skills[k].root()
	}
	values := make([]weighted, 0, o.Draws*forecastNodes)
	for range o.Draws {
		for k := range skills {
			skills[k] = m.Skills[k].draw(roots[k], o.RNG)
		}
		f.run(m, skills, p, r)
		shares := 1.0
		for i, line := range r.Skills {
			if s := &skills[line.Skill]; s.Method == MethodAverage && line.Questions > 0 {
				yes, no := s.Average.beta(p.Histories[line.Skill])
				shares *= line.passes(betaDraw(yes, no, o.RNG))
				for q := range f.pass[i] {
					f.pass[i][q] = 1
				}
			}
		}
		for q, w := range f.weight {
			all := shares
			for i := range r.Skills {
				all *= f.pass[i][q]
			}
			values = append(values, weighted{all, w})
		}
	}
	out.Low, out.High = weightedQuantiles(values, 0.05, 0.95)
	return out, nil
}

// forecaster holds what is known of one person at each ability.
type forecaster struct {
	x, weight []float64
	// after[i][q] is P(known) after the last answer of requirement line i at
	// node q, known[i][q] that on the day, pass[i][q] the chance to pass.
	after, known, pass [][]float64
	trace              tracer
}

// run fills the forecaster for the parameters given.
func (f *forecaster) run(m *ReadinessModel, skills []SkillModel, p PersonRecord, r Requirement) {
	if f.x == nil {
		f.x, f.weight = make([]float64, forecastNodes), make([]float64, forecastNodes)
		grid := func() [][]float64 {
			g := make([][]float64, len(r.Skills))
			for i := range g {
				g[i] = make([]float64, forecastNodes)
			}
			return g
		}
		f.after, f.known, f.pass = grid(), grid(), grid()
	}
	m.abilityNodes(p, f.x, f.weight)
	for q := range f.weight {
		f.weight[q] = math.Log(f.weight[q])
	}
	for k, h := range p.Histories {
		line := slices.IndexFunc(r.Skills, func(s RequiredSkill) bool { return s.Skill == k })
		s := &skills[k]
		if s.Method == MethodAverage {
			if line >= 0 {
				f.average(s.Average, h, r.Skills[line], line)
			}
			continue
		}
		if len(h) == 0 && line < 0 {
			continue
		}
		mean := s.at(0)
		f.trace.prepare(mean, h)
		kept := 1.0
		if len(h) > 0 {
			kept = mean.retain(r.Day - h[len(h)-1].Day)
		}
		for q, x := range f.x {
			par := s.at(x)
			after := par.Known
			if len(h) > 0 {
				var ll float64
				ll, after = f.trace.forward(par.Known, par.Learn)
				f.weight[q] += ll
			}
			if line >= 0 {
				f.after[line][q] = after
				f.known[line][q] = after * kept
			}
		}
		if line >= 0 {
			yes, no := r.Skills[line].passes(1-s.Slip), r.Skills[line].passes(s.Guess)
			for q, k := range f.known[line] {
				f.pass[line][q] = k*yes + (1-k)*no
			}
		}
	}
	f.weight, _ = normalise(f.weight)
}

// beta gives the Beta distribution of the share of right answers.
func (m MovingAverage) beta(h SkillHistory) (yes, no float64) {
	right, n := m.recent(h)
	return m.Weight*m.Base + right, m.Weight*(1-m.Base) + n - right
}

func (f *forecaster) average(a MovingAverage, h SkillHistory, line RequiredSkill, at int) {
	yes, no := a.beta(h)
	pass := 0.0
	if line.Questions == 0 {
		pass = 1 - mathext.RegIncBeta(yes, no, min(line.Level, 1))
	} else {
		// Beta-binomial tail.
		n := float64(line.Questions)
		for c := float64(line.cut()); c <= n; c++ {
			pass += math.Exp(lbeta(yes+c, no+n-c) - lbeta(yes, no) - math.Log(n+1) - lbeta(c+1, n-c+1))
		}
	}
	for q := range f.pass[at] {
		f.after[at][q], f.known[at][q], f.pass[at][q] = yes/(yes+no), yes/(yes+no), min(pass, 1)
	}
}

func lbeta(a, b float64) float64 {
	x, _ := math.Lgamma(a)
	y, _ := math.Lgamma(b)
	z, _ := math.Lgamma(a + b)
	return x + y - z
}

func (f *forecaster) skillReadiness(m *ReadinessModel, p PersonRecord, r Requirement) []SkillReadiness {
	out := make([]SkillReadiness, len(r.Skills))
	for i, line := range r.Skills {
		s := SkillReadiness{Skill: line.Skill, Answers: len(p.Histories[line.Skill])}
		for q, w := range f.weight {
			s.Pass += w * f.pass[i][q]
			s.Known += w * f.known[i][q]
			s.Now += w * f.after[i][q]
		}
		out[i] = s
	}
	return out
}

// root gives the Cholesky factor of the covariance, nil where there is none.
func (s *SkillModel) root() *mat.Cholesky {
	cov := mat.NewSymDense(7, nil)
	for i := range 7 {
		for j := i; j < 7; j++ {
			cov.SetSym(i, j, s.Covariance[i][j])
		}
	}
	var c mat.Cholesky
	if !c.Factorize(cov) {
		return nil
	}
	return &c
}

// draw gives a skill whose parameters are one draw from their distribution.
func (s SkillModel) draw(root *mat.Cholesky, rng *rand.Rand) SkillModel {
	if s.Method != MethodTracing || root == nil {
		return s
	}
	var l mat.TriDense
	root.LTo(&l)
	var z, d [7]float64
	for i := range z {
		z[i] = rng.NormFloat64()
		for j := range i + 1 {
			d[i] += l.At(i, j) * z[j]
		}
	}
	s.Start += d[0]
	s.StartSlope += d[1]
	s.Learn += d[2]
	s.LearnSlope += d[3]
	s.Guess = min(Probability(logitOf(s.Guess)+d[4], 0), guessSlipBound)
	s.Slip = min(Probability(logitOf(s.Slip)-d[5], 0), guessSlipBound)
	s.Forget *= math.Exp(d[6])
	return s
}

// betaDraw draws from Beta(a, b) as a ratio of gamma variates.
func betaDraw(a, b float64, rng *rand.Rand) float64 {
	x, y := gammaDraw(a, rng), gammaDraw(b, rng)
	if x+y == 0 {
		return a / (a + b)
	}
	return x / (x + y)
}

// gammaDraw draws from Gamma(shape, 1): Marsaglia & Tsang (2000), ACM Trans.
// Math. Software 26, 363–372.
func gammaDraw(shape float64, rng *rand.Rand) float64 {
	boost := 1.0
	if shape < 1 {
		boost = math.Pow(1-rng.Float64(), 1/shape)
		shape++
	}
	d := shape - 1.0/3
	c := 1 / math.Sqrt(9*d)
	for {
		x := rng.NormFloat64()
		v := 1 + c*x
		if v <= 0 {
			continue
		}
		v = v * v * v
		if math.Log(1-rng.Float64()) < 0.5*x*x+d-d*v+d*math.Log(v) {
			return boost * d * v
		}
	}
}

type weighted struct{ value, weight float64 }

// weightedQuantiles gives the values below which shares lo and hi of the weight
// lie.
func weightedQuantiles(values []weighted, lo, hi float64) (float64, float64) {
	slices.SortFunc(values, func(a, b weighted) int {
		switch {
		case a.value < b.value:
			return -1
		case a.value > b.value:
			return 1
		}
		return 0
	})
	total := 0.0
	for _, v := range values {
		total += v.weight
	}
	at := func(share float64) float64 {
		sum := 0.0
		for _, v := range values {
			if sum += v.weight; sum >= share*total {
				return v.value
			}
		}
		return values[len(values)-1].value
	}
	return at(lo), at(hi)
}
