package banks_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"rightpage/banks"
)

func encode(tb testing.TB, q *banks.Question) []byte {
	tb.Helper()
	line, err := banks.Encode(q)
	if err != nil {
		tb.Fatal(err)
	}
	return line
}

func TestBankFileRoundTrip(t *testing.T) {
	bank := demoBank(t)
	var file bytes.Buffer
	for _, q := range bank {
		file.Write(encode(t, q))
		file.WriteString("\n\n") // blank lines do not count
	}
	i := 0
	for q, err := range banks.ReadBank(&file) {
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(bank[i], q); diff != "" {
			t.Fatalf("question %d has changed:\n%s", i, diff)
		}
		i++
	}
	if i != len(bank) {
		t.Errorf("read %d of %d questions", i, len(bank))
	}
}

func TestBankReaderNamesLineAndFault(t *testing.T) {
	good := string(encode(t, demoBank(t)[0]))
	broken := func(edit func(q *banks.Question)) string {
		q := *demoBank(t)[0]
		edit(&q)
		return string(encode(t, &q))
	}
	tests := []struct{ name, line, says string }{
		{"not JSON", "question", "not a question of a bank file"},
		{"cut off", good[:len(good)/2], "not a question of a bank file"},
		{"unknown field", strings.Replace(good, `{"id"`, `{"colour":"red","id"`, 1), `unknown field "colour"`},
		{"two on a line", good + good, "more than one question on a line"},
		{"edited", strings.Replace(good, `"stem":"`, `"stem":"Please: `, 1), "was changed by hand"},
		{"unknown form", broken(func(q *banks.Question) { q.Form = "essay" }), `there is no response form "essay"`},
		{"no key", broken(func(q *banks.Question) { q.Form, q.Options, q.Key = banks.Typed, nil, banks.Key{} }), "the key is empty"},
		{"two keys", broken(func(q *banks.Question) {
			q.Form, q.Options = banks.OneOf, []banks.Option{{Text: "a", Value: "a", Right: true}, {Text: "b", Value: "b", Right: true}}
		}), "2 of 2 options are right"},
		{"same options", broken(func(q *banks.Question) {
			q.Form, q.Options = banks.OneOf, []banks.Option{{Text: "a", Value: "a", Right: true}, {Text: "b", Value: "a"}}
		}), "options A and B stand for the same"},
		{"chase without steps", broken(func(q *banks.Question) { q.Form = banks.Chase }), "the chase has no steps"},
		{"order without its options", broken(func(q *banks.Question) {
			q.Form, q.Options, q.Key.Order = banks.Ordered, []banks.Option{{Text: "a", Value: "a"}, {Text: "b", Value: "b"}}, []string{"a", "a"}
		}), "does not hold each option once"},
		{"endless line", strings.Repeat("x", 2<<20), "longer than"},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			n := 0
			for q, err := range banks.ReadBank(strings.NewReader(good + "\n" + c.line + "\n" + good)) {
				n++
				switch {
				case n == 1 && err != nil:
					t.Fatal(err)
				case n == 2 && (err == nil || !strings.HasPrefix(err.Error(), "bank line 2: ") || !strings.Contains(err.Error(), c.says)):
					t.Errorf("got %v, want an error that says line 2 and %q", err, c.says)
				case n > 2:
					t.Errorf("reading goes on after an error: %v, %v", q, err)
				}
			}
			if n < 2 {
				t.Error("the line was passed over")
			}
		})
	}
}

func FuzzBank(f *testing.F) {
	typed := &banks.Question{Catalog: "C", Revision: "1", Kind: "location", Form: banks.Typed, Stem: "Where?", Key: banks.Key{Accept: []string{"12"}}}
	one := &banks.Question{Kind: "edition", Form: banks.OneOf, Stem: "Which?", Options: []banks.Option{{Text: "A", Value: "a", Right: true}, {Text: "B", Value: "b", Slip: 1}}}
	chase := &banks.Question{Kind: "chase", Form: banks.Chase, Steps: []banks.ChaseStep{{Ask: "Group", Accept: []string{"PA"}}}}
	order := &banks.Question{Kind: "order", Form: banks.Ordered, Stem: "In which order?", Options: []banks.Option{{Text: "A", Value: "a"}, {Text: "B", Value: "b"}}, Key: banks.Key{Order: []string{"b", "a"}}}
	for _, q := range []*banks.Question{typed, one, chase, order} {
		f.Add(encode(f, q))
	}
	f.Add([]byte("\n{}\n"))
	f.Add(fmt.Appendf(nil, "%s\n%s\n", encode(f, typed), encode(f, one)))
	f.Fuzz(func(t *testing.T, text []byte) {
		// A hash stands before most of what could go wrong: who forges a bank
		// can compute it, so try the text with the right one, too.
		var forged banks.Question
		if json.Unmarshal(text, &forged) == nil {
			text = encode(t, &forged)
		}
		for q, err := range banks.ReadBank(bytes.NewReader(text)) {
			if err != nil {
				if !strings.HasPrefix(err.Error(), "bank line ") {
					t.Errorf("the error names no line: %v", err)
				}
				return
			}
			// What was read can be shown, compared and written again.
			if q.KeyText() == "" && q.Form != banks.Number {
				t.Errorf("a question without a key: %+v", q)
			}
			banks.NearDuplicates(q, q)
			again, err := banks.Decode(encode(t, q))
			if err != nil {
				t.Errorf("what was read cannot be read again: %v", err)
			} else if diff := cmp.Diff(q, again); diff != "" {
				t.Error(diff)
			}
		}
	})
}
