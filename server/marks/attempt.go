package marks

import (
	"net/http"
	"strings"

	"rightpage/grading"
	"rightpage/grading/psychometrics"
	"rightpage/quiz"
	"rightpage/quiz/marking"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

// maxReason bounds a reason in characters.
const maxReason = 500

// attemptPage is one attempt with key and trace.
type attemptPage struct {
	head
	Person    quiz.Person
	Attempt   quiz.Attempt
	Variant   string
	Score     string // in words, with its uncertainty
	Spent     marking.Row
	Rows      []attemptRow
	Before    []store.Grading // all but the last
	Last      store.Grading
	Unread    int
	Faults    map[string]string
	Typed     map[string]string
	Certified string // number of the certificate it earned
}

// PageTitle names the page.
func (p attemptPage) PageTitle() string { return p.Person.Name + " – " + p.Assignment.Title }

// Graded tells whether there is a score.
func (p attemptPage) Graded() bool { return p.Attempt.State == quiz.Graded }

// Paper tells whether it was worked on paper.
func (p attemptPage) Paper() bool { return p.Attempt.Medium == quiz.OnPaper }

type attemptRow struct {
	keyed
	marking.Cell
	Steps  []grading.StepScore
	Trace  string // where it left the right path
	Column int    // of the grade table, from 1
}

func (p *Pages) attempt(c *web.Context) error {
	page, err := p.attemptOf(c)
	if err != nil {
		return err
	}
	return c.Page(p.set, "marks-attempt", page)
}

func (p *Pages) attemptOf(c *web.Context) (attemptPage, error) {
	ctx := c.Ctx()
	page := attemptPage{Person: *c.Subject, Typed: map[string]string{}}
	r, err := p.marker.Results(ctx, c.Param("assignment"))
	if err != nil {
		return page, err
	}
	page.head = headOf(c, r.Assignment, "grades")
	var row *marking.Row
	for i := range r.Rows {
		if r.Rows[i].Attempt.ID == c.Param("attempt") {
			row = &r.Rows[i]
		}
	}
	if row == nil {
		return page, quiz.Errorf(quiz.NotFound, "there is no such attempt at this assignment")
	}
	page.Attempt, page.Variant, page.Spent, page.Unread = row.Attempt, r.Form.Variants[row.Attempt.Variant].Name, *row, row.Unread
	scores := map[string]grading.Score{}
	if page.Graded() {
		list, err := p.store.Gradings(ctx, row.Attempt.ID)
		if err != nil {
			return page, err
		}
		if n := len(list); n > 0 {
			page.Before, page.Last = list[:n-1], list[n-1]
		}
		for _, s := range page.Last.Scores {
			scores[s.Question] = s
		}
		page.Score = p.scoreInWords(c, r.Form, row.Attempt)
		if page.Certified, err = p.certifiedBy(c, row.Attempt); err != nil {
			return page, err
		}
	}
	at := map[string]int{}
	for i, x := range r.Columns {
		at[x.Question.ID] = i
	}
	// Corrections give questions other IDs; the columns stand in the order of the
	// form's own.
	for i, q := range r.Form.Questions() {
		at[q.ID] = i
	}
	for n, id := range row.Attempt.Questions {
		i, ok := at[id]
		if !ok {
			continue
		}
		x := attemptRow{keyed: keyed{Question: r.Columns[i].Question, Number: n + 1, Touched: r.Columns[i].Touched}, Cell: row.Cells[i], Column: i + 1}
		if s, ok := scores[id]; ok {
			x.Steps, x.Trace = s.Steps, s.Trace.Result
		}
		page.Rows = append(page.Rows, x)
	}
	return page, nil
}

// scoreInWords says how far a score can be trusted, by the standard error of the
// variant where there are enough answers to know it.
func (p *Pages) scoreInWords(c *web.Context, f *marking.Form, a quiz.Attempt) string {
	st, err := p.marker.Statistics(c.Ctx(), a.Assignment)
	if err != nil || a.Variant >= len(st.Variants) {
		return ""
	}
	sem := float64(st.Variants[a.Variant].SEM)
	return c.Words.Render(psychometrics.SayPass(a.Result.Points, f.Blueprint.Cut*a.Result.Of, sem, 1))
}

// certifiedBy gives the number of the certificate that an attempt earned.
func (p *Pages) certifiedBy(c *web.Context, a quiz.Attempt) (string, error) {
	list, err := p.store.CertificatesOf(c.Ctx(), a.Person)
	if err != nil {
		return "", err
	}
	for _, x := range list {
		if x.Attempt == a.ID {
			return x.Number, nil
		}
	}
	return "", nil
}

// readAs settles an answer that could not be read for certain.
func (p *Pages) readAs(c *web.Context) error {
	page, err := p.attemptOf(c)
	if err != nil {
		return err
	}
	f := c.Form()
	n := f.Int("n", 1, len(page.Rows), 0)
	page.Faults = f.Faults
	if n == 0 {
		f.Fault("n", "fault.required")
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "marks-attempt", page)
	}
	id := page.Attempt.ID
	back := page.At("grades/"+id) + "#q" + itoa(n)
	if page.Rows[n-1].Verdict != marking.Unread {
		return c.Go(back) // a second click, or somebody else settled it
	}
	field := "reading-" + itoa(n)
	reading, reason := f.Text(field, false, quiz.MaxAnswer), f.Text("reason-"+itoa(n), true, maxReason)
	page.Typed[field], page.Typed["reason-"+itoa(n)] = reading, reason
	form, err := p.marker.Form(c.Ctx(), page.Assignment.Form)
	if err != nil {
		return err
	}
	if reading != "" && !f.On("blank") {
		if err := form.Readable(page.Attempt.Variant, n-1, reading); err != nil {
			f.Faults[field] = c.T("marks.unreadable", "Why", err.Error())
		}
	} else if reading == "" && !f.On("blank") {
		f.Fault(field, "marks.read.choose")
	}
	if !f.OK() {
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "marks-attempt", page)
	}
	if f.On("blank") {
		reading = ""
	}
	if _, err := p.marker.ReadAs(c.Ctx(), c.Visitor.ID, id, page.Attempt.Questions[n-1], reading, reason); err != nil && quiz.ErrorCode(err) != quiz.Closed {
		return err
	}
	c.Flash(c.T("marks.read.done", "Number", n))
	return c.Go(back)
}

// correctPage is the page on which answers from paper are corrected.
func (p *Pages) correctPage(c *web.Context) error {
	page, err := p.entryOf(c)
	if err != nil {
		return err
	}
	return c.Page(p.set, "marks-correct", page)
}

type correctPage struct {
	entry
	Attempt quiz.Attempt
	Version int
	Reason  string
	Stale   bool
	raw     []string // as it stands
}

// PageTitle names the page.
func (p correctPage) PageTitle() string { return p.Person.Name + " – " + p.Assignment.Title }

func (p *Pages) entryOf(c *web.Context) (correctPage, error) {
	ctx := c.Ctx()
	h, err := p.head(c, "grades")
	if err != nil {
		return correctPage{}, err
	}
	a, err := p.store.Attempt(ctx, c.Param("attempt"))
	if err != nil {
		return correctPage{}, err
	}
	if a.Medium != quiz.OnPaper {
		return correctPage{}, &quiz.Error{Code: quiz.Closed, Text: "the attempt was not worked on paper", Mend: "a wrong key is mended by a regrade"}
	}
	form, err := p.marker.Form(ctx, h.Assignment.Form)
	if err != nil {
		return correctPage{}, err
	}
	answers, err := p.store.Answers(ctx, a.ID)
	if err != nil {
		return correctPage{}, err
	}
	page := correctPage{entry: entry{head: h, Person: *c.Subject, Variant: a.Variant, VariantName: form.Variants[a.Variant].Name}, Attempt: a, Version: a.Version}
	latest := quiz.Latest(answers)
	for _, id := range a.Questions {
		page.raw = append(page.raw, latest[id].Value)
	}
	page.Fields = entryFields(form, a.Variant, page.raw)
	return page, nil
}

// correct corrects answers that were read or typed wrongly.
func (p *Pages) correct(c *web.Context) error {
	page, err := p.entryOf(c)
	if err != nil {
		return err
	}
	f := c.Form()
	page.Faults = f.Faults
	form, err := p.marker.Form(c.Ctx(), page.Assignment.Form)
	if err != nil {
		return err
	}
	answers := readEntry(f, &page.entry)
	page.Reason = f.Text("reason", true, maxReason)
	page.Keep = f.On("keep")
	if !page.Keep {
		p.checkEntry(c, f, form, &page.entry, answers)
	}
	changed := map[string]string{}
	for i, x := range answers {
		if x != strings.TrimSpace(page.raw[i]) {
			changed[page.Attempt.Questions[i]] = x
		}
	}
	back := page.At("grades/" + page.Attempt.ID)
	if len(changed) == 0 && f.OK() {
		return c.Go(back) // nothing differs: a second click
	}
	if v := f.Int("version", 1, 1<<30, 0); v != page.Attempt.Version {
		page.Stale = true
		return c.PageStatus(p.set, http.StatusConflict, "marks-correct", page)
	}
	if !f.OK() {
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "marks-correct", page)
	}
	if _, err := p.marker.CorrectPaper(c.Ctx(), c.Visitor.ID, page.Attempt.ID, changed, page.Reason); err != nil {
		return err
	}
	c.Flash(c.T("marks.correct.done", "Count", len(changed)))
	return c.Go(back)
}
