package api

import (
	"math"
	"slices"
	"time"

	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/server/web"
)

// Assignment is a quiz that was assigned.
type Assignment struct {
	ID           string    `json:"id"`
	Title        string    `json:"title"`
	Open         time.Time `json:"open"`
	Close        time.Time `json:"close,omitzero" jsonschema_description:"Absent: it does not close"`
	LimitSeconds float64   `json:"limit_seconds,omitempty" jsonschema_description:"Time for one attempt; absent: no limit"`
	Attempts     int       `json:"attempts" jsonschema:"minimum=1" jsonschema_description:"How often it may be tried"`
	Targets      []Target  `json:"targets,omitempty" jsonschema_description:"To whom it is assigned; for those who see all records"`
}

// Target is a person, a site or a role that something is addressed to.
type Target struct {
	Kind quiz.TargetKind `json:"kind" jsonschema:"enum=person,enum=site,enum=role"`
	ID   string          `json:"id"`
}

// Attempt is a person's work on an assignment.
type Attempt struct {
	ID         string      `json:"id"`
	Assignment string      `json:"assignment"`
	Person     string      `json:"person"`
	Number     int         `json:"number" jsonschema:"minimum=1"`
	Medium     quiz.Medium `json:"medium" jsonschema:"enum=screen,enum=paper"`
	State      quiz.State  `json:"state" jsonschema:"enum=open,enum=started,enum=handed in,enum=expired,enum=graded"`
	Questions  int         `json:"questions" jsonschema:"minimum=1"`
	Opened     time.Time   `json:"opened"`
	Started    time.Time   `json:"started,omitzero"`
	Deadline   time.Time   `json:"deadline,omitzero"`
	Ended      time.Time   `json:"ended,omitzero"`
	Result     *Result     `json:"result,omitempty" jsonschema_description:"Once graded and released"`
}

// Result is what an attempt came to.
type Result struct {
	Points   float64 `json:"points" jsonschema:"minimum=0"`
	Of       float64 `json:"of"`
	Low      float64 `json:"low" jsonschema:"minimum=0,maximum=1" jsonschema_description:"Share of the points to expect on other questions of the kind, with 95 % confidence (Wilson, points rounded to whole ones)"`
	High     float64 `json:"high" jsonschema:"minimum=0,maximum=1"`
	TooFew   bool    `json:"too_few" jsonschema_description:"Points to tell how the person would do on other questions: low and high can be half of the scale apart"`
	Passed   bool    `json:"passed"`
	Gradings int     `json:"gradings" jsonschema:"minimum=1" jsonschema_description:"How often it was graded; above 1, the last counts"`
}

// AttemptDetail is an attempt with how each question was answered.
type AttemptDetail struct {
	Attempt
	Answers []AnswerResult `json:"answers,omitempty" jsonschema_description:"Once graded and released; questions that were withdrawn are not there"`
}

// AnswerResult is how one question was answered. Neither the answer nor the key
// is told.
type AnswerResult struct {
	Position int             `json:"position" jsonschema:"minimum=1"`
	Skill    string          `json:"skill"`
	Kind     string          `json:"kind"`
	Verdict  grading.Verdict `json:"verdict" jsonschema:"enum=right,enum=partly,enum=wrong,enum=blank,enum=unread"`
	Points   float64         `json:"points" jsonschema:"minimum=0,maximum=1"`
	Slip     string          `json:"slip,omitempty" jsonschema_description:"The rule that was applied wrongly, if it is recognised"`
	Step     string          `json:"step,omitempty" jsonschema_description:"Of the lookup, where a wrong answer left the right path"`
}

func (p *Pages) workEndpoints() []endpoint {
	return []endpoint{
		{path: "/assignments", id: "listAssignments", tag: "Quizzes", summary: "Assignments", access: ofWork, answer: List[Assignment]{},
			about: "Those that are addressed to somebody whose records may be seen.", query: pageParameters,
			handle: func(c *web.Context) (any, error) {
				all, err := p.app.Store.Assignments(c.Ctx())
				if err != nil {
					return nil, err
				}
				people, err := p.peopleByID(c)
				if err != nil {
					return nil, err
				}
				all = slices.DeleteFunc(all, func(a quiz.Assignment) bool { return !addressed(c, a.Targets, people) })
				return page(c, each(all, func(a quiz.Assignment) Assignment { return assignmentOf(c, a) }), func(a Assignment) string { return a.ID })
			}},
		{path: "/assignments/:assignment", id: "getAssignment", tag: "Quizzes", summary: "An assignment", access: ofWork, answer: Assignment{},
			handle: func(c *web.Context) (any, error) {
				a, _, err := p.assignment(c)
				return assignmentOf(c, a), err
			}},
		{path: "/assignments/:assignment/attempts", id: "listAttemptsAt", tag: "Quizzes", summary: "Attempts at an assignment", access: ofWork,
			answer: List[Attempt]{}, query: pageParameters,
			handle: func(c *web.Context) (any, error) {
				of, people, err := p.assignment(c)
				if err != nil {
					return nil, err
				}
				made, err := p.app.Store.AttemptsAt(c.Ctx(), of.ID)
				if err != nil {
					return nil, err
				}
				var out []Attempt
				for _, a := range made {
					if owner := people[a.Person]; owner != nil && c.Covers(owner) {
						out = append(out, attemptOf(a, shows(c, of, a, made)))
					}
				}
				return page(c, out, attemptKey)
			}},
		{path: "/people/:person/attempts", id: "listAttemptsOf", tag: "Quizzes", summary: "Attempts of a person", access: ofWork,
			owner:  func(c *web.Context) (string, error) { return c.Param("person"), nil },
			answer: List[Attempt]{}, query: pageParameters,
			handle: func(c *web.Context) (any, error) {
				made, of, err := p.madeBy(c, c.Subject.ID)
				if err != nil {
					return nil, err
				}
				return page(c, each(made, func(a quiz.Attempt) Attempt { return attemptOf(a, shows(c, of[a.Assignment], a, made)) }), attemptKey)
			}},
		{path: "/attempts/:attempt", id: "getAttempt", tag: "Quizzes", summary: "An attempt with how each question was answered", access: ofWork,
			about: "What a technician sees of an own attempt is what the assignment's rule has released.",
			owner: func(c *web.Context) (string, error) {
				a, err := p.app.Store.Attempt(c.Ctx(), c.Param("attempt"))
				return a.Person, err
			},
			answer: AttemptDetail{},
			handle: func(c *web.Context) (any, error) {
				a, err := p.app.Store.Attempt(c.Ctx(), c.Param("attempt"))
				if err != nil {
					return nil, err
				}
				of, err := p.app.Store.Assignment(c.Ctx(), a.Assignment)
				if err != nil {
					return nil, err
				}
				others, err := p.app.Store.AttemptsOf(c.Ctx(), a.Person)
				if err != nil {
					return nil, err
				}
				shown := shows(c, of, a, others)
				out := AttemptDetail{Attempt: attemptOf(a, shown)}
				if !shown.Answers {
					return out, nil
				}
				gradings, err := p.app.Store.Gradings(c.Ctx(), a.ID)
				if err != nil || len(gradings) == 0 {
					return out, err
				}
				out.Answers = answersOf(a, gradings[len(gradings)-1].Scores)
				return out, nil
			}},
	}
}

// addressed tells whether something is addressed to somebody whose records may
// be seen.
func addressed(c *web.Context, to []quiz.Target, people map[string]*quiz.Person) bool {
	if c.Scope == web.All {
		return true
	}
	for _, p := range people {
		if p.Active(c.Now()) && c.Covers(p) && slices.ContainsFunc(to, func(t quiz.Target) bool { return t.Covers(*p) }) {
			return true
		}
	}
	return false
}

// assignment reads the assignment of the address, if it may be seen.
func (p *Pages) assignment(c *web.Context) (quiz.Assignment, map[string]*quiz.Person, error) {
	a, err := p.app.Store.Assignment(c.Ctx(), c.Param("assignment"))
	if err != nil {
		return a, nil, err
	}
	people, err := p.peopleByID(c)
	if err == nil && !addressed(c, a.Targets, people) {
		err = quiz.Errorf(quiz.NotFound, "there is no such assignment, or none that you may see")
	}
	return a, people, err
}

// shows tells what of an attempt may be told. Who sees only their own records is
// told what is released; coordinators and managers what is graded, except of
// their own attempts where they do not see all.
func shows(c *web.Context, of quiz.Assignment, a quiz.Attempt, others []quiz.Attempt) quiz.Shown {
	if c.Scope == web.All || c.Scope == web.Site && a.Person != c.Visitor.ID {
		graded := a.State == quiz.Graded
		return quiz.Shown{Score: graded, Answers: graded}
	}
	return of.Shows(a, others, c.Now())
}

func targetsOf(c *web.Context, list []quiz.Target) []Target {
	if c.Scope != web.All {
		return nil
	}
	return each(list, func(t quiz.Target) Target { return Target{t.Kind, t.ID} })
}

func assignmentOf(c *web.Context, a quiz.Assignment) Assignment {
	return Assignment{ID: a.ID, Title: a.Title, Open: instant(a.Open), Close: instant(a.Close), LimitSeconds: a.Limit.Seconds(), Attempts: a.Attempts,
		Targets: targetsOf(c, a.Targets)}
}

func attemptOf(a quiz.Attempt, shown quiz.Shown) Attempt {
	out := Attempt{ID: a.ID, Assignment: a.Assignment, Person: a.Person, Number: a.Number, Medium: a.Medium, State: a.State, Questions: len(a.Questions),
		Opened: instant(a.Opened), Started: instant(a.Started), Deadline: instant(a.Deadline), Ended: instant(a.Ended)}
	if shown.Score && a.State == quiz.Graded {
		r := a.Result
		low, high, enough := grading.PersonResult{Points: r.Points, Of: int(math.Round(r.Of))}.Expect()
		out.Result = &Result{Points: r.Points, Of: r.Of, Low: low, High: high, TooFew: !enough, Passed: r.Passed, Gradings: a.Gradings}
	}
	return out
}

// attemptKey orders attempts by when they were opened.
func attemptKey(a Attempt) string { return a.Opened.Format("20060102150405.000000 ") + a.ID }

func answersOf(a quiz.Attempt, scores []grading.Score) []AnswerResult {
	out := []AnswerResult{}
	for _, s := range scores {
		r := AnswerResult{Position: slices.Index(a.Questions, s.Question) + 1, Skill: s.Skill, Kind: s.Kind, Verdict: s.Verdict, Points: s.Points}
		if r.Slip, r.Step = slipOf(s); r.Position > 0 {
			out = append(out, r)
		}
	}
	slices.SortFunc(out, func(a, b AnswerResult) int { return a.Position - b.Position })
	return out
}

// slipOf names the slip of a score, and the step where it was made; empty for an
// answer that is right or was not given.
func slipOf(s grading.Score) (slip, step string) {
	if s.Verdict == grading.Right || s.Verdict == grading.Blank {
		return "", ""
	}
	if s.Known {
		slip = s.Slip.String()
	}
	return slip, s.Step.String()
}

// madeBy lists the attempts of a person, with their assignments by ID.
func (p *Pages) madeBy(c *web.Context, person string) ([]quiz.Attempt, map[string]quiz.Assignment, error) {
	made, err := p.app.Store.AttemptsOf(c.Ctx(), person)
	if err != nil {
		return nil, nil, err
	}
	all, err := p.app.Store.Assignments(c.Ctx())
	if err != nil {
		return nil, nil, err
	}
	of := map[string]quiz.Assignment{}
	for _, a := range all {
		of[a.ID] = a
	}
	return made, of, nil
}
