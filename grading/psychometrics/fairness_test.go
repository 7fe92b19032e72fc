package psychometrics

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// R 4.2.2, stats::mantelhaen.test, script in testdata/fairness.R. Data: Bickel,
// Hammel & O'Connell (1975), Science 187, 398–404 (admission of men and women
// by department), and Mantel (1963), penicillin in rabbits.
func TestMantelHaenszelAgainstR(t *testing.T) {
	m := MantelHaenszel([]Stratum{
		{512, 313, 89, 19}, {353, 207, 17, 8}, {120, 205, 202, 391},
		{138, 279, 131, 244}, {53, 138, 94, 299}, {22, 351, 24, 317},
	})
	near(t, "chi-square", m.ChiSquare, 1.426946229, 1e-8)
	near(t, "P", m.P, 0.2322634628, 1e-8)
	near(t, "odds ratio", m.OddsRatio, 0.9046968283, 1e-9)
	near(t, "low", m.Low, 0.7719073618, 1e-9)
	near(t, "high", m.High, 1.0603297644, 1e-9)

	m = MantelHaenszel([]Stratum{{0, 0, 6, 5}, {3, 0, 3, 6}, {6, 2, 0, 4}, {5, 6, 1, 0}, {2, 5, 0, 0}})
	near(t, "chi-square", m.ChiSquare, 3.928571429, 1e-8)
	near(t, "P", m.P, 0.04747225514, 1e-9)
	near(t, "odds ratio", m.OddsRatio, 7, 1e-12)
	near(t, "low", m.Low, 1.026712688, 1e-8)
	near(t, "high", m.High, 47.725133380, 1e-6)
	if m.Strata != 3 {
		t.Errorf("%d strata bear on the result, want 3", m.Strata)
	}
}

func TestMantelHaenszelAtTheEdges(t *testing.T) {
	for name, s := range map[string][]Stratum{
		"nothing": nil, "one group": {{3, 4, 0, 0}}, "all right": {{3, 0, 5, 0}}, "empty strata": make([]Stratum, 4),
	} {
		if m := MantelHaenszel(s); !math.IsNaN(m.OddsRatio) || !math.IsNaN(m.P) || m.Strata != 0 {
			t.Errorf("%s: %+v", name, m)
		}
	}
	if m := MantelHaenszel([]Stratum{{5, 0, 2, 3}}); !math.IsInf(m.OddsRatio, 1) || !math.IsNaN(m.LogSE) || !(m.P > 0) {
		t.Errorf("reference all right: %+v", m)
	}
	if m := MantelHaenszel([]Stratum{{2, 2, 2, 2}}); m.ChiSquare != 0 || m.P != 1 || m.OddsRatio != 1 {
		t.Errorf("equal groups: %+v", m)
	}
}

// simulateGroups gives reference and focal answers to items whose difficulty
// for the focal group is shifted; the focal group is also less able by half a
// logit, which must not be mistaken for it.
func simulateGroups(reference, focal int, shift []float64, rng *rand.Rand) (Responses, []Membership, []float64) {
	n := len(shift)
	r := New(reference+focal, n)
	members := make([]Membership, reference+focal)
	theta := make([]float64, reference+focal)
	b := make([]float64, n)
	for i := range b {
		b[i] = -1.5 + 3*float64(i)/float64(n-1)
	}
	for v := range members {
		members[v], theta[v] = Reference, rng.NormFloat64()
		if v >= reference {
			members[v] = Focal
			theta[v] -= 0.5
		}
		for i := range b {
			d := b[i]
			if v >= reference {
				d += shift[i]
			}
			x := int8(0)
			if rng.Float64() < Probability(theta[v], d) {
				x = 1
			}
			r.Set(v, i, x)
		}
	}
	return r, members, theta
}

func TestCompareGroupsFindsTheOddQuestion(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 1))
	shift := make([]float64, 30)
	shift[4], shift[20] = 0.9, -0.9 // Δ = ∓2.35 · 0.9 = ∓2.1
	r, members, theta := simulateGroups(700, 500, shift, rng)
	for name, o := range map[string]ComparisonOptions{"number right": {}, "ability": {Standing: theta, Strata: 12}} {
		t.Run(name, func(t *testing.T) {
			items, err := CompareGroups(r, members, o)
			if err != nil {
				t.Fatal(err)
			}
			for i, want := range map[int]struct {
				delta  float64
				harder Membership
			}{4: {-2.1, Focal}, 20: {2.1, Reference}} {
				c := items[i]
				if c.Class != Large || c.Harder != want.harder || c.Class.Letter() != "C" {
					t.Errorf("question %d: %+v", i, c)
				}
				near(t, "delta", c.Delta, want.delta, 3*c.SE)
			}
			flagged := 0
			for i, c := range items {
				if i != 4 && i != 20 && c.Class >= Moderate {
					flagged++
				}
				if c.ReferenceAnswers != 700 || c.FocalAnswers != 500 {
					t.Errorf("question %d compares %d and %d answers", i, c.ReferenceAnswers, c.FocalAnswers)
				}
			}
			if flagged > 2 {
				t.Errorf("%d of 28 questions without a difference are flagged", flagged)
			}
		})
	}
}

// The false-alarm rate that the comment of CompareGroups states.
func TestCompareGroupsFalseAlarms(t *testing.T) {
	rng := rand.New(rand.NewPCG(32, 1))
	var b, c, n float64
	for range 30 {
		r, members, _ := simulateGroups(300, 200, make([]float64, 30), rng)
		items, err := CompareGroups(r, members, ComparisonOptions{})
		if err != nil {
			t.Fatal(err)
		}
		for _, i := range items {
			n++
			switch i.Class {
			case Moderate:
				b++
			case Large:
				c++
			}
		}
	}
	t.Logf("of %v questions without a difference %.4f are flagged B, %.4f C", n, b/n, c/n)
	if c/n > 0.01 || b/n > 0.06 {
		t.Errorf("false alarms: B %.4f, C %.4f", b/n, c/n)
	}
}

// Two sites of 60 and 50 people could not tell a difference of 1.5, but one of
// 6 they do; and they raise no more false alarms than larger groups.
func TestCompareGroupsOfFewSeeWhatIsPlain(t *testing.T) {
	rng := rand.New(rand.NewPCG(34, 1))
	var found, flagged, n int
	for range 40 {
		shift := make([]float64, 20)
		shift[9] = 2.6 // Δ = −6.1
		r, members, theta := simulateGroups(60, 50, shift, rng)
		items, err := CompareGroups(r, members, ComparisonOptions{Standing: theta, Strata: 4})
		if err != nil {
			t.Fatal(err)
		}
		for i, c := range items {
			if c.SE <= largestSE {
				t.Fatalf("question %d: %+v; the groups are meant to be too small", i, c)
			}
			if i != 9 {
				n++
				if c.Class != TooFewToTell {
					flagged++
				}
				continue
			}
			if c.Class == Large && c.Harder == Focal && c.Delta < -3 {
				found++
			} else if c.Class != TooFewToTell {
				t.Errorf("the odd question: %+v", c)
			}
		}
	}
	t.Logf("found %d of 40; %d false alarms among %d", found, flagged, n)
	if found < 20 || float64(flagged) > 0.01*float64(n) {
		t.Errorf("found %d of 40; %d false alarms among %d", found, flagged, n)
	}
}

func TestCompareGroupsOnPoorData(t *testing.T) {
	rng := rand.New(rand.NewPCG(33, 1))
	// A workshop of 26 people at two sites.
	r, members, _ := simulateGroups(16, 10, make([]float64, 12), rng)
	items, err := CompareGroups(r, members, ComparisonOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range items {
		if c.Class != TooFewToTell || c.Harder != LeftOut || c.Class.Letter() != "–" {
			t.Errorf("26 people tell %+v", c)
		}
	}

	r, members, theta := simulateGroups(200, 200, make([]float64, 12), rng)
	for v := range r.People() {
		r.Set(v, 3, 1)
	}
	r.Set(5, 0, Missing)
	if _, err := CompareGroups(r, members, ComparisonOptions{}); !errors.Is(err, ErrRange) {
		t.Errorf("missing answers without standing: %v", err)
	}
	members[7], theta[8] = LeftOut, math.NaN()
	items, err = CompareGroups(r, members, ComparisonOptions{Standing: theta})
	if err != nil {
		t.Fatal(err)
	}
	if items[3].Class != TooFewToTell || !math.IsNaN(items[3].OddsRatio) {
		t.Errorf("a question everybody gets right: %+v", items[3])
	}
	if items[0].ReferenceAnswers != 197 || items[1].ReferenceAnswers != 198 {
		t.Errorf("%d and %d answers compared", items[0].ReferenceAnswers, items[1].ReferenceAnswers)
	}
	for name, f := range map[string]struct {
		members []Membership
		o       ComparisonOptions
		want    error
	}{
		"memberships":    {members[1:], ComparisonOptions{}, ErrShape},
		"standings":      {members, ComparisonOptions{Standing: theta[1:]}, ErrShape},
		"no focal group": {make([]Membership, 400), ComparisonOptions{}, ErrEmpty},
	} {
		if _, err := CompareGroups(r, f.members, f.o); !errors.Is(err, f.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := CompareGroups(Responses{}, nil, ComparisonOptions{}); !errors.Is(err, ErrEmpty) {
		t.Errorf("nobody: %v", err)
	}
}
