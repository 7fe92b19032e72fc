package words

import "strings"

// nbsp is a space at which no line is broken. It is U+00A0 rather than the
// narrow U+202F that French has in places, which many fonts lack.
const nbsp = "\u00a0"

// spaced makes the spaces of a file of messages such that no line begins with a
// per cent sign or, in French, with the punctuation that stands apart from its
// word (Lexique des règles typographiques en usage à l'Imprimerie nationale, from
// memory). In the files they are plain spaces, which editors show.
func spaced(locale string, text []byte) []byte {
	switch locale {
	case "en", "de", "es":
		return []byte(strings.ReplaceAll(string(text), " %", nbsp+"%"))
	case "fr":
		return []byte(strings.NewReplacer(" :=", " :=", // of a template
			" :", nbsp+":", " ;", nbsp+";", " ?", nbsp+"?", " !", nbsp+"!", "« ", "«"+nbsp, " »", nbsp+"»", " %", nbsp+"%").Replace(string(text)))
	}
	return text
}
