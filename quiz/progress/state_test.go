package progress

import (
	"testing"

	"pgregory.net/rapid"
)

func TestStates(t *testing.T) {
	const aim = 0.8
	for name, c := range map[string]struct {
		p, high float64
		enough  bool
		want    State
	}{
		"reaches the aim":          {0.8, 0.97, true, Ready},
		"below it, within reach":   {0.7, 0.85, true, AtRisk},
		"even at best below it":    {0.7, 0.78, true, NotReady},
		"more likely to fail":      {0.45, 0.9, true, NotReady},
		"too few answers, so high": {0.95, 0.99, false, CannotBeTold},
		"too few answers, so low":  {0.05, 0.2, false, CannotBeTold},
	} {
		t.Run(name, func(t *testing.T) {
			if got := StateOf(c.p, c.high, c.enough, aim); got != c.want {
				t.Errorf("%s, want %s", got, c.want)
			}
		})
	}
	if got := StateOf(0.35, 0.5, true, 0.3); got != Ready {
		t.Errorf("an aim below even is reached: %s, want ready", got)
	}
}

// A better forecast never gives a worse state, whatever the aim.
func TestABetterForecastIsNeverAWorseState(t *testing.T) {
	rank := map[State]int{NotReady: 0, AtRisk: 1, Ready: 2}
	unit := rapid.Float64Range(0, 1)
	rapid.Check(t, func(t *rapid.T) {
		aim := rapid.Float64Range(0.05, 0.99).Draw(t, "aim")
		p, high := unit.Draw(t, "p"), unit.Draw(t, "high")
		up := func(x float64, name string) float64 { return x + (1-x)*unit.Draw(t, name) }
		worse := StateOf(p, high, true, aim)
		better := StateOf(up(p, "more"), up(high, "more high"), true, aim)
		if rank[better] < rank[worse] {
			t.Fatalf("%s became %s", worse, better)
		}
	})
}
