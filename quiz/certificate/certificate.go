// Package certificate holds what a certificate states and the rules of its
// standing: whether it is valid, expired, outdated by a supplement, or
// revoked. It is pure: facts in, a standing out; no clock, no storage.
//
// A certificate is issued for a set of lookups, each with the answer that the
// catalog gave on the day. When a supplement changes the catalog, the answers
// are computed again; the certificate is outdated once more than a stated
// share of its lookups have another answer, and a top-up quiz on exactly
// those renews it.
//
//	changed := certificate.Changed(c.Lookups, func(l certificate.Lookup) certificate.Current { … })
//	s := certificate.Assess(c, changed, nil, certificate.DefaultPolicy(), time.Now())
//	if s.State == certificate.Outdated {
//		fmt.Println(s.Reason, s.TopUp)
//	}
package certificate

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// NotALicence is the statement that every certificate and credential carries
// about what it does not prove.
const NotALicence = "This certificate shows skill in finding the right information in the service " +
	"literature named here. It is not a licence or authorisation to carry out the work. Anyone who does " +
	"works to the maker's current literature, local codes and the rules of their trade, above all on " +
	"high voltage, stored energy, lifting, fuel, brakes and airbags."

// Skill is one skill that a certificate states.
type Skill struct {
	Name  string // "Edition for a build date"
	Level string // "Assured"
	Score string // as printed, "38 of 40"; may be empty
}

// Certificate is what is certified, to whom, by whom and for how long.
type Certificate struct {
	Number          string // unique within the organisation
	Person          string // name as printed
	Organisation    string // who issues it
	Site            string // where the person works; may be empty
	Quiz            string // what was passed
	Skills          []Skill
	CatalogTitle    string
	CatalogRevision string    // the revision that the lookups were answered from
	Issued          time.Time // a date: the first day of validity
	Expires         time.Time // a date: the last day of validity
	VerifyURL       string    // where its standing can be seen; may be empty for a shop without a server
	Lookups         []Lookup  // what its standing depends on; not printed
}

// Lookup is one lookup that a certificate stands for.
type Lookup struct {
	ID     string // stable across revisions: the vehicle and task, not the answer
	Task   string // in words: "Front axle oil seal, model TC38, built 2029-06"
	Skill  string // the skill that it exercises
	Answer string // what the catalog answered when the certificate was issued
}

// Check reports everything that is missing or contradictory in c.
func (c Certificate) Check() error {
	var problems []error
	need := func(name, value string) {
		if strings.TrimSpace(value) == "" {
			problems = append(problems, fmt.Errorf("certificate %s: no %s", c.Number, name))
		}
	}
	need("number", c.Number)
	need("person", c.Person)
	need("organisation", c.Organisation)
	need("quiz", c.Quiz)
	need("catalog title", c.CatalogTitle)
	need("catalog revision", c.CatalogRevision)
	if len(c.Skills) == 0 {
		problems = append(problems, fmt.Errorf("certificate %s: no skills", c.Number))
	}
	for i, s := range c.Skills {
		if s.Name == "" || s.Level == "" {
			problems = append(problems, fmt.Errorf("certificate %s: skill %d lacks its name or level", c.Number, i+1))
		}
	}
	switch {
	case c.Issued.IsZero() || c.Expires.IsZero():
		problems = append(problems, fmt.Errorf("certificate %s: no issue or expiry date", c.Number))
	case c.Expires.Before(c.Issued):
		problems = append(problems, fmt.Errorf("certificate %s: expires on %s, before it is issued on %s",
			c.Number, c.Expires.Format(time.DateOnly), c.Issued.Format(time.DateOnly)))
	}
	return errors.Join(problems...)
}

// ValidFrom is the first instant of validity: the start of the day of issue.
// Days are counted in UTC, so that a certificate, its credential and the page
// that shows its standing agree wherever they are read.
func (c Certificate) ValidFrom() time.Time { return startOfDay(c.Issued) }

// ValidUntil is the last second of validity: the end of the day of expiry, UTC.
func (c Certificate) ValidUntil() time.Time {
	return startOfDay(c.Expires).AddDate(0, 0, 1).Add(-time.Second)
}

func startOfDay(t time.Time) time.Time {
	y, m, d := t.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}
