package psychometrics

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// TimedAnswer is how long one person took over one question.
type TimedAnswer struct {
	// Person and Item are indexes. Item stands for whatever takes about equally
	// long: a question that many people see or, where every question is new,
	// its kind.
	Person, Item int
	// Seconds is the time from showing the question to its answer, above 0.
	Seconds float64
	Right   bool
}

// TimeItem is what the log-normal model says of one item.
type TimeItem struct {
	// Intensity is the mean of ln seconds for a person of average speed:
	// exp(Intensity) is the time that half of such people stay below.
	Intensity float64
	// Discrimination is 1 / the standard deviation of ln seconds of one person.
	Discrimination float64
	// Answers counts the times seen; with none the other two are NaN.
	Answers int
}

// Speed is how fast a person works.
type Speed struct {
	// Tau is the speed in units of ln seconds: 0 is average, 0.69 is twice as
	// fast. It is drawn towards 0 while there are few answers.
	Tau, SE float64
	Answers int
}

// ResponseTimeModel is the result of [FitResponseTimes].
type ResponseTimeModel struct {
	Items  []TimeItem
	People []Speed
	// SpeedSD is the standard deviation of speed among people.
	SpeedSD       float64
	LogLikelihood float64
	Iterations    int
}

// varianceWeight is how many answers the variance common to all items counts
// for in that of one item, so that an item seen twice is not held to be exact.
const varianceWeight = 4.0

// FitResponseTimes estimates the log-normal model of response times,
//
//	ln T_ij = β_i − τ_j + ε_ij,  ε_ij ~ N(0, 1/α_i²),  τ_j ~ N(0, σ²)
//
// with β intensity and α discrimination of item i, and τ the speed of person j
// (van der Linden 2006, J. Educational and Behavioral Statistics 31, 181–204),
// by marginal maximum likelihood: EM with the speeds as what is missing, both
// steps in closed form. Speeds have mean 0, which fixes the scale. shrink draws
// the variance of each item towards the common one as if 4 answers had been
// seen; without it the result is maximum likelihood, which needs an item to be
// answered by several people.
//
// Answers may come in any order and number; a person or item index outside
// people × items, or a time that is not above 0 and finite, is a [*DataError]
// naming the answer. No answers: [ErrEmpty]. Items nobody answered: NaN. People
// without answers: speed 0 with SE SpeedSD. If all times are equal, variances
// stop at 1e-6.
func FitResponseTimes(answers []TimedAnswer, people, items int, shrink bool) (ResponseTimeModel, error) {
	if len(answers) == 0 {
		return ResponseTimeModel{}, fmt.Errorf("response times: %w", ErrEmpty)
	}
	logs := make([]float64, len(answers))
	count, sum := make([]int, items), make([]float64, items)
	for k, a := range answers {
		if a.Person < 0 || a.Person >= people || a.Item < 0 || a.Item >= items {
			return ResponseTimeModel{}, &DataError{Row: k + 1, Err: ErrRange,
				Problem: fmt.Sprintf("person %d, item %d lie outside %d people × %d items", a.Person, a.Item, people, items),
				Mend:    "count both from 0"}
		}
		if !(a.Seconds > 0) || math.IsInf(a.Seconds, 1) {
			return ResponseTimeModel{}, &DataError{Row: k + 1, Err: ErrRange,
				Problem: fmt.Sprintf("%v seconds is not a time", a.Seconds),
				Mend:    "leave out answers whose time was not taken"}
		}
		logs[k] = math.Log(a.Seconds)
		count[a.Item]++
		sum[a.Item] += logs[k]
	}
	const floor = 1e-6
	beta, variance := make([]float64, items), make([]float64, items)
	total := 0.0
	for i := range beta {
		beta[i] = sum[i] / float64(count[i])
	}
	for k, a := range answers {
		d := logs[k] - beta[a.Item]
		total += d * d
	}
	start := max(total/float64(len(answers))/2, floor)
	for i := range variance {
		variance[i] = start
	}
	spread := start // σ²
	tau, tauVar := make([]float64, people), make([]float64, people)
	precision := make([]float64, people)
	speeds := func() {
		for j := range tau {
			tau[j], precision[j] = 0, 1/spread
		}
		for k, a := range answers {
			w := 1 / variance[a.Item]
			precision[a.Person] += w
			tau[a.Person] += w * (beta[a.Item] - logs[k])
		}
		for j := range tau {
			tau[j] /= precision[j]
			tauVar[j] = 1 / precision[j]
		}
	}
	seen := make([]bool, people)
	for _, a := range answers {
		seen[a.Person] = true
	}
	present := 0.0
	for _, s := range seen {
		if s {
			present++
		}
	}
	ss := make([]float64, items)
	m := ResponseTimeModel{Items: make([]TimeItem, items), People: make([]Speed, people)}
	last := math.Inf(-1)
	for m.Iterations = 1; ; m.Iterations++ {
		speeds()
		m.LogLikelihood = timesLogLikelihood(answers, logs, beta, variance, spread, tau, precision, seen)
		if math.Abs(m.LogLikelihood-last) < 1e-10*(1+math.Abs(last)) {
			break
		}
		if m.Iterations == 20000 {
			return ResponseTimeModel{}, fmt.Errorf("response times after %d steps: %w", m.Iterations, ErrNotConverged)
		}
		last = m.LogLikelihood
		clear(sum)
		for k, a := range answers {
			sum[a.Item] += logs[k] + tau[a.Person]
		}
		for i := range beta {
			beta[i] = sum[i] / float64(count[i])
		}
		clear(ss)
		total = 0
		for k, a := range answers {
			d := logs[k] - beta[a.Item] + tau[a.Person]
			ss[a.Item] += d*d + tauVar[a.Person]
			total += d*d + tauVar[a.Person]
		}
		common := total / float64(len(answers))
		for i := range variance {
			if shrink {
				variance[i] = (ss[i] + varianceWeight*common) / (float64(count[i]) + varianceWeight)
			} else {
				variance[i] = ss[i] / float64(count[i])
			}
			variance[i] = max(variance[i], floor)
		}
		s := 0.0
		for j := range tau {
			if seen[j] {
				s += tau[j]*tau[j] + tauVar[j]
			}
		}
		spread = max(s/present, floor)
	}
	for i := range m.Items {
		m.Items[i] = TimeItem{Intensity: beta[i], Discrimination: 1 / math.Sqrt(variance[i]), Answers: count[i]}
		if count[i] == 0 {
			m.Items[i].Discrimination = math.NaN()
		}
	}
	for j := range m.People {
		m.People[j] = Speed{Tau: tau[j], SE: math.Sqrt(tauVar[j])}
	}
	for _, a := range answers {
		m.People[a.Person].Answers++
	}
	m.SpeedSD = math.Sqrt(spread)
	return m, nil
}

// timesLogLikelihood integrates the speeds out: for one person with residuals
// r_k = ln t − β, Σ ln N(r_k; 0, v_k) + ln of the normal integral over τ.
func timesLogLikelihood(answers []TimedAnswer, logs, beta, variance []float64, spread float64, tau, precision []float64, seen []bool) float64 {
	ll := 0.0
	for k, a := range answers {
		d := logs[k] - beta[a.Item]
		ll -= 0.5 * (math.Log(2*math.Pi*variance[a.Item]) + d*d/variance[a.Item])
	}
	for j := range tau {
		if seen[j] {
			ll -= 0.5 * (math.Log(spread*precision[j]) - tau[j]*tau[j]*precision[j])
		}
	}
	return ll
}

// Speed estimates the speed of one person from the answers given, whoever their
// Person field names, with the items' parameters held fixed: the mean and the
// standard deviation of
//
//	τ | times ~ N( Σ α²(β − ln t) / (1/σ² + Σ α²),  1 / (1/σ² + Σ α²) )
//
// Pass the answers of one skill to get the speed in that skill. Answers to
// items without parameters, or without a time above 0, are skipped. No answers:
// speed 0 with SE SpeedSD.
func (m ResponseTimeModel) Speed(answers []TimedAnswer) Speed {
	s, precision := Speed{}, 1/(m.SpeedSD*m.SpeedSD)
	for _, a := range answers {
		item, ok := m.item(a)
		if !ok {
			continue
		}
		w := item.Discrimination * item.Discrimination
		precision += w
		s.Tau += w * (item.Intensity - math.Log(a.Seconds))
		s.Answers++
	}
	s.Tau /= precision
	s.SE = math.Sqrt(1 / precision)
	return s
}

func (m ResponseTimeModel) item(a TimedAnswer) (TimeItem, bool) {
	if a.Item < 0 || a.Item >= len(m.Items) || m.Items[a.Item].Answers == 0 || !(a.Seconds > 0) || math.IsInf(a.Seconds, 1) {
		return TimeItem{}, false
	}
	return m.Items[a.Item], true
}

// Residual is how far an answer's time lies from what is expected of a person
// of the given speed, in standard deviations:
//
//	z = (ln t − (β − τ)) / √(1/α² + SE²)
//
// Below −2 is faster than 98 of 100 such answers. The speed should come from
// the person's other answers. An item without parameters gives NaN. Source:
// van der Linden & Guo (2008), Psychometrika 73, 365–384.
func (m ResponseTimeModel) Residual(a TimedAnswer, s Speed) float64 {
	item, ok := m.item(a)
	if !ok {
		return math.NaN()
	}
	sd := math.Hypot(1/item.Discrimination, s.SE)
	return (math.Log(a.Seconds) - item.Intensity + s.Tau) / sd
}

// Fluency is what response times add to what answers say of a skill: whether
// the right page is found without long searching.
type Fluency struct {
	Speed
	// Typical is the time in seconds that the person stays below on half of
	// the items asked about; Low and High enclose it with 90 % probability.
	Typical, Low, High float64
	// Within is the chance of answering within the target time.
	Within float64
	// RightWithin is the chance of answering rightly and within the target
	// time, speed and skill being independent given the person (van der Linden
	// 2007, Psychometrika 72, 287–308).
	RightWithin float64
	// Rushed counts wrong answers given faster than 98 of 100 answers that
	// took the person's usual speed: looked up in haste, or not looked up.
	Rushed int
	// Enough is false while there are fewer than [MinTimedAnswers] times.
	Enough bool
}

// MinTimedAnswers is the number of times below which fluency is too uncertain
// to show. One answer's ln time varies by about 0.5 around its person's usual
// (so α is about 2, common for reading and lookup tasks; common practice, no
// source); the mean of 8 is then known to within a factor of exp(1.645·0.5/√8)
// = 1.34 either way, about the smallest difference in speed worth speaking of.
const MinTimedAnswers = 8

// Fluency sums up the answers of one person in one skill. items are the items
// of the skill over which the time is forecast (those without parameters are
// skipped), right is the chance of a right answer there, as an
// [AnswerForecaster] gives it, and target the time in seconds that a fluent
// lookup takes.
//
//	Within = mean over items of Φ((ln target − β + τ) / √(1/α² + SE²))
//
// No answers: average speed, Enough false. No item with parameters: NaN.
// Constant times need no special care.
func (m ResponseTimeModel) Fluency(answers []TimedAnswer, items []int, right, target float64) Fluency {
	f := Fluency{Speed: m.Speed(answers)}
	f.Enough = f.Answers >= MinTimedAnswers
	mean, n := 0.0, 0.0
	for _, i := range items {
		item, ok := m.item(TimedAnswer{Item: i, Seconds: 1})
		if !ok {
			continue
		}
		mean += item.Intensity
		n++
		sd := math.Hypot(1/item.Discrimination, f.SE)
		f.Within += distuv.UnitNormal.CDF((math.Log(target) - item.Intensity + f.Tau) / sd)
	}
	f.Within /= n
	f.RightWithin = right * f.Within
	mean = mean/n - f.Tau
	f.Typical = math.Exp(mean)
	f.Low, f.High = math.Exp(mean-1.645*f.SE), math.Exp(mean+1.645*f.SE)
	if len(answers) > 1 {
		for k, a := range answers {
			if a.Right {
				continue
			}
			if z := m.Residual(a, m.speedWithout(answers, k)); z < -2 {
				f.Rushed++
			}
		}
	}
	return f
}

// speedWithout is the speed from all answers but one.
func (m ResponseTimeModel) speedWithout(answers []TimedAnswer, k int) Speed {
	rest := make([]TimedAnswer, 0, len(answers)-1)
	rest = append(rest, answers[:k]...)
	return m.Speed(append(rest, answers[k+1:]...))
}
