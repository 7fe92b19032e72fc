package banks

import (
	"encoding/binary"
	"slices"
)

// pool is the questions from which a form can be made, put together by what
// the lines of the blueprint see of them.
type pool struct {
	bank     []*Question
	class    []int // near-duplicates share one
	classes  int
	exposure []int
	sig      []int // index into sigs
	sigs     []signature
	lines    []line
	n        int // questions that a form has
}

// signature is the set of the lines that cover a question. Questions of one
// signature can stand for one another.
type signature struct {
	lines   []int // ascending
	members []int // indexes into bank
}

// line is a line of the blueprint at work.
type line struct {
	span
	available int // most questions covered that one form can hold
	outside   int // most questions not covered that one form can hold
}

// newPool leaves out what cannot stand in a form of the blueprint.
func newPool(bank []*Question, b *Blueprint, o *AssembleOptions, r *Report) *pool {
	p := &pool{n: b.Questions}
	r.Bank = len(bank)
	for _, q := range bank {
		switch {
		case b.Options > 0 && q.Form == OneOf && len(q.Options) > b.Options:
			r.TooManyOptions++
			continue
		case o.MaxExposure > 0 && o.Exposure[q.ID] >= o.MaxExposure:
			r.Overexposed++
			continue
		}
		p.bank = append(p.bank, q)
		p.exposure = append(p.exposure, o.Exposure[q.ID])
	}
	p.class = duplicateClasses(p.bank)
	for _, c := range p.class {
		p.classes = max(p.classes, c+1)
	}
	r.Eligible, r.Distinct = len(p.bank), p.classes
	p.sign(b)
	for i, s := range b.spans(b.Questions, p.overlap(b)) {
		in, out := map[int]bool{}, map[int]bool{}
		for j, c := range p.class {
			if slices.Contains(p.sigs[p.sig[j]].lines, i) {
				in[c] = true
			} else {
				out[c] = true
			}
		}
		p.lines = append(p.lines, line{s, len(in), len(out)})
	}
	return p
}

func (p *pool) sign(b *Blueprint) {
	number := map[string]int{}
	p.sig = make([]int, len(p.bank))
	for i, q := range p.bank {
		var lines []int
		var key []byte
		for l := range b.Quotas {
			if b.Quotas[l].Covers(q) {
				lines = append(lines, l)
				key = binary.AppendUvarint(key, uint64(l))
			}
		}
		s, ok := number[string(key)]
		if !ok {
			s = len(p.sigs)
			number[string(key)] = s
			p.sigs = append(p.sigs, signature{lines: lines})
		}
		p.sig[i] = s
		p.sigs[s].members = append(p.sigs[s].members, i)
	}
}

// overlap tells of which attributes two lines cover one and the same question.
// Those of an attribute of which a question has one value only do not, except
// that a line of at least may stand beside an exact one; these are rounded apart
// in any case.
func (p *pool) overlap(b *Blueprint) func(Attribute) bool {
	twice := map[Attribute]bool{}
	for _, s := range p.sigs {
		seen := map[Attribute]string{}
		for _, l := range s.lines {
			q := &b.Quotas[l]
			if of, ok := seen[q.By]; ok && of != q.Of {
				twice[q.By] = true
			}
			seen[q.By] = q.Of
		}
	}
	return func(by Attribute) bool { return twice[by] }
}

// missCost is what one question too few or too many on a line costs, emptyCost
// what an empty place in the form does. A place left empty costs less: where a
// line cannot be met, a shorter form that breaks this line alone is nearer to
// the blueprint than a full one that breaks others to make up the number.
const (
	missCost  = 2
	emptyCost = 1
)

// miss is by how many questions a count is off a line.
func (l *line) miss(count int) int { return max(0, l.lo-count, count-l.hi) }
