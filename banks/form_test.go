package banks_test

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"rightpage/banks"
)

func demoForm(tb testing.TB) *banks.TestForm {
	tb.Helper()
	f, _, err := banks.Assemble(demoBank(tb), parseBlueprint(tb, "title: Small\nquestions: 9\nvariants: 2\nshares: {kind: {chase: 2, due: 1}}"), banks.AssembleOptions{})
	if err != nil {
		tb.Fatal(err)
	}
	return f
}

func TestFormFileRoundTrip(t *testing.T) {
	f := demoForm(t)
	text, err := banks.EncodeForm(f)
	if err != nil {
		t.Fatal(err)
	}
	got, err := banks.DecodeForm(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(f, got); diff != "" {
		t.Errorf("the form has changed:\n%s", diff)
	}
	again, err := banks.EncodeForm(got)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(text, again) {
		t.Error("the file has changed")
	}
	if f.ID == "" || f.Title != "Small" || f.Revision != "2026-1" {
		t.Errorf("the form has ID %q, title %q, revision %q", f.ID, f.Title, f.Revision)
	}
}

func TestFormFileIsReadStrictly(t *testing.T) {
	text, err := banks.EncodeForm(demoForm(t))
	if err != nil {
		t.Fatal(err)
	}
	// change edits the form as JSON and gives it the right ID again.
	change := func(edit func(f *banks.TestForm)) string {
		f, err := banks.DecodeForm(bytes.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		edit(f)
		out, err := banks.EncodeForm(f)
		if err != nil {
			t.Fatal(err)
		}
		return string(out)
	}
	s := string(text)
	tests := []struct{ name, text, says string }{
		{"empty", "", "not a form file"},
		{"not JSON", "form", "not a form file"},
		{"a bank", `{"id":"x","kind":"edition"}`, `unknown field "kind"`},
		{"unknown field", strings.Replace(s, `"title"`, `"colour":"red","title"`, 1), `unknown field "colour"`},
		{"something after it", s + "{}", "something follows the form"},
		{"another format", strings.Replace(s, banks.FormFormat, "form 9", 1), `the file says that it is "form 9"`},
		{"title edited", strings.Replace(s, "Small", "Large", 1), "was changed by hand"},
		{"question edited", strings.Replace(s, `"stem":"`, `"stem":"Quickly: `, 1), "was changed by hand"},
		{"no variants", change(func(f *banks.TestForm) { f.Variants = nil }), "0 variants"},
		{"no questions", change(func(f *banks.TestForm) { f.Variants[0].Questions = nil }), "variant A has 0 questions"},
		{"null question", change(func(f *banks.TestForm) { f.Variants[0].Questions[2] = nil }), "variant A has no question 3"},
		{"names", change(func(f *banks.TestForm) { f.Variants[1].Name = "A" }), `variant 2 is named "A", not B`},
		{"a question twice", change(func(f *banks.TestForm) { f.Variants[1].Questions[0] = f.Variants[1].Questions[1] }), "stands twice in variant B"},
		{"another revision", change(func(f *banks.TestForm) { f.Revision = "1999" }), "another catalog or revision"},
		{"wrong blueprint", change(func(f *banks.TestForm) { f.Blueprint.Cut = 7 }), "the cut is 7"},
		{"a key that is none", change(func(f *banks.TestForm) {
			q := f.Variants[0].Questions[0]
			q.Form, q.Options = banks.OneOf, []banks.Option{{Text: "a", Value: "a"}, {Text: "b", Value: "b"}}
			if _, err := banks.Encode(q); err != nil {
				t.Fatal(err)
			}
		}), "0 of 2 options are right"},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			if _, err := banks.DecodeForm(strings.NewReader(c.text)); err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("got %v, want an error that says %q", err, c.says)
			}
		})
	}
}

func FuzzForm(f *testing.F) {
	b := banks.NewBlueprint("Fuzz", 1)
	q := &banks.Question{Catalog: "C", Revision: "1", Kind: "location", Form: banks.Typed, Stem: "Where?", Key: banks.Key{Accept: []string{"12"}}}
	if _, err := banks.Encode(q); err != nil {
		f.Fatal(err)
	}
	text, err := banks.EncodeForm(&banks.TestForm{Title: "Fuzz", Catalog: "C", Revision: "1", Blueprint: b, Variants: []banks.Variant{{Name: "A", Questions: []*banks.Question{q}}}})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add([]byte(`{"format":"rightpage form 1","variants":[{"questions":[null]}]}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		form, err := banks.DecodeForm(bytes.NewReader(text))
		if err != nil {
			return
		}
		out, err := banks.EncodeForm(form)
		if err != nil {
			t.Fatal(err)
		}
		if !json.Valid(out) {
			t.Error("not JSON")
		}
		if _, err := banks.DecodeForm(bytes.NewReader(out)); err != nil {
			t.Errorf("what was read cannot be read again: %v", err)
		}
	})
}
