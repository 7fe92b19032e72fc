// Package grading scores answers to the questions of a bank. Every wrong answer
// names the slip that leads to it, or says that it is not recognised, and says
// at which step of the lookup it leaves the right path and, in one sentence, what
// to do next time.
//
// [Grade] grades one answer, a [Grader] many answers to one question, [GradeCSV]
// the responses of a spreadsheet. What cannot be graded as it stands is a
// [Refusal]: a person must look. Nothing is guessed that could be meant
// otherwise, and nothing is left out silently.
//
// # Scores
//
// A question is worth one point.
//
//   - One of several, typed and number are right or wrong.
//   - Several of several scores the share of the right options that are marked,
//     less the share of the wrong ones that are, never below zero: hits/right −
//     false marks/wrong. Marks made without looking, be it all options or any at
//     random, are worth nothing on the average before the cut at zero (the sum
//     of sensitivity and specificity less one: Youden 1950).
//   - Ordered scores (L−1)/(n−1), where L is the length of the longest common
//     subsequence with the right order of n. An order at random scores 0.47 on
//     the average for n = 4, a single item out of place 0.67.
//   - A chase scores the mean of its steps. A step that is right on what the
//     technician has in hand, after a slip at an earlier step, counts as right
//     (error carried forward); see below.
//
// [Rules] can turn partial credit off: then a question is worth one point or
// none.
//
// # Typed answers
//
// Case, spaces, invisible characters and separators do not count, except that a
// separator between two digits parts them ([Normalise]). Look-alike characters
// are taken for one another only where the charset of the key forbids one of
// them. A place may be written in full or short (page 130, p. 130, 130; section
// CB.10, CB 10; sheet 1 frame F5, 1/F5); one that says too little to be found by
// somebody else is wrong, and one that can be read as two places is refused.
// Where a publication is asked for with its place, both must be named.
//
// # Numbers and units
//
// The unit is part of the answer. Units of the same dimensions are converted by
// factors that are exact by definition. A number is right within the tolerance
// of the key (none, if it declares none), or if it is the key converted to the
// unit written and rounded to the decimals written, and within 1 % of it. A
// comma or point before three digits is read as the decimal mark or as parting
// thousands, whichever makes it an answer that is known; if both do, the answer
// is refused. The right number with another unit is the slip of mixed-up units;
// without a unit it is wrong, and says so.
//
// # Error carried forward
//
// Each step of a chase knows, for every slip and its variants, which answer it
// leads to. The technician is taken to be on every way that agrees with all
// answers since the one with which it began. A wrong answer that such a way
// leads to is right on what is in hand. The key ends the ways that lead elsewhere
// at its step; a wrong answer that no way explains begins anew; a blank step
// changes nothing, and scores nothing.
//
// # Regrading
//
// [Regrade] finds out which scores change when a catalog revision ([Revision])
// or an accepted dispute ([Rulings]) changes keys, keeps the old ones beside the
// new ones, and says why. It decides nothing and changes nothing.
package grading
