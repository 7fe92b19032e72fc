package banks_test

import (
	"slices"
	"strings"
	"testing"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// makeOne makes the question of a kind whose Make is given, at its only site.
func makeOne(tb testing.TB, fill func(m *banks.Maker) bool) (*banks.Question, bool) {
	tb.Helper()
	k := banks.Kind{Name: "test", Skill: "testing", Make: func(m *banks.Maker, _ banks.Site) bool { return fill(m) }}
	m := banks.NewMaker(smallSource(tb), banks.StartingWeights())
	ok := m.Make(&k, banks.Site{}, 1)
	q := m.Q
	return &q, ok
}

func TestOptionsOfAQuestion(t *testing.T) {
	q, ok := makeOne(t, func(m *banks.Maker) bool {
		m.Q.Stem = "Which?"
		m.KeyOption("Page 12", "12")
		m.WrongOption("Page 13", "13", resolver.Break{Slip: resolver.LimitOffByOne})
		m.WrongOption("Page 14", "14", resolver.Break{Slip: resolver.LimitOffByOne, Variant: 1})
		m.WrongOption("Page 15", "15", resolver.Break{Slip: resolver.SupersededEdition})
		m.WrongOption("Page 16", "16", resolver.Break{Slip: resolver.WrongClass})
		// None of these is a distractor.
		m.WrongOption("The same page", "12", resolver.Break{Slip: resolver.SiblingGroup})  // the key's value
		m.WrongOption("PAGE 12", "12 again", resolver.Break{Slip: resolver.WrongDigits})   // the key's text
		m.WrongOption("Page 13", "13 again", resolver.Break{Slip: resolver.NeighbourCard}) // another's text
		m.WrongOption("", "17", resolver.Break{Slip: resolver.UnitMixed})
		m.WrongOption("Page 17", "", resolver.Break{Slip: resolver.UnitMixed})
		return m.OneOf("code")
	})
	if !ok || q.Form != banks.OneOf || len(q.Options) != 4 || q.Check() != nil {
		t.Fatalf("made %v: %+v", ok, q)
	}
	var slips []resolver.Slip
	for _, o := range q.Options {
		if o.Right != (o.Slip == resolver.NoSlip) {
			t.Errorf("%+v: right and of a slip, or neither", o)
		}
		if o.Right && o.Value != "12" {
			t.Errorf("the key is %+v", o)
		}
		slips = append(slips, o.Slip)
	}
	// Of as many slips as there are: the two of one slip do not both come in
	// while another slip is left out.
	slices.Sort(slips)
	if want := []resolver.Slip{resolver.NoSlip, resolver.LimitOffByOne, resolver.SupersededEdition, resolver.WrongClass}; !slices.Equal(slips, want) {
		t.Errorf("the options come from %v, want %v", slips, want)
	}
}

// Too few distractors give a typed answer, never padding; where there is no
// typed form, there is no question.
func TestTooFewDistractors(t *testing.T) {
	fill := func(charset string) func(m *banks.Maker) bool {
		return func(m *banks.Maker) bool {
			m.Q.Stem = "Which?"
			m.KeyOption("P-12", "12")
			m.WrongOption("P-13", "13", resolver.Break{Slip: resolver.LimitOffByOne, Variant: 1})
			return m.OneOf(charset)
		}
	}
	q, ok := makeOne(t, fill("code"))
	if !ok || q.Form != banks.Typed || len(q.Options) != 0 || q.Check() != nil || q.KeyText() != "P-12" || q.Key.Charset != "code" {
		t.Errorf("made %v: %+v", ok, q)
	}
	if want := []banks.Slipped{{Value: "P-13", Slip: resolver.LimitOffByOne, Variant: 1}}; !slices.Equal(q.Slipped, want) {
		t.Errorf("wrong answers known: %+v, want %+v", q.Slipped, want)
	}
	if _, ok := makeOne(t, fill("")); ok {
		t.Error("a question without distractors and without a typed form was made")
	}
	if _, ok := makeOne(t, func(m *banks.Maker) bool {
		m.KeyOption("a", "a")
		m.KeyOption("b", "b")
		return m.OneOf("code")
	}); ok {
		t.Error("a question of one option with two keys was made")
	}
}

func TestSeveralOfSeveral(t *testing.T) {
	q, ok := makeOne(t, func(m *banks.Maker) bool {
		m.Q.Stem = "Which are due?"
		m.KeyOption("A", "A")
		m.KeyOption("B", "B")
		m.KeyOption("B", "B") // once
		m.WrongOption("C", "C", resolver.Break{Slip: resolver.OneCounter})
		m.SlipSet([]string{"B", "A"}, resolver.Break{Slip: resolver.WrongZero})             // the right set
		m.SlipSet([]string{"C", "A", "A"}, resolver.Break{Slip: resolver.OneCounter})       // a wrong one
		m.SlipSet([]string{"A", "Z"}, resolver.Break{Slip: resolver.WrongZero, Variant: 2}) // what is not offered cannot be marked
		return m.SomeOf(3, 8)
	})
	if !ok || q.Form != banks.SomeOf || len(q.Options) != 3 || q.Check() != nil {
		t.Fatalf("made %v: %+v", ok, q)
	}
	want := []banks.Slipped{{Value: "A;C", Slip: resolver.OneCounter}, {Value: "A", Slip: resolver.WrongZero, Variant: 2}}
	if !slices.Equal(q.Slipped, want) {
		t.Errorf("wrong sets known: %+v, want %+v", q.Slipped, want)
	}
	for name, fill := range map[string]func(m *banks.Maker){
		"no key": func(m *banks.Maker) {
			m.WrongOption("a", "a", resolver.Break{})
			m.WrongOption("b", "b", resolver.Break{})
		},
		"nothing wrong":    func(m *banks.Maker) { m.KeyOption("a", "a"); m.KeyOption("b", "b"); m.KeyOption("c", "c") },
		"too few in all":   func(m *banks.Maker) { m.KeyOption("a", "a"); m.WrongOption("b", "b", resolver.Break{}) },
		"too many to show": func(m *banks.Maker) { m.WrongOption("z", "z", resolver.Break{}); manyKeys(m, 8) },
	} {
		if _, ok := makeOne(t, func(m *banks.Maker) bool { fill(m); return m.SomeOf(3, 8) }); ok {
			t.Errorf("%s: a question was made", name)
		}
	}
}

func manyKeys(m *banks.Maker, n int) {
	for i := range n {
		s := strings.Repeat("k", i+1)
		m.KeyOption(s, s)
	}
}

func TestOrderedAndNumbers(t *testing.T) {
	q, ok := makeOne(t, func(m *banks.Maker) bool {
		m.Q.Stem = "In which order?"
		for _, s := range []string{"drain", "remove", "fit"} {
			m.KeyOption(s, s[:1])
		}
		return m.Ordered()
	})
	if !ok || q.Check() != nil || !slices.Equal(q.Key.Order, []string{"d", "r", "f"}) || q.KeyText() != "drain, then remove, then fit" {
		t.Errorf("made %v: %+v, key %q", ok, q, q.KeyText())
	}
	if _, ok := makeOne(t, func(m *banks.Maker) bool { manyKeys(m, 2); return m.Ordered() }); ok {
		t.Error("an order of two was made: it would be a toss of a coin")
	}
	q, ok = makeOne(t, func(m *banks.Maker) bool {
		m.Q.Stem = "How much?"
		m.KeyOption("34 N·m", "34 N·m")
		m.WrongOption("25 N·m", "25 N·m", resolver.Break{Slip: resolver.WrongAmbient, Variant: 3})
		return m.Number(34, "N·m", 0.5)
	})
	if !ok || q.Check() != nil || q.KeyText() != "34 N·m" || len(q.Slipped) != 1 || q.Slipped[0].Variant != 3 {
		t.Errorf("made %v: %+v, key %q", ok, q, q.KeyText())
	}
}

// A question does not depend on what the workbench made before.
func TestMakerRemembersNothing(t *testing.T) {
	src := demoSource(t)
	list := someKinds(t, "publication", "chase", "due", "specification")
	fresh := func(k *banks.Kind, s banks.Site) []byte {
		m := banks.NewMaker(src, banks.StartingWeights())
		if !m.Make(k, s, 5) {
			return nil
		}
		return encode(t, &m.Q)
	}
	used := banks.NewMaker(src, banks.StartingWeights())
	made := 0
	for i := range 400 {
		k := &list[i%len(list)]
		sites := k.Sites(src)
		site := sites.Inside[i*7919%len(sites.Inside)]
		var got []byte
		if used.Make(k, site, 5) {
			got = encode(t, &used.Q)
			made++
		}
		if want := fresh(k, site); string(got) != string(want) {
			t.Fatalf("%s at %+v: a workbench in use makes another question than a new one", k.Name, site)
		}
	}
	if made < 100 {
		t.Errorf("only %d questions were made", made)
	}
}

func TestSitesAreListedOnceAndInOrder(t *testing.T) {
	in := banks.Site{Row: 2, Card: 1}
	first := banks.Site{Row: 1, Card: 3, At: banks.First}
	last := banks.Site{Row: 1, Card: 2, Extra: 4, At: banks.Last}
	s := banks.NewSites([]banks.Site{first, in, last, in, {Row: 1}, first})
	if !slices.Equal(s.Inside, []banks.Site{{Row: 1}, in}) || !slices.Equal(s.Limits, []banks.Site{last, first}) || s.Len() != 4 {
		t.Errorf("got %+v", s)
	}
	var all []banks.Site
	for site := range s.All() {
		all = append(all, site)
		if len(all) == 3 {
			break
		}
	}
	if !slices.Equal(all, []banks.Site{{Row: 1}, in, last}) {
		t.Errorf("All gives %+v", all)
	}
}
