package main

import (
	"fmt"
	"math"

	"rightpage/grading/psychometrics"
)

// What statistics mean, in the words of package psychometrics.

func english(s psychometrics.Statement) string { return psychometrics.English{}.Render(s) }

// trustInWords says how far the scores as a whole can be trusted.
func trustInWords(s *psychometrics.Summary) []string {
	// Alpha of incomplete answers rests on the mean number of answers.
	people := float64(s.Answers) / float64(s.Items)
	lines := []string{english(psychometrics.SayReliability(psychometrics.Reliability{Alpha: float64(s.Alpha), Low: float64(s.AlphaLow), High: float64(s.AlphaHigh),
		Level: float64(s.Level), Items: s.Items, People: people}))}
	if sem := float64(s.SEM); !math.IsNaN(sem) && people >= psychometrics.MinReliabilityPeople && !math.IsNaN(float64(s.Mean)) {
		lines = append(lines, "A number right of "+english(psychometrics.SayScore(math.Round(float64(s.Mean)), sem, 1)))
	}
	return lines
}

// shareText says in which range a share lies, or that there are too few answers
// to tell.
func shareText(right, of int) string {
	if of < psychometrics.MinShareAnswers {
		return "too few"
	}
	low, high := psychometrics.WilsonInterval(right, of)
	return fmt.Sprintf("%.2f–%.2f", low, high)
}

// sortsText says whether a question sorts people.
func sortsText(i psychometrics.ItemSummary) string {
	switch psychometrics.SayCorrelation(float64(i.ItemRest), i.Answered).Phrase {
	case psychometrics.PhraseCorrelation:
		return "yes"
	case psychometrics.PhraseCorrelationAgainst:
		return "wrong way"
	case psychometrics.PhraseCorrelationNone:
		return "not sure"
	}
	return "too few"
}

// sayPerson says an ability as the chance to answer a question of the average
// difficulty, which is 0: difficulties sum to zero.
func sayPerson(p psychometrics.PersonSummary) psychometrics.Statement {
	return psychometrics.SayAbility(psychometrics.Ability{Theta: float64(p.Ability), SE: float64(p.SE), Right: p.Right, Answered: p.Answered}, 0)
}

// chanceText is [sayPerson] in a cell of a table.
func chanceText(p psychometrics.PersonSummary) string {
	s := sayPerson(p)
	if s.Phrase != psychometrics.PhraseAbility {
		return "too few to tell"
	}
	chance := s.Values["chance"].Number
	return fmt.Sprintf("%.0f %% (%.0f to %.0f)", 100*chance, 100*s.Values["range"].Number, 100*s.Values["range"].High)
}

// thresholdText says where "too few" begins.
func thresholdText() string {
	return fmt.Sprintf("Too few: below %d answers for a share, below %d people for sorting and %d for reliability, above a standard error of %.2f for a chance; "+
		"rightpage help thresholds says why.", psychometrics.MinShareAnswers, psychometrics.MinCorrelationPeople, psychometrics.MinReliabilityPeople, psychometrics.MaxAbilitySE)
}
