package words

import (
	"fmt"
	"io/fs"

	"go.yaml.in/yaml/v3"

	"rightpage/grading/psychometrics"
)

// sentencesArea is the area of the files that hold the sentences of package
// psychometrics, by phrase, in the notation of psychometrics.RenderTemplate.
// English has none: it is built in.
const sentencesArea = "sentences"

func readSentences(files fs.FS, name string) (map[string]string, error) {
	data, err := fs.ReadFile(files, name)
	if err != nil {
		return nil, err
	}
	list := map[string]string{}
	if err := yaml.Unmarshal(data, &list); err != nil {
		return nil, fmt.Errorf("words: %s: %w", name, err)
	}
	return list, nil
}

// Render writes a statement about a score; see psychometrics.Words.
func (p *Printer) Render(s psychometrics.Statement) string {
	template, ok := p.sentences[string(s.Phrase)]
	if !ok {
		return psychometrics.English{}.Render(s)
	}
	return psychometrics.RenderTemplate(template, s, p.value, func(n float64, forms []string) string {
		// English, German and Spanish count 1 as one; French counts 0 and up
		// to 2 as one (CLDR, plural rules).
		if one := n == 1 || p.locale == "fr" && n >= 0 && n < 2; one && len(forms) > 0 {
			return forms[0]
		}
		return forms[len(forms)-1]
	})
}

var _ psychometrics.Words = (*Printer)(nil)
