package api

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// ISO 8601 as xAPI 1.0.3, part two, 4.6 uses it; from memory.
func TestDurations(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0: "", -time.Second: "", 4 * time.Millisecond: "", 5 * time.Millisecond: "PT0.01S", 1500 * time.Millisecond: "PT1.5S", time.Minute: "PT1M",
		time.Hour: "PT1H", 90*time.Minute + 250*time.Millisecond: "PT1H30M0.25S", 49 * time.Hour: "PT49H",
	} {
		if got := duration(d); got != want {
			t.Errorf("%v: %s, want %s", d, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		d := time.Duration(rapid.Int64Range(int64(10*time.Millisecond), int64(1000*time.Hour)).Draw(t, "d"))
		// Package time reads the same notation in small letters.
		back, err := time.ParseDuration(strings.ToLower(strings.TrimPrefix(duration(d), "PT")))
		if err != nil || (back-d).Abs() > 5*time.Millisecond {
			t.Fatalf("%v is %s, which is %v, %v", d, duration(d), back, err)
		}
	})
}

func TestIfNoneMatch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tag := `W/"` + strconv.Itoa(rapid.IntRange(0, 9).Draw(t, "tag")) + `"`
		have := rapid.SliceOf(rapid.SampledFrom([]string{`W/"1"`, `"2"`, `W/"3"`, `"4"`})).Draw(t, "have")
		want := false
		for _, h := range have {
			want = want || strings.TrimPrefix(h, "W/") == strings.TrimPrefix(tag, "W/")
		}
		if got := matches([]string{strings.Join(have, ", ")}, tag); got != want {
			t.Fatalf("%s among %v: %v", tag, have, got)
		}
	})
}
