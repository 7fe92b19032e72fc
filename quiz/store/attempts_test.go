package store

import (
	"context"
	"sync"
	"testing"
	"time"

	"rightpage/quiz"
)

func TestTheLifeOfAnAttempt(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		_, err := x.StartAttempt(ctx, x.assignment.ID, x.stranger.ID)
		wantCode(t, "somebody not assigned", err, quiz.Forbidden)
		a := x.start(t)
		if a.State != quiz.Started || !a.Deadline.Equal(noon.Add(time.Hour)) || len(a.Questions) != 4 {
			t.Errorf("%+v", a)
		}
		wantSame(t, "a start on a second device", x.start(t), a)
		q := a.Questions[0]
		x.clock.advance(time.Minute)
		r, repeated, err := x.SaveAnswer(ctx, quiz.Save{Attempt: a.ID, Question: q, Key: key(1), Value: "A", Spent: 20 * time.Second})
		must(t, err)
		if repeated || r.Version != 1 {
			t.Errorf("%+v", r)
		}
		again, repeated, err := x.SaveAnswer(ctx, quiz.Save{Attempt: a.ID, Question: q, Key: key(1), Value: "A", Spent: 20 * time.Second})
		must(t, err)
		if wantSame(t, "a retry", again, r); !repeated {
			t.Error("not told that it was saved before")
		}
		_, _, err = x.SaveAnswer(ctx, quiz.Save{Attempt: a.ID, Question: q, Key: key(2), Value: "B"})
		wantCode(t, "an answer changed in another tab", err, quiz.Conflict)
		_, _, err = x.SaveAnswer(ctx, quiz.Save{Attempt: a.ID, Question: q, Key: key(2), Value: "B", Base: 1})
		must(t, err)
		answers, err := x.Answers(ctx, a.ID)
		must(t, err)
		if len(answers) != 2 || quiz.Latest(answers)[q].Value != "B" || answers[0].Spent != 20*time.Second {
			t.Errorf("%+v", answers)
		}
		_, err = x.GradeAttempt(ctx, "", a.ID, quiz.Result{Points: 1, Of: 4}, nil)
		wantCode(t, "graded before the end", err, quiz.Closed)

		receipt, err := x.HandIn(ctx, a.ID, key(9))
		must(t, err)
		x.clock.advance(time.Hour)
		second, err := x.HandIn(ctx, a.ID, key(9))
		must(t, err)
		if !second.Repeated || second.At != receipt.At {
			t.Errorf("%+v, %+v", receipt, second)
		}
		_, err = x.HandIn(ctx, a.ID, key(10))
		wantCode(t, "handed in from another device", err, quiz.Closed)
		_, _, err = x.SaveAnswer(ctx, quiz.Save{Attempt: a.ID, Question: q, Key: key(3), Value: "C", Base: 2})
		wantCode(t, "an answer after the hand-in", err, quiz.Closed)
		if _, repeated, err := x.SaveAnswer(ctx, quiz.Save{Attempt: a.ID, Question: q, Key: key(2), Value: "B", Base: 1}); err != nil || !repeated {
			t.Errorf("a late retry of a kept answer: %v", err)
		}

		_, err = x.GradeAttempt(ctx, x.coordinator.ID, a.ID, quiz.Result{Points: 1, Of: 4}, sampleScores())
		must(t, err)
		graded, err := x.GradeAttempt(ctx, x.coordinator.ID, a.ID, quiz.Result{Points: 2, Of: 4, Reason: "supplement 4"}, sampleScores())
		must(t, err)
		gradings, err := x.Gradings(ctx, a.ID)
		must(t, err)
		if len(gradings) != 2 || gradings[0].Result.Points != 1 || gradings[1].Result.Reason != "supplement 4" || gradings[1].Scores[0].Given != "B" {
			t.Errorf("the earlier grading must be kept: %+v", gradings)
		}
		read, err := x.Attempt(ctx, a.ID)
		must(t, err)
		wantSame(t, "a graded attempt", read, graded)

		next := x.start(t)
		if next.Number != 2 || next.Variant == a.Variant {
			t.Errorf("the second attempt: %+v", next)
		}
		_, err = x.HandIn(ctx, next.ID, key(1))
		must(t, err)
		_, err = x.StartAttempt(ctx, x.assignment.ID, x.technician.ID)
		wantCode(t, "a third attempt of two", err, quiz.Closed)
		of, err := x.AttemptsOf(ctx, x.technician.ID)
		must(t, err)
		at, err := x.AttemptsAt(ctx, x.assignment.ID)
		must(t, err)
		if len(of) != 2 || of[0].Number != 2 || len(at) != 2 || at[0].Number != 1 {
			t.Errorf("%+v, %+v", of, at)
		}
	})
}

func TestAttemptsExpire(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		a := x.start(t)
		_, err := x.ExtendAttempt(ctx, x.coordinator.ID, a.ID, 30*time.Minute)
		must(t, err)
		x.clock.advance(89 * time.Minute)
		if did, err := x.ExpireAttempt(ctx, a.ID); did || err != nil {
			t.Errorf("expired in time: %v", err)
		}
		if timers, _ := x.ClaimTimers(ctx, "server 1", AttemptTimer, 10, time.Minute); len(timers) != 0 {
			t.Errorf("the timer fired in time: %+v", timers)
		}
		x.clock.advance(2 * time.Minute)
		_, _, err = x.SaveAnswer(ctx, quiz.Save{Attempt: a.ID, Question: a.Questions[0], Key: key(1), Value: "A"})
		wantCode(t, "an answer when time was up", err, quiz.Closed)
		timers, err := x.ClaimTimers(ctx, "server 1", AttemptTimer, 10, time.Minute)
		must(t, err)
		if len(timers) != 1 || timers[0].Subject != a.ID {
			t.Fatalf("%+v", timers)
		}
		for i, want := range []bool{true, false} {
			if did, err := x.ExpireAttempt(ctx, a.ID); did != want || err != nil {
				t.Errorf("time %d: %v, %v", i+1, did, err)
			}
		}
		next := x.start(t)
		x.clock.advance(2 * time.Hour)
		last, err := x.StartAttempt(ctx, x.assignment.ID, x.technician.ID)
		wantCode(t, "no attempt is left once the overdue one is ended", err, quiz.Closed)
		if next.ID == last.ID {
			t.Error("an overdue attempt was given as under way")
		}
	})
}

// together runs fn n times at once.
func together(n int, fn func(i int)) {
	var start, done sync.WaitGroup
	start.Add(1)
	for i := range n {
		done.Add(1)
		go func() {
			defer done.Done()
			start.Wait()
			fn(i)
		}()
	}
	start.Done()
	done.Wait()
}

// Two servers, many requests at once: one attempt is opened, each answer is
// kept once, one hand-in counts.
func TestExactlyOnceUnderConcurrency(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		servers := []*Store{x.Store, d.open(t, x.clock)}
		const n = 12
		var mu sync.Mutex
		ids := map[string]int{}
		together(n, func(i int) {
			a, err := servers[i%2].StartAttempt(ctx, x.assignment.ID, x.technician.ID)
			mu.Lock()
			defer mu.Unlock()
			if err != nil {
				t.Error("start:", err)
			}
			ids[a.ID]++
		})
		if len(ids) != 1 {
			t.Fatalf("%d attempts were opened: %v", len(ids), ids)
		}
		a := x.start(t)

		// The same save, by every request.
		fresh := 0
		together(n, func(i int) {
			r, repeated, err := servers[i%2].SaveAnswer(ctx, quiz.Save{Attempt: a.ID, Question: a.Questions[0], Key: key(1), Value: "A"})
			mu.Lock()
			defer mu.Unlock()
			if err != nil || r.Version != 1 {
				t.Errorf("save: %+v, %v", r, err)
			}
			if !repeated {
				fresh++
			}
		})
		if fresh != 1 {
			t.Errorf("%d saves were the first", fresh)
		}

		// Different saves on the same version: one wins, the others are told.
		won := 0
		together(n, func(i int) {
			_, _, err := servers[i%2].SaveAnswer(ctx, quiz.Save{Attempt: a.ID, Question: a.Questions[1], Key: key(100 + i), Value: "B"})
			mu.Lock()
			defer mu.Unlock()
			if err == nil {
				won++
			} else {
				wantCode(t, "a save that lost", err, quiz.Conflict)
			}
		})
		if won != 1 {
			t.Errorf("%d saves won", won)
		}

		// Half are double clicks with one key, half are another device; answers
		// are on their way meanwhile.
		counted, acknowledged := 0, map[string]bool{}
		together(2*n, func(i int) {
			if i >= n {
				k := key(200 + i)
				_, _, err := servers[i%2].SaveAnswer(ctx, quiz.Save{Attempt: a.ID, Question: a.Questions[2], Key: k, Value: "C"})
				mu.Lock()
				defer mu.Unlock()
				if err == nil {
					acknowledged[k] = true
				} else if c := quiz.ErrorCode(err); c != quiz.Closed && c != quiz.Conflict {
					t.Error(err)
				}
				return
			}
			r, err := servers[i%2].HandIn(ctx, a.ID, key(300+i%4/2))
			mu.Lock()
			defer mu.Unlock()
			if err == nil && !r.Repeated {
				counted++
			}
			if err != nil {
				wantCode(t, "a hand-in that came second", err, quiz.Closed)
			}
		})
		if counted != 1 {
			t.Errorf("%d hand-ins counted", counted)
		}
		read, err := x.Attempt(ctx, a.ID)
		must(t, err)
		answers, err := x.Answers(ctx, a.ID)
		must(t, err)
		if read.State != quiz.HandedIn || len(answers) != 2+len(acknowledged) {
			t.Errorf("%+v, %d answers, %d acknowledged", read, len(answers), len(acknowledged))
		}
		handins := 0
		log, err := x.AuditLog(ctx, 0, 100)
		must(t, err)
		for _, e := range log {
			if e.Action == "attempt.handin" {
				handins++
			}
		}
		if handins != 1 {
			t.Errorf("%d hand-ins in the audit log", handins)
		}
		if _, err := x.VerifyAudit(ctx); err != nil {
			t.Error(err)
		}
	})
}

func TestDisputes(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		a := x.start(t)
		_, err := x.OpenDispute(ctx, a.ID, a.Questions[0], "bulletin 7 says otherwise")
		wantCode(t, "during the attempt", err, quiz.Closed)
		_, err = x.HandIn(ctx, a.ID, key(1))
		must(t, err)
		dispute, err := x.OpenDispute(ctx, a.ID, a.Questions[0], "bulletin 7 says otherwise")
		must(t, err)
		_, err = x.OpenDispute(ctx, a.ID, a.Questions[0], "again")
		wantCode(t, "the same question twice", err, quiz.Conflict)
		open, err := x.Disputes(ctx, quiz.DisputeOpen)
		must(t, err)
		wantSame(t, "the queue", open, []quiz.Dispute{dispute})
		_, err = x.DecideDispute(ctx, x.technician.ID, dispute.ID, true, "I am right")
		wantCode(t, "their own", err, quiz.Forbidden)

		decided := 0
		var mu sync.Mutex
		together(6, func(i int) {
			_, err := x.DecideDispute(ctx, x.coordinator.ID, dispute.ID, i%2 == 0, "as the bulletin says")
			mu.Lock()
			defer mu.Unlock()
			if err == nil {
				decided++
			} else {
				wantCode(t, "decided already", err, quiz.Closed)
			}
		})
		if decided != 1 {
			t.Errorf("decided %d times", decided)
		}
		if open, _ = x.Disputes(ctx, quiz.DisputeOpen); len(open) != 0 {
			t.Errorf("%+v", open)
		}
	})
}
