package store

import (
	"context"
	"hash/fnv"
	"math/bits"
	"slices"
	"strings"
	"sync"
	"time"

	"gorm.io/gorm"

	"rightpage/quiz"
)

func responseOf(r responseRow) (quiz.Response, error) {
	return quiz.Response{Attempt: r.AttemptID, Question: r.Question, Version: int(r.Version), Key: r.ClientKey, Value: r.Value,
		Spent: time.Duration(r.Spent) * time.Microsecond, At: instant(r.At)}, nil
}

// SaveAnswer saves an answer, once per key: see quiz.Attempt.Save. It is on
// disk when SaveAnswer returns; repeated tells that it was before. Where ctx
// ends first it may have been saved or not: the same save again tells.
//
// Answers that arrive while others are being written are written together, in
// one transaction that waits for the disk once (group commit).
func (s *Store) SaveAnswer(ctx context.Context, save quiz.Save) (r quiz.Response, repeated bool, err error) {
	p := &pendingSave{save: save, done: make(chan struct{})}
	q := s.savesOf(save.Attempt)
	q.mu.Lock()
	q.queue = append(q.queue, p)
	if !q.writing {
		q.writing = true
		go s.writeSaves(q)
	}
	q.mu.Unlock()
	select {
	case <-p.done:
		return p.response, p.repeated, p.err
	case <-ctx.Done():
		return quiz.Response{}, false, s.fail("save the answer", ctx.Err())
	}
}

// Answers lists every version of every answer of an attempt, by question and
// version; quiz.Latest gives those that count.
func (s *Store) Answers(ctx context.Context, attempt string) ([]quiz.Response, error) {
	l, err := list(s.read(ctx).Where("attempt_id = ?", attempt).Order("question, version"), responseOf)
	return l, s.fail("list the answers of an attempt", err)
}

// savesAtOnce is how many answers are written by one transaction at most; more
// would make the first wait for the last. Batches are powers of two, so that
// there are few different statements for databases and drivers to keep.
const savesAtOnce = 256

// savesWithin is how long writing answers may take, whoever waits for them.
const savesWithin = 30 * time.Second

// pendingSave is a save that waits to be written. The fields below done are
// set before it is closed.
type pendingSave struct {
	save     quiz.Save
	done     chan struct{}
	response quiz.Response
	repeated bool
	err      error
}

// writersOfSaves is how many transactions write answers at once where the
// database takes several: while one waits for the disk, the other is prepared.
const writersOfSaves = 2

// savesOf gives the queue of an attempt: always the same, so that its answers
// are written in their order.
func (s *Store) savesOf(attempt string) *saveQueue {
	if !s.postgres {
		return &s.saves[0]
	}
	h := fnv.New32a()
	h.Write([]byte(attempt))
	return &s.saves[h.Sum32()%writersOfSaves]
}

// saveQueue holds the saves that wait.
type saveQueue struct {
	mu      sync.Mutex
	queue   []*pendingSave
	writing bool // somebody empties the queue
}

// writeSaves writes what is in a queue until it is empty.
func (s *Store) writeSaves(q *saveQueue) {
	for {
		q.mu.Lock()
		n := atOnce(len(q.queue))
		batch := slices.Clone(q.queue[:n])
		q.queue = slices.Delete(q.queue, 0, n)
		q.writing = n > 0
		q.mu.Unlock()
		if n == 0 {
			return
		}
		if err := s.writeBatch(batch); err != nil && n > 1 {
			// One of them may be at fault: each for itself.
			for i := range batch {
				s.failBatch(batch[i:i+1], s.writeBatch(batch[i:i+1]))
			}
		} else {
			s.failBatch(batch, err)
		}
		for _, p := range batch {
			close(p.done)
		}
	}
}

// atOnce is how many of n saves are written at once: the greatest power of two.
func atOnce(n int) int {
	if n == 0 {
		return 0
	}
	return min(1<<(bits.Len(uint(n))-1), savesAtOnce)
}

func (s *Store) failBatch(batch []*pendingSave, err error) {
	if err != nil {
		for _, p := range batch {
			p.response, p.repeated, p.err = quiz.Response{}, false, err
		}
	}
}

// writeBatch judges saves in their order and writes those that are to be kept.
// An error is one of the database, and then nothing was written.
func (s *Store) writeBatch(batch []*pendingSave) error {
	ctx, cancel := context.WithTimeout(context.Background(), savesWithin)
	defer cancel()
	return s.write(ctx, "save the answer", func(tx *gorm.DB) error {
		attempts, err := attemptsFor(tx, batch)
		if err != nil {
			return err
		}
		known, err := knownFor(tx, batch)
		if err != nil {
			return err
		}
		now := s.now().UTC().Truncate(time.Microsecond)
		rows := make([]responseRow, 0, len(batch))
		for _, p := range batch {
			p.response, p.repeated, p.err = quiz.Response{}, false, nil
			a, ok := attempts[p.save.Attempt]
			if !ok {
				p.err = quiz.Errorf(quiz.NotFound, "there is no such attempt")
				continue
			}
			p.save.Spent = p.save.Spent.Truncate(time.Microsecond)
			p.response, p.repeated, p.err = a.Save(relevant(known[a.ID], p.save), p.save, now)
			if p.err != nil || p.repeated {
				continue
			}
			r := p.response
			known[a.ID] = append(known[a.ID], r)
			rows = append(rows, responseRow{AttemptID: r.Attempt, Question: r.Question, Version: int64(r.Version), ClientKey: r.Key,
				Value: r.Value, At: micros(r.At), Spent: r.Spent.Microseconds()})
		}
		if len(rows) == 0 {
			return nil
		}
		return create(tx, &rows)
	})
}

// attemptsFor reads and locks the attempts that saves belong to, in one order
// everywhere, so that two servers do not wait for each other.
func attemptsFor(tx *gorm.DB, batch []*pendingSave) (map[string]*quiz.Attempt, error) {
	ids := make([]string, len(batch))
	for i, p := range batch {
		ids[i] = p.save.Attempt
	}
	slices.Sort(ids) // several of one attempt change nothing
	made, err := list(tx.Clauses(forUpdate).Where("id IN ?", ids).Order("id"), attemptOf)
	attempts := make(map[string]*quiz.Attempt, len(made))
	for i := range made {
		attempts[made[i].ID] = &made[i]
	}
	return attempts, err
}

// knownFor reads the stored versions that saves are judged by: that of the key,
// and those of the question from the one on that the person saw. Those before
// it could not change the judgement.
func knownFor(tx *gorm.DB, batch []*pendingSave) (map[string][]quiz.Response, error) {
	// A table of what is looked for, joined by one index after the other, is
	// planned in a fraction of the time of as many terms of a condition.
	var wanted strings.Builder
	args := make([]any, 0, 4*len(batch))
	for i, p := range batch {
		if i > 0 {
			wanted.WriteString(", ")
		}
		wanted.WriteString("(?, ?, CAST(? AS BIGINT), ?)")
		args = append(args, p.save.Attempt, p.save.Question, p.save.Base, p.save.Key)
	}
	found, err := list(tx.Raw("WITH wanted (attempt_id, question, base, client_key) AS (VALUES "+wanted.String()+") "+
		"SELECT r.* FROM wanted w JOIN responses r ON r.attempt_id = w.attempt_id AND r.question = w.question AND r.version >= w.base "+
		"UNION SELECT r.* FROM wanted w JOIN responses r ON r.attempt_id = w.attempt_id AND r.client_key = w.client_key", args...), responseOf)
	known := make(map[string][]quiz.Response, len(batch))
	for _, r := range found {
		known[r.Attempt] = append(known[r.Attempt], r)
	}
	return known, err
}

// relevant gives those of the versions that a save is judged by.
func relevant(known []quiz.Response, save quiz.Save) []quiz.Response {
	var of []quiz.Response
	for _, r := range known {
		if r.Question == save.Question || r.Key == save.Key {
			of = append(of, r)
		}
	}
	return of
}
