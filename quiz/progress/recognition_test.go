package progress

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rightpage/banks/resolver"
)

func TestGrowthIsJudgedWithItsUncertainty(t *testing.T) {
	names := func(list []Judged) (out []string) {
		for _, j := range list {
			out = append(out, j.Person)
		}
		return out
	}
	for name, c := range map[string]struct {
		list []Growth
		want []string
	}{
		"what stands out, not the largest, is first": {
			[]Growth{{"lucky", 1.6, 1.6}, {"sure", 1.2, 0.2}, {"a", 0.1, 0.3}, {"b", 0, 0.3}, {"c", -0.1, 0.3}},
			[]string{"sure", "lucky", "a", "b", "c"}},
		"as sure: by size": {
			[]Growth{{"a", 0.2, 0.3}, {"b", 0.4, 0.3}, {"c", 0.3, 0.3}}, []string{"b", "c", "a"}},
		"two are judged each by itself": {
			[]Growth{{"a", 1, 0.9}, {"b", 0.5, 0.1}}, []string{"b", "a"}},
		"what cannot be used is left out": {
			[]Growth{{"a", 1, 0}, {"b", math.NaN(), 1}, {"c", 1, 1}, {"d", math.Inf(1), 1}, {"e", 1, math.Inf(1)}}, []string{"c"}},
		"nobody": {nil, nil},
	} {
		t.Run(name, func(t *testing.T) {
			if d := cmp.Diff(c.want, names(Judge(c.list))); d != "" {
				t.Error(d)
			}
		})
	}
}

// Eight schools: effects and standard errors of Rubin (1981), J. Educational
// Statistics 6. The common mean is near 8 and the standard deviation of true
// effects a few points (Gelman et al. 2013, Bayesian Data Analysis, 3rd ed.,
// ch. 5; from memory), so that no school stands out.
func TestNoneOfTheEightSchoolsStandsOut(t *testing.T) {
	judged := Judge([]Growth{{"A", 28, 15}, {"B", 8, 10}, {"C", -3, 16}, {"D", 7, 11}, {"E", -1, 9}, {"F", 1, 11}, {"G", 18, 10}, {"H", 12, 18}})
	mean, variance := common(judged)
	if tau := math.Sqrt(variance); mean < 7 || mean > 9 || tau < 2 || tau > 12 {
		t.Errorf("mean %.1f, τ %.1f; want about 8 and a few points", mean, tau)
	}
	if judged[0].Z >= StandsOut {
		t.Errorf("school %s stands out with %.2f", judged[0].Person, judged[0].Z)
	}
}

func TestJudging(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 12).Draw(t, "n")
		list := make([]Growth, n)
		for i := range list {
			list[i] = Growth{fmt.Sprintf("p%02d", i), rapid.Float64Range(-3, 3).Draw(t, "g"), rapid.Float64Range(0.05, 2).Draw(t, "se")}
		}
		judged := Judge(list)
		for i, j := range judged {
			if i > 0 && judged[i-1].Z < j.Z || math.IsNaN(j.Z) {
				t.Fatalf("%v stands before %v", judged[i-1], j)
			}
		}
		// The order in which people come does not matter.
		other := slices.Clone(list)
		slices.Reverse(other)
		if d := cmp.Diff(judged, Judge(other)); d != "" {
			t.Fatal(d)
		}
	})
}

// answered gives answers at a step: n of them, right ones first.
func answered(step resolver.Step, right, n int) []Answer {
	list := make([]Answer, n)
	for i := range list {
		list[i].Marks = []StepMark{{step, i < right}}
	}
	return list
}

func TestMostImprovedStep(t *testing.T) {
	all := slices.Concat[[]Answer]
	edition, group := resolver.EditionStep, resolver.GroupStep
	people := []Compared{
		{"veteran", answered(edition, 85, 100), answered(edition, 49, 50)},
		{"beginner", answered(edition, 30, 60), answered(edition, 30, 40)},
		{"lucky", answered(edition, 9, 12), answered(edition, 12, 12)},
		{"same", answered(edition, 70, 100), answered(edition, 35, 50)},
		{"worse", answered(edition, 40, 50), answered(edition, 15, 30)},
		{"both", all(answered(edition, 20, 40), answered(group, 10, 40)), all(answered(edition, 26, 40), answered(group, 36, 40))},
		{"too few", answered(edition, 0, 11), answered(edition, 11, 11)},
	}
	for i := range 12 { // most people grow a little
		people = append(people, Compared{fmt.Sprintf("usual %d", i), answered(edition, 40+i, 80), answered(edition, 22+i/2, 40)})
		people = append(people, Compared{fmt.Sprintf("other %d", i), answered(group, 40+i, 80), answered(group, 22+i/2, 40)})
	}
	got := MostImproved(people)
	var names []string
	for _, g := range got {
		names = append(names, g.Person)
		if g.Person == "both" && g.Step != group {
			t.Errorf("both is named for %v, want the step of most growth", g.Step)
		}
	}
	for _, never := range []string{"worse", "too few", "same"} {
		if slices.Contains(names, never) {
			t.Errorf("%s is recognised: %v", never, names)
		}
	}
	if !slices.Contains(names, "veteran") || slices.Contains(names, "lucky") {
		t.Errorf("recognised: %v; want the veteran, from 85 to 98 %%, and nobody for twelve lucky answers", names)
	}
}

// Two sites, one of 16 beginners who answer little and one of 4 experienced
// people who answer much. All grow alike in log odds, but for one in four, who
// grow more. In the long run each site has its share of the named, within
// what chance explains: neither size nor experience nor diligence is an
// advantage of its own.
func TestRecognitionIsFairToSites(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 8))
	draw := func(logit float64, n int) []Answer {
		list := make([]Answer, n)
		for i := range list {
			list[i].Marks = []StepMark{{resolver.EditionStep, rng.Float64() < 1/(1+math.Exp(-logit))}}
		}
		return list
	}
	named, deserved := map[string]int{}, map[string]int{}
	const rounds = 600
	total := 0
	for range rounds {
		var people []Compared
		grows := map[string]bool{}
		for i := range 20 {
			site, level, n := "large", -0.2, 30
			if i >= 16 {
				site, level, n = "small", 1.2, 60
			}
			id := fmt.Sprintf("%s-%02d", site, i)
			growth := 0.2
			if i%4 == 0 {
				growth, grows[id] = 1.6, true
			}
			people = append(people, Compared{id, draw(level, 3*n), draw(level+growth, n)})
		}
		for _, g := range MostImproved(people)[:1] {
			total++
			named[g.Person[:5]]++
			if grows[g.Person] {
				deserved[g.Person[:5]]++
			}
		}
	}
	// Four of the large site and one of the small deserve it: of a fair rule
	// one in five of the named works at the small site.
	share := float64(named["small"]) / float64(total)
	if share < 0.10 || share > 0.35 {
		t.Errorf("the small site has %.2f of the named, want about 0.20", share)
	}
	if right := float64(deserved["small"]+deserved["large"]) / float64(total); right < 0.9 {
		t.Errorf("only %.2f of the named had grown more than the others", right)
	}
	t.Logf("small site %.3f of the named", share)
}

func chases(n int, seconds, points float64) []Answer {
	list := make([]Answer, n)
	for i := range list {
		// Alternately a little quicker and slower.
		s := seconds * math.Exp(0.3*float64(i%2*2-1))
		list[i] = Answer{Skill: ChaseSkill, Spent: time.Duration(s * float64(time.Second)), Points: points}
	}
	return list
}

func TestQuickerLookups(t *testing.T) {
	people := []Compared{
		{"quicker", chases(10, 300, 0.9), chases(8, 180, 0.95)},
		{"hurried", chases(10, 300, 0.95), chases(8, 100, 0.55)},
		{"wrong", chases(10, 300, 0.9), chases(8, 60, 0.2)},
		{"same", chases(10, 250, 0.9), chases(8, 250, 0.9)},
		{"slower", chases(10, 200, 0.9), chases(8, 260, 0.9)},
		{"few", chases(3, 300, 0.9), chases(3, 100, 0.9)},
		{"paper", chases(10, 0, 0.9), chases(8, 0, 0.9)},
	}
	for i := range 8 { // most people stay as they are, more or less
		people = append(people, Compared{fmt.Sprintf("usual %d", i), chases(9, 240, 0.9), chases(9, 225+5*float64(i), 0.9)})
	}
	got := Quicker(people)
	if len(got) != 1 || got[0].Person != "quicker" {
		t.Fatalf("recognised: %+v; want the one who is quicker and no less right", got)
	}
	if g := got[0]; math.Round(g.Before) != 300 || math.Round(g.After) != 180 || g.Chases != 8 {
		t.Errorf("from %v to %v over %d, want 300 to 180 over 8", g.Before, g.After, g.Chases)
	}
	if Quicker(nil) != nil {
		t.Error("nobody is quicker than nobody")
	}
}

func TestWeeksPractisedInAMonth(t *testing.T) {
	// February 2031 has the weeks that end on Sunday 2, 9, 16 and 23; the one
	// that ends on 2 March is March's.
	start := time.Date(2031, 2, 1, 0, 0, 0, 0, time.UTC)
	end := start.AddDate(0, 1, 0)
	early := time.Date(2030, 1, 1, 0, 0, 0, 0, time.UTC)
	january := []Answer{}
	for range 5 {
		january = append(january, Answer{At: time.Date(2031, 1, 29, 9, 0, 0, 0, time.UTC)})
	}
	for name, c := range map[string]struct {
		answers   []Answer
		came, now time.Time
		weeks, of int
	}{
		"each week":              {append(january, inWeeks(5, 6, 7)...), early, end, 4, 4},
		"one missed":             {append(january, inWeeks(5, 4, 7)...), early, end, 3, 4},
		"came in the third week": {inWeeks(0, 5, 7), time.Date(2031, 2, 12, 0, 0, 0, 0, time.UTC), end, 2, 2},
		"the month is not over":  {append(january, inWeeks(5)...), early, time.Date(2031, 2, 12, 0, 0, 0, 0, time.UTC), 2, 2},
		"nothing":                {nil, early, end, 0, 4},
	} {
		t.Run(name, func(t *testing.T) {
			got := steadyIn("p", c.answers, nil, start, end, c.came, c.now)
			if got.Weeks != c.weeks || got.Of != c.of {
				t.Errorf("%d of %d weeks, want %d of %d", got.Weeks, got.Of, c.weeks, c.of)
			}
		})
	}
	kept := Steadiest([]Steady{{"b", 4, 4, 60}, {"a", 4, 4, 20}, {"c", 3, 4, 200}, {"d", 1, 1, 9}})
	if len(kept) != 2 || kept[0].Person != "a" || kept[1].Person != "b" {
		t.Errorf("named: %+v; want a and b, who practised each week of several", kept)
	}
}
