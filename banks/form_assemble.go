package banks

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
)

// AssembleOptions are what does not belong into a blueprint.
type AssembleOptions struct {
	Seed        uint64         // 0: the blueprint's
	Variants    int            // 0: the blueprint's
	Exposure    map[string]int // question ID → how often people have been given it; those given less often go first
	MaxExposure int            // questions given this often or more are left out; 0: none are
	Nearest     bool           // where the blueprint cannot be met, give the nearest form beside the error
}

// Assemble makes a form from a bank by a blueprint. All its lines are met at
// once, no form holds near-duplicates, variants share as few questions as the
// search finds ways to and are brought to the same predicted difficulty. The
// same bank, blueprint and options give the same form.
//
// Where no form meets the blueprint the error is an [*ImpossibleError]: it
// names every line that cannot be met and by how much. The report is filled in
// either way.
//
// The method: questions are put together by which lines they count for. A tabu
// search swaps questions until every line holds. Should it not get there, an
// integer program over the numbers taken of each kind of question decides: its
// linear relaxation gives a bound that proves how near a form can come, branch
// and bound closes the gap, and Hall's theorem (1935) turns near-duplicates
// into cuts.
func Assemble(bank []*Question, b Blueprint, o AssembleOptions) (*TestForm, Report, error) {
	var r Report
	if o.Seed != 0 {
		b.Seed = o.Seed
	}
	if o.Variants != 0 {
		b.Variants = o.Variants
	}
	if err := b.Check(); err != nil {
		return nil, r, err
	}
	if err := oneRevision(bank); err != nil {
		return nil, r, err
	}
	p := newPool(bank, &b, &o, &r)
	used := make([]bool, len(p.bank))
	var forms [][]int
	var worst *solution
	for v := range b.Variants {
		rng := rand.New(rand.NewPCG(b.Seed, uint64(v)))
		var like []int
		if v > 0 {
			like = forms[0]
		}
		sol := p.solve(rng, used, like)
		if sol.cost > 0 && (worst == nil || sol.cost > worst.cost) {
			worst = sol
		}
		forms = append(forms, sol.in)
		for _, q := range sol.in {
			used[q] = true
		}
		if worst != nil {
			break // the others would fare no better
		}
	}
	r.lines(p, &b, forms)
	if worst != nil {
		err := p.impossible(&b, worst)
		if !o.Nearest || len(worst.in) == 0 {
			return nil, r, err
		}
		f := p.form(&b, forms)
		r.variants(f)
		return f, r, err
	}
	p.balance(forms)
	f := p.form(&b, forms)
	r.variants(f)
	return f, r, nil
}

func oneRevision(bank []*Question) error {
	if len(bank) == 0 {
		return errors.New("the bank has no questions; make one with bank make")
	}
	for _, q := range bank {
		if q.Catalog != bank[0].Catalog || q.Revision != bank[0].Revision {
			return fmt.Errorf("the bank mixes questions of %s revision %s and of %s revision %s; make the form from a bank of one",
				bank[0].Catalog, bank[0].Revision, q.Catalog, q.Revision)
		}
	}
	return nil
}

// solution is the questions of a variant.
type solution struct {
	in     []int
	count  []int // line → questions covered
	cost   int
	proven bool // no form comes nearer
}

// searchRounds is how many swaps without gain end a search.
const searchRounds = 120

// solve finds the questions of one variant; like, if not nil, is a variant to
// be alike to.
func (p *pool) solve(rng *rand.Rand, used []bool, like []int) *solution {
	s := newSearch(p, rng, used)
	var best []int
	cost, reuse := 0, 0
	try := func() bool {
		s.fill()
		s.improve(searchRounds)
		if best == nil || s.cost() < cost || s.cost() == cost && s.reuses() < reuse {
			best, cost, reuse = slices.Clone(s.in), s.cost(), s.reuses()
		}
		return cost == 0 && reuse == 0
	}
	if like == nil {
		try()
	} else if s.fresh = true; !s.alike(like, try) && !s.afresh(try) {
		// Without questions of earlier variants it does not go. Let in as few
		// of them as can be, or begin with the other variant, which meets the
		// blueprint.
		s.fresh = false
		s.reset(best)
		if !try() {
			s.reset(like)
			try()
		}
	}
	s.fresh = false
	s.reset(best)
	sol := s.solution()
	if sol.cost > 0 {
		p.prove(s, sol)
	}
	return sol
}

// alike starts the form with a question of the same signature for each of
// another variant.
func (s *search) alike(other []int, try func() bool) bool {
	s.reset(nil)
	for _, o := range other {
		if q := s.head(s.p.sig[o], noQuestion); q != noQuestion {
			s.put(q)
		}
	}
	return try()
}

// afresh starts with nothing.
func (s *search) afresh(try func() bool) bool {
	s.reset(nil)
	return try()
}

func (s *search) solution() *solution {
	sol := &solution{cost: s.cost(), count: slices.Clone(s.count)}
	for _, q := range s.in {
		if q != noQuestion {
			sol.in = append(sol.in, q)
		}
	}
	return sol
}

// form puts the questions of the variants into their order.
func (p *pool) form(b *Blueprint, forms [][]int) *TestForm {
	f := &TestForm{Format: FormFormat, Title: b.Title, Catalog: p.bank[0].Catalog, Revision: p.bank[0].Revision, Blueprint: *b}
	for v, in := range forms {
		qs := make([]*Question, len(in))
		for i, q := range in {
			qs[i] = p.bank[q]
		}
		b.arrange(qs, rand.New(rand.NewPCG(b.Seed, uint64(v)|1<<32)))
		f.Variants = append(f.Variants, Variant{Letter(v), qs})
	}
	return f
}

// arrange puts questions into the order of the blueprint. Those that it leaves
// open are in pseudo-random order.
func (b *Blueprint) arrange(qs []*Question, rng *rand.Rand) {
	slices.SortFunc(qs, func(x, y *Question) int { return compareText(x.ID, y.ID) })
	rng.Shuffle(len(qs), func(i, j int) { qs[i], qs[j] = qs[j], qs[i] })
	easier := func(x, y *Question) int { return compareLogit(x.Logit, y.Logit) }
	switch b.Order {
	case EasyFirst:
		slices.SortStableFunc(qs, easier)
	case ByKind:
		turn := map[string]int{}
		for i := range b.Quotas {
			if q := &b.Quotas[i]; q.By == KindAttribute {
				if _, seen := turn[q.Of]; !seen {
					turn[q.Of] = len(turn)
				}
			}
		}
		var others []string
		for _, q := range qs {
			if _, named := turn[q.Kind]; !named && !slices.Contains(others, q.Kind) {
				others = append(others, q.Kind)
			}
		}
		slices.Sort(others)
		for _, k := range others {
			turn[k] = len(turn)
		}
		slices.SortStableFunc(qs, func(x, y *Question) int {
			if d := turn[x.Kind] - turn[y.Kind]; d != 0 {
				return d
			}
			return easier(x, y)
		})
	}
}
