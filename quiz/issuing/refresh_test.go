package issuing

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"rightpage/banks"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/credential"
)

// certified issues a certificate on so many questions that the next revision
// leaves alone, gives another key, and makes void.
func (o *office) certified(same, newKey, void int) (quiz.Certified, []*banks.Question) {
	o.t.Helper()
	p := pools()
	qs := slices.Concat(distinct(p.same, same), distinct(p.newKey, newKey), distinct(p.void, void))
	c, err := o.x.Issue(context.Background(), o.boss.ID, o.take(o.assign("Editions and limits", qs...), 0).ID)
	o.ok(err)
	return c, qs
}

func TestRevisionThatChangesEnoughOutdates(t *testing.T) {
	tests := []struct {
		same, newKey, void int
		changed            int
		want               certificate.State
	}{
		{10, 0, 0, 0, certificate.Valid},
		{8, 2, 0, 2, certificate.Valid},    // exactly the share of 20 %
		{7, 3, 0, 3, certificate.Outdated}, // one more
		{6, 2, 2, 4, certificate.Outdated},
	}
	for _, tt := range tests {
		t.Run(fmt.Sprint(tt.changed), func(t *testing.T) {
			o := open(t)
			ctx := context.Background()
			c, _ := o.certified(tt.same, tt.newKey, tt.void)
			if list, err := o.x.Refresh(ctx, o.boss.ID); err != nil || len(list) != 0 {
				t.Errorf("with the revision that it was issued by, %d change, %v", len(list), err)
			}
			// Seen before, and the same once it is in force.
			next := o.keep("quillan-next")
			effect := must(o.x.Effect(ctx, must(o.l.Entry(ctx, next.ID))))
			if effect.Changed != tt.changed || effect.Lookups != 10 || (effect.Outdated == 1) != (tt.want == certificate.Outdated) {
				t.Errorf("effect: %d of %d changed, %d outdated", effect.Changed, effect.Lookups, effect.Outdated)
			}
			if s := o.x.Standing(ctx, must(o.s.Certificate(ctx, c.Number))); s.State != certificate.Valid {
				t.Errorf("%s before the revision is in force", s.State)
			}
			o.ok(o.s.PutInForce(ctx, o.boss.ID, next.ID))
			list, err := o.x.Refresh(ctx, o.boss.ID)
			if err != nil || len(list) != min(tt.changed, 1) {
				t.Errorf("%d certificates changed, %v", len(list), err)
			}
			s := o.x.Standing(ctx, must(o.s.Certificate(ctx, c.Number)))
			if s.State != tt.want || len(s.Changed) != tt.changed {
				t.Errorf("%s with %d changes: %s", s.State, len(s.Changed), s.Reason)
			}
			for _, e := range effect.Certificates {
				if e.Becomes.State != s.State || !slices.Equal(e.Becomes.Changed, s.Changed) {
					t.Errorf("the effect foretold %s, %d changes", e.Becomes.State, len(e.Becomes.Changed))
				}
			}
			for _, ch := range s.Changed {
				if ch.Now.Source != "revision "+next.Revision || ch.Now.Answer == ch.Lookup.Answer {
					t.Errorf("change %+v", ch)
				}
			}
			told := o.notices(quiz.NoticeOutdated)
			if len(told) != map[bool]int{true: 1}[tt.want == certificate.Outdated] {
				t.Errorf("told %d times", len(told))
			}
			// Again changes nothing and tells nobody twice.
			if list, err := o.x.Refresh(ctx, o.boss.ID); err != nil || len(list) != 0 || len(o.notices(quiz.NoticeOutdated)) != len(told) {
				t.Errorf("again: %d changed, %v", len(list), err)
			}
		})
	}
}

func TestTopUpAsksWhatChangedAndRenews(t *testing.T) {
	o := open(t)
	ctx := context.Background()
	c, qs := o.certified(5, 3, 2)
	if _, err := o.x.TopUp(ctx, o.boss.ID, c.Number); !says(err, quiz.Closed, "nothing has changed") {
		t.Errorf("top-up before anything changed: %v", err)
	}
	o.wait(30 * 24 * time.Hour)
	next := o.put("quillan-next")
	must(o.x.Refresh(ctx, o.boss.ID))
	as, err := o.x.TopUp(ctx, o.boss.ID, c.Number)
	if err != nil {
		t.Fatal(err)
	}
	if again := must(o.x.TopUp(ctx, o.boss.ID, c.Number)); again.ID != as.ID {
		t.Error("asked for again, it is another quiz")
	}
	if n := o.notices(quiz.NoticeAssignment); len(n) != 1 || n[0].Subject != "assignment/"+as.ID || n[0].Detail["assignment"] != as.Title || n[0].Detail[DetailNumber] != c.Number {
		t.Errorf("told %+v", n)
	}
	if !as.For(o.person) || as.For(o.boss) {
		t.Error("it is not for the person alone")
	}
	f := must(o.m.Form(ctx, as.Form))
	asked := f.Questions()
	if f.Revision != next.Revision || len(asked) < 3 || len(asked) > 5 {
		t.Errorf("it asks %d questions of revision %s", len(asked), f.Revision)
	}
	change := grading.Revision(must(o.l.Entry(ctx, next.ID)).Resolver)
	rekeyed := 0
	for _, q := range asked {
		if got := change(q); got.Outcome != grading.Unchanged {
			t.Errorf("its key is not that of the revision: %s", got.Why)
		}
		for _, old := range qs[5:] {
			if lookupID(q) == lookupID(old) {
				rekeyed++
			}
		}
	}
	// Those with a new key, and those that had become void, amended.
	if rekeyed < 3 {
		t.Errorf("%d of the changed lookups are asked again, want the 3 with a new key at least", rekeyed)
	}

	// Failing it renews nothing, passing it does.
	if _, err := o.x.Issue(ctx, o.boss.ID, o.take(as, len(asked)).ID); !says(err, quiz.Closed, "did not pass") {
		t.Errorf("failed: %v", err)
	}
	renewed, err := o.x.Issue(ctx, o.boss.ID, o.take(as, 0).ID)
	if err != nil {
		t.Fatal(err)
	}
	if renewed.Number == c.Number || renewed.CatalogRevision != next.Revision || !renewed.Expires.Equal(c.Expires) || renewed.Quiz != c.Quiz || !slices.Equal(renewed.Skills, c.Skills) {
		t.Errorf("renewed %+v", renewed.Certificate)
	}
	if s := o.x.Standing(ctx, renewed); s.State != certificate.Valid || len(s.Changed) != 0 {
		t.Errorf("renewed, it is %s: %s", s.State, s.Reason)
	}
	if list, err := o.x.Refresh(ctx, o.boss.ID); err != nil || len(list) != 0 {
		t.Errorf("asked again, %d change, %v", len(list), err)
	}
	if s := o.x.Standing(ctx, must(o.s.Certificate(ctx, renewed.Number))); s.State != certificate.Valid || len(s.Changed) != 0 {
		t.Errorf("asked again, it is %s: %s", s.State, s.Reason)
	}
	r := must(credential.VerifyFile(must(o.x.Files(ctx, renewed.Number)).PDF, credential.Options{Now: o.clock(), Trusted: must(o.x.Keys().Trusted())}))
	if !r.Valid || r.CatalogRevision != next.Revision {
		t.Errorf("its credential: %s", r.Reason)
	}
	if _, err := o.x.TopUp(ctx, o.boss.ID, c.Number); !says(err, quiz.Closed, "renewed by "+renewed.Number) {
		t.Errorf("top-up of what was renewed: %v", err)
	}

	// The old revision again: what was renewed is outdated in turn, and can be
	// renewed once more, asked from the questions of the first form too.
	o.put("quillan")
	must(o.x.Refresh(ctx, o.boss.ID))
	s := o.x.Standing(ctx, must(o.s.Certificate(ctx, renewed.Number)))
	if s.State != certificate.Outdated || len(s.Changed) < 3 {
		t.Errorf("with the old revision in force again, it is %s with %d changes", s.State, len(s.Changed))
	}
	if back, err := o.x.TopUp(ctx, o.boss.ID, renewed.Number); err != nil || back.ID == as.ID {
		t.Errorf("top-up back: %v", err)
	}
}

// A question that a revision made void is amended: it asks the same lookup, its
// key is that of the revision, and what was right before is on offer.
func TestVoidQuestionsAreAmended(t *testing.T) {
	o := open(t)
	a := newAsker(must(o.l.Entry(context.Background(), o.keep("quillan-next").ID)))
	amended := 0
	for _, q := range pools().void {
		x := a.amended(q)
		if x == nil {
			continue
		}
		amended++
		if lookupID(x) != lookupID(q) || x.ID == q.ID || x.Revision != a.revision || x.Check() != nil {
			t.Errorf("%s %s: not the same lookup", q.Kind, q.ID)
		}
		if got := a.change(x); got.Outcome != grading.Unchanged {
			t.Errorf("%s %s: its key is not that of the revision: %s", q.Kind, q.ID, got.Why)
		}
		for i, op := range q.Options {
			if op.Right && (q.Form == banks.OneOf) && (x.Options[i].Value != op.Value) {
				t.Errorf("%s %s: what was right before is not on offer", q.Kind, q.ID)
			}
		}
		if q.Stem != x.Stem || len(q.Options) != len(x.Options) {
			t.Errorf("%s %s: stem or number of options changed", q.Kind, q.ID)
		}
	}
	if amended == 0 {
		t.Errorf("none of %d void questions could be amended", len(pools().void))
	}
	t.Logf("%d of %d void questions are amended", amended, len(pools().void))
}

func TestTopUpThatCannotBe(t *testing.T) {
	o := open(t)
	ctx := context.Background()
	c, _ := o.certified(2, 3, 0)
	o.put("quillan-next")
	as := must(o.x.TopUp(ctx, o.boss.ID, c.Number))
	a := o.take(as, 0)
	// Another revision comes before the pass is turned into a certificate.
	o.put("quillan")
	if _, err := o.x.Issue(ctx, o.boss.ID, a.ID); err == nil {
		t.Error("a top-up on another revision renews")
	}
	o.put("quillan-next")
	o.wait(400 * 24 * time.Hour)
	for name, number := range map[string]string{"expired": c.Number, "not there": "WX-2031-0404"} {
		if _, err := o.x.TopUp(ctx, o.boss.ID, number); err == nil {
			t.Errorf("top-up of a certificate that is %s", name)
		}
	}
}

// Of several who ask at once all get the same quiz.
func TestTopUpIsMadeOnce(t *testing.T) {
	o := open(t)
	ctx := context.Background()
	c, _ := o.certified(3, 3, 0)
	o.put("quillan-next")
	got := make([]quiz.Assignment, 6)
	var wg sync.WaitGroup
	for i := range got {
		wg.Go(func() {
			var err error
			if got[i], err = o.x.TopUp(ctx, o.person.ID, c.Number); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	for _, as := range got {
		if as.ID != got[0].ID {
			t.Errorf("two quizzes: %s and %s", got[0].ID, as.ID)
		}
	}
	made := 0
	for _, as := range must(o.s.Assignments(ctx)) {
		if _, ok := renewsBy(as.Title); ok {
			made++
		}
	}
	if made != 1 {
		t.Errorf("%d quizzes were made", made)
	}
}

func TestEffectOnOpenQuizzes(t *testing.T) {
	o := open(t)
	ctx := context.Background()
	p := pools()
	same := o.assign("Unchanged", distinct(p.same, 4)...)
	as := o.assign("Changed", slices.Concat(distinct(p.same, 2), distinct(p.newKey, 2), distinct(p.void, 1))...)
	o.take(as, 0)
	must(o.m.Begin(ctx, as.ID, o.person.ID))
	closed := as
	closed.ID, closed.Version, closed.Title, closed.Close = "", 0, "Closed", o.clock().Add(time.Minute)
	o.ok(o.s.SaveAssignment(ctx, "", &closed))
	o.wait(time.Hour)
	e := must(o.x.Effect(ctx, must(o.l.Entry(ctx, o.keep("quillan-next").ID))))
	if len(e.Quizzes) != 1 {
		t.Fatalf("%d quizzes are touched, want the one that is open and changes (not %s)", len(e.Quizzes), same.Title)
	}
	q := e.Quizzes[0]
	if q.Assignment.ID != as.ID || q.Questions != 5 || q.NewKey != 2 || q.Void != 1 || q.Look != 0 || len(q.Changes) != 3 || q.Working != 1 || q.Graded != 1 {
		t.Errorf("effect %+v", q)
	}
}

func TestTitlesOfTopUps(t *testing.T) {
	for title, want := range map[string]string{
		topUpTitle + "WX-2031-0001: Editions: limits": "WX-2031-0001", topUpTitle: "", "Editions": "", strings.ToLower(topUpTitle) + "WX-1: x": "",
	} {
		if got, ok := renewsBy(title); got != want || ok != (want != "") {
			t.Errorf("%q renews %q", title, got)
		}
	}
}

// BenchmarkEffect measures how long a coordinator waits to see what a revision
// would do: 300 certificates of 10 lookups, forms in memory.
func BenchmarkEffect(b *testing.B) {
	o := open(b)
	ctx := context.Background()
	c, _ := o.certified(6, 3, 1)
	for range 299 {
		d := c
		d.Attempt = c.Attempt
		d.Attempt = ""
		d.Version = 0
		o.ok(o.s.IssueCertificate(ctx, o.boss.ID, "WX", &d))
	}
	e := must(o.l.Entry(ctx, o.keep("quillan-next").ID))
	for b.Loop() {
		if got := must(o.x.Effect(ctx, e)); got.Lookups != 3000 {
			b.Fatal(got.Lookups)
		}
	}
}
