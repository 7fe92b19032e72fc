package marking

import (
	"context"
	"fmt"
	"strings"

	"rightpage/grading"
	"rightpage/quiz"
)

// Paper records and marks an attempt that was worked on paper: the answers in
// the order of the questions of the variant (counted from 0), "" where there is
// none.
func (m *Marker) Paper(ctx context.Context, actor, assignment, person string, variant int, answers []string) (quiz.Attempt, error) {
	f, err := m.formAt(ctx, assignment)
	if err != nil {
		return quiz.Attempt{}, err
	}
	if variant < 0 || variant >= len(f.Variants) {
		return quiz.Attempt{}, &quiz.Error{Code: quiz.Invalid, Text: fmt.Sprintf("the form has no variant %d", variant+1), Mend: "look at the letter on the sheet"}
	}
	questions := f.Variants[variant].Questions
	if len(answers) != len(questions) {
		return quiz.Attempt{}, &quiz.Error{Code: quiz.Invalid, Text: fmt.Sprintf("there are %d answers to %d questions", len(answers), len(questions)),
			Mend: "give one for each question, empty where there is none"}
	}
	ids := make([]string, len(questions))
	given := make(map[string]string, len(questions))
	for i, q := range questions {
		ids[i], given[q.ID] = q.ID, strings.TrimSpace(answers[i])
	}
	a, err := m.s.RecordPaper(ctx, actor, assignment, person, variant, ids, given)
	if err != nil {
		return a, err
	}
	return m.Mark(ctx, a.ID)
}

// CorrectPaper corrects answers that were read wrongly from a sheet: by
// question ID, those that differ. The attempt is graded anew; the reason is
// kept, and the person is told if the score changed.
func (m *Marker) CorrectPaper(ctx context.Context, actor, attempt string, answers map[string]string, reason string) (quiz.Attempt, error) {
	if strings.TrimSpace(reason) == "" {
		return quiz.Attempt{}, &quiz.Error{Code: quiz.Invalid, Text: "the correction has no reason", Mend: "say what was read wrongly"}
	}
	a, err := m.s.CorrectPaper(ctx, actor, attempt, answers)
	if err != nil {
		return a, err
	}
	if a.State != quiz.Graded {
		return m.Mark(ctx, a.ID)
	}
	return m.regrade(ctx, actor, a, reason, func(q string, raw string) (string, bool) {
		_, ok := answers[q]
		return raw, ok
	})
}

// ReadAs settles an answer that could not be read for certain: the coordinator
// says what was meant, in the form in which answers are written ("" that there
// is no answer), and the attempt is graded anew. The answer itself stays as it
// was given.
func (m *Marker) ReadAs(ctx context.Context, actor, attempt, question, reading, reason string) (quiz.Attempt, error) {
	a, err := m.s.Attempt(ctx, attempt)
	if err != nil {
		return a, err
	}
	if !a.Asks(question) {
		return a, quiz.Errorf(quiz.NotFound, "the attempt does not ask question %s", question)
	}
	last, err := m.lastGrading(ctx, a)
	if err != nil {
		return a, err
	}
	ok := false
	for _, s := range last.Scores {
		ok = ok || s.Question == question && s.Verdict == Unread
	}
	if !ok {
		return a, &quiz.Error{Code: quiz.Closed, Text: "the answer was read for certain", Mend: "a wrong key is mended by a dispute or a regrade"}
	}
	if reason = strings.TrimSpace(reason); reason == "" {
		reason = "an answer that could not be read for certain was looked at"
	}
	return m.regrade(ctx, actor, a, reason, func(q string, _ string) (string, bool) { return reading, q == question })
}

// regrade grades some answers of a graded attempt anew; what says which, and by
// what reading.
func (m *Marker) regrade(ctx context.Context, actor string, a quiz.Attempt, reason string, what func(question, raw string) (string, bool)) (quiz.Attempt, error) {
	f, err := m.formOf(ctx, a)
	if err != nil {
		return a, err
	}
	list, err := m.corrections(ctx, f.ID)
	if err != nil {
		return a, err
	}
	last, err := m.lastGrading(ctx, a)
	if err != nil {
		return a, err
	}
	answers, err := m.s.Answers(ctx, a.ID)
	if err != nil {
		return a, err
	}
	latest := quiz.Latest(answers)
	scores := make([]grading.Score, 0, len(last.Scores))
	changed := false
	for _, old := range last.Scores {
		q, known := f.ByID(old.Question)
		given, again := what(old.Question, latest[old.Question].Value)
		if !again || !known {
			scores = append(scores, old)
			continue
		}
		s, counts := f.corrected(q, given, list)
		if !counts {
			changed = true
			continue
		}
		if given != latest[old.Question].Value && s.Verdict != Unread {
			s.Given = given
		}
		changed = changed || s.Given != old.Given || !sameScore(&old, &s)
		scores = append(scores, s)
	}
	if !changed {
		return a, nil
	}
	r := f.result(scores)
	r.Reason = reason
	b, err := m.s.GradeAttempt(ctx, actor, a.ID, r, scores)
	if err != nil {
		return a, err
	}
	if r.Points == last.Result.Points && r.Of == last.Result.Of {
		return b, nil // nothing that the person could see changed
	}
	return b, m.tellRegraded(ctx, b, b.Gradings)
}
