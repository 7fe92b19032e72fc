package grading

import (
	"cmp"
	"slices"

	"rightpage/banks"
)

// Response is an answer that was graded before.
type Response struct {
	Ref      string          // what the caller knows it by
	Person   string          // whose it is
	Question *banks.Question // as it was asked
	Given    string          // as it was entered
	Score    Score           // the score that stands
}

// Remedy is what a new key means for an answer that was right by the old one.
type Remedy string

// The remedies.
const (
	NewKey Remedy = "the new key counts" // for corrections: the old key was wrong
	// Either is for revisions: who answered by the literature of the day was
	// right, and a question that has become void since was none then.
	Either Remedy = "either key counts"
)

// VoidRemedy is what becomes of answers to a question that is void.
type VoidRemedy string

// The remedies for void questions.
const (
	Withdraw VoidRemedy = "withdrawn for everybody" // it counts for nobody, neither as points nor as a question
	Credit   VoidRemedy = "credited to everybody"   // everybody who was asked has the point
)

// RegradeOptions declare how to regrade.
type RegradeOptions struct {
	Rules  Rules
	Remedy Remedy     // NewKey if empty
	Void   VoidRemedy // Withdraw if empty
}

// ResponseChange is a response whose score changes. The old score is kept
// beside the new one.
type ResponseChange struct {
	Ref       string  `json:"ref"`
	Person    string  `json:"person"`
	Question  string  `json:"question"`
	Given     string  `json:"given"`
	Before    Score   `json:"before"`
	After     *Score  `json:"after"` // nil: the question is withdrawn
	Withdrawn bool    `json:"withdrawn,omitempty"`
	Delta     float64 `json:"delta"` // of points; 0 where only the diagnosis changes
	Why       string  `json:"why"`
}

// OpenResponse is a response that a person must look at; its old score stands
// until then.
type OpenResponse struct {
	Ref      string `json:"ref"`
	Person   string `json:"person"`
	Question string `json:"question"`
	Given    string `json:"given"`
	Before   Score  `json:"before"`
	Why      string `json:"why"`
}

// PersonChange is what regrading means for one person.
type PersonChange struct {
	Person  string  `json:"person"`
	Changed int     `json:"changed"` // responses
	Before  float64 `json:"before"`  // points
	Of      int     `json:"of"`      // questions that counted
	After   float64 `json:"after"`
	AfterOf int     `json:"after_of"`
}

// RegradeReport says what regrading changes and why. It is a proposal: nothing
// is changed until somebody applies it.
type RegradeReport struct {
	Cause      string           `json:"cause"`
	Remedy     Remedy           `json:"remedy"`
	VoidRemedy VoidRemedy       `json:"void_remedy"`
	Examined   int              `json:"examined"`   // responses
	Unaffected int              `json:"unaffected"` // whose question keeps its key
	Same       int              `json:"same"`       // whose question changes, but not their score
	Kept       int              `json:"kept"`       // better by the old key, and left so
	Undecided  int              `json:"undecided"`  // that a person must look at
	Open       []OpenResponse   `json:"open"`       // the undecided ones
	Questions  []QuestionChange `json:"questions"`  // those with any outcome but unchanged
	Responses  []ResponseChange `json:"responses"`  // those whose score changes
	People     []PersonChange   `json:"people"`     // those of whom a response changes
}

// Regrade finds out what a change means for responses that were graded before.
// It changes nothing. cause says in words what brought it about, such as
// "revision 2026-2 of the catalog" or "dispute 17".
//
// Every response is accounted for: Examined is the sum of Unaffected, Same,
// Kept, Undecided and the Responses listed.
func Regrade(old []Response, change Change, cause string, opt RegradeOptions) *RegradeReport {
	rep := &RegradeReport{
		Cause: cause, Remedy: cmp.Or(opt.Remedy, NewKey), VoidRemedy: cmp.Or(opt.Void, Withdraw),
		Examined: len(old), Open: []OpenResponse{}, Questions: []QuestionChange{}, Responses: []ResponseChange{}, People: []PersonChange{},
	}
	x := regrading{rep: rep, change: change, rules: opt.Rules, seen: map[string]int{}, graders: map[string]*Grader{}}
	for i := range old {
		x.response(&old[i])
	}
	rep.Questions = append(rep.Questions, x.changed()...)
	x.people(old)
	return rep
}

type regrading struct {
	rep     *RegradeReport
	change  Change
	rules   Rules
	changes []QuestionChange
	seen    map[string]int // question → index of changes
	graders map[string]*Grader
	touched []int // beside the responses: index of rep.Responses + 1
}

func (x *regrading) response(old *Response) {
	c := x.question(old.Question)
	c.Responses++
	r := ResponseChange{
		Ref: old.Ref, Person: old.Person, Question: old.Question.ID, Given: old.Given, Before: old.Score, Why: c.Why,
	}
	x.touched = append(x.touched, 0)
	switch c.Outcome {
	case Unchanged:
		x.rep.Unaffected++
		return
	case NeedsPerson:
		x.open(&r, c.Why)
		return
	case Void:
		if x.rep.Remedy == Either && c.Since != "" {
			x.rep.Kept++ // it could be answered by the literature of the day
			return
		}
		if x.rep.VoidRemedy == Withdraw {
			r.Withdrawn, r.Delta = true, -old.Score.Points
			break
		}
		after := old.Score
		after.Points, after.Verdict, after.Slip, after.Known, after.Steps = 1, Right, 0, false, nil
		after.Says = "The question is void; the point is credited: " + c.Why
		r.After, r.Delta = &after, 1-old.Score.Points
	case KeyChanged:
		after, err := x.grader(c).Grade(old.Given)
		if err != nil {
			// It was scored before, so that only the new key can have made it
			// doubtful.
			x.open(&r, "by the new key the answer cannot be read for certain: "+err.Error())
			return
		}
		after.Question = old.Question.ID
		if x.rep.Remedy == Either && after.Points < old.Score.Points {
			x.rep.Kept++
			return
		}
		if old.Score.Verdict == Right && after.Verdict == Wrong && !after.Known {
			after.Says = "It was right by the key that the question had before: " + c.Why + ". " + after.Says
		}
		if sameScore(&old.Score, &after) {
			x.rep.Same++
			return
		}
		r.After, r.Delta = &after, after.Points-old.Score.Points
	}
	x.rep.Responses = append(x.rep.Responses, r)
	x.touched[len(x.touched)-1] = len(x.rep.Responses)
}

func (x *regrading) open(r *ResponseChange, why string) {
	x.rep.Undecided++
	x.rep.Open = append(x.rep.Open, OpenResponse{r.Ref, r.Person, r.Question, r.Given, r.Before, why})
}

// sameScore tells whether two scores give the same points for the same reason.
func sameScore(a, b *Score) bool {
	return a.Points == b.Points && a.Verdict == b.Verdict && a.Slip == b.Slip && a.Known == b.Known
}

func (x *regrading) question(q *banks.Question) *QuestionChange {
	i, ok := x.seen[q.ID]
	if !ok {
		i = len(x.changes)
		x.seen[q.ID] = i
		x.changes = append(x.changes, x.change(q))
	}
	return &x.changes[i]
}

func (x *regrading) grader(c *QuestionChange) *Grader {
	g, ok := x.graders[c.Question]
	if !ok {
		g = NewGrader(c.New, x.rules)
		x.graders[c.Question] = g
	}
	return g
}

func (x *regrading) changed() []QuestionChange {
	return slices.DeleteFunc(x.changes, func(c QuestionChange) bool { return c.Outcome == Unchanged })
}

// people adds up points before and after of everybody of whom a response
// changes, over all responses that were given to be regraded.
func (x *regrading) people(old []Response) {
	at := map[string]int{}
	for i := range x.rep.Responses {
		p := x.rep.Responses[i].Person
		j, ok := at[p]
		if !ok {
			j = len(x.rep.People)
			at[p] = j
			x.rep.People = append(x.rep.People, PersonChange{Person: p})
		}
		x.rep.People[j].Changed++
	}
	for i := range old {
		j, ok := at[old[i].Person]
		if !ok {
			continue
		}
		p := &x.rep.People[j]
		p.Before += old[i].Score.Points
		p.Of++
		after, counts := old[i].Score.Points, 1
		if t := x.touched[i]; t > 0 {
			r := &x.rep.Responses[t-1]
			after += r.Delta
			if r.Withdrawn {
				counts = 0
			}
		}
		p.After += after
		p.AfterOf += counts
	}
}
