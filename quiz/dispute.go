package quiz

import (
	"strings"
	"time"
)

// DisputeState is where a dispute stands.
type DisputeState string

// The states: a dispute is decided once.
const (
	DisputeOpen     DisputeState = "open"
	DisputeAccepted DisputeState = "accepted"
	DisputeRejected DisputeState = "rejected"
)

// maxReason bounds what people write, in bytes.
const maxReason = 4000

// Dispute is a person's objection to the key of a question.
type Dispute struct {
	ID       string
	Attempt  string
	Question string
	Person   string // who disputes
	Reason   string
	Opened   time.Time
	State    DisputeState
	By       string // who decided
	Verdict  string // why
	Decided  time.Time
	Version  int // counts changes; 0: not stored yet
}

// NewDispute opens a dispute. It can be opened once what was asked may be
// talked about: after the attempt has ended.
func NewDispute(id string, a Attempt, question, reason string, now time.Time) (*Dispute, error) {
	reason = strings.TrimSpace(reason)
	switch {
	case !a.State.Ended():
		return nil, &Error{Code: Closed, Text: "the attempt has not ended", Mend: "hand in first"}
	case !a.Asks(question):
		return nil, Errorf(NotFound, "the attempt does not ask question %s", question)
	case reason == "" || len(reason) > maxReason || !plain(reason):
		return nil, &Error{Code: Invalid, Text: "the dispute has no reason or a very long one", Mend: "say in a few sentences where the literature says otherwise"}
	}
	return &Dispute{ID: id, Attempt: a.ID, Question: question, Person: a.Person, Reason: reason, Opened: now, State: DisputeOpen}, nil
}

// Decide accepts or rejects an open dispute. Nobody decides their own.
func (d *Dispute) Decide(accept bool, by, verdict string, now time.Time) error {
	verdict = strings.TrimSpace(verdict)
	switch {
	case d.State != DisputeOpen:
		return &Error{Code: Closed, Text: "the dispute was " + string(d.State) + " on " + stamp(d.Decided)}
	case by == "" || by == d.Person:
		return &Error{Code: Forbidden, Text: "a dispute is not decided by who opened it", Mend: "ask another coordinator"}
	case verdict == "" || len(verdict) > maxReason || !plain(verdict):
		return &Error{Code: Invalid, Text: "the decision has no reason or a very long one", Mend: "say why in a few sentences"}
	}
	d.State = DisputeRejected
	if accept {
		d.State = DisputeAccepted
	}
	d.By, d.Verdict, d.Decided = by, verdict, later(now, d.Opened)
	return nil
}
