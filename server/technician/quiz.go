package technician

import (
	"slices"
	"time"

	"rightpage/banks"
	"rightpage/quiz"
	"rightpage/server/web"
)

// Stand is where a person stands with an assignment.
type Stand string

// The stands.
const (
	UnderWay Stand = "under way"
	ToDo     Stand = "to do"
	Again    Stand = "again" // done, and may be tried again
	Done     Stand = "done"
	Coming   Stand = "coming"
	Missed   Stand = "missed"
)

// Item is an assignment as the person it is addressed to sees it.
type Item struct {
	Assignment quiz.Assignment
	Stand      Stand
	Attempt    *quiz.Attempt // under way, or the last one that ended; nil: none
	Made       int           // attempts
	Left       int           // attempts that may still be started
	Closes     time.Time     // zero: never
	TimeLeft   time.Duration // of the attempt under way
	Limited    bool          // it has a time limit
	Result     *quiz.Result  // of Attempt, if it may be shown
}

// itemOf judges an assignment by the attempts that a person made, of any
// assignment.
func itemOf(a quiz.Assignment, person string, attempts []quiz.Attempt, now time.Time) Item {
	x := Item{Assignment: a, Closes: a.ClosesFor(person)}
	var mine []quiz.Attempt
	for _, t := range attempts {
		if t.Assignment == a.ID {
			mine = append(mine, t)
		}
	}
	slices.SortFunc(mine, func(a, b quiz.Attempt) int { return b.Number - a.Number })
	x.Made = len(mine)
	closed := !x.Closes.IsZero() && !now.Before(x.Closes)
	if !closed {
		x.Left = max(0, a.Attempts-x.Made)
	}
	if len(mine) > 0 {
		x.Attempt = &mine[0]
		if a.Shows(mine[0], attempts, now).Score {
			x.Result = &mine[0].Result
		}
	}
	switch {
	case x.Attempt != nil && x.Attempt.State == quiz.Started && !x.Attempt.Overdue(now):
		x.Stand = UnderWay
		x.TimeLeft, x.Limited = x.Attempt.Left(now)
	case x.Made > 0 && x.Left > 0:
		x.Stand = Again
	case x.Made > 0:
		x.Stand = Done
	case now.Before(a.Open):
		x.Stand = Coming
	case closed:
		x.Stand = Missed
	default:
		x.Stand = ToDo
	}
	return x
}

// item reads an assignment that is addressed to the visitor, or that they have
// an attempt at.
func (p *Pages) item(c *web.Context) (Item, error) {
	ctx := c.Ctx()
	a, err := p.app.Store.Assignment(ctx, c.Param("assignment"))
	if err != nil {
		return Item{}, err
	}
	attempts, err := p.app.Store.AttemptsOf(ctx, c.Visitor.ID)
	if err != nil {
		return Item{}, err
	}
	x := itemOf(a, c.Visitor.ID, attempts, c.Now())
	if !a.For(*c.Visitor) && x.Made == 0 {
		return Item{}, quiz.Errorf(quiz.NotFound, "there is no such record, or none that you may see")
	}
	return x, nil
}

type quizPage struct {
	Item
	Questions int
	Limit     time.Duration
	OpenBook  bool
	Partly    bool
	Cut       float64
	Hazards   bool
	CanStart  bool
}

func (q quizPage) PageTitle() string { return q.Assignment.Title }

// quiz is the start page of an assigned quiz: its rules, before the clock runs.
func (p *Pages) quiz(c *web.Context) error {
	x, err := p.item(c)
	if err != nil {
		return err
	}
	f, err := p.deps.Marker.Form(c.Ctx(), x.Assignment.Form)
	if err != nil {
		return err
	}
	v := quizPage{Item: x, Limit: x.Assignment.LimitFor(c.Visitor.ID), OpenBook: f.Blueprint.Book == banks.OpenBook,
		Partly: f.Blueprint.PartialCredit, Cut: f.Blueprint.Cut, CanStart: x.Stand == ToDo || x.Stand == Again && !c.Now().Before(x.Assignment.Open)}
	if len(f.Variants) > 0 {
		v.Questions = len(f.Variants[0].Questions)
		v.Hazards = slices.ContainsFunc(f.Questions(), func(q *banks.Question) bool { return len(q.Hazards)+len(q.Cautions) > 0 })
	}
	return c.Page(p.set, "technician-quiz", v)
}

// startQuiz starts the next attempt, or goes on with the one under way.
func (p *Pages) startQuiz(c *web.Context) error {
	x, err := p.item(c)
	if err != nil {
		return err
	}
	a, err := p.deps.Marker.Begin(c.Ctx(), x.Assignment.ID, c.Visitor.ID)
	switch {
	case quiz.ErrorCode(err) == quiz.Closed: // the start page says why it is too late, or too early
		c.Flash(c.T("technician.notnow"))
		return c.Go("/quizzes/" + x.Assignment.ID)
	case err != nil:
		return err
	}
	return c.Go(attemptPath(a.ID))
}
