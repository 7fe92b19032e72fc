package quiz

import (
	"slices"
	"time"
)

// ReleaseWhen is when feedback is released.
type ReleaseWhen string

// The times of release. None is before the attempt has ended.
const (
	ReleaseNever   ReleaseWhen = "never"
	ReleaseAtEnd   ReleaseWhen = "end"   // when the attempt has ended and is graded
	ReleaseAtClose ReleaseWhen = "close" // when the assignment has closed for everybody
	ReleaseFrom    ReleaseWhen = "from"  // from a date on
	ReleaseByHand  ReleaseWhen = "hand"  // when the coordinator says so
)

// Release is the rule of what is shown of a graded attempt, and when.
type Release struct {
	When    ReleaseWhen `json:"when"`
	From    time.Time   `json:"from,omitzero"` // for ReleaseFrom
	Score   bool        `json:"score,omitempty"`
	Answers bool        `json:"answers,omitempty"` // which answers were right, and the slips
	Key     bool        `json:"key,omitempty"`
	Trace   bool        `json:"trace,omitempty"` // the steps to the key
}

// Shown is what may be shown. The zero value shows nothing.
type Shown struct {
	Score, Answers, Key, Trace bool
}

func (r Release) check() error {
	whens := []ReleaseWhen{ReleaseNever, ReleaseAtEnd, ReleaseAtClose, ReleaseFrom, ReleaseByHand}
	if !slices.Contains(whens, r.When) {
		return &Error{Code: Invalid, Text: "feedback is released " + string(r.When) + ", which there is not", Mend: "use never, end, close, from or hand"}
	}
	if r.When == ReleaseFrom && r.From.IsZero() {
		return &Error{Code: Invalid, Text: "feedback is released from a date that is not given", Mend: "give the date"}
	}
	return nil
}

// Shows says what the person who made the attempt may be shown of it. Others
// are all attempts of the person at the assignment, this one included or not.
//
// Nothing is shown before the attempt is graded. Whatever gives the key away
// (key, trace, which answers were right) waits while the person has another
// attempt at the assignment unfinished or still to come: its form may ask the
// same.
func (a Assignment) Shows(attempt Attempt, others []Attempt, now time.Time) Shown {
	if attempt.Assignment != a.ID || attempt.State != Graded || !a.released(now) {
		return Shown{}
	}
	r := a.Release
	s := Shown{Score: r.Score}
	if !a.more(attempt, others, now) {
		s.Answers, s.Key, s.Trace = r.Answers, r.Key, r.Trace
	}
	return s
}

func (a Assignment) released(now time.Time) bool {
	switch a.Release.When {
	case ReleaseAtEnd:
		return true
	case ReleaseAtClose:
		return a.closedForAll(now)
	case ReleaseFrom:
		return !a.Release.From.IsZero() && !now.Before(a.Release.From)
	case ReleaseByHand:
		return !a.Released.IsZero() && !now.Before(a.Released)
	}
	return false
}

// closedForAll tells whether nobody can work any more: an accommodation may
// keep an assignment open longer for somebody, and answers on their way are
// taken until the grace is over.
func (a Assignment) closedForAll(now time.Time) bool {
	if a.Close.IsZero() {
		return false
	}
	end := a.Close
	for _, x := range a.Accommodations {
		end = later(end, x.Close)
	}
	return now.After(end.Add(Grace))
}

// more tells whether the person still has, or may still start, an attempt at
// the assignment.
func (a Assignment) more(attempt Attempt, others []Attempt, now time.Time) bool {
	made := attempt.Number
	for _, o := range others {
		if o.Assignment != a.ID || o.Person != attempt.Person {
			continue
		}
		made = max(made, o.Number)
		if !o.State.Ended() {
			return true
		}
	}
	c := a.ClosesFor(attempt.Person)
	return made < a.Attempts && (c.IsZero() || now.Before(c))
}

// Ahead tells whether the person has still to work at the assignment: an attempt
// is not over, or may still be started, given all attempts of the person.
func (a Assignment) Ahead(p Person, attempts []Attempt, now time.Time) bool {
	var last Attempt
	for _, t := range attempts {
		if t.Assignment == a.ID && t.Person == p.ID && t.Number > last.Number {
			last = t
		}
	}
	if last.Number == 0 && !a.For(p) {
		return false
	}
	last.Person = p.ID
	return a.more(last, attempts, now)
}
