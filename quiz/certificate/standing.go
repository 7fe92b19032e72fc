package certificate

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// State is the standing of a certificate in one word.
type State string

// The states, in order of precedence: a revoked certificate is revoked even
// when it has expired too, and an expired one is expired even when outdated.
const (
	Revoked  State = "revoked"
	Expired  State = "expired"
	Outdated State = "outdated"
	Valid    State = "valid"
	// NotYet is a certificate read before its first day.
	NotYet State = "not yet valid"
)

// Policy is what an organisation decides about standing.
type Policy struct {
	// OutdatedAbove is the share of certified lookups, in per cent, that may
	// have changed before a certificate is outdated: with 20, a change to
	// 4 of 20 leaves it valid and a change to 5 of 20 makes it outdated.
	// 0 means that any change does, 100 that none can.
	OutdatedAbove int
}

// DefaultPolicy tolerates changes to one certified lookup in five.
func DefaultPolicy() Policy { return Policy{OutdatedAbove: 20} }

// Current is what the catalog in force answers to a lookup.
type Current struct {
	Answer string // empty if the catalog no longer covers it
	Source string // the supplement or bulletin that changed it, if known
}

// Change is a certified lookup whose answer is no longer what it was.
type Change struct {
	Lookup Lookup
	Now    Current
}

// Changed asks the catalog in force about each lookup and returns those that
// it answers otherwise than on the day of the certificate, in their order.
func Changed(lookups []Lookup, ask func(Lookup) Current) []Change {
	var changes []Change
	for _, l := range lookups {
		if now := ask(l); now.Answer != l.Answer {
			changes = append(changes, Change{Lookup: l, Now: now})
		}
	}
	return changes
}

// Revocation is the withdrawal of a certificate by whoever issued it.
type Revocation struct {
	At     time.Time
	Reason string
}

// Standing is the state of a certificate and why.
type Standing struct {
	State   State
	Reason  string    // one sentence, for the person who asks
	Since   time.Time // when it expired or was revoked; zero otherwise
	Changed []Change  // certified lookups with another answer today, in any state
	Total   int       // certified lookups in all
	TopUp   []Lookup  // what a top-up quiz asks; set when Outdated
}

// Assess gives the standing of c at now. Changes to lookups that c does not
// certify are ignored, and each lookup counts once.
func Assess(c Certificate, changes []Change, revocation *Revocation, policy Policy, now time.Time) Standing {
	s := Standing{Total: len(c.Lookups), Changed: certified(c.Lookups, changes)}
	switch {
	case revocation != nil:
		s.State, s.Since = Revoked, revocation.At
		reason := strings.TrimSuffix(strings.TrimSpace(revocation.Reason), ".")
		if reason == "" {
			reason = "no reason recorded"
		}
		s.Reason = fmt.Sprintf("Revoked on %s: %s.", revocation.At.Format(time.DateOnly), reason)
	case now.After(c.ValidUntil()):
		s.State, s.Since = Expired, c.ValidUntil()
		s.Reason = fmt.Sprintf("Expired: its last day was %s.", c.Expires.Format(time.DateOnly))
	case now.Before(c.ValidFrom()):
		s.State = NotYet
		s.Reason = fmt.Sprintf("Not valid yet: its first day is %s.", c.Issued.Format(time.DateOnly))
	case len(s.Changed)*100 > policy.OutdatedAbove*s.Total:
		s.State = Outdated
		for _, ch := range s.Changed {
			s.TopUp = append(s.TopUp, ch.Lookup)
		}
		s.Reason = fmt.Sprintf("Outdated: %s; more than %d %% may not. A top-up quiz on %s renews it.",
			share(s), policy.OutdatedAbove, those(len(s.Changed)))
	default:
		s.State = Valid
		s.Reason = fmt.Sprintf("Valid through %s.", c.Expires.Format(time.DateOnly))
		if len(s.Changed) > 0 {
			s.Reason += fmt.Sprintf(" %s since it was issued.", upper(share(s)))
		}
	}
	return s
}

// share says how many lookups changed and by what.
func share(s Standing) string {
	text := fmt.Sprintf("%d of its %d lookups have another answer", len(s.Changed), s.Total)
	if len(s.Changed) == 1 {
		text = fmt.Sprintf("1 of its %d lookups has another answer", s.Total)
	}
	var sources []string
	for _, ch := range s.Changed {
		if ch.Now.Source != "" && !slices.Contains(sources, ch.Now.Source) {
			sources = append(sources, ch.Now.Source)
		}
	}
	if len(sources) > 0 {
		text += " (" + strings.Join(sources, ", ") + ")"
	}
	return text
}

func those(n int) string {
	if n == 1 {
		return "that one"
	}
	return fmt.Sprintf("those %d", n)
}

func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// certified keeps the changes to lookups in the list, each once, in the order
// of the list.
func certified(lookups []Lookup, changes []Change) []Change {
	byID := make(map[string]Change, len(changes))
	for _, ch := range changes {
		byID[ch.Lookup.ID] = ch
	}
	var kept []Change
	for _, l := range lookups {
		if ch, ok := byID[l.ID]; ok {
			ch.Lookup = l
			kept = append(kept, ch)
			delete(byID, l.ID)
		}
	}
	return kept
}

// Renew gives the certificate that a passed top-up quiz earns: the same
// person, skills and expiry, with the changed lookups answered from the
// catalog revision in force. The expiry stays, because only what changed was
// asked again. It fails unless the standing is Outdated or Valid with changes.
func Renew(c Certificate, s Standing, number, revision string, passed time.Time) (Certificate, error) {
	switch {
	case s.State != Outdated && s.State != Valid:
		return Certificate{}, fmt.Errorf("certificate %s is %s: a top-up cannot renew it", c.Number, s.State)
	case len(s.Changed) == 0:
		return Certificate{}, fmt.Errorf("certificate %s: nothing has changed, so there is nothing to renew", c.Number)
	case startOfDay(passed).After(startOfDay(c.Expires)):
		return Certificate{}, fmt.Errorf("certificate %s expired on %s, before the top-up was passed",
			c.Number, c.Expires.Format(time.DateOnly))
	}
	renewed := c
	renewed.Number, renewed.CatalogRevision, renewed.Issued = number, revision, startOfDay(passed)
	renewed.Skills = slices.Clone(c.Skills)
	renewed.Lookups = nil
	now := make(map[string]Current, len(s.Changed))
	for _, ch := range s.Changed {
		now[ch.Lookup.ID] = ch.Now
	}
	for _, l := range c.Lookups {
		if current, ok := now[l.ID]; ok {
			if current.Answer == "" {
				continue // no longer covered: nothing left to certify
			}
			l.Answer = current.Answer
		}
		renewed.Lookups = append(renewed.Lookups, l)
	}
	return renewed, nil
}
