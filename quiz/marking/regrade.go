package marking

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"time"

	"rightpage/banks"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/store"
)

// The keys of the detail of a quiz.NoticeRegraded notice, whose subject is the
// attempt. Scores are written with as many decimals as they need, two at most.
const (
	DetailAssignment = "assignment" // title; in notices of an assignment, too
	DetailReason     = "reason"
	DetailBefore     = "before"    // points
	DetailBeforeOf   = "before_of" // of how many
	DetailAfter      = "after"
	DetailAfterOf    = "after_of"
	DetailPassed     = "passed" // "true" or "false", after
)

// Preview tells what a change of keys would mean for everybody whose answers
// it touches: at the assignment, and at every other one of the same form. It
// changes nothing. Cause says in words what brings it about; people whose
// score changes read it. The rules in opt do not count: they are the form's.
func (m *Marker) Preview(ctx context.Context, assignment string, change grading.Change, cause string, opt grading.RegradeOptions) (*grading.RegradeReport, error) {
	f, err := m.formAt(ctx, assignment)
	if err != nil {
		return nil, err
	}
	list, err := m.corrections(ctx, f.ID)
	if err != nil {
		return nil, err
	}
	return m.preview(ctx, f, list, change, cause, opt)
}

// Apply regrades as [Marker.Preview] tells. Old gradings are kept, everybody
// whose score changes is told by a notice, the audit log says who did it and
// why, and attempts at the form that end later are marked by the new keys. It
// gives the report of what it did. A question that was withdrawn stays so,
// whatever is ruled on it later.
func (m *Marker) Apply(ctx context.Context, actor, assignment string, change grading.Change, cause string, opt grading.RegradeOptions) (*grading.RegradeReport, error) {
	f, err := m.formAt(ctx, assignment)
	if err != nil {
		return nil, err
	}
	c := correction{Cause: cause, Remedy: opt.Remedy, Void: opt.Void}
	list, err := m.corrections(ctx, f.ID)
	if err != nil {
		return nil, err
	}
	// What the change makes of every question, answered yet or not.
	var changes []grading.QuestionChange
	for _, q := range f.Questions() {
		cur, _ := current(q, list)
		qc := change(cur)
		qc.Question = q.ID
		changes = append(changes, qc)
		if qc.Since != "" {
			c.Since = qc.Since
		}
	}
	c.Rulings = rulingsOf(changes)
	return m.apply(ctx, actor, f, c, change)
}

// PreviewRevision is [Marker.Preview] with the answers of a revision of the
// catalog, whether in force or not, as the keys. Who answered by the literature
// of the day was right: unless opt says otherwise, either key counts.
func (m *Marker) PreviewRevision(ctx context.Context, assignment, catalog string, opt grading.RegradeOptions) (*grading.RegradeReport, error) {
	c, change, err := m.revision(ctx, catalog, opt)
	if err != nil {
		return nil, err
	}
	return m.Preview(ctx, assignment, change, c.Cause, grading.RegradeOptions{Remedy: c.Remedy, Void: c.Void})
}

// ApplyRevision is [Marker.Apply] with the answers of a revision of the catalog,
// as [Marker.PreviewRevision] tells. What people were granted is not taken back
// by applying it again with a harsher remedy.
func (m *Marker) ApplyRevision(ctx context.Context, actor, assignment, catalog string, opt grading.RegradeOptions) (*grading.RegradeReport, error) {
	c, change, err := m.revision(ctx, catalog, opt)
	if err != nil {
		return nil, err
	}
	f, err := m.formAt(ctx, assignment)
	if err != nil {
		return nil, err
	}
	return m.apply(ctx, actor, f, c, change)
}

func (m *Marker) revision(ctx context.Context, catalog string, opt grading.RegradeOptions) (correction, grading.Change, error) {
	e, err := m.l.Entry(ctx, catalog)
	if err != nil {
		return correction{}, nil, err
	}
	if opt.Remedy == "" {
		opt.Remedy = grading.Either
	}
	c := correction{Catalog: catalog, Since: e.Info.Revision, Remedy: opt.Remedy, Void: opt.Void,
		Cause: "revision " + e.Info.Revision + " of the catalog " + e.Info.Title}
	return c, grading.Revision(e.Resolver), nil
}

// formAt gives the form of an assignment.
func (m *Marker) formAt(ctx context.Context, assignment string) (*Form, error) {
	as, err := m.s.Assignment(ctx, assignment)
	if err != nil {
		return nil, err
	}
	return m.Form(ctx, as.Form)
}

// graded is an attempt with the grading that counts.
type graded struct {
	quiz.Attempt
	store.Grading
	assignment quiz.Assignment
}

// gradedAt lists the graded attempts at all assignments of a form.
func (m *Marker) gradedAt(ctx context.Context, form string) ([]graded, error) {
	assignments, err := m.s.Assignments(ctx)
	if err != nil {
		return nil, err
	}
	var out []graded
	for _, as := range assignments {
		if as.Form != form {
			continue
		}
		list, err := m.gradedOf(ctx, as)
		if err != nil {
			return nil, err
		}
		out = append(out, list...)
	}
	return out, nil
}

func (m *Marker) gradedOf(ctx context.Context, as quiz.Assignment) ([]graded, error) {
	attempts, err := m.s.AttemptsAt(ctx, as.ID)
	if err != nil {
		return nil, err
	}
	last, err := m.s.GradingsAt(ctx, as.ID)
	if err != nil {
		return nil, err
	}
	var out []graded
	for _, a := range attempts {
		if g, ok := last[a.ID]; ok && a.State == quiz.Graded {
			out = append(out, graded{a, g, as})
		}
	}
	return out, nil
}

// preview regrades without a trace.
func (m *Marker) preview(ctx context.Context, f *Form, list []correction, change grading.Change, cause string, opt grading.RegradeOptions) (*grading.RegradeReport, error) {
	attempts, err := m.gradedAt(ctx, f.ID)
	if err != nil {
		return nil, err
	}
	var responses []grading.Response
	holds := map[string]*banks.Question{}
	for _, a := range attempts {
		answers, err := m.s.Answers(ctx, a.Attempt.ID)
		if err != nil {
			return nil, err
		}
		latest := quiz.Latest(answers)
		for _, s := range a.Scores {
			q, ok := f.ByID(s.Question)
			if !ok {
				continue
			}
			if holds[q.ID] == nil {
				holds[q.ID], _ = current(q, list)
			}
			responses = append(responses, grading.Response{Ref: a.Attempt.ID, Person: a.Person, Question: holds[q.ID],
				Given: f.given(q, latest[q.ID].Value, &s), Score: s})
		}
	}
	opt.Rules = f.Rules()
	rep := grading.Regrade(responses, func(q *banks.Question) grading.QuestionChange {
		c := change(q)
		c.Question = q.ID
		return c
	}, cause, opt)
	return rep, keepsSome(rep, attempts)
}

// keepsSome reports an attempt that would be left without a question.
func keepsSome(rep *grading.RegradeReport, attempts []graded) error {
	left := map[string]int{}
	for _, a := range attempts {
		left[a.Attempt.ID] = len(a.Scores)
	}
	for _, r := range rep.Responses {
		if r.Withdrawn {
			if left[r.Ref]--; left[r.Ref] == 0 {
				return &quiz.Error{Code: quiz.Conflict, Text: "this would withdraw every question of an attempt", Mend: "credit the points to everybody instead"}
			}
		}
	}
	return nil
}

// given is what was answered, as it is graded: what a coordinator read it as
// where it could not be read for certain.
func (f *Form) given(q *banks.Question, raw string, last *grading.Score) string {
	if last != nil && last.Verdict != Unread && last.Verdict != grading.Blank && !f.readable(q, raw) {
		return last.Given
	}
	return raw
}

// apply keeps a correction and regrades by it.
func (m *Marker) apply(ctx context.Context, actor string, f *Form, c correction, change grading.Change) (*grading.RegradeReport, error) {
	if c.Cause == "" {
		return nil, &quiz.Error{Code: quiz.Invalid, Text: "the regrade has no reason", Mend: "say what changed the key; people whose score changes read it"}
	}
	list, err := m.corrections(ctx, f.ID)
	if err != nil {
		return nil, err
	}
	rep, err := m.preview(ctx, f, list, change, c.Cause, grading.RegradeOptions{Remedy: c.Remedy, Void: c.Void})
	if err != nil {
		return nil, err
	}
	if len(c.Rulings) == 0 && c.Catalog == "" {
		return rep, nil // there is nothing to correct
	}
	timer, err := m.guard(ctx, f.ID)
	if err != nil {
		return nil, err
	}
	if err := m.record(ctx, actor, f.ID, c); err != nil {
		return nil, err
	}
	if err := m.settleAll(ctx, actor, f); err != nil {
		return rep, err // Sweep completes it
	}
	_, err = m.s.FinishTimer(ctx, timer)
	return rep, err
}

// guard sets the timer that completes a regrading, should it be cut short.
func (m *Marker) guard(ctx context.Context, form string) (store.Timer, error) {
	t := store.Timer{Kind: regradeTimer, Subject: form, Due: m.now().Add(time.Minute)}
	return t, m.s.SetTimer(ctx, t)
}

// resume completes a regrading that may have been cut short.
func (m *Marker) resume(ctx context.Context, form string) error {
	f, err := m.Form(ctx, form)
	if err != nil {
		return err
	}
	if err := m.settleAll(ctx, "", f); err != nil {
		return err
	}
	return m.tellDecided(ctx, form)
}

// settleAll regrades every attempt at a form by the corrections that hold.
func (m *Marker) settleAll(ctx context.Context, actor string, f *Form) error {
	list, err := m.corrections(ctx, f.ID)
	if err != nil {
		return err
	}
	attempts, err := m.gradedAt(ctx, f.ID)
	if err != nil {
		return err
	}
	var failed []error
	for _, a := range attempts {
		if _, _, err := m.settle(ctx, actor, f, a.Attempt, list); err != nil {
			failed = append(failed, err)
		}
	}
	return errors.Join(failed...)
}

// settle regrades a graded attempt by the corrections that hold: questions that
// none of them touches keep their score. It tells whether anything changed.
// Doing it again changes nothing, and tells the person only what was not told.
func (m *Marker) settle(ctx context.Context, actor string, f *Form, a quiz.Attempt, list []correction) (quiz.Attempt, bool, error) {
	last, err := m.lastGrading(ctx, a)
	if err != nil || len(list) == 0 {
		return a, false, err
	}
	answers, err := m.s.Answers(ctx, a.ID)
	if err != nil {
		return a, false, err
	}
	latest := quiz.Latest(answers)
	before := map[string]*grading.Score{}
	for i := range last.Scores {
		before[last.Scores[i].Question] = &last.Scores[i]
	}
	scores := make([]grading.Score, 0, len(a.Questions))
	changed := false
	cause := ""
	for _, id := range a.Questions {
		q, ok := f.ByID(id)
		if !ok {
			return a, false, quiz.Errorf(quiz.Internal, "attempt %s asks question %s, which its form %s does not have", a.ID, id, f.ID)
		}
		old := before[id]
		if _, touched := current(q, list); !touched {
			if old != nil {
				scores = append(scores, *old)
			}
			continue
		}
		s, counts := f.corrected(q, f.given(q, latest[id].Value, old), list)
		if counts != (old != nil) || counts && !sameScore(old, &s) {
			changed = true
			cause = causeOf(q, list)
		} else if counts {
			s = *old
		}
		if counts {
			scores = append(scores, s)
		}
	}
	if !changed {
		if n := len(list); last.Number > 1 && last.Result.Reason == list[n-1].Cause {
			return a, false, m.tellRegraded(ctx, a, last.Number)
		}
		return a, false, nil
	}
	if len(scores) == 0 {
		return a, false, &quiz.Error{Code: quiz.Conflict, Text: "every question of attempt " + a.ID + " is withdrawn", Mend: "credit the points instead"}
	}
	r := f.result(scores)
	r.Reason = cause
	b, err := m.s.GradeAttempt(ctx, actor, a.ID, r, scores)
	if err != nil {
		return a, false, err
	}
	return b, true, m.tellRegraded(ctx, b, b.Gradings)
}

// causeOf is the cause of the last correction that touches a question.
func causeOf(q *banks.Question, list []correction) string {
	cause, cur := "", asMade(q)
	for i := range list {
		d := list[i].decide(cur)
		if d.Outcome != grading.Unchanged {
			cause = list[i].Cause
		}
		cur = d.next
	}
	return cause
}

func sameScore(a, b *grading.Score) bool {
	return a.Points == b.Points && a.Verdict == b.Verdict && a.Slip == b.Slip && a.Known == b.Known
}

// tellRegraded tells a person that an attempt was graded anew, if the person has
// been shown the score: whoever has not learns nothing of it by a notice, and
// sees it as it is then. A notice has an ID that follows from what it says, so
// that it is kept once.
func (m *Marker) tellRegraded(ctx context.Context, a quiz.Attempt, number int) error {
	list, err := m.s.Gradings(ctx, a.ID)
	if err != nil || number < 2 || number > len(list) {
		return err
	}
	as, err := m.s.Assignment(ctx, a.Assignment)
	if err != nil {
		return err
	}
	attempts, err := m.s.AttemptsOf(ctx, a.Person)
	if err != nil || !as.Shows(a, attempts, m.now()).Score {
		return err
	}
	was, is := list[number-2].Result, list[number-1].Result
	return m.s.AddNotices(ctx, []quiz.Notice{{ID: fmt.Sprintf("regraded/%s/%d", a.ID, number), Person: a.Person, Kind: quiz.NoticeRegraded, Subject: "attempt/" + a.ID,
		Detail: map[string]string{DetailAssignment: as.Title, DetailReason: is.Reason, DetailBefore: points(was.Points), DetailBeforeOf: points(was.Of),
			DetailAfter: points(is.Points), DetailAfterOf: points(is.Of), DetailPassed: strconv.FormatBool(is.Passed)}}})
}

// points writes points with two decimals at most.
func points(x float64) string {
	x, _ = strconv.ParseFloat(strconv.FormatFloat(x, 'f', 2, 64), 64)
	return strconv.FormatFloat(x, 'f', -1, 64)
}
