package psychometrics

import (
	"math"
	"testing"
)

func TestItemStatisticsOfTheLawTest(t *testing.T) {
	stats := ItemStatistics(lsat6(t))
	// Source: R psych 2.2.9, alpha(), on the data of Bock & Lieberman (1970).
	p := []float64{.924, .709, .553, .763, .870}
	rest := []float64{.1128, .1532, .1728, .1444, .1216}
	for i, s := range stats {
		closeTo(t, "p", s.P, p[i], 1e-12)
		closeTo(t, "item-rest r", s.ItemRest, rest[i], 5e-5)
		if s.Answered != 1000 {
			t.Errorf("item %d: %d answers", i+1, s.Answered)
		}
	}
}

func TestItemStatisticsByHand(t *testing.T) {
	// Rest scores of item 1: 2, 1, 0, 0 with answers 1, 1, 0, 0.
	s := ItemStatistics(mustRows(t, "111", "110", "000", "000"))[0]
	closeTo(t, "p", s.P, 0.5, 0)
	closeTo(t, "SD", s.SD, math.Sqrt(1.0/3), 1e-12)
	closeTo(t, "item-rest r", s.ItemRest, 3/math.Sqrt(11), 1e-12)
	closeTo(t, "item-total r", s.ItemTotal, 5/math.Sqrt(27), 1e-12)
	// The others: variances ⅓ and ¼, score 2, 1, 0, 0 with variance 11/12.
	closeTo(t, "alpha without", s.AlphaWithout, 2*(1-(7.0/12)/(11.0/12)), 1e-12)
}

func TestItemStatisticsOfItemsWithoutVariation(t *testing.T) {
	stats := ItemStatistics(mustRows(t, "101.", "100.", "101.", "100."))
	for i, want := range []float64{1, 0, 0.5, math.NaN()} {
		closeTo(t, "p", stats[i].P, want, 0)
	}
	for _, i := range []int{0, 1, 3} {
		closeTo(t, "item-total r", stats[i].ItemTotal, math.NaN(), 0)
		closeTo(t, "item-rest r", stats[i].ItemRest, math.NaN(), 0)
	}
	closeTo(t, "item-total r of the only item that varies", stats[2].ItemTotal, 1, 1e-12)
	closeTo(t, "its rest does not vary", stats[2].ItemRest, math.NaN(), 0)
}

func TestItemStatisticsOfNobodyAndOfOne(t *testing.T) {
	if got := ItemStatistics(Responses{}); len(got) != 0 {
		t.Errorf("statistics of nothing: %v", got)
	}
	for i, s := range ItemStatistics(mustRows(t, "10")) {
		closeTo(t, "p", s.P, float64(1-i), 0)
		closeTo(t, "SD of one answer", s.SD, math.NaN(), 0)
		closeTo(t, "r of one answer", s.ItemRest, math.NaN(), 0)
	}
}

func TestItemStatisticsUseTheItemsThatAPersonAnswered(t *testing.T) {
	// Item 1 with the share right of the others: 1→1, 1→½, 0→0; the last
	// person answered nothing else.
	s := ItemStatistics(mustRows(t, "11.", "110", "00.", "1.."))[0]
	if s.Answered != 4 || s.Right != 3 {
		t.Errorf("%d of %d right", s.Right, s.Answered)
	}
	closeTo(t, "item-rest r", s.ItemRest, 0.5/math.Sqrt(2.0/3*0.5), 1e-12)
}
