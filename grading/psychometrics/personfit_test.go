package psychometrics

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

func raschAnswers(theta float64, b []float64, rng *rand.Rand) []int8 {
	x := make([]int8, len(b))
	for i := range b {
		if rng.Float64() < Probability(theta, b[i]) {
			x[i] = 1
		}
	}
	return x
}

// lz* written out term by term from Snijders (2001), eqs 8–13, with the
// estimating function of Warm's estimate (Magis, Raîche & Béland 2012, J.
// Educational and Behavioral Statistics 37), not simplified for the Rasch model.
func longhandLZ(x []int8, b []float64, theta float64) float64 {
	n := float64(len(b))
	var sumPw, sumPr, info, j float64
	for i := range b {
		p := Probability(theta, b[i])
		d1 := p * (1 - p)             // P′
		d2 := p * (1 - p) * (1 - 2*p) // P″
		r := d1 / (p * (1 - p))
		sumPw += d1 * math.Log(p/(1-p))
		sumPr += d1 * r
		info += d1 * d1 / (p * (1 - p))
		j += d1 * d2 / (p * (1 - p))
	}
	c := sumPw / sumPr
	r0 := j / (2 * info)
	w, tau := 0.0, 0.0
	for i := range b {
		p := Probability(theta, b[i])
		lw := math.Log(p / (1 - p))
		w += (float64(x[i]) - p) * lw
		tilde := lw - c
		tau += tilde * tilde * p * (1 - p)
	}
	return (w + c*r0) / (math.Sqrt(n) * math.Sqrt(tau/n))
}

func TestLZEqualsTheFormulaWrittenOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 30).Draw(t, "questions")
		b, x := make([]float64, n), make([]int8, n)
		for i := range b {
			b[i] = rapid.Float64Range(-3, 3).Draw(t, "difficulty")
			x[i] = int8(rapid.IntRange(0, 1).Draw(t, "answer"))
		}
		f, err := FitPerson(x, b, 0, nil)
		if err != nil {
			t.Fatal(err)
		}
		if math.IsNaN(f.LZ) {
			return
		}
		if want := longhandLZ(x, b, f.Ability.Theta); math.Abs(f.LZ-want) > 1e-6*(1+math.Abs(want)) {
			t.Fatalf("lz* = %v, written out %v", f.LZ, want)
		}
	})
}

func spreadDifficulties(n int) []float64 {
	b := make([]float64, n)
	for i := range b {
		b[i] = -2 + 4*float64(i)/float64(n-1)
	}
	return b
}

// The false-alarm rates and the power that the comments state.
func TestPersonFitFalseAlarms(t *testing.T) {
	const people = 2000
	rate := func(n, draws int, answers func(b []float64, rng *rand.Rand) []int8) float64 {
		rng := rand.New(rand.NewPCG(41, uint64(n)))
		b := spreadDifficulties(n)
		low, all := 0.0, 0.0
		runs := people
		if draws > 0 {
			runs = people / 2
		}
		for range runs {
			f, err := FitPerson(answers(b, rng), b, draws, rng)
			if err != nil {
				t.Fatal(err)
			}
			if math.IsNaN(f.P) {
				continue
			}
			all++
			if f.P <= 0.05 {
				low++
			}
		}
		return low / all
	}
	usual := func(b []float64, rng *rand.Rand) []int8 { return raschAnswers(rng.NormFloat64(), b, rng) }
	guesser := func(b []float64, rng *rand.Rand) []int8 {
		x := make([]int8, len(b))
		for i := range x {
			if rng.Float64() < 0.5 {
				x[i] = 1
			}
		}
		return x
	}
	for _, n := range []int{8, MinFitAnswers, 40} {
		normal, drawn := rate(n, 0, usual), rate(n, 199, usual)
		power := rate(n, 199, guesser)
		t.Logf("%d questions, nominal 0.05: normal %.3f, by draws %.3f; answers at random are noticed %.3f", n, normal, drawn, power)
		// 1,000 people: ± 0.014 is two standard errors.
		if drawn > 0.065 {
			t.Errorf("%d questions: false-alarm rate by draws is %v", n, drawn)
		}
		if n >= MinFitAnswers && normal > 0.075 {
			t.Errorf("%d questions: false-alarm rate by the normal distribution is %v", n, normal)
		}
		if n == MinFitAnswers && power < 0.65 || n < MinFitAnswers && power > 0.5 {
			t.Errorf("%d questions: answers at random are noticed %v of the time, which does not fit MinFitAnswers", n, power)
		}
	}
}

// Drawing patterns given the number right gives each pattern its conditional
// probability, which for few questions can be listed.
func TestPatternSampler(t *testing.T) {
	b := []float64{-1.5, -0.5, 0.3, 1.2, 2}
	rng := rand.New(rand.NewPCG(42, 1))
	const draws = 40000
	for right := 1; right < 5; right++ {
		want, total := map[int]float64{}, 0.0
		for pattern := range 32 {
			n, w := 0, 1.0
			for i := range b {
				if pattern>>i&1 == 1 {
					n++
					w *= math.Exp(-b[i])
				}
			}
			if n == right {
				want[pattern] = w
				total += w
			}
		}
		got := map[int]float64{}
		x := make([]bool, 5)
		s := newPatternSampler(b, 0.7, right)
		for range draws {
			s.draw(x, rng)
			pattern := 0
			for i, r := range x {
				if r {
					pattern |= 1 << i
				}
			}
			got[pattern]++
		}
		for pattern, w := range want {
			p := w / total
			near(t, "share of a pattern", got[pattern]/draws, p, 4*math.Sqrt(p*(1-p)/draws))
			delete(got, pattern)
		}
		if len(got) > 0 {
			t.Errorf("patterns with another number right: %v", got)
		}
	}
}

func TestFitPersonOnPoorData(t *testing.T) {
	rng := rand.New(rand.NewPCG(43, 1))
	b := spreadDifficulties(20)
	usual := raschAnswers(0.2, b, rng)
	f, err := FitPerson(usual, b, 99, rng)
	if err != nil || !f.Enough || !(f.P > 0 && f.P <= 1) {
		t.Errorf("%+v, %v", f, err)
	}
	// Hard questions right and easy ones wrong.
	backwards := make([]int8, 20)
	for i := 10; i < 20; i++ {
		backwards[i] = 1
	}
	if f, _ := FitPerson(backwards, b, 999, rng); f.P > 0.002 || f.LZ > -4 {
		t.Errorf("backwards: %+v", f)
	}
	all := make([]int8, 20)
	for i := range all {
		all[i] = 1
	}
	missing := make([]int8, 20)
	for i := range missing {
		missing[i] = Missing
	}
	flat := make([]float64, 20)
	for name, c := range map[string]struct {
		x []int8
		b []float64
	}{"all right": {all, b}, "all wrong": {make([]int8, 20), b}, "no answers": {missing, b}, "one difficulty": {usual, flat}} {
		f, err := FitPerson(c.x, c.b, 9, rng)
		if err != nil || !math.IsNaN(f.LZ) || !math.IsNaN(f.P) || f.Enough {
			t.Errorf("%s: %+v, %v", name, f, err)
		}
	}
	holes := append([]int8(nil), usual...)
	holes[3] = Missing
	nan := append([]float64(nil), b...)
	nan[4] = math.NaN()
	if f, err := FitPerson(holes, nan, 0, nil); err != nil || f.Ability.Answered != 18 || math.IsNaN(f.LZ) {
		t.Errorf("a missing answer and an uncalibrated question: %+v, %v", f, err)
	}
	if f, _ := FitPerson(usual[:8], b[:8], 0, nil); f.Enough {
		t.Errorf("eight answers are too few: %+v", f)
	}
	if _, err := FitPerson(usual, b[1:], 0, nil); !errors.Is(err, ErrShape) {
		t.Errorf("lengths: %v", err)
	}
	if _, err := FitPerson(usual, b, 5, nil); !errors.Is(err, ErrRange) {
		t.Errorf("draws without rng: %v", err)
	}
}

// examRoom simulates a check of four-option questions whose wrong options each
// come from one of six slips. Everybody leans to one slip, strength times as
// often as to another. Copiers take over that share of the answers of the
// person before them.
func examRoom(people, questions int, strength float64, copiers int, copied float64, rng *rand.Rand) OptionChoices {
	c := OptionChoices{Key: make([]int, questions), Options: make([]int, questions)}
	for i := range questions {
		c.Key[i], c.Options[i] = rng.IntN(4), 4
		c.Difficulty = append(c.Difficulty, -0.5+rng.NormFloat64())
		slips := []int{-1, -1, -1, -1}
		order := rng.Perm(6)
		for o := range slips {
			if o != c.Key[i] {
				slips[o] = order[o]
			}
		}
		c.Slips = append(c.Slips, slips)
	}
	for v := range people {
		theta, favourite := rng.NormFloat64(), rng.IntN(6)
		row := make([]int, questions)
		for i := range row {
			if v >= people-copiers && rng.Float64() < copied {
				row[i] = c.Choices[v-copiers][i]
				continue
			}
			if rng.Float64() < Probability(theta, c.Difficulty[i]) {
				row[i] = c.Key[i]
				continue
			}
			var w [4]float64
			total := 0.0
			for o, s := range c.Slips[i] {
				if s >= 0 {
					w[o] = 1
					if s == favourite {
						w[o] = strength
					}
					total += w[o]
				}
			}
			u := rng.Float64() * total
			for o := range w {
				if u -= w[o]; u < 0 {
					row[i] = o
					break
				}
			}
		}
		c.Choices = append(c.Choices, row)
	}
	return c
}

// Measured rates of the "look again" list: pairs listed though everybody worked
// alone, with and without shared misconceptions, and copiers found.
func TestFindAlikeFalseAlarms(t *testing.T) {
	const rooms = 12
	type rates struct{ at01, at001, lists, found float64 }
	measure := func(strength float64, slips bool, copied float64) rates {
		var r rates
		pairs := 0.0
		for seed := range rooms {
			copiers := 0
			if copied > 0 {
				copiers = 5
			}
			c := examRoom(40, 40, strength, copiers, copied, rand.New(rand.NewPCG(51, uint64(seed))))
			if !slips {
				c.Slips = nil
			}
			all, err := comparePairs(c)
			if err != nil {
				t.Fatal(err)
			}
			for _, p := range all {
				if copied > 0 && p.B >= 35 && p.A == p.B-5 {
					continue
				}
				pairs++
				if p.P <= 0.01 {
					r.at01++
				}
				if p.P <= 0.001 {
					r.at001++
				}
			}
			s, err := FindAlike(c, 0.05)
			if err != nil {
				t.Fatal(err)
			}
			for _, p := range s.Pairs {
				if copied > 0 && p.B >= 35 && p.A == p.B-5 {
					r.found += 1.0 / (5 * rooms)
				} else {
					r.lists += 1.0 / rooms
				}
			}
		}
		r.at01 /= pairs
		r.at001 /= pairs
		return r
	}
	near(t, "13 agreements", math.Pow(0.55, MinCommonAnswers), 0.0004, 0.00005)
	alone := measure(1, true, 0)
	shared := measure(8, true, 0)
	naive := measure(8, false, 0)
	half := measure(8, true, 0.5)
	t.Logf("nominal 0.01 and 0.001: no leanings %.4f %.4f; shared slips %.4f %.4f; shared slips ignored %.4f %.4f",
		alone.at01, alone.at001, shared.at01, shared.at001, naive.at01, naive.at001)
	t.Logf("pairs listed wrongly per screening of 780 pairs, 0.05 intended: %.2f, %.2f, %.2f; half of the answers copied: %.2f found, %.2f listed wrongly",
		alone.lists, shared.lists, naive.lists, half.found, half.lists)
	if alone.at01 > 0.01 || alone.at001 > 0.001 {
		t.Errorf("false-alarm rates without leanings: %+v", alone)
	}
	if shared.at01 > 0.01 || shared.at001 > 0.001 {
		t.Errorf("false-alarm rates with shared slips: %+v", shared)
	}
	if naive.at001 < 2*shared.at001 {
		t.Errorf("ignoring slips gives %v, knowing them %v; the correction does nothing", naive.at001, shared.at001)
	}
	if half.found < 0.4 {
		t.Errorf("only %v of the copiers are found", half.found)
	}
}

func TestUpperTail(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SliceOfN(rapid.Float64Range(0, 1), 0, 8).Draw(t, "p")
		h := rapid.IntRange(0, len(p)).Draw(t, "h")
		want := 0.0
		for pattern := range 1 << len(p) {
			n, w := 0, 1.0
			for i, q := range p {
				if pattern>>i&1 == 1 {
					n++
					w *= q
				} else {
					w *= 1 - q
				}
			}
			if n >= h {
				want += w
			}
		}
		if got := upperTail(p, h); math.Abs(got-want) > 1e-12 {
			t.Fatalf("%v, summed %v", got, want)
		}
	})
}

func TestFindAlikeOnPoorData(t *testing.T) {
	rng := rand.New(rand.NewPCG(52, 1))
	c := examRoom(6, 30, 1, 0, 0, rng)
	// Two identical sheets with mistakes.
	copy(c.Choices[5], c.Choices[4])
	// One person all right, one all wrong, one absent.
	copy(c.Choices[0], c.Key)
	for i := range c.Key {
		c.Choices[1][i] = (c.Key[i] + 1) % 4
		c.Choices[2][i] = -1
	}
	s, err := FindAlike(c, 0.05)
	if err != nil {
		t.Fatal(err)
	}
	if s.Compared != 10 || s.FalseAlarms != 0.05 {
		t.Errorf("%+v", s)
	}
	if len(s.Pairs) != 1 || s.Pairs[0].A != 4 || s.Pairs[0].B != 5 || s.Pairs[0].Same != 30 || s.Pairs[0].SameWrong == 0 ||
		!(s.Pairs[0].Expected < 25) || !(s.Pairs[0].Omega > 3) {
		t.Errorf("%+v", s.Pairs)
	}
	few := examRoom(3, 9, 1, 0, 0, rng)
	if s, err := FindAlike(few, 0.05); err != nil || s.Compared != 0 || len(s.Pairs) != 0 || s.FalseAlarms != 0 {
		t.Errorf("nine questions: %+v, %v", s, err)
	}
	if _, err := FindAlike(OptionChoices{}, 0.05); !errors.Is(err, ErrEmpty) {
		t.Errorf("nobody: %v", err)
	}
	if _, err := FindAlike(c, 0); !errors.Is(err, ErrRange) {
		t.Errorf("no false alarms allowed: %v", err)
	}
	for name, spoil := range map[string]func(c *OptionChoices){
		"option out of range": func(c *OptionChoices) { c.Choices[1][2] = 4 },
		"row too short":       func(c *OptionChoices) { c.Choices[1] = c.Choices[1][1:] },
		"key out of range":    func(c *OptionChoices) { c.Key[3] = 7 },
		"slips missing":       func(c *OptionChoices) { c.Slips[3] = nil },
		"no difficulty":       func(c *OptionChoices) { c.Difficulty[3] = math.NaN() },
	} {
		bad := examRoom(4, 12, 1, 0, 0, rng)
		spoil(&bad)
		var de *DataError
		if _, err := FindAlike(bad, 0.05); !errors.As(err, &de) || de.Row+de.Column == 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
	bad := examRoom(4, 12, 1, 0, 0, rng)
	bad.Options = bad.Options[1:]
	if _, err := FindAlike(bad, 0.05); !errors.Is(err, ErrShape) {
		t.Errorf("option counts: %v", err)
	}
}
