package psychometrics

import "math"

// SayComparison says whether a question deserves a look because people of equal
// standing in two groups answer it differently. reference and focal name the
// groups. The sentence speaks of the question, never of the people.
func SayComparison(c ItemComparison, reference, focal string) Statement {
	switch c.Class {
	case TooFewToTell:
		return say(PhraseItemFew, "focal", TextOf(focal), "reference", TextOf(reference),
			"focalAnswers", CountOf(c.FocalAnswers), "referenceAnswers", CountOf(c.ReferenceAnswers),
			"needed", CountOf(MinComparisonAnswers))
	case Negligible:
		return say(PhraseItemSame, "focal", TextOf(focal), "reference", TextOf(reference))
	}
	ratio := c.OddsRatio
	if c.Harder == Reference {
		// Named first is whoever finds it harder.
		reference, focal, ratio = focal, reference, 1/ratio
	}
	p := PhraseItemMaybe
	if c.Class == Large {
		p = PhraseItemLook
	}
	return say(p, "focal", TextOf(focal), "reference", TextOf(reference), "ratio", NumberOf(ratio, 1))
}

// SayFit says whether a pattern of answers deserves another look: if its P is at
// most alarm, which is also the share of people with nothing unusual for whom
// it is said. 0.01 is sensible: in a class of 26 that is one in four classes.
func SayFit(f PersonFit, alarm float64) Statement {
	switch {
	case math.IsNaN(f.LZ) && f.Ability.Answered >= MinFitAnswers:
		return say(PhraseFitNone)
	case !f.Enough:
		return say(PhraseFitFew, "answers", CountOf(f.Ability.Answered), "needed", CountOf(MinFitAnswers))
	case f.P <= alarm:
		return say(PhraseFitLook, "rate", RareOf(alarm))
	}
	return say(PhraseFitUsual)
}

// SayAlike says which pairs of answer sheets deserve another look, one statement
// per pair, or that none do. people names the people.
func SayAlike(s AlikeScreen, people []string) []Statement {
	if s.Compared == 0 {
		return []Statement{say(PhraseAlikeFew, "needed", CountOf(MinCommonAnswers))}
	}
	if len(s.Pairs) == 0 {
		return []Statement{say(PhraseAlikeNone, "pairs", CountOf(s.Compared))}
	}
	out := make([]Statement, len(s.Pairs))
	for i, p := range s.Pairs {
		out[i] = say(PhraseAlikeLook, "a", TextOf(people[p.A]), "b", TextOf(people[p.B]),
			"same", CountOf(p.Same), "common", CountOf(p.Common), "wrong", CountOf(p.SameWrong),
			"expected", NumberOf(p.Expected, 0), "pairs", CountOf(s.Compared), "alarms", NumberOf(s.FalseAlarms, 2))
	}
	return out
}

// SayCorrelation says whether a question sorts people as the rest does, from the
// correlation r over people, with its 95 % interval by Fisher's (1921) z, or the
// wrong way round, as it does with a wrong key. Fewer
// than [MinCorrelationPeople], or r NaN (everybody answered alike): too few.
func SayCorrelation(r float64, people int) Statement {
	if people < MinCorrelationPeople || math.IsNaN(r) {
		return say(PhraseCorrelationFew, "people", CountOf(people), "needed", CountOf(MinCorrelationPeople))
	}
	z, half := math.Atanh(r), 1.96/math.Sqrt(float64(people-3))
	low, high := math.Tanh(z-half), math.Tanh(z+half)
	p := PhraseCorrelation
	switch {
	case high < 0:
		p = PhraseCorrelationAgainst
	case low <= 0:
		p = PhraseCorrelationNone
	}
	return say(p, "r", NumberOf(r, 2), "low", NumberOf(low, 2), "high", NumberOf(high, 2))
}

// SayForecasts says how past forecasts held: well if the calibration error is at
// most 0.05 or at most half again what chance alone gives. Fewer than
// [MinForecasts]: too few.
func SayForecasts(c ForecastCheck) Statement {
	if c.Count < MinForecasts {
		return say(PhraseForecastsFew, "count", CountOf(c.Count), "needed", CountOf(MinForecasts))
	}
	p := PhraseForecastsPoor
	if c.Error <= 0.05 || c.Error <= 1.5*c.Floor {
		p = PhraseForecastsGood
	}
	return say(p, "count", CountOf(c.Count), "error", PercentOf(c.Error), "floor", PercentOf(c.Floor))
}
