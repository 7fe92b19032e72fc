package psychometrics

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func mustConditional(t testing.TB, r Responses) Calibration {
	t.Helper()
	c, err := Conditional(r)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestConditionalOnTheLawTest(t *testing.T) {
	c := mustConditional(t, lsat6(t))
	// Source: R eRm 1.0-2, RM(), on the data of Bock & Lieberman (1970).
	closeToAll(t, "difficulty", c.Difficulty, []float64{-1.2561, 0.4749, 1.2360, 0.1684, -0.6232}, 1e-4)
	closeToAll(t, "SE", c.SE, []float64{.1044, .0699, .0688, .0726, .0859}, 1e-4)
	closeTo(t, "conditional log-likelihood", c.LogLikelihood, -1091.57, 0.01)
	if c.People != 1000-3-298 {
		t.Errorf("%d informative people, want those with neither none (3) nor all (298) right", c.People)
	}
}

// Two items: the difference is the log odds of the two kinds of people who got
// exactly one right, with SE √(1/n₁ + 1/n₂).
func TestConditionalWithTwoItemsIsALogOdds(t *testing.T) {
	var rows []string
	for range 12 {
		rows = append(rows, "10")
	}
	for range 5 {
		rows = append(rows, "01")
	}
	rows = append(rows, "11", "00", "11")
	c := mustConditional(t, mustRows(t, rows...))
	d := math.Log(12.0 / 5)
	closeToAll(t, "difficulty", c.Difficulty, []float64{-d / 2, d / 2}, 1e-9)
	se := math.Sqrt(1.0/12+1.0/5) / 2
	closeToAll(t, "SE", c.SE, []float64{se, se}, 1e-9)
	closeTo(t, "log-likelihood", c.LogLikelihood, 12*math.Log(12.0/17)+5*math.Log(5.0/17), 1e-9)
}

func TestConditionalFindsTheDifficultiesThatMadeTheAnswers(t *testing.T) {
	for _, c := range []struct {
		name          string
		people, items int
		seen          float64
	}{
		{"everybody saw everything", 2000, 30, 1},
		{"everybody saw other items", 4000, 60, 0.25},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, _, b := simulate(11, c.people, c.items, 1.2, c.seen)
			got := mustConditional(t, r)
			// Errors over their SE are standard normal: the mean square over
			// k items is 1 ± 2·√(2/k) or so.
			sum := 0.0
			for i := range b {
				z := (got.Difficulty[i] - b[i]) / got.SE[i]
				sum += z * z / float64(c.items)
			}
			if limit := 3 * math.Sqrt(2/float64(c.items)); math.Abs(sum-1) > limit {
				t.Errorf("mean square of error over SE is %.2f, want 1 ± %.2f", sum, limit)
			}
		})
	}
}

// The gradient at the maximum is zero, by the likelihood itself and not by the
// code that climbs it.
func TestConditionalIsAMaximum(t *testing.T) {
	r, _, _ := simulate(12, 60, 6, 1, 0.8)
	c := mustConditional(t, r)
	value := directConditional(r, c.Difficulty)
	closeTo(t, "log-likelihood", c.LogLikelihood, value, 1e-9)
	const h = 1e-4
	for i := range c.Difficulty {
		up, down := slices.Clone(c.Difficulty), slices.Clone(c.Difficulty)
		up[i] += h
		down[i] -= h
		a, b := directConditional(r, up), directConditional(r, down)
		closeTo(t, "slope", (a-b)/(2*h), 0, 1e-5)
		if a > value || b > value {
			t.Errorf("moving item %d improves the likelihood", i)
		}
	}
}

// directConditional sums over all answer patterns with the same score.
func directConditional(r Responses, b []float64) float64 {
	ll := 0.0
	for v := range r.People() {
		var items []int
		for i, x := range r.Row(v) {
			if x >= 0 {
				items = append(items, i)
			}
		}
		right, _ := r.Score(v)
		own, all := 0.0, 0.0
		for set := range 1 << len(items) {
			sum, n, same := 0.0, 0, true
			for p, i := range items {
				x := int8(set >> p & 1)
				same = same && x == r.At(v, i)
				n += int(x)
				sum -= float64(x) * b[i]
			}
			if n == right {
				all += math.Exp(sum)
			}
			if same {
				own = math.Exp(sum)
			}
		}
		ll += math.Log(own / all)
	}
	return ll
}

func TestConditionalDoesNotDependOnOrder(t *testing.T) {
	r, _, _ := simulate(13, 300, 12, 1, 0.6)
	want := mustConditional(t, r)
	rng := rand.New(rand.NewPCG(1, 1))
	people, items := rng.Perm(300), rng.Perm(12)
	got := mustConditional(t, r.SelectPeople(people).SelectItems(items))
	for n, i := range items {
		closeTo(t, "difficulty", got.Difficulty[n], want.Difficulty[i], 1e-9)
		closeTo(t, "SE", got.SE[n], want.SE[i], 1e-8)
	}
	closeTo(t, "log-likelihood", got.LogLikelihood, want.LogLikelihood, 1e-8)
}

func TestConditionalEstimatesAreCentred(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		people, items := rapid.IntRange(20, 200).Draw(t, "people"), rapid.IntRange(2, 25).Draw(t, "items")
		r, _, _ := simulate(seed, people, items, rapid.Float64Range(0, 2).Draw(t, "sd"), rapid.Float64Range(0.3, 1).Draw(t, "seen"))
		c, err := Conditional(r)
		if err != nil {
			return // disconnected or constant by chance
		}
		sum := 0.0
		for _, i := range c.Estimated {
			sum += c.Difficulty[i]
			if !(c.SE[i] > 0) {
				t.Errorf("SE of item %d is %v", i, c.SE[i])
			}
			row := 0.0
			for _, j := range c.Estimated {
				row += c.Covariance.At(i, j)
			}
			if math.Abs(row) > 1e-7*(1+c.Covariance.At(i, i)) {
				t.Errorf("covariances of item %d sum to %v", i, row)
			}
		}
		if math.Abs(sum) > 1e-8 {
			t.Errorf("difficulties sum to %v", sum)
		}
	})
}

func TestConditionalLeavesOutItemsWithoutVariation(t *testing.T) {
	// Items 0 all right, 4 all wrong, 5 seen by nobody.
	r := mustRows(t, "11000.", "10100.", "10010.", "11100.", "10110.", "11010.")
	c := mustConditional(t, r)
	if !slices.Equal(c.Estimated, []int{1, 2, 3}) {
		t.Errorf("estimated %v, want 1, 2, 3", c.Estimated)
	}
	closeTo(t, "all right", c.Difficulty[0], math.Inf(-1), 0)
	closeTo(t, "all wrong", c.Difficulty[4], math.Inf(1), 0)
	closeTo(t, "nobody", c.Difficulty[5], math.NaN(), 0)
	for _, i := range []int{0, 4, 5} {
		closeTo(t, "SE", c.SE[i], math.NaN(), 0)
	}
	// With them the scores of people are one higher, which changes nothing.
	without := mustConditional(t, r.SelectItems([]int{1, 2, 3}))
	for n, i := range c.Estimated {
		closeTo(t, "difficulty", c.Difficulty[i], without.Difficulty[n], 1e-9)
	}
}

// Without item 2 (all right) the first two people have nothing but right
// answers, and then item 0 has only right answers too.
func TestConditionalLeavesOutItemsInTurn(t *testing.T) {
	r := mustRows(t, "1.1..", "1.1..", ".0110", ".0101", "..101", "..110")
	c := mustConditional(t, r)
	if !slices.Equal(c.Estimated, []int{3, 4}) {
		t.Errorf("estimated %v, want 3 and 4", c.Estimated)
	}
}

func TestConditionalRefusesWhatHasNoEstimate(t *testing.T) {
	_, err := Conditional(Responses{})
	wantError(t, err, ErrEmpty)
	_, err = Conditional(New(5, 5))
	wantError(t, err, ErrEmpty, "nobody answered")
	_, err = Conditional(mustRows(t, "111", "111"))
	wantError(t, err, ErrConstant)
	_, err = Conditional(mustRows(t, "000", "111"))
	wantError(t, err, ErrConstant)
	_, err = Conditional(mustRows(t, "1", "0"))
	wantError(t, err, ErrConstant)

	// Two groups of people with two items each and nothing in common.
	r := mustRows(t, "10..", "01..", "..10", "..01")
	r.Items = []string{"oil", "filter", "brake", "axle"}
	_, err = Conditional(r)
	wantError(t, err, ErrDisconnected, `2 groups: "oil", "filter" | "brake", "axle"`, "link them")

	// In common, but nobody right on the last two was ever wrong on the first
	// two: the difference could be anything (Fischer 1981).
	_, err = Conditional(mustRows(t, "1000", "0100", "1110", "1101"))
	wantError(t, err, ErrDisconnected, "item 1, item 2 | item 3, item 4")
}

func TestConditionalListsAFewOfManyGroups(t *testing.T) {
	// Eight pairs of people, each with items of their own; the first with nine.
	r := New(16+9, 16+7)
	for p := range 8 {
		r.Set(2*p, 2*p, 1)
		r.Set(2*p, 2*p+1, 0)
		r.Set(2*p+1, 2*p, 0)
		r.Set(2*p+1, 2*p+1, 1)
	}
	own := []int{0, 1, 16, 17, 18, 19, 20, 21, 22}
	for n := range own {
		for m, i := range own {
			x := int8(0)
			if m == n || m == (n+1)%9 {
				x = 1
			}
			r.Set(16+n, i, x)
		}
	}
	_, err := Conditional(r)
	wantError(t, err, ErrDisconnected, "8 groups: item 1, item 2, item 17, item 18, item 19, item 20 and 3 more | item 3, item 4 |", "item 11, item 12 and 2 more;")
}

func TestConditionalWithVeryDifferentItemsAndManyTies(t *testing.T) {
	// Twenty copies of three items: ties throughout.
	base, _, _ := simulate(14, 400, 3, 1, 1)
	columns := make([]int, 60)
	for i := range columns {
		columns[i] = i % 3
	}
	r := base.SelectItems(columns)
	// A few slips, so that copies are not one item.
	rng := rand.New(rand.NewPCG(2, 2))
	for v := range r.People() {
		for i := range r.ItemCount() {
			if rng.Float64() < 0.2 {
				r.Set(v, i, 1-r.At(v, i))
			}
		}
	}
	c := mustConditional(t, r)
	if c.Iterations > 12 {
		t.Errorf("%d iterations", c.Iterations)
	}
	// Items with the same number right have the same estimate.
	stats := ItemStatistics(r)
	for i := range stats {
		for j := range i {
			if stats[i].Right == stats[j].Right {
				closeTo(t, "difficulty of equals", c.Difficulty[i], c.Difficulty[j], 1e-9)
				closeTo(t, "SE of equals", c.SE[i], c.SE[j], 1e-9)
			}
		}
	}
}
