package psychometrics

import (
	"math"
	"slices"
	"testing"
)

// With two items the test is that of two log odds: LR is that of a 2 × 2 table.
func TestAndersenWithTwoItemsIsATwoByTwoTable(t *testing.T) {
	var rows []string
	var group []int
	add := func(g, n int, row string) {
		for range n {
			rows, group = append(rows, row), append(group, g)
		}
	}
	add(3, 20, "10")
	add(3, 8, "01")
	add(7, 9, "10")
	add(7, 15, "01")
	add(7, 4, "11")
	got, err := Andersen(mustRows(t, rows...), group)
	if err != nil {
		t.Fatal(err)
	}
	g := func(n, of float64) float64 { return n * math.Log(n/of) }
	want := 2 * (g(20, 28) + g(8, 28) + g(9, 24) + g(15, 24) - g(29, 52) - g(23, 52))
	closeTo(t, "LR", got.LR, want, 1e-8)
	if got.DF != 1 || len(got.Groups) != 2 || got.Groups[0].Group != 3 || got.Groups[1].Size != 28 {
		t.Errorf("df %d, groups %+v", got.DF, got.Groups)
	}
	// z of item 2: difference of half log odds.
	d := (math.Log(9.0/15) - math.Log(20.0/8)) / 2
	se := math.Sqrt(1.0/20+1.0/8+1.0/9+1.0/15) / 2
	closeTo(t, "z", got.Z[1], d/se, 1e-8)
}

func TestAndersenRejectsAsOftenAsItShould(t *testing.T) {
	const runs = 200
	rejected := 0
	for seed := range uint64(runs) {
		r, _, _ := simulate(300+seed, 300, 8, 1, 1)
		got, err := Andersen(r, SplitByScore(r))
		if err != nil {
			t.Fatal(err)
		}
		if got.P < 0.1 {
			rejected++
		}
	}
	// 10 % of 200 is 20 with a standard deviation of 4.2.
	if rejected < 8 || rejected > 34 {
		t.Errorf("%d of %d tests of a true model at 10 %% reject", rejected, runs)
	}
}

func TestAndersenFindsItemsThatDoNotBelong(t *testing.T) {
	rng := newRand(61)
	theta, b := make([]float64, 1000), make([]float64, 10)
	for v := range theta {
		theta[v] = 1.5 * rng.NormFloat64()
	}
	r := answersOf(rng, theta, b, 1)
	for v := range theta {
		r.Set(v, 4, int8(rng.IntN(2))) // answered by tossing a coin
	}
	got, err := Andersen(r, SplitByScore(r))
	if err != nil {
		t.Fatal(err)
	}
	if got.P > 1e-6 {
		t.Errorf("p = %v", got.P)
	}
	for i, z := range got.Z {
		if i != 4 && math.Abs(z) > math.Abs(got.Z[4])/2 {
			t.Errorf("item %d has z = %.1f, the coin %.1f", i+1, z, got.Z[4])
		}
	}
}

func TestAndersenLeavesOutPeopleAndItems(t *testing.T) {
	r := mustRows(t,
		"1001", "0101", "0011", "1101", "0111", // item 4 always right here
		"1000", "0101", "0010", "1101", "0110", "1011",
		"0000", "1111") // and people in no group
	group := []int{0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1, -1, -1}
	got, err := Andersen(r, group)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(got.Items, []int{0, 1, 2}) || got.DF != 2 || !math.IsNaN(got.Z[3]) {
		t.Errorf("items %v, df %d, z %v", got.Items, got.DF, got.Z)
	}
}

func TestAndersenRefuses(t *testing.T) {
	r := mustRows(t, "10", "01")
	_, err := Andersen(r, []int{0})
	wantError(t, err, ErrShape)
	_, err = Andersen(r, []int{2, 2})
	wantError(t, err, ErrConstant, "it takes two")
	_, err = Andersen(r, []int{0, 1})
	wantError(t, err, ErrConstant, "in every group")
	_, err = Andersen(Responses{}, nil)
	wantError(t, err, ErrConstant)
	// In group 5 nobody links the first two items with the last two.
	_, err = Andersen(mustRows(t, "1000", "0100", "0010", "0001", "1000", "0100", "1110", "1101"), []int{2, 2, 2, 2, 5, 5, 5, 5})
	wantError(t, err, ErrDisconnected, "group 5")
}

func TestSplitByScore(t *testing.T) {
	for _, c := range []struct {
		name string
		rows []string
		want []int
	}{
		{"scores 1 2 3 4 of 5", []string{"10000", "11000", "11100", "11110"}, []int{0, 0, 1, 1}},
		{"none and all are left out", []string{"000", "100", "110", "111"}, []int{-1, 0, 1, -1}},
		{"most are at the top", []string{"1000", "1110", "1101", "0111"}, []int{0, 1, 1, 1}},
		{"most are at the bottom", []string{"1000", "0100", "0010", "1110"}, []int{0, 0, 0, 1}},
		{"two places as good", []string{"1000", "1100", "1110"}, []int{0, 1, 1}},
		{"all alike", []string{"10", "01"}, []int{0, 0}},
		{"shares where answers are missing", []string{"10.", "110", "100", "...", "1.."}, []int{1, 1, 0, -1, -1}},
		{"nobody", nil, []int{}},
	} {
		if got := SplitByScore(mustRows(t, c.rows...)); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}
