package psychometrics

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestPlainWords(t *testing.T) {
	skills := []string{"reading the data card", "edition for a build date", "service intervals"}
	date := time.Date(2026, time.May, 3, 0, 0, 0, 0, time.UTC)
	fluent := Fluency{Speed: Speed{Answers: 12}, Typical: 47, Low: 39, High: 121, Within: 0.81, Enough: true, Rushed: 3}
	look := ItemComparison{MantelHaenszelTest: MantelHaenszelTest{OddsRatio: 2.4}, Class: Large, Harder: Focal}
	other := ItemComparison{MantelHaenszelTest: MantelHaenszelTest{OddsRatio: 0.5}, Class: Moderate, Harder: Reference}
	for _, c := range []struct {
		said []Statement
		want string
	}{
		{[]Statement{SayShare(17, 20)}, "17 of 20 right (85 %). On other questions of this kind, expect between 64 % and 95 %."},
		{[]Statement{SayShare(12, 12)}, "12 of 12 right (100 %). On other questions of this kind, expect between 76 % and 100 %."},
		{[]Statement{SayShare(3, 4)}, "3 of 4 right. Too few to tell: 12 answers are needed."},
		{[]Statement{SayShare(0, 0)}, "0 of 0 right. Too few to tell: 12 answers are needed."},
		{[]Statement{SayChange(10, 20, 19, 20)}, "From 50 % to 95 %: better by more than chance would explain (by 18 % to 65 % of the questions)."},
		{[]Statement{SayChange(19, 20, 10, 20)}, "From 95 % to 50 %: worse by more than chance would explain (by 18 % to 65 % of the questions)."},
		{[]Statement{SayChange(14, 20, 15, 20)}, "From 70 % to 75 %: no more than chance would explain."},
		{[]Statement{SayChange(0, 0, 15, 20)}, "From unknown to 75 %. Too few to tell: 12 answers are needed each time."},
		{[]Statement{SayScore(72, 2.55, 0)}, "72, give or take 5: 19 times out of 20 the score that endless questions would show lies within that."},
		{[]Statement{SayPass(90, 80, 2.55, 0)}, "90, give or take 5: clearly above the cut score of 80."},
		{[]Statement{SayPass(80, 80, 2.55, 0)}, "80, give or take 5: above the cut score of 80, but so close that another set of questions might have decided otherwise."},
		{[]Statement{SayPass(79.5, 80, 2.55, 1)}, "79.5, give or take 5.0: below the cut score of 80.0, but so close that another set of questions might have decided otherwise."},
		{[]Statement{SayPass(60, 80, 2.55, 0)}, "60, give or take 5: clearly below the cut score of 80."},
		{[]Statement{SayAbility(Ability{Theta: 0.8, SE: 0.4, Answered: 30}, 0)}, "Chance to answer an average question rightly: about 7 in 10 (between 5 and 8 in 10)."},
		{[]Statement{SayAbility(Ability{Theta: 2.87, SE: 0.96, Answered: 20}, 0)}, "Chance to answer an average question rightly: about 9 in 10 (between 8 and 10 in 10)."},
		{[]Statement{SayAbility(Ability{Theta: 2.87, SE: 0.96, Answered: 5}, 0)}, "Too few answers to tell how able: 5 answers so far."},
		{[]Statement{SayAbility(Ability{Theta: 0.2, SE: 0.7, Answered: 20}, 0)}, "Too few answers to tell how able: 20 answers so far."},
		{[]Statement{SayAbility(Ability{Theta: math.NaN(), SE: math.Inf(1)}, 0)}, "Too few answers to tell how able: 0 answers so far."},
		{[]Statement{SayMastery(skills[0], 0.97, 14)}, "Reading the data card: very likely known (more than 19 in 20, from 14 answers)."},
		{[]Statement{SayMastery(skills[0], 0.8, 14)}, "Reading the data card: probably known (about 8 in 10, from 14 answers)."},
		{[]Statement{SayMastery(skills[0], 0.5, 14)}, "Reading the data card: not clear yet (about even that it is known, from 14 answers)."},
		{[]Statement{SayMastery(skills[0], 0.2, 14)}, "Reading the data card: probably not known yet (about 2 in 10 that it is, from 14 answers)."},
		{[]Statement{SayMastery(skills[0], 0.9, 1)}, "Reading the data card: too few to tell, 1 answer so far; 5 are needed."},
		{[]Statement{SayFading(MasteryParameters{Forget: math.Ln2 / 58})}, "Without practice about half of it is lost in 58 days."},
		{[]Statement{SayFading(MasteryParameters{})}, "Without practice about half of it is lost in 3650 days."},
		{SayFluency(fluent, 60), "Finds the answer in about 47 s (between 39 s and 2 min 01 s). Chance to find it within 60 s: about 8 in 10. 3 wrong answers came far faster than this person usually works: worth asking whether the page was looked up."},
		{SayFluency(Fluency{}, 60), "Speed: too few to tell, 0 timed answers so far; 8 are needed."},
		{SayReadiness(Readiness{Probability: 0.71, Low: 0.52, High: 0.83, Enough: true, Weakest: 1,
			Skills: []SkillReadiness{{Skill: 2, Answers: 9}, {Skill: 1, Answers: 7}}}, date, skills),
			"Chance to meet the requirement on 3 May 2026: about 7 in 10 (between 5 and 8 in 10). Least certain: edition for a build date."},
		{SayReadiness(Readiness{Probability: 0.4, Low: math.NaN(), High: math.NaN(), Skills: []SkillReadiness{{Skill: 2, Answers: 1}}}, date, skills),
			"Chance to meet the requirement on 3 May 2026: about 4 in 10 (close to 4 in 10). Too few answers to tell in service intervals (1 answer); 5 are needed in each. The chance shown is mostly that of people like this one."},
		{SayPlan(PracticePlan{Skills: []PlannedPractice{{1, 9}, {2, 5}}, Questions: 14, Low: 11, High: 19, After: 0.81, Reached: true}, skills),
			"About 14 practice questions (between 11 and 19): 9 on edition for a build date and 5 on service intervals. That brings the chance to about 8 in 10."},
		{SayPlan(PracticePlan{Skills: []PlannedPractice{{1, 1}}, Questions: 1, Low: 1, High: 1, After: 0.81, Reached: true}, skills),
			"About 1 practice question: 1 on edition for a build date. That brings the chance to about 8 in 10."},
		{SayPlan(PracticePlan{Before: 0.9, Reached: true}, skills), "No practice needed: the chance is about 9 in 10 already."},
		{SayPlan(PracticePlan{Before: 0.3}, skills), "Practice on that day would not help: the chance stays about 3 in 10."},
		{SayPlan(PracticePlan{Skills: []PlannedPractice{{0, 30}}, After: 0.58, Ceiling: 0.6}, skills),
			"The chance aimed at is out of reach by practice on that day: 30 on reading the data card would bring it to about 6 in 10, and no amount beyond about 6 in 10. Practise nearer to the date."},
		{SayPlan(PracticePlan{Untraced: []int{1, 2}}, skills),
			"How much practice it takes cannot be told yet for edition for a build date and service intervals: too few answers to tell how fast it is learned."},
		{[]Statement{SayComparison(look, "Upper Quay", "Marsh Lane")},
			"Look at this question: in the group “Marsh Lane” it is answered rightly clearly less often than by people of equal standing in “Upper Quay” (odds of a right answer 1 to 2.4). The wording, a missing page or a translation may be why."},
		{[]Statement{SayComparison(other, "Upper Quay", "Marsh Lane")},
			"Perhaps look at this question: in the group “Upper Quay” it is answered rightly somewhat less often than by people of equal standing in “Marsh Lane” (odds of a right answer 1 to 2.0)."},
		{[]Statement{SayComparison(ItemComparison{Class: Negligible}, "paper", "screen")}, "No difference worth speaking of between “screen” and “paper”."},
		{[]Statement{SayComparison(ItemComparison{FocalAnswers: 10, ReferenceAnswers: 16}, "paper", "screen")},
			"Too few to tell whether “screen” and “paper” differ: 10 and 16 answers; about 90 are needed in each."},
		{[]Statement{SayFit(PersonFit{LZ: -4, P: 0.001, Enough: true}, 0.01)},
			"Look again: easy questions missed and hard ones answered rightly, more than usual. A skipped page or a shifted sheet can do this; so it would come out for about 1 in 100 people with nothing unusual."},
		{[]Statement{SayFit(PersonFit{LZ: 0.4, P: 0.6, Enough: true}, 0.01)}, "Nothing unusual in the pattern of answers."},
		{[]Statement{SayFit(PersonFit{LZ: -3, P: 0.001, Ability: Ability{Answered: 8}}, 0.01)}, "Too few answers to tell whether the pattern is unusual: 8 so far; 15 are needed."},
		{[]Statement{SayFit(PersonFit{LZ: math.NaN(), P: math.NaN(), Ability: Ability{Answered: 20}}, 0.01)},
			"Whether the pattern is unusual cannot be told where all answers are right, all are wrong, or all questions are equally hard."},
		{SayAlike(AlikeScreen{Pairs: []AlikePair{{A: 0, B: 2, Common: 30, Same: 29, SameWrong: 8, Expected: 17.4}}, Compared: 66, FalseAlarms: 0.05}, []string{"A. Rowe", "", "C. Finch"}),
			"Look again at A. Rowe and C. Finch: the same answer to 29 of 30 questions (8 of them wrong), where about 17 would be expected. In such a comparison of 66 pairs at most 0.05 would be listed wrongly on average. Studying together or a shared misunderstanding can do this too."},
		{SayAlike(AlikeScreen{Compared: 66}, nil), "66 pairs compared: nobody's answers are more alike than chance would explain."},
		{SayAlike(AlikeScreen{}, nil), "Too few to tell: no two people answered 13 questions in common."},
		{[]Statement{SayCorrelation(0.45, 60)}, "People who do better on the rest also do better on this question (0.45, between 0.22 and 0.63)."},
		{[]Statement{SayReliability(Reliability{Alpha: 0.7, Low: 0.51, High: 0.83, People: 30})},
			"Reliability 0.70, between 0.51 and 0.83: about 70 % of the differences between scores would show again with other questions of the kind; the rest is chance."},
		{[]Statement{SayReliability(Reliability{Alpha: -0.2, Low: -0.9, High: 0.3, People: 40.5})},
			"Reliability −0.20, between −0.90 and 0.30: about 0 % of the differences between scores would show again with other questions of the kind; the rest is chance."},
		{[]Statement{SayReliability(Reliability{Alpha: 0.7, Low: 0.3, High: 0.9, People: 12})}, "Too few to tell how reliable the scores are: 12 people so far; 28 are needed."},
		{[]Statement{SayReliability(Reliability{Alpha: math.NaN(), People: 50})}, "Too few to tell how reliable the scores are: 50 people so far; 28 are needed."},
		{[]Statement{SayCorrelation(-0.5, 60)}, "People who do better on the rest do worse on this question (−0.50, between −0.67 and −0.28): look at its key and wording."},
		{[]Statement{SayCorrelation(-0.1, 60)}, "Whether people do better on the rest says nothing certain of this question (−0.10, between −0.35 and 0.16)."},
		{[]Statement{SayCorrelation(0.9, 12)}, "Too few to tell whether this question sorts people: 12 people so far; 30 are needed."},
		{[]Statement{SayForecasts(ForecastCheck{Count: 900, Error: 0.031, Floor: 0.028})},
			"Past forecasts held: over 900 forecasts, what was said and what happened differ by 3 % on average; chance alone would give 3 %."},
		{[]Statement{SayForecasts(ForecastCheck{Count: 900, Error: 0.12, Floor: 0.028})},
			"Past forecasts were off: over 900 forecasts, what was said and what happened differ by 12 % on average, where chance alone would give 3 %. Take forecasts with caution."},
		{[]Statement{SayForecasts(ForecastCheck{Count: 24})}, "Too few forecasts to tell how well they held: 24 so far; 300 are needed."},
	} {
		if got := RenderAll(English{}, c.said...); got != c.want {
			t.Errorf("got  %s\nwant %s", got, c.want)
		}
	}
}

func TestEveryPhraseHasAnEnglishSentence(t *testing.T) {
	seen := map[Phrase]bool{}
	for _, p := range Phrases() {
		if _, ok := englishSentence(p); !ok {
			t.Errorf("%s has none", p)
		}
		if seen[p] {
			t.Errorf("%s is listed twice", p)
		}
		seen[p] = true
	}
	for _, c := range Thresholds() {
		text := English{}.Render(c.Reason)
		if !seen[c.Phrase] || strings.ContainsAny(text, "{[") {
			t.Errorf("%s: %s", c.Phrase, text)
		}
	}
}

// upside is a catalog of another language in a few lines.
type upside struct{}

func (upside) Render(s Statement) string {
	return RenderTemplate("{of} : {right Antwort|Antworten} {nobody}", s,
		func(v Value) string { return "«" + English{}.value(v) + "»" },
		func(n float64, forms []string) string { return forms[0] })
}

func TestWordsCanBeReplaced(t *testing.T) {
	if got, want := (upside{}).Render(SayShare(3, 4)), "«4» : «3» Antwort {nobody}"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	// What another program has stored can be said later.
	said := SayReadiness(Readiness{Probability: 0.4, Low: 0.2, High: 0.5, Skills: []SkillReadiness{{}}}, time.Date(2026, 5, 3, 0, 0, 0, 0, time.UTC), []string{"x"})
	data, err := json.Marshal(said)
	if err != nil {
		t.Fatal(err)
	}
	var back []Statement
	if err := json.Unmarshal(data, &back); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(said, back); diff != "" {
		t.Error(diff)
	}
	unknown := Statement{Phrase: "new.one", Values: map[string]Value{"b": CountOf(2), "a": TextOf("x")}}
	if got, want := (English{}).Render(unknown), "[new.one: a: x, b: 2]"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestValuesInWords(t *testing.T) {
	for _, c := range []struct {
		value Value
		want  string
	}{
		{PercentOf(0.004), "under 1 %"}, {PercentOf(0), "0 %"}, {PercentOf(0.997), "over 99 %"}, {PercentOf(1), "100 %"}, {PercentOf(math.NaN()), "unknown"},
		{ChanceOf(0.01), "less than 1 in 20"}, {ChanceOf(0.05), "about 1 in 10"}, {ChanceOf(0.47), "about even"}, {ChanceOf(0.42), "about 4 in 10"},
		{ChanceOf(0.95), "about 9 in 10"}, {ChanceOf(0.951), "more than 19 in 20"}, {ChanceOf(math.NaN()), "unknown"},
		{BetweenOf(0.01, 0.33), "between 0 and 3 in 10"}, {BetweenOf(0.68, 0.72), "close to 7 in 10"}, {BetweenOf(math.NaN(), 1), "unknown"},
		{RareOf(0.05), "about 1 in 20"}, {RareOf(0.0003), "about 1 in 3,000"}, {RareOf(1e-9), "fewer than 1 in a million"}, {RareOf(0), "none"}, {RareOf(0.7), "about 7 in 10"}, {RareOf(math.NaN()), "an unknown share"},
		{SecondsOf(8.4), "8 s"}, {SecondsOf(119.7), "2 min 00 s"}, {SecondsOf(math.NaN()), "an unknown time"},
		{NumberOf(-0.04, 1), "0.0"}, {NumberOf(-0.4, 1), "−0.4"}, {ListOf(), ""},
	} {
		if got := (English{}).value(c.value); got != c.want {
			t.Errorf("%+v: got %q, want %q", c.value, got, c.want)
		}
	}
}

// Newcombe (1998), Statistics in Medicine 17, table II, method 10, 56/70 − 48/80:
// 0.0524 to 0.3339 (from memory).
func TestShareChange(t *testing.T) {
	low, high := ShareChange(48, 80, 56, 70)
	near(t, "low", low, 0.0524, 5e-5)
	near(t, "high", high, 0.3339, 5e-5)
	if low, high := ShareChange(0, 0, 1, 1); low != -1 || high != 1 {
		t.Errorf("no answers: %v, %v", low, high)
	}
}

// The thresholds are where their reasons say.
func TestThresholds(t *testing.T) {
	width := func(n int) float64 {
		low, high := WilsonInterval(n/2, n)
		return high - low
	}
	if !(width(MinShareAnswers) < 0.5 && width(MinShareAnswers-2) > 0.5) {
		t.Errorf("share: %v, %v", width(MinShareAnswers), width(MinShareAnswers-2))
	}
	near(t, "ability", Probability(1.645*MaxAbilitySE, 0)-Probability(-1.645*MaxAbilitySE, 0), 0.5, 0.02)
	near(t, "fluency", math.Exp(1.645*0.5/math.Sqrt(MinTimedAnswers)), 4.0/3, 0.02)
	near(t, "correlation", math.Tanh(1.96/math.Sqrt(MinCorrelationPeople-3)), 0.36, 0.005)
	// Equal groups, seven in ten right: the standard error of Δ is 2.35 √(2/(n p q)).
	near(t, "comparison", 2.35*math.Sqrt(2/(MinComparisonAnswers*0.7*0.3)), largestSE, 0.02)
	var p []float64
	for i := range MinForecasts {
		p = append(p, (float64(i)+0.5)/MinForecasts)
	}
	c, err := CheckForecasts(p, make([]bool, MinForecasts), 10)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "forecasts", c.Floor, 0.06, 0.005)
}

// The reason that is given for the threshold of reliability.
func TestReliabilityThreshold(t *testing.T) {
	width := func(people float64) float64 {
		r := feldt(0.7, 20, people, 0.95)
		return r.High - r.Low
	}
	t.Logf("%.3f at %d people, %.3f at one less", width(MinReliabilityPeople), MinReliabilityPeople, width(MinReliabilityPeople-1))
	if width(MinReliabilityPeople) > 1.0/3 || width(MinReliabilityPeople-1) <= 1.0/3 {
		t.Errorf("%.3f at %d people, %.3f at one less", width(MinReliabilityPeople), MinReliabilityPeople, width(MinReliabilityPeople-1))
	}
}
