package marking

import (
	"context"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
	"rightpage/grading"
	"rightpage/quiz"
)

// other is the letter of a wrong option.
func other(q *banks.Question) string {
	for i, o := range q.Options {
		if !o.Right {
			return banks.Letter(i)
		}
	}
	return ""
}

// verdicts lists the verdicts of the last grading; "–" where a question does not
// count.
func (x *shop) verdicts(a quiz.Attempt) string {
	x.t.Helper()
	g, err := x.s.Gradings(context.Background(), a.ID)
	x.ok(err)
	var out []string
	for _, q := range a.Questions {
		v := "–"
		for _, s := range g[len(g)-1].Scores {
			if s.Question == q {
				v = string(s.Verdict)
			}
		}
		out = append(out, v)
	}
	return strings.Join(out, " ")
}

// An accepted dispute regrades everybody who was asked the question, at every
// assignment of the form, and those who hand in later.
func TestAcceptedDisputeRegradesEverybody(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	qs := pick(banks.OneOf, 5)
	form := x.form("F", qs[:3], []*banks.Question{qs[3], qs[1], qs[4]})
	first, second := x.assign(form, nil), x.assign(form, nil)
	elsewhere := x.assign(x.form("Another form", qs[:3]), nil)
	boss := x.person("R. Ashcombe", "", quiz.Coordinator)
	ada, bo, cy, di := x.person("Ada", ""), x.person("Bo", ""), x.person("Cy", ""), x.person("Di", "")
	q := qs[1]
	byOther := func(_ int, x *banks.Question) string { // the disputed one by another letter, the rest right
		if x.ID == q.ID {
			return other(q)
		}
		return right(x)
	}
	disputed := x.takes(ada, first, byOther)
	rightly := x.takes(bo, second, allRight())
	also := x.takes(bo, second, byOther)
	apart := x.takes(ada, elsewhere, byOther)
	under := must(x.m.Begin(ctx, first.ID, di.ID)) // handed in after the decision
	d := must(x.s.OpenDispute(ctx, disputed.ID, q.ID, "TR-12 says "+other(q)))

	view := must(x.m.Dispute(ctx, d.ID))
	if view.Number == 0 || view.Key != right(q) || view.Given != other(q) || view.Score.Verdict != grading.Wrong || view.Others != 2 || view.Person.ID != ada.ID {
		t.Errorf("view %+v", view)
	}
	ruling := grading.Ruling{Key: other(q)}
	before := must(x.m.PreviewDispute(ctx, d.ID, ruling))
	if gain, lose, _, _ := before.Sums(); gain != 2 || lose != 1 {
		t.Errorf("the preview has %d gain and %d lose", gain, lose)
	}
	if g := must(x.s.Gradings(ctx, disputed.ID)); len(g) != 1 {
		t.Error("the preview changed something")
	}

	// What cannot be: not one's own, not without a ruling or a reason.
	for name, call := range map[string]func() error{
		"one's own": func() error { _, _, err := x.m.DecideDispute(ctx, ada.ID, d.ID, ruling, true, "yes"); return err },
		"no ruling": func() error {
			_, _, err := x.m.DecideDispute(ctx, boss.ID, d.ID, grading.Ruling{}, true, "yes")
			return err
		},
		"no reason": func() error { _, _, err := x.m.DecideDispute(ctx, boss.ID, d.ID, ruling, true, " "); return err },
		"another question": func() error {
			_, _, err := x.m.DecideDispute(ctx, boss.ID, d.ID, grading.Ruling{Question: qs[0].ID, Key: "A"}, true, "yes")
			return err
		},
		"an unreadable key": func() error {
			_, _, err := x.m.DecideDispute(ctx, boss.ID, d.ID, grading.Ruling{Key: "A B"}, true, "yes")
			return err
		},
		"no such dispute": func() error { _, _, err := x.m.DecideDispute(ctx, boss.ID, "x", ruling, true, "yes"); return err },
	} {
		if err := call(); err == nil {
			t.Errorf("%s is decided", name)
		}
	}
	if open := must(x.s.Disputes(ctx, quiz.DisputeOpen)); len(open) != 1 {
		t.Fatal("the dispute is no longer open")
	}

	decided, rep, err := x.m.DecideDispute(ctx, boss.ID, d.ID, ruling, true, "the bulletin of May is right")
	if err != nil || decided.State != quiz.DisputeAccepted {
		t.Fatalf("decided %+v, %v", decided, err)
	}
	if gain, lose, _, _ := rep.Sums(); gain != 2 || lose != 1 || rep.Examined != before.Examined {
		t.Errorf("the report has %d gain and %d lose", gain, lose)
	}
	for name, tt := range map[string]struct {
		attempt quiz.Attempt
		points  float64
	}{"who disputed": {disputed, 3}, "who had the old key": {rightly, 2}, "at another assignment": {also, 3}, "at another form": {apart, 2}} {
		if a := must(x.s.Attempt(ctx, tt.attempt.ID)); a.Result.Points != tt.points {
			t.Errorf("%s has %g points, want %g", name, a.Result.Points, tt.points)
		}
	}
	a := must(x.s.Attempt(ctx, disputed.ID))
	if a.Gradings != 2 || !strings.Contains(a.Result.Reason, "the bulletin of May is right") || a.Result.By != boss.ID {
		t.Errorf("result %+v", a.Result)
	}
	if g := must(x.s.Gradings(ctx, disputed.ID)); g[0].Result.Points != 2 {
		t.Error("the old score is not kept")
	}
	// Who hands in later is marked by the ruling.
	_, _, err = x.s.SaveAnswer(ctx, quiz.Save{Attempt: under.ID, Question: q.ID, Key: "save-late", Value: other(q)})
	x.ok(err)
	late := must(x.m.HandIn(ctx, under.ID, "hand-in-late"))
	if late.Result.Points != 1 || late.Gradings != 1 || late.Result.Reason != "" {
		t.Errorf("who hands in later has %+v", late.Result)
	}
	next := x.takes(cy, second, byOther)
	if next.Result.Points != 3 {
		t.Errorf("who begins later has %g points", next.Result.Points)
	}
	// People are told: the one who disputed of the verdict, each of the score.
	if n := x.notices(ada, quiz.NoticeDispute); len(n) != 1 || n[0].Detail[DetailState] != "accepted" || n[0].Detail[DetailVerdict] != "the bulletin of May is right" {
		t.Errorf("told of the verdict %v", n)
	}
	if n := x.notices(ada, quiz.NoticeRegraded); len(n) != 1 || n[0].Detail[DetailBefore] != "2" || n[0].Detail[DetailAfter] != "3" || n[0].Subject != "attempt/"+disputed.ID {
		t.Errorf("told of the score %v", n)
	}
	if n := x.notices(bo, quiz.NoticeRegraded); len(n) != 2 {
		t.Errorf("told %d times of 2 attempts", len(n))
	}
	if n := x.notices(cy, quiz.NoticeRegraded); len(n) != 0 {
		t.Error("told of a regrade that was none")
	}
	// The key that holds is shown, under the ID that the form has.
	cur := must(x.m.Current(ctx, form.ID, q.ID))
	if cur.ID != q.ID || right(cur) != other(q) {
		t.Errorf("the key that holds is %s", right(cur))
	}
	if r := must(x.m.Results(ctx, first.ID)); !r.Columns[1].Touched || r.Columns[0].Touched || right(r.Columns[1].Question) != other(q) {
		t.Error("the results show the old key")
	}
	// Decided once.
	if _, _, err := x.m.DecideDispute(ctx, boss.ID, d.ID, ruling, true, "again"); quiz.ErrorCode(err) != quiz.Closed {
		t.Errorf("decided again: %v", err)
	}
	// Another process sees the same.
	if b := must(New(x.s, x.l, Options{Now: x.clock}).Current(ctx, form.ID, q.ID)); right(b) != other(q) {
		t.Error("another process has the old key")
	}
	if must(x.s.VerifyAudit(ctx)).Seq == 0 {
		t.Error("the audit log is empty")
	}
}

func TestRejectedDisputeChangesNothing(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	qs := pick(banks.OneOf, 2)
	ada, boss := x.person("Ada", ""), x.person("R. Ashcombe", "", quiz.Coordinator)
	a := x.takes(ada, x.assign(x.form("F", qs), nil), allRight(0))
	d := must(x.s.OpenDispute(ctx, a.ID, qs[0].ID, "no"))
	decided, rep, err := x.m.DecideDispute(ctx, boss.ID, d.ID, grading.Ruling{Key: other(qs[0])}, false, "page 12 says so")
	if err != nil || rep != nil || decided.State != quiz.DisputeRejected {
		t.Fatalf("%+v, %v", decided, err)
	}
	if b := must(x.s.Attempt(ctx, a.ID)); b.Gradings != 1 {
		t.Error("it was regraded")
	}
	if n := x.notices(ada, quiz.NoticeDispute); len(n) != 1 || n[0].Detail[DetailState] != "rejected" {
		t.Errorf("told %v", n)
	}
}

// Void: withdrawn for everybody, or credited.
func TestVoidQuestion(t *testing.T) {
	for _, tt := range []struct {
		void     grading.VoidRemedy
		verdicts string
		points   float64
		of       float64
		passed   bool
	}{
		{grading.Withdraw, "– right wrong", 1, 2, false},
		{grading.Credit, "right right wrong", 2, 3, true},
	} {
		t.Run(string(tt.void), func(t *testing.T) {
			x := open(t)
			ctx := context.Background()
			qs := pick(banks.OneOf, 3)
			as := x.assign(x.form("F", qs), nil)
			a := x.takes(x.person("Ada", ""), as, allRight(0, 2))
			void := grading.Rulings(grading.Ruling{Question: qs[0].ID, Void: true, Why: "the page is missing"})
			_, err := x.m.Apply(ctx, "", as.ID, void, "the page is missing", grading.RegradeOptions{Void: tt.void})
			x.ok(err)
			b := must(x.s.Attempt(ctx, a.ID))
			if got := x.verdicts(b); got != tt.verdicts || b.Result.Points != tt.points || b.Result.Of != tt.of || b.Result.Passed != tt.passed {
				t.Errorf("%s, %+v", got, b.Result)
			}
			// Again changes nothing; and so it is for who comes later.
			_, err = x.m.Apply(ctx, "", as.ID, void, "the page is missing", grading.RegradeOptions{Void: tt.void})
			x.ok(err)
			if c := must(x.s.Attempt(ctx, a.ID)); c.Gradings != b.Gradings {
				t.Error("applied again, it was regraded again")
			}
			late := x.takes(x.person("Bo", ""), as, allRight(0, 2))
			if got := x.verdicts(late); got != tt.verdicts {
				t.Errorf("later: %s", got)
			}
		})
	}
}

func TestNoAttemptIsLeftWithoutAQuestion(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	qs := pick(banks.OneOf, 2)
	as := x.assign(x.form("F", qs), nil)
	a := x.takes(x.person("Ada", ""), as, allRight())
	all := grading.Rulings(grading.Ruling{Question: qs[0].ID, Void: true, Why: "w"}, grading.Ruling{Question: qs[1].ID, Void: true, Why: "w"})
	if _, err := x.m.Apply(ctx, "", as.ID, all, "w", grading.RegradeOptions{}); quiz.ErrorCode(err) != quiz.Conflict {
		t.Errorf("got %v, want Conflict", err)
	}
	if b := must(x.s.Attempt(ctx, a.ID)); b.Gradings != 1 {
		t.Error("it was regraded")
	}
	if late := x.takes(x.person("Bo", ""), as, allRight()); late.Result.Of != 2 {
		t.Error("what was refused holds for others")
	}
}

func TestRegradeNeedsAReason(t *testing.T) {
	x := open(t)
	qs := pick(banks.OneOf, 1)
	as := x.assign(x.form("F", qs), nil)
	_, err := x.m.Apply(context.Background(), "", as.ID, grading.Rulings(grading.Ruling{Question: qs[0].ID, Void: true}), "", grading.RegradeOptions{})
	if quiz.ErrorCode(err) != quiz.Invalid {
		t.Errorf("got %v, want Invalid", err)
	}
}

// Rulings that follow each other on one question.
func TestRulingsFollowEachOther(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	var q *banks.Question
	for _, c := range pick(banks.OneOf, 40) {
		if len(c.Options) >= 3 {
			q = c
			break
		}
	}
	as := x.assign(x.form("F", []*banks.Question{q}), func(a *quiz.Assignment) { a.Attempts = 9 })
	var wrongs []string
	for i, o := range q.Options {
		if !o.Right {
			wrongs = append(wrongs, banks.Letter(i))
		}
	}
	p := x.person("Ada", "")
	say := func(letter string) quiz.Attempt {
		return x.takes(p, as, func(int, *banks.Question) string { return letter })
	}
	attempts := []quiz.Attempt{say(right(q)), say(wrongs[0]), say(wrongs[1])}
	rule := func(key string, also bool) {
		_, err := x.m.Apply(ctx, "", as.ID, grading.Rulings(grading.Ruling{Question: q.ID, Key: key, Also: also, Why: "w"}), "ruling "+key, grading.RegradeOptions{})
		x.ok(err)
	}
	check := func(want ...grading.Verdict) {
		t.Helper()
		for i, a := range attempts {
			if got := x.verdicts(a); got != string(want[i]) {
				t.Errorf("attempt %d is %s, want %s", i+1, got, want[i])
			}
		}
	}
	rule(wrongs[0], false)
	check(grading.Wrong, grading.Right, grading.Wrong)
	rule(wrongs[1], true) // beside the key that holds, not the first one
	check(grading.Wrong, grading.Right, grading.Right)
	attempts = append(attempts, say(wrongs[1]), say(right(q)))
	check(grading.Wrong, grading.Right, grading.Right, grading.Right, grading.Wrong)
	rule(right(q), false)
	check(grading.Right, grading.Wrong, grading.Wrong, grading.Wrong, grading.Right)
}

// changedQuestions are questions of the old revision that the next one gives
// another key, and ones that it makes void.
var changedQuestions = sync.OnceValues(func() (newKey, void []*banks.Question) {
	change := grading.Revision(resolver.New(must(catalog.Load("../../testdata/quillan-next"))))
	old := resolver.New(must(catalog.Load("../../testdata/quillan")))
	must(banks.Generate(context.Background(), banks.NewSource(old), banks.Plan{Seed: 11, Size: 6000, Shares: kinds.Equal()}, func(q *banks.Question, _ []byte) bool {
		c := *q
		switch change(&c).Outcome {
		case grading.KeyChanged:
			newKey = append(newKey, &c)
		case grading.Void:
			void = append(void, &c)
		}
		return true
	}))
	return newKey, void
})

// A new revision: who answered by the literature of the day was right, and so is
// who answers by the new one.
func TestRevisionLetsEitherKeyCount(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	changed, void := changedQuestions()
	qs := []*banks.Question{changed[0], changed[1], void[0], pick(banks.OneOf, 1)[0]}
	as := x.assign(x.form("F", qs), func(a *quiz.Assignment) { a.Attempts = 9 })
	p := x.person("Ada", "")
	next := x.upload("quillan-next")
	change := grading.Revision(must(x.l.Entry(ctx, next.ID)).Resolver)
	byNew := func(n int, q *banks.Question) string {
		if n < 2 {
			return right(change(q).New)
		}
		return right(q)
	}
	old, renewed := x.takes(p, as, allRight()), x.takes(p, as, byNew)
	if old.Result.Points != 4 || renewed.Result.Points >= 4 {
		t.Fatalf("before: %g and %g points", old.Result.Points, renewed.Result.Points)
	}
	rep := must(x.m.PreviewRevision(ctx, as.ID, next.ID, grading.RegradeOptions{}))
	if rep.Remedy != grading.Either || !strings.Contains(rep.Cause, next.Revision) {
		t.Errorf("remedy %s, cause %s", rep.Remedy, rep.Cause)
	}
	if gain, lose, _, withdrawn := rep.Sums(); gain != 2 || lose != 0 || withdrawn != 0 || rep.Kept == 0 {
		t.Errorf("%d gain, %d lose, %d withdrawn, %d kept", gain, lose, withdrawn, rep.Kept)
	}
	// A coordinator may decide that the new key alone counts.
	strict := must(x.m.PreviewRevision(ctx, as.ID, next.ID, grading.RegradeOptions{Remedy: grading.NewKey}))
	if _, lose, _, withdrawn := strict.Sums(); lose == 0 || withdrawn == 0 {
		t.Errorf("by the new key alone %d lose, %d are withdrawn", lose, withdrawn)
	}
	must(x.m.ApplyRevision(ctx, "", as.ID, next.ID, grading.RegradeOptions{}))
	for name, a := range map[string]quiz.Attempt{"by the old key": old, "by the new key": renewed, "by the old key, later": x.takes(p, as, allRight()), "by the new key, later": x.takes(p, as, byNew)} {
		b := must(x.s.Attempt(ctx, a.ID))
		if math.Abs(b.Result.Points-4) > 1e-9 || b.Result.Of != 4 {
			t.Errorf("%s: %g of %g", name, b.Result.Points, b.Result.Of)
		}
	}
	if _, err := x.m.PreviewRevision(ctx, as.ID, "nothing", grading.RegradeOptions{}); quiz.ErrorCode(err) != quiz.NotFound {
		t.Errorf("a catalog that is not there: %v", err)
	}
}

// A generic change, kept as rulings, marks later attempts as it regraded the
// earlier ones, for every form of question.
func TestAnyChangeHoldsForLaterAttempts(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	change := grading.Revision(resolver.New(must(catalog.Load("../../testdata/quillan-next"))))
	changed, _ := changedQuestions()
	var qs []*banks.Question
	for _, f := range banks.Forms() {
		if i := slices.IndexFunc(changed, func(q *banks.Question) bool { return q.Form == f }); i >= 0 {
			qs = append(qs, changed[i])
		}
	}
	if len(qs) < 2 {
		t.Fatalf("the revisions differ in %d forms of question", len(qs))
	}
	as := x.assign(x.form("F", qs), func(a *quiz.Assignment) { a.Attempts = 9 })
	p := x.person("Ada", "")
	byNew := func(_ int, q *banks.Question) string { return right(change(q).New) }
	early := x.takes(p, as, byNew)
	must(x.m.Apply(ctx, "", as.ID, change, "the next revision", grading.RegradeOptions{}))
	late := x.takes(p, as, byNew)
	all := float64(len(qs))
	if a := must(x.s.Attempt(ctx, early.ID)); a.Result.Points != all || late.Result.Points != all {
		t.Errorf("early %g, late %g of %g: %s / %s", a.Result.Points, late.Result.Points, all, x.verdicts(a), x.verdicts(late))
	}
}

// A crash after the decision: another process completes the regrading and tells
// people.
func TestRegradingCutShortIsCompleted(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	qs := pick(banks.OneOf, 3)
	form := x.form("F", qs)
	as := x.assign(form, nil)
	ada, bo, boss := x.person("Ada", ""), x.person("Bo", ""), x.person("R. Ashcombe", "", quiz.Coordinator)
	a := x.takes(ada, as, func(_ int, q *banks.Question) string { return other(q) })
	b := x.takes(bo, as, func(_ int, q *banks.Question) string { return other(q) })
	d := must(x.s.OpenDispute(ctx, a.ID, qs[0].ID, "no"))

	// What DecideDispute does up to the decision, and for the first of them.
	must(x.m.guard(ctx, form.ID))
	c := correction{Cause: disputeCause("yes"), Remedy: grading.NewKey, Void: grading.Withdraw, Rulings: []grading.Ruling{{Question: qs[0].ID, Key: other(qs[0]), Why: "yes"}}, Dispute: d.ID}
	x.ok(x.m.record(ctx, boss.ID, form.ID, c))
	if list := must(x.m.corrections(ctx, form.ID)); len(list) != 0 {
		t.Error("a ruling holds before its dispute is decided")
	}
	must(x.s.DecideDispute(ctx, boss.ID, d.ID, true, "yes"))
	list := must(x.m.corrections(ctx, form.ID))
	f := must(x.m.Form(ctx, form.ID))
	if _, changed, err := x.m.settle(ctx, boss.ID, f, a, list); err != nil || !changed {
		t.Fatalf("settle: %v, %v", changed, err)
	}

	after := New(x.s, x.l, Options{Now: x.clock})
	x.wait(2 * 60e9)
	if n, err := after.Sweep(ctx, "another"); n == 0 || err != nil {
		t.Fatalf("swept %d, %v", n, err)
	}
	for _, y := range []quiz.Attempt{a, b} {
		if g := must(x.s.Attempt(ctx, y.ID)); g.Result.Points != 1 || g.Gradings != 2 {
			t.Errorf("%+v after %d gradings", g.Result, g.Gradings)
		}
	}
	for _, p := range []quiz.Person{ada, bo} {
		if n := x.notices(p, quiz.NoticeRegraded); len(n) != 1 {
			t.Errorf("%s is told %d times", p.Name, len(n))
		}
	}
	if n := x.notices(ada, quiz.NoticeDispute); len(n) != 1 {
		t.Errorf("told of the verdict %d times", len(n))
	}
	if n, err := after.Sweep(ctx, "another"); n != 0 || err != nil {
		t.Errorf("swept %d again, %v", n, err)
	}
}

// Of two coordinators who decide at once, one is heard, and the ruling of the
// other counts for nothing.
func TestTwoDecideAtOnce(t *testing.T) {
	x := open(t)
	ctx := context.Background()
	qs := pick(banks.OneOf, 2)
	form := x.form("F", qs)
	as := x.assign(form, nil)
	a := x.takes(x.person("Ada", ""), as, allRight())
	d := must(x.s.OpenDispute(ctx, a.ID, qs[0].ID, "no"))
	one, two := x.person("One", "", quiz.Coordinator), x.person("Two", "", quiz.Coordinator)
	x.ok(x.m.record(ctx, two.ID, form.ID, correction{Cause: "two", Rulings: []grading.Ruling{{Question: qs[0].ID, Void: true, Why: "two"}}, Dispute: d.ID}))
	_, _, err := x.m.DecideDispute(ctx, one.ID, d.ID, grading.Ruling{Key: other(qs[0])}, true, "one")
	x.ok(err)
	if got := x.verdicts(a); got != "wrong right" {
		t.Errorf("graded %s", got)
	}
}
