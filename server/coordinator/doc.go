// Package coordinator is the pages of the training coordinator: the catalogs
// and what a new revision changes, the forms and the blueprints that they are
// made by, the assignments and who is at work on them.
//
// What follows from answers (grades, paper, scans, statistics, regrading,
// disputes, certificates) has pages of its own, which are only linked to.
package coordinator
