package banks

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"
)

// relaxation is the linear relaxation of the choice of a form. Its variables
// are the numbers x taken of each signature, real and not negative. It minimises
// the cost of [missCost] and [emptyCost]: what it finds, no form undercuts.
//
// What near-duplicates allow is the polytope of Hall's theorem: of no set of
// signatures more than the classes that they touch. These rows are far too many
// to be written out; those that a solution breaks are added as cuts.
type relaxation struct {
	p      *pool
	n      int
	active []bool // lines that count
	cuts   []cut
	work   float64 // spent, see maxWork
}

// cut says that a form holds at most so many questions of some signatures.
type cut struct {
	sigs []int // ascending
	most int
}

// branch bounds the number taken of a signature.
type branch struct {
	sig, k  int
	atLeast bool
}

func (p *pool) relax() *relaxation {
	r := &relaxation{p: p, n: p.n, active: make([]bool, len(p.lines))}
	for i := range r.active {
		r.active[i] = true
	}
	return r
}

// solve gives the optimum under branches, with every cut that it breaks added.
// It is not ok where the method fails numerically or costs too much.
func (r *relaxation) solve(branches []branch) (x []float64, bound float64, ok bool) {
	const rounds = 60
	for range rounds {
		if r.work > maxWork {
			break
		}
		var better bool
		if x2, bound2, ok2 := r.simplex(branches); ok2 {
			x, bound, better, ok = x2, bound2, true, true
		}
		if !better || !r.separate(x) {
			break
		}
	}
	return x, bound, ok // every round's optimum is a bound, cuts or not
}

// separate adds the cuts that x breaks: of one signature, of those that a line
// covers, and of those that it does not.
func (r *relaxation) separate(x []float64) bool {
	before := len(r.cuts)
	const slack = 1e-6
	try := func(sigs []int, most int) {
		var sum float64
		for _, c := range sigs {
			sum += x[c]
		}
		if sum > float64(most)+slack {
			r.cuts = append(r.cuts, cut{sigs, most})
		}
	}
	for c := range r.p.sigs {
		if x[c] > slack {
			try([]int{c}, r.p.distinct(c))
		}
	}
	for i := range r.p.lines {
		var in, out []int
		for c := range r.p.sigs {
			if slices.Contains(r.p.sigs[c].lines, i) {
				in = append(in, c)
			} else {
				out = append(out, c)
			}
		}
		try(in, r.p.lines[i].available)
		try(out, r.p.lines[i].outside)
	}
	all := make([]int, len(r.p.sigs))
	for c := range all {
		all[c] = c
	}
	try(all, r.p.classes)
	return len(r.cuts) > before
}

// distinct is how many questions of a signature one form can hold.
func (p *pool) distinct(sig int) int {
	seen := map[int]bool{}
	for _, q := range p.sigs[sig].members {
		seen[p.class[q]] = true
	}
	return len(seen)
}

// simplex solves the program as it stands. Every row has a variable of its own
// that makes x = 0 a solution to start from.
func (r *relaxation) simplex(branches []branch) (x []float64, bound float64, ok bool) {
	b := &tableau{columns: len(r.p.sigs)}
	b.row(float64(r.n), func(set func(c int, v float64)) {
		for c := range r.p.sigs {
			set(c, 1)
		}
	}, emptyCost, none)
	for i := range r.p.lines {
		l := &r.p.lines[i]
		if !r.active[i] {
			continue
		}
		covered := func(set func(c int, v float64)) {
			for c := range r.p.sigs {
				if slices.Contains(r.p.sigs[c].lines, i) {
					set(c, 1)
				}
			}
		}
		switch {
		case l.lo == l.hi:
			b.row(float64(l.lo), covered, missCost, missCost)
		case l.lo > 0:
			b.row(float64(l.lo), covered, missCost, 0)
		default:
			b.row(float64(l.hi), covered, 0, missCost)
		}
	}
	for _, k := range r.cuts {
		b.row(float64(k.most), func(set func(c int, v float64)) {
			for _, c := range k.sigs {
				set(c, 1)
			}
		}, 0, none)
	}
	for _, k := range branches {
		one := func(set func(c int, v float64)) { set(k.sig, 1) }
		if k.atLeast {
			b.row(float64(k.k), one, forbidden, 0)
		} else {
			b.row(float64(k.k), one, 0, none)
		}
	}
	m := float64(len(b.rows))
	if r.work += m * m * m * m; r.work > maxWork && m > maxRows {
		return nil, 0, false
	}
	x, bound, ok = b.solve()
	if ok {
		x = x[:len(r.p.sigs)]
	}
	return x, bound, ok
}

// maxRows is how many rows a program may have even where it alone would cost
// too much.
const maxRows = 100

const (
	none      = -1  // a row has no such variable
	forbidden = 1e4 // cost of breaking a branch
)

// tableau gathers a linear program in standard form.
type tableau struct {
	columns int
	rows    [][]entry
	rhs     []float64
	basis   []int
	cost    map[int]float64
}

type entry struct {
	column int
	v      float64
}

// row adds the row Σ coefficients·x + under − over = rhs with the costs of a
// unit under and over.
func (t *tableau) row(rhs float64, coefficients func(set func(c int, v float64)), under, over float64) {
	if t.cost == nil {
		t.cost = map[int]float64{}
	}
	var row []entry
	coefficients(func(c int, v float64) { row = append(row, entry{c, v}) })
	row = append(row, entry{t.columns, 1})
	t.cost[t.columns] = under
	t.basis = append(t.basis, t.columns)
	t.columns++
	if over != none {
		row = append(row, entry{t.columns, -1})
		t.cost[t.columns] = over
		t.columns++
	}
	t.rows = append(t.rows, row)
	// Each right side is moved by a little of its own, lest the simplex method
	// go round in circles at corners where many rows meet. It moves the bound
	// by far less than it is rounded by.
	i := float64(len(t.rhs) + 1)
	t.rhs = append(t.rhs, rhs+1e-7*(1+math.Mod(i*math.Phi, 1)))
}

func (t *tableau) solve() (x []float64, bound float64, ok bool) {
	defer func() {
		if recover() != nil { // the library panics where its basis turns singular
			x, bound, ok = nil, 0, false
		}
	}()
	a := mat.NewDense(len(t.rows), t.columns, nil)
	for i, row := range t.rows {
		for _, e := range row {
			a.Set(i, e.column, e.v)
		}
	}
	c := make([]float64, t.columns)
	for j, v := range t.cost {
		c[j] = v
	}
	bound, x, err := lp.Simplex(c, a, t.rhs, 1e-9, t.basis)
	return x, bound, err == nil
}
