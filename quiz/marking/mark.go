package marking

import (
	"context"
	"errors"

	"rightpage/banks"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/store"
)

// Mark grades an attempt that has ended. One that is graded already is given as
// it is. One that is under way is quiz.Closed.
func (m *Marker) Mark(ctx context.Context, attempt string) (quiz.Attempt, error) {
	a, err := m.s.Attempt(ctx, attempt)
	if err != nil || a.State == quiz.Graded {
		return a, err
	}
	if !a.State.Ended() {
		return a, &quiz.Error{Code: quiz.Closed, Text: "the attempt is still " + string(a.State), Mend: "mark it when it has ended"}
	}
	f, err := m.formOf(ctx, a)
	if err != nil {
		return a, err
	}
	corrections, err := m.corrections(ctx, f.ID)
	if err != nil {
		return a, err
	}
	scores, err := m.scores(ctx, f, a, corrections)
	if err != nil {
		return a, err
	}
	graded, err := m.s.GradeAttempt(ctx, "", a.ID, f.result(scores), scores)
	if err != nil {
		// Another may have been quicker.
		if b, other := m.s.Attempt(ctx, attempt); other == nil && b.State == quiz.Graded {
			return b, nil
		}
		return a, err
	}
	// A correction made meanwhile did not find this attempt graded.
	if now, err := m.corrections(ctx, f.ID); err == nil && len(now) > len(corrections) {
		if b, _, err := m.settle(ctx, "", f, graded, now); err == nil {
			return b, nil
		}
	}
	return graded, nil
}

// formOf gives the form of an attempt.
func (m *Marker) formOf(ctx context.Context, a quiz.Attempt) (*Form, error) {
	as, err := m.s.Assignment(ctx, a.Assignment)
	if err != nil {
		return nil, err
	}
	return m.Form(ctx, as.Form)
}

// result adds up scores.
func (f *Form) result(scores []grading.Score) quiz.Result {
	var r quiz.Result
	for i := range scores {
		r.Points += scores[i].Points
		r.Of++
	}
	r.Points = min(r.Points, r.Of)
	r.Passed = f.Passes(r.Points, r.Of)
	return r
}

// scores grades what was answered in an attempt, in the order of its questions.
func (m *Marker) scores(ctx context.Context, f *Form, a quiz.Attempt, corrections []correction) ([]grading.Score, error) {
	answers, err := m.s.Answers(ctx, a.ID)
	if err != nil {
		return nil, err
	}
	latest := quiz.Latest(answers)
	scores := make([]grading.Score, 0, len(a.Questions))
	for _, id := range a.Questions {
		q, ok := f.ByID(id)
		if !ok {
			return nil, quiz.Errorf(quiz.Internal, "attempt %s asks question %s, which its form %s does not have", a.ID, id, f.ID)
		}
		if s, ok := f.corrected(q, latest[id].Value, corrections); ok {
			scores = append(scores, s)
		}
	}
	if len(scores) == 0 {
		return nil, quiz.Errorf(quiz.Conflict, "every question of attempt %s is withdrawn", a.ID)
	}
	return scores, nil
}

// grade scores an answer; one that cannot be read is [Unread].
func grade(g *grading.Grader, q *banks.Question, given string) grading.Score {
	s, err := g.Grade(given)
	if err == nil {
		s.Question = q.ID
		return s
	}
	s = grading.Score{Question: q.ID, Kind: q.Kind, Skill: q.Skill, Given: given, Right: q.KeyText(), Verdict: Unread}
	var refusal *grading.Refusal
	if errors.As(err, &refusal) {
		s.Says = "Not read for certain: " + refusal.Reason + ". A coordinator looks at it."
	} else {
		s.Says = "Not read: " + err.Error() + ". A coordinator looks at it."
	}
	return s
}

// readable tells whether an answer can be graded as it stands.
func (f *Form) readable(q *banks.Question, given string) bool {
	_, err := f.Grader(q).Grade(given)
	return err == nil
}

// Readable reports why an answer cannot be read for certain, as a
// *grading.Refusal, or nil if it can: for the person who enters answers from
// paper. It says nothing on whether the answer is right; yet it is not for
// people whose attempt is under way.
func (f *Form) Readable(variant, n int, answer string) error {
	q := f.Question(variant, n)
	if q == nil {
		return quiz.Errorf(quiz.NotFound, "the form has no question %d in variant %d", n+1, variant+1)
	}
	_, err := f.Grader(q).Grade(answer)
	return err
}

// lastGrading gives the grading that counts.
func (m *Marker) lastGrading(ctx context.Context, a quiz.Attempt) (store.Grading, error) {
	list, err := m.s.Gradings(ctx, a.ID)
	if err != nil {
		return store.Grading{}, err
	}
	if len(list) == 0 {
		return store.Grading{}, &quiz.Error{Code: quiz.Closed, Text: "the attempt is not graded yet", Mend: "wait until it is"}
	}
	return list[len(list)-1], nil
}
