package marking

import (
	"bytes"
	"context"
	"encoding/json"
	"strings"
	"sync"
	"testing"
	"time"

	"rightpage/banks"
	"rightpage/grading"
	"rightpage/quiz"
)

func TestHandInMarks(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	p := x.person("Ilse Marrow", "")
	as := x.assign(x.form("Everything", mixed()), nil)
	a := x.takes(p, as, allRight(1, 3))
	n := float64(len(mixed()))
	if a.State != quiz.Graded || a.Result.Of != n || a.Result.Points > n-1 || a.Result.Points < n-2 {
		t.Fatalf("marked %+v", a.Result)
	}
	// Again changes nothing, neither does marking it.
	again, err := x.m.HandIn(ctx, a.ID, "hand-in-"+a.ID)
	if err != nil || again.Version != a.Version {
		t.Errorf("handed in again: %v", err)
	}
	if b, err := x.m.Mark(ctx, a.ID); err != nil || b.Gradings != 1 {
		t.Errorf("marked again: %d times, %v", b.Gradings, err)
	}
	f := must(x.m.Form(ctx, as.Form))
	for i, s := range must(x.s.Gradings(ctx, a.ID))[0].Scores {
		q := f.Question(0, i)
		isRight := i != 1 && i != 3
		if s.Question != q.ID || (s.Verdict == grading.Right) != isRight || s.Right != q.KeyText() {
			t.Errorf("question %d: %s", i+1, s.Verdict)
		}
	}
}

func TestTheSameAttemptIsMarkedOnceHoweverManyMark(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	p := x.person("Ilse Marrow", "")
	as := x.assign(x.form("F", pick(banks.OneOf, 5)), nil)
	a := must(x.m.Begin(ctx, as.ID, p.ID))
	must(x.s.HandIn(ctx, a.ID, "key-1-of-the-client"))
	other := New(x.s, x.l, Options{Now: x.clock})
	var wg sync.WaitGroup
	for i := range 8 {
		wg.Go(func() {
			m := x.m
			if i%2 == 1 {
				m = other
			}
			if b, err := m.Mark(ctx, a.ID); err != nil || b.State != quiz.Graded {
				t.Errorf("%s, %v", b.State, err)
			}
		})
	}
	wg.Wait()
	if g := must(x.s.Gradings(ctx, a.ID)); len(g) != 1 {
		t.Errorf("graded %d times", len(g))
	}
}

func TestAnAttemptUnderWayIsNotMarked(t *testing.T) {
	x := open(t)
	p := x.person("Ilse Marrow", "")
	a := must(x.m.Begin(context.Background(), x.assign(x.form("F", pick(banks.OneOf, 2)), nil).ID, p.ID))
	if _, err := x.m.Mark(context.Background(), a.ID); quiz.ErrorCode(err) != quiz.Closed {
		t.Errorf("got %v, want Closed", err)
	}
}

func TestPassingIsAtTheCut(t *testing.T) {
	f := NewForm(&banks.TestForm{})
	f.TestForm.Blueprint.Cut = 0.6
	for _, tt := range []struct {
		points, of float64
		want       bool
	}{{6, 10, true}, {5.999, 10, false}, {0.1 + 0.2 + 0.3, 1, true}, {0, 0, false}, {18, 30, true}} {
		if got := f.Passes(tt.points, tt.of); got != tt.want {
			t.Errorf("%g of %g passes: %v", tt.points, tt.of, got)
		}
	}
}

func TestSweepEndsAndMarksWhatIsOverdue(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	p := x.person("Ilse Marrow", "")
	as := x.assign(x.form("F", pick(banks.OneOf, 4)), func(a *quiz.Assignment) { a.Limit = 10 * time.Minute })
	a := must(x.m.Begin(ctx, as.ID, p.ID))
	f := must(x.m.Form(ctx, as.Form))
	_, _, err := x.s.SaveAnswer(ctx, quiz.Save{Attempt: a.ID, Question: a.Questions[0], Key: "first-save", Value: right(f.Question(a.Variant, 0))})
	x.ok(err)
	if n, err := x.m.Sweep(ctx, "one"); n != 0 || err != nil {
		t.Errorf("swept %d before the time is up, %v", n, err)
	}
	x.wait(10*time.Minute + quiz.Grace + time.Second)
	if n, err := x.m.Sweep(ctx, "one"); n != 1 || err != nil {
		t.Errorf("swept %d, %v; want 1", n, err)
	}
	b := must(x.s.Attempt(ctx, a.ID))
	if b.State != quiz.Graded || b.Result.Points != 1 || b.Result.Of != 4 || b.HandInKey != "" {
		t.Errorf("the overdue attempt: %s, %+v", b.State, b.Result)
	}
	if n, err := x.m.Sweep(ctx, "one"); n != 0 || err != nil {
		t.Errorf("swept %d again, %v", n, err)
	}
}

func TestSweepMarksWhatEndedUnmarked(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	p := x.person("Ilse Marrow", "")
	as := x.assign(x.form("F", pick(banks.OneOf, 4)), nil)
	a := must(x.m.Begin(ctx, as.ID, p.ID))
	must(x.s.HandIn(ctx, a.ID, "key-of-the-client")) // and the process ends here
	if n, err := New(x.s, x.l, Options{Now: x.clock}).Sweep(ctx, "another"); n != 1 || err != nil {
		t.Errorf("swept %d, %v; want 1", n, err)
	}
	if b := must(x.s.Attempt(ctx, a.ID)); b.State != quiz.Graded {
		t.Errorf("it is still %s", b.State)
	}
}

// An answer that could be meant in two ways is settled by a coordinator.
func TestAnswerThatCannotBeRead(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	boss := x.person("R. Ashcombe", "", quiz.Coordinator)
	p := x.person("Ilse Marrow", "")
	as := x.assign(x.form("F", pick(banks.OneOf, 3)), nil)
	a := x.takes(p, as, func(n int, q *banks.Question) string {
		if n == 1 {
			return "A B"
		}
		return right(q)
	})
	if a.Result.Points != 2 || a.Result.Of != 3 {
		t.Fatalf("marked %+v", a.Result)
	}
	r := must(x.m.Results(ctx, as.ID))
	if r.Totals.Unread != 1 || r.Rows[0].Unread != 1 || r.Rows[0].Cells[1].Verdict != Unread || r.Rows[0].Cells[1].Raw != "A B" {
		t.Errorf("it is not listed: %+v", r.Rows[0].Cells[1])
	}
	q := r.Columns[1].Question
	if _, err := x.m.ReadAs(ctx, boss.ID, a.ID, a.Questions[0], "A", ""); quiz.ErrorCode(err) != quiz.Closed {
		t.Errorf("an answer that was read is read anew: %v", err)
	}
	b, err := x.m.ReadAs(ctx, boss.ID, a.ID, q.ID, right(q), "the first mark is crossed out")
	if err != nil || b.Result.Points != 3 || b.Result.Reason != "the first mark is crossed out" || b.Result.By != boss.ID {
		t.Errorf("read as the key: %+v, %v", b.Result, err)
	}
	if n := x.notices(p, quiz.NoticeRegraded); len(n) != 1 || n[0].Detail[DetailBefore] != "2" || n[0].Detail[DetailAfter] != "3" {
		t.Errorf("told %v", n)
	}
	// A later regrade of the question keeps the reading.
	other := must(x.m.Form(ctx, as.Form)).Question(0, 1)
	_, err = x.m.Apply(ctx, boss.ID, as.ID, grading.Rulings(grading.Ruling{Question: other.ID, Key: wrong(other), Why: "misprint"}), "misprint", grading.RegradeOptions{})
	x.ok(err)
	s := must(x.s.Gradings(ctx, a.ID))
	if last := s[len(s)-1].Scores[1]; last.Verdict != grading.Wrong {
		t.Errorf("after the key changed, the reading scores %s", last.Verdict)
	}
}

func TestPaperIsRecordedAndCorrected(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	boss := x.person("R. Ashcombe", "", quiz.Coordinator)
	p := x.person("Ilse Marrow", "")
	a1, b1 := pick(banks.OneOf, 6)[:3], pick(banks.OneOf, 6)[3:]
	as := x.assign(x.form("F", a1, b1), func(a *quiz.Assignment) { a.Limit = time.Minute })
	answers := []string{right(b1[0]), " " + wrong(b1[1]) + " ", ""}
	a, err := x.m.Paper(ctx, boss.ID, as.ID, p.ID, 1, answers)
	if err != nil || a.State != quiz.Graded || a.Medium != quiz.OnPaper || a.Variant != 1 || a.Result.Points != 1 || a.Result.Of != 3 {
		t.Fatalf("recorded %+v, %v", a, err)
	}
	for name, call := range map[string]func() error{
		"too few answers": func() error { _, err := x.m.Paper(ctx, boss.ID, as.ID, p.ID, 1, answers[:2]); return err },
		"no such variant": func() error { _, err := x.m.Paper(ctx, boss.ID, as.ID, p.ID, 2, answers); return err },
		"no reason": func() error {
			_, err := x.m.CorrectPaper(ctx, boss.ID, a.ID, map[string]string{b1[1].ID: "A"}, " ")
			return err
		},
	} {
		if err := call(); quiz.ErrorCode(err) != quiz.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
	b, err := x.m.CorrectPaper(ctx, boss.ID, a.ID, map[string]string{b1[1].ID: right(b1[1])}, "question 2 was misread")
	if err != nil || b.Result.Points != 2 || b.Gradings != 2 || b.Result.Reason != "question 2 was misread" {
		t.Errorf("corrected %+v, %v", b.Result, err)
	}
	if len(x.notices(p, quiz.NoticeRegraded)) != 1 {
		t.Error("the person was not told")
	}
	f := must(x.m.Form(ctx, as.Form))
	if err := f.Readable(1, 0, "A B"); err == nil {
		t.Error("two marks can be read")
	}
	if err := f.Readable(1, 0, wrong(b1[0])); err != nil {
		t.Errorf("a wrong answer cannot be read: %v", err)
	}
}

// Nothing that is meant for somebody whose attempt is under way holds a key.
func TestKeysStayIn(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	p := x.person("Ilse Marrow", "")
	as := x.assign(x.form("F", mixed()), func(a *quiz.Assignment) { a.Attempts = 1 })
	a := must(x.m.Begin(ctx, as.ID, p.ID))
	f := must(x.m.Form(ctx, as.Form))
	review := must(x.m.Review(ctx, a.ID))
	if review.Shown != (quiz.Shown{}) || len(review.Rows) != len(a.Questions) {
		t.Errorf("shown %+v of %d questions", review.Shown, len(review.Rows))
	}
	for i := range a.Questions {
		q := f.Question(a.Variant, i)
		ask, ok := f.Ask(a.Variant, i)
		if !ok || ask.ID != q.ID || ask.Number != i+1 || ask.Stem != q.Stem || len(ask.Options) != len(q.Options) || len(ask.Steps) != len(q.Steps) {
			t.Fatalf("question %d is asked as %+v", i+1, ask)
		}
		for _, given := range []any{ask, review.Rows[i]} {
			b := must(json.Marshal(given))
			var all map[string]any
			x.ok(json.Unmarshal(b, &all))
			if bytes.Contains(b, []byte(`"right"`)) || bytes.Contains(b, []byte(`"accept"`)) || bytes.Contains(b, []byte(`"tolerance"`)) {
				t.Errorf("question %d: a key is in %s", i+1, b)
			}
			// What is typed stands nowhere in the question.
			for _, key := range q.Key.Accept {
				if strings.Contains(string(b), `"`+key+`"`) {
					t.Errorf("question %d: its key %s is in %s", i+1, key, b)
				}
			}
		}
		if r := review.Rows[i]; r.Right != "" || r.Says != "" || r.Verdict != "" || r.Trace != nil || r.Steps != nil {
			t.Errorf("question %d: the review shows %+v", i+1, r)
		}
	}
	if _, ok := f.Ask(9, 0); ok {
		t.Error("a variant that is not there asks a question")
	}
}

func TestReviewFollowsTheRelease(t *testing.T) {
	tests := []struct {
		name     string
		release  quiz.Release
		attempts int
		want     quiz.Shown
	}{
		{"all of it", quiz.Release{When: quiz.ReleaseAtEnd, Score: true, Answers: true, Key: true, Trace: true}, 1, quiz.Shown{Score: true, Answers: true, Key: true, Trace: true}},
		{"score alone while another attempt may come", quiz.Release{When: quiz.ReleaseAtEnd, Score: true, Answers: true, Key: true, Trace: true}, 2, quiz.Shown{Score: true}},
		{"answers without key", quiz.Release{When: quiz.ReleaseAtEnd, Answers: true}, 1, quiz.Shown{Answers: true}},
		{"nothing", quiz.Release{When: quiz.ReleaseNever, Key: true}, 1, quiz.Shown{}},
	}
	x := open(t)
	form := x.form("F", mixed())
	for i, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p := x.person("Person "+banks.Letter(i), "")
			as := x.assign(form, func(a *quiz.Assignment) {
				a.Release, a.Attempts, a.Targets = tt.release, tt.attempts, []quiz.Target{{Kind: quiz.ToPerson, ID: p.ID}}
			})
			v := must(x.m.Review(context.Background(), x.takes(p, as, allRight(0)).ID))
			if v.Shown != tt.want {
				t.Fatalf("shown %+v, want %+v", v.Shown, tt.want)
			}
			for _, r := range v.Rows {
				if (r.Verdict != "") != tt.want.Answers || (r.Right != "") != tt.want.Key || (r.Says != "") && !tt.want.Key || (len(r.Trace) > 0) != tt.want.Trace {
					t.Errorf("row %+v", r)
				}
			}
			if (v.Attempt.Result.Of > 0) != tt.want.Score {
				t.Errorf("result %+v", v.Attempt.Result)
			}
		})
	}
}

func TestResultsOfAnAssignment(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	qs := pick(banks.OneOf, 6)
	as := x.assign(x.form("F", qs[:4], []*banks.Question{qs[4], qs[1], qs[5], qs[0]}), nil)
	sites := x.sites()
	ada, bo, cy := x.person("ada", sites[0]), x.person("Bo", ""), x.person("Cy", "")
	x.person("R. Ashcombe", "", quiz.Coordinator)
	x.takes(ada, as, allRight(0, 1, 2))
	x.takes(ada, as, allRight(0))
	must(x.m.Begin(ctx, as.ID, cy.ID))
	r := must(x.m.Results(ctx, as.ID))
	if len(r.Columns) != 6 || len(r.Rows) != 3 || len(r.Waiting) != 1 || r.Waiting[0].ID != bo.ID {
		t.Fatalf("%d columns, %d rows, waiting %v", len(r.Columns), len(r.Rows), r.Waiting)
	}
	first, second, third := &r.Rows[0], &r.Rows[1], &r.Rows[2]
	if first.Person.ID != ada.ID || first.Site == "" || first.Counts || !second.Counts || second.Attempt.Number != 2 || third.Person.ID != cy.ID {
		t.Errorf("rows: %+v", r.Rows)
	}
	if first.Answered != 4 || first.Spent != 80*time.Second || third.Answered != 0 {
		t.Errorf("answered %d in %s", first.Answered, first.Spent)
	}
	asked, rightly := 0, 0
	for _, row := range r.Rows[:2] {
		for i, c := range row.Cells {
			q := r.Columns[i].Question
			if c.Asked != row.Attempt.Asks(q.ID) || c.Asked && (!c.Graded || c.Withdrawn || c.Spent == 0) {
				t.Errorf("cell %d: %+v", i, c)
			}
			if c.Verdict == grading.Right {
				rightly++
			}
			if c.Asked {
				asked++
			}
		}
	}
	for _, c := range r.Columns {
		asked -= c.Asked
		rightly -= c.Right
	}
	if asked != 0 || rightly != 0 {
		t.Error("columns and rows do not agree")
	}
	tot := r.Totals
	if tot.People != 3 || tot.Waiting != 1 || tot.Working != 1 || tot.Attempts != 2 || tot.Graded != 1 || tot.Passed != 1 || tot.Mean != 0.75 || tot.Median != 0.75 {
		t.Errorf("totals %+v", tot)
	}
	if len(tot.Slips) != 1 || tot.Slips[0].Times != 1 {
		t.Errorf("slips %v", tot.Slips)
	}
}

func TestFormCacheKeepsWithinItsMemory(t *testing.T) {
	c := newFormCache(100)
	for _, id := range []string{"a", "b", "c"} {
		c.add(id, &Form{bytes: 40})
	}
	if _, ok := c.get("a"); ok || c.used != 80 {
		t.Errorf("the oldest is still there; %d bytes", c.used)
	}
	c.add("huge", &Form{bytes: 1000})
	if _, ok := c.get("huge"); !ok || c.lru.Len() != 1 {
		t.Error("the form in use is not kept")
	}
}

// Whoever was not shown a score learns none by a notice of its change.
func TestNoNoticeOfAScoreThatIsNotReleased(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	boss, p := x.person("R. Ashcombe", "", quiz.Coordinator), x.person("Ilse Marrow", "")
	list := pick(banks.OneOf, 3)
	as := x.assign(x.form("F", list), func(a *quiz.Assignment) { a.Release.When = quiz.ReleaseByHand })
	a, err := x.m.Paper(ctx, boss.ID, as.ID, p.ID, 0, []string{right(list[0]), wrong(list[1]), ""})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := x.m.CorrectPaper(ctx, boss.ID, a.ID, map[string]string{list[1].ID: right(list[1])}, "misread"); err != nil {
		t.Fatal(err)
	}
	if n := x.notices(p, quiz.NoticeRegraded); len(n) != 0 {
		t.Errorf("%+v", n)
	}
}
