package quiz

import (
	"hash/fnv"
	"slices"
	"strconv"
	"time"
)

// State is where an attempt is in its life.
type State string

// The states. An attempt goes from Open to Started to HandedIn or Expired to
// Graded, and never back. One that was never started expires when its
// assignment closes.
const (
	Open     State = "open"
	Started  State = "started"
	HandedIn State = "handed in"
	Expired  State = "expired"
	Graded   State = "graded"
)

// Grace is how long after the deadline an answer or a hand-in is still taken:
// it was on its way. Common practice, no source.
const Grace = 5 * time.Second

// Attempt is one person's work on an assignment.
type Attempt struct {
	ID         string
	Assignment string
	Person     string
	Number     int      // 1 for the first attempt at the assignment
	Variant    int      // index of the form's variant
	Medium     Medium   // what it was worked on
	Questions  []string // IDs of the questions asked, in their order
	State      State
	Opened     time.Time
	Started    time.Time
	Deadline   time.Time // zero: none
	Ended      time.Time // handed in or expired
	HandInKey  string    // made by the client; identifies the one hand-in that counted
	Gradings   int       // how often it was graded
	Result     Result    // the last one
	Version    int       // counts changes; 0: not stored yet
}

// Result is what a grading found. Attempts keep all of theirs; the last counts.
type Result struct {
	Points float64 `json:"points"`
	Of     float64 `json:"of"`
	Passed bool    `json:"passed"`
	Reason string  `json:"reason,omitempty"` // of a regrade: what changed the key
	By     string  `json:"by,omitempty"`     // ID of who asked for it; empty: the program
}

// Receipt is what a person is told who hands in.
type Receipt struct {
	Attempt  string
	At       time.Time
	Repeated bool // the same hand-in was acknowledged before
}

// NewAttempt opens an attempt. Questions are those of the variant.
func NewAttempt(id string, a Assignment, person string, number, variant int, questions []string, now time.Time) (*Attempt, error) {
	if number < 1 || number > a.Attempts {
		return nil, &Error{Code: Closed, Text: "all " + strconv.Itoa(a.Attempts) + " attempts at " + a.Title + " are used up",
			Mend: "ask the coordinator for another"}
	}
	if len(questions) == 0 {
		return nil, Errorf(Internal, "variant %d of the form of %s has no questions", variant, a.Title)
	}
	return &Attempt{ID: id, Assignment: a.ID, Person: person, Number: number, Variant: variant,
		Medium: OnScreen, Questions: questions, State: Open, Opened: now}, nil
}

// VariantFor spreads the variants of a form over people and attempts: always
// the same for the same attempt, another for the next, and evenly among people.
func VariantFor(assignment, person string, number, variants int) int {
	if variants < 2 {
		return 0
	}
	h := fnv.New32a()
	h.Write([]byte(assignment + "\x00" + person))
	return int((uint64(h.Sum32()) + uint64(number)) % uint64(variants))
}

// Ended tells whether nothing can be answered any more.
func (s State) Ended() bool { return s == HandedIn || s == Expired || s == Graded }

// Start starts the clock. Starting a started attempt again (a second click,
// another device) changes nothing.
func (a *Attempt) Start(of Assignment, now time.Time) error {
	switch a.State {
	case Started:
		return nil
	case Open:
	default:
		return a.ended()
	}
	if now.Before(of.Open) {
		return &Error{Code: Closed, Text: of.Title + " opens on " + stamp(of.Open), Mend: "come back then"}
	}
	if c := of.ClosesFor(a.Person); !c.IsZero() && !now.Before(c) {
		return &Error{Code: Closed, Text: of.Title + " closed on " + stamp(c), Mend: "ask the coordinator"}
	}
	a.State, a.Started = Started, now
	a.Deadline = of.DeadlineFor(a.Person, now)
	return nil
}

// Working reports why nothing can be answered at the time, or nil if it can.
// A clock that was set back does not close an attempt.
func (a *Attempt) Working(now time.Time) error {
	switch {
	case a.State == Open:
		return &Error{Code: Closed, Text: "the attempt is not started", Mend: "start it first"}
	case a.State != Started:
		return a.ended()
	case a.Overdue(now):
		return &Error{Code: Closed, Text: "time was up on " + stamp(a.Deadline), Mend: "what was saved until then counts"}
	}
	return nil
}

// Overdue tells whether a started attempt is past its deadline and the grace.
func (a *Attempt) Overdue(now time.Time) bool {
	return a.State == Started && !a.Deadline.IsZero() && now.After(a.Deadline.Add(Grace))
}

// HandIn ends the attempt at the wish of the person. The same key again gives
// the same receipt, so that a double click or a retry after a lost connection
// does no harm; another key finds the attempt closed.
func (a *Attempt) HandIn(key string, now time.Time) (Receipt, error) {
	if err := CheckKey(key); err != nil {
		return Receipt{}, err
	}
	if a.State.Ended() && a.HandInKey == key {
		return Receipt{Attempt: a.ID, At: a.Ended, Repeated: true}, nil
	}
	if err := a.Working(now); err != nil {
		return Receipt{}, err
	}
	a.State, a.Ended, a.HandInKey = HandedIn, later(now, a.Started), key
	return Receipt{Attempt: a.ID, At: a.Ended}, nil
}

// Expire ends an attempt whose time is up; what was saved counts. It changes
// nothing, and says so by false, if the time is not up or the attempt ended.
func (a *Attempt) Expire(of Assignment, now time.Time) bool {
	switch a.State {
	case Started:
		if !a.Overdue(now) {
			return false
		}
		a.Ended = a.Deadline
	case Open:
		c := of.ClosesFor(a.Person)
		if c.IsZero() || now.Before(c) {
			return false
		}
		a.Ended = c
	default:
		return false
	}
	a.State = Expired
	return true
}

// Extend gives a started attempt more time, as when the bay was called away;
// the deadline only ever moves out.
func (a *Attempt) Extend(by time.Duration, now time.Time) error {
	if err := a.Working(now); err != nil {
		return err
	}
	if by <= 0 || by > MaxLimit {
		return &Error{Code: Invalid, Text: "the extra time is out of bounds", Mend: "give up to 24 hours"}
	}
	if !a.Deadline.IsZero() {
		a.Deadline = a.Deadline.Add(by)
	}
	return nil
}

// Grade records a result; for a graded attempt it is a regrade, which needs
// its reason.
func (a *Attempt) Grade(r Result) error {
	if !a.State.Ended() {
		return &Error{Code: Closed, Text: "the attempt is still " + string(a.State), Mend: "grade it when it has ended"}
	}
	if r.Of <= 0 || r.Points < 0 || r.Points > r.Of {
		return Errorf(Invalid, "a result of %g of %g points is none", r.Points, r.Of)
	}
	if a.State == Graded && r.Reason == "" {
		return &Error{Code: Invalid, Text: "a regrade has no reason", Mend: "say what changed the key"}
	}
	a.State, a.Result = Graded, r
	a.Gradings++
	return nil
}

// Left is the time that is left; 0 if none, negative never; ok is false if
// there is no limit.
func (a *Attempt) Left(now time.Time) (left time.Duration, ok bool) {
	if a.Deadline.IsZero() {
		return 0, false
	}
	if a.State != Started {
		return 0, true
	}
	return max(0, a.Deadline.Sub(later(now, a.Started))), true
}

// Asks tells whether the question is one of the attempt's.
func (a *Attempt) Asks(question string) bool { return slices.Contains(a.Questions, question) }

func (a *Attempt) ended() error {
	how := "was handed in on "
	if a.HandInKey == "" {
		how = "expired on "
	}
	return &Error{Code: Closed, Text: "the attempt " + how + stamp(a.Ended), Mend: "what was saved until then counts"}
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// stamp writes an instant for an error message, where no reader's time zone is known.
func stamp(t time.Time) string { return t.UTC().Format("2006-01-02 15:04 UTC") }
