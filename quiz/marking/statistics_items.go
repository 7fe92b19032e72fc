package marking

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"rightpage/banks"
	"rightpage/banks/resolver"
	"rightpage/grading"
	"rightpage/grading/psychometrics"
)

// bands is the number of bands of people in option tables.
const bands = 3

// items describes each question.
func (st *Statistics) items(d *answered) {
	classical := psychometrics.ItemStatistics(d.responses)
	for i := range st.Items {
		it, c := &st.Items[i], classical[i]
		it.Answered, it.Right = c.Answered, c.Right
		it.P, it.Low, it.High, it.ItemRest = undefined(), undefined(), undefined(), undefined()
		it.Difficulty, it.SE, it.Infit, it.Outfit, it.OutfitZ = undefined(), undefined(), undefined(), undefined(), undefined()
		it.Share = psychometrics.SayShare(c.Right, c.Answered)
		if c.Answered >= psychometrics.MinShareAnswers {
			low, high := psychometrics.WilsonInterval(c.Right, c.Answered)
			it.P, it.Low, it.High = psychometrics.Number(c.P), psychometrics.Number(low), psychometrics.Number(high)
		}
		it.Sorts = psychometrics.SayCorrelation(c.ItemRest, c.Answered)
		if c.Answered >= psychometrics.MinCorrelationPeople {
			it.ItemRest = psychometrics.Number(c.ItemRest)
		}
		it.answers(d, i)
		if it.Question.Form == banks.OneOf {
			it.options(d, i)
		}
	}
}

// answers counts what was answered to question i.
func (it *ItemStatistics) answers(d *answered, i int) {
	type wrong struct{ given, slip string }
	times, slips := map[wrong]int{}, map[resolver.Slip]int{}
	var spent []time.Duration
	for v, row := range d.scores {
		s := row[i]
		if s == nil {
			continue
		}
		if t := d.spent[v][i]; t > 0 {
			spent = append(spent, t)
		}
		eachSlip(s, func(x resolver.Slip) { slips[x]++ })
		switch s.Verdict {
		case grading.Partly:
			it.Partly++
		case grading.Right, grading.Blank:
			continue
		}
		w := wrong{given: s.Given}
		if s.Known {
			w.slip = s.Slip.String()
		}
		times[w]++
	}
	if it.Question.Form != banks.OneOf {
		for w, n := range times {
			it.Wrong = append(it.Wrong, WrongLine{w.given, w.slip, n})
		}
		slices.SortFunc(it.Wrong, func(a, b WrongLine) int { return cmp.Or(b.Times-a.Times, cmp.Compare(a.Given, b.Given)) })
		it.Wrong = it.Wrong[:min(len(it.Wrong), mostWrong)]
	}
	for x, n := range slips {
		it.Slips = append(it.Slips, grading.SlipCount{Slip: x, Times: n})
	}
	slices.SortFunc(it.Slips, func(a, b grading.SlipCount) int { return cmp.Or(b.Times-a.Times, cmp.Compare(a.Slip, b.Slip)) })
	if n := len(spent); n >= psychometrics.MinTimedAnswers {
		slices.Sort(spent)
		it.Median = (spent[(n-1)/2] + spent[n/2]) / 2
	}
}

// chosen is the index of the option that was chosen, Omit or NotSeen.
func chosen(q *banks.Question, s *grading.Score) int {
	if s == nil {
		return psychometrics.NotSeen
	}
	if i := slices.IndexFunc(q.Options, func(o banks.Option) bool { return o.Text == s.Given }); i >= 0 && s.Verdict != grading.Blank {
		return i
	}
	return psychometrics.Omit
}

// options tabulates who chose which option of question i.
func (it *ItemStatistics) options(d *answered, i int) {
	q := it.Question
	choices, scores := make([]int, len(d.scores)), make([]float64, len(d.scores))
	for v, row := range d.scores {
		choices[v], scores[v] = chosen(q, row[i]), d.rest[v][i]
	}
	t, err := psychometrics.TabulateOptions(choices, len(q.Options), scores, bands)
	if err != nil {
		return // there are no options
	}
	n := 0
	for _, o := range t.Options {
		n += o.Chosen
	}
	for j, o := range t.Options {
		line := OptionLine{Letter: banks.Letter(j), Option: q.Options[j], Chosen: o.Chosen, ByGroup: o.ByGroup, Share: undefined(), Sorts: undefined()}
		if n >= psychometrics.MinShareAnswers {
			line.Share = psychometrics.Number(o.Share)
		}
		if n >= psychometrics.MinCorrelationPeople {
			line.Sorts = psychometrics.Number(o.PointBiserial)
		}
		it.Options = append(it.Options, line)
	}
	for j, g := range t.Groups {
		name := fmt.Sprintf("band %d of %d", j+1, bands)
		if g.People > 0 {
			name = fmt.Sprintf("%.0f–%.0f %%", 100*g.Low, 100*g.High)
		}
		it.Groups = append(it.Groups, name)
	}
}

// scale is what is known of difficulties and abilities.
type scale struct {
	difficulty []float64 // from the answers where there are enough people, else predicted
	abilities  []psychometrics.Ability
}

// rasch puts questions and people on one scale.
func (st *Statistics) rasch(d *answered) scale {
	x := scale{difficulty: make([]float64, len(d.questions))}
	for i, q := range d.questions {
		x.difficulty[i] = q.Logit
	}
	s, err := psychometrics.Summarize(d.responses)
	if err == nil {
		st.Notes = append(st.Notes, s.Notes...)
		enough := s.Informative >= psychometrics.MinCorrelationPeople
		estimated := make([]float64, len(d.questions))
		for i, r := range s.ItemRows {
			it := &st.Items[i]
			if !math.IsNaN(float64(r.SE)) && r.SE <= psychometrics.MaxAbilitySE {
				it.Difficulty, it.SE = r.Difficulty, r.SE
			}
			if enough && r.Answered >= psychometrics.MinCorrelationPeople {
				it.Infit, it.Outfit, it.OutfitZ = r.Infit, r.Outfit, r.OutfitZ
			}
			estimated[i] = float64(r.Difficulty)
		}
		if enough {
			x.difficulty = anchored(estimated, x.difficulty)
		}
	} else if !errors.Is(err, psychometrics.ErrEmpty) {
		st.Notes = append(st.Notes, err.Error())
	}
	x.abilities, err = psychometrics.Abilities(d.responses, x.difficulty, psychometrics.WLE)
	if err != nil {
		st.Notes = append(st.Notes, err.Error())
		return x
	}
	mean := 0.0
	for _, b := range x.difficulty {
		mean += b / float64(len(x.difficulty))
	}
	const draws, alarm = 500, 0.01
	// The same answers give the same result.
	rng := rand.New(rand.NewPCG(uint64(len(d.attempts)), 0x5eed))
	for v, a := range x.abilities {
		p := PersonAbility{Attempt: d.attempts[v].Attempt, Person: d.people[v], Ability: a, Says: psychometrics.SayAbility(a, mean)}
		p.Enough = p.Says.Phrase == psychometrics.PhraseAbility
		if fit, err := psychometrics.FitPerson(d.responses.Row(v), x.difficulty, draws, rng); err == nil {
			p.Pattern = psychometrics.SayFit(fit, alarm)
		} else {
			p.Pattern = psychometrics.Say(psychometrics.PhraseFitNone, nil)
		}
		st.Abilities = append(st.Abilities, p)
	}
	return x
}

// anchored fills in the prediction for questions that the answers do not
// calibrate, on the scale of those that they do.
func anchored(estimated, predicted []float64) []float64 {
	shift, n := 0.0, 0
	finite := func(b float64) bool { return !math.IsNaN(b) && !math.IsInf(b, 0) }
	for i, b := range estimated {
		if finite(b) {
			shift += b - predicted[i]
			n++
		}
	}
	out := slices.Clone(predicted)
	for i, b := range estimated {
		if finite(b) {
			out[i] = b
		} else if n > 0 {
			out[i] += shift / float64(n)
		}
	}
	return out
}
