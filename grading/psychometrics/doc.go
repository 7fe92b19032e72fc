// Package psychometrics turns answers into figures that mean something: how
// hard a question is, how far a score can be trusted, how able a person is,
// and with what uncertainty. Pure numbers go in and pure numbers come out: the
// package reads no database, knows no catalog and writes no page.
//
// # Data
//
// Everything starts from [Responses], a people × items matrix of 0 (wrong),
// 1 (right) and [Missing] (−1: the person did not see the question, or did not
// reach it). It is one flat row-major slice of int8, so a million answers
// occupy one megabyte. Build it with [New] and [Responses.Set], with
// [FromRows], or from a CSV file with [ReadScores].
//
// Whether a question that was seen but left blank counts as wrong is the
// caller's decision and must be made before the matrix is built: Missing means
// "no information", never "wrong".
//
// # Scale
//
// Abilities (theta) and difficulties (b) are logits on one scale: a person at
// theta answers an item at b correctly with [Probability](theta, b) =
// 1 / (1 + exp(b − theta)). Larger b is harder. Conditional estimates are
// centred so that the difficulties sum to zero, because only differences are
// identified; marginal estimates are centred on the population of people
// (mean 0), with a common slope.
//
// # Undefined values and errors
//
// A descriptive figure that the data cannot define (the correlation of an item
// that everybody got right, the mean of nobody) is NaN, so that one such item
// does not hide the other fifty-nine. A model that cannot be estimated is an
// error that wraps one of the sentinels ([ErrEmpty], [ErrConstant],
// [ErrDisconnected], [ErrNotConverged], [ErrRank]), and [*DataError] says which
// row and which column of the caller's data is wrong, and how to mend it.
// Rows and columns in messages count from 1, as a spreadsheet does; indexes in
// the API count from 0, as Go does.
//
// # Where to start
//
// Two calls give everything that one table of answers tells, with labels:
//
//	r, err := psychometrics.ReadScores(file) // or FromRows
//	summary, err := psychometrics.Summarize(r)
//
// The parts, each by itself:
//
//   - Classical: [ItemStatistics], [TabulateOptions], [Alpha],
//     [StandardError], [ConditionalStandardError], [SpearmanBrown].
//   - Pass or fail: [LivingstonLewis], [Subkoviak], [Angoff] with
//     [WriteJudgePage] and [ReadJudgePage], [ContrastingGroups].
//   - Difficulty: [Conditional], [Marginal]; is the model right: [Andersen],
//     [Fit]; from the features of questions: [FitLLTM], which predicts the
//     difficulty of questions that nobody has answered ([LLTM.Predict]).
//   - Ability: [Abilities] with [WLE], [ML] or [EAP].
//   - In words, with the uncertainty said: [SayShare], [SayScore], [SayPass],
//     [SayAbility], [SayMastery], [SayReadiness] and the other Say functions give
//     a [Statement]; [English] writes it.
//
// # Small numbers
//
// None of these figures refuses small samples, because the uncertainty that
// accompanies each of them says how little they are worth. Whether to show one
// to a person is decided by the Say functions: below a threshold they say "too
// few to tell" in its place. [Thresholds] lists the thresholds with the reason
// of each.
package psychometrics
