// Package words holds what the pages say, in every language that they speak:
// a message catalog, and how dates, numbers and durations are written.
//
//	all, err := words.Load()
//	p := all.Printer("de")
//	p.T("quiz.left", "Count", 3)             // "Noch 3 Fragen"
//	p.Day(when), p.Number(0.5, 1), p.Share(0.83)
//	p.Render(psychometrics.SayShare(17, 20))  // what a score means
//	p.Notice(n.Kind, n.Detail)                // what somebody is told
//
// Messages are in messages/AREA.LANGUAGE.yaml: an ID a line, its text a template
// of package text/template in which the pairs given to T are the fields. A
// message with a number in it has the plural forms of the language (CLDR) in
// place of the text and takes the number as Count.
//
// Three areas are special. The sentences about scores (messages/sentences) are by
// phrase of package psychometrics, which has the English ones. The vocabulary
// (messages/vocabulary) names what the program knows by fixed words: kinds of
// question, slips, steps, states, actions of the audit log; an ID is a prefix and
// the word in lower case with hyphens for spaces, as in slip.bulletin-ignored.
// Names begin with a small letter, for they stand within sentences, apart from
// kinds of question, which are titles. The area base is what every page needs.
//
// The tests of this package read the pages and the code of the server: they fail
// where a message is used that there is not, where one is used nowhere, and
// where a new word of the program has no name. The words agreed on for each thing
// in each language are in terms_test.go, which fails where a message says another.
//
// What the catalog of literature and the questions say is the organisation's own
// and is not translated.
package words
