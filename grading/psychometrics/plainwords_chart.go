package psychometrics

// The phrases of package chart: titles, labels within the drawing, and the
// text that stands for it.
const (
	// Person–question map: people, questions; low, high, middle; distance.
	PhraseMapTitle     Phrase = "chart.map.title"
	PhraseMapPeople    Phrase = "chart.map.people"
	PhraseMapQuestions Phrase = "chart.map.questions"
	PhraseMapLow       Phrase = "chart.map.low"
	PhraseMapHigh      Phrase = "chart.map.high"
	PhraseMapAxis      Phrase = "chart.map.axis"
	PhraseMapAlt       Phrase = "chart.map.alt"
	PhraseMapOnTarget  Phrase = "chart.map.on.target"
	PhraseMapTooHard   Phrase = "chart.map.too.hard"
	PhraseMapTooEasy   Phrase = "chart.map.too.easy"
	// Curve of one question: question, difficulty, people; group values
	// ability, share, of, expected.
	PhraseCurveTitle    Phrase = "chart.curve.title"
	PhraseCurveX        Phrase = "chart.curve.x"
	PhraseCurveY        Phrase = "chart.curve.y"
	PhraseCurveExpected Phrase = "chart.curve.expected"
	PhraseCurveObserved Phrase = "chart.curve.observed"
	PhraseCurveAlt      Phrase = "chart.curve.alt"
	PhraseCurvePoint    Phrase = "chart.curve.point"
	PhraseCurveFits     Phrase = "chart.curve.fits"
	PhraseCurveMisfits  Phrase = "chart.curve.misfits"
	// Growth by month: name; points.
	PhraseGrowthTitle Phrase = "chart.growth.title"
	PhraseGrowthY     Phrase = "chart.growth.y"
	PhraseGrowthAlt   Phrase = "chart.growth.alt"
	PhraseGrowthLine  Phrase = "chart.growth.line"
	PhraseGrowthPoint Phrase = "chart.growth.point"
	PhraseGrowthFew   Phrase = "chart.growth.few"
	PhraseGrowthNote  Phrase = "chart.growth.note"
	// Readiness board: date, target; name, chance, range.
	PhraseBoardTitle  Phrase = "chart.board.title"
	PhraseBoardX      Phrase = "chart.board.x"
	PhraseBoardTarget Phrase = "chart.board.target"
	PhraseBoardAlt    Phrase = "chart.board.alt"
	PhraseBoardLine   Phrase = "chart.board.line"
	PhraseBoardFew    Phrase = "chart.board.few"
	PhraseBoardFewTag Phrase = "chart.board.few.tag"
	// No data to draw; a value alone, as at a tick: value.
	PhraseChartEmpty Phrase = "chart.empty"
	PhraseChartValue Phrase = "chart.value"
)

func chartPhrases() []Phrase {
	return []Phrase{
		PhraseMapTitle, PhraseMapPeople, PhraseMapQuestions, PhraseMapLow, PhraseMapHigh, PhraseMapAxis,
		PhraseMapAlt, PhraseMapOnTarget, PhraseMapTooHard, PhraseMapTooEasy,
		PhraseCurveTitle, PhraseCurveX, PhraseCurveY, PhraseCurveExpected, PhraseCurveObserved,
		PhraseCurveAlt, PhraseCurvePoint, PhraseCurveFits, PhraseCurveMisfits,
		PhraseGrowthTitle, PhraseGrowthY, PhraseGrowthAlt, PhraseGrowthLine, PhraseGrowthPoint, PhraseGrowthFew, PhraseGrowthNote,
		PhraseBoardTitle, PhraseBoardX, PhraseBoardTarget, PhraseBoardAlt, PhraseBoardLine, PhraseBoardFew, PhraseBoardFewTag,
		PhraseChartEmpty, PhraseChartValue,
	}
}

func englishChartSentence(p Phrase) (string, bool) {
	switch p {
	case PhraseMapTitle:
		return "People and questions on one scale", true
	case PhraseMapPeople:
		return "{people person|people} (dashed: half of them below)", true
	case PhraseMapQuestions:
		return "{questions question|questions} (dashed: half of them below)", true
	case PhraseMapLow:
		return "less able, easier", true
	case PhraseMapHigh:
		return "more able, harder", true
	case PhraseMapAxis:
		return "logits: where the two are level, half of the answers are right", true
	case PhraseMapAlt:
		return "Map of {people person|people} and {questions question|questions} on one scale. Ability runs from {lowPerson} to {highPerson} logits, half of the people being below {midPerson}; difficulty from {lowQuestion} to {highQuestion}, half of the questions being below {midQuestion}.", true
	case PhraseMapOnTarget:
		return "The questions suit the people.", true
	case PhraseMapTooHard:
		return "The questions are on the whole {distance} logits too hard for the people.", true
	case PhraseMapTooEasy:
		return "The questions are on the whole {distance} logits too easy for the people.", true

	case PhraseCurveTitle:
		return "{question}: expected and observed", true
	case PhraseCurveX:
		return "ability, logits", true
	case PhraseCurveY:
		return "right answers", true
	case PhraseCurveExpected:
		return "expected", true
	case PhraseCurveObserved:
		return "observed", true
	case PhraseCurveAlt:
		return "Chart of {question}, difficulty {difficulty} logits: share of right answers by ability, expected and observed: {points}.", true
	case PhraseCurvePoint:
		return "at ability {ability}, {share} of {of} right (expected {expected})", true
	case PhraseCurveFits:
		return "All groups lie where the curve leads one to expect.", true
	case PhraseCurveMisfits:
		return "{off group lies|groups lie} off the curve by more than chance would explain.", true

	case PhraseGrowthTitle:
		return "Right answers by month", true
	case PhraseGrowthY:
		return "right answers", true
	case PhraseGrowthAlt:
		return "Chart of right answers by month.", true
	case PhraseGrowthLine:
		return "{name}: {points}.", true
	case PhraseGrowthPoint:
		return "{month} {share} of {of}", true
	case PhraseGrowthFew:
		return "{month} too few to tell ({of answer|answers})", true
	case PhraseGrowthNote:
		return "bars: 95 % range; small rings: fewer than {needed answer|answers}, too few to tell", true

	case PhraseBoardTitle:
		return "Ready by {date}", true
	case PhraseBoardX:
		return "chance to meet the requirement, with 90 % range; full disc: aim reached, diamond: too few to tell", true
	case PhraseBoardTarget:
		return "aim {target}", true
	case PhraseBoardAlt:
		return "Chart of the chance to meet the requirement on {date}, for {people person|people}; {ready reaches|reach} the aim of {target}.", true
	case PhraseBoardLine:
		return "{name}: {chance} ({range}).", true
	case PhraseBoardFew:
		return "{name}: too few answers to tell; people like this one {chance}.", true
	case PhraseBoardFewTag:
		return "too few to tell", true

	case PhraseChartValue:
		return "{value}", true
	case PhraseChartEmpty:
		return "Nothing to show yet.", true
	}
	return "", false
}

// Say builds a statement of a phrase from its values, for packages that draw or
// print. The values are named as the phrase's comment says.
func Say(p Phrase, values map[string]Value) Statement { return Statement{Phrase: p, Values: values} }
