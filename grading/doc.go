// Package grading scores answers to the questions of a bank. Every wrong answer
// names the slip that leads to it, or says that it is not recognised, and says
// at which step of the lookup it leaves the right path and what to do next
// time.
//
// # Scores
//
// A question is worth one point. One of several, typed and number are right or
// wrong. Several of several scores the share of right options marked, less the
// share of wrong ones marked, never below zero: (hits − false marks) / keys.
// Ordered scores (L−1)/(n−1), where L is the length of the longest common
// subsequence with the right order of n, so that any order has something right
// only if more than one item stands right relative to another. A chase scores
// the mean of its steps; a step that is right on what the technician has in
// hand after a slip at an earlier step counts as right (error carried forward).
// [Rules] can turn partial credit off: then a question is worth one point or
// none.
package grading
