// Package web is what every page of the server is made with: routes and who may
// use them, the visitor, sessions, forms, tables, error pages and the layout.
// It knows people and sessions, and nothing of what the pages are about.
//
// A package of pages gives a list of routes and a set of templates:
//
//	var files embed.FS // pages/*.html
//	set, err := app.Pages(files)
//	return []web.Route{{
//		Method: "GET", Path: "/quizzes/:attempt",
//		Access: web.Access{Technician: web.Own},
//		Owner:  func(c *web.Context) (string, error) { … },   // whose record it is
//		Handle: func(c *web.Context) error { return c.Page(set, "attempt", data) },
//	}}
//
// The access of a route is checked before it is handled, by [App.Mount] alone:
// a handler cannot forget it. What a role may see is a [Scope]: of one's own
// records, those of the people of one's site, or all. A person with several
// roles may do what any of them may.
//
// Changes are made by POST and protected against forged requests; a form that is
// sent twice carries a key and is done once. Every page works without scripts.
package web
