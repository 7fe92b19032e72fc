// Package demo fills an empty database with half a year of an invented service
// organisation, so that every page has something on it: people of three sites,
// three revisions of a catalog put in force one after the other, practice,
// quizzes on screen and on paper, a regrade after a supplement, disputes,
// certificates in every standing, courses to get ready for, a quiz that is
// open now.
//
//	clock := demo.NewClock(nil)
//	s, err := store.Open(ctx, file, store.Options{Now: clock.Now})
//	err = s.Migrate(ctx)
//	d, err := demo.Fill(ctx, s, demo.Options{Clock: clock, Catalogs: os.DirFS("testdata"), Keys: keys})
//	for _, l := range d.Logins { … }
//
// Nothing of it is made up as a score. Invented technicians, who differ in
// what they know, how fast they learn and forget, and at which steps of a
// lookup they go wrong, answer the questions as people do: rightly, or by a slip
// of the question; the program marks what they answer, issues what they earn and
// regrades what a supplement changes. The same seed and present give the same
// history, but for the names that the store draws at random (IDs, numbers of
// sessions).
package demo
