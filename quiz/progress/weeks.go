package progress

import "time"

// PractisedFrom is how many answers make a week one in which somebody
// practised: about five minutes' worth, so that a single click does not count
// and a busy week still can. Common practice, no source.
const PractisedFrom = 5

// Week is what was answered in one week.
type Week struct {
	Starts time.Time // its Monday
	Share
}

// Practised tells whether enough was answered in the week.
func (w Week) Practised() bool { return w.Answers >= PractisedFrom }

// Weeks counts by week, Monday to Sunday (ISO 8601), in the zone given, from
// the first week with an answer to the last; weeks between without answers are
// there, too.
func Weeks(answers []Answer, zone *time.Location) []Week {
	var list []Week
	counted(answers, zone, mondayOf, func(t time.Time) time.Time { return t.AddDate(0, 0, 7) }, func(start time.Time, right, n int) {
		list = append(list, Week{start, ShareOf(right, n)})
	})
	return list
}

// mondayOf is the start of the week that t lies in.
func mondayOf(t time.Time) time.Time {
	back := (int(t.Weekday()) + 6) % 7
	return time.Date(t.Year(), t.Month(), t.Day()-back, 0, 0, 0, 0, t.Location())
}

// Streak is for how many weeks on end somebody has practised.
type Streak struct {
	Weeks    int  // up to now
	Longest  int  // ever
	ThisWeek bool // this week is one of them already
}

// StreakOf counts the weeks practised on end, given the weeks as [Weeks] does.
// The week that now lies in adds to the streak once enough was answered in it,
// and ends it only when it is over.
func StreakOf(weeks []Week, now time.Time) Streak {
	var s Streak
	if len(weeks) == 0 {
		return s
	}
	this := mondayOf(now.In(weeks[0].Starts.Location()))
	last := this.AddDate(0, 0, -7)
	run := 0
	for _, w := range weeks {
		if w.Starts.After(this) {
			break
		}
		switch {
		case w.Practised():
			run++
		case !w.Starts.Equal(this):
			run = 0
		}
		s.Longest = max(s.Longest, run)
		s.ThisWeek = w.Starts.Equal(this) && w.Practised()
	}
	if end := weeks[len(weeks)-1].Starts; !end.Before(last) {
		s.Weeks = run
	}
	return s
}
