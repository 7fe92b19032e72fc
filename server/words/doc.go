// Package words holds what the pages say, in every language that they speak:
// a message catalog, and how dates, numbers and durations are written.
//
//	all, err := words.Load()
//	p := all.Printer("de")
//	p.T("quiz.left", "Count", 3)             // "Noch 3 Fragen"
//	p.Day(when), p.Number(0.5, 1), p.Share(0.83)
//
// Messages are in messages/AREA.LANGUAGE.yaml: an ID a line, its text a template
// of package text/template in which the pairs given to T are the fields. A
// message with a number in it has the plural forms of the language (CLDR) in
// place of the text and takes the number as Count.
//
// What the catalog of literature and the questions say is the organisation's own
// and is not translated.
package words
