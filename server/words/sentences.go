package words

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"rightpage/grading/psychometrics"
)

// sentencesArea is the area of the files that hold the sentences of package
// psychometrics, by phrase, in the notation of psychometrics.RenderTemplate.
// English has none: it is built in.
const sentencesArea = "sentences"

func readSentences(name string, data []byte) (map[string]string, error) {
	list := map[string]string{}
	if err := yaml.Unmarshal(data, &list); err != nil {
		return nil, fmt.Errorf("words: %s: %w", name, err)
	}
	return list, nil
}

// Render writes a statement about a score; see psychometrics.Words.
func (p *Printer) Render(s psychometrics.Statement) string {
	text := p.sentence(s)
	if text == "" {
		return ""
	}
	// A sentence may begin with a value in words or a name.
	first, size := utf8.DecodeRuneInString(text)
	return string(unicode.ToUpper(first)) + text[size:]
}

// sentence is Render without the capital. English, and a phrase that a newer
// program has stored, are left to psychometrics.English.
func (p *Printer) sentence(s psychometrics.Statement) string {
	template, ok := p.sentences[string(s.Phrase)]
	if !ok {
		return strings.ReplaceAll(psychometrics.English{}.Render(s), " %", nbsp+"%")
	}
	return psychometrics.RenderTemplate(template, p.named(s), p.value, func(n float64, forms []string) string {
		// English, German and Spanish count 1 as one; French counts 0 and up
		// to 2 as one (CLDR, plural rules). The form many of French and Spanish
		// begins at a million, which nothing here is counted to.
		if one := n == 1 || p.locale == "fr" && n >= 0 && n < 2; one {
			return forms[0]
		}
		return forms[len(forms)-1]
	})
}

// named puts the names of skills in a statement into the language: progress stores
// and says them as the kinds of question have them.
func (p *Printer) named(s psychometrics.Statement) psychometrics.Statement {
	values := make(map[string]psychometrics.Value, len(s.Values))
	for name, v := range s.Values {
		if v.Kind == psychometrics.KindText && (name == "skill" || name == "skills") {
			v.Text = p.Or("skill."+strings.ReplaceAll(strings.ToLower(v.Text), " ", "-"), v.Text)
		}
		values[name] = v
	}
	s.Values = values
	return s
}

var _ psychometrics.Words = (*Printer)(nil)
