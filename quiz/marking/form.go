package marking

import (
	"context"
	"sync"

	"github.com/hashicorp/golang-lru/v2/simplelru"

	"rightpage/banks"
	"rightpage/grading"
	"rightpage/quiz"
)

// Form is a form ready for marking. It holds keys, and is shared: it must not
// be changed.
type Form struct {
	*banks.TestForm

	bytes   int64
	byID    map[string]*banks.Question
	graders sync.Map // *banks.Question → *grading.Grader
}

// NewForm prepares a form.
func NewForm(f *banks.TestForm) *Form {
	x := &Form{TestForm: f, byID: map[string]*banks.Question{}}
	for i := range f.Variants {
		for _, q := range f.Variants[i].Questions {
			x.byID[q.ID] = q
		}
	}
	return x
}

// Question gives question n of a variant, both counted from 0; nil if there is
// none.
func (f *Form) Question(variant, n int) *banks.Question {
	if variant < 0 || variant >= len(f.Variants) || n < 0 || n >= len(f.Variants[variant].Questions) {
		return nil
	}
	return f.Variants[variant].Questions[n]
}

// ByID finds a question of any variant.
func (f *Form) ByID(id string) (*banks.Question, bool) {
	q, ok := f.byID[id]
	return q, ok
}

// Questions lists the questions of all variants, each once, in the order of the
// first variant that has it.
func (f *Form) Questions() []*banks.Question {
	out := make([]*banks.Question, 0, len(f.byID))
	seen := make(map[string]bool, len(f.byID))
	for i := range f.Variants {
		for _, q := range f.Variants[i].Questions {
			if !seen[q.ID] {
				seen[q.ID] = true
				out = append(out, q)
			}
		}
	}
	return out
}

// Rules are those by which the form's blueprint has it scored.
func (f *Form) Rules() grading.Rules {
	return grading.Rules{AllOrNothing: !f.Blueprint.PartialCredit}
}

// Grader gives the grader of a question; those of the form's own questions are
// kept.
func (f *Form) Grader(q *banks.Question) *grading.Grader {
	if f.byID[q.ID] != q {
		return grading.NewGrader(q, f.Rules())
	}
	if g, ok := f.graders.Load(q); ok {
		return g.(*grading.Grader)
	}
	g, _ := f.graders.LoadOrStore(q, grading.NewGrader(q, f.Rules()))
	return g.(*grading.Grader)
}

// Passes tells whether points reach the cut score.
func (f *Form) Passes(points, of float64) bool {
	// Parts of points are no binary fractions: 0.8 of 30 may come to a hair less.
	const hair = 1e-9
	return of > 0 && points >= f.Blueprint.Cut*of-hair
}

// Form gives a form by its ID.
func (m *Marker) Form(ctx context.Context, id string) (*Form, error) {
	if f, ok := m.forms.get(id); ok {
		return f, nil
	}
	load := context.WithoutCancel(ctx)
	done := m.loading.DoChan(id, func() (any, error) {
		t, err := m.s.Form(load, id)
		if err != nil {
			return nil, err
		}
		f := NewForm(t)
		for _, q := range f.byID {
			f.bytes += sizeOf(q)
		}
		m.forms.add(id, f)
		return f, nil
	})
	select {
	case <-ctx.Done():
		return nil, &quiz.Error{Code: quiz.Unavailable, Text: "read a form", Err: ctx.Err()}
	case r := <-done:
		if r.Err != nil {
			return nil, r.Err
		}
		return r.Val.(*Form), nil
	}
}

// sizeOf estimates the memory of a question with its grader from its texts.
func sizeOf(q *banks.Question) int64 {
	n := 2000 + len(q.Stem)
	for _, o := range q.Options {
		n += 150 + len(o.Text) + len(o.Value)
	}
	for _, s := range q.Steps {
		n += 400 + 150*(len(s.Options)+len(s.Slipped)+len(s.Carried))
	}
	return int64(n + 150*(len(q.Trace)+len(q.Order)+len(q.Slipped)+len(q.Hazards)+len(q.Cautions)))
}

// formCache keeps the forms used last, up to a number of bytes.
type formCache struct {
	mu   sync.Mutex
	most int64
	used int64
	lru  *simplelru.LRU[string, *Form]
}

func newFormCache(most int64) *formCache {
	c := &formCache{most: most}
	c.lru, _ = simplelru.NewLRU(1<<20, func(_ string, f *Form) { c.used -= f.bytes })
	return c
}

func (c *formCache) get(id string) (*Form, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.lru.Get(id)
}

func (c *formCache) add(id string, f *Form) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.lru.Contains(id) {
		return
	}
	c.lru.Add(id, f)
	c.used += f.bytes
	for c.used > c.most && c.lru.Len() > 1 {
		c.lru.RemoveOldest()
	}
}
