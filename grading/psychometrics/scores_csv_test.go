package psychometrics

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestReadScores(t *testing.T) {
	for _, c := range []struct{ name, in string }{
		{"plain", "person,q1,q2,q3\nAda,1,0,\nBo,0,,1\n"},
		{"spaces and quotes", " person , q1, \"q2\", q3\n\n Ada , 1 ,\" 0\",\n \"Bo\", 0,  ,1"},
		{"semicolons, byte order mark, returns", "\uFEFFperson;q1;q2;q3\r\nAda;1;0;\r\nBo;0;;1\r\n"},
		{"tabs and empty cells between them", "person\tq1\tq2\tq3\nAda\t1\t0\t\nBo\t0\t\t1\n"},
		{"comments, empty columns, short rows", "person,q1,# site,q2,q3,,\nAda,1,north,0\nBo,0,south,,1,,\n,,,,,,\n"},
		{"as a spreadsheet writes numbers", "person,q1,q2,q3\nAda,1.0,0.0,\nBo,0,,1.0\n"},
		{"and elsewhere", "person;q1;q2;q3\nAda;1,0;0,0;\nBo;0;;1\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := ReadScores(strings.NewReader(c.in))
			if err != nil {
				t.Fatal(err)
			}
			if !slices.Equal(r.Items, []string{"q1", "q2", "q3"}) || !slices.Equal(r.Persons, []string{"Ada", "Bo"}) {
				t.Fatalf("items %q, people %q", r.Items, r.Persons)
			}
			if !slices.Equal(r.Row(0), []int8{1, 0, Missing}) || !slices.Equal(r.Row(1), []int8{0, Missing, 1}) {
				t.Errorf("%v %v", r.Row(0), r.Row(1))
			}
		})
	}
}

func TestReadScoresSaysWhereAndHowToMend(t *testing.T) {
	for _, c := range []struct {
		name, in string
		want     error
		words    []string
	}{
		{"another value", "person,q1,q2\nAda,1,2\n", ErrRange,
			[]string{`row 2, column 3, "q2": "2" is not an answer; write 1 for right, 0 for wrong, or nothing`}},
		{"a letter, after a blank line", "person,q1\n\nAda,x\n", ErrRange, []string{`row 3, column 2, "q1": "x"`}},
		{"a line break in a cell", "person,q1\n\"A\nda\",1\nBo,y\n", ErrRange, []string{`row 4, column 2`}},
		{"no name", "person,q1,,q3\nAda,1,1,0\n", ErrShape, []string{"row 1, column 3", "no name"}},
		{"one name twice", "person,q1,q2,q1\nAda,1,1,0\n", ErrShape, []string{`row 1, column 4, "q1"`, "column 2 has the same name"}},
		{"a value too many", "person,q1\nAda,1\nBo,0,1\n", ErrShape, []string{"row 3, column 3", "no column"}},
		{"an open quotation mark", "person,q1\nAda,1\n\"Bo,0\nCy,1\n", ErrShape, []string{"row 3", "quotation mark"}},
		{"a space after a quotation mark", "person,q1\n\"Ada\" ,1\n", ErrShape, []string{"row 2", "without spaces outside"}},
		{"another encoding", "person,q1\nJ\xf6rg,1\n", ErrShape, []string{"row 2, column 1", "UTF-8"}},
		{"no people", "person,q1\n", ErrEmpty, []string{"no row of answers"}},
		{"no questions", "person\nAda\n", ErrEmpty, []string{"no column of answers", "separated by commas"}},
		{"only comments", "person,#a\nAda,1\n", ErrEmpty, []string{"no column of answers"}},
		{"nothing", "", ErrEmpty, []string{"the file is empty"}},
		{"blank lines", "\n \n,,\n", ErrEmpty, []string{"the file is empty"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := ReadScores(strings.NewReader(c.in))
			wantError(t, err, c.want, c.words...)
			var place *DataError
			if !errors.As(err, &place) || place.Mend == "" {
				t.Errorf("%v says no remedy", err)
			}
		})
	}
}

func TestReadScoresReportsEverythingAtOnce(t *testing.T) {
	_, err := ReadScores(strings.NewReader("person,q1,q2\nAda,5,1\nBo,1,no\nCy,?,?\n"))
	wantError(t, err, ErrRange, "row 2, column 2", "row 3, column 3", "row 4, column 2", "row 4, column 3")
	var in strings.Builder
	in.WriteString("person,q1\n")
	for v := range 200 {
		fmt.Fprintf(&in, "p%d,x\n", v)
	}
	_, err = ReadScores(strings.NewReader(in.String()))
	wantError(t, err, ErrRange, "row 51, column 2", "and 150 more problems")
}

type brokenReader struct{}

func (brokenReader) Read([]byte) (int, error) { return 0, errBroken }

var errBroken = errors.New("cable pulled")

func TestReadScoresPassesOnErrorsOfReading(t *testing.T) {
	if _, err := ReadScores(brokenReader{}); !errors.Is(err, errBroken) {
		t.Errorf("error %v", err)
	}
}

func TestScoresComeBackFromTheirFile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		people, items := rapid.IntRange(1, 12).Draw(t, "people"), rapid.IntRange(1, 8).Draw(t, "items")
		want := New(people, items)
		for v := range people {
			for i := range items {
				want.Set(v, i, int8(rapid.IntRange(-1, 1).Draw(t, "x")))
			}
		}
		got, err := ReadScores(bytes.NewReader(scoresCSV(want)))
		if err != nil {
			t.Fatal(err)
		}
		for v := range people {
			if !slices.Equal(got.Row(v), want.Row(v)) {
				t.Errorf("row %d: %v, want %v", v, got.Row(v), want.Row(v))
			}
		}
	})
}

func FuzzReadScores(f *testing.F) {
	f.Add("person,q1,q2,q3\nAda,1,0,\nBo,0,,1\nCy,1,1,0\n")
	f.Add("\uFEFFperson;q1;#c;\"q 2\"\r\nAda;1,0;x;0\r\n")
	f.Add("p\tq\n\t\n\"\"\"\t1\n")
	f.Fuzz(func(t *testing.T, in string) {
		r, err := ReadScores(strings.NewReader(in))
		if err != nil {
			return
		}
		if r.People() == 0 || r.ItemCount() == 0 || len(r.Persons) != r.People() || len(r.Items) != r.ItemCount() {
			t.Fatalf("%d × %d with %d and %d labels", r.People(), r.ItemCount(), len(r.Persons), len(r.Items))
		}
		s, err := Summarize(r)
		if err != nil && !errors.Is(err, ErrEmpty) {
			t.Fatal(err)
		}
		if err == nil && (len(s.ItemRows) != r.ItemCount() || len(s.PersonRows) != r.People()) {
			t.Fatal("rows are missing from the summary")
		}
	})
}
