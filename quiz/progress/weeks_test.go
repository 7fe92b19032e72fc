package progress

import (
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// inWeeks gives as many answers as told in each week, from the week of Monday
// 3 February 2031.
func inWeeks(counts ...int) []Answer {
	monday := time.Date(2031, 2, 3, 0, 0, 0, 0, time.UTC)
	var list []Answer
	for w, n := range counts {
		for i := range n {
			list = append(list, Answer{At: monday.AddDate(0, 0, 7*w+i%7).Add(9 * time.Hour)})
		}
	}
	slices.SortStableFunc(list, func(a, b Answer) int { return a.At.Compare(b.At) })
	return list
}

func TestStreakOfWeeks(t *testing.T) {
	for name, c := range map[string]struct {
		counts []int
		now    string // a day
		want   Streak
	}{
		"nothing answered":                            {nil, "2031-02-05", Streak{}},
		"this week, enough":                           {[]int{5}, "2031-02-05", Streak{1, 1, true}},
		"this week, not yet enough":                   {[]int{4}, "2031-02-05", Streak{0, 0, false}},
		"this week does not end it before it is over": {[]int{6, 7, 1}, "2031-02-23", Streak{2, 2, false}},
		"nothing this week yet":                       {[]int{6, 7}, "2031-02-17", Streak{2, 2, false}},
		"a whole week missed":                         {[]int{6, 7}, "2031-02-24", Streak{0, 2, false}},
		"a gap":                                       {[]int{5, 5, 5, 0, 5, 5}, "2031-03-14", Streak{2, 3, true}},
		"a week with too little is a gap":             {[]int{9, 4, 9}, "2031-02-18", Streak{1, 1, true}},
		"Sunday still belongs to the week":            {[]int{5, 5}, "2031-02-16", Streak{2, 2, true}},
	} {
		t.Run(name, func(t *testing.T) {
			now, err := time.Parse(time.DateOnly, c.now)
			if err != nil {
				t.Fatal(err)
			}
			if got := StreakOf(Weeks(inWeeks(c.counts...), time.UTC), now.Add(20*time.Hour)); got != c.want {
				t.Errorf("streak %+v, want %+v", got, c.want)
			}
		})
	}
}

// A week begins on Monday where the person works: half past eleven on Sunday
// evening in Denver is Monday in Greenwich.
func TestWeeksAreThoseOfTheSite(t *testing.T) {
	denver, err := time.LoadLocation("America/Denver")
	if err != nil {
		t.Skip("no time zones on this machine")
	}
	late := []Answer{{At: time.Date(2031, 2, 9, 23, 30, 0, 0, denver)}}
	if w := Weeks(late, denver); w[0].Starts.Format(time.DateOnly) != "2031-02-03" {
		t.Errorf("the week starts on %v, want 3 February", w[0].Starts)
	}
	if w := Weeks(late, time.UTC); w[0].Starts.Format(time.DateOnly) != "2031-02-10" {
		t.Errorf("in Greenwich the week starts on %v, want 10 February", w[0].Starts)
	}
}

func anyAnswers(t *rapid.T) []Answer {
	hours := rapid.SliceOfN(rapid.IntRange(0, 24*200), 0, 60).Draw(t, "hours")
	slices.Sort(hours)
	list := make([]Answer, len(hours))
	for i, h := range hours {
		list[i] = Answer{At: time.Date(2031, 1, 1, h, 0, 0, 0, time.UTC), Right: rapid.Bool().Draw(t, "right")}
	}
	return list
}

// Whatever was answered: every answer is counted in one week and one month,
// weeks follow one another without a gap, and no streak is longer than the
// longest.
func TestWeeksAndMonthsHoldEverything(t *testing.T) {
	london, err := time.LoadLocation("Europe/London")
	if err != nil {
		london = time.UTC
	}
	rapid.Check(t, func(t *rapid.T) {
		answers := anyAnswers(t)
		weeks, months := Weeks(answers, london), Months(answers, london)
		n, right := 0, 0
		for i, w := range weeks {
			n += w.Answers
			right += w.Right
			if w.Starts.Weekday() != time.Monday || w.Starts.Hour() != 0 {
				t.Fatalf("a week starts at %v", w.Starts)
			}
			if i > 0 && !weeks[i-1].Starts.AddDate(0, 0, 7).Equal(w.Starts) {
				t.Fatalf("week %v follows %v", w.Starts, weeks[i-1].Starts)
			}
		}
		for _, m := range months {
			n -= m.Answers
			right -= m.Right
		}
		if n != 0 || right != 0 {
			t.Fatalf("weeks and months differ by %d answers, %d right", n, right)
		}
		now := time.Date(2031, 1, 1, rapid.IntRange(0, 24*230).Draw(t, "now"), 0, 0, 0, time.UTC)
		s := StreakOf(weeks, now)
		if s.Weeks > s.Longest || s.ThisWeek && s.Weeks == 0 {
			t.Fatalf("streak %+v", s)
		}
	})
}
