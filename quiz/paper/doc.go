// Package paper prints what rightpage hands out and reads back what comes in.
//
// Every document is a PDF whose bytes depend only on what is printed: the
// dates are arguments, objects are written in a fixed order and nothing is
// random, so that a reprint can be compared with the first print.
package paper
