// Package marks is the pages on what came of a quiz: the grade table, answers
// from paper and from scanned sheets, item statistics, judges' cut scores,
// regrading, disputes, and certificates.
//
// They are for coordinators alone, since almost all of them hold keys.
// Addresses and pages name questions by their place and options by their letter.
package marks
