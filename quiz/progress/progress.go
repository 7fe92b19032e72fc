package progress

import (
	"context"
	"sync"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/store"
)

// Options are what may be chosen. The zero value will do.
type Options struct {
	// Now is the clock; nil: time.Now. It should be the store's.
	Now func() time.Time
	// Every is how old what was read may be before the store is asked again
	// for what is new; 0: 2 s, negative: ask each time.
	Every time.Duration
	// Refit is how old the models may be before they are fitted again to
	// answers that have come in since; 0: 6 h.
	Refit time.Duration
	// CheckQuestions is how many questions of each required skill readiness
	// imagines to be asked on the date; 0: 20.
	CheckQuestions int
	// Draws is how many parameter sets an interval is drawn from; 0: 200.
	Draws int
	// Exposure is the largest share of the people who are given the same
	// practice question while there are others; 0: a quarter.
	Exposure float64
}

// Progress says what people can do. Safe for concurrent use.
type Progress struct {
	s *store.Store
	o Options
	h *history

	fitting sync.Mutex // one fits at a time
	mu      sync.Mutex
	model   *Model
}

// New makes a Progress over a store.
func New(s *store.Store, o Options) *Progress {
	if o.Now == nil {
		o.Now = time.Now
	}
	switch {
	case o.Every == 0:
		o.Every = 2 * time.Second
	case o.Every < 0:
		o.Every = 0
	}
	if o.Refit == 0 {
		o.Refit = 6 * time.Hour
	}
	if o.CheckQuestions == 0 {
		o.CheckQuestions = 20
	}
	if o.Draws == 0 {
		o.Draws = 200
	}
	if o.Exposure == 0 {
		o.Exposure = 0.25
	}
	return &Progress{s: s, o: o, h: &history{src: storeSource{s}, every: o.Every, now: o.Now}}
}

// Note tells of an exercise that was just stored, so that its person's record
// has it at once rather than with the next reading of the store.
func (p *Progress) Note(x quiz.Practice) {
	p.h.note(store.Outcome{Person: x.Person, Source: store.FromPractice, Ref: x.Key, At: x.At, Known: x.At, Spent: x.Spent, Score: x.Score})
}

// Model gives the models that everything here rests on. They are fitted when
// first asked for, and again when they are old ([Options.Refit]) or a tenth of
// the answers is new; that goes on by itself, while everybody is served by the
// models that there are.
//
// A workshop of 26 with 250 answers each takes about a third of a second, 500
// people eight. A server asks once when it starts.
func (p *Progress) Model(ctx context.Context) (*Model, error) {
	if err := p.h.update(ctx); err != nil {
		return nil, err
	}
	if have := p.fitted(); have != nil {
		if p.stale(have) && p.fitting.TryLock() {
			go func() {
				defer p.fitting.Unlock()
				// What cannot be fitted leaves the models as they are; the
				// next who asks tries again.
				_, _ = p.refit(context.WithoutCancel(ctx))
			}()
		}
		return have, nil
	}
	p.fitting.Lock()
	defer p.fitting.Unlock()
	if have := p.fitted(); have != nil {
		return have, nil
	}
	return p.refit(ctx)
}

// refit fits the models to what is known now. The caller holds fitting.
func (p *Progress) refit(ctx context.Context) (*Model, error) {
	m, err := fit(ctx, p.h.all(), p.o.Now())
	if err != nil {
		return nil, err
	}
	p.mu.Lock()
	p.model = m
	p.mu.Unlock()
	return m, nil
}

func (p *Progress) fitted() *Model {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.model
}

func (p *Progress) stale(m *Model) bool {
	changed := p.h.size() - m.Answers
	if changed < 0 {
		changed = -changed
	}
	age := p.o.Now().Sub(m.Fitted)
	return changed > 0 && (age >= p.o.Refit || age < 0) || changed > max(20, m.Answers/10)
}
