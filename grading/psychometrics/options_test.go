package psychometrics

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestOptionTable(t *testing.T) {
	//            low group       high group
	choices := []int{1, 1, 0, Omit, 0, 0, 2, 0, NotSeen}
	scores := []float64{1, 2, 3, 4, 11, 12, 13, 14, math.NaN()}
	got, err := TabulateOptions(choices, 4, scores, 2)
	if err != nil {
		t.Fatal(err)
	}
	if got.Omitted != 1 || got.Groups[0].Omitted != 1 || got.Groups[1].Omitted != 0 {
		t.Errorf("omitted: %d, by group %+v", got.Omitted, got.Groups)
	}
	for g, want := range []ScoreGroup{{People: 4, Low: 1, High: 4, Omitted: 1}, {People: 4, Low: 11, High: 14}} {
		if got.Groups[g] != want {
			t.Errorf("group %d: %+v, want %+v", g, got.Groups[g], want)
		}
	}
	for o, want := range []struct {
		chosen  int
		byGroup []int
		mean    float64
	}{{4, []int{1, 3}, 10}, {2, []int{2, 0}, 1.5}, {1, []int{0, 1}, 13}, {0, []int{0, 0}, math.NaN()}} {
		row := got.Options[o]
		if row.Chosen != want.chosen || !slices.Equal(row.ByGroup, want.byGroup) {
			t.Errorf("option %d: %d chose it, by group %v", o, row.Chosen, row.ByGroup)
		}
		closeTo(t, "mean score", row.MeanScore, want.mean, 1e-12)
		closeTo(t, "share", row.Share, float64(want.chosen)/7, 1e-12)
	}
	if !(got.Options[0].PointBiserial > 0.3 && got.Options[1].PointBiserial < -0.5) {
		t.Errorf("point-biserials %v and %v", got.Options[0].PointBiserial, got.Options[1].PointBiserial)
	}
	closeTo(t, "of an option that nobody chose", got.Options[3].PointBiserial, math.NaN(), 0)
}

func TestOptionTableOfNobodyAndOfEqualScores(t *testing.T) {
	got, err := TabulateOptions(nil, 2, nil, 3)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "share of nothing", got.Options[0].Share, math.NaN(), 0)
	closeTo(t, "lowest score of nobody", got.Groups[0].Low, math.NaN(), 0)
	got, err = TabulateOptions([]int{0, 1, 0}, 2, []float64{5, 5, 5}, 3)
	if err != nil {
		t.Fatal(err)
	}
	if got.Groups[0].People != 0 || got.Groups[1].People != 3 || got.Groups[2].People != 0 {
		t.Errorf("people with the same score are apart: %+v", got.Groups)
	}
	closeTo(t, "point-biserial of equal scores", got.Options[0].PointBiserial, math.NaN(), 0)
}

func TestOptionTableRefuses(t *testing.T) {
	_, err := TabulateOptions([]int{0}, 2, nil, 3)
	wantError(t, err, ErrShape)
	_, err = TabulateOptions([]int{0, 2}, 2, []float64{1, 2}, 3)
	wantError(t, err, ErrRange, "row 2", "option 2 of 2", "0 to 1")
	_, err = TabulateOptions([]int{0}, 2, []float64{math.NaN()}, 3)
	wantError(t, err, ErrRange, "row 1")
	_, err = TabulateOptions(nil, 0, nil, 3)
	wantError(t, err, ErrRange)
	_, err = TabulateOptions(nil, 2, nil, 0)
	wantError(t, err, ErrRange)
}

func TestScoreGroups(t *testing.T) {
	for _, c := range []struct {
		name   string
		scores []float64
		groups int
		want   []int
	}{
		{"thirds", []float64{6, 1, 4, 3, 5, 2}, 3, []int{2, 0, 1, 1, 2, 0}},
		{"ties stay together", []float64{1, 2, 2, 2, 2, 9}, 3, []int{0, 1, 1, 1, 1, 2}},
		{"more groups than people", []float64{1, 2}, 4, []int{1, 3}},
		{"NaN is lowest", []float64{3, math.NaN()}, 2, []int{1, 0}},
		{"nobody", nil, 3, []int{}},
	} {
		if got := ScoreGroups(c.scores, c.groups); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func TestScoreGroupsRiseWithTheScore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var scores []float64
		for _, x := range rapid.SliceOfN(rapid.IntRange(0, 20), 1, 60).Draw(t, "scores") {
			scores = append(scores, float64(x))
		}
		groups := rapid.IntRange(1, 6).Draw(t, "groups")
		got := ScoreGroups(scores, groups)
		for v := range scores {
			if got[v] < 0 || got[v] >= groups {
				t.Fatalf("group %d of %d", got[v], groups)
			}
			for w := range scores {
				if scores[v] == scores[w] && got[v] != got[w] || scores[v] < scores[w] && got[v] > got[w] {
					t.Fatalf("scores %v and %v are in groups %d and %d", scores[v], scores[w], got[v], got[w])
				}
			}
		}
	})
}
