package quiz

import (
	"slices"
	"strings"
	"time"
)

// Role is what a person does with the program.
type Role string

// The roles.
const (
	Technician    Role = "technician"
	Coordinator   Role = "coordinator"
	Manager       Role = "manager"
	Administrator Role = "administrator"
)

// Roles lists the roles in a fixed order.
func Roles() []Role { return []Role{Technician, Coordinator, Manager, Administrator} }

// Site is a place of work.
type Site struct {
	ID      string
	Name    string
	Zone    string // IANA name of its time zone; empty: UTC
	Version int    // counts changes; 0: not stored yet
}

// Check reports what is wrong with s.
func (s Site) Check() error {
	if strings.TrimSpace(s.Name) == "" || !plain(s.Name) {
		return &Error{Code: Invalid, Text: "the site has no name", Mend: "name it"}
	}
	if _, err := time.LoadLocation(s.Zone); err != nil {
		return &Error{Code: Invalid, Text: "site " + s.Name + " has no known time zone", Err: err,
			Mend: "use a name such as Europe/Berlin"}
	}
	return nil
}

// Person is somebody who uses the program. A small shop has one person with
// every role.
type Person struct {
	ID      string
	Name    string
	Number  string // the organisation's own staff number; may be empty, else unique
	Mail    string // may be empty: not everybody in a bay has a mailbox
	Site    string // ID of the site; empty: none
	Locale  string // BCP 47 language tag of the interface
	Roles   []Role
	Apart   bool      // takes no part in recognition, by own wish
	Left    time.Time // when the person left; zero: still there
	Erased  time.Time // when the person's data was erased; zero: it was not
	Created time.Time
	Version int // counts changes; 0: not stored yet
}

// DefaultLocale is that of people who chose none.
const DefaultLocale = "en"

// Has tells whether the person has the role.
func (p Person) Has(r Role) bool { return slices.Contains(p.Roles, r) }

// Active tells whether the person may use the program at the time.
func (p Person) Active(now time.Time) bool { return p.Left.IsZero() || now.Before(p.Left) }

// Check reports what is wrong with p.
func (p Person) Check() error {
	if strings.TrimSpace(p.Name) == "" || !plain(p.Name+p.Number+p.Locale) {
		return &Error{Code: Invalid, Text: "the person has no name", Mend: "give the name as it is to stand on certificates"}
	}
	if len(p.Roles) == 0 {
		return &Error{Code: Invalid, Text: p.Name + " has no role", Mend: "give at least one of technician, coordinator, manager, administrator"}
	}
	for i, r := range p.Roles {
		if !slices.Contains(Roles(), r) {
			return &Error{Code: Invalid, Text: p.Name + " has the role " + string(r) + ", which there is not",
				Mend: "use technician, coordinator, manager or administrator"}
		}
		if slices.Contains(p.Roles[:i], r) {
			return &Error{Code: Invalid, Text: p.Name + " has the role " + string(r) + " twice", Mend: "give it once"}
		}
	}
	if p.Mail != "" && (strings.Count(p.Mail, "@") != 1 || !plain(p.Mail)) {
		return &Error{Code: Invalid, Text: p.Name + ": " + p.Mail + " is no mail address", Mend: "correct it or leave it empty"}
	}
	return nil
}
