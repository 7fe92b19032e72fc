package grading

import (
	"math"
	"testing"
)

// 16 of 20 by hand (Wilson 1927, z = 1.96): the middle is
// (0.8 + 3.8416/40)/(1 + 3.8416/20) = 0.7517, half the width
// 1.96 √(0.16/20 + 3.8416/1600)/1.1921 = 0.1677.
func TestWhatToExpectOfAPerson(t *testing.T) {
	for _, c := range []struct {
		points float64
		of     int
		text   string
		close  bool // to 80 %
	}{
		{16, 20, "58 to 92 %", true},
		{15.83, 20, "58 to 92 %", true},
		{20, 20, "84 to 100 %", false},
		{19, 20, "76 to 99 %", true},
		{10, 20, "30 to 70 %", false},
		{11, 11, "too few to tell", true},
		{0, 0, "too few to tell", true},
	} {
		p := PersonResult{Points: c.points, Of: c.of}
		if got := p.ExpectText(); got != c.text {
			t.Errorf("%v of %d: %q, want %q", c.points, c.of, got, c.text)
		}
		if p.Close(0.8) != c.close {
			t.Errorf("%v of %d: close to 80 %%: %v", c.points, c.of, p.Close(0.8))
		}
		if low, high, _ := p.Expect(); math.IsNaN(low) || low > high {
			t.Errorf("%v of %d: %v to %v", c.points, c.of, low, high)
		}
	}
}
