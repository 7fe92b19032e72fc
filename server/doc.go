// Package server is the web server: it puts the pages of its sub-packages
// together, and does in the background what is due.
//
//	s, err := server.New(server.Config{Store: db, Keys: keys})
//	go s.Work(ctx)                    // ends attempts whose time is up, and the like
//	http.ListenAndServe(addr, s)
//
// Servers keep nothing that another would need: several can share one database.
//
// Who may use what is in the routes, and all of it in one table that
// testdata/access.txt shows and the tests try out.
package server
