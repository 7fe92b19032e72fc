package psychometrics

import (
	"math"
	"time"
)

// The thresholds below which a figure is not shown but "too few to tell" is
// said. Those of other files are [MinSkillAnswers], [MinTimedAnswers],
// [MinFitAnswers] and [MinCommonAnswers]; [Thresholds] lists them with reasons.
const (
	// MinShareAnswers is the smallest number of answers with which the 95 %
	// interval of a share is narrower than half of the scale even in the worst
	// case of half right (Wilson: 0.49 at 12, 0.51 at 11).
	MinShareAnswers = 12
	// MaxAbilitySE is the largest standard error of an ability, in logits, with
	// which the 90 % interval of the chance to answer an average question
	// spans less than half of the scale (0.25 to 0.75 at 0.65).
	MaxAbilitySE = 0.65
	// MinComparisonAnswers is about the number of answers on either side with
	// which a large difference between groups can be told from none; see
	// [TooFewToTell].
	MinComparisonAnswers = 90
	// MinCorrelationPeople is the number of people with which a correlation of
	// 0.36 can just be told from none at 5 % (tanh(1.96/√27), Fisher 1921).
	MinCorrelationPeople = 30
	// MinReliabilityPeople is the number of people with which the 95 % interval
	// of a reliability of 0.7 of 20 questions (Feldt 1965) is narrower than a
	// third of the scale (0.51 to 0.84).
	MinReliabilityPeople = 28
	// MinForecasts is the number of forecasts, spread over all probabilities,
	// with which the expected calibration error by chance alone in ten bins
	// falls to 0.06.
	MinForecasts = 300
)

// Threshold is a number below which (or, for an error, above which) nothing is
// claimed, and why it is that number.
type Threshold struct {
	Phrase Phrase
	Value  float64
	Reason Statement
}

// Thresholds lists every threshold with its reason in words, for a page that
// explains the scores.
func Thresholds() []Threshold {
	count := func(few, why Phrase, n int) Threshold {
		return Threshold{few, float64(n), say(why, "needed", CountOf(n))}
	}
	return []Threshold{
		count(PhraseShareFew, PhraseWhyShare, MinShareAnswers),
		{PhraseAbilityFew, MaxAbilitySE, say(PhraseWhyAbility, "needed", NumberOf(MaxAbilitySE, 2))},
		count(PhraseMasteryFew, PhraseWhyMastery, MinSkillAnswers),
		count(PhraseFluencyFew, PhraseWhyFluency, MinTimedAnswers),
		count(PhraseItemFew, PhraseWhyComparison, MinComparisonAnswers),
		count(PhraseFitFew, PhraseWhyFit, MinFitAnswers),
		count(PhraseAlikeFew, PhraseWhyAlike, MinCommonAnswers),
		count(PhraseCorrelationFew, PhraseWhyCorrelation, MinCorrelationPeople),
		count(PhraseReliabilityFew, PhraseWhyReliability, MinReliabilityPeople),
		count(PhraseForecastsFew, PhraseWhyForecasts, MinForecasts),
	}
}

// SayShare says how many answers were right, with the 95 % interval of
// [WilsonInterval]. Fewer than [MinShareAnswers] (none included): too few.
func SayShare(right, of int) Statement {
	if of < MinShareAnswers {
		return say(PhraseShareFew, "right", CountOf(right), "of", CountOf(of), "needed", CountOf(MinShareAnswers))
	}
	low, high := WilsonInterval(right, of)
	return say(PhraseShare, "right", CountOf(right), "of", CountOf(of),
		"share", PercentOf(float64(right)/float64(of)), "low", PercentOf(low), "high", PercentOf(high))
}

// SayChange says whether the share of right answers changed from one time to
// another by more than chance would explain: by the interval of [ShareChange].
// Fewer than [MinShareAnswers] at either time: too few.
func SayChange(rightBefore, before, rightAfter, after int) Statement {
	share := func(right, of int) Value {
		if of == 0 {
			return PercentOf(math.NaN())
		}
		return PercentOf(float64(right) / float64(of))
	}
	a, b := share(rightBefore, before), share(rightAfter, after)
	if min(before, after) < MinShareAnswers {
		return say(PhraseChangeFew, "before", a, "after", b, "needed", CountOf(MinShareAnswers))
	}
	low, high := ShareChange(rightBefore, before, rightAfter, after)
	switch {
	case low > 0:
		return say(PhraseChangeUp, "before", a, "after", b, "low", PercentOf(low), "high", PercentOf(high))
	case high < 0:
		return say(PhraseChangeDown, "before", a, "after", b, "low", PercentOf(-high), "high", PercentOf(-low))
	}
	return say(PhraseChangeNone, "before", a, "after", b)
}

// ShareChange is the 95 % interval of the difference of two shares, after less
// before, from the Wilson limits l, u of each:
//
//	low  = d − √((p₂ − l₂)² + (u₁ − p₁)²),  high = d + √((u₂ − p₂)² + (p₁ − l₁)²)
//
// Source: Newcombe (1998), Statistics in Medicine 17, 873–890, method 10.
// No answers at either time give −1, 1.
func ShareChange(rightBefore, before, rightAfter, after int) (low, high float64) {
	if before <= 0 || after <= 0 {
		return -1, 1
	}
	p1, p2 := float64(rightBefore)/float64(before), float64(rightAfter)/float64(after)
	l1, u1 := WilsonInterval(rightBefore, before)
	l2, u2 := WilsonInterval(rightAfter, after)
	d := p2 - p1
	return d - math.Hypot(p2-l2, u1-p1), d + math.Hypot(u2-p2, p1-l1)
}

// SayReliability says what share of the differences between scores would show
// again with other questions of the kind (Lord & Novick 1968, ch. 9: alpha is at
// most the correlation with another such test), with its interval. Fewer than
// [MinReliabilityPeople], or no reliability: too few. A negative one is said as
// it is, with a share of nothing.
func SayReliability(r Reliability) Statement {
	if !(r.People >= MinReliabilityPeople) || math.IsNaN(r.Alpha) {
		return say(PhraseReliabilityFew, "people", CountOf(int(r.People)), "needed", CountOf(MinReliabilityPeople))
	}
	return say(PhraseReliability, "alpha", NumberOf(r.Alpha, 2), "low", NumberOf(r.Low, 2), "high", NumberOf(r.High, 2), "share", PercentOf(max(r.Alpha, 0)))
}

// SayScore says a score with its margin, 1.96 standard errors of measurement.
// decimals is how many the score is written with. An sem that is NaN gives a
// margin of "NaN": pass one that is known.
func SayScore(score, sem float64, decimals int) Statement {
	return say(PhraseScore, "score", NumberOf(score, decimals), "margin", NumberOf(1.96*sem, decimals))
}

// SayPass says on which side of the cut score a score lies, at or above it
// being a pass, and whether it is so close that another set of questions might
// have decided otherwise: within 1.96 standard errors of measurement.
func SayPass(score, cut, sem float64, decimals int) Statement {
	p := PhraseClearPass
	narrow := math.Abs(score-cut) < 1.96*sem
	switch {
	case score >= cut && narrow:
		p = PhraseNarrowPass
	case score < cut && narrow:
		p = PhraseNarrowFail
	case score < cut:
		p = PhraseClearFail
	}
	return say(p, "score", NumberOf(score, decimals), "margin", NumberOf(1.96*sem, decimals), "cut", NumberOf(cut, decimals))
}

// SayAbility says an ability as the chance to answer a question of the
// difficulty given (that of an average question), with its 90 % interval. A
// standard error above [MaxAbilitySE], or none: too few.
//
// Who gets nearly everything right, or wrong, has an ability that is uncertain
// in logits while the chance is not: 19 right of 20 say that it is high. With
// [MinShareAnswers] answers that is said, too, if the interval spans less than
// half of the scale, which is the reason of [MaxAbilitySE].
func SayAbility(a Ability, difficulty float64) Statement {
	at := func(k float64) float64 { return Probability(a.Theta+k*a.SE, difficulty) }
	chance, low, high := at(0), at(-1.645), at(1.645)
	if !(a.SE <= MaxAbilitySE || a.Answered >= MinShareAnswers && high-low < 0.5) {
		return say(PhraseAbilityFew, "answers", CountOf(a.Answered))
	}
	return say(PhraseAbility, "chance", ChanceOf(chance), "range", BetweenOf(low, high))
}

// SayMastery says how sure it is that a skill is known. Fewer than
// [MinSkillAnswers] answers: too few.
func SayMastery(skill string, known float64, answers int) Statement {
	if answers < MinSkillAnswers {
		return say(PhraseMasteryFew, "skill", TextOf(skill), "answers", CountOf(answers), "needed", CountOf(MinSkillAnswers))
	}
	p := PhraseMasteryOpen
	switch {
	case known >= 0.95:
		p = PhraseMasteryKnown
	case known >= 0.75:
		p = PhraseMasteryProbable
	case known <= 0.25:
		p = PhraseMasteryNot
	}
	return say(p, "skill", TextOf(skill), "chance", ChanceOf(known), "answers", CountOf(answers))
}

// SayFading says when about half of a skill is lost without practice.
func SayFading(p MasteryParameters) Statement {
	// Beyond ten years nobody would believe the day.
	return say(PhraseMasteryFading, "days", CountOf(int(math.Round(min(p.HalfLife(), 3650)))))
}

// SayFluency says how fast the answers come; target is the time in seconds that
// the chance is about. Fewer than [MinTimedAnswers] times: too few. Where wrong
// answers were rushed, a second statement says so.
func SayFluency(f Fluency, target float64) []Statement {
	if !f.Enough {
		return []Statement{say(PhraseFluencyFew, "answers", CountOf(f.Answers), "needed", CountOf(MinTimedAnswers))}
	}
	out := []Statement{say(PhraseFluency, "typical", SecondsOf(f.Typical), "low", SecondsOf(f.Low), "high", SecondsOf(f.High),
		"target", SecondsOf(target), "chance", ChanceOf(f.Within))}
	// One in 45 wrong answers is that fast by chance; two are worth a word.
	if f.Rushed >= 2 {
		out = append(out, say(PhraseFluencyRush, "rushed", CountOf(f.Rushed)))
	}
	return out
}

// SayReadiness says the chance to meet a requirement on a date, with its
// interval, the least certain skill, and in which skills there are too few
// answers to tell. skills names the model's skills.
func SayReadiness(r Readiness, date time.Time, skills []string) []Statement {
	low, high := r.Low, r.High
	if math.IsNaN(low) || math.IsNaN(high) {
		low, high = r.Probability, r.Probability
	}
	out := []Statement{say(PhraseReadiness, "date", DateOf(date), "chance", ChanceOf(r.Probability), "range", BetweenOf(low, high))}
	if len(r.Skills) > 1 {
		out = append(out, say(PhraseReadinessWeakest, "skill", TextOf(skills[r.Skills[r.Weakest].Skill])))
	}
	if !r.Enough {
		var few []Statement
		for _, s := range r.Skills {
			if s.Answers < MinSkillAnswers {
				few = append(few, say(PhraseReadinessName, "skill", TextOf(skills[s.Skill]), "answers", CountOf(s.Answers)))
			}
		}
		out = append(out, say(PhraseReadinessFew, "skills", ListOf(few...), "needed", CountOf(MinSkillAnswers)))
	}
	return out
}

// SayPlan says which skills to practise and with about how many questions, and
// for which skills that cannot be told.
func SayPlan(p PracticePlan, skills []string) []Statement {
	lines := make([]Statement, len(p.Skills))
	for i, s := range p.Skills {
		lines[i] = say(PhrasePlanLine, "questions", CountOf(s.Questions), "skill", TextOf(skills[s.Skill]))
	}
	var out []Statement
	plan, after := ListOf(lines...), ChanceOf(p.After)
	switch {
	case p.Reached && len(lines) == 0:
		return []Statement{say(PhrasePlanNone, "chance", ChanceOf(p.Before))}
	case p.Reached && p.Low == p.High:
		return []Statement{say(PhrasePlanExact, "questions", CountOf(p.Questions), "plan", plan, "chance", after)}
	case p.Reached:
		return []Statement{say(PhrasePlan, "questions", CountOf(p.Questions), "low", CountOf(p.Low), "high", CountOf(p.High), "plan", plan, "chance", after)}
	case len(lines) > 0:
		out = append(out, say(PhrasePlanFalls, "plan", plan, "chance", after, "ceiling", ChanceOf(p.Ceiling)))
	case len(p.Untraced) == 0:
		out = append(out, say(PhrasePlanNothing, "chance", ChanceOf(p.Before)))
	}
	if len(p.Untraced) > 0 {
		names := make([]Statement, len(p.Untraced))
		for i, k := range p.Untraced {
			names[i] = say(PhraseChartValue, "value", TextOf(skills[k]))
		}
		out = append(out, say(PhrasePlanUnknown, "skills", ListOf(names...)))
	}
	return out
}
