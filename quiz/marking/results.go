package marking

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"rightpage/banks"
	"rightpage/banks/resolver"
	"rightpage/grading"
	"rightpage/quiz"
)

// Results are what an assignment has come to so far: people × questions. They
// hold keys.
type Results struct {
	Assignment quiz.Assignment
	Form       *Form
	Columns    []Column      // questions of all variants
	Rows       []Row         // attempts, by name of the person and number
	Waiting    []quiz.Person // to whom it is assigned and who have not begun, by name
	Totals     Totals
}

// Column is a question and what was made of it, over graded attempts.
type Column struct {
	Question *banks.Question // with the key that holds today
	Places   []int           // its number in each variant, from 1; 0: not in it
	Asked    int             // graded attempts that were asked and of which it counts
	Right    int
	Blank    int
	Unread   int
	Points   float64
	Touched  bool // its key was corrected since the form was made
}

// Row is an attempt.
type Row struct {
	Attempt  quiz.Attempt
	Person   quiz.Person
	Site     string // name; may be empty
	Cells    []Cell // beside Results.Columns
	Answered int    // questions with an answer; of an attempt under way, too
	Spent    time.Duration
	Unread   int  // answers that a coordinator must look at
	Counts   bool // it is the best of the person's graded attempts
}

// Cell is an answer.
type Cell struct {
	Asked     bool // false: the variant does not have the question
	Withdrawn bool // it was graded, and does not count
	Graded    bool // the rest is set
	Verdict   grading.Verdict
	Points    float64
	Slip      resolver.Slip
	Known     bool // the wrong answer is one that a slip leads to
	Given     string
	Raw       string // as it was given
	Says      string
	Spent     time.Duration
	Changes   int // how often the answer was changed
}

// Totals sum up the graded attempts that count: the best of each person.
type Totals struct {
	People   int // to whom it is assigned
	Waiting  int // who have not begun
	Working  int // attempts under way
	Attempts int // graded
	Graded   int // people with a graded attempt
	Passed   int // of these
	Unread   int // answers that a coordinator must look at, in all attempts
	Mean     float64
	Median   float64 // both of the share of points; 0 while nobody is graded
	Slips    []grading.SlipCount
	Skills   []grading.SkillResult
}

// Results gives the results of an assignment.
func (m *Marker) Results(ctx context.Context, assignment string) (*Results, error) {
	as, err := m.s.Assignment(ctx, assignment)
	if err != nil {
		return nil, err
	}
	f, err := m.Form(ctx, as.Form)
	if err != nil {
		return nil, err
	}
	list, err := m.corrections(ctx, f.ID)
	if err != nil {
		return nil, err
	}
	attempts, err := m.s.AttemptsAt(ctx, assignment)
	if err != nil {
		return nil, err
	}
	last, err := m.s.GradingsAt(ctx, assignment)
	if err != nil {
		return nil, err
	}
	people, sites, err := m.people(ctx)
	if err != nil {
		return nil, err
	}
	r := &Results{Assignment: as, Form: f}
	at := map[string]int{}
	for _, q := range f.Questions() {
		at[q.ID] = len(r.Columns)
		cur, touched := current(q, list)
		c := Column{Question: cur, Touched: touched, Places: make([]int, len(f.Variants))}
		for v := range f.Variants {
			c.Places[v] = 1 + slices.IndexFunc(f.Variants[v].Questions, func(x *banks.Question) bool { return x.ID == q.ID })
		}
		r.Columns = append(r.Columns, c)
	}
	begun := map[string]bool{}
	for _, a := range attempts {
		begun[a.Person] = true
		answers, err := m.s.Answers(ctx, a.ID)
		if err != nil {
			return nil, err
		}
		p := people[a.Person]
		row := Row{Attempt: a, Person: p, Site: sites[p.Site], Cells: make([]Cell, len(r.Columns))}
		row.fill(at, answers, last[a.ID].Scores)
		for i := range row.Cells {
			r.Columns[i].add(&row.Cells[i])
		}
		r.Totals.Unread += row.Unread
		r.Rows = append(r.Rows, row)
	}
	for _, p := range people {
		if as.For(p) && p.Active(m.now()) {
			r.Totals.People++
			if !begun[p.ID] {
				r.Waiting = append(r.Waiting, p)
			}
		}
	}
	byName := func(a, b quiz.Person) int {
		return cmp.Or(cmp.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name)), cmp.Compare(a.ID, b.ID))
	}
	slices.SortFunc(r.Waiting, byName)
	slices.SortFunc(r.Rows, func(a, b Row) int {
		return cmp.Or(byName(a.Person, b.Person), cmp.Compare(a.Attempt.Number, b.Attempt.Number))
	})
	r.total(bestOf(r.Rows, func(id string) []grading.Score { return last[id].Scores }))
	return r, nil
}

// people gives everybody by ID, and the names of sites.
func (m *Marker) people(ctx context.Context) (map[string]quiz.Person, map[string]string, error) {
	list, err := m.s.People(ctx)
	if err != nil {
		return nil, nil, err
	}
	sites, err := m.s.Sites(ctx)
	if err != nil {
		return nil, nil, err
	}
	people, names := make(map[string]quiz.Person, len(list)), make(map[string]string, len(sites))
	for _, p := range list {
		people[p.ID] = p
	}
	for _, s := range sites {
		names[s.ID] = s.Name
	}
	return people, names, nil
}

func (r *Row) fill(at map[string]int, answers []quiz.Response, scores []grading.Score) {
	latest, spent := quiz.Latest(answers), spentOn(answers)
	changes := map[string]int{}
	for _, a := range answers {
		changes[a.Question] = max(changes[a.Question], a.Version-1)
	}
	isGraded := r.Attempt.State == quiz.Graded
	for _, id := range r.Attempt.Questions {
		i, ok := at[id]
		if !ok {
			continue
		}
		c := &r.Cells[i]
		c.Asked, c.Withdrawn, c.Raw, c.Spent, c.Changes = true, isGraded, latest[id].Value, spent[id], changes[id]
		if strings.TrimSpace(c.Raw) != "" {
			r.Answered++
		}
		r.Spent += c.Spent
	}
	if !isGraded {
		return
	}
	for _, s := range scores {
		i, ok := at[s.Question]
		if !ok {
			continue
		}
		c := &r.Cells[i]
		c.Withdrawn, c.Graded = false, true
		c.Verdict, c.Points, c.Slip, c.Known, c.Given, c.Says = s.Verdict, s.Points, s.Slip, s.Known, s.Given, s.Says
		if s.Verdict == Unread {
			r.Unread++
		}
	}
}

func (c *Column) add(x *Cell) {
	if !x.Graded {
		return
	}
	c.Asked++
	c.Points += x.Points
	switch x.Verdict {
	case grading.Right:
		c.Right++
	case grading.Blank:
		c.Blank++
	case Unread:
		c.Unread++
	}
}

// bestOf marks the attempts that count and gives their scores.
func bestOf(rows []Row, scores func(attempt string) []grading.Score) [][]grading.Score {
	best := map[string]int{}
	for i := range rows {
		a := &rows[i].Attempt
		if a.State != quiz.Graded {
			continue
		}
		if j, ok := best[a.Person]; !ok || share(a.Result) > share(rows[j].Attempt.Result) {
			best[a.Person] = i
		}
	}
	var out [][]grading.Score
	for i := range rows {
		if j, ok := best[rows[i].Attempt.Person]; ok && j == i {
			rows[i].Counts = true
			out = append(out, scores(rows[i].Attempt.ID))
		}
	}
	return out
}

func share(r quiz.Result) float64 {
	if r.Of <= 0 {
		return 0
	}
	return r.Points / r.Of
}

func (r *Results) total(counting [][]grading.Score) {
	t := &r.Totals
	t.Waiting = len(r.Waiting)
	var shares []float64
	for i := range r.Rows {
		a := &r.Rows[i].Attempt
		switch {
		case !a.State.Ended():
			t.Working++
		case a.State == quiz.Graded:
			t.Attempts++
		}
		if r.Rows[i].Counts {
			t.Graded++
			if a.Result.Passed {
				t.Passed++
			}
			shares = append(shares, share(a.Result))
		}
	}
	if n := len(shares); n > 0 {
		slices.Sort(shares)
		for _, s := range shares {
			t.Mean += s / float64(n)
		}
		t.Median = (shares[(n-1)/2] + shares[n/2]) / 2
	}
	slips, skills := map[resolver.Slip]int{}, map[string]*grading.SkillResult{}
	for _, scores := range counting {
		for i := range scores {
			s := &scores[i]
			eachSlip(s, func(x resolver.Slip) { slips[x]++ })
			k := skills[s.Skill]
			if k == nil {
				k = &grading.SkillResult{Skill: s.Skill}
				skills[s.Skill] = k
			}
			k.Points += s.Points
			k.Of++
		}
	}
	for x, n := range slips {
		t.Slips = append(t.Slips, grading.SlipCount{Slip: x, Times: n})
	}
	for _, k := range skills {
		t.Skills = append(t.Skills, *k)
	}
	slices.SortFunc(t.Slips, func(a, b grading.SlipCount) int { return cmp.Or(b.Times-a.Times, cmp.Compare(a.Slip, b.Slip)) })
	slices.SortFunc(t.Skills, func(a, b grading.SkillResult) int { return cmp.Compare(a.Skill, b.Skill) })
}

// eachSlip calls f for every known slip behind a score: of a chase, those of
// its steps.
func eachSlip(s *grading.Score, f func(resolver.Slip)) {
	if len(s.Steps) == 0 {
		if s.Known && s.Slip != resolver.NoSlip {
			f(s.Slip)
		}
		return
	}
	for _, st := range s.Steps {
		if st.Known && st.Slip != resolver.NoSlip && st.Verdict == grading.Wrong {
			f(st.Slip)
		}
	}
}
