package psychometrics

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// lsat6 is the five-question law test of Bock & Lieberman (1970), 1,000 people.
func lsat6(t testing.TB) Responses {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "published", "lsat6.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows [][]int8
	for _, rec := range records[1:] {
		n, err := strconv.Atoi(rec[1])
		if err != nil {
			t.Fatal(err)
		}
		row := make([]int8, len(rec[0]))
		for i, c := range rec[0] {
			row[i] = int8(c - '0')
		}
		for range n {
			rows = append(rows, row)
		}
	}
	r, err := FromRows(rows)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// closeTo fails the test unless got and want differ by at most tolerance. Two
// NaNs, or two infinities of one sign, are equal.
func closeTo(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if got == want || math.IsNaN(got) && math.IsNaN(want) {
		return
	}
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.8g, want %.8g ± %g", what, got, want, tolerance)
	}
}

func closeToAll(t testing.TB, what string, got, want []float64, tolerance float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%s has %d values, want %d", what, len(got), len(want))
		return
	}
	for i := range got {
		closeTo(t, what+" "+strconv.Itoa(i+1), got[i], want[i], tolerance)
	}
}
