package quiz

import (
	"slices"
	"strings"
	"time"
)

// Requirement is what somebody must be able to do by a date, as before an
// off-site course.
type Requirement struct {
	ID      string
	Course  string
	Date    time.Time // of the course
	Skills  []SkillLevel
	Targets []Target // whom it concerns
	Version int      // counts changes; 0: not stored yet
}

// SkillLevel is a skill and how far it must be mastered.
type SkillLevel struct {
	Skill string `json:"skill"`
	// Level is the share of right answers to reach in a check of the skill
	// (readiness imagines one of 20 questions), above 0 to 1.
	Level float64 `json:"level"`
}

// Gap is a skill that falls short of a requirement.
type Gap struct {
	SkillLevel
	Has   float64 // the share that the person is expected to reach
	Known bool    // false: nothing is known of the skill yet
}

// Check reports what is wrong with r.
func (r Requirement) Check() error {
	wrong := func(text, mend string) error {
		return &Error{Code: Invalid, Text: "requirement " + r.Course + ": " + text, Mend: mend}
	}
	switch {
	case strings.TrimSpace(r.Course) == "" || !plain(r.Course):
		return wrong("it names no course", "name it")
	case r.Date.IsZero():
		return wrong("it has no date", "give the first day of the course")
	case len(r.Skills) == 0:
		return wrong("it asks for no skill", "choose at least one")
	case len(r.Targets) == 0:
		return wrong("it concerns nobody", "choose people, sites or roles")
	}
	for i, s := range r.Skills {
		if s.Skill == "" || !(s.Level > 0 && s.Level <= 1) {
			return wrong("skill "+s.Skill+" has no level", "give one above 0 and up to 1")
		}
		if slices.ContainsFunc(r.Skills[:i], func(t SkillLevel) bool { return t.Skill == s.Skill }) {
			return wrong("skill "+s.Skill+" stands twice", "give it once")
		}
	}
	return nil
}

// For tells whether the requirement concerns the person.
func (r Requirement) For(p Person) bool {
	return slices.ContainsFunc(r.Targets, func(t Target) bool { return t.Covers(p) })
}

// Gaps lists the skills that fall short, the furthest first, given the levels
// that the person has.
func (r Requirement) Gaps(has map[string]float64) []Gap {
	var gaps []Gap
	for _, s := range r.Skills {
		if level, known := has[s.Skill]; !known || level < s.Level {
			gaps = append(gaps, Gap{s, level, known})
		}
	}
	slices.SortStableFunc(gaps, func(a, b Gap) int {
		switch x, y := a.Level-a.Has, b.Level-b.Has; {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	return gaps
}
