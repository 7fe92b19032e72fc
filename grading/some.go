package grading

import (
	"strings"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

func (g *Grader) prepareSome() {
	q := g.q
	g.choices = newChoices(q.Options)
	at := make(map[string]int, len(q.Options))
	for i := range q.Options {
		at[q.Options[i].Value] = i
		if q.Options[i].Right {
			g.keys |= 1 << i
		}
	}
	g.sets = make(map[optionSet]resolver.Slip, len(q.Slipped))
	for _, sl := range q.Slipped {
		var set optionSet
		known := true
		for v := range strings.SplitSeq(sl.Value, ";") {
			i, ok := at[v]
			known = known && ok
			if ok {
				set |= 1 << i
			}
		}
		if _, taken := g.sets[set]; known && !taken && set != g.keys {
			g.sets[set] = sl.Slip
		}
	}
}

// someShare is the score of a set of marks: the share of the right options that
// are marked, less the share of the wrong ones that are, never below zero. Both
// shares count alike whatever their number, so that marks made without looking
// (all options, or any at random) are worth nothing on the average.
func someShare(keys optionSet, n int, marks optionSet) float64 {
	right, wrong := keys.len(), n-keys.len()
	if right == 0 {
		return 0
	}
	share := float64((marks & keys).len()) / float64(right)
	if wrong > 0 {
		share -= float64((marks &^ keys).len()) / float64(wrong)
	}
	return max(0, share)
}

func (g *Grader) gradeSome(given string, s *Score) *Refusal {
	var buf [mostOptions]int8
	_, set, _, refusal := g.choices.read(given, buf[:0])
	if refusal != nil {
		return refusal
	}
	if set == g.keys {
		*s = g.right
		s.Given = optionTexts(g.q.Options, set)
		return nil
	}
	*s = g.wrong
	settle(s, someShare(g.keys, len(g.q.Options), set))
	s.Given = optionTexts(g.q.Options, set)
	// The whole set may be what a slip leads to; failing that the wrong marks
	// may all come from one.
	slip, known := g.sets[set]
	if !known {
		for i := range g.q.Options {
			if o := &g.q.Options[i]; set.has(i) && !o.Right {
				if slip != resolver.NoSlip && slip != o.Slip || o.Slip == resolver.NoSlip {
					slip = resolver.NoSlip
					break
				}
				slip = o.Slip
			}
		}
	}
	if slip != resolver.NoSlip {
		recognise(g.q, s, slip)
	}
	s.Says = marksSay(set, g.keys, g.q.Options) + slipSays(slip)
	return nil
}

// marksSay says which marks are wanting and which are too many.
func marksSay(set, keys optionSet, options []banks.Option) string {
	out := ""
	if left := keys &^ set; left != 0 {
		out += "Not marked, but right: " + optionTexts(options, left) + ". "
	}
	if more := set &^ keys; more != 0 {
		out += "Marked, but not right: " + optionTexts(options, more) + ". "
	}
	return out
}

// optionTexts joins the texts of a set of options in the order in which they
// are printed.
func optionTexts(options []banks.Option, set optionSet) string {
	n := 0
	for i := range options {
		if set.has(i) {
			n += len(options[i].Text) + 2
		}
	}
	var b strings.Builder
	b.Grow(n)
	for i := range options {
		if set.has(i) {
			if b.Len() > 0 {
				b.WriteString(", ")
			}
			b.WriteString(options[i].Text)
		}
	}
	return b.String()
}
