package api

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/marking"
	"rightpage/quiz/store"
)

// ledger holds the facts of statements, in the order in which they became
// known. It is read from the store once and then kept up to date.
type ledger struct {
	s *store.Store

	mu       sync.Mutex
	mark     int64     // entry of the audit log up to which nothing was taken away
	known    time.Time // the latest time at which an outcome became known
	attempts map[string]time.Time
	have     map[string]bool // names of exercises that are there
	facts    []*fact         // in order of stored and name; never changed, only replaced
}

// overlap is how far back is read again: clocks of several servers do not quite
// agree, and what is being written is not seen yet.
const overlap = 2 * time.Minute

// read brings the ledger up to date and gives the facts. They must not be
// changed.
func (l *ledger) read(ctx context.Context) ([]*fact, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	lost, mark, err := l.lost(ctx)
	if err != nil {
		return nil, err
	}
	fresh := &ledger{s: l.s, known: l.known, attempts: l.attempts, have: l.have, facts: l.facts}
	if lost || l.attempts == nil {
		fresh = &ledger{s: l.s, attempts: map[string]time.Time{}, have: map[string]bool{}}
	}
	if err := fresh.update(ctx); err != nil {
		// What was noted as read may not be there: begin anew next time.
		l.attempts, l.facts = nil, nil
		return nil, err
	}
	l.mark, l.known, l.attempts, l.have, l.facts = mark, fresh.known, fresh.attempts, fresh.have, fresh.facts
	return l.facts, nil
}

// lost looks into the audit log, in which stands everything that takes answers
// away: the erasure of a person's data, and a restored backup.
func (l *ledger) lost(ctx context.Context) (bool, int64, error) {
	const some = 200
	next := int64(0)
	for before := int64(0); ; {
		entries, err := l.s.AuditLog(ctx, before, some)
		if err != nil {
			return false, 0, err
		}
		if before == 0 && len(entries) > 0 {
			next = entries[0].Seq
		}
		if next < l.mark || l.mark == 0 {
			return true, next, nil // a shorter log is another database's
		}
		for _, e := range entries {
			if e.Seq <= l.mark {
				return false, next, nil
			}
			for _, part := range []string{"erase", "restore", "retention"} {
				if strings.Contains(e.Action, part) {
					return true, next, nil
				}
			}
		}
		if len(entries) < some {
			return false, next, nil
		}
		before = entries[len(entries)-1].Seq
	}
}

// answerOf names an answer of an attempt.
type answerOf struct{ attempt, question string }

func (l *ledger) update(ctx context.Context) error {
	after := l.known.Add(-overlap)
	if l.known.IsZero() {
		after = time.Time{}
	}
	var added []*fact
	given := map[answerOf]store.Outcome{}
	changed := map[string]time.Time{}
	for o, err := range l.s.Outcomes(ctx, after) {
		if err != nil {
			return err
		}
		if o.Known.After(l.known) {
			l.known = o.Known
		}
		if o.Source == store.FromPractice {
			if name := "practice|" + o.Person + "|" + o.Ref + "|" + o.Score.Question; !l.have[name] {
				l.have[name] = true
				if f := answered(name, o, o.Score, o.Known); f != nil {
					added = append(added, f)
				}
			}
			continue
		}
		if !l.attempts[o.Ref].Equal(o.Known) {
			changed[o.Ref] = o.Known
			given[answerOf{o.Ref, o.Score.Question}] = o
		}
	}
	for id, known := range changed {
		facts, err := l.ofAttempt(ctx, id, given)
		if err != nil {
			return err
		}
		added = append(added, facts...)
		l.attempts[id] = known
	}
	if len(added) == 0 {
		return nil
	}
	kept := l.facts
	if len(changed) > 0 {
		kept = slices.DeleteFunc(slices.Clone(kept), func(f *fact) bool { _, again := changed[f.attempt]; return again })
	}
	l.facts = append(slices.Clip(kept), added...)
	slices.SortFunc(l.facts, byStored)
	return nil
}

func byStored(a, b *fact) int {
	return cmp.Or(a.stored.Compare(b.stored), strings.Compare(a.name, b.name))
}

// answered makes the fact of an answer; nil if none was given.
func answered(name string, o store.Outcome, s grading.Score, stored time.Time) *fact {
	if s.Verdict == grading.Blank {
		return nil
	}
	f := &fact{name: name, verb: answeredVerb, person: o.Person, stored: stored, at: o.At, spent: o.Spent, question: s.Question, score: s}
	if s.Verdict != marking.Unread {
		f.points, f.of = s.Points, 1
	}
	f.score.Given, f.score.Right, f.score.Says, f.score.Steps, f.score.Trace.Result = "", "", "", nil, ""
	return f
}

// ofAttempt makes the facts of a graded attempt: of all its gradings, each where
// it told something new.
func (l *ledger) ofAttempt(ctx context.Context, id string, given map[answerOf]store.Outcome) ([]*fact, error) {
	a, err := l.s.Attempt(ctx, id)
	if quiz.ErrorCode(err) == quiz.NotFound {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	gradings, err := l.s.Gradings(ctx, id)
	if err != nil {
		return nil, err
	}
	t := telling{a: a, last: map[string]*fact{}}
	for _, g := range gradings {
		asked := map[string]bool{}
		for _, s := range g.Scores {
			o, ok := given[answerOf{id, s.Question}]
			if !ok { // withdrawn since
				o = store.Outcome{Person: a.Person, At: a.Ended}
			}
			asked[s.Question] = true
			t.say(g, "answered "+s.Question, answered("", o, s, g.At), sameAnswer)
		}
		for topic := range t.last {
			if q, ok := strings.CutPrefix(topic, "answered "); ok && !asked[q] {
				t.say(g, topic, nil, sameAnswer)
			}
		}
		r := g.Result
		whole := fact{person: a.Person, at: a.Ended, spent: a.Ended.Sub(a.Started), points: r.Points, of: r.Of, passed: r.Passed, handedIn: a.HandInKey != "", stored: g.At}
		if a.Started.IsZero() || a.Medium == quiz.OnPaper {
			whole.spent = 0
		}
		verdict, done := whole, whole
		verdict.verb, done.verb = failedVerb, completeVerb
		if r.Passed {
			verdict.verb = passedVerb
		}
		t.say(g, "verdict", &verdict, sameResult)
		if whole.handedIn {
			t.say(g, "completed", &done, sameResult)
		}
	}
	return t.facts, nil
}

// telling is what was told of one attempt so far.
type telling struct {
	a     quiz.Attempt
	facts []*fact
	last  map[string]*fact // what stands, by topic
}

// say tells something, unless the same stands already; what stood is voided.
func (t *telling) say(g store.Grading, topic string, f *fact, same func(a, b *fact) bool) {
	stands := t.last[topic]
	if stands != nil && f != nil && same(stands, f) || stands == nil && f == nil {
		return
	}
	number := "|" + strconv.Itoa(g.Number)
	if stands != nil {
		stands.voided = true
		t.facts = append(t.facts, &fact{name: "void|" + t.a.ID + "|" + topic + number, verb: voidedVerb, person: t.a.Person, voids: stands.name,
			stored: g.At, at: g.At, attempt: t.a.ID, assignment: t.a.Assignment})
		delete(t.last, topic)
	}
	if f == nil {
		return
	}
	f.name = "attempt|" + t.a.ID + "|" + topic + number
	f.attempt, f.assignment, f.number = t.a.ID, t.a.Assignment, t.a.Number
	t.facts = append(t.facts, f)
	t.last[topic] = f
}

func sameAnswer(a, b *fact) bool {
	return a.score.Verdict == b.score.Verdict && a.score.Points == b.score.Points && a.score.Slip == b.score.Slip && a.score.Known == b.score.Known && a.score.Step == b.score.Step
}

func sameResult(a, b *fact) bool { return a.points == b.points && a.of == b.of && a.passed == b.passed }
