package banks_test

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rightpage/banks"
)

// smallBank draws a bank of made-up questions that differ in everything that a
// blueprint looks at. A few share a record, so that they are near-duplicates.
func smallBank(t *rapid.T, least, most int) []*banks.Question {
	n := rapid.IntRange(least, most).Draw(t, "size of the bank")
	records := rapid.IntRange(1, 3*n).Draw(t, "records")
	bank := make([]*banks.Question, n)
	for i := range bank {
		kind := rapid.SampledFrom([]string{"edition", "location", "group", "chase"}).Draw(t, "kind")
		q := &banks.Question{
			Catalog: "Small", Revision: "1", Kind: kind, Skill: map[string]string{"edition": "limits", "location": "places", "group": "places", "chase": "chases"}[kind],
			Form: banks.Typed, Stem: fmt.Sprint("question ", i), Key: banks.Key{Accept: []string{fmt.Sprint(i)}},
			Logit:    rapid.SampledFrom([]float64{-1, -0.6, 0, 0.3, 0.7, 1.2}).Draw(t, "logit"),
			Boundary: rapid.Bool().Draw(t, "boundary"),
			About: banks.About{
				Group:  rapid.SampledFrom([]string{"AA", "AB", "BA"}).Draw(t, "group"),
				Model:  rapid.SampledFrom([]string{"K10", "K20", "M30"}).Draw(t, "model"),
				Record: fmt.Sprint("procedure:", rapid.IntRange(1, records).Draw(t, "record")),
			},
		}
		q.About.Within = []string{q.About.Group[:1]}
		if rapid.Bool().Draw(t, "hazard") {
			q.Hazards = []string{rapid.SampledFrom([]string{"fuel", "lifting"}).Draw(t, "which")}
		}
		if _, err := banks.Encode(q); err != nil {
			t.Fatal(err)
		}
		bank[i] = q
	}
	return bank
}

// linesOf lists what a blueprint for these questions can count by.
func linesOf() []banks.Quota {
	var out []banks.Quota
	for by, names := range map[banks.Attribute]string{
		banks.KindAttribute: "edition location group chase", banks.SkillAttribute: "limits places chases",
		banks.DifficultyAttribute: "easy medium hard", banks.GroupAttribute: "A AA AB B", banks.ModelAttribute: "K* M30",
		banks.HazardAttribute: "fuel lifting any",
	} {
		for _, name := range strings.Fields(names) {
			out = append(out, banks.Quota{By: by, Of: name})
		}
	}
	out = append(out, banks.Quota{By: banks.BoundaryAttribute})
	slices.SortFunc(out, func(a, b banks.Quota) int { return strings.Compare(a.Name(), b.Name()) })
	return out
}

func covered(q *banks.Quota, in []*banks.Question) int {
	n := 0
	for _, x := range in {
		if q.Covers(x) {
			n++
		}
	}
	return n
}

// withoutDuplicates draws up to n questions of which no two are near-duplicates
// of one another, directly or by way of others of the bank.
func withoutDuplicates(t *rapid.T, bank []*banks.Question, n int) []*banks.Question {
	var out []*banks.Question
	taken := map[string]bool{}
	for _, i := range rapid.Permutation(indexes(len(bank))).Draw(t, "order") {
		if q := bank[i]; len(out) < n && !taken[q.About.Record] {
			taken[q.About.Record] = true
			out = append(out, q)
		}
	}
	return out
}

func indexes(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// A blueprint drawn from questions that are in the bank can be met, and then it
// is: every line to the question, in every variant, without near-duplicates.
func TestPossibleBlueprintIsMet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		bank := smallBank(t, 4, 60)
		model := withoutDuplicates(t, bank, rapid.IntRange(1, 20).Draw(t, "size of the form"))
		b := banks.NewBlueprint("", len(model))
		b.Seed = rapid.Uint64().Draw(t, "seed")
		b.Variants = rapid.IntRange(1, 3).Draw(t, "variants")
		b.Order = rapid.SampledFrom([]banks.Sequence{banks.Mixed, banks.ByKind, banks.EasyFirst}).Draw(t, "sequence")
		for _, q := range linesOf() {
			switch n := covered(&q, model); rapid.IntRange(0, 3).Draw(t, q.Name()) {
			case 0:
				continue
			case 1:
				q.Count = n
			case 2:
				q.Bound, q.Count = banks.AtLeast, max(0, n-1)
			case 3:
				q.Bound, q.Count = banks.AtMost, n
			}
			b.Quotas = append(b.Quotas, q)
		}
		f, r, err := banks.Assemble(bank, b, banks.AssembleOptions{})
		if err != nil {
			t.Fatalf("a form exists, but: %v", err)
		}
		if len(f.Variants) != b.Variants {
			t.Fatalf("%d variants instead of %d", len(f.Variants), b.Variants)
		}
		for _, v := range f.Variants {
			if len(v.Questions) != b.Questions {
				t.Fatalf("variant %s has %d questions instead of %d", v.Name, len(v.Questions), b.Questions)
			}
			for i, q := range b.Quotas {
				n := covered(&q, v.Questions)
				if n < r.Lines[i].Least || n > r.Lines[i].Most {
					t.Fatalf("variant %s: %s %s: has %d, the report asks for %d to %d", v.Name, q.Name(), q.Wants(), n, r.Lines[i].Least, r.Lines[i].Most)
				}
				if q.Bound == banks.Exactly && n != q.Count || q.Bound == banks.AtLeast && n < q.Count || q.Bound == banks.AtMost && n > q.Count {
					t.Fatalf("variant %s: %s %s: has %d", v.Name, q.Name(), q.Wants(), n)
				}
			}
			for i, x := range v.Questions {
				for _, y := range v.Questions[:i] {
					if x.ID == y.ID || banks.NearDuplicates(x, y) {
						t.Fatalf("variant %s holds near-duplicates %s and %s", v.Name, x.ID, y.ID)
					}
				}
			}
		}
	})
}

// bruteForce tries every form of a small bank and gives the least cost: two for
// each question by which a line is missed, one for each place left empty.
func bruteForce(bank []*banks.Question, r *banks.Report, n int) int {
	least := 1 << 30
	for set := range 1 << len(bank) {
		var in []*banks.Question
		records := map[string]bool{}
		for i, q := range bank {
			if set>>i&1 == 1 {
				in = append(in, q)
				records[q.About.Record] = true
			}
		}
		if len(in) > n || len(records) < len(in) {
			continue
		}
		cost := n - len(in)
		for i := range r.Lines {
			l := &r.Lines[i]
			k := covered(&l.Quota, in)
			cost += 2 * max(0, l.Least-k, k-l.Most)
		}
		least = min(least, cost)
	}
	return least
}

// For any blueprint at all, the form found is the nearest that there is, and
// the error says by how much it misses: compared with trying every form.
func TestNearestFormIsNearest(t *testing.T) {
	unproven := 0
	rapid.Check(t, func(t *rapid.T) {
		bank := smallBank(t, 2, 10)
		b := banks.NewBlueprint("", rapid.IntRange(1, 6).Draw(t, "questions"))
		b.Seed = rapid.Uint64().Draw(t, "seed")
		for _, q := range linesOf() {
			switch rapid.IntRange(0, 4).Draw(t, q.Name()) {
			case 0:
				q.Share = float64(rapid.IntRange(1, 5).Draw(t, "tenths")) / 10
			case 1:
				q.Count = rapid.IntRange(0, b.Questions).Draw(t, "count")
				q.Bound = rapid.SampledFrom([]banks.Bound{banks.Exactly, banks.AtLeast, banks.AtMost}).Draw(t, "bound")
			default:
				continue
			}
			b.Quotas = append(b.Quotas, q)
		}
		if b.Check() != nil {
			t.Skip("the shares exceed the whole")
		}
		f, r, err := banks.Assemble(bank, b, banks.AssembleOptions{Nearest: true})
		least := bruteForce(bank, &r, b.Questions)
		var impossible *banks.ImpossibleError
		switch {
		case err == nil && least > 0:
			t.Fatalf("a form was found, but none can be: the nearest is off by %d", least)
		case err == nil:
			return
		case !errors.As(err, &impossible):
			t.Fatal(err)
		}
		var in []*banks.Question
		if f != nil {
			in = f.Variants[0].Questions
		}
		cost := b.Questions - len(in)
		named := map[string]bool{}
		for _, l := range impossible.Lines {
			named[l.Quota.Name()] = true
			if l.Quota.By != "" && l.Taken != covered(&l.Quota, in) {
				t.Fatalf("%s: the error says %d, the form has %d", l.Quota.Name(), l.Taken, covered(&l.Quota, in))
			}
		}
		for i := range r.Lines {
			l := &r.Lines[i]
			k := covered(&l.Quota, in)
			miss := max(0, l.Least-k, k-l.Most)
			cost += 2 * miss
			if miss > 0 && !named[l.Quota.Name()] {
				t.Fatalf("%s is missed by %d, but the error does not say so: %v", l.Quota.Name(), miss, err)
			}
		}
		if !impossible.Proven {
			unproven++
		}
		if least == 0 {
			t.Fatalf("a form exists, but: %v", err)
		}
		if impossible.Proven && cost != least {
			t.Fatalf("the form is off by %d, the nearest by %d: %v", cost, least, err)
		}
		// Lines that contradict one another do so without the others.
		if len(impossible.Together) > 0 {
			b.Quotas = nil
			for _, q := range impossible.Together {
				for _, l := range r.Lines { // the number, lest the shares be rounded anew
					if l.Quota.Name() == q.Name() && l.Quota.Bound == q.Bound {
						q.Share, q.Count = 0, l.Least
						if q.Bound == banks.AtMost {
							q.Count = l.Most
						}
					}
				}
				b.Quotas = append(b.Quotas, q)
			}
			if _, _, err := banks.Assemble(bank, b, banks.AssembleOptions{}); err == nil {
				t.Fatalf("%v can be met together", impossible.Together)
			}
		}
	})
	if unproven > 0 {
		t.Errorf("%d answers were not proven", unproven)
	}
}

// A blueprint of all attributes at once, on questions of the demo catalog.
const springBlueprint = `
title: Limits and places, spring
questions: 40
variants: 3
shares:
  kind: {edition: 30%, location: 20%, chase: 10%}
  difficulty: {easy: 25%, medium: 35%, hard: 40%}
  group: {P: at least 20%, Q: 5}
  model: {"*C*": at most 50%}
  hazard: {lifting: 15%, fuel: at least 2}
  boundary: 35%
`

func parseBlueprint(tb testing.TB, text string) banks.Blueprint {
	tb.Helper()
	b, err := banks.ParseBlueprint([]byte(text))
	if err != nil {
		tb.Fatal(err)
	}
	return b
}

func TestVariantsAreAlike(t *testing.T) {
	f, r, err := banks.Assemble(demoBank(t), parseBlueprint(t, springBlueprint), banks.AssembleOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range r.Lines {
		for v, n := range l.Taken {
			if n < l.Least || n > l.Most {
				t.Errorf("variant %d: %s %s: %d", v, l.Quota.Name(), l.Quota.Wants(), n)
			}
		}
	}
	// Weights are given to a tenth of a logit; over forty questions the means
	// can be brought to within half of that divided by forty.
	if r.Imbalance > 0.05/40+1e-9 {
		t.Errorf("the variants differ by %v logits from their mean", r.Imbalance)
	}
	if r.Shared > 0 {
		t.Errorf("%d questions stand in several variants of 120, of a bank of %d", r.Shared, r.Eligible)
	}
	if a, b := f.Variants[0].Questions[0].ID, f.Variants[1].Questions[0].ID; a == b {
		t.Errorf("variants A and B begin with the same question")
	}
}

func TestAssemblyIsRepeatable(t *testing.T) {
	bank, b := demoBank(t), parseBlueprint(t, springBlueprint)
	var first []byte
	for range 2 {
		f, _, err := banks.Assemble(bank, b, banks.AssembleOptions{Seed: 5})
		if err != nil {
			t.Fatal(err)
		}
		text, err := banks.EncodeForm(f)
		if err != nil {
			t.Fatal(err)
		}
		if first != nil && !bytes.Equal(first, text) {
			t.Error("the same bank, blueprint and seed give different forms")
		}
		first = text
	}
	f, _, err := banks.Assemble(bank, b, banks.AssembleOptions{Seed: 6})
	if err != nil {
		t.Fatal(err)
	}
	if other, _ := banks.EncodeForm(f); bytes.Equal(first, other) {
		t.Error("another seed gives the same form")
	}
}

func TestLeastExposedQuestionsGoFirst(t *testing.T) {
	bank := demoBank(t)
	b := banks.NewBlueprint("", 30)
	exposure := map[string]int{}
	for i, q := range bank {
		exposure[q.ID] = 1 + i%3 // 1, 2 or 3
	}
	f, _, err := banks.Assemble(bank, b, banks.AssembleOptions{Exposure: exposure})
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range f.Variants[0].Questions {
		if exposure[q.ID] > 1 {
			t.Errorf("%s was given %d times before, though there are enough that were given once", q.ID, exposure[q.ID])
		}
	}
	_, r, err := banks.Assemble(bank, b, banks.AssembleOptions{Exposure: exposure, MaxExposure: 3})
	if err != nil {
		t.Fatal(err)
	}
	if want := len(bank) / 3; r.Overexposed != want {
		t.Errorf("%d questions left out for having been given 3 times, want %d", r.Overexposed, want)
	}
}

func TestVariantsShareOnlyWhatTheyMust(t *testing.T) {
	bank := demoBank(t)[:0:0]
	for i, q := range demoBank(t) {
		if i%4 == 0 {
			bank = append(bank, q)
		}
	}
	b := banks.NewBlueprint("", 30)
	b.Variants = 2
	// A bank of 40 that hold no near-duplicates: two forms of 30 must share 20.
	var some []*banks.Question
	for _, q := range bank {
		if len(some) < 40 && !slices.ContainsFunc(some, func(x *banks.Question) bool { return banks.NearDuplicates(x, q) }) {
			some = append(some, q)
		}
	}
	_, r, err := banks.Assemble(some, b, banks.AssembleOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if r.Shared != 20 {
		t.Errorf("two forms of 30 from a bank of 40 share %d questions, want 20", r.Shared)
	}
}

func TestOrders(t *testing.T) {
	bank := demoBank(t)
	b := parseBlueprint(t, "questions: 24\norder: by kind\nshares: {kind: {location: 8, edition: 8, chase: 8}}")
	f, _, err := banks.Assemble(bank, b, banks.AssembleOptions{})
	if err != nil {
		t.Fatal(err)
	}
	var kinds []string
	for i, q := range f.Variants[0].Questions {
		kinds = append(kinds, q.Kind)
		if i > 0 && f.Variants[0].Questions[i-1].Kind == q.Kind && f.Variants[0].Questions[i-1].Logit > q.Logit+1e-6 {
			t.Errorf("question %d is harder than the next of its kind", i)
		}
	}
	if diff := cmp.Diff([]string{"location", "edition", "chase"}, slices.Compact(kinds)); diff != "" {
		t.Errorf("kinds stand in another order than in the blueprint:\n%s", diff)
	}
	b.Order = banks.EasyFirst
	if f, _, err = banks.Assemble(bank, b, banks.AssembleOptions{}); err != nil {
		t.Fatal(err)
	}
	for i, q := range f.Variants[0].Questions {
		if i > 0 && f.Variants[0].Questions[i-1].Logit > q.Logit+1e-6 {
			t.Errorf("question %d is harder than the next", i)
		}
	}
}

func TestImpossibleBlueprintSaysWhy(t *testing.T) {
	bank := demoBank(t)
	var few []*banks.Question // 3 chases, and others
	chases := 0
	for _, q := range bank[:900] {
		if q.Kind == "chase" {
			if chases == 3 {
				continue
			}
			chases++
		}
		few = append(few, q)
	}
	tests := []struct {
		name, blueprint string
		says            []string
	}{
		{"too few of a kind", "questions: 20\nshares:\n  kind:\n    chase: 50%", []string{
			"line 4: kind chase: 10 wanted (50%), the bank has 3 that can stand in one form: 7 too few"}},
		{"a kind that is not there", "questions: 20\nshares:\n  kind:\n    tea: 2", []string{
			"line 4: kind tea: 2 wanted, the bank has 0 that can stand in one form: 2 too few"}},
		{"two lines at once", "questions: 20\nshares:\n  kind:\n    chase: 4\n  group:\n    ZZ: at least 1", []string{
			"line 4: kind chase: 4 wanted, the bank has 3 that can stand in one form: 1 too few",
			"line 6: group ZZ: at least 1 wanted, the bank has 0 that can stand in one form: 1 too few"}},
		{"lines that exclude each other", "questions: 10\nshares:\n  kind: {job-class: 100%}\n  difficulty: {hard: 6}", []string{
			"each of these can be met, but not together: line 3: kind job-class 100%; line 4: difficulty hard 6"}},
		// Large programs are given up in time; what a line lacks by itself is
		// certain all the same.
		{"a long form", strings.Replace(strings.Replace(springBlueprint, "questions: 40", "questions: 600", 1), "chase: 10%", "chase: 50%", 1), []string{
			"kind chase: 300 wanted (50%), the bank has 3 that can stand in one form: 297 too few"}},
		{"more than there are", "questions: 1000", []string{"that are no near-duplicates of one another: "}},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			f, _, err := banks.Assemble(few, parseBlueprint(t, c.blueprint), banks.AssembleOptions{})
			var impossible *banks.ImpossibleError
			if f != nil || !errors.As(err, &impossible) {
				t.Fatalf("got form %v and error %v, want an ImpossibleError", f != nil, err)
			}
			if !impossible.Proven && c.name != "a long form" {
				t.Error("not proven")
			}
			for _, s := range c.says {
				if !strings.Contains(err.Error(), s) {
					t.Errorf("the error does not say %q:\n%v", s, err)
				}
			}
		})
	}
}

func TestAssembleRefusesMixedBanks(t *testing.T) {
	bank := slices.Clone(demoBank(t)[:10])
	q := *bank[3]
	q.Revision = "another"
	bank[3] = &q
	if _, _, err := banks.Assemble(bank, banks.NewBlueprint("", 5), banks.AssembleOptions{}); err == nil || !strings.Contains(err.Error(), "another") {
		t.Errorf("a bank of two revisions is taken: %v", err)
	}
	if _, _, err := banks.Assemble(nil, banks.NewBlueprint("", 5), banks.AssembleOptions{}); err == nil {
		t.Error("an empty bank is taken")
	}
}

func TestOptionsOfABlueprintBoundThoseOfQuestions(t *testing.T) {
	b := banks.NewBlueprint("", 20)
	b.Options = 3
	f, r, err := banks.Assemble(demoBank(t), b, banks.AssembleOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if r.TooManyOptions == 0 {
		t.Error("no question was left out")
	}
	for _, q := range f.Variants[0].Questions {
		if q.Form == banks.OneOf && len(q.Options) > 3 {
			t.Errorf("%s has %d options", q.ID, len(q.Options))
		}
	}
}
