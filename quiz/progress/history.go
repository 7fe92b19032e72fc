package progress

import (
	"cmp"
	"context"
	"slices"
	"sync"
	"time"

	"rightpage/quiz/store"
)

// overlap is how far back is read again: clocks of several servers do not
// quite agree, and what is being written is not seen yet.
const overlap = 2 * time.Minute

// history holds what everybody answered. It is read once and then kept up to
// date. Safe for concurrent use.
type history struct {
	src   source
	every time.Duration
	now   func() time.Time

	reading sync.Mutex // one reads at a time
	mu      sync.RWMutex
	read    time.Time // when it was read last; zero: never
	mark    int64
	known   time.Time // the latest time at which an outcome became known
	total   int
	people  map[string]*persons
	asked   map[string]int // question → number of people who were given it
}

// persons is what one person answered. The slice is never changed below its
// length, so that readers may hold it.
type persons struct {
	answers []Answer
	seen    map[string]int // question → times
	have    map[part]time.Time
}

// part is what answers come in: an attempt or one exercise.
type part struct {
	quiz bool
	ref  string
}

// update reads what is new, if the last reading was some time ago.
func (h *history) update(ctx context.Context) error {
	h.reading.Lock()
	defer h.reading.Unlock()
	now := h.now()
	h.mu.RLock()
	first, recent := h.read.IsZero(), now.Sub(h.read) < h.every && !now.Before(h.read)
	mark, after := h.mark, h.known.Add(-overlap)
	h.mu.RUnlock()
	if recent && !first {
		return nil
	}
	lost, mark, err := h.src.lost(ctx, mark)
	if err != nil {
		return err
	}
	if first || lost {
		after = time.Time{}
	}
	var fresh []store.Outcome
	for o, err := range h.src.Outcomes(ctx, after) {
		if err != nil {
			return err
		}
		fresh = append(fresh, o)
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	if first || lost {
		h.people, h.asked, h.total, h.known = map[string]*persons{}, map[string]int{}, 0, time.Time{}
	}
	h.take(fresh)
	for _, o := range fresh {
		if o.Known.After(h.known) {
			h.known = o.Known
		}
	}
	h.read, h.mark = now, mark
	return nil
}

// note adds what was just stored, so that the person sees it at once. It is no
// reading: what others stored before it may still be unread.
func (h *history) note(o store.Outcome) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.people != nil {
		h.take([]store.Outcome{o})
	}
}

// take adds outcomes. Those of an attempt or exercise that is there already
// take its place, if they became known at another time.
func (h *history) take(fresh []store.Outcome) {
	type of struct {
		person string
		part
	}
	taken := map[of]bool{}
	for _, o := range fresh {
		x := of{o.Person, part{o.Source == store.FromQuiz, o.Ref}}
		take, decided := taken[x]
		p := h.people[o.Person]
		if !decided {
			if p == nil {
				p = &persons{seen: map[string]int{}, have: map[part]time.Time{}}
				h.people[o.Person] = p
			}
			known, have := p.have[x.part]
			take = !have || x.quiz && !known.Equal(o.Known)
			if have && take {
				h.drop(p, x.part)
			}
			taken[x] = take
			p.have[x.part] = o.Known
		}
		if take {
			h.add(p, o)
		}
	}
}

// drop takes the answers of an attempt away: a regrade may have withdrawn some.
func (h *history) drop(p *persons, x part) {
	kept := make([]Answer, 0, len(p.answers))
	for _, a := range p.answers {
		if a.Quiz != x.quiz || a.Ref != x.ref {
			kept = append(kept, a)
			continue
		}
		h.total--
		if p.seen[a.Question]--; p.seen[a.Question] == 0 {
			delete(p.seen, a.Question)
			if h.asked[a.Question]--; h.asked[a.Question] == 0 {
				delete(h.asked, a.Question)
			}
		}
	}
	p.answers = kept
}

// add adds an answer in its place.
func (h *history) add(p *persons, o store.Outcome) {
	a := AnswerOf(o)
	if n := len(p.answers); n == 0 || !a.At.Before(p.answers[n-1].At) {
		p.answers = append(p.answers, a)
	} else {
		at, _ := slices.BinarySearchFunc(p.answers, a.At, func(b Answer, t time.Time) int {
			return cmp.Or(b.At.Compare(t), -1) // behind those of the same time
		})
		p.answers = slices.Insert(slices.Clone(p.answers), at, a)
	}
	if p.seen[a.Question] == 0 {
		h.asked[a.Question]++
	}
	p.seen[a.Question]++
	h.total++
}

// of gives the answers of a person in order of time. They must not be changed.
func (h *history) of(person string) []Answer {
	h.mu.RLock()
	defer h.mu.RUnlock()
	if p := h.people[person]; p != nil {
		return p.answers
	}
	return nil
}

// all gives everybody's answers, those first who answered first: an order that
// a copy of the database under other IDs shares, and the models with it.
func (h *history) all() [][]Answer {
	h.mu.RLock()
	defer h.mu.RUnlock()
	var ids []string
	for id, p := range h.people {
		if len(p.answers) > 0 {
			ids = append(ids, id)
		}
	}
	slices.SortFunc(ids, func(a, b string) int {
		return cmp.Or(h.people[a].answers[0].At.Compare(h.people[b].answers[0].At), cmp.Compare(a, b))
	})
	answers := make([][]Answer, len(ids))
	for i, id := range ids {
		answers[i] = h.people[id].answers
	}
	return answers
}

func (h *history) size() int {
	h.mu.RLock()
	defer h.mu.RUnlock()
	return h.total
}

// shown tells to how many people each question has been given, whether to this
// one, and how many people there are.
func (h *history) shown(person string, questions []string) (shown []int, seen []bool, people int) {
	h.mu.RLock()
	defer h.mu.RUnlock()
	p := h.people[person]
	shown, seen = make([]int, len(questions)), make([]bool, len(questions))
	for i, q := range questions {
		shown[i] = h.asked[q]
		seen[i] = p != nil && p.seen[q] > 0
	}
	return shown, seen, len(h.people)
}
