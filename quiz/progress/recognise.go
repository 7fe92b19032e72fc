package progress

import (
	"context"
	"slices"
	"strings"
	"time"

	"rightpage/banks/resolver"
	"rightpage/quiz"
)

// MostRecognised is how many people are named for their growth in a month.
const MostRecognised = 3

// before is how far back a month is compared with.
const before = 3 // months

// Recognition is whose progress in a month deserves a word: who has come
// further than chance explains, and who kept at it. People who opted out
// (quiz.Person.Apart) or left are neither named nor counted.
type Recognition struct {
	Month    time.Time // its first day
	Over     bool      // the month is over; until then it can change
	Improved []Improved
	Quicker  []Quick
	Steady   []Kept
	// People is how many took part, Apart how many opted out.
	People, Apart int
}

// Improved is somebody who became better at a step of the lookup.
type Improved struct {
	Person quiz.Person
	Step   resolver.Step
	Before Share // in the three months before
	After  Share // in the month
}

// Quick is somebody who became quicker at whole lookups.
type Quick struct {
	Person        quiz.Person
	Before, After time.Duration // typical times
	Chases        int           // in the month
}

// Kept is somebody who practised in every week of the month.
type Kept struct {
	Person  quiz.Person
	Weeks   int
	Answers int // in the month
}

// Recognition says whose progress deserves a word in the month in which a time
// lies, in that time's zone: see [MostImproved], [Quicker], [Steadiest].
// Growth is judged against the three months before. Improved and Quicker name
// at most [MostRecognised] people, the surest first, and nobody where no
// growth stands out from chance; Steady names all who practised every week,
// by name.
func (p *Progress) Recognition(ctx context.Context, month time.Time) (Recognition, error) {
	start := monthOf(month)
	r := Recognition{Month: start}
	people, err := p.s.People(ctx)
	if err != nil {
		return r, err
	}
	if err := p.h.update(ctx); err != nil {
		return r, err
	}
	end := start.AddDate(0, 1, 0)
	now := p.o.Now()
	r.Over = !now.Before(end)
	var compared []Compared
	var steady []Steady
	byID := map[string]quiz.Person{}
	for _, who := range people {
		if !who.Has(quiz.Technician) || !who.Active(end.Add(-time.Second)) || !who.Active(now) {
			continue
		}
		if who.Apart {
			r.Apart++
			continue
		}
		byID[who.ID] = who
		r.People++
		answers := p.h.of(who.ID)
		in := between(answers, start, end)
		compared = append(compared, Compared{who.ID, between(answers, start.AddDate(0, -before, 0), start), in})
		steady = append(steady, steadyIn(who.ID, answers, in, start, end, who.Created, now))
	}
	for _, g := range MostImproved(compared) {
		if len(r.Improved) < MostRecognised {
			r.Improved = append(r.Improved, Improved{byID[g.Person], g.Step, g.Before, g.After})
		}
	}
	for _, g := range Quicker(compared) {
		if len(r.Quicker) < MostRecognised {
			r.Quicker = append(r.Quicker, Quick{byID[g.Person], seconds(g.Before), seconds(g.After), g.Chases})
		}
	}
	for _, s := range Steadiest(steady) {
		r.Steady = append(r.Steady, Kept{byID[s.Person], s.Weeks, s.Answers})
	}
	slices.SortStableFunc(r.Steady, func(a, b Kept) int { return strings.Compare(a.Person.Name, b.Person.Name) })
	return r, nil
}

// steadyIn counts the weeks practised of those that end in a month and are
// over, since the person came.
func steadyIn(person string, all, in []Answer, start, end, came, now time.Time) Steady {
	s := Steady{Person: person, Answers: len(in)}
	practised := map[string]bool{}
	for _, w := range Weeks(all, start.Location()) {
		if w.Practised() {
			practised[w.Starts.Format(time.DateOnly)] = true
		}
	}
	for monday := mondayOf(start); ; monday = monday.AddDate(0, 0, 7) {
		over := monday.AddDate(0, 0, 7)
		if over.After(end) || over.After(now) {
			return s
		}
		if !over.After(start) || monday.Before(mondayOf(came.In(start.Location()))) {
			continue
		}
		s.Of++
		if practised[monday.Format(time.DateOnly)] {
			s.Weeks++
		}
	}
}

// between gives the answers from one time up to but without another.
func between(answers []Answer, from, to time.Time) []Answer {
	at := func(t time.Time) int {
		i, _ := slices.BinarySearchFunc(answers, t, func(a Answer, t time.Time) int { return a.At.Compare(t) })
		return i
	}
	return answers[at(from):at(to)]
}

func seconds(s float64) time.Duration {
	return time.Duration(s * float64(time.Second)).Round(time.Second)
}
