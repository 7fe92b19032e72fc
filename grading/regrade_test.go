package grading

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
)

// twoRevisions is a catalog in two revisions, with questions made from the
// first.
func twoRevisions(t *testing.T, before, after string, size int) (old, fresh *resolver.Resolver, bank []*banks.Question) {
	t.Helper()
	load := func(path string) *resolver.Resolver {
		c, err := catalog.Load("../testdata/" + path)
		if err != nil {
			t.Fatal(err)
		}
		return resolver.New(c)
	}
	old, fresh = load(before), load(after)
	_, err := banks.Generate(context.Background(), banks.NewSource(old), banks.Plan{Seed: 5, Size: size, Shares: kinds.Equal()}, func(q *banks.Question, _ []byte) bool {
		bank = append(bank, q)
		return true
	})
	if err != nil {
		t.Fatal(err)
	}
	return old, fresh, bank
}

// By its own revision no question changes.
func TestOwnRevisionChangesNothing(t *testing.T) {
	for _, d := range demos(t) {
		change := Revision(d.src.R)
		for _, q := range d.bank {
			if _, listed := kindReadings(q.Kind); !listed {
				continue
			}
			if c := change(q); c.Outcome != Unchanged || c.Why != "" {
				t.Errorf("%s %s: %s: %s", q.ID, q.Kind, c.Outcome, c.Why)
			}
		}
	}
}

// What a new revision means for a bank: the key changes exactly where the two
// revisions answer the question's query differently; the question with its new
// key is sound, and the old key is no longer right.
func TestRevision(t *testing.T) {
	outcomes := map[Outcome]int{}
	for _, path := range [][2]string{{"tarnfell/2025-1", "tarnfell/2026-1"}, {"quillan", "quillan-next"}} {
		old, fresh, bank := twoRevisions(t, path[0], path[1], 1500)
		change := Revision(fresh)
		for _, q := range bank {
			c := change(q)
			outcomes[c.Outcome]++
			name := fmt.Sprintf("%s %s %s", q.ID, q.Kind, q.Form)
			if c.OldKey != q.KeyText() || (c.Outcome == Unchanged) != (c.Why == "") {
				t.Errorf("%s: %+v", name, c)
			}
			// Jobs: the place in the two revisions, found without this package.
			if q.Query.Task == resolver.JobTask && (q.Kind == "chase" || q.Kind == "location") {
				before, _ := old.Explain(&q.Query, resolver.Break{})
				after, _ := fresh.Explain(&q.Query, resolver.Break{})
				same := old.Report(&q.Query, before, nil).Statement == fresh.Report(&q.Query, after, nil).Statement
				if !same && c.Outcome == Unchanged {
					t.Errorf("%s: unchanged, but the place is another", name)
				}
				if same && q.Kind == "location" && c.Outcome != Unchanged {
					t.Errorf("%s: %s, but the place is the same: %s", name, c.Outcome, c.Why)
				}
			}
			if c.Outcome != KeyChanged {
				if c.New != nil || c.NewKey != "" {
					t.Errorf("%s: %s, with the key %s", name, c.Outcome, c.NewKey)
				}
				continue
			}
			if c.New.ID == q.ID || c.NewKey == c.OldKey || c.New.Revision != fresh.Catalog().Meta().Revision {
				t.Errorf("%s: the question with its new key is %s, revision %s, key %s", name, c.New.ID, c.New.Revision, c.NewKey)
			}
			if _, f, _, err := lookUp(fresh, c.New); err != nil || !f.agrees(c.New) {
				t.Errorf("%s: the new key is not what the revision gives (%v)", name, err)
			}
			if s, err := Grade(c.New, KeyAnswer(c.New), Rules{}); err != nil || s.Verdict != Right {
				t.Errorf("%s: the new key scores %+v (%v)", name, s, err)
			}
			if s, err := Grade(c.New, KeyAnswer(q), Rules{}); err == nil && s.Points == 1 {
				t.Errorf("%s: the old key %s still scores in full beside %s", name, KeyAnswer(q), c.NewKey)
			}
			for a, slip := range SlipAnswers(c.New) {
				if s, err := Grade(c.New, a, Rules{}); slip != resolver.NoSlip && (err == nil && s.Points == 1) {
					t.Errorf("%s: the slip %q scores in full", name, a)
				}
			}
		}
	}
	t.Log(outcomes)
	for _, o := range []Outcome{Unchanged, KeyChanged, Void} {
		if outcomes[o] < 3 {
			t.Errorf("%d questions are %s: too few to say anything", outcomes[o], o)
		}
	}
}

// A correction that the demonstration catalogs are known to hold (testdata:
// king pin clearance, cranking current) shows in the keys.
func TestKnownCorrections(t *testing.T) {
	for _, c := range []struct{ before, after, oldKey, newKey string }{
		{"tarnfell/2025-1", "tarnfell/2025-2", "at most 0.5 mm", "at most 0.45 mm"},
		{"quillan", "quillan-next", "800 A", "850 A"},
	} {
		old, fresh, _ := twoRevisions(t, c.before, c.after, 1)
		kind, _ := kinds.Find("specification")
		seen := false
		_, err := banks.Generate(context.Background(), banks.NewSource(old), banks.Plan{Seed: 1, Size: 4000, Shares: []banks.Share{{Kind: &kind, Weight: 1}}}, func(q *banks.Question, _ []byte) bool {
			ch := Revision(fresh)(q)
			seen = seen || ch.Outcome == KeyChanged && ch.OldKey == c.oldKey && ch.NewKey == c.newKey
			return !seen
		})
		if err != nil || !seen {
			t.Errorf("%s → %s: no question whose key changes from %s to %s (%v)", c.before, c.after, c.oldKey, c.newKey, err)
		}
	}
}

// answersOf answers a bank as four people do: one who knows the key, one who
// makes slips, one who leaves blanks, and one who works by the new revision.
func answersOf(bank []*banks.Question, change Change) []Response {
	var out []Response
	for i, q := range bank {
		slips := []string{KeyAnswer(q)}
		for a := range SlipAnswers(q) {
			slips = append(slips, a)
		}
		slices.Sort(slips)
		newer := KeyAnswer(q)
		if c := change(q); c.New != nil {
			newer = KeyAnswer(c.New)
		}
		for _, p := range []struct{ person, given string }{{"Ann", KeyAnswer(q)}, {"Bo", slips[i%len(slips)]}, {"Cy", ""}, {"Di", newer}} {
			s, err := Grade(q, p.given, Rules{})
			if err != nil {
				continue
			}
			out = append(out, Response{Ref: fmt.Sprintf("%s/%d", p.person, i), Person: p.person, Question: q, Given: p.given, Score: s})
		}
	}
	return out
}

// Regrading accounts for every response, keeps the old scores, and says why.
func TestRegradeByRevision(t *testing.T) {
	_, fresh, bank := twoRevisions(t, "tarnfell/2025-1", "tarnfell/2026-1", 1500)
	change := Revision(fresh)
	responses := answersOf(bank, change)
	for _, opt := range []RegradeOptions{{}, {Remedy: Either}, {Void: Credit}, {Rules: Rules{AllOrNothing: true}}} {
		rep := Regrade(responses, change, "revision 2026-1 of the catalog", opt)
		if rep.Examined != len(responses) || rep.Unaffected+rep.Same+rep.Kept+rep.Undecided+len(rep.Responses) != rep.Examined || len(rep.Open) != rep.Undecided {
			t.Fatalf("%+v: %d examined, %d unaffected, %d same, %d kept, %d undecided, %d changed", opt, rep.Examined, rep.Unaffected, rep.Same, rep.Kept, rep.Undecided, len(rep.Responses))
		}
		byRef := map[string]*Response{}
		for i := range responses {
			byRef[responses[i].Ref] = &responses[i]
		}
		gain := map[string]float64{}
		for i := range rep.Responses {
			r := &rep.Responses[i]
			was := byRef[r.Ref]
			if r.Why == "" || r.Given != was.Given || fmt.Sprint(r.Before) != fmt.Sprint(was.Score) || r.Question != was.Question.ID {
				t.Errorf("%s: %+v", r.Ref, r)
			}
			if (r.After == nil) != r.Withdrawn {
				t.Errorf("%s is withdrawn: %v, with a score: %v", r.Ref, r.Withdrawn, r.After != nil)
			}
			if opt.Remedy == Either && r.Delta < 0 {
				t.Errorf("%s loses points although either key counts", r.Ref)
			}
			if opt.Void == Credit && r.Withdrawn {
				t.Errorf("%s is withdrawn although void questions are credited", r.Ref)
			}
			gain[r.Person] += r.Delta
		}
		for _, p := range rep.People {
			if d := p.After - p.Before - gain[p.Person]; d > 1e-9 || d < -1e-9 {
				t.Errorf("%s: %v → %v, but the responses gain %v", p.Person, p.Before, p.After, gain[p.Person])
			}
		}
		if opt == (RegradeOptions{}) {
			// Who knew the old key loses, who worked by the new literature gains.
			if gain["Ann"] >= 0 || gain["Cy"] != 0 {
				t.Errorf("gains %v", gain)
			}
			if len(rep.Questions) == 0 || rep.Questions[0].Responses == 0 {
				t.Errorf("questions %+v", rep.Questions)
			}
		}
		if opt.Remedy == Either && gain["Di"] <= 0 {
			t.Errorf("who answered by the new key gains %v", gain["Di"])
		}
	}
}

// A dispute over a question of each form.
func TestRegradeByRulings(t *testing.T) {
	one, _ := shopQuestions("q1")
	some, _ := shopQuestions("q3")
	place := placeQuestion([]string{"page 12"}, banks.Slipped{Value: "page 13", Slip: resolver.LimitOffByOne})
	number := numberQuestion(38, "N·m", 0, banks.Slipped{Value: "52 N·m", Slip: resolver.NeighbourCard})
	order := fuzzQuestions()[2]
	whole := shopChase()
	for _, c := range []struct {
		name   string
		q      *banks.Question
		ruling Ruling
		given  map[string]string // answer → points before and after, or withdrawn, or open
	}{
		{"another option is right", one, Ruling{Key: "C"}, map[string]string{"B": "1 → 0", "C": "0 → 1", "A": "", "": ""}},
		{"another option is right as well", one, Ruling{Key: "C", Also: true}, map[string]string{"B": "", "C": "0 → 1", "A": ""}},
		{"another option, named", one, Ruling{Key: "third"}, map[string]string{"B": "1 → 0", "C": "0 → 1"}},
		{"the question is void", one, Ruling{Void: true}, map[string]string{"B": "withdrawn", "A": "withdrawn", "": "withdrawn"}},
		{"another set", some, Ruling{Key: "A"}, map[string]string{"AC": "1 → 0.67", "A": "0.5 → 1", "C": "0.5 → 0"}},
		{"another place", place, Ruling{Key: "page 13"}, map[string]string{"p. 12": "1 → 0", "13": "0 → 1", "14": ""}},
		{"another place as well", place, Ruling{Key: "page 13", Also: true}, map[string]string{"p. 12": "", "p. 13": "0 → 1"}},
		{"another value", number, Ruling{Key: "52 N·m"}, map[string]string{"38 Nm": "1 → 0", "52 Nm": "0 → 1"}},
		{"a tolerance", number, Ruling{Key: "38 N·m", Tolerance: 2}, map[string]string{"40 Nm": "0 → 1", "38 Nm": "", "41 Nm": ""}},
		{"another order", order, Ruling{Key: "BAC"}, map[string]string{"BCA": "1 → 0.5", "BAC": "0.5 → 1"}},
		{"another place at the end of a chase", whole, Ruling{Key: "| | | | JA.6 |"}, map[string]string{"A|A|A|A|JA.5|none": "1 → 0.83", "A|A|A|A|JA.6|none": "0.83 → 1"}},
		{"a key that cannot be read", one, Ruling{Key: "Z"}, map[string]string{"B": "open", "C": "open"}},
		{"two options", one, Ruling{Key: "BC"}, map[string]string{"B": "open"}},
		{"no key", one, Ruling{}, map[string]string{"B": "open"}},
		{"a number without its unit", number, Ruling{Key: "40"}, map[string]string{"38 Nm": "open"}},
		{"half an order", order, Ruling{Key: "BA"}, map[string]string{"BCA": "open"}},
		{"the key that it has", one, Ruling{Key: "B"}, map[string]string{"B": "", "A": ""}},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.ruling.Question, c.ruling.Why, c.ruling.By = c.q.ID, "the book has it so", "H. Moorcroft"
			var list []Response
			for given := range c.given {
				s, err := Grade(c.q, given, Rules{})
				if err != nil {
					t.Fatal(err)
				}
				list = append(list, Response{Ref: given, Person: "Ann", Question: c.q, Given: given, Score: s})
			}
			rep := Regrade(list, Rulings(c.ruling), "dispute 17", RegradeOptions{})
			got := map[string]string{}
			for _, r := range rep.Responses {
				got[r.Ref] = "withdrawn"
				if r.After != nil {
					got[r.Ref] = points(r.Before.Points) + " → " + points(r.After.Points)
				}
				if !strings.Contains(r.Why, "the book has it so (decided by H. Moorcroft)") {
					t.Errorf("%q changes because of %q", r.Ref, r.Why)
				}
			}
			for _, r := range rep.Open {
				got[r.Ref] = "open"
				if !strings.Contains(r.Why, "cannot be carried out") {
					t.Errorf("%q is open because of %q", r.Ref, r.Why)
				}
			}
			for given, want := range c.given {
				if got[given] != want {
					t.Errorf("%q: %q, want %q", given, got[given], want)
				}
			}
		})
	}
	// Other questions are left alone.
	if c := Rulings(Ruling{Question: "other", Key: "A"})(one); c.Outcome != Unchanged {
		t.Errorf("a ruling on another question: %+v", c)
	}
}

// What cannot be decided says why: another catalog, a kind that is not known, a
// lookup that has become ambiguous.
func TestNeedsPerson(t *testing.T) {
	d := demos(t)[0]
	change := Revision(d.src.R)
	for name, edit := range map[string]func(*banks.Question){
		"another catalog": func(q *banks.Question) { q.Catalog = "Some other literature" },
		"computed again":  func(q *banks.Question) { q.Kind = "riddle" },
		"more than one":   func(q *banks.Question) { q.Query.Vehicle = resolver.Vehicle{Model: q.About.Model} },
	} {
		n := 0
		for _, q := range d.bank {
			if q.Kind != "edition" {
				continue
			}
			c := *q
			edit(&c)
			ch := change(&c)
			if name == "more than one" && ch.Outcome != NeedsPerson {
				continue // not every edition depends on the build date
			}
			n++
			if ch.Outcome != NeedsPerson || !strings.Contains(ch.Why, name) && name != "another catalog" || ch.Why == "" {
				t.Fatalf("%s: %+v", name, ch)
			}
		}
		if n == 0 {
			t.Errorf("%s: no question", name)
		}
	}
}

// The report reads as a coordinator would have it, and as one JSON object.
func TestRegradeReport(t *testing.T) {
	one, _ := shopQuestions("q1")
	var list []Response
	for _, p := range [][2]string{{"Ann", "B"}, {"Bo", "C"}, {"Cy", "A"}} {
		s, _ := Grade(one, p[1], Rules{})
		list = append(list, Response{Ref: "attempt " + p[0], Person: p[0], Question: one, Given: p[1], Score: s})
	}
	rep := Regrade(list, Rulings(Ruling{Question: "q1", Key: "C", Why: "the scheme was misprinted"}), "dispute 17", RegradeOptions{})
	var b bytes.Buffer
	if err := rep.WriteText(&b); err != nil {
		t.Fatal(err)
	}
	want := `Regrading because of dispute 17
3 responses examined: 0 on questions that keep their key, 1 with the score that they had, 0 better by the old key and left so, 0 for a person to look at, 2 changed.
Of those changed 1 gain, 1 lose, 0 are withdrawn, 0 change in their diagnosis alone. Remedy: the new key counts; void questions are withdrawn for everybody.

Question q1 (group), 3 responses: key changed
  old key: second
  new key: third
  why: the scheme was misprinted
  Ann [attempt Ann]: “B” 1 (right) → 0 (wrong)
  Bo [attempt Bo]: “C” 0 (wrong) → 1 (right)

People
  Ann: 1 of 1 → 0 of 1 (1 response changed)
  Bo: 0 of 1 → 1 of 1 (1 response changed)
`
	if b.String() != want {
		t.Errorf("the report is\n%s\nwant\n%s", b.String(), want)
	}
	if says := rep.Responses[0].After.Says; !strings.Contains(says, "It was right by the key that the question had before: the scheme was misprinted") {
		t.Errorf("who was right is told %q", says)
	}
	b.Reset()
	if err := rep.WriteJSON(&b); err != nil {
		t.Fatal(err)
	}
	var again RegradeReport
	if err := json.Unmarshal(b.Bytes(), &again); err != nil || len(again.Responses) != 2 || again.Responses[1].After.Points != 1 || again.Questions[0].NewKey != "third" {
		t.Errorf("the document is %s (%v)", b.String(), err)
	}
}
