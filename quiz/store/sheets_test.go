package store

import (
	"context"
	"testing"
	"time"

	"rightpage/grading"
	"rightpage/quiz"
)

// paper gives the questions of variant 0 and answers "A" to the first n.
func (x *shop) paper(t testing.TB, n int) (questions []string, answers map[string]string) {
	t.Helper()
	f, err := x.Form(context.Background(), x.assignment.Form)
	must(t, err)
	answers = map[string]string{}
	for i, q := range f.Variants[0].Questions {
		questions = append(questions, q.ID)
		if i < n {
			answers[q.ID] = "A"
		}
	}
	return questions, answers
}

func TestRecordPaper(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		questions, answers := x.paper(t, 3)
		x.clock.advance(30 * 24 * time.Hour) // long closed
		a, err := x.RecordPaper(ctx, x.coordinator.ID, x.assignment.ID, x.technician.ID, 0, questions, answers)
		must(t, err)
		if a.State != quiz.HandedIn || a.Medium != quiz.OnPaper || a.Number != 1 || a.Version != 1 {
			t.Errorf("%+v", a)
		}
		read, err := x.Attempt(ctx, a.ID)
		must(t, err)
		wantSame(t, "an attempt on paper", read, a)
		responses, err := x.Answers(ctx, a.ID)
		must(t, err)
		if len(responses) != 3 || quiz.Latest(responses)[questions[2]].Value != "A" {
			t.Errorf("%+v", responses)
		}
		again, err := x.RecordPaper(ctx, x.coordinator.ID, x.assignment.ID, x.technician.ID, 0, questions, answers)
		must(t, err)
		wantSame(t, "the same sheet again", again, a)

		for _, c := range []struct {
			name       string
			assignment string
			person     string
			questions  []string
			answers    map[string]string
			want       quiz.Code
		}{
			{"no such assignment", "none", x.technician.ID, questions, answers, quiz.NotFound},
			{"nobody", x.assignment.ID, "none", questions, answers, quiz.NotFound},
			{"not assigned", x.assignment.ID, x.stranger.ID, questions, answers, quiz.Forbidden},
			{"another question", x.assignment.ID, x.technician.ID, questions, map[string]string{"q": "A"}, quiz.Invalid},
		} {
			_, err := x.RecordPaper(ctx, "", c.assignment, c.person, 0, c.questions, c.answers)
			wantCode(t, c.name, err, c.want)
		}
		if made, _ := x.AttemptsOf(ctx, x.technician.ID); len(made) != 1 {
			t.Errorf("a refused sheet was kept: %+v", made)
		}

		// The second attempt, recorded by two at once.
		other := d.open(t, x.clock)
		answers[questions[3]] = "B"
		ids := make([]string, 4)
		together(len(ids), func(i int) {
			a, err := []*Store{x.Store, other}[i%2].RecordPaper(ctx, x.coordinator.ID, x.assignment.ID, x.technician.ID, 0, questions, answers)
			if err != nil {
				t.Error(err)
			}
			ids[i] = a.ID
		})
		if ids[0] != ids[1] || ids[0] != ids[2] || ids[0] != ids[3] {
			t.Errorf("one sheet became several attempts: %v", ids)
		}
		answers[questions[3]] = "C"
		_, err = x.RecordPaper(ctx, "", x.assignment.ID, x.technician.ID, 0, questions, answers)
		wantCode(t, "no attempts left", err, quiz.Closed)
	})
}

func TestRecordPaperBesideAScreen(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		questions, answers := x.paper(t, 4)
		first := x.start(t)
		_, err := x.RecordPaper(ctx, "", x.assignment.ID, x.technician.ID, 0, questions, answers)
		wantCode(t, "an unfinished attempt", err, quiz.Conflict)
		x.clock.advance(2 * time.Hour) // its time is up, though no timer has fired
		a, err := x.RecordPaper(ctx, "", x.assignment.ID, x.technician.ID, 0, questions, answers)
		must(t, err)
		if a.Number != 2 {
			t.Errorf("%+v", a)
		}
		if e, _ := x.Attempt(ctx, first.ID); e.State != quiz.Expired {
			t.Errorf("%+v", e)
		}
		if timers, err := x.ClaimTimers(ctx, "x", AttemptTimer, 9, time.Minute); err != nil || len(timers) != 0 {
			t.Errorf("timers left: %+v, %v", timers, err)
		}
		_, err = x.CorrectPaper(ctx, "", first.ID, answers)
		wantCode(t, "an attempt on a screen corrected", err, quiz.Closed)
	})
}

func TestCorrectPaper(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		questions, answers := x.paper(t, 2)
		a, err := x.RecordPaper(ctx, x.coordinator.ID, x.assignment.ID, x.technician.ID, 0, questions, answers)
		must(t, err)
		_, err = x.GradeAttempt(ctx, "", a.ID, quiz.Result{Points: 2, Of: 4}, sampleScores())
		must(t, err)
		x.clock.advance(time.Hour)
		c, err := x.CorrectPaper(ctx, x.coordinator.ID, a.ID, map[string]string{questions[0]: "B", questions[1]: "A", questions[2]: "C"})
		must(t, err)
		if c.State != quiz.Graded || c.Result.Points != 2 || c.Version != 3 {
			t.Errorf("%+v", c)
		}
		responses, err := x.Answers(ctx, a.ID)
		must(t, err)
		latest := quiz.Latest(responses)
		if len(responses) != 4 || latest[questions[0]].Value != "B" || latest[questions[0]].Version != 2 || latest[questions[2]].Value != "C" {
			t.Errorf("%+v", responses)
		}
		if same, err := x.CorrectPaper(ctx, x.coordinator.ID, a.ID, map[string]string{questions[0]: "B"}); err != nil || same.Version != 3 {
			t.Errorf("nothing to correct: %+v, %v", same, err)
		}
		_, err = x.GradeAttempt(ctx, x.coordinator.ID, a.ID, quiz.Result{Points: 3, Of: 4, Passed: true, Reason: "the sheet was misread"}, sampleScores())
		must(t, err)
		last, err := x.GradingsAt(ctx, x.assignment.ID)
		must(t, err)
		if g := last[a.ID]; len(last) != 1 || g.Number != 2 || g.Result.Points != 3 || len(g.Scores) != 1 || !g.At.Equal(noon.Add(time.Hour)) {
			t.Errorf("the last gradings: %+v", last)
		}
		if none, err := x.GradingsAt(ctx, "none"); err != nil || len(none) != 0 {
			t.Errorf("%+v, %v", none, err)
		}
		_, err = x.CorrectPaper(ctx, "", a.ID, map[string]string{"q": "A"})
		wantCode(t, "another question", err, quiz.Invalid)
		_, err = x.CorrectPaper(ctx, "", "none", answers)
		wantCode(t, "no such attempt", err, quiz.NotFound)
	})
}

// outcomes collects what there is after a time.
func (x *shop) outcomes(t testing.TB, after time.Time) []Outcome {
	t.Helper()
	var list []Outcome
	for o, err := range x.Outcomes(context.Background(), after) {
		must(t, err)
		list = append(list, o)
	}
	return list
}

func TestOutcomes(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		score := func(q string) grading.Score {
			return grading.Score{Question: q, Skill: "edition", Verdict: grading.Right, Points: 1}
		}
		practise := func(n int, at time.Time) {
			t.Helper()
			_, err := x.SavePractice(ctx, quiz.Practice{Person: x.coordinator.ID, Key: key(n), At: at, Spent: time.Second, Score: score("e")})
			must(t, err)
		}
		practise(1, noon)
		a := x.start(t)
		q := a.Questions
		save := func(question string, base int, spent time.Duration) {
			t.Helper()
			_, _, err := x.SaveAnswer(ctx, quiz.Save{Attempt: a.ID, Question: question, Key: newID(), Value: "A", Base: base, Spent: spent})
			must(t, err)
		}
		x.clock.advance(time.Minute)
		save(q[0], 0, 20*time.Second)
		save(q[1], 0, 10*time.Second)
		x.clock.advance(time.Minute)
		save(q[0], 1, 15*time.Second)
		practise(2, noon.Add(90*time.Second))
		practise(3, noon.Add(time.Hour))
		x.clock.advance(time.Minute)
		_, err := x.HandIn(ctx, a.ID, key(9))
		must(t, err)
		if got := x.outcomes(t, time.Time{}); len(got) != 3 {
			t.Errorf("an attempt that is not graded counts: %+v", got)
		}
		x.clock.advance(time.Minute)
		_, err = x.GradeAttempt(ctx, "", a.ID, quiz.Result{Points: 3, Of: 3}, []grading.Score{score(q[0]), score(q[1]), score(q[2])})
		must(t, err)
		graded := noon.Add(4 * time.Minute)
		exercise := func(n int, at time.Time) Outcome {
			return Outcome{Person: x.coordinator.ID, Source: FromPractice, Ref: key(n), At: at, Known: at, Spent: time.Second, Score: score("e")}
		}
		answer := func(question string, at time.Time, spent time.Duration) Outcome {
			return Outcome{Person: x.technician.ID, Source: FromQuiz, Ref: a.ID, At: at, Known: graded, Spent: spent, Score: score(question)}
		}
		wantSame(t, "in order of time", x.outcomes(t, time.Time{}), []Outcome{
			exercise(1, noon),
			answer(q[1], noon.Add(time.Minute), 10*time.Second),
			exercise(2, noon.Add(90*time.Second)),
			answer(q[0], noon.Add(2*time.Minute), 35*time.Second),
			answer(q[2], noon.Add(3*time.Minute), 0), // left blank
			exercise(3, noon.Add(time.Hour)),
		})
		// Answered before, but known since.
		if got := x.outcomes(t, noon.Add(3*time.Minute+time.Second)); len(got) != 4 || got[0].Ref != a.ID || got[3].Ref != key(3) {
			t.Errorf("%+v", got)
		}
		if got := x.outcomes(t, graded); len(got) != 1 {
			t.Errorf("%+v", got)
		}
		x.clock.advance(time.Hour)
		regraded := score(q[0])
		regraded.Points = 0
		_, err = x.GradeAttempt(ctx, "", a.ID, quiz.Result{Points: 0, Of: 3, Reason: "bulletin 7"}, []grading.Score{regraded})
		must(t, err)
		got := x.outcomes(t, noon.Add(61*time.Minute))
		if len(got) != 1 || got[0].Score.Points != 0 || !got[0].Known.Equal(noon.Add(64*time.Minute)) || !got[0].At.Equal(noon.Add(2*time.Minute)) {
			t.Errorf("a regrade: %+v", got)
		}
		for range x.Outcomes(ctx, time.Time{}) {
			break // who has seen enough may stop
		}
		cancelled, cancel := context.WithCancel(ctx)
		cancel()
		failed := false
		for _, err := range x.Outcomes(cancelled, time.Time{}) {
			failed = failed || err != nil
		}
		if !failed {
			t.Error("an error is not told")
		}
	})
}

// More than are read at a time, with many at the same instant.
func TestOutcomesOfMany(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		x := newShop(t, d)
		const n = 2*outcomesAtOnce + 7
		rows := make([]practiceRow, n)
		attempts, gradings := make([]attemptRow, n), make([]gradingRow, n)
		for i := range n {
			rows[i] = practiceRow{PersonID: x.technician.ID, ClientKey: key(i), At: micros(noon) + int64(i%3), Score: text(sampleScores()[0])}
			attempts[i] = rowOfAttempt(quiz.Attempt{ID: key(i), Assignment: x.assignment.ID, Person: x.technician.ID, Number: i + 1, State: quiz.Graded, Medium: quiz.OnPaper,
				Started: noon.Add(time.Duration(i%5) * time.Minute), Ended: noon.Add(time.Duration(i%7+4) * time.Minute), Gradings: 1})
			gradings[i] = gradingRow{AttemptID: key(i), Number: 1, Result: "{}", Scores: text(sampleScores()), At: micros(noon.Add(time.Hour))}
		}
		for _, list := range []any{&rows, &attempts, &gradings} {
			must(t, x.w.CreateInBatches(list, rowsAtOnce).Error)
		}
		seen := map[string]bool{}
		last := time.Time{}
		for _, o := range x.outcomes(t, time.Time{}) {
			if o.At.Before(last) {
				t.Fatalf("%v comes after %v", o.At, last)
			}
			last = o.At
			seen[o.Source+o.Ref] = true
		}
		if len(seen) != 2*n {
			t.Errorf("%d outcomes of %d", len(seen), 2*n)
		}
	})
}
