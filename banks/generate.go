package banks

import (
	"context"
	"crypto/sha256"
	"encoding/base32"
	"encoding/json"
	"fmt"
	"math/bits"
	"runtime"
	"sync"
)

// Share asks for a part of a bank: how much of it one kind makes up.
type Share struct {
	Kind   *Kind
	Weight float64
}

// Plan is what to generate.
type Plan struct {
	Seed     uint64
	Size     int
	Shares   []Share // in a fixed order; weights need not add up to anything
	Boundary float64 // share of questions at a limit, where there are enough; 0 means DefaultBoundary
	Options  int     // options a question; 0 means 4
	Weights  Weights // nil means StartingWeights
	Workers  int     // 0 means one per processor; the result does not depend on it
	// Accept, if not nil, leaves out questions for which it is false.
	Accept func(*Question) bool
}

// DefaultBoundary is the share of questions at a limit. A third, though limits
// are far rarer than that among vehicles: they are what has to be practised.
const DefaultBoundary = 1.0 / 3

// Outcome tells what became of the sites of a kind.
type Outcome struct {
	Kind    string `json:"kind"`
	Sites   int    `json:"sites"`   // places in the catalog at which it can be asked
	Limits  int    `json:"limits"`  // of these, at a limit
	Tried   int    `json:"tried"`   // sites visited
	Taken   int    `json:"taken"`   // questions made
	Wanted  int    `json:"wanted"`  // questions that the plan asked for
	Without int    `json:"without"` // sites visited that have no question: key not unique or not found, or too few slips
}

// Generate makes questions and hands them to yield in a fixed order: the same
// catalog, seed and plan give the same questions in the same order, on any
// number of processors. Encoded is the line of the bank file. Where a kind has
// fewer questions than its share, the others make up for it. Memory does not
// grow with Size. A false from yield stops.
func Generate(ctx context.Context, src *Source, plan Plan, yield func(q *Question, encoded []byte) bool) ([]Outcome, error) {
	plan = plan.defaults()
	streams := make([]*stream, 0, len(plan.Shares))
	for _, s := range plan.Shares {
		if s.Weight < 0 {
			return nil, fmt.Errorf("share of %s is negative: give each kind a share of zero or more", s.Kind.Name)
		}
		if s.Weight > 0 {
			streams = append(streams, newStream(src, s, plan))
		}
	}
	ctx, cancel := context.WithCancel(ctx)
	pool := startWorkers(ctx, src, plan)
	defer func() { cancel(); pool.wait() }()

	made := 0
	for made < plan.Size {
		s := neediest(streams)
		if s == nil {
			break
		}
		p, err := s.next(ctx, pool)
		if err != nil {
			return outcomes(streams), err
		}
		if p == nil {
			s.dry = true
			continue
		}
		s.taken++
		made++
		if !yield(&p.q, p.line) {
			break
		}
	}
	return outcomes(streams), ctx.Err()
}

func (p Plan) defaults() Plan {
	if p.Boundary == 0 {
		p.Boundary = DefaultBoundary
	}
	if p.Options == 0 {
		p.Options = 4
	}
	if p.Weights == nil {
		p.Weights = StartingWeights()
	}
	if p.Workers == 0 {
		p.Workers = runtime.GOMAXPROCS(0)
	}
	return p
}

// neediest is the stream that is furthest behind its share (the method of
// Sainte-Laguë gives each the part that rounding allows).
func neediest(streams []*stream) *stream {
	var best *stream
	most := -1.0
	for _, s := range streams {
		if s.dry {
			continue
		}
		if need := s.weight / float64(2*s.taken+1); need > most {
			best, most = s, need
		}
	}
	return best
}

func outcomes(streams []*stream) []Outcome {
	var out []Outcome
	var total float64
	made := 0
	for _, s := range streams {
		total += s.weight
		made += s.taken
	}
	for _, s := range streams {
		o := s.out
		o.Taken, o.Tried, o.Without = s.taken, s.tried, s.without
		o.Wanted = int(float64(made)*s.weight/total + 0.5)
		out = append(out, o)
	}
	return out
}

// piece is a finished question and its line.
type piece struct {
	q    Question
	line []byte
}

// chunkSize is how many sites a worker visits at a time.
const chunkSize = 64

// stream is the questions of one kind, in the order of a pseudo-random walk
// over its sites.
type stream struct {
	kind    *Kind
	weight  float64
	sites   [2][]Site // away from limits, at limits
	walks   [2]walk
	mix     float64 // share of sites at limits
	pending []*batch
	ready   []piece
	given   int // of ready
	byClass [2]int
	tried   int
	without int
	taken   int
	dry     bool
	out     Outcome
}

func newStream(src *Source, s Share, plan Plan) *stream {
	st := &stream{kind: s.Kind, weight: s.Weight, mix: plan.Boundary}
	sites := s.Kind.Sites(src)
	st.sites = [2][]Site{sites.Inside, sites.Limits}
	for i := range st.sites {
		st.walks[i] = newWalk(len(st.sites[i]), plan.Seed+uint64(i)+uint64(len(s.Kind.Name))<<32)
	}
	st.out = Outcome{Kind: s.Kind.Name, Sites: len(st.sites[0]) + len(st.sites[1]), Limits: len(st.sites[1])}
	return st
}

// take gives the next sites of the walk, those at limits in their share.
func (s *stream) take(n int) []Site {
	var out []Site
	for len(out) < n {
		left := [2]bool{s.byClass[0] < len(s.sites[0]), s.byClass[1] < len(s.sites[1])}
		i := 0
		switch {
		case !left[0] && !left[1]:
			return out
		case !left[0]:
			i = 1
		case left[1] && float64(s.byClass[1]) < s.mix*float64(s.byClass[0]+s.byClass[1]+1):
			i = 1
		}
		out = append(out, s.sites[i][s.walks[i].at(s.byClass[i])])
		s.byClass[i]++
	}
	return out
}

// next gives the next question of the kind, nil when there is none left.
func (s *stream) next(ctx context.Context, pool *workers) (*piece, error) {
	for s.given == len(s.ready) {
		// Keep as many chunks under way as there are workers, and take them
		// back in the order in which they were handed out.
		for len(s.pending) <= pool.n {
			sites := s.take(chunkSize)
			if len(sites) == 0 {
				break
			}
			b := &batch{kind: s.kind, sites: sites, done: make(chan struct{})}
			s.pending = append(s.pending, b)
			select {
			case pool.work <- b:
			case <-ctx.Done():
				return nil, ctx.Err()
			}
		}
		if len(s.pending) == 0 {
			return nil, nil
		}
		b := s.pending[0]
		s.pending = s.pending[1:]
		select {
		case <-b.done:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
		if b.err != nil {
			return nil, b.err
		}
		s.ready, s.given = b.out, 0
		s.tried += len(b.sites)
		s.without += len(b.sites) - len(b.out)
	}
	s.given++
	return &s.ready[s.given-1], nil
}

// batch is a chunk of sites under way.
type batch struct {
	kind  *Kind
	sites []Site
	out   []piece
	err   error
	done  chan struct{}
}

type workers struct {
	n    int
	work chan *batch
	wg   sync.WaitGroup
}

func (w *workers) wait() { w.wg.Wait() }

func startWorkers(ctx context.Context, src *Source, plan Plan) *workers {
	w := &workers{n: plan.Workers, work: make(chan *batch, 256)}
	for range plan.Workers {
		w.wg.Go(func() {
			m := NewMaker(src, plan.Weights)
			m.Options = plan.Options
			for {
				select {
				case b := <-w.work:
					b.fill(m, plan)
					close(b.done)
				case <-ctx.Done():
					return
				}
			}
		})
	}
	return w
}

func (b *batch) fill(m *Maker, plan Plan) {
	b.out = make([]piece, 0, len(b.sites))
	for _, site := range b.sites {
		if !m.Make(b.kind, site, plan.Seed) {
			continue
		}
		if plan.Accept != nil && !plan.Accept(&m.Q) {
			continue
		}
		line, err := Encode(&m.Q)
		if err != nil {
			b.err = err
			return
		}
		b.out = append(b.out, piece{m.Q, line})
	}
}

// Encode sets the question's ID to the hash of its content (SHA-256, 80 bits in
// base 32) and gives its line of a bank file, without the line feed.
func Encode(q *Question) ([]byte, error) {
	q.ID = ""
	body, err := json.Marshal(q)
	if err != nil {
		return nil, fmt.Errorf("encode question: %w", err)
	}
	sum := sha256.Sum256(body)
	q.ID = idEncoding.EncodeToString(sum[:10])
	const empty = `{"id":""`
	line := make([]byte, 0, len(body)+16)
	line = append(line, `{"id":"`...)
	line = append(line, q.ID...)
	line = append(line, '"')
	return append(line, body[len(empty):]...), nil
}

// idEncoding is base 32 without the letters and digits that people mix up
// (RFC 4648 alphabet rules do not forbid them, so the alphabet is our own).
var idEncoding = base32.NewEncoding("0123456789abcdefghjkmnpqrstvwxyz").WithPadding(base32.NoPadding)

// walk visits 0 … n-1 once each in pseudo-random order without a table: a
// four-round Feistel permutation of the next power of four, walked past values
// that are out of range (Black and Rogaway 2002, cycle walking).
type walk struct {
	n    int
	half uint
	key  uint64
}

func newWalk(n int, seed uint64) walk {
	b := uint(bits.Len(uint(max(n-1, 1))))
	return walk{n, (b + 1) / 2, seed}
}

func (w walk) at(i int) int {
	mask := uint64(1)<<w.half - 1
	x := uint64(i)
	for {
		l, r := x>>w.half, x&mask
		for round := range uint64(4) {
			l, r = r, l^(mixBits(r+w.key*0x9e3779b97f4a7c15+round<<56)&mask)
		}
		x = l<<w.half | r
		if x < uint64(w.n) {
			return int(x)
		}
	}
}

// mixBits is the finaliser of SplitMix64 (Steele, Lea and Flood 2014).
func mixBits(x uint64) uint64 {
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}
