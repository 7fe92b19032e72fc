// Package progress says what people can do, from what they answered: how far
// each skill and each step of a lookup is mastered, what to practise next, who
// will be ready for a course, and who has come further than chance explains.
//
//	p := progress.New(s, progress.Options{})
//	record, err := p.Of(ctx, person)                          // skills, steps, slips, weeks
//	q, why, err := p.Next(ctx, person, mode, bank, avoid, rng) // next practice question
//	state, err := p.Check(ctx, person, skill, bank, given, avoid, rng) // a check that measures: next question, or result
//	board, err := p.Readiness(ctx, requirement, people, now)   // ready, at risk, not, too few to tell
//	month, err := p.Recognition(ctx, month)                    // whose growth deserves a word
//
// Answers are read from the store once and then kept up to date: see
// [Progress.Note]. How mastery of a skill is tracked is decided by the answers
// themselves ([psychometrics.SelectMastery]): by knowledge tracing with
// forgetting where that predicts the answers of people held out better than a
// moving average, by the moving average elsewhere.
//
// Every figure has its uncertainty beside it, and says that there are too few
// answers to tell where there are: see [psychometrics.Thresholds].
//
// The rules are pure functions of what was answered, apart from the reading of
// the store: see [Weeks], [StepShares], [StateOf], [MostImproved], [Quicker],
// [Steadiest].
package progress
