package marking

import (
	"context"
	"encoding/json"
	"slices"
	"strings"
	"sync"
	"time"

	"rightpage/banks"
	"rightpage/grading"
	"rightpage/quiz"
)

// correctAction is the action of the entries of the audit log that hold
// corrections; their subject is the form.
const correctAction = "form.correct"

// correction is a change of keys that holds for a form from when it was made.
type correction struct {
	Cause   string             `json:"cause"`
	Remedy  grading.Remedy     `json:"remedy,omitempty"`
	Void    grading.VoidRemedy `json:"void,omitempty"`
	Since   string             `json:"since,omitempty"` // revision of the catalog that brought it about
	Rulings []grading.Ruling   `json:"rulings,omitempty"`
	Catalog string             `json:"catalog,omitempty"` // ID of a catalog: its answers are the keys
	Dispute string             `json:"dispute,omitempty"` // ID: it holds if the dispute was accepted by who made it

	actor  string
	at     time.Time
	change grading.Change
	known  *decisions
}

// keyed is a question with the key that holds at some point, under the ID that
// the form knows it by.
type keyed struct {
	*banks.Question
	content string // hash of what it is with that key
}

// asMade is a question with the key of its form.
func asMade(q *banks.Question) keyed { return keyed{q, q.ID} }

// decision is what a correction makes of a question.
type decision struct {
	grading.QuestionChange
	next keyed // with the key that holds then
}

// decisions keeps what a correction makes of questions, by their content: it is
// the same for every attempt.
type decisions struct {
	mu sync.Mutex
	of map[string]*decision
}

// decide tells what the correction makes of a question, given the key that held
// before.
func (c *correction) decide(cur keyed) *decision {
	c.known.mu.Lock()
	defer c.known.mu.Unlock()
	if d, ok := c.known.of[cur.content]; ok {
		return d
	}
	d := &decision{c.change(cur.Question), cur}
	if d.Outcome == grading.KeyChanged {
		next := *d.New
		if _, err := banks.Encode(&next); err != nil {
			d.Outcome, d.Why = grading.NeedsPerson, err.Error() // it could not be kept
		} else {
			d.next = keyed{&next, next.ID}
			next.ID = cur.ID
		}
	}
	c.known.of[cur.content] = d
	return d
}

// rulingsChange decides by rulings, one after the other: a later one finds the
// key that an earlier one gave.
func rulingsChange(list []grading.Ruling, since string) grading.Change {
	return func(q *banks.Question) grading.QuestionChange {
		out := grading.QuestionChange{Question: q.ID, Kind: q.Kind, Outcome: grading.Unchanged, OldKey: q.KeyText()}
		cur := q
		for _, r := range list {
			if r.Question != q.ID {
				continue
			}
			switch c := grading.Rulings(r)(cur); c.Outcome {
			case grading.KeyChanged:
				next := *c.New
				next.ID = q.ID
				cur = &next
				out.Outcome, out.Why, out.New, out.NewKey, out.Since = c.Outcome, c.Why, cur, c.NewKey, since
			case grading.Void, grading.NeedsPerson:
				c.OldKey, c.Since = out.OldKey, since
				return c
			}
		}
		return out
	}
}

// rulingsOf writes what a change makes of questions as rulings, which can be
// kept.
func rulingsOf(changes []grading.QuestionChange) []grading.Ruling {
	var out []grading.Ruling
	for _, c := range changes {
		switch {
		case c.Outcome == grading.Void:
			out = append(out, grading.Ruling{Question: c.Question, Void: true, Why: c.Why})
		case c.Outcome != grading.KeyChanged:
		case c.New.Form == banks.OneOf:
			also := false
			for i, o := range c.New.Options {
				if o.Right {
					out = append(out, grading.Ruling{Question: c.Question, Key: banks.Letter(i), Also: also, Why: c.Why})
					also = true
				}
			}
		case c.New.Form == banks.Typed:
			for i, a := range c.New.Key.Accept {
				out = append(out, grading.Ruling{Question: c.Question, Key: a, Also: i > 0, Why: c.Why})
			}
		default:
			out = append(out, grading.Ruling{Question: c.Question, Key: grading.KeyAnswer(c.New), Tolerance: c.New.Key.Tolerance, Why: c.Why})
		}
	}
	return out
}

// corrected grades an answer to a question by its form and then by each
// correction; false if the question is withdrawn.
func (f *Form) corrected(q *banks.Question, given string, list []correction) (grading.Score, bool) {
	s := grade(f.Grader(q), q, given)
	cur := asMade(q)
	for i := range list {
		c := &list[i]
		d := c.decide(cur)
		if d.Outcome == grading.Unchanged {
			continue
		}
		rep := grading.Regrade([]grading.Response{{Question: cur.Question, Given: given, Score: s}},
			func(*banks.Question) grading.QuestionChange { return d.QuestionChange }, c.Cause,
			grading.RegradeOptions{Rules: f.Rules(), Remedy: c.Remedy, Void: c.Void})
		for _, r := range rep.Responses {
			if r.Withdrawn {
				return s, false // for good, see Apply
			}
			if r.After != nil {
				s = *r.After
				s.Question = q.ID
			}
		}
		cur = d.next
	}
	return s, true
}

// current gives a question of the form with the key that holds by corrections,
// and whether any of them touches it.
func current(q *banks.Question, list []correction) (cur *banks.Question, touched bool) {
	k := asMade(q)
	for i := range list {
		d := list[i].decide(k)
		touched = touched || d.Outcome != grading.Unchanged
		k = d.next
	}
	return k.Question, touched
}

// Current gives a question of a form with the key that holds today, after
// disputes and revisions; its ID stays that of the form. It holds the key.
func (m *Marker) Current(ctx context.Context, form, question string) (*banks.Question, error) {
	f, err := m.Form(ctx, form)
	if err != nil {
		return nil, err
	}
	q, ok := f.ByID(question)
	if !ok {
		return nil, quiz.Errorf(quiz.NotFound, "the form has no question %s", question)
	}
	list, err := m.corrections(ctx, form)
	if err != nil {
		return nil, err
	}
	cur, _ := current(q, list)
	return cur, nil
}

// correctionLog is what was read of the audit log so far.
type correctionLog struct {
	mu     sync.Mutex
	seq    int64  // the last entry that was read
	hash   string // of it; another one there means that a backup was restored
	byForm map[string][]correction
	closed map[string]quiz.Dispute // those that were decided
}

const auditPage = 500

// catchUp reads the entries that were added since.
func (g *correctionLog) catchUp(ctx context.Context, m *Marker) error {
	for {
		var added []quiz.Entry // latest first
		var head quiz.Entry
		restart, before := false, int64(0)
		for page := 20; ; page = auditPage {
			list, err := m.s.AuditLog(ctx, before, page)
			if err != nil {
				return err
			}
			if before == 0 && len(list) > 0 {
				head = list[0]
			}
			if before == 0 && (len(list) == 0 && g.seq > 0 || len(list) > 0 && list[0].Seq < g.seq) {
				restart = true // the log is another one
				break
			}
			met := len(list) == 0
			for _, e := range list {
				if e.Seq == g.seq {
					met, restart = true, e.Hash != g.hash
					break
				}
				if e.Action == correctAction {
					added = append(added, e)
				}
				before = e.Seq
			}
			if met || restart || before <= 1 {
				break
			}
		}
		if restart {
			g.seq, g.hash, g.byForm, g.closed = 0, "", nil, nil
			continue
		}
		if g.byForm == nil {
			g.byForm, g.closed = map[string][]correction{}, map[string]quiz.Dispute{}
		}
		slices.Reverse(added)
		for _, e := range added {
			form, ok := strings.CutPrefix(e.Subject, "form/")
			c := correction{actor: e.Actor, at: e.At, known: &decisions{of: map[string]*decision{}}}
			if !ok || json.Unmarshal([]byte(e.Detail), &c) != nil {
				continue // not ours
			}
			g.byForm[form] = append(g.byForm[form], c)
		}
		if head.Seq > 0 {
			g.seq, g.hash = head.Seq, head.Hash
		}
		return nil
	}
}

// corrections lists the corrections that hold for a form, in their order.
func (m *Marker) corrections(ctx context.Context, form string) ([]correction, error) {
	g := &m.log
	g.mu.Lock()
	defer g.mu.Unlock()
	if err := g.catchUp(ctx, m); err != nil {
		return nil, err
	}
	var out []correction
	settled := map[string]bool{} // one ruling settles a dispute
	for i := range g.byForm[form] {
		c := &g.byForm[form][i]
		if c.Dispute != "" {
			d, err := g.decided(ctx, m, c.Dispute)
			if err != nil {
				return nil, err
			}
			if d.State != quiz.DisputeAccepted || d.By != c.actor || c.at.After(d.Decided) || settled[c.Dispute] {
				continue
			}
			settled[c.Dispute] = true
		}
		if c.change == nil {
			if c.Catalog == "" {
				c.change = rulingsChange(c.Rulings, c.Since)
			} else {
				e, err := m.l.Entry(ctx, c.Catalog)
				if err != nil {
					return nil, err
				}
				c.change = grading.Revision(e.Resolver)
			}
		}
		out = append(out, *c)
	}
	return out, nil
}

// decided gives a dispute as it was decided; the zero value if it is open.
func (g *correctionLog) decided(ctx context.Context, m *Marker, id string) (quiz.Dispute, error) {
	if d, ok := g.closed[id]; ok {
		return d, nil
	}
	for _, state := range []quiz.DisputeState{quiz.DisputeAccepted, quiz.DisputeRejected} {
		list, err := m.s.Disputes(ctx, state)
		if err != nil {
			return quiz.Dispute{}, err
		}
		for _, d := range list {
			g.closed[d.ID] = d
		}
	}
	return g.closed[id], nil // an open one is asked for again
}

// record keeps a correction.
func (m *Marker) record(ctx context.Context, actor, form string, c correction) error {
	b, err := json.Marshal(c)
	var detail map[string]any
	if err == nil {
		err = json.Unmarshal(b, &detail)
	}
	if err != nil {
		return &quiz.Error{Code: quiz.Internal, Text: "keep the correction", Err: err}
	}
	return m.s.RecordAudit(ctx, actor, correctAction, "form/"+form, detail)
}
