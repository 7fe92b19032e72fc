package psychometrics

import (
	"bytes"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

var missing = math.NaN()

func page(observed []float64, percent ...[]float64) JudgePage {
	p := JudgePage{Percent: percent}
	for i := range percent[0] {
		q := JudgedQuestion{ID: string(rune('a' + i)), Observed: missing}
		if observed != nil {
			q.Observed = observed[i]
		}
		p.Questions = append(p.Questions, q)
	}
	for j := range percent {
		p.Judges = append(p.Judges, string(rune('P'+j)))
	}
	return p
}

// Worked by hand: cuts of the judges 2.0, 2.3 and 2.6 of 4, SD 0.3.
func TestAngoffByHand(t *testing.T) {
	got, err := Angoff(page(nil,
		[]float64{40, 50, 50, 60},
		[]float64{60, 50, 50, 70},
		[]float64{80, 50, 60, 70}), 0.95)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "cut", got.Right, 2.3, 1e-12)
	closeTo(t, "in percent", got.Percent, 57.5, 1e-12)
	closeTo(t, "SE", got.SE, 0.3/math.Sqrt(3), 1e-12)
	// t with 2 degrees of freedom, 97.5 %: 4.302653 (any table of t).
	closeTo(t, "lower bound", got.Low, 2.3-4.302653*0.3/math.Sqrt(3), 1e-6)
	for j, want := range []float64{2.0, 2.3, 2.6} {
		closeTo(t, "cut of a judge", got.Judges[j].Right, want, 1e-12)
		closeTo(t, "leniency", got.Judges[j].Leniency, 100*(2.3-want)/4, 1e-9)
	}
	if !slices.Equal(got.Discuss, []int{0, 2, 3, 1}) {
		t.Errorf("questions to discuss: %v; the judges differ most on the first, not at all on the second", got.Discuss)
	}
	closeTo(t, "mean of a question", got.Questions[0].Mean, 60, 1e-12)
	closeTo(t, "SD of a question", got.Questions[0].SD, 20, 1e-12)
}

func TestAngoffFillsMissingRatingsFromTheOtherJudges(t *testing.T) {
	// The second judge is 10 points above the first on what both rated.
	got, err := Angoff(page(nil,
		[]float64{40, 50, 60, 70},
		[]float64{50, 60, 70, missing}), 0.95)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "cut of the second judge", got.Judges[1].Right, 0.5+0.6+0.7+0.8, 1e-12)
	closeTo(t, "cut", got.Right, 0.45+0.55+0.65+0.70, 1e-12)
	if got.Judges[1].Rated != 3 || got.Questions[3].Ratings != 1 || !math.IsNaN(got.Questions[3].SD) {
		t.Errorf("%+v, %+v", got.Judges[1], got.Questions[3])
	}
	if slices.Contains(got.Discuss, 3) {
		t.Error("a question with one rating has nothing to discuss")
	}
	high, err := Angoff(page(nil, []float64{60, 95}, []float64{95, missing}), 0.95)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "never above 100 %", high.Judges[1].Right, 1.95, 1e-12)
}

func TestAngoffComparesJudgesWithOthersAndWithFacts(t *testing.T) {
	got, err := Angoff(page([]float64{20, 40, 60, 80},
		[]float64{25, 45, 65, 85},
		[]float64{30, 50, 70, 90},
		[]float64{80, 60, 40, 20}), 0.95)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "realism", got.Judges[0].Realism, 1, 1e-12)
	closeTo(t, "realism of the contrary judge", got.Judges[2].Realism, -1, 1e-12)
	closeTo(t, "agreement of the contrary judge", got.Judges[2].Agreement, -1, 1e-12)
}

func TestAngoffWithOneJudgeHasNoError(t *testing.T) {
	got, err := Angoff(page(nil, []float64{40, 60}), 0.95)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "cut", got.Right, 1, 1e-12)
	closeTo(t, "SE", got.SE, math.NaN(), 0)
	closeTo(t, "agreement", got.Judges[0].Agreement, math.NaN(), 0)
	same, err := Angoff(page(nil, []float64{40, 60}, []float64{40, 60}), 0.95)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "SE of judges who agree", same.SE, 0, 0)
}

func TestAngoffRefuses(t *testing.T) {
	_, err := Angoff(JudgePage{}, 0.95)
	wantError(t, err, ErrEmpty)
	p := page(nil, []float64{40, 101})
	_, err = Angoff(p, 0.95)
	wantError(t, err, ErrRange, "row 2", "column 1", `"P"`, "rating 101", "0 to 100")
	_, err = Angoff(page(nil, []float64{40, 50}, []float64{missing, missing}), 0.95)
	wantError(t, err, ErrEmpty, `"Q"`, "no ratings")
	_, err = Angoff(page(nil, []float64{40, missing}), 0.95)
	wantError(t, err, ErrEmpty, "row 2", "nobody rated")
	p = page(nil, []float64{40, 50})
	p.Percent[0] = p.Percent[0][:1]
	_, err = Angoff(p, 0.95)
	wantError(t, err, ErrShape, "1 ratings for 2 questions")
}

func TestJudgePageComesBackFromItsFile(t *testing.T) {
	want := JudgePage{
		Questions: []JudgedQuestion{
			{ID: "q1", Text: "Which publication, for a loader built in May?", Observed: 62.5},
			{ID: "=2+3", Text: "'tis \"quoted\", with a comma", Observed: missing},
			{ID: "-q3", Text: "two\nlines", Observed: 0},
		},
		Judges:  []string{"Ada", "@home"},
		Percent: [][]float64{{40, missing, 66.6}, {100, 0, missing}},
	}
	var b bytes.Buffer
	if err := WriteJudgePage(&b, want); err != nil {
		t.Fatal(err)
	}
	for _, cell := range []string{",'@home", "\n'=2+3", "'-q3"} {
		if !strings.Contains(b.String(), cell) {
			t.Errorf("%q is not guarded in\n%s", cell, b.String())
		}
	}
	got, err := ReadJudgePage(&b)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, got, cmpopts.EquateNaNs()); d != "" {
		t.Error(d)
	}
}

func TestJudgePageSurvivesAnyText(t *testing.T) {
	text := rapid.StringMatching(`[a-zA-Z0-9=+'"@;,. %-]{0,12}[a-z]`)
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5).Draw(t, "questions")
		want := JudgePage{Judges: []string{"one", "two"}, Percent: make([][]float64, 2)}
		for range n {
			want.Questions = append(want.Questions, JudgedQuestion{
				ID: strings.TrimSpace(text.Draw(t, "id")), Text: strings.TrimSpace(text.Draw(t, "text")), Observed: missing})
		}
		for j := range want.Percent {
			for range n {
				want.Percent[j] = append(want.Percent[j], float64(rapid.IntRange(2, 100).Draw(t, "percent")))
			}
		}
		var b bytes.Buffer
		if err := WriteJudgePage(&b, want); err != nil {
			t.Fatal(err)
		}
		got, err := ReadJudgePage(bytes.NewReader(b.Bytes()))
		if err != nil {
			t.Fatalf("%v in\n%s", err, b.String())
		}
		if d := cmp.Diff(want, got, cmpopts.EquateNaNs()); d != "" {
			t.Errorf("%s\nin\n%s", d, b.String())
		}
	})
}

func TestAnEmptyPageCanBeHandedOut(t *testing.T) {
	var b bytes.Buffer
	if err := WriteJudgePage(&b, JudgePage{Questions: []JudgedQuestion{{ID: "q1", Text: "What next?", Observed: missing}}}); err != nil {
		t.Fatal(err)
	}
	if want := "question,text,judge 1\nq1,What next?,\n"; b.String() != want {
		t.Errorf("wrote %q, want %q", b.String(), want)
	}
	_, err := ReadJudgePage(&b)
	wantError(t, err, ErrEmpty, "1 questions and 0 judges")
}

func TestReadJudgePageIsForgiving(t *testing.T) {
	in := "\uFEFFQuestion;Ada ;Bo;absent;\r\n q1; 40 %;55,5; ;\r\n\r\nq2;;70;;\r\n"
	got, err := ReadJudgePage(strings.NewReader(in))
	if err != nil {
		t.Fatal(err)
	}
	want := JudgePage{
		Questions: []JudgedQuestion{{ID: "q1", Observed: missing}, {ID: "q2", Observed: missing}},
		Judges:    []string{"Ada", "Bo"},
		Percent:   [][]float64{{40, missing}, {55.5, 70}},
	}
	if d := cmp.Diff(want, got, cmpopts.EquateNaNs()); d != "" {
		t.Error(d)
	}
}

func TestReadJudgePageReportsEverythingAtOnce(t *testing.T) {
	_, err := ReadJudgePage(strings.NewReader("question,Ada,Bo\nq1,forty,0.4\nq2,50,0.55\nq3,120,0.6\n"))
	wantError(t, err, ErrRange,
		`row 2, column 2, "Ada": "forty" is not a percentage; give a number from 0 to 100`,
		`row 4, column 2, "Ada": "120" is not a percentage`,
		`column 3, "Bo": all ratings are at most 1 %, which looks like fractions; write 65 for 65 %`)
	var joined interface{ Unwrap() []error }
	if !errors.As(err, &joined) || len(joined.Unwrap()) != 3 {
		t.Errorf("not three problems: %v", err)
	}
	_, err = ReadJudgePage(strings.NewReader("item,Ada\nq1,40\n"))
	wantError(t, err, ErrShape, `no column is named "question"`)
	_, err = ReadJudgePage(strings.NewReader(""))
	wantError(t, err, ErrEmpty)
}

func TestWriteJudgePageRefusesRatingsThatDoNotFit(t *testing.T) {
	p := page(nil, []float64{40, 50})
	p.Percent = append(p.Percent, []float64{1, 2})
	wantError(t, WriteJudgePage(&bytes.Buffer{}, p), ErrShape, "2 rows of ratings for 1 judges")
	p = page(nil, []float64{40, 50})
	p.Percent[0] = p.Percent[0][:1]
	wantError(t, WriteJudgePage(&bytes.Buffer{}, p), ErrShape)
}

func FuzzReadJudgePage(f *testing.F) {
	f.Add("question,text,Ada,Bo\nq1,What next?,40,55\nq2,,60 %,\n")
	f.Add("\uFEFFquestion;observed %;Ada\nq1;70;0,4\n")
	f.Add("question\t\"Ada\"\nq1\t101\n'=x\t-1\n")
	f.Fuzz(func(t *testing.T, in string) {
		p, err := ReadJudgePage(strings.NewReader(in))
		if err != nil {
			return
		}
		if len(p.Percent) != len(p.Judges) {
			t.Fatalf("%d rows for %d judges", len(p.Percent), len(p.Judges))
		}
		c, err := Angoff(p, 0.95)
		if err == nil && !(c.Percent >= 0 && c.Percent <= 100+1e-9) {
			t.Fatalf("cut at %v %%", c.Percent)
		}
	})
}
