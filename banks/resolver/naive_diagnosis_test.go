package resolver_test

import (
	"slices"
	"strings"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// quantities gives the rows of the quantities that a text names; a synonym
// written in one row of a quantity is one for all its rows.
func (n *naive) quantities(text string) (match, []int) {
	how, hits := n.bestOf(n.words(text), len(n.t.Specifications), func(i int) []string {
		return termsOf(n.t.Specifications[i].Quantity, n.t.Specifications[i].Synonyms)
	})
	var rows []int
	for i := range n.t.Specifications {
		if slices.ContainsFunc(hits, func(h int) bool { return n.t.Specifications[h].Quantity == n.t.Specifications[i].Quantity }) {
			rows = append(rows, i)
		}
	}
	return how, rows
}

func (n *naive) specification(b naiveBranch, q *resolver.Query) (finds []find, failed resolver.Step, settled bool) {
	how, rows := n.quantities(q.Text)
	if how.kind == 0 {
		return nil, resolver.ComponentStep, true
	}
	for _, i := range rows {
		s := &n.t.Specifications[i]
		pub, edition := n.editionFit(b, s.Publication)
		fit := min(edition, b.fit(s.KeyedBy, s.AppliesTo, s.Effectivity))
		if fit == catalog.Outside || q.Ambient != nil && !s.Ambient.Contains(*q.Ambient) {
			continue
		}
		if q.Condition != "" && !strings.EqualFold(s.Condition, q.Condition) {
			continue
		}
		finds = append(finds, find{naiveRecord{resolver.SpecificationTable, i, pub, ""}, "quantity", fit, -1})
	}
	return finds, 0, false
}

// complaints gives the rows of the guide that a text leads to.
func (n *naive) complaints(text string) (match, []int) {
	return n.bestOf(n.words(text), len(n.t.Guide), func(i int) []string {
		return termsOf(n.t.Guide[i].System, n.t.Guide[i].Complaints)
	})
}

func (n *naive) complaint(b naiveBranch, q *resolver.Query) (finds []find, failed resolver.Step, settled bool) {
	how, rows := n.complaints(q.Text)
	if how.kind == 0 {
		return nil, resolver.ComponentStep, true
	}
	for _, i := range rows {
		g := &n.t.Guide[i]
		pub, edition := n.editionFit(b, g.Publication)
		fit := min(edition, b.fit(g.KeyedBy, g.AppliesTo, g.Effectivity))
		if fit == catalog.Outside || pub < 0 {
			continue
		}
		for _, j := range n.nextSteps(g.Publication, g.Section, q) {
			t := &n.t.Tests[j]
			finds = append(finds, find{naiveRecord{resolver.TestTable, j, pub, ""}, t.Chapter + "/" + t.Step, fit, -1})
		}
	}
	return finds, 0, false
}

// nextSteps gives the rows of the steps to go to.
func (n *naive) nextSteps(pub, section string, q *resolver.Query) []int {
	in := func(chapter string) []int {
		var rows []int
		for i, t := range n.t.Tests {
			if t.Publication == pub && t.Chapter == chapter && (t.Side == "" || q.Side == "" || t.Side == q.Side) {
				rows = append(rows, i)
			}
		}
		return rows
	}
	// lowest gives the rows of the lowest step that is higher than a step.
	lowest := func(rows []int, above string) []int {
		var low []int
		for _, i := range rows {
			step := n.t.Tests[i].Step
			if above != "" && catalog.CompareSteps(step, above) <= 0 {
				continue
			}
			if len(low) > 0 {
				switch c := catalog.CompareSteps(step, n.t.Tests[low[0]].Step); {
				case c > 0:
					continue
				case c < 0:
					low = nil
				}
			}
			low = append(low, i)
		}
		return low
	}
	chapter := section
	if q.At.Chapter != "" {
		chapter = q.At.Chapter
	}
	switch q.Outcome {
	case resolver.Passed:
		if !slices.ContainsFunc(in(chapter), func(i int) bool { return n.t.Tests[i].Step == q.At.Step }) {
			return nil // the chapter has no such step
		}
		return lowest(in(chapter), q.At.Step)
	case resolver.Failed:
		var next []int
		for _, i := range in(chapter) {
			t := &n.t.Tests[i]
			if t.Step != q.At.Step {
				continue
			}
			to := t.FailChapter
			if to == "" {
				to = chapter
			}
			if len(t.FailSteps) == 0 {
				next = append(next, lowest(in(to), "")...)
				continue
			}
			for _, j := range in(to) {
				if slices.Contains(t.FailSteps, n.t.Tests[j].Step) {
					next = append(next, j)
				}
			}
		}
		return next
	}
	return lowest(in(section), "")
}

// troubleRows gives the rows of the code that a text is.
func (n *naive) troubleRows(q *resolver.Query) []int {
	rowsOf := func(code string) []int {
		var rows []int
		for i := range n.t.TroubleCodes {
			if troubleCode(n.t.TroubleCodes[i].Code) == troubleCode(code) {
				rows = append(rows, i)
			}
		}
		return rows
	}
	rows := rowsOf(q.Text)
	if len(rows) == 0 {
		for _, d := range n.c.Decoders(catalog.KindTrouble) {
			if t, err := d.Unpack(catalog.Fold(q.Text)); err == nil {
				rows = append(rows, rowsOf(t.String())...)
			}
		}
	}
	if len(rows) == 0 {
		if t, err := catalog.ParseTrouble(q.Text); err == nil {
			rows = rowsOf(t.String())
		}
	}
	return rows
}

// troubleCode folds a code, but keeps a hyphen between two digits.
func troubleCode(code string) string {
	parts := strings.FieldsFunc(code, func(r rune) bool { return r == '-' })
	out := ""
	for _, p := range parts {
		p = catalog.Fold(p)
		if out != "" && p != "" && isDigit(out[len(out)-1]) && isDigit(p[0]) {
			out += "-"
		}
		out += p
	}
	return out
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

func (n *naive) trouble(b naiveBranch, q *resolver.Query) []find {
	var finds []find
	for _, i := range n.troubleRows(q) {
		r := &n.t.TroubleCodes[i]
		if q.System != "" && !strings.EqualFold(r.System, q.System) {
			continue
		}
		pub, edition := n.editionFit(b, r.Publication)
		if fit := min(edition, b.fit(r.KeyedBy, r.AppliesTo, r.Effectivity)); fit != catalog.Outside {
			finds = append(finds, find{naiveRecord{resolver.TroubleTable, i, pub, ""}, "code", fit, -1})
		}
	}
	return finds
}
