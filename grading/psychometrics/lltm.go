package psychometrics

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// raschLimit is the largest number of items for which [FitLLTM] also fits the
// Rasch model, whose matrices grow with its square.
const raschLimit = 2000

// LLTM is a linear logistic test model: the difficulty of an item is the sum of
// the weights of its features.
type LLTM struct {
	// Weight of each feature in logits per unit of the feature; positive makes
	// an item harder. SE has their standard errors, Covariance (features ×
	// features) their covariances.
	Weight, SE []float64
	Covariance *mat.SymDense
	// Difficulty fitted to each item; those that informative people answered
	// have mean zero.
	Difficulty []float64
	// LogLikelihood is the conditional log-likelihood, People the number of
	// informative people.
	LogLikelihood float64
	People        int
	Iterations    int

	// Rasch is the fit of the Rasch model to the same answers, or nil if it has
	// none (see [Conditional]) or there are more than 2,000 items.
	Rasch *Calibration
	// LR is the likelihood ratio statistic of the LLTM against the Rasch model,
	// twice the difference of log-likelihoods over the items that the Rasch
	// model could estimate, with DF degrees of freedom and upper tail
	// probability P. NaN, 0 and NaN if Rasch is nil or DF would be 0.
	LR float64
	DF int
	P  float64
	// Residual is the standard deviation, in logits, of the part of difficulty
	// that the features do not explain (0 if they explain it within sampling
	// error); Explained is the share of the variance of difficulty that they
	// do. NaN where LR is.
	Residual, Explained float64

	scale     featureScale
	predictor *predictor
}

// predictor is the second stage regression of Rasch difficulties on
// standardized features.
type predictor struct {
	coefficient []float64 // intercept first
	covariance  *mat.SymDense
	df          float64
}

// Answer is one answer in long form, for data in which hardly any two people
// saw the same items.
type Answer struct {
	Person, Item int
	Right        bool
}

// FitLLTM estimates the weights η of the features of items,
//
//	b_i = Σ_f w_if η_f (+ a constant that is not identified)
//
// by maximizing the conditional likelihood of [Conditional] with these b.
// features is items × features. The constant is left free, so no feature may be
// constant or a linear combination of others and a constant. Items that all or
// none got right are used like any other. Source: Fischer (1973), Acta
// Psychologica 37; Fischer in Fischer & Molenaar (1995), Rasch Models, ch. 8.
//
// Where the Rasch model can be estimated too, the two are compared by a
// likelihood ratio test, and the difference between them is split into sampling
// error and a residual τ by the method of moments with the weights 1/SE²
// (DerSimonian & Kacker 2007, Contemporary Clinical Trials 28). With enough
// people the test always rejects; τ says whether it matters.
//
// Errors: [ErrEmpty] (no answers, no features, or nobody with right and wrong
// ones), [ErrShape] (a [*DataError]: not one row of features per item, or rows
// of different lengths), [ErrRange] (a feature that is not finite), [ErrRank]
// (the message names the feature), [ErrDisconnected] (a feature separates right
// from wrong answers completely, or no person saw items that differ in it) or
// [ErrNotConverged].
//
// Time per iteration for a person with m answers, r right and f features is
// r(m−r) + m²(f+1); memory does not depend on the number of items beyond the
// features themselves.
func FitLLTM(r Responses, features [][]float64) (*LLTM, error) {
	if len(features) != r.items {
		return nil, &DataError{Err: ErrShape, Problem: fmt.Sprintf("%d rows of features for %d items", len(features), r.items),
			Mend: "give one row of features per item"}
	}
	m, err := fitLLTMOnly(r, features)
	if err != nil || r.items > raschLimit {
		return m, err
	}
	return m, m.compare(r, features)
}

// FitLLTMAnswers is [FitLLTM] for answers in long form: features has one row
// per item, answers name items and people by number (people may be any
// numbers). It never forms a table of people × items and does not fit the
// Rasch model. Errors are those of FitLLTM; an answer to an item that does not
// exist is a [*DataError] with its row.
func FitLLTMAnswers(answers []Answer, features [][]float64) (*LLTM, error) {
	number := map[int]int{}
	var patterns []answerPattern
	var scores []int
	for n, a := range answers {
		if a.Item < 0 || a.Item >= len(features) {
			return nil, &DataError{Row: n + 1, Err: ErrRange,
				Problem: fmt.Sprintf("answers item %d of %d", a.Item, len(features)), Mend: "give features for every item, numbered from 0"}
		}
		v, seen := number[a.Person]
		if !seen {
			v = len(patterns)
			number[a.Person] = v
			patterns = append(patterns, answerPattern{})
			scores = append(scores, 0)
		}
		patterns[v].items = append(patterns[v].items, int32(a.Item))
		if a.Right {
			scores[v]++
		}
	}
	right := make([]float64, len(features))
	for _, a := range answers {
		if v := number[a.Person]; a.Right && scores[v] < len(patterns[v].items) {
			right[a.Item]++
		}
	}
	for v := range patterns {
		patterns[v].count(map[int]float64{scores[v]: 1})
	}
	return fitLLTM(informative(patterns), right, features)
}

// fitLLTM takes the informative people and the number of them right on each
// item.
func fitLLTM(patterns []answerPattern, right []float64, features [][]float64) (*LLTM, error) {
	p := &lltmProblem{right: right, patterns: patterns}
	answered := make([]bool, len(features))
	for _, q := range patterns {
		for _, n := range q.people {
			p.people += n
		}
		for _, i := range q.items {
			answered[i] = true
		}
	}
	if len(patterns) == 0 {
		return nil, fmt.Errorf("LLTM: %w: nobody has both right and wrong answers", ErrEmpty)
	}
	scale, err := checkFeatures(features, answered)
	if err != nil {
		return nil, fmt.Errorf("LLTM: %w", err)
	}
	p.f = len(scale.mean)
	for _, row := range features {
		p.features = append(p.features, scale.of(row)...)
	}

	eta, info, ll, n, err := maximize(make([]float64, p.f), p.evaluate, nil)
	out := &LLTM{Weight: eta, LogLikelihood: ll, Iterations: n, People: int(p.people), scale: scale,
		LR: math.NaN(), P: math.NaN(), Residual: math.NaN(), Explained: math.NaN()}
	if err == nil {
		out.Covariance, err = invert(info)
	}
	if err != nil {
		return nil, fmt.Errorf("LLTM: %w: the answers do not determine every weight (%w); leave a feature out or collect more answers",
			ErrDisconnected, err)
	}
	out.Difficulty = p.difficulty(eta, nil)
	for f := range out.Weight {
		// Where right answers are separated completely the likelihood climbs
		// for ever and the information vanishes on the way.
		if out.Covariance.At(f, f) > 50*50 {
			return nil, fmt.Errorf("LLTM: %w: feature %d separates right from wrong answers completely, so its weight is not bounded; leave it out or collect more answers",
				ErrDisconnected, f+1)
		}
	}
	// Back from standard deviations to the units of the features.
	for f, sd := range scale.sd {
		out.Weight[f] /= sd
		for g := f; g < p.f; g++ {
			out.Covariance.SetSym(f, g, out.Covariance.At(f, g)/(sd*scale.sd[g]))
		}
		out.SE = append(out.SE, math.Sqrt(out.Covariance.At(f, f)))
	}
	return out, nil
}

// featureScale standardizes features, so that neither their units nor their
// zeros matter to the arithmetic.
type featureScale struct {
	mean, sd []float64 // over the items answered
}

func (s featureScale) of(features []float64) []float64 {
	out := make([]float64, len(features))
	for f, w := range features {
		out[f] = (w - s.mean[f]) / s.sd[f]
	}
	return out
}

// checkFeatures gives the scale of the features, after making sure that weights
// are identified.
func checkFeatures(features [][]float64, answered []bool) (featureScale, error) {
	if len(features) == 0 || len(features[0]) == 0 {
		return featureScale{}, fmt.Errorf("%w: no features", ErrEmpty)
	}
	f := len(features[0])
	mean, sd := make([]float64, f), make([]float64, f)
	n := 0.0
	for i, row := range features {
		if len(row) != f {
			return featureScale{}, &DataError{Row: i + 1, Err: ErrShape,
				Problem: fmt.Sprintf("has %d features where row 1 has %d", len(row), f), Mend: "give every item a value for every feature"}
		}
		for c, w := range row {
			if !finite(w) {
				return featureScale{}, &DataError{Row: i + 1, Column: c + 1, Err: ErrRange,
					Problem: fmt.Sprintf("feature is %v", w), Mend: "give a number"}
			}
			if answered[i] {
				mean[c] += w
			}
		}
		if answered[i] {
			n++
		}
	}
	for c := range mean {
		mean[c] /= n
	}
	// Gram–Schmidt on the centred columns, to name the first dependent one.
	var basis [][]float64
	for c := range f {
		column := make([]float64, 0, len(features))
		for i, row := range features {
			if answered[i] {
				column = append(column, row[c]-mean[c])
			}
		}
		scale := math.Abs(mean[c])*math.Sqrt(n) + norm(column)
		if norm(column) <= 1e-9*scale || scale == 0 {
			return featureScale{}, fmt.Errorf("%w: feature %d has the same value for every item answered; leave it out", ErrRank, c+1)
		}
		before := norm(column)
		sd[c] = before / math.Sqrt(n)
		for range 2 { // twice is enough for orthogonality to rounding
			for _, b := range basis {
				dot := 0.0
				for i := range b {
					dot += b[i] * column[i]
				}
				for i := range b {
					column[i] -= dot * b[i]
				}
			}
		}
		left := norm(column)
		if left <= 1e-9*before {
			return featureScale{}, fmt.Errorf("%w: feature %d is a combination of the features before it; leave one of them out", ErrRank, c+1)
		}
		for i := range column {
			column[i] /= left
		}
		basis = append(basis, column)
	}
	return featureScale{mean: mean, sd: sd}, nil
}

func norm(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum)
}

// lltmProblem is the conditional log-likelihood as a function of weights.
type lltmProblem struct {
	f        int
	features []float64 // items × f, standardized
	patterns []answerPattern
	right    []float64 // per item, among informative people
	people   float64

	patternSums
	b          []float64 // difficulties of all items
	covariance []float64 // of the items of a pattern, m × m, upper triangle
	product    []float64
	slope      []float64 // of log L by difficulty
}

func (p *lltmProblem) difficulty(eta, into []float64) []float64 {
	into = resize(into, len(p.right))
	for i := range into {
		sum := 0.0
		for f, w := range p.features[i*p.f : (i+1)*p.f] {
			sum += w * eta[f]
		}
		into[i] = sum
	}
	return into
}

func (p *lltmProblem) evaluate(eta, gradient []float64, info *mat.SymDense) float64 {
	p.b = p.difficulty(eta, p.b)
	p.slope = resize(p.slope, len(p.b))
	ll := 0.0
	for i, t := range p.right {
		if math.Abs(p.b[i]) > 300 {
			return math.Inf(-1)
		}
		ll -= t * p.b[i]
		p.slope[i] = -t
	}
	info.Zero()
	raw := info.RawSymmetric().Data
	p.rankBy(p.b)
	p.product = resize(p.product, p.f)
	for _, q := range p.patterns {
		ll -= p.add(q)
		m := len(q.items)
		for a, i := range q.items {
			p.slope[i] += p.mean[a]
			// Row a of covariance × features, the matrix being symmetric.
			clear(p.product)
			for d, j := range q.items {
				cov := p.covariance[min(a, d)*m+max(a, d)]
				for f, w := range p.features[int(j)*p.f : (int(j)+1)*p.f] {
					p.product[f] += cov * w
				}
			}
			for f, w := range p.features[int(i)*p.f : (int(i)+1)*p.f] {
				for h := f; h < p.f; h++ {
					raw[f*p.f+h] += w * p.product[h]
				}
			}
		}
	}
	clear(gradient)
	for i, s := range p.slope {
		for f, w := range p.features[i*p.f : (i+1)*p.f] {
			gradient[f] += w * s
		}
	}
	return ll
}

// add computes mean and covariance, summed over the people of a pattern, and
// returns Σ people × log γ; see conditionalProblem.add.
func (p *lltmProblem) add(q answerPattern) float64 {
	logGamma := p.sum(q, p.b)
	m, scores := len(q.items), len(q.right)
	p.covariance = resize(p.covariance, m*m)
	for a := range m {
		pa, ma, ea := p.weigh(q, a), p.mean[a], p.easiness[a]
		row := p.covariance[a*m : (a+1)*m]
		row[a] = ma - floats.Dot(p.weighted, pa)
		joint := 0.0
		if p.isTied[a] {
			joint = ea * floats.Dot(q.people, p.between[a*scores:(a+1)*scores])
		}
		for d := a + 1; d < m; d++ {
			both := ma - joint
			if ed := p.easiness[d]; ea-ed >= tied*ea {
				both = ma + ea/(ea-ed)*(p.mean[d]-ma)
			}
			row[d] = both - floats.Dot(p.weighted, p.probability[d*scores:(d+1)*scores])
		}
	}
	return logGamma
}

// compare fits the Rasch model, tests the LLTM against it and prepares
// predictions. That the Rasch model has no estimate is no error.
func (m *LLTM) compare(r Responses, features [][]float64) error {
	rasch, err := Conditional(r)
	if err != nil {
		if errors.Is(err, ErrConstant) || errors.Is(err, ErrDisconnected) || errors.Is(err, ErrEmpty) {
			return nil
		}
		return err
	}
	k, f := len(rasch.Estimated), len(m.Weight)
	if k-1-f <= 0 {
		return nil
	}
	ll := m.LogLikelihood
	x := features
	if k < r.items {
		// The two likelihoods must be of the same answers.
		x = make([][]float64, k)
		for c, i := range rasch.Estimated {
			x[c] = features[i]
		}
		same, err := fitLLTMOnly(r.SelectItems(rasch.Estimated), x)
		if err != nil {
			return nil
		}
		ll = same.LogLikelihood
	}
	m.Rasch = &rasch
	m.LR = max(0, 2*(rasch.LogLikelihood-ll))
	m.DF = k - 1 - f
	m.P = distuv.ChiSquared{K: float64(m.DF)}.Survival(m.LR)
	return m.residual(rasch, x)
}

// fitLLTMOnly is FitLLTM without the comparison.
func fitLLTMOnly(r Responses, features [][]float64) (*LLTM, error) {
	use, position := make([]bool, r.items), make([]int32, r.items)
	for i := range use {
		use[i], position[i] = true, int32(i)
	}
	counts, _ := countInformative(r, use)
	right := make([]float64, r.items)
	for i, n := range counts {
		right[i] = float64(n)
	}
	return fitLLTM(informative(patternsOf(r, use, position)), right, features)
}

// residual estimates τ and, where it is not zero, the regression of Rasch
// difficulties on features that allows for it.
func (m *LLTM) residual(rasch Calibration, features [][]float64) error {
	k, c := len(rasch.Estimated), len(m.Weight)+1
	x := mat.NewDense(k, c, nil) // intercept and features
	b := mat.NewVecDense(k, nil)
	v := mat.NewSymDense(k, nil)
	weights := make([]float64, k)
	for a, i := range rasch.Estimated {
		x.Set(a, 0, 1)
		for f, w := range m.scale.of(features[a]) {
			x.Set(a, f+1, w)
		}
		b.SetVec(a, rasch.Difficulty[i])
		weights[a] = 1 / (rasch.SE[i] * rasch.SE[i])
		for d := a; d < k; d++ {
			v.SetSym(a, d, rasch.Covariance.At(i, rasch.Estimated[d]))
		}
	}
	// P = A − A X (Xᵀ A X)⁻¹ Xᵀ A with A = diag(weights); the weighted sum of
	// squared residuals Q = bᵀ P b has expectation tr(P V) + τ² tr(P).
	var ax, xax, inverse mat.Dense
	ax.Apply(func(i, _ int, w float64) float64 { return w * weights[i] }, x)
	xax.Mul(x.T(), &ax)
	if err := inverse.Inverse(&xax); err != nil {
		if _, badly := err.(mat.Condition); !badly {
			return fmt.Errorf("LLTM: %w: %v", ErrRank, err)
		}
	}
	var axi, p mat.Dense
	axi.Mul(&ax, &inverse)
	p.Mul(&axi, ax.T())
	q, traceV, trace := 0.0, 0.0, 0.0
	for i := range k {
		for j := range k {
			pij := -p.At(i, j)
			if i == j {
				pij += weights[i]
				trace += pij
			}
			q += b.AtVec(i) * pij * b.AtVec(j)
			traceV += pij * v.At(i, j)
		}
	}
	tau2 := max(0, (q-traceV)/trace)
	var fitted moments
	for _, i := range rasch.Estimated {
		fitted.add(m.Difficulty[i], 0)
	}
	spread := fitted.xx / (fitted.n - 1)
	m.Explained = spread / (spread + tau2)
	m.Residual = math.Sqrt(tau2)
	meanVariance := 0.0
	for _, w := range weights {
		meanVariance += 1 / w / float64(k)
	}
	if tau2 < 1e-4*meanVariance {
		m.Residual = 0
		return nil
	}
	// Generalized least squares with V + τ² I.
	for i := range k {
		v.SetSym(i, i, v.At(i, i)+tau2)
	}
	var chol mat.Cholesky
	if !chol.Factorize(v) {
		return fmt.Errorf("LLTM: %w: the covariance of the difficulties is singular", ErrNotConverged)
	}
	var vx, xvx mat.Dense
	if err := chol.SolveTo(&vx, x); err != nil {
		if _, badly := err.(mat.Condition); !badly {
			return fmt.Errorf("LLTM: %w: %v", ErrNotConverged, err)
		}
	}
	xvx.Mul(x.T(), &vx)
	info := mat.NewSymDense(c, nil)
	for i := range c {
		for j := i; j < c; j++ {
			info.SetSym(i, j, (xvx.At(i, j)+xvx.At(j, i))/2)
		}
	}
	covariance, err := invert(info)
	if err != nil {
		return fmt.Errorf("LLTM: %w", err)
	}
	var xvb, coefficient mat.VecDense
	xvb.MulVec(vx.T(), b)
	coefficient.MulVec(covariance, &xvb)
	m.predictor = &predictor{coefficient: coefficient.RawVector().Data, covariance: covariance, df: float64(k - c)}
	return nil
}

// Prediction is the difficulty predicted for an item that nobody has answered.
type Prediction struct {
	// Difficulty in logits, on the scale on which the items that were used to
	// fit have mean zero.
	Difficulty float64
	// SE is the standard deviation of the difference between the prediction
	// and the item's own difficulty; Low and High bound the latter at Level.
	SE, Low, High, Level float64
	// ResidualKnown is false if the model could not be compared with the Rasch
	// model, so that the interval only has the error of the weights and is too
	// narrow for items that features do not explain.
	ResidualKnown bool
}

// Predict gives the difficulty of an item with the features given, and the
// interval in which its own difficulty lies at the level given (such as 0.95).
// With w the features, C the covariance of the weights and τ the residual,
//
//	SE² = wᵀ C w + τ²
//
// taken with the weights of the second stage regression and the t distribution
// where τ > 0, and with those of the LLTM and the normal distribution where
// not. Errors wrap [ErrShape] (the wrong number of features) or [ErrRange] (a
// feature not finite, a level outside (0, 1)).
func (m *LLTM) Predict(features []float64, level float64) (Prediction, error) {
	if len(features) != len(m.Weight) {
		return Prediction{}, fmt.Errorf("prediction: %w: %d features where the model has %d", ErrShape, len(features), len(m.Weight))
	}
	for f, w := range features {
		if !finite(w) {
			return Prediction{}, fmt.Errorf("prediction: %w: feature %d is %v", ErrRange, f+1, w)
		}
	}
	if !(level > 0 && level < 1) {
		return Prediction{}, fmt.Errorf("prediction: %w: level %g; give a share such as 0.95", ErrRange, level)
	}
	out := Prediction{Level: level, ResidualKnown: !math.IsNaN(m.Residual)}
	upper := (1 + level) / 2
	var variance, quantile float64
	if s := m.predictor; s != nil {
		w := append([]float64{1}, m.scale.of(features)...)
		for i := range w {
			out.Difficulty += w[i] * s.coefficient[i]
		}
		variance = quadratic(w, s.covariance) + m.Residual*m.Residual
		quantile = distuv.StudentsT{Sigma: 1, Nu: s.df}.Quantile(upper)
	} else {
		w := make([]float64, len(features))
		for f := range w {
			w[f] = features[f] - m.scale.mean[f]
			out.Difficulty += w[f] * m.Weight[f]
		}
		variance = quadratic(w, m.Covariance)
		quantile = distuv.UnitNormal.Quantile(upper)
	}
	out.SE = math.Sqrt(variance)
	out.Low, out.High = out.Difficulty-quantile*out.SE, out.Difficulty+quantile*out.SE
	return out, nil
}

// quadratic is wᵀ C w.
func quadratic(w []float64, c *mat.SymDense) float64 {
	sum := 0.0
	for i := range w {
		for j := range w {
			sum += w[i] * c.At(i, j) * w[j]
		}
	}
	return max(0, sum)
}
