package catalog

import (
	"math/rand"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestNewFillsInTheDocumentedDefaults(t *testing.T) {
	c := New(Meta{}, Tables{
		Groups:         []Group{{Code: "10"}, {Code: "21", KeyedBy: "engine"}},
		Publications:   []Publication{{ID: "A"}, {ID: "B", KeyedBy: "engine", Series: "S"}},
		Schedule:       []Service{{Name: "A"}},
		Specifications: []Specification{{ID: "1", Publication: "B"}, {ID: "2"}, {ID: "3", Publication: "B", KeyedBy: "axle"}},
		Guide:          []GuideEntry{{System: "fuel", Publication: "B"}},
		TroubleCodes:   []TroubleCode{{System: "engine", Publication: "B"}},
		Bulletins:      []Bulletin{{ID: "1"}},
	})
	m, tb := c.Meta(), c.Tables()
	if m.Language != "en" || m.Primary != UnitModel || m.Units.Hours != "h" {
		t.Errorf("settings %+v", m)
	}
	if want := (LimitStyle{"words", "from", "through", "no.", "→"}); m.Limits != want || m.Limits != (LimitStyle{}).withDefaults() {
		t.Errorf("limits %+v, want %+v", m.Limits, want)
	}
	got := []string{tb.Groups[0].KeyedBy, tb.Groups[1].KeyedBy, tb.Publications[0].KeyedBy, tb.Publications[0].Series, tb.Publications[1].Series,
		tb.Schedule[0].KeyedBy, string(tb.Schedule[0].Class), tb.Specifications[0].KeyedBy, tb.Specifications[1].KeyedBy, tb.Specifications[2].KeyedBy,
		tb.Guide[0].KeyedBy, tb.TroubleCodes[0].KeyedBy, tb.Bulletins[0].KeyedBy, tb.Bulletins[0].Kind}
	want := []string{"model", "engine", "model", "A", "S", "model", "maintenance", "engine", "model", "axle", "engine", "engine", "model", "bulletin"}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	marine := New(Meta{Primary: "engine"}, Tables{Groups: []Group{{Code: "10"}}, Schedule: []Service{{Name: "A"}}})
	if k := marine.Tables().Groups[0].KeyedBy; k != "engine" {
		t.Errorf("a group of a catalog without vehicles is keyed by %s", k)
	}
}

func TestNewDoesNotTouchWhatItIsGiven(t *testing.T) {
	in := Tables{Groups: []Group{{Code: "2"}, {Code: "1"}}}
	New(Meta{}, in)
	if in.Groups[0].Code != "2" || in.Groups[0].KeyedBy != "" {
		t.Errorf("the records given have become %v", in.Groups)
	}
}

func TestLookingUpByKey(t *testing.T) {
	c := small()
	if p, ok := c.Publication("TR-20"); !ok || p.Series != "TR" {
		t.Errorf("publication %v, %v", p, ok)
	}
	if _, ok := c.Publication("TR-99"); ok {
		t.Error("there is no TR-99")
	}
	if g, ok := c.Group("21"); !ok || g.Division != "Engine" {
		t.Errorf("group %v, %v", g, ok)
	}
	if _, ok := c.Group("99"); ok {
		t.Error("there is no group 99")
	}
}

func TestStepsAreOrderedAsPeopleCount(t *testing.T) {
	want := []string{"", "1", "2", "2a", "2b", "10", "10.2", "10.10", "A1", "A2", "A10", "B"}
	got := slices.Clone(want)
	rand.New(rand.NewSource(1)).Shuffle(len(got), func(i, j int) { got[i], got[j] = got[j], got[i] })
	slices.SortFunc(got, CompareSteps)
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	step := rapid.StringMatching(`[0-9a.]{0,6}`)
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := step.Draw(t, "a"), step.Draw(t, "b"), step.Draw(t, "c")
		if CompareSteps(a, b) != -CompareSteps(b, a) {
			t.Fatalf("%q and %q are not in one order", a, b)
		}
		if CompareSteps(a, b) <= 0 && CompareSteps(b, c) <= 0 && CompareSteps(a, c) > 0 {
			t.Fatalf("%q ≤ %q ≤ %q, but not the first and the last", a, b, c)
		}
	})
}
