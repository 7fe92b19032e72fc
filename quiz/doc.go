// Package quiz holds the rules of setting quizzes to people: who is who, what
// is assigned to whom, the life of an attempt, what of the key may be shown
// when, disputes, requirements, certificates and the audit chain. It is pure:
// no clock, no storage, no network. Every function that depends on the time
// is given it, so that the time that counts is the server's.
//
// The life of an attempt:
//
//	a := quiz.NewAttempt(id, assignment, person, 1, questions)  // open
//	err := a.Start(assignment, now)                             // started: the clock runs
//	save, repeated, err := a.Save(answers, quiz.Save{…}, now)   // as often as wanted
//	receipt, err := a.HandIn(key, now)                          // handed in; or, too late,
//	err = a.Expire(now)                                         // expired: what was saved counts
//	err = a.Grade(quiz.Result{…}, now)                          // graded; graded again by a regrade
//
// Package store keeps all of it, and makes each of these steps happen once
// however often it is asked for.
//
// Errors that a person can do something about are of type [*Error]; its
// [Code] maps to a status of HTTP and of the command line.
package quiz
