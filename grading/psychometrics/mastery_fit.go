package psychometrics

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// MasteryPrior is what is believed of a skill before anybody has practised it,
// given as answers seen elsewhere, so that it weighs little once real answers
// come in: a share is drawn towards Yes / (Yes + No) as if Yes + No people or
// answers of that kind had been seen.
type MasteryPrior struct {
	Known, Learn, Guess, Slip PseudoCounts
	// Forget: so many losses of the skill in so many person-days of knowing it.
	Forget struct{ Losses, Days float64 }
}

// PseudoCounts are imagined outcomes that pull an estimate towards their share.
type PseudoCounts struct{ Yes, No float64 }

func (c PseudoCounts) share() float64 { return c.Yes / (c.Yes + c.No) }

// DefaultMasteryPrior is the prior that fits use unless told otherwise: half of
// the people know the skill, one explanation in six sticks, one guess in four
// is right (four options), one known answer in ten slips, and the half-life is
// about 60 days. Together they weigh as much as some 30 answers. Common
// practice, no source; the bound of 1/2 on Guess and Slip that fits add follows
// Baker, Corbett & Aleven (2008), ITS, LNCS 5091.
func DefaultMasteryPrior() MasteryPrior {
	p := MasteryPrior{
		Known: PseudoCounts{1, 1},
		Learn: PseudoCounts{1, 5},
		Guess: PseudoCounts{2, 6},
		Slip:  PseudoCounts{1, 9},
	}
	p.Forget.Losses, p.Forget.Days = 1, 86
	return p
}

// Mode gives the most likely parameters under the prior alone: what to use for
// a skill that nobody has practised yet.
func (m MasteryPrior) Mode() MasteryParameters {
	return MasteryParameters{
		Known: m.Known.share(), Learn: m.Learn.share(),
		Guess: min(m.Guess.share(), guessSlipBound), Slip: min(m.Slip.share(), guessSlipBound),
		Forget: m.Forget.Losses / m.Forget.Days,
	}
}

// validate reports the first pair of counts that pulls towards nothing.
func (m MasteryPrior) validate() error {
	for _, c := range []struct {
		name string
		PseudoCounts
	}{{"Known", m.Known}, {"Learn", m.Learn}, {"Guess", m.Guess}, {"Slip", m.Slip},
		{"Forget", PseudoCounts{m.Forget.Losses, m.Forget.Days}}} {
		if !(c.Yes > 0 && c.No > 0) || math.IsInf(c.Yes+c.No, 1) {
			return fmt.Errorf("mastery prior %s has counts %v and %v; both must be above 0, or start from DefaultMasteryPrior: %w", c.name, c.Yes, c.No, ErrRange)
		}
	}
	return nil
}

// guessSlipBound keeps the two states apart: someone who knows the skill is
// right at least as often as not, someone who does not at most as often.
const guessSlipBound = 0.5

// MasteryFit is the result of [FitMastery].
type MasteryFit struct {
	MasteryParameters
	// SE holds the standard error of each parameter.
	SE MasteryParameters
	// LogLikelihood is that of the answers, the prior not counted.
	LogLikelihood float64
	// People counts the histories with at least one answer.
	People, Answers, Iterations int
}

const (
	masteryIterations = 5000
	masteryTolerance  = 1e-9
)

// FitMastery estimates the parameters of one skill from the histories of many
// people (one history each) by expectation–maximisation: the E-step is the
// forward–backward recursion over known and not known, with learning after each
// answer and forgetting over each gap as two separate transitions (Baum et al.
// 1970); the M-step divides expected counts, prior counts added; Forget is the
// expected number of losses over the expected days of knowing, the time of the
// loss within a gap being part of what is expected. Three starts, of which the
// best is followed to the end. Standard errors come from the sum over people of
// the outer products of their scores (Louis 1982; Berndt et al. 1974), plus the
// prior's curvature, on logit and log scales, carried back by the delta method.
//
// No answers at all: [ErrEmpty] (use [MasteryPrior.Mode]). Constant, all-right
// or all-wrong answers give estimates held off the edge by the prior. With no
// gap between answers Forget stays at the prior. Empty histories are skipped.
// Days out of order or not finite: a [*DataError] naming row and answer.
func FitMastery(histories []SkillHistory, prior MasteryPrior) (MasteryFit, error) {
	if err := prior.validate(); err != nil {
		return MasteryFit{}, err
	}
	set := newAnswerSet(histories)
	for i, h := range histories {
		if err := h.check(i + 1); err != nil {
			return MasteryFit{}, err
		}
	}
	if set.answers == 0 {
		return MasteryFit{}, fmt.Errorf("mastery of a skill that nobody has practised: %w", ErrEmpty)
	}

	mode := prior.Mode()
	starts := [...]MasteryParameters{
		mode,
		{Known: 0.15, Learn: 0.3, Guess: mode.Guess, Slip: mode.Slip, Forget: mode.Forget},
		{Known: 0.8, Learn: 0.05, Guess: mode.Guess, Slip: 2 * mode.Slip, Forget: 3 * mode.Forget},
	}
	best, bestValue := mode, math.Inf(-1)
	for _, p := range starts {
		p.Slip = min(p.Slip, guessSlipBound)
		var value float64
		for range 15 {
			p, value = set.emStep(p, prior)
		}
		if value > bestValue {
			best, bestValue = p, value
		}
	}
	p, last := best, math.Inf(-1)
	for it := 1; it <= masteryIterations; it++ {
		next, value := set.emStep(p, prior)
		// value belongs to p, so p is kept when it has converged.
		if math.Abs(value-last) <= masteryTolerance*(1+math.Abs(value)) && parameterChange(p, next) < 1e-5 {
			fit := MasteryFit{MasteryParameters: p, People: set.people, Answers: set.answers, Iterations: it + 15}
			fit.LogLikelihood = value - logPrior(p, prior)
			fit.SE = set.standardErrors(p, prior)
			return fit, nil
		}
		p, last = next, value
	}
	return MasteryFit{}, fmt.Errorf("mastery parameters after %d steps: %w", masteryIterations, ErrNotConverged)
}

func parameterChange(a, b MasteryParameters) float64 {
	return max(math.Abs(a.Known-b.Known), math.Abs(a.Learn-b.Learn), math.Abs(a.Guess-b.Guess),
		math.Abs(a.Slip-b.Slip), math.Abs(a.Forget-b.Forget)/(b.Forget+1e-12))
}

// logPrior is the log density of the prior at p up to a constant, on the scale
// that the M-step maximises (pseudo-counts as if they were data).
func logPrior(p MasteryParameters, m MasteryPrior) float64 {
	beta := func(c PseudoCounts, x float64) float64 { return c.Yes*math.Log(x) + c.No*math.Log1p(-x) }
	return beta(m.Known, p.Known) + beta(m.Learn, p.Learn) + beta(m.Guess, p.Guess) + beta(m.Slip, p.Slip) +
		m.Forget.Losses*math.Log(p.Forget) - m.Forget.Days*p.Forget
}

// masteryCounts are the expected counts of one history.
type masteryCounts struct {
	known          float64 // P(known at the first answer)
	learned, tries float64 // passages from not known to known, and chances for one
	lost, days     float64 // losses, and days of knowing at risk of one
}

// tracer runs the forward–backward recursion over one history at a time and
// owns the memory for it.
type tracer struct {
	// Set by prepare; they do not depend on Known and Learn, which the
	// readiness model varies with ability.
	rightK, rightU []float64 // P(the answer given | known), | not known
	gap, kept      []float64 // days to the next answer, and the chance to still know
	forget         float64
	// Set by expect.
	before, after, scale []float64 // P(known) ahead of an answer, after its explanation, and P(answer)
	seen                 []float64 // P(known) once the answer is seen
	gamma                []float64 // P(known at the answer | whole history)
}

func (t *tracer) resize(n int) {
	if cap(t.gamma) < n {
		for _, s := range []*[]float64{&t.rightK, &t.rightU, &t.gap, &t.kept, &t.before, &t.after, &t.scale, &t.seen, &t.gamma} {
			*s = make([]float64, n, 2*n)
		}
	}
	for _, s := range []*[]float64{&t.rightK, &t.rightU, &t.gap, &t.kept, &t.before, &t.after, &t.scale, &t.seen, &t.gamma} {
		*s = (*s)[:n]
	}
}

// prepare sets what an answer tells and what a gap takes away.
func (t *tracer) prepare(p MasteryParameters, h SkillHistory) {
	t.resize(len(h))
	t.forget = p.Forget
	for i, a := range h {
		k, u := p.rightIf(a.Difficulty)
		if !a.Right {
			k, u = 1-k, 1-u
		}
		t.rightK[i], t.rightU[i] = k, u
		if i+1 < len(h) {
			t.gap[i] = h[i+1].Day - a.Day
			t.kept[i] = p.retain(t.gap[i])
		}
	}
}

// forward filters the prepared history and returns its log-likelihood and
// P(known) after the last answer's explanation.
func (t *tracer) forward(known, learn float64) (logLikelihood, after float64) {
	like := 1.0
	for i := range t.rightK {
		t.before[i] = known
		hit := known * t.rightK[i]
		c := hit + (1-known)*t.rightU[i]
		s := known
		if c > 0 {
			s = hit / c
		} else {
			// An answer that the parameters call impossible tells nothing of
			// the state, and as much as can be against the parameters.
			c = 1e-300
		}
		t.scale[i] = c
		like *= c
		if like < 1e-200 {
			// Products of many chances are carried on as logarithms.
			logLikelihood += math.Log(like)
			like = 1
		}
		t.seen[i] = s
		after = s + (1-s)*learn
		t.after[i] = after
		if i+1 < len(t.rightK) {
			known = after * t.kept[i]
		}
	}
	return logLikelihood + math.Log(like), after
}

// expect runs forward and backward over the prepared history (not empty) and
// returns its log-likelihood and expected counts; t.gamma is left filled.
func (t *tracer) expect(known, learn float64) (float64, masteryCounts) {
	var c masteryCounts
	n := len(t.rightK)
	logLikelihood, _ := t.forward(known, learn)
	// bK and bU: likelihood of this and the later answers given the state ahead
	// of this answer, divided by that given the past alone.
	bK, bU := t.rightK[n-1]/t.scale[n-1], t.rightU[n-1]/t.scale[n-1]
	t.gamma[n-1] = t.before[n-1] * bK
	for i := n - 2; i >= 0; i-- {
		kept := t.kept[i]
		// State after the explanation and ahead of the gap.
		gK := kept*bK + (1-kept)*bU
		gU := bU
		if d := t.gap[i]; d > 0 {
			stay := t.after[i] * kept * bK
			lose := t.after[i] * (1 - kept) * bU
			c.lost += lose
			// Mean time of a loss that happened within d days.
			within := 1/t.forget - d*kept/(1-kept)
			if x := t.forget * d; x < 1e-6 {
				within = d / 2
			}
			c.days += stay*d + lose*within
		}
		c.learned += (1 - t.seen[i]) * learn * gK
		aK, aU := gK, learn*gK+(1-learn)*gU
		bK, bU = t.rightK[i]*aK/t.scale[i], t.rightU[i]*aU/t.scale[i]
		t.gamma[i] = t.before[i] * bK
		c.tries += 1 - t.gamma[i]
	}
	c.known = t.gamma[0]
	return logLikelihood, c
}

// answerSet lays the answers of a skill out flat for the M-step of Guess and
// Slip.
type answerSet struct {
	histories       []SkillHistory
	people, answers int
	varied          bool      // some question differs in difficulty from the average
	weight          []float64 // P(known at the answer | history), all answers in order
	trace           tracer
}

func newAnswerSet(histories []SkillHistory) *answerSet {
	s := &answerSet{histories: histories}
	for _, h := range histories {
		if len(h) > 0 {
			s.people++
		}
		s.answers += len(h)
		for _, a := range h {
			s.varied = s.varied || a.Difficulty != 0
		}
	}
	s.weight = make([]float64, s.answers)
	return s
}

// emStep returns better parameters, and the penalised log-likelihood of p.
func (s *answerSet) emStep(p MasteryParameters, prior MasteryPrior) (next MasteryParameters, value float64) {
	var sum masteryCounts
	at := 0
	for _, h := range s.histories {
		if len(h) == 0 {
			continue
		}
		s.trace.prepare(p, h)
		ll, c := s.trace.expect(p.Known, p.Learn)
		value += ll
		sum.known += c.known
		sum.learned += c.learned
		sum.tries += c.tries
		sum.lost += c.lost
		sum.days += c.days
		copy(s.weight[at:], s.trace.gamma)
		at += len(h)
	}
	value += logPrior(p, prior)
	share := func(yes, n float64, c PseudoCounts) float64 { return (yes + c.Yes) / (n + c.Yes + c.No) }
	next.Known = share(sum.known, float64(s.people), prior.Known)
	next.Learn = share(sum.learned, sum.tries, prior.Learn)
	next.Forget = (sum.lost + prior.Forget.Losses) / (sum.days + prior.Forget.Days)
	next.Guess = min(s.rightShare(p.Guess, false, prior.Guess), guessSlipBound)
	next.Slip = min(1-s.rightShare(1-p.Slip, true, PseudoCounts{prior.Slip.No, prior.Slip.Yes}), guessSlipBound)
	return next, value
}

// rightShare maximises the expected log-likelihood of the right and wrong
// answers given in one state, s.weight holding P(known): in closed form where
// all questions are of average difficulty, otherwise by Newton steps from the
// current value on the logit scale, where the function is concave.
func (s *answerSet) rightShare(current float64, known bool, prior PseudoCounts) float64 {
	if !s.varied {
		right, n, at := 0.0, 0.0, 0
		for _, h := range s.histories {
			for _, a := range h {
				w := s.weight[at]
				if !known {
					w = 1 - w
				}
				at++
				n += w
				if a.Right {
					right += w
				}
			}
		}
		return (right + prior.Yes) / (n + prior.Yes + prior.No)
	}
	p := current
	for range 3 {
		gradient := prior.Yes*(1-p) - prior.No*p
		curve := (prior.Yes + prior.No) * p * (1 - p)
		at := 0
		for _, h := range s.histories {
			for _, a := range h {
				w := s.weight[at]
				if !known {
					w = 1 - w
				}
				at++
				q := shiftLogit(p, -a.Difficulty)
				if a.Right {
					gradient += w * (1 - q)
				} else {
					gradient -= w * q
				}
				curve += w * q * (1 - q)
			}
		}
		step := min(max(gradient/curve, -1), 1)
		p = shiftLogit(p, step)
		if math.Abs(step) < 1e-10 {
			break
		}
	}
	return p
}

// answerScore is the derivative of the expected log-likelihood of one history
// by the logits of Guess and of 1 − Slip; gamma holds P(known) or its mean.
func answerScore(p MasteryParameters, h SkillHistory, gamma []float64) (guess, right float64) {
	for i, a := range h {
		k, u := p.rightIf(a.Difficulty)
		y := 0.0
		if a.Right {
			y = 1
		}
		guess += (1 - gamma[i]) * (y - u)
		right += gamma[i] * (y - k)
	}
	return guess, right
}

// standardErrors inverts the information of the five parameters on the scales
// logit Known, logit Learn, logit Guess, logit (1 − Slip), ln Forget.
func (s *answerSet) standardErrors(p MasteryParameters, prior MasteryPrior) MasteryParameters {
	info := mat.NewSymDense(5, nil)
	for _, h := range s.histories {
		if len(h) == 0 {
			continue
		}
		s.trace.prepare(p, h)
		_, c := s.trace.expect(p.Known, p.Learn)
		g, r := answerScore(p, h, s.trace.gamma)
		score := []float64{c.known - p.Known, c.learned - c.tries*p.Learn, g, r, c.lost - p.Forget*c.days}
		info.SymRankOne(info, 1, mat.NewVecDense(5, score))
	}
	spread := func(c PseudoCounts, x float64) float64 { return (c.Yes + c.No) * x * (1 - x) }
	// The prior counts make the sum positive definite even for one answer.
	for i, x := range []float64{spread(prior.Known, p.Known), spread(prior.Learn, p.Learn),
		spread(prior.Guess, p.Guess), spread(prior.Slip, p.Slip), prior.Forget.Days * p.Forget} {
		info.SetSym(i, i, info.At(i, i)+x)
	}
	var cov mat.SymDense
	var root mat.Cholesky
	root.Factorize(info)
	if err := root.InverseTo(&cov); err != nil {
		nan := math.NaN()
		return MasteryParameters{nan, nan, nan, nan, nan}
	}
	se := func(i int, slope float64) float64 { return math.Sqrt(cov.At(i, i)) * slope }
	return MasteryParameters{
		Known:  se(0, p.Known*(1-p.Known)),
		Learn:  se(1, p.Learn*(1-p.Learn)),
		Guess:  se(2, p.Guess*(1-p.Guess)),
		Slip:   se(3, p.Slip*(1-p.Slip)),
		Forget: se(4, p.Forget),
	}
}
