package web

import (
	"rightpage/quiz"
)

// Scope is whose records a role may see or change by a route.
type Scope uint8

// The scopes, from the narrowest. Site covers the people of the visitor's site;
// for a visitor without a site it covers everybody, as a manager of the whole
// organisation belongs to no single site.
const (
	Nobody Scope = iota
	Own
	Site
	All
)

// String names the scope as the access table does.
func (s Scope) String() string {
	return [...]string{"-", "own", "site", "all"}[s]
}

// Access says who may use a route, and on whose records. Where a route is about
// nobody's records any scope but Nobody lets the role in.
type Access struct {
	Public        bool // without signing in, too
	Technician    Scope
	Coordinator   Scope
	Manager       Scope
	Administrator Scope
}

// Everybody is the access of routes for whoever has signed in, about their own.
func Everybody() Access {
	return Access{Technician: Own, Coordinator: Own, Manager: Own, Administrator: Own}
}

// Of gives the scope of a role.
func (a Access) Of(r quiz.Role) Scope {
	switch r {
	case quiz.Technician:
		return a.Technician
	case quiz.Coordinator:
		return a.Coordinator
	case quiz.Manager:
		return a.Manager
	case quiz.Administrator:
		return a.Administrator
	}
	return Nobody
}

// For gives the widest scope that any role of the person has.
func (a Access) For(p *quiz.Person) Scope {
	widest := Nobody
	if p != nil {
		for _, r := range p.Roles {
			widest = max(widest, a.Of(r))
		}
	}
	return widest
}

// Covers tells whether a visitor with the scope may touch records of the owner.
func (s Scope) Covers(visitor, owner *quiz.Person) bool {
	switch {
	case s == All:
		return true
	case visitor.ID == owner.ID:
		return s >= Own
	case s == Site:
		return visitor.Site == "" || visitor.Site == owner.Site
	}
	return false
}
