package banks

import (
	"cmp"
	"context"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
)

// Census says how many questions a catalog has in it, by what they are about,
// how many of them a bank has taken, and which records of the catalog no
// question reaches.
type Census struct {
	Catalog      string       `json:"catalog"`
	Revision     string       `json:"revision"`
	Kinds        []CensusLine `json:"kinds"`
	Skills       []CensusLine `json:"skills"`
	Groups       []CensusLine `json:"groups"` // a group counts what lies below it, too
	Models       []CensusLine `json:"models"` // or codes of the primary unit
	Publications []CensusLine `json:"publications"`
	Reach        []Reach      `json:"reach,omitempty"`
}

// CensusLine counts the questions about one thing.
type CensusLine struct {
	Name      string `json:"name"`
	Title     string `json:"title,omitempty"`
	Sites     int    `json:"sites,omitempty"`  // kinds: places at which the question can be asked
	Limits    int    `json:"limits,omitempty"` // kinds: of these, at a limit
	Questions Count  `json:"questions"`
	Taken     int    `json:"taken"` // of a bank
}

// Count is a number of questions: counted, or estimated from a sample with a
// 95 per cent interval.
type Count struct {
	Value int  `json:"value"`
	Low   int  `json:"low"`
	High  int  `json:"high"`
	Exact bool `json:"exact"`
}

// CensusOptions say how thoroughly to count.
type CensusOptions struct {
	Seed    uint64  // of the questions counted
	Options int     // options a question; 0 means 4
	Weights Weights // nil means StartingWeights
	Workers int     // 0 means one per processor; the result does not depend on it
	// Limit is the number of sites up to which a kind is counted by making the
	// question of every site; above it Sample sites are tried and the rest
	// estimated. Zero means 10,000 and 2,000.
	Limit, Sample int
	NoReach       bool   // do not look for records that no question reaches
	Taken         *Tally // what a bank has taken, or nil
}

// Tally counts questions by what they are about. The zero value is ready for
// use; it is not safe for use by several goroutines.
type Tally struct {
	n                                           int
	kinds, skills, groups, models, publications map[string]int
}

// Add counts a question.
func (t *Tally) Add(q *Question) {
	t.n++
	count(&t.kinds, q.Kind, 1)
	count(&t.skills, q.Skill, 1)
	count(&t.groups, q.About.Group, 1)
	for _, g := range q.About.Within {
		count(&t.groups, g, 1)
	}
	count(&t.models, q.About.Model, 1)
	count(&t.publications, q.About.Publication, 1)
}

func count(m *map[string]int, key string, n int) {
	if key == "" {
		return
	}
	if *m == nil {
		*m = map[string]int{}
	}
	(*m)[key] += n
}

func (t *Tally) merge(o *Tally) {
	t.n += o.n
	for _, m := range [...]struct {
		to   *map[string]int
		from map[string]int
	}{{&t.kinds, o.kinds}, {&t.skills, o.skills}, {&t.groups, o.groups}, {&t.models, o.models}, {&t.publications, o.publications}} {
		for k, n := range m.from {
			count(m.to, k, n)
		}
	}
}

// TakeCensus counts the questions of a catalog.
//
// A question exists at a site if the kind makes one there; two sites give two
// questions, though they may be near-duplicates. Where a kind has too many sites
// to try, a simple random sample without replacement is tried. The interval of
// a share is Wilson's (1927) with the finite population corrected for; that of
// a sum over several kinds is put together by the method of variance estimates
// recovery (Zou and Donner 2008).
func TakeCensus(ctx context.Context, src *Source, kinds []Kind, o CensusOptions) (*Census, error) {
	o = o.defaults()
	c := &Census{Catalog: src.Meta.Title, Revision: src.Meta.Revision}
	t := &taker{src: src, o: o}
	if !o.NoReach {
		t.reach = newReach(src)
	}
	strata := make([]stratum, len(kinds))
	for i := range kinds {
		if err := t.count(ctx, &kinds[i], &strata[i]); err != nil {
			return nil, err
		}
	}
	exact := true
	for i := range strata {
		exact = exact && strata[i].exact()
		if t.reach != nil {
			if err := t.walk(ctx, &strata[i]); err != nil {
				return nil, err
			}
		}
	}
	c.lines(src, strata, o.Taken)
	if t.reach != nil {
		c.Reach = t.reach.report(exact)
	}
	return c, nil
}

func (o CensusOptions) defaults() CensusOptions {
	o.Options = cmp.Or(o.Options, 4)
	o.Workers = cmp.Or(o.Workers, runtime.GOMAXPROCS(0))
	o.Limit = cmp.Or(o.Limit, 10_000)
	o.Sample = min(cmp.Or(o.Sample, 2_000), o.Limit)
	if o.Weights == nil {
		o.Weights = StartingWeights()
	}
	if o.Taken == nil {
		o.Taken = &Tally{}
	}
	return o
}

// stratum is what was found out about one kind.
type stratum struct {
	kind  *Kind
	sites Sites
	tried int
	tally Tally
}

func (s *stratum) exact() bool { return s.tried == s.sites.Len() }

// at gives a site by its number, those at limits last.
func (s *stratum) at(i int) Site {
	if n := len(s.sites.Inside); i >= n {
		return s.sites.Limits[i-n]
	}
	return s.sites.Inside[i]
}

type taker struct {
	src   *Source
	o     CensusOptions
	reach *reach
}

// count tries all the sites of a kind, or a sample of them.
func (t *taker) count(ctx context.Context, k *Kind, s *stratum) error {
	s.kind, s.sites = k, k.Sites(t.src)
	n := s.sites.Len()
	s.tried = n
	if n > t.o.Limit {
		s.tried = t.o.Sample
	}
	w := newWalk(n, t.o.Seed^uint64(len(k.Name))<<48)
	tallies := make([]Tally, t.o.Workers)
	err := t.each(ctx, s.tried, func(worker int, m *Maker, i int) {
		if m.Make(k, s.at(w.at(i)), t.o.Seed) {
			tallies[worker].Add(&m.Q)
			if t.reach != nil {
				t.reach.mark(m)
			}
		}
	})
	for i := range tallies {
		s.tally.merge(&tallies[i])
	}
	return err
}

// each calls f for 0 … n-1, shared out among the workers.
func (t *taker) each(ctx context.Context, n int, f func(worker int, m *Maker, i int)) error {
	const chunk = 32
	var next atomic.Int64
	var wg sync.WaitGroup
	for worker := range t.o.Workers {
		wg.Go(func() {
			m := NewMaker(t.src, t.o.Weights)
			m.Options = t.o.Options
			for ctx.Err() == nil {
				from := int(next.Add(chunk)) - chunk
				if from >= n {
					return
				}
				for i := from; i < min(from+chunk, n); i++ {
					f(worker, m, i)
				}
			}
		})
	}
	wg.Wait()
	return ctx.Err()
}

// lines works the counts out for everything that the catalog has, so that what
// has no question is seen, too.
func (c *Census) lines(src *Source, strata []stratum, taken *Tally) {
	for i := range strata {
		s := &strata[i]
		l := CensusLine{Name: s.kind.Name, Title: s.kind.Title, Sites: s.sites.Len(), Limits: len(s.sites.Limits), Taken: taken.kinds[s.kind.Name]}
		l.Questions = total(strata[i:i+1], func(t *Tally) int { return t.n })
		c.Kinds = append(c.Kinds, l)
	}
	var skills []string
	for i := range strata {
		if k := strata[i].kind; !slices.Contains(skills, k.Skill) {
			skills = append(skills, k.Skill)
		}
	}
	ofSkill := map[string][]stratum{}
	for i := range strata {
		ofSkill[strata[i].kind.Skill] = append(ofSkill[strata[i].kind.Skill], strata[i])
	}
	for _, name := range skills {
		c.Skills = append(c.Skills, CensusLine{Name: name, Taken: taken.skills[name], Questions: total(ofSkill[name], func(t *Tally) int { return t.n })})
	}
	dimension := func(names []string, title func(string) string, of func(*Tally) map[string]int) []CensusLine {
		var out []CensusLine
		for _, name := range names {
			l := CensusLine{Name: name, Title: title(name), Taken: of(taken)[name]}
			l.Questions = total(strata, func(t *Tally) int { return of(t)[name] })
			out = append(out, l)
		}
		return out
	}
	titles := map[string]string{}
	var groups, models, pubs []string
	for i := range src.T.Groups {
		groups = append(groups, src.T.Groups[i].Code)
		titles["group "+src.T.Groups[i].Code] = src.T.Groups[i].Title
	}
	for i := range src.Units {
		if code := src.Units[i].Code; !slices.Contains(models, code) {
			models = append(models, code)
		}
		if card := src.Units[i].Card; card >= 0 {
			titles["model "+src.Units[i].Code] = src.T.Models[card].SalesName
		}
	}
	for i := range src.T.Publications {
		pubs = append(pubs, src.T.Publications[i].ID)
		titles["publication "+src.T.Publications[i].ID] = src.T.Publications[i].Title
	}
	title := func(what string) func(string) string {
		return func(name string) string { return titles[what+" "+name] }
	}
	c.Groups = dimension(groups, title("group"), func(t *Tally) map[string]int { return t.groups })
	c.Models = dimension(models, title("model"), func(t *Tally) map[string]int { return t.models })
	c.Publications = dimension(pubs, title("publication"), func(t *Tally) map[string]int { return t.publications })
}

// total estimates a number of questions over several kinds from what was found
// of it in each.
func total(strata []stratum, found func(*Tally) int) Count {
	c := Count{Exact: true}
	var value, below, above float64
	seen, most := 0, 0
	for i := range strata {
		s := &strata[i]
		n := found(&s.tally)
		seen += n
		all := float64(s.sites.Len())
		if s.exact() {
			value += float64(n)
			most += n
			continue
		}
		most += s.sites.Len() - (s.tried - n)
		c.Exact = false
		p := float64(n) / float64(s.tried)
		lo, hi := wilson(p, float64(s.tried), all)
		value += p * all
		below += (p - lo) * (p - lo) * all * all
		above += (hi - p) * (hi - p) * all * all
	}
	c.Value = int(math.Round(value))
	c.Low = max(seen, int(math.Floor(value-math.Sqrt(below)+rounding)))
	c.High = min(most, int(math.Ceil(value+math.Sqrt(above)-rounding)))
	return c
}

// wilson is the 95 per cent score interval of a share p found in n of all.
func wilson(p, n, all float64) (lo, hi float64) {
	const z = 1.959964 // 97.5 per cent point of the normal distribution
	if all > n {
		n *= (all - 1) / (all - n)
	}
	mid := (p + z*z/(2*n)) / (1 + z*z/n)
	half := z / (1 + z*z/n) * math.Sqrt(p*(1-p)/n+z*z/(4*n*n))
	return max(0, mid-half), min(1, mid+half)
}
