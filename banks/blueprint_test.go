package banks_test

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rightpage/banks"
	"rightpage/banks/kinds"
)

func TestParseBlueprint(t *testing.T) {
	got := parseBlueprint(t, `
# Everything that a blueprint can say.
title: "Editions: spring"
questions: 20
options: 5
seed: 18446744073709551615
time_limit: 1h 30m
cut: 72.5%
book: closed
order: by kind
partial_credit: no
variants: 2
shares:
  kind:
    edition: 30%
    location: 5
  skill:
  difficulty: {easy: 25 %, hard: at most 12.5%}
  group: {B: at least 20%}
  model: {"K4*;!K42": At Most 3}
  hazard: {any: 50%, lifting: at least 2}
  boundary: 0
`)
	want := banks.Blueprint{
		Title: "Editions: spring", Questions: 20, Options: 5, Seed: math.MaxUint64, TimeLimit: 90, Cut: 0.725,
		Book: banks.ClosedBook, Order: banks.ByKind, Variants: 2,
		Quotas: []banks.Quota{
			{By: "kind", Of: "edition", Share: 0.3, Line: 15}, {By: "kind", Of: "location", Count: 5, Line: 16},
			{By: "difficulty", Of: "easy", Share: 0.25, Line: 18}, {By: "difficulty", Of: "hard", Bound: banks.AtMost, Share: 0.125, Line: 18},
			{By: "group", Of: "B", Bound: banks.AtLeast, Share: 0.2, Line: 19},
			{By: "model", Of: "K4*;!K42", Bound: banks.AtMost, Count: 3, Line: 20},
			{By: "hazard", Of: "any", Share: 0.5, Line: 21}, {By: "hazard", Of: "lifting", Bound: banks.AtLeast, Count: 2, Line: 21},
			{By: "boundary", Line: 22},
		},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	least := parseBlueprint(t, "questions: 7")
	if diff := cmp.Diff(banks.NewBlueprint("", 7), least); diff != "" {
		t.Errorf("what is left out has not its usual value:\n%s", diff)
	}
}

func TestBlueprintErrorsNameLineAndCure(t *testing.T) {
	tests := []struct {
		name, text string
		says       []string
	}{
		{"empty", "", []string{"blueprint: the file is empty; write at least: questions: 20"}},
		{"not YAML", "questions: 20\nshares: [", []string{"blueprint line 2: this is not well-formed YAML"}},
		{"no settings", "- 20", []string{"blueprint line 1: a blueprint is a list of settings"}},
		{"two documents", "questions: 3\n---\nquestions: 4", []string{"more than one document"}},
		{"no number of questions", "title: x", []string{"blueprint: questions is missing; write for example: questions: 20"}},
		{"unknown setting", "questions: 3\nquestion: 4", []string{`blueprint line 2: there is no setting "question"; the settings are title, questions`}},
		{"twice", "questions: 3\nquestions: 4", []string{"blueprint line 2: questions is given twice; keep one of the two (the other stands in line 1)"}},
		{"number in words", "questions: ten", []string{`blueprint line 1: questions is "ten"; write a whole number`}},
		{"too many", "questions: 20\nvariants: 50", []string{"blueprint line 2: variants is 50; write a number from 1 to 26"}},
		{"no questions", "\nquestions: 0", []string{"blueprint line 2: questions is 0"}},
		{"time without unit", "questions: 3\ntime_limit: 45", []string{`blueprint line 2: the time limit is "45"; write a time such as 45m`}},
		{"time too long", "questions: 3\ntime_limit: 100h", []string{"blueprint line 2: the time limit is 6000 minutes"}},
		{"cut in points", "questions: 3\ncut: 80", []string{`blueprint line 2: the cut is "80"; write a share of the points such as 80% or 0.8`}},
		{"book", "questions: 3\nbook: ajar", []string{`blueprint line 2: book is "ajar"; write open or closed`}},
		{"order", "questions: 3\norder: random", []string{`blueprint line 2: order is "random"; write mixed, by kind or easy first`}},
		{"partial credit", "questions: 3\npartial_credit: maybe", []string{`blueprint line 2: partial credit is "maybe"`}},
		{"options", "questions: 3\noptions: 2", []string{"blueprint line 2: options is 2; write a number from 3 to 8"}},
		{"attribute", "questions: 3\nshares: {colour: {red: 1}}", []string{`blueprint line 2: there are no shares by "colour"; shares can be by kind, skill,`}},
		{"share in words", "questions: 3\nshares:\n  kind:\n    edition: half", []string{`blueprint line 4: kind edition: "half" is no share; write a share such as 30%, or a number of questions`}},
		{"share as fraction", "questions: 3\nshares: {kind: {edition: 0.5}}", []string{`"0.5" is neither a share nor a number of questions`}},
		{"more than the whole", "questions: 3\nshares: {kind: {edition: 120%}}", []string{"kind edition: 120% is more than the whole"}},
		{"sum of shares", "questions: 10\nshares:\n  kind:\n    edition: 60%\n    location: 5\n", []string{"blueprint line 5: the shares by kind come to 110% with this line; lower one of the shares"}},
		{"count", "questions: 10\nshares: {group: {B: 11}}", []string{"group B: 11 questions of 10; write a number from 0 to 10"}},
		{"difficulty", "questions: 10\nshares: {difficulty: {tough: 2}}", []string{`there is no difficulty "tough"; write easy, medium or hard`}},
		{"quota twice", "questions: 10\nshares:\n  group:\n    B: 2\n    B: 3", []string{"blueprint line 5: B is given twice"}},
		{"alias", "questions: &n 10\noptions: *n", []string{"anchors and aliases are not read; write the value out"}},
		{"list for a value", "questions: [1]", []string{"questions holds a list or several settings"}},
		{"all at once", "questions: x\nbook: ajar\nshares: {kind: {edition: half}, colour: {}}", []string{"line 1: questions", "line 3: kind edition", "line 3: there are no shares"}},
		{"too long", strings.Repeat("# nothing\n", 1<<16), []string{"the file has more than"}},
		{"not text", "title: \xff", []string{"the text is not UTF-8"}},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			_, err := banks.ParseBlueprint([]byte(c.text))
			var e *banks.BlueprintError
			if !errors.As(err, &e) {
				t.Fatalf("got %v, want a BlueprintError", err)
			}
			for _, s := range c.says {
				if !strings.Contains(err.Error(), s) {
					t.Errorf("the error does not say %q:\n%v", s, err)
				}
			}
		})
	}
}

// What a line asks for is told by the report of the form.
func asksFor(tb testing.TB, text string) []int {
	tb.Helper()
	_, r, _ := banks.Assemble(demoBank(tb), parseBlueprint(tb, text), banks.AssembleOptions{})
	var out []int
	for _, l := range r.Lines {
		if l.Quota.Bound == banks.AtMost {
			out = append(out, l.Most)
		} else {
			out = append(out, l.Least)
		}
	}
	return out
}

func TestSharesAreRoundedByLargestRemainder(t *testing.T) {
	tests := []struct {
		name, text string
		want       []int
	}{
		{"nothing to round", "questions: 10\nshares: {kind: {edition: 30%, location: 70%}}", []int{3, 7}},
		{"thirds, the earlier line first", "questions: 10\nshares: {kind: {edition: 33.3%, location: 33.3%, chase: 33.4%}}", []int{3, 3, 4}},
		// Ten seats at 41.6, 35.5 and 22.9 in a hundred: 4.16, 3.55 and 2.29
		// round down to 4, 3, 2; the largest remainder is .55. Worked by hand.
		{"one left over", "questions: 10\nshares: {kind: {edition: 41.6%, location: 35.5%, chase: 22.9%}}", []int{4, 4, 2}},
		{"less than the whole", "questions: 10\nshares: {kind: {edition: 25%, location: 25%}}", []int{3, 2}},
		{"hazards one by one, halves up", "questions: 10\nshares: {hazard: {lifting: 25%, any: 45%}}", []int{3, 5}},
		{"groups within each other one by one", "questions: 10\nshares: {group: {P: 25%, PA: 25%}}", []int{3, 3}},
		{"at least up, at most down", "questions: 10\nshares: {group: {P: at least 21%}, model: {\"*\": at most 99%}}", []int{3, 9}},
		{"a number as it is", "questions: 10\nshares: {kind: {edition: 3}}", []int{3}},
		{"binary fractions", "questions: 100\nshares: {kind: {edition: 29%, location: 57%, chase: 14%}}", []int{29, 57, 14}},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			if got := asksFor(t, c.text); !slices.Equal(got, c.want) {
				t.Errorf("got %v, want %v", got, c.want)
			}
		})
	}
}

// Largest remainder keeps to the quota: each line gets its exact share rounded
// up or down, and shares of the whole add up to the whole.
func TestRoundingKeepsToTheQuota(t *testing.T) {
	bank := demoBank(t)
	names := []string{"edition", "location", "chase", "publication", "group", "fitted"}
	rapid.Check(t, func(t *rapid.T) {
		b := banks.NewBlueprint("", rapid.IntRange(1, 60).Draw(t, "questions"))
		left := 1000
		for i, name := range names {
			n := left
			if i < len(names)-1 {
				n = rapid.IntRange(0, left).Draw(t, name)
			}
			left -= n
			if n > 0 {
				b.Quotas = append(b.Quotas, banks.Quota{By: banks.KindAttribute, Of: name, Share: float64(n) / 1000})
			}
		}
		_, r, _ := banks.Assemble(bank, b, banks.AssembleOptions{})
		sum := 0
		for _, l := range r.Lines {
			exact := l.Quota.Share * float64(b.Questions)
			if float64(l.Least) < math.Floor(exact-1e-6) || float64(l.Least) > math.Ceil(exact+1e-6) {
				t.Errorf("%s: %v questions become %d", l.Quota.Name(), exact, l.Least)
			}
			sum += l.Least
		}
		if sum != b.Questions {
			t.Errorf("shares of the whole come to %d of %d", sum, b.Questions)
		}
	})
}

func TestGroupLinesCoverTheGroupsBelow(t *testing.T) {
	q := banks.Question{About: banks.About{Group: "PA", Within: []string{"P"}}}
	for of, want := range map[string]bool{"PA": true, "P": true, "PB": false, "A": false, "": false} {
		line := banks.Quota{By: banks.GroupAttribute, Of: of}
		if got := line.Covers(&q); got != want {
			t.Errorf("group %q covers a question about PA within P: %v", of, got)
		}
	}
	found := false
	for _, q := range demoBank(t) {
		if len(q.About.Group) == 2 && !slices.Equal(q.About.Within, []string{q.About.Group[:1]}) {
			t.Fatalf("the groups above %s are given as %v", q.About.Group, q.About.Within)
		}
		found = found || q.About.Group != ""
	}
	if !found {
		t.Error("no question is about a group")
	}
}

func TestBandsMeetAtTheirLimits(t *testing.T) {
	for logit, want := range map[float64]banks.DifficultyBand{
		-3: banks.Easy, -0.51: banks.Easy, -0.5: banks.Medium, 0: banks.Medium,
		0.5: banks.Medium, 0.51: banks.Hard, 4: banks.Hard,
	} {
		if got := banks.BandOf(logit); got != want {
			t.Errorf("%v is %s, want %s", logit, got, want)
		}
	}
}

func TestEvenBlueprint(t *testing.T) {
	bank := demoBank(t)
	b := banks.EvenBlueprint("Even", 40, bank)
	if err := b.Check(); err != nil {
		t.Fatal(err)
	}
	f, _, err := banks.Assemble(bank, b, banks.AssembleOptions{})
	if err != nil {
		t.Fatal(err)
	}
	count := map[string]int{}
	for _, q := range f.Variants[0].Questions {
		count[q.Kind]++
	}
	all := map[string]int{}
	for _, q := range bank {
		all[q.Kind]++
	}
	for kind := range all {
		if least := 40 / len(all); count[kind] < least || count[kind] > least+1 {
			t.Errorf("%d questions of %s, want %d or one more", count[kind], kind, least)
		}
	}
	// A kind of which there are too few gives what it has.
	one := bank[:0:0]
	chases := 0
	for _, q := range bank {
		if q.Kind == "chase" {
			if chases++; chases > 1 {
				continue
			}
		}
		one = append(one, q)
	}
	b = banks.EvenBlueprint("Even", 40, one)
	if _, _, err := banks.Assemble(one, b, banks.AssembleOptions{}); err != nil {
		t.Errorf("with one chase: %v", err)
	}
}

func TestShareOfMakesABankThatMeetsTheBlueprint(t *testing.T) {
	all := kinds.All()
	share := func(text string) map[string]float64 {
		b := parseBlueprint(t, text)
		shares, err := banks.ShareOf(&b, all)
		if err != nil {
			t.Fatal(err)
		}
		out := map[string]float64{}
		var sum float64
		for _, s := range shares {
			sum += s.Weight
			if s.Weight < 0 {
				t.Errorf("the share of %s is %v", s.Kind.Name, s.Weight)
			}
		}
		for _, s := range shares {
			out[s.Kind.Name] = s.Weight / sum
		}
		return out
	}
	near := func(got, want float64) bool { return math.Abs(got-want) < 2e-3 }
	if got := share("questions: 10"); !near(got["chase"], 1/float64(len(all))) {
		t.Errorf("without shares a kind gets %v", got["chase"])
	}
	got := share("questions: 10\nshares: {kind: {edition: 50%, chase: 2}}")
	if !near(got["edition"], 0.5) || !near(got["chase"], 0.2) || !near(got["location"], 0.3/float64(len(all)-2)) {
		t.Errorf("edition 50%% and chase 2 of 10 give %v", got)
	}
	got = share("questions: 10\nshares: {kind: {edition: 60%, location: 40%}}")
	if got["chase"] != 0 || !near(got["edition"], 0.6) {
		t.Errorf("where the shares make up the whole the others get %v", got)
	}
	got = share("questions: 10\nshares: {skill: {editions: 70%}, kind: {chase: at most 10%}}")
	if !near(got["edition"], 0.7) || got["chase"] > 0.1 {
		t.Errorf("by skill: %v", got)
	}
	b := parseBlueprint(t, "questions: 10\nshares:\n  kind: {editon: 2}\n  skill: {tea: 1}")
	if _, err := banks.ShareOf(&b, all); err == nil || !strings.Contains(err.Error(), "line 3: there is no kind editon; write one of job-class") || !strings.Contains(err.Error(), "line 4: there is no skill tea") {
		t.Errorf("unknown kind and skill: %v", err)
	}
}

func FuzzBlueprint(f *testing.F) {
	f.Add([]byte(springBlueprint))
	f.Add([]byte("questions: 3\nshares: {kind: {edition: at least 1, x: 2}}\n"))
	f.Add([]byte("questions: &a [*a]"))
	f.Fuzz(func(t *testing.T, text []byte) {
		b, err := banks.ParseBlueprint(text)
		if err == nil {
			err = b.Check()
			if err != nil {
				t.Errorf("a blueprint was read that is wrong: %v", err)
			}
			return
		}
		var e *banks.BlueprintError
		if !errors.As(err, &e) || len(e.Faults) == 0 {
			t.Fatalf("not a BlueprintError: %v", err)
		}
		for _, f := range e.Faults {
			if f.What == "" || f.Mend == "" {
				t.Errorf("a fault without %+v", f)
			}
		}
	})
}
