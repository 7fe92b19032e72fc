package marking

import (
	"context"
	"math"
	"slices"
	"strings"
	"time"

	"rightpage/banks"
	"rightpage/grading"
	"rightpage/grading/psychometrics"
	"rightpage/quiz"
)

// Statistics is what answers tell of questions, of the quiz and of what to look
// at again. They hold keys.
//
// They rest on each person's first graded attempt: later ones are answered with
// the first in mind. A figure that there are too few answers for is NaN (null
// in JSON), and beside it stands a statement that says so: by the thresholds of
// package psychometrics, and for alpha by its interval, which must be narrower
// than half of the scale, the reason behind psychometrics.MinShareAnswers too.
type Statistics struct {
	Form        *Form
	Assignments []quiz.Assignment // whose attempts count
	People      int
	Variants    []VariantStatistics
	Items       []ItemStatistics
	Abilities   []PersonAbility
	Comparisons []Comparison
	Alike       []psychometrics.Statement // pairs of people whose answers are alike, or that there are none
	Look        []Look                    // what deserves another look, questions first
	Notes       []string                  // what could not be computed, and why
	Thresholds  []psychometrics.Threshold // below which nothing is claimed, and why
}

// VariantStatistics describe the score on a variant of the form: figures in
// points.
type VariantStatistics struct {
	Name      string
	People    int
	Questions int // that count for everybody
	Passed    int
	PassShare psychometrics.Statement
	Mean      psychometrics.Number
	SD        psychometrics.Number
	Median    psychometrics.Number
	// Alpha with its 95 % interval; SEM is the standard error of measurement.
	Alpha, AlphaLow, AlphaHigh psychometrics.Number
	SEM                        psychometrics.Number
	// Consistency is the chance that another quiz of the same kind would pass
	// and fail the same people, Accuracy that pass or fail is what the person
	// deserves (Livingston and Lewis).
	Consistency, Accuracy psychometrics.Number
	TooFew                string // what is not shown for too few answers, and what it would take; empty: nothing
}

// ItemStatistics describe a question.
type ItemStatistics struct {
	Question   *banks.Question // with the key that holds today
	Places     []int           // its number in each variant, from 1; 0: not in it
	Answered   int
	Right      int
	Partly     int
	Unread     int
	P          psychometrics.Number // share right
	Low, High  psychometrics.Number // its 95 % interval
	Share      psychometrics.Statement
	ItemRest   psychometrics.Number // corrected item-total correlation
	Sorts      psychometrics.Statement
	Difficulty psychometrics.Number // Rasch, logits; NaN while its standard error is above psychometrics.MaxAbilitySE
	SE         psychometrics.Number
	Predicted  float64              // logits, from its features
	Infit      psychometrics.Number // mean squares
	Outfit     psychometrics.Number
	OutfitZ    psychometrics.Number
	Median     time.Duration // time spent; 0 while there are too few
	Options    []OptionLine  // of a question with one right option
	Groups     []string      // names of the bands of people in Options
	Wrong      []WrongLine   // of other forms: wrong answers, the most frequent first
	Slips      []grading.SlipCount
	Disputes   int // open ones
}

// OptionLine is an option and who chose it.
type OptionLine struct {
	Letter  string
	Option  banks.Option
	Chosen  int
	Share   psychometrics.Number
	ByGroup []int                // by band of score on the rest, the lowest first
	Sorts   psychometrics.Number // correlation of choosing it with the score on the rest
}

// WrongLine is a wrong answer and how often it was given.
type WrongLine struct {
	Given string
	Slip  string // empty: not recognised
	Times int
}

// PersonAbility is the ability of a person, in words and logits.
type PersonAbility struct {
	Attempt quiz.Attempt
	Person  quiz.Person
	Ability psychometrics.Ability
	Enough  bool // it can be told; otherwise Says says that there are too few answers
	Says    psychometrics.Statement
	Pattern psychometrics.Statement // how usual the pattern of answers is
}

// mostWrong bounds the wrong answers that are listed of a question.
const mostWrong = 12

// Statistics gives the statistics of an assignment.
func (m *Marker) Statistics(ctx context.Context, assignment string) (*Statistics, error) {
	as, err := m.s.Assignment(ctx, assignment)
	if err != nil {
		return nil, err
	}
	list, err := m.gradedOf(ctx, as)
	if err != nil {
		return nil, err
	}
	return m.statistics(ctx, as.Form, []quiz.Assignment{as}, list)
}

// FormStatistics gives the statistics of a form over all its assignments: a
// workshop has few people, and more answers tell more.
func (m *Marker) FormStatistics(ctx context.Context, form string) (*Statistics, error) {
	all, err := m.s.Assignments(ctx)
	if err != nil {
		return nil, err
	}
	of := slices.DeleteFunc(all, func(a quiz.Assignment) bool { return a.Form != form })
	list, err := m.gradedAt(ctx, form)
	if err != nil {
		return nil, err
	}
	return m.statistics(ctx, form, of, list)
}

// answered is the data behind statistics: a person and question each.
type answered struct {
	f         *Form
	questions []*banks.Question // with the keys that hold
	at        map[string]int
	attempts  []graded
	people    []quiz.Person
	scores    [][]*grading.Score // people × questions; nil: not asked, withdrawn or not read
	spent     [][]time.Duration
	responses psychometrics.Responses
	rest      [][]float64 // people × questions: share of points on the other questions
}

func (m *Marker) statistics(ctx context.Context, form string, assignments []quiz.Assignment, list []graded) (*Statistics, error) {
	f, err := m.Form(ctx, form)
	if err != nil {
		return nil, err
	}
	corrections, err := m.corrections(ctx, form)
	if err != nil {
		return nil, err
	}
	people, sites, err := m.people(ctx)
	if err != nil {
		return nil, err
	}
	st := &Statistics{Form: f, Assignments: assignments, Thresholds: psychometrics.Thresholds(), Notes: []string{}}
	d := &answered{f: f, at: map[string]int{}}
	for _, q := range f.Questions() {
		d.at[q.ID] = len(d.questions)
		cur, _ := current(q, corrections)
		d.questions = append(d.questions, cur)
		it := ItemStatistics{Question: cur, Predicted: q.Logit, Places: make([]int, len(f.Variants))}
		for v := range f.Variants {
			it.Places[v] = 1 + slices.IndexFunc(f.Variants[v].Questions, func(x *banks.Question) bool { return x.ID == q.ID })
		}
		st.Items = append(st.Items, it)
	}
	d.attempts = firsts(list)
	st.People = len(d.attempts)
	unread := make([]int, len(d.questions))
	for _, a := range d.attempts {
		answers, err := m.s.Answers(ctx, a.Attempt.ID)
		if err != nil {
			return nil, err
		}
		d.add(a, people[a.Person], spentOn(answers), unread)
	}
	open, err := m.s.Disputes(ctx, quiz.DisputeOpen)
	if err != nil {
		return nil, err
	}
	ours := map[string]bool{}
	for _, a := range list {
		ours[a.Attempt.ID] = true
	}
	for _, x := range open {
		if i, ok := d.at[x.Question]; ok && ours[x.Attempt] {
			st.Items[i].Disputes++
		}
	}
	for i := range st.Items {
		st.Items[i].Unread = unread[i]
	}
	st.variants(d)
	if len(d.attempts) == 0 {
		st.Notes = append(st.Notes, "nobody has a graded attempt yet")
		return st, nil
	}
	d.prepare()
	st.items(d)
	x := st.rasch(d)
	st.compare(d, x, sites)
	st.alike(d, x)
	st.look()
	return st, nil
}

// firsts keeps the first graded attempt of each person.
func firsts(list []graded) []graded {
	first := map[string]int{}
	for i, a := range list {
		j, ok := first[a.Person]
		if !ok || a.Ended.Before(list[j].Ended) {
			first[a.Person] = i
		}
	}
	var out []graded
	for i, a := range list {
		if first[a.Person] == i {
			out = append(out, a)
		}
	}
	return out
}

func (d *answered) add(a graded, p quiz.Person, spent map[string]time.Duration, unread []int) {
	row, times := make([]*grading.Score, len(d.questions)), make([]time.Duration, len(d.questions))
	for i := range a.Scores {
		s := &a.Scores[i]
		c, ok := d.at[s.Question]
		switch {
		case !ok:
		case s.Verdict == Unread:
			unread[c]++
		default:
			row[c], times[c] = s, spent[s.Question]
		}
	}
	d.people = append(d.people, p)
	d.scores, d.spent = append(d.scores, row), append(d.spent, times)
}

// prepare makes the matrices: right (wholly) or not, and the share of points on
// the rest.
func (d *answered) prepare() {
	d.responses = psychometrics.New(len(d.scores), len(d.questions))
	for _, q := range d.questions {
		d.responses.Items = append(d.responses.Items, q.ID)
	}
	for v, row := range d.scores {
		d.responses.Persons = append(d.responses.Persons, d.people[v].ID)
		var points, of float64
		for i, s := range row {
			if s == nil {
				continue
			}
			points += s.Points
			of++
			x := int8(0)
			if s.Verdict == grading.Right {
				x = 1
			}
			d.responses.Set(v, i, x)
		}
		rest := make([]float64, len(row))
		for i, s := range row {
			switch {
			case s == nil && of > 0:
				rest[i] = points / of
			case of > 1:
				rest[i] = (points - s.Points) / (of - 1)
			}
		}
		d.rest = append(d.rest, rest)
	}
}

func undefined() psychometrics.Number { return psychometrics.Number(math.NaN()) }

// variants describes the scores on each variant.
func (st *Statistics) variants(d *answered) {
	for v := range d.f.Variants {
		x := VariantStatistics{Name: d.f.Variants[v].Name, Mean: undefined(), SD: undefined(), Median: undefined(),
			Alpha: undefined(), AlphaLow: undefined(), AlphaHigh: undefined(), SEM: undefined(), Consistency: undefined(), Accuracy: undefined()}
		var rows [][]*grading.Score
		for i, a := range d.attempts {
			if a.Variant == v {
				rows = append(rows, d.scores[i])
				if a.Attempt.Result.Passed {
					x.Passed++
				}
			}
		}
		x.People = len(rows)
		x.PassShare = psychometrics.SayShare(x.Passed, x.People)
		// Questions that do not count for somebody would make scores unequal.
		var columns []int
		for _, q := range d.f.Variants[v].Questions {
			i := d.at[q.ID]
			if !slices.ContainsFunc(rows, func(r []*grading.Score) bool { return r[i] == nil }) {
				columns = append(columns, i)
			}
		}
		x.Questions = len(columns)
		x.describe(rows, columns, d.f.Blueprint.Cut)
		st.Variants = append(st.Variants, x)
	}
}

func (x *VariantStatistics) describe(rows [][]*grading.Score, columns []int, cut float64) {
	matrix, totals := make([][]float64, len(rows)), make([]float64, len(rows))
	for v, r := range rows {
		for _, i := range columns {
			matrix[v] = append(matrix[v], r[i].Points)
			totals[v] += r[i].Points
		}
	}
	var few []string
	if n := len(totals); n > 0 {
		x.Mean, x.SD, x.Median = moments(totals)
	}
	const most = 0.5 // the widest interval of alpha that is shown
	rel, err := psychometrics.AlphaOfScores(matrix, 0.95)
	if err != nil || !(rel.High-rel.Low < most) || math.IsNaN(rel.Alpha) {
		few = append(few, "how far scores can be trusted (alpha, standard error): its interval is wider than half of the scale")
	} else {
		x.Alpha, x.AlphaLow, x.AlphaHigh = psychometrics.Number(rel.Alpha), psychometrics.Number(rel.Low), psychometrics.Number(rel.High)
		x.SEM = psychometrics.Number(psychometrics.StandardError(float64(x.SD), rel.Alpha))
	}
	if len(rows) >= psychometrics.MinCorrelationPeople && x.Alpha > 0 && x.Alpha < 1 {
		c, err := psychometrics.LivingstonLewis(totals, 0, float64(len(columns)), rel.Alpha, cut*float64(len(columns)))
		if err == nil {
			x.Consistency, x.Accuracy = psychometrics.Number(c.Consistency), psychometrics.Number(c.Accuracy)
		}
	} else {
		few = append(few, "how far pass and fail can be trusted")
	}
	x.TooFew = strings.Join(few, "; ")
}

// moments are the mean, the sample standard deviation and the median.
func moments(x []float64) (mean, sd, median psychometrics.Number) {
	sorted := slices.Sorted(slices.Values(x))
	n := len(sorted)
	m, s := 0.0, 0.0
	for _, v := range sorted {
		m += v / float64(n)
	}
	for _, v := range sorted {
		s += (v - m) * (v - m)
	}
	return psychometrics.Number(m), psychometrics.Number(math.Sqrt(s / float64(n-1))), psychometrics.Number((sorted[(n-1)/2] + sorted[n/2]) / 2)
}
