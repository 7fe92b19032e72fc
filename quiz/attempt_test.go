package quiz

import (
	"testing"
	"time"
)

const key1, key2 = "key-00000001", "key-00000002"

// begun is a started attempt at weekly, due an hour after noon.
func begun(t *testing.T) *Attempt {
	t.Helper()
	a, err := NewAttempt("t1", weekly(), "p1", 1, 0, []string{"q1", "q2"}, noon)
	if err != nil {
		t.Fatal(err)
	}
	if err := a.Start(weekly(), noon); err != nil {
		t.Fatal(err)
	}
	return a
}

func TestAttemptsAreCounted(t *testing.T) {
	for number, want := range map[int]Code{0: Closed, 1: "", 2: "", 3: Closed} {
		if _, err := NewAttempt("t", weekly(), "p", number, 0, []string{"q"}, noon); ErrorCode(err) != want {
			t.Errorf("attempt %d of 2: %v", number, err)
		}
	}
	if _, err := NewAttempt("t", weekly(), "p", 1, 0, nil, noon); ErrorCode(err) != Internal {
		t.Errorf("no questions: %v", err)
	}
}

func TestVariantsAreSpread(t *testing.T) {
	count := map[int]int{}
	for i := range 900 {
		person := "person" + string(rune('a'+i%30)) + string(rune('a'+i/30))
		v := VariantFor("a1", person, 1, 3)
		count[v]++
		if v != VariantFor("a1", person, 1, 3) || v == VariantFor("a1", person, 2, 3) {
			t.Fatal("the same attempt gets the same variant, the next another")
		}
	}
	for v := range 3 {
		if count[v] < 200 {
			t.Errorf("variant %d: %d of 900", v, count[v])
		}
	}
	if VariantFor("a1", "p", 1, 1) != 0 || VariantFor("a1", "p", 1, 0) != 0 {
		t.Error("one variant is the first")
	}
}

func TestStart(t *testing.T) {
	for _, c := range []struct {
		name string
		at   time.Time
		want Code
	}{
		{"before it opens", noon.Add(-time.Second), Closed},
		{"when it opens", noon, ""},
		{"a second before it closes", noon.Add(24*time.Hour - time.Second), ""},
		{"when it closes", noon.Add(24 * time.Hour), Closed},
	} {
		a, _ := NewAttempt("t", weekly(), "p", 1, 0, []string{"q"}, noon.Add(-time.Hour))
		err := a.Start(weekly(), c.at)
		if ErrorCode(err) != c.want || (err == nil) != (a.State == Started) {
			t.Errorf("%s: %v, %s", c.name, err, a.State)
		}
	}
	a := begun(t)
	was := *a
	if err := a.Start(weekly(), noon.Add(time.Minute)); err != nil || a.Started != was.Started || a.Deadline != was.Deadline {
		t.Errorf("a second start must change nothing: %v, %+v", err, a)
	}
}

func TestTheServersTimeLimit(t *testing.T) {
	for _, c := range []struct {
		name string
		at   time.Duration // after noon; the attempt ends one hour after noon
		open bool
	}{
		{"in time", time.Hour, true},
		{"on its way when time was up", time.Hour + Grace, true},
		{"too late", time.Hour + Grace + time.Microsecond, false},
		{"the clock was set back", -time.Hour, true},
	} {
		now := noon.Add(c.at)
		a := begun(t)
		r, _, err := a.Save(nil, Save{Question: "q1", Key: key1, Value: "A", Spent: 9 * time.Hour}, now)
		if (err == nil) != c.open {
			t.Errorf("%s: saving: %v", c.name, err)
		}
		if err == nil && (r.At.Before(noon) || r.Spent < 0 || r.Spent > r.At.Sub(noon)) {
			t.Errorf("%s: the times of an answer do not lie within the attempt: %+v", c.name, r)
		}
		if a.Expire(weekly(), now) == c.open {
			t.Errorf("%s: expires: %v", c.name, !c.open)
		}
		a = begun(t)
		if _, err := a.HandIn(key1, now); (err == nil) != c.open || err == nil && a.Ended.Before(a.Started) {
			t.Errorf("%s: handing in: %v, ended %v", c.name, err, a.Ended)
		}
	}
}

func TestTimeLeft(t *testing.T) {
	a := begun(t)
	for at, want := range map[time.Duration]time.Duration{0: time.Hour, 45 * time.Minute: 15 * time.Minute, 2 * time.Hour: 0, -time.Hour: time.Hour} {
		if left, ok := a.Left(noon.Add(at)); !ok || left != want {
			t.Errorf("%v after noon: %v %v", at, left, ok)
		}
	}
	if err := a.Extend(30*time.Minute, noon); err != nil || !a.Deadline.Equal(noon.Add(90*time.Minute)) {
		t.Errorf("extended: %v, %v", a.Deadline, err)
	}
	if err := a.Extend(-time.Minute, noon); ErrorCode(err) != Invalid {
		t.Errorf("time is never taken away: %v", err)
	}
	if _, ok := (&Attempt{State: Started}).Left(noon); ok {
		t.Error("no deadline, no time left to tell")
	}
}

func TestHandInHappensOnce(t *testing.T) {
	a := begun(t)
	first, err := a.HandIn(key1, noon.Add(time.Minute))
	if err != nil || first.Repeated || a.State != HandedIn {
		t.Fatalf("%+v, %v", first, err)
	}
	again, err := a.HandIn(key1, noon.Add(3*time.Hour))
	if err != nil || !again.Repeated || again.At != first.At {
		t.Errorf("the same key: %+v, %v", again, err)
	}
	if _, err := a.HandIn(key2, noon.Add(2*time.Minute)); ErrorCode(err) != Closed {
		t.Errorf("another key: %v", err)
	}
	if err := a.Grade(Result{Points: 1, Of: 2}); err != nil {
		t.Fatal(err)
	}
	if again, err = a.HandIn(key1, noon.Add(3*time.Hour)); err != nil || !again.Repeated {
		t.Errorf("the same key when graded: %+v, %v", again, err)
	}
	open, _ := NewAttempt("t", weekly(), "p", 1, 0, []string{"q"}, noon)
	if _, err := open.HandIn(key1, noon); ErrorCode(err) != Closed {
		t.Errorf("not started: %v", err)
	}
}

func TestExpiryOfWhatWasNeverStarted(t *testing.T) {
	a, _ := NewAttempt("t", weekly(), "p", 1, 0, []string{"q"}, noon)
	if a.Expire(weekly(), noon.Add(24*time.Hour-1)) {
		t.Error("expired before the assignment closed")
	}
	if !a.Expire(weekly(), noon.Add(25*time.Hour)) || a.State != Expired || !a.Ended.Equal(noon.Add(24*time.Hour)) {
		t.Errorf("not expired when the assignment closed: %+v", a)
	}
	if a.Expire(weekly(), noon.Add(26*time.Hour)) {
		t.Error("expired twice")
	}
}

func TestGrade(t *testing.T) {
	a := begun(t)
	if err := a.Grade(Result{Points: 1, Of: 2}); ErrorCode(err) != Closed {
		t.Errorf("before the end: %v", err)
	}
	a.Expire(weekly(), noon.Add(2*time.Hour))
	for _, r := range []Result{{Points: 1}, {Points: 3, Of: 2}, {Points: -1, Of: 2}} {
		if err := a.Grade(r); ErrorCode(err) != Invalid {
			t.Errorf("%+v: %v", r, err)
		}
	}
	if err := a.Grade(Result{Points: 1, Of: 2}); err != nil || a.State != Graded || a.Gradings != 1 {
		t.Errorf("graded: %v, %+v", err, a)
	}
	if err := a.Grade(Result{Points: 2, Of: 2, Passed: true}); ErrorCode(err) != Invalid {
		t.Errorf("a regrade without its reason: %v", err)
	}
	if err := a.Grade(Result{Points: 2, Of: 2, Passed: true, Reason: "supplement 3"}); err != nil || a.Gradings != 2 || !a.Result.Passed {
		t.Errorf("regraded: %v, %+v", err, a)
	}
}

func TestSave(t *testing.T) {
	known := []Response{
		{Question: "q1", Version: 1, Key: key1, Value: "A", At: noon.Add(time.Minute)},
		{Question: "q1", Version: 2, Key: key2, Value: "B", At: noon.Add(2 * time.Minute)},
	}
	long := string(make([]byte, MaxAnswer+1))
	for _, c := range []struct {
		name     string
		save     Save
		version  int
		repeated bool
		want     Code
	}{
		{"the next version", Save{Question: "q1", Key: "key-00000003", Base: 2, Value: "C"}, 3, false, ""},
		{"taken back", Save{Question: "q1", Key: "key-00000003", Base: 2}, 3, false, ""},
		{"a retry of the last", Save{Question: "q1", Key: key2, Base: 1, Value: "B"}, 2, true, ""},
		{"a late retry of an earlier one", Save{Question: "q1", Key: key1, Base: 0, Value: "A"}, 1, true, ""},
		{"a key used for another value", Save{Question: "q1", Key: key1, Base: 2, Value: "C"}, 0, false, Invalid},
		{"a key used for another question", Save{Question: "q2", Key: key1, Value: "A"}, 0, false, Invalid},
		{"changed elsewhere meanwhile", Save{Question: "q1", Key: "key-00000003", Base: 1, Value: "C"}, 0, false, Conflict},
		{"from the future", Save{Question: "q1", Key: "key-00000003", Base: 3, Value: "C"}, 0, false, Conflict},
		{"not asked", Save{Question: "q9", Key: "key-00000003"}, 0, false, NotFound},
		{"too long", Save{Question: "q1", Key: "key-00000003", Base: 2, Value: long}, 0, false, Invalid},
		{"not text", Save{Question: "q1", Key: "key-00000003", Base: 2, Value: "\xff"}, 0, false, Invalid},
		{"a NUL, which not every database takes", Save{Question: "q1", Key: "key-00000003", Base: 2, Value: "A\x00"}, 0, false, Invalid},
		{"no key", Save{Question: "q1", Base: 2}, 0, false, Invalid},
		{"a strange key", Save{Question: "q1", Key: "key 00000003", Base: 2}, 0, false, Invalid},
	} {
		a := begun(t)
		r, repeated, err := a.Save(known, c.save, noon.Add(3*time.Minute))
		if ErrorCode(err) != c.want || r.Version != c.version || repeated != c.repeated {
			t.Errorf("%s: version %d, repeated %v, %v", c.name, r.Version, repeated, err)
		}
	}
	a := begun(t)
	a.HandIn(key1, noon.Add(4*time.Minute))
	if r, repeated, err := a.Save(known, Save{Question: "q1", Key: key2, Base: 1, Value: "B"}, noon.Add(5*time.Minute)); err != nil || !repeated || r.Version != 2 {
		t.Errorf("a retry of a kept answer after the hand-in is acknowledged: %v", err)
	}
	if _, _, err := a.Save(known, Save{Question: "q1", Key: "key-00000003", Base: 2}, noon.Add(5*time.Minute)); ErrorCode(err) != Closed {
		t.Errorf("a new answer after the hand-in: %v", err)
	}
}

// A program run wild fills no database with versions of one answer.
func TestVersionsOfAnAnswerAreBounded(t *testing.T) {
	a := begun(t)
	save := Save{Attempt: a.ID, Question: "q1", Key: key1, Base: MaxVersions - 1, Value: "A"}
	last := Response{Attempt: a.ID, Question: "q1", Version: MaxVersions - 1, Key: key2, At: noon}
	r, _, err := a.Save([]Response{last}, save, noon)
	if err != nil || r.Version != MaxVersions {
		t.Fatalf("the last version: %+v, %v", r, err)
	}
	save.Key, save.Base = "key-00000003", MaxVersions
	if _, _, err := a.Save([]Response{r}, save, noon); ErrorCode(err) != TooMany {
		t.Errorf("one more: %v", err)
	}
}

func TestLatest(t *testing.T) {
	got := Latest([]Response{{Question: "a", Version: 2, Value: "y"}, {Question: "a", Version: 1, Value: "x"}, {Question: "b", Version: 1}})
	if len(got) != 2 || got["a"].Value != "y" {
		t.Errorf("%+v", got)
	}
}
