package catalog

import (
	"testing"
	"time"
)

// Every day that a catalog can name counts as time.Date counts it.
func TestDaysAgainstTime(t *testing.T) {
	for d := time.Date(1900, 1, 1, 0, 0, 0, 0, time.UTC); d.Year() < 2200; d = d.AddDate(0, 0, 1) {
		y, m, n := d.Date()
		if got, want := dayOf(y, int(m), n), Day(d.Unix()/86400); d.Unix() >= 0 && got != want {
			t.Fatalf("%s is day %d, want %d", d.Format(time.DateOnly), got, want)
		} else if back := got.Date(); int(back.Year) != y || int(back.Month) != int(m) || int(back.Day) != n {
			t.Fatalf("%s comes back as %s", d.Format(time.DateOnly), back)
		}
		if want := time.Date(y, m+1, 0, 0, 0, 0, 0, time.UTC).Day(); daysIn(y, int(m)) != want {
			t.Fatalf("%d-%02d has %d days, want %d", y, m, daysIn(y, int(m)), want)
		}
	}
}
