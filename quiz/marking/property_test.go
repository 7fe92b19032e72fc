package marking

import (
	"context"
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"

	"rightpage/banks"
	"rightpage/grading"
	"rightpage/quiz"
)

// Whatever is ruled in whatever order, an attempt that was regraded each time
// ends as one with the same answers that is handed in afterwards, points add up,
// every grading is kept, and doing the last regrade again changes nothing.
func TestEarlyAndLateAttemptsEndAlike(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	qs := pick(banks.OneOf, 3)
	boss := x.person("R. Ashcombe", "", quiz.Coordinator)
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		n++
		form := x.form(fmt.Sprint("Form ", n), qs)
		as := x.assign(form, nil)
		letter := func(q *banks.Question, name string) string {
			return banks.Letter(rapid.IntRange(0, len(q.Options)-1).Draw(t, name))
		}
		var said []string
		for i, q := range qs {
			said = append(said, letter(q, fmt.Sprint("answer ", i)))
		}
		say := func(i int, _ *banks.Question) string { return said[i] }
		early := x.takes(x.person(fmt.Sprint("Early ", n), ""), as, say)
		points := []float64{early.Result.Points}
		for i := range rapid.IntRange(1, 4).Draw(t, "rulings") {
			q := qs[rapid.IntRange(0, 1).Draw(t, "question")] // the third is never void, so that something is left
			r := grading.Ruling{Question: q.ID, Why: fmt.Sprint("ruling ", i)}
			if r.Void = rapid.IntRange(0, 3).Draw(t, "void") == 0; !r.Void {
				r.Key, r.Also = letter(q, "key"), rapid.Bool().Draw(t, "also")
			}
			opt := grading.RegradeOptions{Remedy: rapid.SampledFrom([]grading.Remedy{grading.NewKey, grading.Either}).Draw(t, "remedy"),
				Void: rapid.SampledFrom([]grading.VoidRemedy{grading.Withdraw, grading.Credit}).Draw(t, "remedy for void")}
			x.wait(time.Minute)
			rep, err := x.m.Apply(ctx, boss.ID, as.ID, grading.Rulings(r), r.Why, opt)
			if err != nil {
				t.Fatal(err)
			}
			now := must(x.s.Attempt(ctx, early.ID))
			var delta float64
			for _, c := range rep.Responses {
				delta += c.Delta
			}
			if got := now.Result.Points - points[len(points)-1]; got != delta {
				t.Fatalf("the report says %+g points, it is %+g", delta, got)
			}
			if now.Gradings > len(points) {
				points = append(points, now.Result.Points)
			}
			if opt.Remedy == grading.Either && !r.Void && delta < 0 {
				t.Fatalf("either key counts, and %g points were lost", -delta)
			}
		}
		kept := must(x.s.Gradings(ctx, early.ID))
		if len(kept) != len(points) {
			t.Fatalf("%d gradings are kept of %d", len(kept), len(points))
		}
		late := x.takes(x.person(fmt.Sprint("Late ", n), ""), as, say)
		early = must(x.s.Attempt(ctx, early.ID))
		if a, b := x.verdicts(early), x.verdicts(late); a != b || early.Result.Points != late.Result.Points || early.Result.Of != late.Result.Of || early.Result.Passed != late.Result.Passed {
			t.Fatalf("early %s, %+v; late %s, %+v", a, early.Result, b, late.Result)
		}
		if err := x.m.resume(ctx, form.ID); err != nil {
			t.Fatal(err)
		}
		if again := must(x.s.Attempt(ctx, early.ID)); again.Gradings != early.Gradings {
			t.Fatal("resumed, it was regraded again")
		}
	})
}
