package technician

import (
	"math"
	"net/http"
	"strconv"
	"time"

	"rightpage/grading/psychometrics"
	"rightpage/quiz"
	"rightpage/quiz/marking"
	"rightpage/server/web"
)

type feedbackPage struct {
	work
	Review   marking.Review
	Rows     []Outcome
	Score    string // in words, with its margin
	Answered int
	More     int // attempts left
	Took     time.Duration
}

func (f feedbackPage) PageTitle() string { return f.Assignment.Title }

// feedback is the receipt of an attempt that has ended, and what may be shown of
// it by the release rule.
func (p *Pages) feedback(c *web.Context) error {
	w, err := p.load(c)
	if err != nil {
		return err
	}
	if !w.Attempt.State.Ended() {
		return c.Go(attemptPath(w.Attempt.ID))
	}
	v, err := p.deps.Marker.Review(c.Ctx(), w.Attempt.ID)
	if err != nil {
		return err
	}
	attempts, err := p.app.Store.AttemptsOf(c.Ctx(), w.Attempt.Person)
	if err != nil {
		return err
	}
	f := feedbackPage{work: w, Review: v, More: itemOf(w.Assignment, w.Attempt.Person, attempts, c.Now()).Left}
	for i, r := range v.Rows {
		if r.Given != "" {
			f.Answered++
		}
		o := outcomeIn(r, v)
		o.Path = attemptPath(w.Attempt.ID) + "/disputes/" + strconv.Itoa(i+1)
		f.Rows = append(f.Rows, o)
	}
	if !w.Attempt.Started.IsZero() && w.Attempt.Medium != quiz.OnPaper {
		f.Took = w.Attempt.Ended.Sub(w.Attempt.Started)
	}
	if v.Shown.Score {
		r := v.Attempt.Result
		cut := w.Form.Blueprint.Cut * r.Of
		f.Score = c.Words.Render(psychometrics.SayPass(r.Points, cut, errorOf(r.Points, r.Of), max(decimals(r.Points), decimals(cut))))
	}
	return c.Page(p.set, "technician-feedback", f)
}

// errorOf is the standard error of a number of points: how much they would vary
// from form to form if each question were drawn at random from those that might
// be asked. It is the binomial error (Lord 1955) of the share, shrunk towards a
// half so that full marks are not taken for certain (Agresti and Coull 1998).
func errorOf(points, of float64) float64 {
	const z2 = 1.96 * 1.96
	share := (points + z2/2) / (of + z2)
	return of * math.Sqrt(share*(1-share)/(of+z2))
}

// decimals is how many decimals points are written with.
func decimals(points float64) int {
	if points == math.Trunc(points) {
		return 0
	}
	return 1
}

type disputePage struct {
	work
	Row    Outcome
	Number int
	Reason string
	Faults map[string]string
}

// disputed reads the question that a dispute is about.
func (p *Pages) disputed(c *web.Context) (disputePage, error) {
	w, err := p.load(c)
	if err != nil {
		return disputePage{}, err
	}
	if !w.Attempt.State.Ended() {
		return disputePage{}, &quiz.Error{Code: quiz.Closed, Text: "the attempt has not ended", Mend: "hand in first"}
	}
	v, err := p.deps.Marker.Review(c.Ctx(), w.Attempt.ID)
	if err != nil {
		return disputePage{}, err
	}
	n := number(c)
	if n < 0 || n >= len(v.Rows) {
		return disputePage{}, quiz.Errorf(quiz.NotFound, "the attempt has no question %d", n+1)
	}
	return disputePage{work: w, Row: outcomeIn(v.Rows[n], v), Number: n + 1}, nil
}

func (p *Pages) dispute(c *web.Context) error {
	d, err := p.disputed(c)
	if err != nil {
		return err
	}
	return c.Page(p.set, "technician-dispute", d)
}

// maxReason bounds the reason of a dispute, in characters.
const maxReason = 900

func (p *Pages) openDispute(c *web.Context) error {
	d, err := p.disputed(c)
	if err != nil {
		return err
	}
	form := c.Form()
	d.Reason = form.Lines("reason", true, maxReason)
	if d.Faults = form.Faults; !form.OK() {
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "technician-dispute", d)
	}
	// A second click finds the dispute opened.
	if d.Row.Dispute == nil {
		_, err = p.app.Store.OpenDispute(c.Ctx(), d.Attempt.ID, d.Attempt.Questions[d.Number-1], d.Reason)
		if err != nil && quiz.ErrorCode(err) != quiz.Conflict {
			return err
		}
	}
	c.Flash(c.T("technician.disputed", "Number", d.Number))
	return c.Go(attemptPath(d.Attempt.ID) + "/feedback#q" + strconv.Itoa(d.Number))
}
