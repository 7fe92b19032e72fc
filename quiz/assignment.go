package quiz

import (
	"slices"
	"strings"
	"time"
)

// TargetKind is what an assignment is addressed to.
type TargetKind string

// The kinds of target.
const (
	ToPerson TargetKind = "person"
	ToSite   TargetKind = "site"
	ToRole   TargetKind = "role"
)

// Target is one address of an assignment or a requirement: a person, everybody
// at a site, or everybody with a role.
type Target struct {
	Kind TargetKind `json:"kind"`
	ID   string     `json:"id"` // person or site ID, or a role
}

// Covers tells whether the person is among those addressed.
func (t Target) Covers(p Person) bool {
	switch t.Kind {
	case ToPerson:
		return p.ID == t.ID
	case ToSite:
		return p.Site != "" && p.Site == t.ID
	case ToRole:
		return p.Has(Role(t.ID))
	}
	return false
}

// Accommodation is what one person is given more than the others.
type Accommodation struct {
	Person  string        `json:"person"`
	Percent int           `json:"percent,omitempty"` // of the time limit, added to it
	Extra   time.Duration `json:"extra,omitempty"`   // added to the time limit
	Close   time.Time     `json:"close,omitzero"`    // closes then rather than with the others; zero: with them
	Reason  string        `json:"reason,omitempty"`
}

// Assignment gives a form to people.
type Assignment struct {
	ID             string
	Title          string
	Form           string // ID of the form
	Targets        []Target
	Open           time.Time     // from when on it can be started
	Close          time.Time     // until when it can be worked on; zero: no end
	Limit          time.Duration // time for one attempt; 0: none
	Attempts       int           // how often it may be tried, at least 1
	Accommodations []Accommodation
	Release        Release
	Released       time.Time // when the coordinator released the feedback, for ReleaseByHand
	By             string    // ID of who assigned it
	Created        time.Time
	Version        int // counts changes; 0: not stored yet
}

// The bounds of an assignment.
const (
	MaxAttempts = 100
	MaxLimit    = 24 * time.Hour
	maxPercent  = 300
)

// Check reports what is wrong with a.
func (a Assignment) Check() error {
	wrong := func(text, mend string) error {
		return &Error{Code: Invalid, Text: "assignment " + a.Title + ": " + text, Mend: mend}
	}
	switch {
	case strings.TrimSpace(a.Title) == "" || !plain(a.Title):
		return wrong("it has no title", "give one that people recognise")
	case a.Form == "":
		return wrong("it has no form", "choose one")
	case len(a.Targets) == 0:
		return wrong("it is addressed to nobody", "choose people, sites or roles")
	case a.Open.IsZero():
		return wrong("it has no opening time", "say from when on it can be started")
	case !a.Close.IsZero() && !a.Close.After(a.Open):
		return wrong("it closes before it opens", "let it close later")
	case a.Limit < 0 || a.Limit > MaxLimit:
		return wrong("its time limit is out of bounds", "use at most 24 hours, or 0 for none")
	case a.Attempts < 1 || a.Attempts > MaxAttempts:
		return wrong("its number of attempts is out of bounds", "use 1 to 100")
	}
	for _, t := range a.Targets {
		if t.ID == "" || !slices.Contains([]TargetKind{ToPerson, ToSite, ToRole}, t.Kind) ||
			t.Kind == ToRole && !slices.Contains(Roles(), Role(t.ID)) {
			return wrong("it is addressed to "+string(t.Kind)+" "+t.ID+", which there is not", "choose a person, a site or a role")
		}
	}
	for i, x := range a.Accommodations {
		if x.Person == "" || x.Percent < 0 || x.Percent > maxPercent || x.Extra < 0 || x.Extra > MaxLimit {
			return wrong("an accommodation has no person or is out of bounds", "give at most 300 % or 24 hours more")
		}
		if slices.ContainsFunc(a.Accommodations[:i], func(y Accommodation) bool { return y.Person == x.Person }) {
			return wrong("a person has two accommodations", "put them into one")
		}
	}
	return a.Release.check()
}

// For tells whether the assignment is addressed to the person.
func (a Assignment) For(p Person) bool {
	return slices.ContainsFunc(a.Targets, func(t Target) bool { return t.Covers(p) })
}

// accommodation gives what the person is given more; the zero value if nothing.
func (a Assignment) accommodation(person string) Accommodation {
	for _, x := range a.Accommodations {
		if x.Person == person {
			return x
		}
	}
	return Accommodation{}
}

// ClosesFor is when the assignment closes for the person; zero if never.
func (a Assignment) ClosesFor(person string) time.Time {
	if c := a.accommodation(person).Close; !c.IsZero() {
		return c
	}
	return a.Close
}

// LimitFor is the time that the person has for one attempt; 0 if without limit.
func (a Assignment) LimitFor(person string) time.Duration {
	if a.Limit == 0 {
		return 0
	}
	x := a.accommodation(person)
	return a.Limit + a.Limit*time.Duration(x.Percent)/100 + x.Extra
}

// DeadlineFor is when an attempt that the person starts at the time ends: after
// the time limit, or when the assignment closes for the person, whichever
// comes first; zero if never.
func (a Assignment) DeadlineFor(person string, start time.Time) time.Time {
	deadline := a.ClosesFor(person)
	if limit := a.LimitFor(person); limit > 0 {
		if d := start.Add(limit); deadline.IsZero() || d.Before(deadline) {
			deadline = d
		}
	}
	return deadline
}
