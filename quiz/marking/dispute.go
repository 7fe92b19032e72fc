package marking

import (
	"cmp"
	"context"
	"strconv"

	"rightpage/grading"
	"rightpage/quiz"
)

// The keys of the detail of a quiz.NoticeDispute notice, whose subject is the
// dispute; DetailAssignment as well.
const (
	DetailState   = "state"   // accepted or rejected
	DetailVerdict = "verdict" // why
	DetailNumber  = "number"  // of the question, as the person saw it
	DetailAttempt = "attempt" // ID
)

// DisputeView is a dispute with all that it takes to decide it. It holds the
// key.
type DisputeView struct {
	quiz.Dispute
	Attempt    quiz.Attempt
	Assignment quiz.Assignment
	Person     quiz.Person
	Number     int           // of the question, as the person saw it
	Given      string        // as it was answered
	Score      grading.Score // as it stands
	Ask        Ask
	Key        string // the key that holds, in the form in which a ruling names it
	KeyText    string // and as people read it
	Others     int    // graded attempts that were asked the same question at this form
}

// Dispute gives a dispute with all that it takes to decide it.
func (m *Marker) Dispute(ctx context.Context, id string) (DisputeView, error) {
	var v DisputeView
	d, err := m.dispute(ctx, id)
	if err != nil {
		return v, err
	}
	v.Dispute = d
	if v.Attempt, err = m.s.Attempt(ctx, d.Attempt); err != nil {
		return v, err
	}
	if v.Assignment, err = m.s.Assignment(ctx, v.Attempt.Assignment); err != nil {
		return v, err
	}
	if v.Person, err = m.s.Person(ctx, d.Person); err != nil {
		return v, err
	}
	f, err := m.Form(ctx, v.Assignment.Form)
	if err != nil {
		return v, err
	}
	q, err := m.Current(ctx, f.ID, d.Question)
	if err != nil {
		return v, err
	}
	v.Number = numberOf(v.Attempt, d.Question)
	v.Ask, v.Key, v.KeyText = AskOf(q, v.Number), grading.KeyAnswer(q), q.KeyText()
	answers, err := m.s.Answers(ctx, d.Attempt)
	if err != nil {
		return v, err
	}
	v.Given = quiz.Latest(answers)[d.Question].Value
	all, err := m.gradedAt(ctx, f.ID)
	if err != nil {
		return v, err
	}
	for _, a := range all {
		if a.Attempt.ID != d.Attempt && a.Asks(d.Question) {
			v.Others++
		}
		for _, s := range a.Scores {
			if a.Attempt.ID == d.Attempt && s.Question == d.Question {
				v.Score = s
			}
		}
	}
	return v, nil
}

func numberOf(a quiz.Attempt, question string) int {
	for i, q := range a.Questions {
		if q == question {
			return i + 1
		}
	}
	return 0
}

// dispute finds a dispute.
func (m *Marker) dispute(ctx context.Context, id string) (quiz.Dispute, error) {
	for _, state := range []quiz.DisputeState{quiz.DisputeOpen, quiz.DisputeAccepted, quiz.DisputeRejected} {
		list, err := m.s.Disputes(ctx, state)
		if err != nil {
			return quiz.Dispute{}, err
		}
		for _, d := range list {
			if d.ID == id {
				return d, nil
			}
		}
	}
	return quiz.Dispute{}, quiz.Errorf(quiz.NotFound, "there is no such dispute")
}

// PreviewDispute tells what accepting a dispute with a ruling would change. The
// question of the ruling need not be named.
func (m *Marker) PreviewDispute(ctx context.Context, id string, ruling grading.Ruling) (*grading.RegradeReport, error) {
	d, err := m.dispute(ctx, id)
	if err != nil {
		return nil, err
	}
	f, ruling, err := m.disputed(ctx, d, ruling, "")
	if err != nil {
		return nil, err
	}
	list, err := m.corrections(ctx, f.ID)
	if err != nil {
		return nil, err
	}
	return m.preview(ctx, f, list, rulingsChange([]grading.Ruling{ruling}, ""), disputeCause(ruling.Why), grading.RegradeOptions{})
}

// disputed checks that a ruling can be carried out.
func (m *Marker) disputed(ctx context.Context, d quiz.Dispute, r grading.Ruling, verdict string) (*Form, grading.Ruling, error) {
	a, err := m.s.Attempt(ctx, d.Attempt)
	if err != nil {
		return nil, r, err
	}
	f, err := m.formOf(ctx, a)
	if err != nil {
		return nil, r, err
	}
	// Names do not go into the audit log, which cannot be erased.
	r.Question, r.Why, r.By = cmp.Or(r.Question, d.Question), cmp.Or(r.Why, verdict), ""
	if r.Question != d.Question {
		return nil, r, &quiz.Error{Code: quiz.Invalid, Text: "the ruling is on another question than the dispute", Mend: "leave the question out of it"}
	}
	q, err := m.Current(ctx, f.ID, d.Question)
	if err != nil {
		return nil, r, err
	}
	if c := grading.Rulings(r)(q); c.Outcome == grading.NeedsPerson {
		return nil, r, &quiz.Error{Code: quiz.Invalid, Text: c.Why, Mend: "write the key as an answer is written: the letter of an option, the text, or a number with its unit"}
	}
	return f, r, nil
}

func disputeCause(verdict string) string { return "an accepted dispute: " + verdict }

// DecideDispute accepts or rejects a dispute, once. If it is accepted, everybody
// who was asked the question, in every attempt at every assignment of the form,
// is regraded by the ruling, as by [Marker.Apply]; the report tells how. An
// accepted dispute needs a ruling that names a key or calls the question void.
// Whoever opened the dispute is told the verdict, and everybody whose score
// changes is told so.
func (m *Marker) DecideDispute(ctx context.Context, actor, id string, ruling grading.Ruling, accept bool, verdict string) (quiz.Dispute, *grading.RegradeReport, error) {
	d, err := m.dispute(ctx, id)
	if err != nil {
		return d, nil, err
	}
	if !accept {
		if d, err = m.s.DecideDispute(ctx, actor, id, false, verdict); err != nil {
			return d, nil, err
		}
		return d, nil, m.tellDispute(ctx, d)
	}
	// What cannot be decided is found before anything is written.
	if trial := d; true {
		if err := trial.Decide(true, actor, verdict, m.now()); err != nil {
			return d, nil, err
		}
		verdict = trial.Verdict
	}
	f, ruling, err := m.disputed(ctx, d, ruling, verdict)
	if err != nil {
		return d, nil, err
	}
	list, err := m.corrections(ctx, f.ID)
	if err != nil {
		return d, nil, err
	}
	c := correction{Cause: disputeCause(verdict), Remedy: grading.NewKey, Void: grading.Withdraw, Rulings: []grading.Ruling{ruling}, Dispute: id}
	rep, err := m.preview(ctx, f, list, rulingsChange(c.Rulings, ""), c.Cause, grading.RegradeOptions{})
	if err != nil {
		return d, nil, err
	}
	// The ruling is kept first; it holds once the dispute is accepted. So a
	// crash leaves either an open dispute or one whose regrading Sweep
	// completes, and of two coordinators who decide at once one finds it
	// decided.
	timer, err := m.guard(ctx, f.ID)
	if err != nil {
		return d, nil, err
	}
	if err := m.record(ctx, actor, f.ID, c); err != nil {
		return d, nil, err
	}
	decided, err := m.s.DecideDispute(ctx, actor, id, true, verdict)
	if err != nil {
		return d, nil, err
	}
	if err := m.settleAll(ctx, actor, f); err != nil {
		return decided, rep, err
	}
	if err := m.tellDispute(ctx, decided); err != nil {
		return decided, rep, err
	}
	_, err = m.s.FinishTimer(ctx, timer)
	return decided, rep, err
}

// tellDispute tells who opened a dispute how it was decided, once.
func (m *Marker) tellDispute(ctx context.Context, d quiz.Dispute) error {
	a, err := m.s.Attempt(ctx, d.Attempt)
	if err != nil {
		return err
	}
	as, err := m.s.Assignment(ctx, a.Assignment)
	if err != nil {
		return err
	}
	return m.s.AddNotices(ctx, []quiz.Notice{{ID: "dispute/" + d.ID, Person: d.Person, Kind: quiz.NoticeDispute, Subject: "dispute/" + d.ID,
		Detail: map[string]string{DetailState: string(d.State), DetailVerdict: d.Verdict, DetailNumber: strconv.Itoa(numberOf(a, d.Question)),
			DetailAttempt: d.Attempt, DetailAssignment: as.Title}}})
}

// tellDecided tells those whose accepted disputes are behind corrections of a
// form, should it not have been done.
func (m *Marker) tellDecided(ctx context.Context, form string) error {
	list, err := m.corrections(ctx, form)
	if err != nil {
		return err
	}
	for _, c := range list {
		if c.Dispute == "" {
			continue
		}
		d, err := m.dispute(ctx, c.Dispute)
		if err == nil {
			err = m.tellDispute(ctx, d)
		}
		if err != nil {
			return err
		}
	}
	return nil
}
