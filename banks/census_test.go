package banks_test

import (
	"bytes"
	"context"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/kinds"
	"rightpage/banks/resolver"
)

// quillan is the demo catalog of engines, which is small enough to try every
// site of it.
var quillan = sync.OnceValues(func() (*banks.Source, error) {
	c, err := catalog.Load("../testdata/quillan")
	if err != nil {
		return nil, err
	}
	return banks.NewSource(resolver.New(c)), nil
})

func smallSource(tb testing.TB) *banks.Source {
	tb.Helper()
	src, err := quillan()
	if err != nil {
		tb.Fatal(err)
	}
	return src
}

func someKinds(tb testing.TB, names ...string) []banks.Kind {
	tb.Helper()
	var out []banks.Kind
	for _, name := range names {
		k, ok := kinds.Find(name)
		if !ok {
			tb.Fatalf("there is no kind %s", name)
		}
		out = append(out, k)
	}
	return out
}

func takeCensus(tb testing.TB, list []banks.Kind, o banks.CensusOptions) *banks.Census {
	tb.Helper()
	c, err := banks.TakeCensus(context.Background(), smallSource(tb), list, o)
	if err != nil {
		tb.Fatal(err)
	}
	return c
}

// What the census counts is what the generator gives when it is asked for more
// questions than there are.
func TestCensusCountsWhatCanBeMade(t *testing.T) {
	list := someKinds(t, "job-class", "due", "edition", "specification")
	var shares []banks.Share
	for i := range list {
		shares = append(shares, banks.Share{Kind: &list[i], Weight: 1})
	}
	byKind, byGroup, byModel, byPublication := map[string]int{}, map[string]int{}, map[string]int{}, map[string]int{}
	var tally banks.Tally
	n := 0
	_, err := banks.Generate(context.Background(), smallSource(t), banks.Plan{Seed: 3, Size: 1 << 20, Shares: shares}, func(q *banks.Question, _ []byte) bool {
		byKind[q.Kind]++
		byModel[q.About.Model]++
		byPublication[q.About.Publication]++
		for _, g := range append([]string{q.About.Group}, q.About.Within...) {
			byGroup[g]++
		}
		if n++; n%3 == 0 {
			tally.Add(q)
		}
		return true
	})
	if err != nil {
		t.Fatal(err)
	}
	c := takeCensus(t, list, banks.CensusOptions{Seed: 3, Taken: &tally})
	for _, d := range []struct {
		name  string
		lines []banks.CensusLine
		want  map[string]int
	}{{"kind", c.Kinds, byKind}, {"group", c.Groups, byGroup}, {"model", c.Models, byModel}, {"publication", c.Publications, byPublication}} {
		taken := 0
		for _, l := range d.lines {
			if !l.Questions.Exact || l.Questions.Value != d.want[l.Name] || l.Questions.Low != l.Questions.Value || l.Questions.High != l.Questions.Value {
				t.Errorf("%s %s: %+v, want %d", d.name, l.Name, l.Questions, d.want[l.Name])
			}
			taken += l.Taken
		}
		if d.name == "kind" && taken != n/3 {
			t.Errorf("%d taken, want %d", taken, n/3)
		}
	}
}

// An estimate says that it is one, and its interval covers the truth about as
// often as it promises: 95 times in 100; at least 88 of 100 here, which chance
// misses once in two hundred times (binomial).
func TestCensusEstimatesHonestly(t *testing.T) {
	list := someKinds(t, "due")
	truth := takeCensus(t, list, banks.CensusOptions{NoReach: true}).Kinds[0].Questions.Value
	covered, off := 0, 0
	for seed := range uint64(100) {
		c := takeCensus(t, list, banks.CensusOptions{Seed: seed, NoReach: true, Limit: 100, Sample: 80, Workers: 1}).Kinds[0]
		if c.Questions.Exact {
			t.Fatalf("%d of %d sites tried are called exact", 80, c.Sites)
		}
		if c.Questions.Low <= truth && truth <= c.Questions.High {
			covered++
		}
		off += c.Questions.Value - truth
	}
	if covered < 88 {
		t.Errorf("the interval covers the truth in %d of 100 samples", covered)
	}
	if mean := float64(off) / 100; mean < -25 || mean > 25 {
		t.Errorf("the estimates of %d are off by %.1f in the mean", truth, mean)
	}
}

// Records that are not reached are found without trying every site, and are the
// same ones as when every site is tried.
func TestReachIsThatOfAllSites(t *testing.T) {
	list := someKinds(t, "location", "specification", "next-step", "trouble-code")
	all := takeCensus(t, list, banks.CensusOptions{Limit: 1 << 30})
	few := takeCensus(t, list, banks.CensusOptions{Limit: 50, Sample: 20})
	for i, r := range all.Reach {
		if !r.Certain {
			t.Errorf("%s is not certain, though every site was tried", r.Table)
		}
		if f := few.Reach[i]; f.Certain {
			if diff := cmp.Diff(r.Missed, f.Missed); diff != "" {
				t.Errorf("%s: with a sample other records are not reached:\n%s", r.Table, diff)
			}
		}
		switch r.Table {
		case "procedure":
			// A few procedures can never be the answer, since another one
			// replaces them; nearly all are.
			if r.Reached < r.Records*99/100 || r.Reached == r.Records {
				t.Errorf("%d of %d procedures are reached", r.Reached, r.Records)
			}
		case "operation":
			if r.Reached != 0 {
				t.Errorf("%d operations are reached, though no kind asks for one", r.Reached)
			}
		}
		if len(r.Missed) != min(r.Records-r.Reached, banks.MissedListed) {
			t.Errorf("%s: %d keys listed for %d records", r.Table, len(r.Missed), r.Records-r.Reached)
		}
	}
}

func TestCensusDoesNotDependOnTheNumberOfWorkers(t *testing.T) {
	list := someKinds(t, "edition", "location", "latest")
	var first *banks.Census
	for _, workers := range []int{1, 2, 7} {
		c := takeCensus(t, list, banks.CensusOptions{Seed: 9, Workers: workers, Limit: 500, Sample: 200})
		if first == nil {
			first = c
		}
		if diff := cmp.Diff(first, c); diff != "" {
			t.Errorf("with %d workers:\n%s", workers, diff)
		}
	}
}

func TestCensusCanBeStopped(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := banks.TakeCensus(ctx, smallSource(t), kinds.All(), banks.CensusOptions{}); err == nil {
		t.Error("it goes on after the context is done")
	}
}

func TestCensusText(t *testing.T) {
	c := banks.Census{
		Catalog: "Engines", Revision: "18",
		Kinds:        []banks.CensusLine{{Name: "location", Sites: 12821, Limits: 6829, Questions: banks.Count{Value: 12757, Low: 12708, High: 12785}, Taken: 50}},
		Skills:       []banks.CensusLine{{Name: "locations", Questions: banks.Count{Value: 1318, Low: 1318, High: 1318, Exact: true}, Taken: 50}},
		Groups:       []banks.CensusLine{{Name: "A", Questions: banks.Count{Value: 5, Exact: true}, Taken: 5}, {Name: "B", Questions: banks.Count{Value: 4, Exact: true}}, {Name: "C", Questions: banks.Count{Exact: true}}},
		Publications: []banks.CensusLine{{Name: "TR-1", Questions: banks.Count{Value: 5, Exact: true}, Taken: 5}},
		Reach: []banks.Reach{
			{Table: "procedure", Records: 1920, Reached: 1919, Certain: true, Missed: []string{"P-7"}},
			{Table: "bulletin", Records: 3, Reached: 1, Missed: []string{"N-1", "N-2"}},
			{Table: "test", Records: 30, Certain: true, Missed: strings.Fields(strings.Repeat("t ", 30))},
			{Table: "model", Records: 2, Reached: 2, Certain: true},
		},
	}
	var b bytes.Buffer
	if err := c.WriteText(&b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"Questions in Engines, revision 18",
		"12,821       6,829  about 12,757 (12,708 to 12,785)     50",
		"locations ", " 1,318     50",
		"Groups: 2 of 3 with questions; without: C; not in the bank: B",
		"Publications: 1 of 1 with questions",
		"procedure  1 of 1,920: P-7",
		"bulletin   2 of 3, as far as tried: N-1, N-2",
		"test       30 of 30: t, t, t, t, t, t, t, t and 22 more",
		"model      none",
	} {
		if !slices.ContainsFunc(strings.Split(b.String(), "\n"), func(l string) bool { return strings.Contains(l, want) }) {
			t.Errorf("the text does not say %q:\n%s", want, b.String())
		}
	}
}
