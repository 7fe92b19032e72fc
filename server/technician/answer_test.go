package technician

import (
	"context"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
	"rightpage/grading"
	"rightpage/quiz/marking"
)

// What the fields of a page hold is written so that package grading reads it:
// the key of every kind of question, put into the fields and read from them,
// is right.
func TestTheKeyFilledInIsRight(t *testing.T) {
	c, err := catalog.Load("../../testdata/tarnfell/2026-1")
	if err != nil {
		t.Fatal(err)
	}
	forms := map[banks.Form]int{}
	_, err = banks.Generate(context.Background(), banks.NewSource(resolver.New(c)), banks.Plan{Seed: 7, Size: 600, Shares: kinds.Equal()}, func(q *banks.Question, _ []byte) bool {
		forms[q.Form]++
		ask, key := marking.AskOf(q, 1), grading.KeyAnswer(q)
		value := entryOf(ask, key).value(q.Form)
		s, err := grading.Grade(q, value, grading.Rules{})
		if err != nil || s.Verdict != grading.Right {
			t.Errorf("%s: the key %q became %q: %s, %v", q.Form, key, value, s.Verdict, err)
		}
		if len(said(ask, value)) == 0 {
			t.Errorf("%s: %q is not said", q.Form, value)
		}
		return true
	})
	if err != nil || len(forms) < 4 {
		t.Errorf("forms %v, %v", forms, err)
	}
}

// An answer that was saved comes back into the fields as it was.
func TestAnswersSurviveThePage(t *testing.T) {
	text := rapid.StringMatching(`[A-Za-z0-9 .,/½·°%-]{0,20}`)
	rapid.Check(t, func(t *rapid.T) {
		form := rapid.SampledFrom(banks.Forms()).Draw(t, "form")
		n := rapid.IntRange(2, 6).Draw(t, "options")
		ask := marking.Ask{Form: form}
		e := Entry{Marks: make([]bool, n), Places: make([]int, n)}
		for range n {
			ask.Options = append(ask.Options, "x")
		}
		switch form {
		case banks.OneOf:
			e.Marks[rapid.IntRange(0, n-1).Draw(t, "mark")] = true
		case banks.SomeOf:
			for i := range n {
				e.Marks[i] = rapid.Bool().Draw(t, "mark")
			}
		case banks.Ordered:
			for i := range n {
				e.Places[i] = i + 1
			}
			e.Places = rapid.Permutation(e.Places).Draw(t, "order")
		case banks.Number:
			e.Number = rapid.SampledFrom([]string{"12", "1 500", "12.5", "−3,5", "1 1/2", "5-6", ""}).Draw(t, "number")
			e.Unit = rapid.SampledFrom([]string{"", "mm", "US gal", "N·m", "°C", "%"}).Draw(t, "unit")
		case banks.Chase:
			ask.Options = nil
			for range n {
				ask.Steps = append(ask.Steps, marking.AskStep{Ask: "?"})
				e.Steps = append(e.Steps, strings.TrimSpace(text.Draw(t, "step")))
			}
		default:
			e.Text = strings.TrimSpace(text.Draw(t, "text"))
		}
		value := e.value(form)
		if again := entryOf(ask, value).value(form); again != value {
			t.Fatalf("%s: %q came back as %q", form, value, again)
		}
	})
}

func TestANumberIsPartedFromItsUnit(t *testing.T) {
	for in, want := range map[string][2]string{
		"12 mm": {"12", "mm"}, "1 500 N·m": {"1 500", "N·m"}, "12": {"12", ""}, "1 1/2 in": {"1 1/2", "in"}, "5 US gal": {"5", "US gal"},
		"−3,5 °C": {"−3,5", "°C"}, "5 to 6 bar": {"5 to 6", "bar"}, "mm": {"mm", ""}, "": {"", ""}, "½ in": {"½", "in"},
	} {
		if n, u := splitQuantity(in); n != want[0] || u != want[1] {
			t.Errorf("%q: %q and %q", in, n, u)
		}
	}
}
