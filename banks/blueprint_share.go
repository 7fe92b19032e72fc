package banks

import (
	"fmt"
	"strings"
)

// ShareOf gives the shares of kinds with which a bank can meet a blueprint: the
// blueprint's own shares by kind and by skill where it has them, and for the
// kinds that no line names an equal part of the rest. Shares by both are
// reconciled by iterative proportional fitting (Deming and Stephan 1940). A
// kind or skill that does not exist is an error that lists those that do.
func ShareOf(b *Blueprint, kinds []Kind) ([]Share, error) {
	if err := b.knownKinds(kinds); err != nil {
		return nil, err
	}
	weight := b.partition(KindAttribute, len(kinds), func(i int, q *Quota) bool { return kinds[i].Name == q.Of })
	// Four rounds bring what can be reconciled to within a thousandth.
	for range 4 {
		b.fit(SkillAttribute, weight, func(i int, q *Quota) bool { return kinds[i].Skill == q.Of })
		b.fit(KindAttribute, weight, func(i int, q *Quota) bool { return kinds[i].Name == q.Of })
	}
	out := make([]Share, len(kinds))
	for i := range kinds {
		out[i] = Share{Kind: &kinds[i], Weight: weight[i]}
	}
	return out, nil
}

func (b *Blueprint) knownKinds(kinds []Kind) error {
	var e BlueprintError
	for i := range b.Quotas {
		q := &b.Quotas[i]
		var names []string
		known := q.By != KindAttribute && q.By != SkillAttribute
		for j := range kinds {
			name := kinds[j].Name
			if q.By == SkillAttribute {
				name = kinds[j].Skill
			}
			names = append(names, name)
			known = known || name == q.Of
		}
		if !known {
			e.Faults = append(e.Faults, BlueprintFault{q.Line, fmt.Sprintf("there is no %s", q.Name()), "write one of " + strings.Join(names, ", ")})
		}
	}
	if len(e.Faults) > 0 {
		return &e
	}
	return nil
}

// partition gives each of n things its line's share in equal parts, and those
// without a line an equal part of the rest.
func (b *Blueprint) partition(by Attribute, n int, covers func(i int, q *Quota) bool) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 1 / float64(n)
	}
	b.fit(by, out, covers)
	return out
}

// fit scales the weights to the lines of an attribute. What no line names gets
// the rest; where nothing is left for it, it keeps a little, since it is
// allowed where the lines do not add up to the whole.
func (b *Blueprint) fit(by Attribute, weight []float64, covers func(i int, q *Quota) bool) {
	var total, claimed float64
	named := make([]bool, len(weight))
	for _, w := range weight {
		total += w
	}
	if total == 0 {
		return
	}
	for j := range b.Quotas {
		q := &b.Quotas[j]
		if q.By != by {
			continue
		}
		share := max(q.Share, float64(q.Count)/float64(max(1, b.Questions)))
		var have float64
		for i := range weight {
			if covers(i, q) {
				have += weight[i]
			}
		}
		switch q.Bound {
		case AtLeast:
			if have >= share*total {
				continue
			}
		case AtMost:
			if have <= share*total {
				continue
			}
		}
		claimed += share
		for i := range weight {
			if covers(i, q) {
				named[i] = true
				if have > 0 {
					weight[i] *= share * total / have
				}
			}
		}
	}
	var rest float64
	for i := range weight {
		if !named[i] {
			rest += weight[i]
		}
	}
	if claimed == 0 || rest == 0 {
		return
	}
	for i := range weight {
		if !named[i] {
			weight[i] *= max(0, 1-claimed) * total / rest
		}
	}
}

// Plan prepares a plan to make a bank with which the blueprint can be met: its
// shares, options and seed, at least its share of questions at a limit, and
// without questions that no form of the blueprint could take. Size is the
// caller's.
func (b *Blueprint) Plan(kinds []Kind) (Plan, error) {
	shares, err := ShareOf(b, kinds)
	if err != nil {
		return Plan{}, err
	}
	p := Plan{Seed: b.Seed, Shares: shares, Options: b.Options, Boundary: DefaultBoundary}
	for i := range b.Quotas {
		if q := &b.Quotas[i]; q.By == BoundaryAttribute && q.Bound != AtMost {
			p.Boundary = max(p.Boundary, q.Share, float64(q.Count)/float64(max(1, b.Questions)))
		}
	}
	p.Accept = b.usable()
	return p, nil
}

// usable tells of a question whether a form of the blueprint can take it at
// all: no line of zero covers it, and where the lines of an attribute make up
// the whole, one of them does.
func (b *Blueprint) usable() func(*Question) bool {
	spans := b.spans(b.Questions, b.overlaps)
	whole := map[Attribute]bool{}
	for _, by := range Attributes() {
		n := 0
		for i := range b.Quotas {
			if q := &b.Quotas[i]; q.By == by {
				n += spans[i].lo
			}
		}
		whole[by] = n >= b.Questions && !b.overlaps(by)
	}
	return func(x *Question) bool {
		covered := map[Attribute]bool{}
		for i := range b.Quotas {
			q := &b.Quotas[i]
			if !q.Covers(x) {
				continue
			}
			if q.Share == 0 && q.Count == 0 && q.Bound != AtLeast {
				return false
			}
			if spans[i].lo > 0 {
				covered[q.By] = true
			}
		}
		for by, all := range whole {
			if all && !covered[by] {
				return false
			}
		}
		return true
	}
}

// overlaps tells whether the lines of an attribute might cover one question
// twice, whatever the bank: groups one within another, patterns, hazards, and
// lines of at least beside exact ones. Then their sum says nothing about what is
// left.
func (b *Blueprint) overlaps(by Attribute) bool {
	switch by {
	case KindAttribute, SkillAttribute, DifficultyAttribute:
		seen := map[string]bool{}
		for i := range b.Quotas {
			if q := &b.Quotas[i]; q.By == by {
				if seen[q.Of] {
					return true
				}
				seen[q.Of] = true
			}
		}
		return false
	case BoundaryAttribute:
		return false
	}
	n := 0
	for i := range b.Quotas {
		if b.Quotas[i].By == by {
			n++
		}
	}
	return n > 1
}
