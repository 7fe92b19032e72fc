package qti_test

import (
	"bytes"
	"context"
	"iter"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/kinds"
	"rightpage/banks/qti"
	"rightpage/banks/resolver"
)

// tarnfell is 600 questions of all kinds from the demo catalog.
var tarnfell = sync.OnceValues(func() ([]*banks.Question, error) {
	c, err := catalog.Load("../../testdata/tarnfell/2026-1")
	if err != nil {
		return nil, err
	}
	var bank []*banks.Question
	_, err = banks.Generate(context.Background(), banks.NewSource(resolver.New(c)), banks.Plan{Seed: 4, Size: 600, Shares: kinds.Equal()}, func(q *banks.Question, _ []byte) bool {
		bank = append(bank, q)
		return true
	})
	return bank, err
})

func demoBank(tb testing.TB) []*banks.Question {
	tb.Helper()
	bank, err := tarnfell()
	if err != nil {
		tb.Fatal(err)
	}
	return bank
}

func each(bank []*banks.Question) iter.Seq2[*banks.Question, error] {
	return func(yield func(*banks.Question, error) bool) {
		for _, q := range bank {
			if !yield(q, nil) {
				return
			}
		}
	}
}

func export(tb testing.TB, bank ...*banks.Question) []byte {
	tb.Helper()
	var b bytes.Buffer
	if err := qti.Export(&b, "Tarnfell practice", each(bank)); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

func importAll(tb testing.TB, pkg []byte) *qti.Imported {
	tb.Helper()
	got, err := qti.Import(bytes.NewReader(pkg), int64(len(pkg)), qti.ImportOptions{})
	if err != nil {
		tb.Fatal(err)
	}
	return got
}

// handMade are questions of forms and with texts that the demo catalog may not
// give.
func handMade(tb testing.TB) []*banks.Question {
	list := []*banks.Question{
		{
			Catalog: "C", Revision: "1", Kind: "steps", Skill: "steps", Form: banks.Ordered, Stem: "In which order?",
			Options: []banks.Option{{Text: "fit the pin", Value: "c", Right: true}, {Text: "drain", Value: "a", Right: true}, {Text: "lift", Value: "b", Right: true}},
			Key:     banks.Key{Order: []string{"a", "b", "c"}}, Slipped: []banks.Slipped{{Value: "b;a;c", Slip: resolver.ChapterForStep}},
		},
		{
			Catalog: "C", Revision: "1", Kind: "typed", Skill: "texts", Form: banks.Typed, Stem: "  a < b & \"c\"\n\ttwo  spaces <p>no markup</p> ]]> é 車 \r\n",
			Order: []banks.Line{{Label: "", Value: " & "}, {Label: "<Job>", Value: ""}},
			Key:   banks.Key{Accept: []string{"12 & 13", "12", "<none>"}, Charset: "code"}, Cautions: []string{"Mind < the > gap", ""},
		},
		{
			Catalog: "C", Revision: "1", Kind: "number", Skill: "values", Form: banks.Number, Stem: "How much?",
			Key:     banks.Key{Number: 0.1 + 0.2, Unit: "N·m", Tolerance: 1e-9},
			Slipped: []banks.Slipped{{Value: "34 N·m", Slip: resolver.WrongAmbient}, {Value: "25 lbf·ft", Slip: resolver.UnitMixed}},
		},
		{
			Catalog: "C", Revision: "1", Kind: "chase", Skill: "whole", Form: banks.Chase, Stem: "",
			Steps: []banks.ChaseStep{{Ask: "Group", Accept: []string{"PA"}}},
		},
	}
	for _, q := range list {
		if _, err := banks.Encode(q); err != nil {
			tb.Fatal(err)
		}
	}
	return list
}

// What is exported comes back as it was: text, options, key, slips, features,
// trace, query, ID.
func TestRoundTrip(t *testing.T) {
	bank := append(slices.Clone(demoBank(t)), handMade(t)...)
	forms := map[banks.Form]int{}
	for _, q := range bank {
		forms[q.Form]++
	}
	for _, f := range banks.Forms() {
		if forms[f] == 0 {
			t.Errorf("no question of the form %s is tried", f)
		}
	}
	pkg := export(t, bank...)
	got := importAll(t, pkg)
	if len(got.Refused)+len(got.Changed) > 0 || len(got.Questions) != len(bank) || got.Title != "Tarnfell practice" {
		t.Fatalf("%d of %d questions came back; refused %v, changed %v", len(got.Questions), len(bank), got.Refused, got.Changed)
	}
	for i := range bank {
		if diff := cmp.Diff(bank[i], got.Questions[i]); diff != "" {
			t.Fatalf("question %s has changed:\n%s", bank[i].ID, diff)
		}
	}
	if err := qti.Validate(bytes.NewReader(pkg), int64(len(pkg))); err != nil {
		t.Errorf("the package breaks the rules:\n%v", err)
	}
	if again := export(t, got.Questions...); !bytes.Equal(pkg, again) {
		t.Error("exported again, the package differs")
	}
}

// The same for questions drawn at random, with any text that XML can hold.
func TestRoundTripOfAnyText(t *testing.T) {
	words := rapid.StringMatching(`[ -~\n\t\r車é<>&"']{0,30}`)
	shown := rapid.StringMatching(`[A-Za-z<>&"' ]{0,8}[A-Za-z0-9]`)
	rapid.Check(t, func(t *rapid.T) {
		q := &banks.Question{
			Catalog: "C", Revision: "1", Kind: "drawn", Skill: words.Draw(t, "skill"), Stem: shown.Draw(t, "stem") + words.Draw(t, "more"),
			Logit: rapid.Float64Range(-5, 5).Draw(t, "logit"), Boundary: rapid.Bool().Draw(t, "boundary"),
		}
		for i := range rapid.IntRange(0, 3).Draw(t, "lines") {
			q.Order = append(q.Order, banks.Line{Label: words.Draw(t, "label"), Value: words.Draw(t, "value")})
			q.Cautions = append(q.Cautions, words.Draw(t, "caution"))
			q.Trace = append(q.Trace, banks.TraceLine{Step: resolver.Steps()[i], Result: words.Draw(t, "result")})
		}
		options := func() []banks.Option {
			var out []banks.Option
			for i := range rapid.IntRange(2, 6).Draw(t, "options") {
				o := banks.Option{Text: shown.Draw(t, "option"), Value: string(rune('p' + i)), Slip: resolver.Slips()[i]}
				if i == 0 {
					o.Right, o.Slip = true, resolver.NoSlip
				}
				out = append(out, o)
			}
			return out
		}
		switch q.Form = rapid.SampledFrom(banks.Forms()).Draw(t, "form"); q.Form {
		case banks.OneOf, banks.SomeOf:
			q.Options = options()
		case banks.Ordered:
			q.Options = options()
			for i := range q.Options {
				q.Options[i] = banks.Option{Text: q.Options[i].Text, Value: q.Options[i].Value, Right: true}
				q.Key.Order = append([]string{q.Options[i].Value}, q.Key.Order...)
			}
		case banks.Typed:
			q.Key = banks.Key{Accept: []string{shown.Draw(t, "key")}, Charset: "text"}
		case banks.Number:
			q.Key = banks.Key{Number: rapid.Float64Range(-1e9, 1e9).Draw(t, "number"), Unit: "mm", Tolerance: rapid.Float64Range(0, 10).Draw(t, "tolerance")}
		case banks.Chase:
			for range rapid.IntRange(1, 4).Draw(t, "steps") {
				s := banks.ChaseStep{Step: resolver.GroupStep, Ask: shown.Draw(t, "ask")}
				if rapid.Bool().Draw(t, "typed") {
					s.Accept = []string{shown.Draw(t, "key")}
					s.Slipped = []banks.Slipped{{Value: "z", Slip: resolver.SiblingGroup}}
				} else {
					s.Options = options()
				}
				q.Steps = append(q.Steps, s)
			}
		}
		if _, err := banks.Encode(q); err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := qti.Export(&b, words.Draw(t, "title"), each([]*banks.Question{q})); err != nil {
			t.Fatal(err)
		}
		got, err := qti.Import(bytes.NewReader(b.Bytes()), int64(b.Len()), qti.ImportOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if len(got.Questions) != 1 || len(got.Changed) != 0 {
			t.Fatalf("%+v", got)
		}
		if diff := cmp.Diff(q, got.Questions[0]); diff != "" {
			t.Fatal(diff)
		}
		if err := qti.Validate(bytes.NewReader(b.Bytes()), int64(b.Len())); err != nil {
			t.Fatal(err)
		}
	})
}

func TestExportRefuses(t *testing.T) {
	good := demoBank(t)[0]
	unnamed, broken, control := *good, *good, *good
	unnamed.ID = "../x"
	broken.Form = "essay"
	control.Stem = "a\x01b"
	for _, q := range []*banks.Question{&broken, &control} {
		if _, err := banks.Encode(q); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		name, says string
		bank       []*banks.Question
	}{
		{"nothing", "no questions", nil},
		{"a question twice", "stands twice", []*banks.Question{good, good}},
		{"an ID that is none", "is not the ID", []*banks.Question{&unnamed}},
		{"an unknown form", "no response form", []*banks.Question{&broken}},
		{"a character beyond XML", "XML cannot hold", []*banks.Question{&control}},
	} {
		if err := qti.Export(&bytes.Buffer{}, "", each(c.bank)); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: got %v, want an error that says %q", c.name, err, c.says)
		}
	}
}
