package psychometrics

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
)

func mustSummary(t testing.TB, r Responses) Summary {
	t.Helper()
	s, err := Summarize(r)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestSummaryOfTheLawTest(t *testing.T) {
	s := mustSummary(t, lsat6(t))
	// Sources as in the tests of each figure.
	closeTo(t, "KR-20", float64(s.Alpha), 0.2950, 5e-5)
	closeTo(t, "mean", float64(s.Mean), .924+.709+.553+.763+.870, 1e-12)
	closeTo(t, "log-likelihood", float64(s.LogLikelihood), -1091.57, 0.01)
	for i, want := range []float64{-1.2561, 0.4749, 1.2360, 0.1684, -0.6232} {
		closeTo(t, "difficulty", float64(s.ItemRows[i].Difficulty), want, 1e-4)
	}
	if s.People != 1000 || s.Items != 5 || s.Answers != 5000 || s.Missing != 0 || s.Complete != 1000 ||
		s.Lowest != 0 || s.Highest != 5 || s.Informative != 1000-3-298 || len(s.Notes) != 0 {
		s.ItemRows, s.PersonRows = nil, nil
		t.Errorf("%+v", s)
	}
	closeTo(t, "SEM", float64(s.SEM), StandardError(float64(s.SD), float64(s.Alpha)), 1e-9)
	if s.AndersenDF != 4 || !(s.AndersenP > 0 && s.AndersenP < 1) {
		t.Errorf("Andersen df %d, p %v", s.AndersenDF, s.AndersenP)
	}
	last := s.PersonRows[999] // all right
	if last.Right != 5 || last.Percent != 100 || !finite(float64(last.Ability)) || finite(float64(last.Infit)) {
		t.Errorf("all right: %+v", last)
	}
}

func TestSummaryKeepsLabels(t *testing.T) {
	r, err := ReadScores(strings.NewReader("person,oil,filter\nAda,1,0\n,0,1\nCy,,1\n"))
	if err != nil {
		t.Fatal(err)
	}
	s := mustSummary(t, r)
	if s.ItemRows[1].Item != "filter" || s.PersonRows[0].Person != "Ada" || s.PersonRows[1].Person != "person 2" {
		t.Errorf("%+v", s)
	}
	if bare := mustSummary(t, mustRows(t, "10", "01")); bare.ItemRows[1].Item != "item 2" || bare.PersonRows[1].Person != "person 2" {
		t.Errorf("%+v", bare)
	}
}

func TestSummarySaysWhatItCouldNotCompute(t *testing.T) {
	for _, c := range []struct {
		name  string
		rows  []string
		words []string
	}{
		{"everybody saw other questions", []string{"10..", "01..", "..10", "..01"},
			[]string{"Nobody answered every question", "the same two people", "No difficulties and abilities", "not linked"}},
		{"all alike", []string{"11", "11"}, []string{"Alpha needs two questions and scores that differ", "no variation"}},
		{"one question that all got right", []string{"1100", "1010", "1001", "1110"}, []string{"1 of 4 questions have no difficulty"}},
		{"one person", []string{"10"}, []string{"No difficulties"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := mustSummary(t, mustRows(t, c.rows...))
			all := strings.Join(s.Notes, "\n")
			for _, w := range c.words {
				if !strings.Contains(all, w) {
					t.Errorf("notes do not say %q:\n%s", w, all)
				}
			}
			if len(s.ItemRows) != len(c.rows[0]) || len(s.PersonRows) != len(c.rows) {
				t.Errorf("%d items and %d people in the tables", len(s.ItemRows), len(s.PersonRows))
			}
		})
	}
	_, err := Summarize(Responses{})
	wantError(t, err, ErrEmpty)
	_, err = Summarize(New(3, 4))
	wantError(t, err, ErrEmpty, "3 people and 4 items without an answer")
}

func TestSummaryAsJSONHasNullForWhatIsUndefined(t *testing.T) {
	s := mustSummary(t, mustRows(t, "110", "101", "100", "11."))
	data, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`"people":4`, `"itemRest":null`, `"missing":1`, `"notes":[`} {
		if !strings.Contains(string(data), want) {
			t.Errorf("%s is not in %s", want, data)
		}
	}
	var back Summary
	if err := json.Unmarshal(data, &back); err != nil {
		t.Fatal(err)
	}
	if !math.IsNaN(float64(back.ItemRows[0].Difficulty)) || back.ItemRows[1].P != s.ItemRows[1].P {
		t.Errorf("%+v", back.ItemRows)
	}
}

func TestSummaryTables(t *testing.T) {
	s := mustSummary(t, mustRows(t, "1100", "1010", "1001", "1110", "1011"))
	for name, table := range map[string][][]string{"items": s.ItemTable(), "people": s.PersonTable()} {
		for n, row := range table {
			if len(row) != len(table[0]) {
				t.Errorf("%s: row %d has %d cells under %d names", name, n, len(row), len(table[0]))
			}
			for _, cell := range row {
				if strings.Contains(cell, "NaN") || strings.Contains(cell, "Inf") {
					t.Errorf("%s: row %d shows %s", name, n, cell)
				}
			}
		}
	}
	if got := s.ItemTable()[1][:4]; strings.Join(got, " ") != "item 1 5 5 1.000" {
		t.Errorf("first item: %v", got)
	}
	if len(s.ItemTable()) != 5 || len(s.PersonTable()) != 6 {
		t.Error("a row per item and person, and a header")
	}
	for _, row := range s.TestTable() {
		if len(row) != 2 {
			t.Errorf("%v is not a name and a value", row)
		}
	}
	for x, want := range map[float64]string{-0.001: "0.00", 1.005: "1.00", math.NaN(): "", math.Inf(1): ""} {
		if got := Number(x).text(2); got != want {
			t.Errorf("%v is written %q, want %q", x, got, want)
		}
	}
}
