package banks_test

import (
	"testing"

	"rightpage/banks"
)

func TestNearDuplicates(t *testing.T) {
	base := func() *banks.Question {
		return &banks.Question{
			Kind: "location", Stem: "Where is it?", About: banks.About{Record: "procedure:P-1"},
			Order: []banks.Line{{Label: "Repair order", Value: "21000"}, {Label: "Job", Value: "Replace the filter"}},
			Form:  banks.Typed, Key: banks.Key{Accept: []string{"page 12"}},
		}
	}
	tests := []struct {
		name   string
		change func(q *banks.Question)
		want   bool
	}{
		{"the same", func(q *banks.Question) {}, true},
		{"same record, another kind, vehicle and key", func(q *banks.Question) {
			q.Kind, q.Order, q.Key.Accept = "publication", nil, []string{"TR-20"}
		}, true},
		{"another record, but the same words and key", func(q *banks.Question) { q.About.Record = "procedure:P-2" }, true},
		{"another number of the repair order and another wording", func(q *banks.Question) {
			q.About.Record, q.Order[0].Value, q.Stem = "procedure:P-2", "34567", "At which place?"
		}, true},
		{"another record and key", func(q *banks.Question) { q.About.Record, q.Key.Accept = "procedure:P-2", []string{"page 13"} }, false},
		{"another record and job", func(q *banks.Question) { q.About.Record, q.Order[1].Value = "procedure:P-2", "Check the filter" }, false},
		{"another record and kind", func(q *banks.Question) { q.About.Record, q.Kind = "procedure:P-2", "edition" }, false},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			a, b := base(), base()
			c.change(b)
			if got := banks.NearDuplicates(a, b); got != c.want {
				t.Errorf("got %v, want %v", got, c.want)
			}
			if banks.NearDuplicates(a, b) != banks.NearDuplicates(b, a) {
				t.Error("it depends on the order of the two")
			}
		})
	}
}
