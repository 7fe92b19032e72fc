package quiz

import (
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// attemptMachine drives an attempt by arbitrary requests at arbitrary times,
// beside a plain model of what must have been kept.
type attemptMachine struct {
	of      Assignment
	a       *Attempt
	now     time.Time
	kept    []Response
	used    []Save // requests that were acknowledged
	handed  string // key of the hand-in that counted
	receipt Receipt
	gone    []State // states seen, in order
	keys    int
}

func (m *attemptMachine) key() string {
	m.keys++
	return fmt.Sprintf("key-%08d", m.keys)
}

func newAttemptMachine(t *rapid.T) *attemptMachine {
	of := weekly()
	of.Limit = time.Duration(rapid.IntRange(0, 120).Draw(t, "limit")) * time.Minute
	if rapid.Bool().Draw(t, "no close") {
		of.Close = time.Time{}
	}
	of.Accommodations = []Accommodation{{Person: "p1", Percent: rapid.IntRange(0, 100).Draw(t, "percent")}}
	a, err := NewAttempt("t1", of, "p1", 1, 0, []string{"q1", "q2", "q3"}, noon)
	if err != nil {
		t.Fatal(err)
	}
	return &attemptMachine{of: of, a: a, now: noon, gone: []State{Open}}
}

func (m *attemptMachine) Wait(t *rapid.T) {
	// Small steps, large steps, and a clock set back.
	m.now = m.now.Add(rapid.OneOf(
		rapid.Just(time.Second), rapid.Just(20*time.Minute), rapid.Just(26*time.Hour), rapid.Just(-3*time.Second),
	).Draw(t, "wait"))
}

func (m *attemptMachine) Start(t *rapid.T) { m.a.Start(m.of, m.now) }

func (m *attemptMachine) Save(t *rapid.T) {
	q := rapid.SampledFrom([]string{"q1", "q2", "q3", "q4"}).Draw(t, "question")
	save := Save{Question: q, Key: m.key(), Base: rapid.IntRange(0, 3).Draw(t, "base"), Value: rapid.SampledFrom([]string{"A", "B"}).Draw(t, "value")}
	r, repeated, err := m.a.Save(m.kept, save, m.now)
	if repeated {
		t.Fatal("a new key is no repetition")
	}
	may := m.a.State == Started && q != "q4" && save.Base == Latest(m.kept)[q].Version && m.inTime()
	if (err == nil) != may {
		t.Fatalf("saving in state %s: %v, should be possible: %v", m.a.State, err, may)
	}
	if err == nil {
		m.kept, m.used = append(m.kept, r), append(m.used, save)
	}
}

func (m *attemptMachine) Repeat(t *rapid.T) {
	if len(m.used) == 0 {
		t.Skip("nothing saved")
	}
	i := rapid.IntRange(0, len(m.used)-1).Draw(t, "which")
	r, repeated, err := m.a.Save(m.kept, m.used[i], m.now)
	if err != nil || !repeated || r != m.kept[i] {
		t.Fatalf("a retry got %+v, %v, %v; want the version that was stored", r, repeated, err)
	}
}

func (m *attemptMachine) HandIn(t *rapid.T) {
	key := m.key()
	may := m.a.State == Started && m.inTime()
	receipt, err := m.a.HandIn(key, m.now)
	if (err == nil) != may {
		t.Fatalf("handing in: %v, should be possible: %v", err, may)
	}
	if err == nil {
		m.handed, m.receipt = key, receipt
	}
}

func (m *attemptMachine) HandInAgain(t *rapid.T) {
	if m.handed == "" {
		t.Skip("not handed in")
	}
	if r, err := m.a.HandIn(m.handed, m.now); err != nil || !r.Repeated || r.At != m.receipt.At {
		t.Fatalf("the second click got %+v, %v", r, err)
	}
}

func (m *attemptMachine) Expire(t *rapid.T) {
	inTime := m.inTime() // before the state changes
	if m.a.Expire(m.of, m.now) && inTime {
		t.Fatal("expired in time")
	}
}

func (m *attemptMachine) Grade(t *rapid.T) {
	was := *m.a
	err := m.a.Grade(Result{Points: 1, Of: 2, Reason: rapid.SampledFrom([]string{"", "supplement"}).Draw(t, "reason")})
	if err == nil && !was.State.Ended() {
		t.Fatal("graded before the end")
	}
}

func (m *attemptMachine) inTime() bool {
	if m.a.State == Open {
		return m.of.Close.IsZero() || m.now.Before(m.of.Close)
	}
	return m.a.Deadline.IsZero() || !m.now.After(m.a.Deadline.Add(Grace))
}

// Check runs after every step.
func (m *attemptMachine) Check(t *rapid.T) {
	order := map[State]int{Open: 0, Started: 1, HandedIn: 2, Expired: 2, Graded: 3}
	if last := m.gone[len(m.gone)-1]; m.a.State != last {
		if order[m.a.State] <= order[last] || last == Open && m.a.State == HandedIn {
			t.Fatalf("the attempt went from %s to %s", last, m.a.State)
		}
		m.gone = append(m.gone, m.a.State)
	}
	if m.a.State == Started && m.a.Started.IsZero() || m.a.State.Ended() && m.a.Ended.IsZero() {
		t.Fatalf("a state without its time: %+v", m.a)
	}
	if !m.a.Started.IsZero() && m.a.State.Ended() && m.a.Ended.Before(m.a.Started) {
		t.Fatal("ended before it started")
	}
	if m.a.State != Graded {
		if s := m.of.Shows(*m.a, nil, m.now); s != (Shown{}) {
			t.Fatalf("feedback in state %s: %+v", m.a.State, s)
		}
	}
	if m.handed != "" && m.a.HandInKey != m.handed {
		t.Fatal("a later hand-in took the place of the one that counted")
	}
	seen := map[string]int{}
	for _, r := range m.kept {
		if seen[r.Question]++; r.Version != seen[r.Question] {
			t.Fatalf("versions are not counted by one: %+v", m.kept)
		}
		if !m.a.Deadline.IsZero() && r.At.After(m.a.Deadline.Add(Grace)) || r.At.Before(m.a.Started) {
			t.Fatalf("an answer outside the time of the attempt: %+v", r)
		}
	}
}

func TestAttemptStateMachine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		t.Repeat(rapid.StateMachineActions(newAttemptMachine(t)))
	})
}
