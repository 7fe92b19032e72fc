package technician

import (
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/marking"
	"rightpage/server/web"
)

// The entries of a request's context in which the owner of a record leaves the
// record that it read.
const (
	attemptEntry     = "technician attempt"
	certificateEntry = "technician certificate"
)

func (p *Pages) attemptOwner(c *web.Context) (string, error) {
	a, err := p.app.Store.Attempt(c.Ctx(), c.Param("attempt"))
	if err != nil {
		return "", err
	}
	c.Set(attemptEntry, a)
	return a.Person, nil
}

// work is an attempt with what it is an attempt at.
type work struct {
	Attempt    quiz.Attempt
	Assignment quiz.Assignment
	Form       *marking.Form
}

// load reads what an attempt is about. One whose time is up is ended and marked
// here, if no sweep was quicker.
func (p *Pages) load(c *web.Context) (work, error) {
	ctx := c.Ctx()
	a, _ := c.Get(attemptEntry).(quiz.Attempt)
	w := work{Attempt: a}
	if a.Overdue(c.Now()) {
		if _, err := p.app.Store.ExpireAttempt(ctx, a.ID); err != nil {
			return w, err
		}
		var err error
		if w.Attempt, err = p.app.Store.Attempt(ctx, a.ID); err != nil {
			return w, err
		}
	}
	if s := w.Attempt.State; s.Ended() && s != quiz.Graded {
		// What cannot be marked now is marked by a later sweep: the person is
		// told so, and nothing is lost.
		if marked, err := p.deps.Marker.Mark(ctx, a.ID); err == nil {
			w.Attempt = marked
		}
	}
	var err error
	if w.Assignment, err = p.app.Store.Assignment(ctx, a.Assignment); err != nil {
		return w, err
	}
	w.Form, err = p.deps.Marker.Form(ctx, w.Assignment.Form)
	return w, err
}

// working tells whether the attempt can be worked on.
func (w work) working() bool { return w.Attempt.State == quiz.Started }

// ask gives question n of the attempt, counted from 0.
func (w work) ask(n int) (marking.Ask, error) {
	if n >= 0 && n < len(w.Attempt.Questions) {
		if q, ok := w.Form.ByID(w.Attempt.Questions[n]); ok {
			return marking.AskOf(q, n+1), nil
		}
	}
	return marking.Ask{}, quiz.Errorf(quiz.NotFound, "the attempt has no question %d", n+1)
}

// Paths within the server.
func attemptPath(id string) string { return "/attempts/" + id }
func questionPath(id string, n int) string {
	return attemptPath(id) + "/questions/" + strconv.Itoa(n+1)
}

// attempt goes to where an attempt stands: the first question that is not
// answered, the review page if all are, or what became of it.
func (p *Pages) attempt(c *web.Context) error {
	w, err := p.load(c)
	if err != nil {
		return err
	}
	if !w.working() {
		return c.Go(attemptPath(w.Attempt.ID) + "/feedback")
	}
	latest, err := p.latest(c, w.Attempt)
	if err != nil {
		return err
	}
	for n, id := range w.Attempt.Questions {
		if latest[id].Value == "" {
			return c.Go(questionPath(w.Attempt.ID, n))
		}
	}
	return c.Go(attemptPath(w.Attempt.ID) + "/review")
}

func (p *Pages) latest(c *web.Context, a quiz.Attempt) (map[string]quiz.Response, error) {
	answers, err := p.app.Store.Answers(c.Ctx(), a.ID)
	if err != nil {
		return nil, err
	}
	return quiz.Latest(answers), nil
}

// untouched tells whether value is what a page showed that was made when version
// base of an answer stood.
func (p *Pages) untouched(c *web.Context, a quiz.Attempt, question string, base int, value string) (bool, error) {
	if base == 0 {
		return value == "", nil
	}
	answers, err := p.app.Store.Answers(c.Ctx(), a.ID)
	if err != nil {
		return false, err
	}
	i := slices.IndexFunc(answers, func(r quiz.Response) bool { return r.Question == question && r.Version == base })
	return i >= 0 && answers[i].Value == value, nil
}

// Mark is a question in the overview of an attempt.
type Mark struct {
	Number   int
	Answered bool
	Flagged  bool
	Here     bool
}

func (w work) marks(latest map[string]quiz.Response, flags []int, here int) []Mark {
	list := make([]Mark, len(w.Attempt.Questions))
	for n, id := range w.Attempt.Questions {
		list[n] = Mark{Number: n + 1, Answered: latest[id].Value != "", Flagged: slices.Contains(flags, n), Here: n == here}
	}
	return list
}

// Clockwork is what the part "left" of the templates shows of the time.
type Clockwork struct {
	Limited  bool
	Left     time.Duration
	Deadline time.Time
	Now      time.Time
}

func (w work) clock(c *web.Context) Clockwork {
	left, ok := w.Attempt.Left(c.Now())
	return Clockwork{Limited: ok, Left: left, Deadline: w.Attempt.Deadline, Now: c.Now()}
}

// Milli is a time as scripts count it.
func (k Clockwork) Milli(t time.Time) int64 { return t.UnixMilli() }

type questionPage struct {
	work
	Fields
	Clock    Clockwork
	Number   int // from 1
	Of       int
	Last     bool
	Base     int
	Key      string
	Answered int
	Flagged  bool
	Marks    []Mark
	Shown    int64 // when the page was made, in milliseconds
	Conflict *conflict
}

// conflict is an answer that was changed elsewhere while it was changed here.
type conflict struct {
	Saved []Said
	At    time.Time
}

func (q questionPage) PageTitle() string {
	return q.Assignment.Title + " " + strconv.Itoa(q.Number) + "/" + strconv.Itoa(q.Of)
}

// number reads which question an address is about, counted from 0.
func number(c *web.Context) int {
	n, err := strconv.Atoi(c.Param("n"))
	if err != nil {
		return -1
	}
	return n - 1
}

func (p *Pages) question(c *web.Context) error {
	w, err := p.load(c)
	if err != nil {
		return err
	}
	n := number(c)
	ask, err := w.ask(n)
	if err != nil {
		return err
	}
	if !w.working() {
		return p.over(c, w)
	}
	latest, err := p.latest(c, w.Attempt)
	if err != nil {
		return err
	}
	saved := latest[w.Attempt.Questions[n]]
	return p.showQuestion(c, http.StatusOK, w, n, latest, newFields(ask, entryOf(ask, saved.Value), nil), saved.Version, nil)
}

func (p *Pages) showQuestion(c *web.Context, status int, w work, n int, latest map[string]quiz.Response, f Fields, base int, clash *conflict) error {
	flags := flagsOf(c, w.Attempt)
	q := questionPage{work: w, Fields: f, Clock: w.clock(c), Number: n + 1, Of: len(w.Attempt.Questions), Last: n+1 == len(w.Attempt.Questions),
		Base: base, Key: web.NewKey(), Flagged: slices.Contains(flags, n), Marks: w.marks(latest, flags, n),
		Shown: c.Now().UnixMilli(), Conflict: clash}
	for _, m := range q.Marks {
		if m.Answered {
			q.Answered++
		}
	}
	return c.PageStatus(p.set, status, "technician-question", q)
}

// over answers a request about an attempt that has ended.
func (p *Pages) over(c *web.Context, w work) error {
	if c.WantsJSON() {
		return &quiz.Error{Code: quiz.Closed, Text: "the attempt has ended", Mend: "what was saved until then counts"}
	}
	return c.Go(attemptPath(w.Attempt.ID) + "/feedback")
}

// saved is what a script is told of an answer that was saved.
type saved struct {
	Version int   `json:"version"`
	At      int64 `json:"at"`             // milliseconds
	Left    int64 `json:"left,omitempty"` // milliseconds; absent: no limit
}

// refused is what a script is told of an answer that was not.
type refused struct {
	Code    quiz.Code         `json:"code"`
	Error   string            `json:"error"`
	Faults  map[string]string `json:"faults,omitempty"`
	Version int               `json:"version,omitempty"` // of the answer that stands, for a conflict
	Saved   []string          `json:"saved,omitempty"`   // and that answer
}

// saveAnswer saves an answer and goes on to where the button says. A script
// saves by the same address, and asks for JSON.
func (p *Pages) saveAnswer(c *web.Context) error {
	w, err := p.load(c)
	if err != nil {
		return err
	}
	n := number(c)
	ask, err := w.ask(n)
	if err != nil {
		return err
	}
	form := c.Form()
	entry := entryFrom(form, ask)
	clear := form.On("clear") || form.Raw("go") == "clear"
	if clear {
		entry = entryOf(ask, "")
	}
	base := form.Int("base", 0, 1<<30, 0)
	if !form.OK() {
		if c.WantsJSON() {
			return c.JSON(http.StatusUnprocessableEntity, refused{Code: quiz.Invalid, Error: c.T("error.invalid.title"), Faults: form.Faults})
		}
		if !w.working() {
			return p.over(c, w)
		}
		latest, err := p.latest(c, w.Attempt)
		if err != nil {
			return err
		}
		return p.showQuestion(c, http.StatusUnprocessableEntity, w, n, latest, newFields(ask, entry, form.Faults), base, nil)
	}
	id, value := w.Attempt.Questions[n], entry.value(ask.Form)
	var latest map[string]quiz.Response
	if !c.WantsJSON() {
		if latest, err = p.latest(c, w.Attempt); err != nil {
			return err
		}
		same := latest[id].Value == value
		if !same && latest[id].Version != base && !clear {
			// Answered on another device meanwhile. Who changed nothing on this one has
			// nothing to save and no conflict to settle.
			if same, err = p.untouched(c, w.Attempt, id, base, value); err != nil {
				return err
			}
		}
		if same {
			return p.move(c, w, n, form)
		}
	}
	r, _, err := p.app.Store.SaveAnswer(c.Ctx(), quiz.Save{Attempt: w.Attempt.ID, Question: id, Key: form.Key(), Base: base, Value: value,
		Spent: spent(form, c.Now())})
	switch code := quiz.ErrorCode(err); {
	case err == nil && c.WantsJSON():
		s := saved{Version: r.Version, At: r.At.UnixMilli()}
		if left, ok := w.Attempt.Left(c.Now()); ok {
			s.Left = max(1, left.Milliseconds())
		}
		return c.JSON(http.StatusOK, s)
	case err == nil:
		return p.move(c, w, n, form)
	case code == quiz.Conflict:
		if latest, err = p.latest(c, w.Attempt); err != nil {
			return err
		}
		stands := latest[id]
		if c.WantsJSON() {
			out := refused{Code: quiz.Conflict, Error: c.T("technician.conflict.title"), Version: stands.Version, Saved: []string{}}
			for _, s := range said(ask, stands.Value) {
				out.Saved = append(out.Saved, strings.TrimSpace(s.Label+" "+s.Text))
			}
			return c.JSON(http.StatusConflict, out)
		}
		return p.showQuestion(c, http.StatusConflict, w, n, latest, newFields(ask, entry, nil), stands.Version, &conflict{said(ask, stands.Value), stands.At})
	case code == quiz.Closed && !c.WantsJSON():
		c.Flash(c.T("technician.late"))
		return p.over(c, w)
	}
	return err
}

// maxSpent is the longest time on a question between two saves that is taken
// for work on it; what is longer was a break. Common practice, no source.
const maxSpent = 20 * time.Minute

// spent is the time on a question: as the script measured it, or since the page
// was made. The store bounds it by the time of the attempt.
func spent(f *web.Form, now time.Time) time.Duration {
	if ms, err := strconv.ParseInt(f.Raw("spent"), 10, 64); err == nil && ms > 0 {
		return min(time.Duration(min(ms, maxSpent.Milliseconds()))*time.Millisecond, maxSpent)
	}
	ms, err := strconv.ParseInt(f.Raw("shown"), 10, 64)
	if err != nil {
		return 0
	}
	if d := now.Sub(time.UnixMilli(ms)); d > 0 && d <= maxSpent {
		return d
	}
	return 0
}

// move goes to where the button that was pressed says.
func (p *Pages) move(c *web.Context, w work, n int, f *web.Form) error {
	id, to := w.Attempt.ID, f.Raw("go")
	switch to {
	case "review":
		return c.Go(attemptPath(id) + "/review")
	case "flag":
		toggleFlag(c, w.Attempt, n)
		return c.Go(questionPath(id, n))
	case "next", "previous":
		step := 1
		if to == "previous" {
			step = -1
		}
		if n+step >= len(w.Attempt.Questions) {
			return c.Go(attemptPath(id) + "/review")
		}
		return c.Go(questionPath(id, max(0, n+step)))
	}
	if k, err := strconv.Atoi(to); err == nil && k >= 1 && k <= len(w.Attempt.Questions) {
		return c.Go(questionPath(id, k-1))
	}
	return c.Go(questionPath(id, n))
}

type reviewPage struct {
	work
	Clock   Clockwork
	Marks   []Mark
	Blank   int
	Flagged int
	Key     string
}

// review is the last look before handing in.
func (p *Pages) review(c *web.Context) error {
	w, err := p.load(c)
	if err != nil {
		return err
	}
	if !w.working() {
		return p.over(c, w)
	}
	latest, err := p.latest(c, w.Attempt)
	if err != nil {
		return err
	}
	v := reviewPage{work: w, Clock: w.clock(c), Marks: w.marks(latest, flagsOf(c, w.Attempt), -1), Key: web.NewKey()}
	for _, m := range v.Marks {
		if !m.Answered {
			v.Blank++
		}
		if m.Flagged {
			v.Flagged++
		}
	}
	return c.Page(p.set, "technician-review", v)
}

// handIn hands an attempt in, once: the same again, from wherever, leads to the
// same receipt.
func (p *Pages) handIn(c *web.Context) error {
	w, err := p.load(c)
	if err != nil {
		return err
	}
	if w.working() {
		_, err = p.deps.Marker.HandIn(c.Ctx(), w.Attempt.ID, c.Form().Key())
		switch {
		case err == nil:
			c.Flash(c.T("technician.handedin"))
		case quiz.ErrorCode(err) == quiz.Closed: // meanwhile, from another window
		default:
			return err
		}
	}
	dropFlags(c, w.Attempt)
	return p.over(c, w)
}
