//go:build browser

package server_test

import (
	"slices"

	"rightpage/quiz"
)

// person finds a person by ID.
func (s *shop) person(id string) *quiz.Person {
	s.t.Helper()
	i := slices.IndexFunc(s.people, func(p quiz.Person) bool { return p.ID == id })
	if i < 0 {
		s.t.Fatalf("there is no person %s", id)
	}
	return &s.people[i]
}
