package grading

import (
	"slices"
	"strings"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

func (g *Grader) prepareOrder() {
	g.choices = newChoices(g.q.Options)
	for _, v := range g.q.Key.Order {
		for i := range g.q.Options {
			if g.q.Options[i].Value == v {
				g.order = append(g.order, int8(i))
			}
		}
	}
}

func (g *Grader) gradeOrder(given string, s *Score) *Refusal {
	var buf [mostOptions]int8
	marks, _, twice, refusal := g.choices.read(given, buf[:0])
	if refusal != nil {
		return refusal
	}
	if twice >= 0 {
		return &Refusal{"the letter " + banks.Letter(twice) + " stands twice in the order " + strings.TrimSpace(given), "enter each letter once"}
	}
	if slices.Equal(marks, g.order) {
		*s = g.right
		s.Given = s.Right
		return nil
	}
	*s = g.wrong
	settle(s, orderShare(marks, g.order))
	var b, values strings.Builder
	for i, m := range marks {
		if i > 0 {
			b.WriteString(", then ")
			values.WriteByte(';')
		}
		b.WriteString(g.q.Options[m].Text)
		values.WriteString(g.q.Options[m].Value)
	}
	s.Given = b.String()
	for i := range g.q.Slipped {
		if sl := &g.q.Slipped[i]; sl.Value == values.String() && sl.Slip != resolver.NoSlip {
			recognise(g.q, s, sl.Slip)
			return nil
		}
	}
	slices.Reverse(marks)
	if slices.Equal(marks, g.order) {
		s.Says = "The order is the right one turned round: look which end it starts from. " + s.Says
	}
	return nil
}

// orderShare is the score of an order: (L−1)/(n−1), where L is the length of
// the longest common subsequence with the right order of n.
func orderShare(marks, order []int8) float64 {
	n, l := len(order), commonSubsequence(marks, order)
	if n < 2 {
		return float64(l)
	}
	return max(0, float64(l-1)/float64(n-1))
}

// commonSubsequence is the length of the longest common subsequence of two
// lists (Wagner and Fischer 1974: O(len(a)·len(b)) time). The second must not
// be longer than mostOptions.
func commonSubsequence(a, b []int8) int {
	var row [mostOptions + 1]int
	for i := range a {
		diagonal := 0
		for j := range b {
			up := row[j+1]
			if a[i] == b[j] {
				row[j+1] = diagonal + 1
			} else {
				row[j+1] = max(row[j+1], row[j])
			}
			diagonal = up
		}
	}
	return row[len(b)]
}
