package psychometrics

// The phrases of this package. Each comment gives the values in it.
const (
	// Shares of right answers: right, of, share, low, high; needed.
	PhraseShare    Phrase = "share.interval"
	PhraseShareFew Phrase = "share.few"
	// A change between two shares: before, after, low, high.
	PhraseChangeUp   Phrase = "change.up"
	PhraseChangeDown Phrase = "change.down"
	PhraseChangeNone Phrase = "change.none"
	PhraseChangeFew  Phrase = "change.few"
	// A score with its standard error of measurement: score, margin, cut.
	PhraseScore      Phrase = "score.margin"
	PhraseClearPass  Phrase = "score.above"
	PhraseClearFail  Phrase = "score.below"
	PhraseNarrowPass Phrase = "score.narrowly.above"
	PhraseNarrowFail Phrase = "score.narrowly.below"
	// Ability: chance, range.
	PhraseAbility    Phrase = "ability.range"
	PhraseAbilityFew Phrase = "ability.few"
	// Mastery of a skill: skill, chance, answers; needed.
	PhraseMasteryKnown    Phrase = "mastery.known"
	PhraseMasteryProbable Phrase = "mastery.probable"
	PhraseMasteryOpen     Phrase = "mastery.open"
	PhraseMasteryNot      Phrase = "mastery.not"
	PhraseMasteryFew      Phrase = "mastery.few"
	PhraseMasteryFading   Phrase = "mastery.fading" // days
	// Fluency: typical, low, high, target, chance; rushed; needed.
	PhraseFluency     Phrase = "fluency.time"
	PhraseFluencyFew  Phrase = "fluency.few"
	PhraseFluencyRush Phrase = "fluency.rushed"
	// Readiness: chance, range, date, skill, skills; needed.
	PhraseReadiness        Phrase = "readiness.chance"
	PhraseReadinessWeakest Phrase = "readiness.weakest"
	PhraseReadinessFew     Phrase = "readiness.few"
	PhraseReadinessName    Phrase = "readiness.skill" // skill, answers
	// Plans: questions, low, high, plan, chance, ceiling; skill; skills.
	PhrasePlan        Phrase = "plan.questions"
	PhrasePlanExact   Phrase = "plan.questions.exact"
	PhrasePlanNone    Phrase = "plan.none"
	PhrasePlanFalls   Phrase = "plan.short"
	PhrasePlanNothing Phrase = "plan.nothing"
	PhrasePlanUnknown Phrase = "plan.unknown" // skills
	PhrasePlanLine    Phrase = "plan.line"
	// Comparison of groups on one question: focal, reference, ratio;
	// focalAnswers, referenceAnswers, needed.
	PhraseItemLook  Phrase = "comparison.look"
	PhraseItemMaybe Phrase = "comparison.maybe"
	PhraseItemSame  Phrase = "comparison.same"
	PhraseItemFew   Phrase = "comparison.few"
	// Patterns of answers: rate; needed.
	PhraseFitLook  Phrase = "pattern.look"
	PhraseFitUsual Phrase = "pattern.usual"
	PhraseFitFew   Phrase = "pattern.few"
	PhraseFitNone  Phrase = "pattern.undefined"
	// Answers alike: a, b, same, common, expected, wrong, pairs, alarms; needed.
	PhraseAlikeLook Phrase = "alike.look"
	PhraseAlikeNone Phrase = "alike.none"
	PhraseAlikeFew  Phrase = "alike.few"
	// Discrimination of a question: r; needed.
	PhraseCorrelation        Phrase = "correlation.range"
	PhraseCorrelationNone    Phrase = "correlation.none"
	PhraseCorrelationAgainst Phrase = "correlation.against"
	PhraseCorrelationFew     Phrase = "correlation.few"
	// Reliability of scores: alpha, low, high, share; people, needed.
	PhraseReliability    Phrase = "reliability.range"
	PhraseReliabilityFew Phrase = "reliability.few"
	// How forecasts did: error, floor, count.
	PhraseForecastsGood Phrase = "forecasts.good"
	PhraseForecastsPoor Phrase = "forecasts.poor"
	PhraseForecastsFew  Phrase = "forecasts.few"
	// Why thresholds are where they are: needed.
	PhraseWhyShare       Phrase = "why.share"
	PhraseWhyAbility     Phrase = "why.ability"
	PhraseWhyMastery     Phrase = "why.mastery"
	PhraseWhyFluency     Phrase = "why.fluency"
	PhraseWhyComparison  Phrase = "why.comparison"
	PhraseWhyFit         Phrase = "why.pattern"
	PhraseWhyAlike       Phrase = "why.alike"
	PhraseWhyCorrelation Phrase = "why.correlation"
	PhraseWhyReliability Phrase = "why.reliability"
	PhraseWhyForecasts   Phrase = "why.forecasts"
)

// Phrases lists every phrase that this package and its charts use, so that a
// catalog can be checked for completeness.
func Phrases() []Phrase {
	return append([]Phrase{
		PhraseShare, PhraseShareFew, PhraseChangeUp, PhraseChangeDown, PhraseChangeNone, PhraseChangeFew,
		PhraseScore, PhraseClearPass, PhraseClearFail, PhraseNarrowPass, PhraseNarrowFail,
		PhraseAbility, PhraseAbilityFew,
		PhraseMasteryKnown, PhraseMasteryProbable, PhraseMasteryOpen, PhraseMasteryNot, PhraseMasteryFew, PhraseMasteryFading,
		PhraseFluency, PhraseFluencyFew, PhraseFluencyRush,
		PhraseReadiness, PhraseReadinessWeakest, PhraseReadinessFew, PhraseReadinessName,
		PhrasePlan, PhrasePlanExact, PhrasePlanNone, PhrasePlanFalls, PhrasePlanNothing, PhrasePlanUnknown, PhrasePlanLine,
		PhraseItemLook, PhraseItemMaybe, PhraseItemSame, PhraseItemFew,
		PhraseFitLook, PhraseFitUsual, PhraseFitFew, PhraseFitNone,
		PhraseAlikeLook, PhraseAlikeNone, PhraseAlikeFew,
		PhraseCorrelation, PhraseCorrelationNone, PhraseCorrelationAgainst, PhraseCorrelationFew,
		PhraseReliability, PhraseReliabilityFew,
		PhraseForecastsGood, PhraseForecastsPoor, PhraseForecastsFew,
		PhraseWhyShare, PhraseWhyAbility, PhraseWhyMastery, PhraseWhyFluency, PhraseWhyComparison,
		PhraseWhyFit, PhraseWhyAlike, PhraseWhyCorrelation, PhraseWhyReliability, PhraseWhyForecasts,
	}, chartPhrases()...)
}

// englishSentence is the English catalog.
func englishSentence(p Phrase) (string, bool) {
	switch p {
	case PhraseShare:
		return "{right} of {of} right ({share}). On other questions of this kind, expect between {low} and {high}.", true
	case PhraseShareFew:
		return "{right} of {of} right. Too few to tell: {needed answer is|answers are} needed.", true

	case PhraseChangeUp:
		return "From {before} to {after}: better by more than chance would explain (by {low} to {high} of the questions).", true
	case PhraseChangeDown:
		return "From {before} to {after}: worse by more than chance would explain (by {low} to {high} of the questions).", true
	case PhraseChangeNone:
		return "From {before} to {after}: no more than chance would explain.", true
	case PhraseChangeFew:
		return "From {before} to {after}. Too few to tell: {needed answer is|answers are} needed each time.", true

	case PhraseScore:
		return "{score}, give or take {margin}: 19 times out of 20 the score that endless questions would show lies within that.", true
	case PhraseClearPass:
		return "{score}, give or take {margin}: clearly above the cut score of {cut}.", true
	case PhraseClearFail:
		return "{score}, give or take {margin}: clearly below the cut score of {cut}.", true
	case PhraseNarrowPass:
		return "{score}, give or take {margin}: above the cut score of {cut}, but so close that another set of questions might have decided otherwise.", true
	case PhraseNarrowFail:
		return "{score}, give or take {margin}: below the cut score of {cut}, but so close that another set of questions might have decided otherwise.", true

	case PhraseAbility:
		return "Chance to answer an average question rightly: {chance} ({range}).", true
	case PhraseAbilityFew:
		return "Too few answers to tell how able: {answers answer|answers} so far.", true

	case PhraseMasteryKnown:
		return "{skill}: very likely known ({chance}, from {answers answer|answers}).", true
	case PhraseMasteryProbable:
		return "{skill}: probably known ({chance}, from {answers answer|answers}).", true
	case PhraseMasteryOpen:
		return "{skill}: not clear yet ({chance} that it is known, from {answers answer|answers}).", true
	case PhraseMasteryNot:
		return "{skill}: probably not known yet ({chance} that it is, from {answers answer|answers}).", true
	case PhraseMasteryFew:
		return "{skill}: too few to tell, {answers answer|answers} so far; {needed is|are} needed.", true
	case PhraseMasteryFading:
		return "Without practice about half of it is lost in {days day|days}.", true

	case PhraseFluency:
		return "Finds the answer in about {typical} (between {low} and {high}). Chance to find it within {target}: {chance}.", true
	case PhraseFluencyFew:
		return "Speed: too few to tell, {answers timed answer|timed answers} so far; {needed is|are} needed.", true
	case PhraseFluencyRush:
		return "{rushed wrong answer|wrong answers} came far faster than this person usually works: worth asking whether the page was looked up.", true

	case PhraseReadiness:
		return "Chance to meet the requirement on {date}: {chance} ({range}).", true
	case PhraseReadinessWeakest:
		return "Least certain: {skill}.", true
	case PhraseReadinessFew:
		return "Too few answers to tell in {skills}; {needed is|are} needed in each. The chance shown is mostly that of people like this one.", true
	case PhraseReadinessName:
		return "{skill} ({answers answer|answers})", true

	case PhrasePlan:
		return "About {questions practice question|practice questions} (between {low} and {high}): {plan}. That brings the chance to {chance}.", true
	case PhrasePlanExact:
		return "About {questions practice question|practice questions}: {plan}. That brings the chance to {chance}.", true
	case PhrasePlanNone:
		return "No practice needed: the chance is {chance} already.", true
	case PhrasePlanFalls:
		return "The chance aimed at is out of reach by practice on that day: {plan} would bring it to {chance}, and no amount beyond {ceiling}. Practise nearer to the date.", true
	case PhrasePlanNothing:
		return "Practice on that day would not help: the chance stays {chance}.", true
	case PhrasePlanUnknown:
		return "How much practice it takes cannot be told yet for {skills}: too few answers to tell how fast it is learned.", true
	case PhrasePlanLine:
		return "{questions} on {skill}", true

	case PhraseItemLook:
		return "Look at this question: in the group “{focal}” it is answered rightly clearly less often than by people of equal standing in “{reference}” (odds of a right answer 1 to {ratio}). The wording, a missing page or a translation may be why.", true
	case PhraseItemMaybe:
		return "Perhaps look at this question: in the group “{focal}” it is answered rightly somewhat less often than by people of equal standing in “{reference}” (odds of a right answer 1 to {ratio}).", true
	case PhraseItemSame:
		return "No difference worth speaking of between “{focal}” and “{reference}”.", true
	case PhraseItemFew:
		return "Too few to tell whether “{focal}” and “{reference}” differ: {focalAnswers} and {referenceAnswers} answers; about {needed is|are} needed in each.", true

	case PhraseFitLook:
		return "Look again: easy questions missed and hard ones answered rightly, more than usual. A skipped page or a shifted sheet can do this; so it would come out for {rate} people with nothing unusual.", true
	case PhraseFitUsual:
		return "Nothing unusual in the pattern of answers.", true
	case PhraseFitFew:
		return "Too few answers to tell whether the pattern is unusual: {answers} so far; {needed is|are} needed.", true
	case PhraseFitNone:
		return "Whether the pattern is unusual cannot be told where all answers are right, all are wrong, or all questions are equally hard.", true

	case PhraseAlikeLook:
		return "Look again at {a} and {b}: the same answer to {same} of {common questions|questions} ({wrong} of them wrong), where about {expected} would be expected. In such a comparison of {pairs pair|pairs} at most {alarms} would be listed wrongly on average. Studying together or a shared misunderstanding can do this too.", true
	case PhraseAlikeNone:
		return "{pairs pair|pairs} compared: nobody's answers are more alike than chance would explain.", true
	case PhraseAlikeFew:
		return "Too few to tell: no two people answered {needed question|questions} in common.", true

	case PhraseCorrelation:
		return "People who do better on the rest also do better on this question ({r}, between {low} and {high}).", true
	case PhraseCorrelationNone:
		return "Whether people do better on the rest says nothing certain of this question ({r}, between {low} and {high}).", true
	case PhraseCorrelationAgainst:
		return "People who do better on the rest do worse on this question ({r}, between {low} and {high}): look at its key and wording.", true
	case PhraseCorrelationFew:
		return "Too few to tell whether this question sorts people: {people person|people} so far; {needed are|are} needed.", true

	case PhraseReliability:
		return "Reliability {alpha}, between {low} and {high}: about {share} of the differences between scores would show again with other questions of the kind; the rest is chance.", true
	case PhraseReliabilityFew:
		return "Too few to tell how reliable the scores are: {people person|people} so far; {needed is|are} needed.", true

	case PhraseForecastsGood:
		return "Past forecasts held: over {count forecast|forecasts}, what was said and what happened differ by {error} on average; chance alone would give {floor}.", true
	case PhraseForecastsPoor:
		return "Past forecasts were off: over {count forecast|forecasts}, what was said and what happened differ by {error} on average, where chance alone would give {floor}. Take forecasts with caution.", true
	case PhraseForecastsFew:
		return "Too few forecasts to tell how well they held: {count} so far; {needed are|are} needed.", true

	case PhraseWhyShare:
		return "With fewer than {needed answer|answers} the range that holds the true share 19 times out of 20 can span half of the scale or more.", true
	case PhraseWhyAbility:
		return "While the standard error is above {needed} logits, the range of plausible success on an average question can span half of the scale.", true
	case PhraseWhyMastery:
		return "With {needed answer|answers}, nine people out of ten are placed rightly with certainty of 9 in 10; with one less, two out of three of those who know.", true
	case PhraseWhyFluency:
		return "With {needed timed answer|timed answers}, typical speed is known to within a third either way.", true
	case PhraseWhyComparison:
		return "With fewer than about {needed answer|answers} on either side, even a large difference would not be told from none.", true
	case PhraseWhyFit:
		return "With fewer than {needed answer|answers}, even answers at random often look usual.", true
	case PhraseWhyAlike:
		return "With fewer than {needed question|questions} in common, even identical sheets are not rare enough among all pairs of a small workshop.", true
	case PhraseWhyCorrelation:
		return "With fewer than {needed person|people}, even a correlation of 0.36 would not be told from none.", true
	case PhraseWhyReliability:
		return "With fewer than {needed person|people}, the range that holds a reliability of 0.7 19 times out of 20 spans more than a third of the scale.", true
	case PhraseWhyForecasts:
		return "With fewer than {needed forecast|forecasts}, chance alone makes what was said and what happened differ by 6 % or more.", true
	}
	return englishChartSentence(p)
}
