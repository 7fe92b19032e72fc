package catalog

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func drawBox(t *rapid.T, label string) box {
	d, s := rapid.Int64Range(0, 9).Draw(t, label+" day"), rapid.Int64Range(1, 9).Draw(t, label+" serial")
	return box{d, d + rapid.Int64Range(0, 5).Draw(t, label+" days"), s, s + rapid.Int64Range(0, 5).Draw(t, label+" serials")}
}

func drawRegion(t *rapid.T, label string) region {
	var r region
	for range rapid.IntRange(0, 4).Draw(t, label) {
		r = append(r, drawBox(t, label))
	}
	return r
}

func (r region) holds(d, s int64) bool {
	return slices.ContainsFunc(r, func(b box) bool { return d >= b.d0 && d <= b.d1 && s >= b.s0 && s <= b.s1 })
}

// Regions are sets of points: each operation is checked point by point.
func TestRegionsAreSetsOfVehicles(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawRegion(t, "a"), drawRegion(t, "b")
		meet, minus, joined := a.meet(b), a.minus(b), a.joined()
		common := false
		for d := int64(-1); d <= 16; d++ {
			for s := int64(0); s <= 16; s++ {
				x, y := a.holds(d, s), b.holds(d, s)
				common = common || x && y
				if meet.holds(d, s) != (x && y) || minus.holds(d, s) != (x && !y) || joined.holds(d, s) != x {
					t.Fatalf("day %d, serial %d: in a %v, in b %v; meet %v, minus %v, joined %v", d, s, x, y, meet.holds(d, s), minus.holds(d, s), joined.holds(d, s))
				}
			}
		}
		if a.meets(b) != common {
			t.Fatalf("meets says %v", a.meets(b))
		}
		if len(joined) > len(a) {
			t.Fatalf("joined makes %d boxes of %d", len(joined), len(a))
		}
	})
}

func TestBoxesAndRangesAreTheSame(t *testing.T) {
	for _, tc := range []struct{ from, through, want string }{
		{"2014-07", "2014-08", "from 2014-07 through 2014-08"},
		{"2014-07-01", "2014-08-31", "from 2014-07 through 2014-08"},
		{"2014-07-02", "2014-08", "from 2014-07-02 through 2014-08-31"},
		{"2014", "", "from 2014-01"},
		{"", "2016-02-29", "through 2016-02"},
		{"", "2016-02-28", "through 2016-02-28"},
		{"", "", "all"},
	} {
		r := span(t, tc.from, tc.through)
		b, ok := boxOf(r)
		if got := (LimitStyle{}).Format(Effectivity{b.rangeOf()}); !ok || got != tc.want {
			t.Errorf("%s to %s: %q, want %q", tc.from, tc.through, got, tc.want)
		}
		if c, _ := boxOf(b.rangeOf()); c != b {
			t.Errorf("%s to %s: %v comes back as %v", tc.from, tc.through, b, c)
		}
	}
	if _, ok := boxOf(Range{Serials: Serials{From: 5, Through: 4}}); ok {
		t.Error("an inverted range is a box")
	}
}

// matched looks exact codes up; it must agree with the definition.
func TestMatchedAgreesWithPatternMatch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		code := rapid.StringMatching(`[AB]{1,3}`)
		var tables Tables
		for _, c := range rapid.SliceOfN(code, 1, 80).Draw(t, "codes") {
			tables.Models = append(tables.Models, Model{Code: c})
		}
		k := newChecker(New(Meta{}, tables))
		k.budget = checkBudget
		p := Pattern(rapid.StringMatching(`(!?[ABab*?-]{0,3} ?; ?){0,3}(!?[ABab*?]{1,3})?`).Draw(t, "pattern"))
		u := k.unit(UnitModel)
		s := k.matched(u, p)
		for i, c := range u.codes {
			if s.has(i) != p.Match(c) {
				t.Fatalf("%q and %s: matched %v, Match %v", p, c, s.has(i), p.Match(c))
			}
		}
	})
}

func TestCyclesAreFound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 9).Draw(t, "nodes")
		next := make([][]int, n)
		reach := make([][]bool, n)
		for i := range n {
			next[i] = rapid.SliceOfN(rapid.IntRange(0, n-1), 0, 3).Draw(t, "next")
			reach[i] = make([]bool, n)
			for _, j := range next[i] {
				reach[i][j] = true
			}
		}
		for k := range n { // Warshall (1962)
			for i := range n {
				for j := range n {
					reach[i][j] = reach[i][j] || reach[i][k] && reach[k][j]
				}
			}
		}
		circle := make([][]int, n)
		for _, c := range cycles(n, func(i int) []int { return next[i] }) {
			for _, i := range c {
				if circle[i] != nil {
					t.Fatalf("%d is in two circles", i)
				}
				circle[i] = c
			}
		}
		for i := range n {
			if (circle[i] != nil) != reach[i][i] {
				t.Fatalf("node %d of %v: circle %v, comes back %v", i, next, circle[i], reach[i][i])
			}
			for j := range n {
				if same := slices.Contains(circle[i], j); same != (reach[i][j] && reach[j][i]) {
					t.Fatalf("nodes %d and %d of %v: in one circle %v", i, j, next, same)
				}
			}
		}
	})
	deep := func(i int) []int { return []int{(i + 1) % 200_000} }
	if c := cycles(200_000, deep); len(c) != 1 || len(c[0]) != 200_000 {
		t.Errorf("a circle of 200,000 is found as %d", len(c))
	}
}
