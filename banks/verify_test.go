package banks_test

import (
	"strings"
	"testing"

	"rightpage/banks"
	"rightpage/banks/kinds"
)

func TestEveryQuestionVerifies(t *testing.T) {
	v := banks.NewVerifier(demoSource(t), kinds.All())
	for _, q := range demoBank(t) {
		c := *q
		if err := v.Verify(&c); err != nil {
			t.Errorf("%s (%s): %v", q.ID, q.Kind, err)
		}
	}
}

// A bank can be forged, hash and all: what is not what the catalog gives is
// found, and nothing in a question can stop the program.
func TestForgedQuestionsDoNotVerify(t *testing.T) {
	v := banks.NewVerifier(demoSource(t), kinds.All())
	tests := []struct {
		name  string
		forge func(q *banks.Question)
		says  string
	}{
		{"another key", func(q *banks.Question) {
			for i := range q.Options {
				q.Options[i].Right = !q.Options[i].Right
			}
			q.Key.Accept = []string{"somewhere else"}
		}, ""},
		{"another stem", func(q *banks.Question) { q.Stem += " Please." }, "not those that the catalog gives"},
		{"another revision", func(q *banks.Question) { q.Revision = "1" }, "revision 1"},
		{"another kind", func(q *banks.Question) { q.Kind = "tea" }, `no kind "tea"`},
		{"a row beyond the table", func(q *banks.Question) { q.Made.Site.Row = 1 << 30 }, "no place"},
		{"a negative row", func(q *banks.Question) { q.Made.Site.Row = -1 }, "no place"},
		{"a card beyond the table", func(q *banks.Question) { q.Made.Site.Card = 1 << 30 }, "no place"},
		{"a part beyond the record", func(q *banks.Question) { q.Made.Site.Extra = 1 << 30 }, "no place"},
		{"a position that is none", func(q *banks.Question) { q.Made.Site.At = 200 }, "no place"},
		{"another seed", func(q *banks.Question) { q.Made.Seed++ }, ""},
		{"options without number", func(q *banks.Question) { q.Made.Options = -1 << 40 }, ""},
	}
	for _, kind := range kinds.All() {
		for _, q := range demoBank(t) {
			if q.Kind != kind.Name {
				continue
			}
			for _, c := range tests {
				f := *q
				f.Options = append([]banks.Option(nil), q.Options...)
				c.forge(&f)
				err := v.Verify(&f)
				// Of a chase the key stands in its steps, and the seed of a
				// question without choices may not matter.
				if err == nil && !(kind.Name == "chase" && c.name == "another key") && c.name != "options without number" && c.name != "another seed" {
					t.Errorf("%s, %s: it verifies", kind.Name, c.name)
				}
				if err != nil && !strings.Contains(err.Error(), c.says) {
					t.Errorf("%s, %s: got %v, want an error that says %q", kind.Name, c.name, err, c.says)
				}
			}
			break
		}
	}
}
