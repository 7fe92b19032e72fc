package library

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"sync/atomic"

	"rightpage/banks"
	"rightpage/banks/kinds"
	"rightpage/quiz"
)

// Bank is the exercises of a catalog. It does not change; its questions are
// shared and must not be changed either.
type Bank struct {
	Questions []*banks.Question // in the order in which they were made

	byID    map[string]*banks.Question
	bySkill map[string][]*banks.Question
}

// held is a value that is set once it is made.
type held[T any] struct{ p atomic.Pointer[T] }

func (h *held[T]) get() (v T, ok bool) {
	if p := h.p.Load(); p != nil {
		return *p, true
	}
	return v, false
}

func (h *held[T]) set(v T) { h.p.Store(&v) }

// NewBank makes a bank of questions.
func NewBank(questions []*banks.Question) *Bank {
	b := &Bank{Questions: questions, byID: make(map[string]*banks.Question, len(questions)), bySkill: map[string][]*banks.Question{}}
	for _, q := range questions {
		b.byID[q.ID] = q
		b.bySkill[q.Skill] = append(b.bySkill[q.Skill], q)
	}
	return b
}

// ByID finds a question.
func (b *Bank) ByID(id string) (*banks.Question, bool) {
	q, ok := b.byID[id]
	return q, ok
}

// BySkill lists the questions that train a skill. The slice is shared: do not
// change it.
func (b *Bank) BySkill(skill string) []*banks.Question { return b.bySkill[skill] }

// Skills lists the skills that the bank trains, in order.
func (b *Bank) Skills() []string { return slices.Sorted(maps.Keys(b.bySkill)) }

// Bank gives the exercises of the catalog: kinds in equal parts, as far as it
// has them. They are made when first asked for, the same ones in every process.
// The error is Unavailable if ctx ends first, and Closed if the catalog has no
// question in it.
func (e *Entry) Bank(ctx context.Context) (*Bank, error) {
	if b, ok := e.bank.get(); ok {
		return b, nil
	}
	work := context.WithoutCancel(ctx)
	done := e.making.DoChan("", func() (any, error) {
		if b, ok := e.bank.get(); ok {
			return b, nil
		}
		b, err := e.makeBank(work)
		if err == nil {
			e.bank.set(b)
		}
		return b, err
	})
	select {
	case <-ctx.Done():
		return nil, &quiz.Error{Code: quiz.Unavailable, Text: "make exercises from " + e.Info.Title, Err: ctx.Err()}
	case r := <-done:
		if r.Err != nil {
			return nil, r.Err
		}
		return r.Val.(*Bank), nil
	}
}

func (e *Entry) makeBank(ctx context.Context) (*Bank, error) {
	var list []*banks.Question
	plan := banks.Plan{Seed: e.seed, Size: e.size, Shares: kinds.Equal()}
	_, err := banks.Generate(ctx, banks.NewSource(e.Resolver), plan, func(q *banks.Question, _ []byte) bool {
		c := *q
		list = append(list, &c)
		return true
	})
	if err != nil {
		return nil, &quiz.Error{Code: quiz.Internal, Text: "make exercises from " + e.Info.Title, Err: err}
	}
	if len(list) == 0 {
		return nil, &quiz.Error{Code: quiz.Closed, Text: "no exercise can be made from the catalog " + e.Info.Title,
			Mend: "it has too few records for any lookup with a single answer: add more"}
	}
	return NewBank(list), nil
}

func sortEntries(list []*Entry) {
	slices.SortFunc(list, func(a, b *Entry) int { return cmp.Compare(a.Info.Title, b.Info.Title) })
}
