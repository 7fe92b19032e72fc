package store

import (
	"context"
	"fmt"
	"testing"

	"rightpage/quiz"
)

func TestAtOnce(t *testing.T) {
	for waiting, want := range map[int]int{0: 0, 1: 1, 2: 2, 3: 2, 4: 4, 255: 128, savesAtOnce: savesAtOnce, 10 * savesAtOnce: savesAtOnce} {
		if got := atOnce(waiting); got != want {
			t.Errorf("%d of %d are written at once, want %d", got, waiting, want)
		}
	}
}

// Answers that wait are written in the order in which they came, whether they
// stand or not, and a save that cannot be kept spoils none of the others.
func TestWaitingAnswersAreWrittenInOrder(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		a := x.start(t)
		q := x.savesOf(a.ID)
		if q != x.savesOf(a.ID) {
			t.Fatal("an attempt has two queues")
		}
		var waiting []*pendingSave
		wait := func(attempt, question, key, value string, base int) *pendingSave {
			p := &pendingSave{save: quiz.Save{Attempt: attempt, Question: question, Key: key, Value: value, Base: base}, done: make(chan struct{})}
			waiting = append(waiting, p)
			return p
		}
		const n = 21
		for i := range n {
			wait(a.ID, a.Questions[0], key(i), fmt.Sprint("answer ", i), i)
		}
		stale := wait(a.ID, a.Questions[0], key(100), "A", n-1)
		again := wait(a.ID, a.Questions[0], key(3), "answer 3", 3)
		lost := wait("none", a.Questions[0], key(0), "A", 0)
		other := wait(a.ID, a.Questions[1], key(101), "A", 0)
		q.mu.Lock()
		q.queue, q.writing = append(q.queue, waiting...), true
		q.mu.Unlock()
		x.writeSaves(q)
		for i, p := range waiting[:n] {
			if p.err != nil || p.repeated || p.response.Version != i+1 {
				t.Errorf("answer %d: %+v, %v", i, p.response, p.err)
			}
		}
		wantCode(t, "a stale answer", stale.err, quiz.Conflict)
		if again.err != nil || !again.repeated || again.response.Version != 4 {
			t.Errorf("a retry: %+v, %v", again.response, again.err)
		}
		wantCode(t, "no such attempt", lost.err, quiz.NotFound)
		if other.err != nil || other.response.Version != 1 {
			t.Errorf("another question: %+v, %v", other.response, other.err)
		}
		kept, err := x.Answers(ctx, a.ID)
		must(t, err)
		if latest := quiz.Latest(kept); len(kept) != n+1 || latest[a.Questions[0]].Value != fmt.Sprint("answer ", n-1) {
			t.Errorf("%d versions are kept: %+v", len(kept), latest)
		}
	})
}
