package psychometrics

import (
	"bufio"
	"compress/gzip"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// Everything in testdata/reference was made by the R scripts beside it; its
// README says with which versions.

func referencePath(name string) string {
	return filepath.Join("..", "..", "testdata", "reference", name)
}

// referenceAnswers reads one line per person and one character per item: 0, 1,
// or anything else for missing.
func referenceAnswers(t testing.TB, name string) Responses {
	t.Helper()
	f, err := os.Open(referencePath(name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines := bufio.NewScanner(f)
	if strings.HasSuffix(name, ".gz") {
		z, err := gzip.NewReader(f)
		if err != nil {
			t.Fatal(err)
		}
		lines = bufio.NewScanner(z)
	}
	var rows [][]int8
	for lines.Scan() {
		row := make([]int8, len(lines.Text()))
		for i, c := range lines.Bytes() {
			switch c {
			case '0', '1':
				row[i] = int8(c - '0')
			default:
				row[i] = Missing
			}
		}
		rows = append(rows, row)
	}
	if err := lines.Err(); err != nil {
		t.Fatal(err)
	}
	r, err := FromRows(rows)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func referenceJSON(t testing.TB, name string, into any) {
	t.Helper()
	data, err := os.ReadFile(referencePath(name))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, into); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}

// What compare.R recorded.
type (
	raschRecord struct {
		Difficulty, SE []float64
		LogLik         float64
	}
	classicalRecord struct {
		Alpha, Low, High float64
		P, SD            []float64
		ItemTotal        []float64 `json:"item_total"`
		ItemRest         []float64 `json:"item_rest"`
		ItemRestShare    []float64 `json:"item_rest_share"`
		AlphaWithout     []float64 `json:"alpha_without"`
	}
	fitRecord struct {
		Outfit, Infit []float64
		OutfitZ       []float64 `json:"outfit_z"`
		InfitZ        []float64 `json:"infit_z"`
		PersonOutfit  []float64 `json:"person_outfit"`
		PersonInfit   []float64 `json:"person_infit"`
		Theta         []float64
		ThetaSE       []float64 `json:"theta_se"`
	}
	andersenRecord struct {
		LR, P     float64
		DF, Items int
	}
	lltmRecord struct {
		W           [][]float64
		Eta, SE     []float64
		LogLik      float64
		RaschLogLik float64 `json:"rasch_loglik"`
	}
	dataRecord struct {
		Rasch             *raschRecord
		Classical         *classicalRecord
		Fit               *fitRecord
		Andersen          *andersenRecord
		AndersenGender    *andersenRecord `json:"andersen_gender"`
		AndersenAlternate *andersenRecord `json:"andersen_alternate"`
		LLTM              *lltmRecord
		Gender            []int
		Items             []string
		Psychotools       *raschRecord
		TrueDifficulty    []float64 `json:"true_difficulty"`
	}
)

// eachReference runs a check on the data sets named; NAME.txt has the answers.
func eachReference(t *testing.T, names []string, check func(t *testing.T, r Responses, want dataRecord)) {
	t.Helper()
	var all map[string]json.RawMessage
	referenceJSON(t, "results.json", &all)
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			raw, found := all[name]
			if !found {
				t.Fatalf("results.json has no %s", name)
			}
			var want dataRecord
			if err := json.Unmarshal(raw, &want); err != nil {
				t.Fatal(err)
			}
			check(t, referenceAnswers(t, name+".txt"), want)
		})
	}
}

// Source: R eRm 1.0-2, RM(); for simulated data also psychotools 0.7-2,
// raschmodel().
func TestConditionalAgreesWithR(t *testing.T) {
	names := []string{"raschdat1", "lltmdat1", "lltmdat2", "ability", "verbalaggression", "simulated_forms", "simulated_random"}
	eachReference(t, names, func(t *testing.T, r Responses, want dataRecord) {
		got, err := Conditional(r)
		if err != nil {
			t.Fatal(err)
		}
		// eRm stops on a relative change of the likelihood, which leaves up to
		// 1e-4 in the estimates.
		if want.Rasch == nil && want.Psychotools == nil {
			t.Fatal("nothing recorded")
		}
		if w := want.Rasch; w != nil {
			closeToAll(t, "difficulty", got.Difficulty, w.Difficulty, 1e-4)
			closeToAll(t, "SE", got.SE, w.SE, 1e-4)
			closeTo(t, "log-likelihood", got.LogLikelihood, w.LogLik, 1e-4)
		}
		if p := want.Psychotools; p != nil {
			closeToAll(t, "psychotools difficulty", got.Difficulty, p.Difficulty, 1e-5)
			closeToAll(t, "psychotools SE", got.SE, p.SE, 1e-5)
			closeTo(t, "psychotools log-likelihood", got.LogLikelihood, p.LogLik, 1e-5)
		}
	})
}

// Source: R psych 2.2.9, alpha() and alpha.ci(); the correlation with the share
// right of the other items where answers are missing: R, cor().
func TestClassicalStatisticsAgreeWithPsych(t *testing.T) {
	names := []string{"raschdat1", "ability", "verbalaggression", "simulated_forms", "simulated_random"}
	eachReference(t, names, func(t *testing.T, r Responses, want dataRecord) {
		c := want.Classical
		if c == nil {
			t.Fatal("nothing recorded")
		}
		stats := ItemStatistics(r)
		column := func(f func(ItemStatistic) float64) []float64 {
			var out []float64
			for _, s := range stats {
				out = append(out, f(s))
			}
			return out
		}
		closeToAll(t, "p", column(func(s ItemStatistic) float64 { return s.P }), c.P, 1e-10)
		closeToAll(t, "SD", column(func(s ItemStatistic) float64 { return s.SD }), c.SD, 1e-10)
		closeToAll(t, "item-total", column(func(s ItemStatistic) float64 { return s.ItemTotal }), c.ItemTotal, 1e-10)
		rest := column(func(s ItemStatistic) float64 { return s.ItemRest })
		closeToAll(t, "item-rest", rest, c.ItemRestShare, 1e-10)
		if r.Complete() {
			closeToAll(t, "item-rest", rest, c.ItemRest, 1e-10)
		}
		closeToAll(t, "alpha without", column(func(s ItemStatistic) float64 { return s.AlphaWithout }), c.AlphaWithout, 1e-10)
		a := Alpha(r, 0.95)
		closeTo(t, "alpha", a.Alpha, c.Alpha, 1e-10)
		if r.Complete() {
			closeTo(t, "lower bound", a.Low, c.Low, 1e-8)
			closeTo(t, "upper bound", a.High, c.High, 1e-8)
		}
	})
}

// Source: R eRm 1.0-2, person.parameter(), itemfit(), personfit(); they leave
// out people with none or all right.
func TestFitAgreesWithERm(t *testing.T) {
	eachReference(t, []string{"raschdat1", "verbalaggression"}, func(t *testing.T, r Responses, want dataRecord) {
		w := want.Fit
		if w == nil {
			t.Fatal("nothing recorded")
		}
		c, err := Conditional(r)
		if err != nil {
			t.Fatal(err)
		}
		able, err := Abilities(r, c.Difficulty, ML)
		if err != nil {
			t.Fatal(err)
		}
		theta := make([]float64, len(able))
		var inside []int
		for v, a := range able {
			theta[v] = a.Theta
			if finite(a.Theta) {
				inside = append(inside, v)
			}
		}
		fit, err := Fit(r, c.Difficulty, theta)
		if err != nil {
			t.Fatal(err)
		}
		for i, f := range fit.Items {
			closeTo(t, "outfit", f.Outfit, w.Outfit[i], 1e-4)
			closeTo(t, "infit", f.Infit, w.Infit[i], 1e-4)
			closeTo(t, "outfit z", f.OutfitZ, w.OutfitZ[i], 1e-3)
			closeTo(t, "infit z", f.InfitZ, w.InfitZ[i], 1e-3)
		}
		if len(inside) != len(w.PersonOutfit) {
			t.Fatalf("%d people with an estimate, want %d", len(inside), len(w.PersonOutfit))
		}
		for n, v := range inside {
			closeTo(t, "person outfit", fit.People[v].Outfit, w.PersonOutfit[n], 1e-3)
			closeTo(t, "person infit", fit.People[v].Infit, w.PersonInfit[n], 1e-3)
			closeTo(t, "theta", able[v].Theta, w.Theta[n], 1e-4)
			// eRm differentiates numerically, which shows at the extremes.
			closeTo(t, "SE of theta", able[v].SE, w.ThetaSE[n], 5e-4)
		}
	})
}

// aboveMedian is how LRtest() splits by default.
func aboveMedian(r Responses) []int {
	scores := make([]int, r.People())
	for v := range scores {
		scores[v], _ = r.Score(v)
	}
	sorted := slices.Sorted(slices.Values(scores))
	n := len(sorted)
	for v, x := range scores {
		scores[v] = 0
		if 2*x > sorted[(n-1)/2]+sorted[n/2] {
			scores[v] = 1
		}
	}
	return scores
}

// Source: R eRm 1.0-2, LRtest().
func TestAndersenAgreesWithERm(t *testing.T) {
	eachReference(t, []string{"raschdat1", "ability", "verbalaggression"}, func(t *testing.T, r Responses, want dataRecord) {
		alternate := make([]int, r.People())
		for v := range alternate {
			alternate[v] = v % 2
		}
		checked := false
		for _, c := range []struct {
			split string
			group []int
			want  *andersenRecord
		}{
			{"median", aboveMedian(r), want.Andersen},
			{"gender", want.Gender, want.AndersenGender},
			{"alternate", alternate, want.AndersenAlternate},
		} {
			if c.want == nil {
				continue
			}
			checked = true
			got, err := Andersen(r, c.group)
			if err != nil {
				t.Fatal(err)
			}
			closeTo(t, c.split+" LR", got.LR, c.want.LR, 1e-3)
			closeTo(t, c.split+" p", got.P, c.want.P, 1e-4)
			if got.DF != c.want.DF || len(got.Items) != c.want.Items {
				t.Errorf("%s: df %d on %d items, want %d on %d", c.split, got.DF, len(got.Items), c.want.DF, c.want.Items)
			}
		}
		if !checked {
			t.Fatal("nothing recorded")
		}
	})
}

// Source: R eRm 1.0-2, LLTM() on its own data sets and on the verbal aggression
// data of De Boeck & Wilson (2004), Explanatory Item Response Models, from
// psychotools. eRm's parameters are of easiness, ours of difficulty.
func TestLLTMAgreesWithERm(t *testing.T) {
	eachReference(t, []string{"lltmdat1", "lltmdat2", "verbalaggression"}, func(t *testing.T, r Responses, want dataRecord) {
		w := want.LLTM
		if w == nil {
			t.Fatal("nothing recorded")
		}
		got, err := FitLLTM(r, w.W)
		if err != nil {
			t.Fatal(err)
		}
		for f := range w.Eta {
			closeTo(t, "weight", got.Weight[f], -w.Eta[f], 1e-4)
			closeTo(t, "SE", got.SE[f], w.SE[f], 1e-4)
		}
		closeTo(t, "log-likelihood", got.LogLikelihood, w.LogLik, 1e-4)
		if df := r.ItemCount() - 1 - len(w.Eta); df > 0 {
			closeTo(t, "LR", got.LR, 2*(w.RaschLogLik-w.LogLik), 1e-3)
			if got.DF != df {
				t.Errorf("df = %d, want %d", got.DF, df)
			}
		}
	})
}

type speedRecord struct {
	Seconds    float64
	Difficulty []float64
	SE         []float64
	LogLik     float64
}

// Source: R eRm 1.0-2, RM(), on 10,000 simulated people × 60 items.
func TestConditionalAgreesWithERmOnTenThousandPeople(t *testing.T) {
	var want speedRecord
	referenceJSON(t, "speed-erm.json", &want)
	c, err := Conditional(referenceAnswers(t, "speed-answers.txt.gz"))
	if err != nil {
		t.Fatal(err)
	}
	closeToAll(t, "difficulty", c.Difficulty, want.Difficulty, 1e-4)
	closeToAll(t, "SE", c.SE, want.SE, 1e-4)
	closeTo(t, "log-likelihood", c.LogLikelihood, want.LogLik, 1e-3)
}

// Source: R eRm 1.0-2, RM(), on the first 200 of 2,000 simulated people who each
// miss other items at random.
func TestConditionalAgreesWithERmWhenEverybodySeesOtherItems(t *testing.T) {
	var want struct {
		People int
		raschRecord
	}
	referenceJSON(t, "simulated_random_erm.json", &want)
	first := make([]int, want.People)
	for v := range first {
		first[v] = v
	}
	c, err := Conditional(referenceAnswers(t, "simulated_random.txt").SelectPeople(first))
	if err != nil {
		t.Fatal(err)
	}
	closeToAll(t, "difficulty", c.Difficulty, want.Difficulty, 1e-4)
	closeToAll(t, "SE", c.SE, want.SE, 1e-4)
	closeTo(t, "log-likelihood", c.LogLikelihood, want.LogLik, 1e-4)
}

func BenchmarkConditional10000x60(b *testing.B) {
	var erm speedRecord
	referenceJSON(b, "speed-erm.json", &erm)
	r := referenceAnswers(b, "speed-answers.txt.gz")
	for b.Loop() {
		if _, err := Conditional(r); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(erm.Seconds/(b.Elapsed().Seconds()/float64(b.N)), "times-eRm")
}
