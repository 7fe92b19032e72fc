package store

import (
	"bytes"
	"context"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// two opens one database twice, as two servers do.
func two(t *testing.T, d database) (a, b *Store, c *clock) {
	t.Helper()
	c = newClock()
	return d.migrated(t, c), d.open(t, c), c
}

func TestSessionsAreShared(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		a, b, c := two(t, d)
		find := func(x Sessions, token, want string) {
			t.Helper()
			data, ok, err := x.FindCtx(ctx, token)
			if err != nil || ok != (want != "") || string(data) != want {
				t.Errorf("session %s: %q, %v, %v; want %q", token, data, ok, err, want)
			}
		}
		end := noon.Add(time.Hour)
		must(t, a.Sessions().Bind(ctx, "t1", "p1", end))
		find(b.Sessions(), "t1", "") // not kept yet
		must(t, a.Sessions().CommitCtx(ctx, "t1", []byte("one"), end))
		find(b.Sessions(), "t1", "one")
		must(t, b.Sessions().CommitCtx(ctx, "t1", []byte("two"), end))
		find(a.Sessions(), "t1", "two")
		if p, err := b.Sessions().Person(ctx, "t1"); p != "p1" || err != nil {
			t.Errorf("whose session: %q, %v", p, err)
		}
		must(t, a.Sessions().Commit("t2", []byte("x"), end))
		must(t, a.Sessions().Bind(ctx, "t2", "p1", end))
		must(t, a.Sessions().Commit("t3", []byte("y"), end))
		if n, err := b.Sessions().EndAll(ctx, "p1"); n != 2 || err != nil {
			t.Errorf("ended %d sessions, %v", n, err)
		}
		find(a.Sessions(), "t1", "")
		find(a.Sessions(), "t3", "y")
		// A request that was under way commits its session once more.
		must(t, a.Sessions().Commit("t1", []byte("zombie"), end))
		if p, err := b.Sessions().Person(ctx, "t1"); p != "" || err != nil {
			t.Errorf("an ended session is %q's again, %v", p, err)
		}
		must(t, b.Sessions().Delete("t3"))
		find(a.Sessions(), "t3", "")

		must(t, a.Sessions().Commit("t4", []byte("z"), end))
		c.advance(time.Hour)
		find(b.Sessions(), "t4", "")
		must(t, b.Sweep(ctx))
		var left int64
		must(t, a.r.Model(&sessionRow{}).Count(&left).Error)
		if left != 0 {
			t.Errorf("%d sessions left after a sweep", left)
		}
		var tokens []string
		must(t, a.Sessions().Commit("a secret token", []byte("z"), end.Add(time.Hour)))
		must(t, a.r.Model(&sessionRow{}).Pluck("token", &tokens).Error)
		if len(tokens) != 1 || bytes.Contains([]byte(tokens[0]), []byte("secret")) {
			t.Errorf("tokens are stored as they are: %v", tokens)
		}
	})
}

func TestRateLimitsAreShared(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		a, b, c := two(t, d)
		rate := Rate{Burst: 5, Every: 10 * time.Second}
		var allowed atomic.Int64
		together(12, func(i int) {
			ok, _, err := []*Store{a, b}[i%2].Allow(ctx, "login p1", rate)
			if err != nil {
				t.Error(err)
			}
			if ok {
				allowed.Add(1)
			}
		})
		if allowed.Load() != 5 {
			t.Errorf("%d of 12 at once were allowed, want the burst of 5", allowed.Load())
		}
		use := func(want bool, wantWait time.Duration) {
			t.Helper()
			ok, wait, err := b.Allow(ctx, "login p1", rate)
			if ok != want || wait != wantWait || err != nil {
				t.Errorf("allowed %v, wait %v, %v; want %v, %v", ok, wait, err, want, wantWait)
			}
		}
		use(false, 10*time.Second)
		c.advance(9 * time.Second)
		use(false, time.Second)
		c.advance(time.Second)
		use(true, 0)
		use(false, 10*time.Second)
		if ok, _, err := a.Allow(ctx, "login p2", rate); !ok || err != nil {
			t.Errorf("another name: %v", err)
		}
		must(t, a.Forgive(ctx, "login p1"))
		use(true, 0)
		c.advance(time.Hour)
		must(t, a.Sweep(ctx))
		var left int64
		must(t, b.r.Model(&limitRow{}).Count(&left).Error)
		if left != 0 {
			t.Errorf("%d counts left after a sweep", left)
		}
		for range 5 {
			use(true, 0)
		}
		use(false, 10*time.Second)
	})
}

func TestTimersAreShared(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		a, b, c := two(t, d)
		const n = 20
		for i := range n {
			must(t, a.SetTimer(ctx, Timer{Kind: "k", Subject: fmt.Sprint(i), Due: noon.Add(time.Minute)}))
		}
		if got, err := b.ClaimTimers(ctx, "b", "k", 99, time.Minute); len(got) != 0 || err != nil {
			t.Errorf("claimed before they are due: %v, %v", got, err)
		}
		c.advance(time.Minute)
		var mu sync.Mutex
		claims := map[string]int{}
		together(6, func(i int) {
			for range 4 {
				got, err := []*Store{a, b}[i%2].ClaimTimers(ctx, fmt.Sprint("server ", i), "k", 3, time.Minute)
				mu.Lock()
				if err != nil {
					t.Error(err)
				}
				for _, x := range got {
					claims[x.Subject]++
				}
				mu.Unlock()
			}
		})
		for {
			got, err := a.ClaimTimers(ctx, "a", "k", 3, time.Minute)
			must(t, err)
			if len(got) == 0 {
				break
			}
			for _, x := range got {
				claims[x.Subject]++
			}
		}
		for subject, times := range claims {
			if times != 1 {
				t.Errorf("timer %s was claimed %d times", subject, times)
			}
		}
		if len(claims) != n {
			t.Errorf("%d of %d timers were claimed", len(claims), n)
		}

		// A server that died: another takes over when the claim has run out,
		// and the first cannot finish what is no longer its own.
		must(t, a.SetTimer(ctx, Timer{Kind: "dead", Subject: "x", Due: noon}))
		first, err := a.ClaimTimers(ctx, "a", "dead", 9, time.Minute)
		must(t, err)
		if got, _ := b.ClaimTimers(ctx, "b", "dead", 9, time.Minute); len(got) != 0 {
			t.Errorf("claimed twice: %v", got)
		}
		c.advance(time.Minute)
		second, err := b.ClaimTimers(ctx, "b", "dead", 9, time.Minute)
		must(t, err)
		if len(first) != 1 || len(second) != 1 {
			t.Fatalf("%v, %v", first, second)
		}
		if ok, err := a.FinishTimer(ctx, first[0]); ok || err != nil {
			t.Errorf("the first finished it: %v", err)
		}
		if ok, err := b.FinishTimer(ctx, second[0]); !ok || err != nil {
			t.Errorf("the second did not finish it: %v", err)
		}

		// A timer set anew while it is being done stays.
		must(t, a.SetTimer(ctx, Timer{Kind: "anew", Subject: "x", Due: noon}))
		claimed, err := a.ClaimTimers(ctx, "a", "anew", 9, time.Minute)
		must(t, err)
		must(t, b.SetTimer(ctx, Timer{Kind: "anew", Subject: "x", Due: noon.Add(time.Hour)}))
		if ok, _ := a.FinishTimer(ctx, claimed[0]); ok {
			t.Error("finishing took away a timer that was set anew")
		}
	})
}

// A clock that is set back keeps nobody waiting for longer than the rate says.
func TestRateLimitsAfterTheClockWasSetBack(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		a, _, c := two(t, d)
		rate := Rate{Burst: 3, Every: 10 * time.Second}
		for range 2 {
			if ok, _, err := a.Allow(ctx, "address", rate); !ok || err != nil {
				t.Fatal(ok, err)
			}
		}
		c.advance(-3 * time.Hour)
		if _, wait, err := a.Allow(ctx, "address", rate); wait > rate.Every || err != nil {
			t.Errorf("after the clock was set back: wait %v, %v", wait, err)
		}
		c.advance(rate.Every)
		if ok, wait, err := a.Allow(ctx, "address", rate); !ok || err != nil {
			t.Errorf("%v after that: wait %v, %v", rate.Every, wait, err)
		}
		once := Rate{Burst: 1, Every: 24 * time.Hour}
		if ok, _, err := a.Allow(ctx, "once", once); !ok || err != nil {
			t.Fatal(ok, err)
		}
		c.advance(-time.Hour)
		if ok, _, err := a.Allow(ctx, "once", once); ok || err != nil {
			t.Errorf("what counts once counted again: %v", err)
		}
	})
}
