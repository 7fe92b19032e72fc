package grading

import "rightpage/banks"

// Grade scores an answer. How it is written depends on the form: an option by
// its letter or its name; several options by their letters, with or without
// separators; an order by the letters in order; a number with its unit; a chase
// by its steps, separated by | or one a line. An answer that is blank scores
// nothing; one that cannot be read, such as two marks where one is asked for, is
// a [*Refusal].
//
// Who grades many answers to a question uses a [Grader].
func Grade(q *banks.Question, given string, rules Rules) (Score, error) {
	return NewGrader(q, rules).Grade(given)
}
