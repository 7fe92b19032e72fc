package marking

import (
	"context"
	"time"

	"rightpage/banks"
	"rightpage/banks/resolver"
	"rightpage/grading"
	"rightpage/quiz"
)

// Review is an attempt as the person who made it may see it now, by the release
// rule of the assignment. What may not be shown is not in it.
type Review struct {
	Attempt    quiz.Attempt // its Result is zero unless Shown.Score
	Assignment quiz.Assignment
	Shown      quiz.Shown
	Rows       []ReviewRow
	Regraded   string // the reason, if it was regraded; with Shown.Score
}

// ReviewRow is a question of a review.
type ReviewRow struct {
	Ask   Ask
	Given string // as the person wrote it
	Spent time.Duration

	// Kept tells that the person is still to answer the question in another quiz:
	// then nothing below but Dispute is there, whatever is shown.
	Kept bool

	// With Shown.Answers:
	Withdrawn bool // the question counts for nobody
	Verdict   grading.Verdict
	Points    float64
	Slip      resolver.Slip // NoSlip: none, or not recognised
	NextTime  string        // what to do next time, of a known slip
	Steps     []ReviewStep  // of a chase

	// With Shown.Key:
	Right string
	Says  string // what went wrong, in whole sentences: they can name the key

	// With Shown.Trace:
	Trace []banks.TraceLine
	Step  resolver.Step // at which a wrong answer left the right path

	Dispute *quiz.Dispute // if the person disputed it
}

// ReviewStep is a step of a chase in a review.
type ReviewStep struct {
	Step    resolver.Step
	Given   string
	Verdict grading.Verdict
	Right   string // with Shown.Key
}

// Review gives an attempt as the person who made it may see it now.
func (m *Marker) Review(ctx context.Context, attempt string) (Review, error) {
	var v Review
	a, err := m.s.Attempt(ctx, attempt)
	if err != nil {
		return v, err
	}
	if v.Assignment, err = m.s.Assignment(ctx, a.Assignment); err != nil {
		return v, err
	}
	all, err := m.s.AttemptsOf(ctx, a.Person)
	if err != nil {
		return v, err
	}
	f, err := m.Form(ctx, v.Assignment.Form)
	if err != nil {
		return v, err
	}
	answers, err := m.s.Answers(ctx, a.ID)
	if err != nil {
		return v, err
	}
	latest, spent := quiz.Latest(answers), spentOn(answers)
	v.Attempt, v.Shown = a, v.Assignment.Shows(a, all, m.now())
	if v.Shown.Score {
		v.Regraded = a.Result.Reason
	} else {
		v.Attempt.Result = quiz.Result{}
	}
	scores := map[string]*grading.Score{}
	var list []correction
	disputes := map[string]*quiz.Dispute{}
	if a.State == quiz.Graded {
		last, err := m.lastGrading(ctx, a)
		if err != nil {
			return v, err
		}
		for i := range last.Scores {
			scores[last.Scores[i].Question] = &last.Scores[i]
		}
		if list, err = m.corrections(ctx, f.ID); err != nil {
			return v, err
		}
		if disputes, err = m.disputesOf(ctx, a.ID); err != nil {
			return v, err
		}
	}
	ahead := map[string]bool{}
	if v.Shown.Answers || v.Shown.Key || v.Shown.Trace {
		if ahead, err = m.ahead(ctx, a, all); err != nil {
			return v, err
		}
	}
	for i, id := range a.Questions {
		q, ok := f.ByID(id)
		if !ok {
			return v, quiz.Errorf(quiz.Internal, "attempt %s asks question %s, which its form %s does not have", a.ID, id, f.ID)
		}
		row := ReviewRow{Ask: AskOf(q, i+1), Given: latest[id].Value, Spent: spent[id], Dispute: disputes[id]}
		if row.Kept = ahead[id]; !row.Kept && (v.Shown.Answers || v.Shown.Key || v.Shown.Trace) {
			cur, _ := current(q, list)
			row.fill(v.Shown, cur, scores[id])
		}
		v.Rows = append(v.Rows, row)
	}
	return v, nil
}

// ahead lists the questions of quizzes that the person of an attempt has still to
// do, or is working on, besides the one that the attempt was made at: their keys
// are not to be told by it. Of that one, see quiz.Assignment.Shows.
func (m *Marker) ahead(ctx context.Context, a quiz.Attempt, attempts []quiz.Attempt) (map[string]bool, error) {
	who, err := m.s.Person(ctx, a.Person)
	if err != nil {
		return nil, err
	}
	assignments, err := m.s.Assignments(ctx)
	if err != nil {
		return nil, err
	}
	list := map[string]bool{}
	for _, of := range assignments {
		if of.ID == a.Assignment || !of.Ahead(who, attempts, m.now()) {
			continue
		}
		f, err := m.Form(ctx, of.Form)
		if err != nil {
			return nil, err
		}
		for _, q := range f.Questions() {
			list[q.ID] = true
		}
	}
	return list, nil
}

// fill adds what may be shown of a score; nil: the question is withdrawn.
func (r *ReviewRow) fill(shown quiz.Shown, q *banks.Question, s *grading.Score) {
	if shown.Answers {
		if s == nil {
			r.Withdrawn = true
		} else {
			r.Verdict, r.Points, r.Slip = s.Verdict, s.Points, s.Slip
			if s.Slip != resolver.NoSlip {
				r.NextTime = s.Slip.NextTime()
			}
			for _, st := range s.Steps {
				step := ReviewStep{Step: st.Step, Given: st.Given, Verdict: st.Verdict}
				if shown.Key {
					step.Right = st.Right
				}
				r.Steps = append(r.Steps, step)
			}
		}
	}
	if shown.Key {
		r.Right = q.KeyText()
		if s != nil {
			r.Says = s.Says
		}
	}
	if shown.Trace {
		r.Trace = q.Trace
		if s != nil {
			r.Step = s.Step
		}
	}
}

// disputesOf lists the disputes about an attempt by question.
func (m *Marker) disputesOf(ctx context.Context, attempt string) (map[string]*quiz.Dispute, error) {
	out := map[string]*quiz.Dispute{}
	for _, state := range []quiz.DisputeState{quiz.DisputeOpen, quiz.DisputeAccepted, quiz.DisputeRejected} {
		list, err := m.s.Disputes(ctx, state)
		if err != nil {
			return nil, err
		}
		for i := range list {
			if list[i].Attempt == attempt {
				out[list[i].Question] = &list[i]
			}
		}
	}
	return out, nil
}

// spentOn adds up the time spent on each question.
func spentOn(answers []quiz.Response) map[string]time.Duration {
	out := map[string]time.Duration{}
	for _, a := range answers {
		out[a.Question] += a.Spent
	}
	return out
}
