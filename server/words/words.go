package words

import (
	"embed"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"

	"github.com/nicksnyder/go-i18n/v2/i18n"
	"go.yaml.in/yaml/v3"
	"golang.org/x/text/language"
	"golang.org/x/text/message"
)

//go:embed messages/*.yaml
var messages embed.FS

// Locales lists the languages, as BCP 47 tags, the one to fall back to first.
func Locales() []string { return []string{"en", "de", "es", "fr"} }

// Catalog is the message catalog in every language. It does not change and is
// safe for concurrent use.
type Catalog struct {
	printers map[string]*Printer
	matcher  language.Matcher
}

// Load reads the message catalog that the program carries. An error says which
// file is broken.
func Load() (*Catalog, error) { return load(messages) }

func load(files fs.FS) (*Catalog, error) {
	bundle := i18n.NewBundle(language.English)
	bundle.RegisterUnmarshalFunc("yaml", yaml.Unmarshal)
	names, err := fs.Glob(files, "messages/*.yaml")
	if err != nil {
		return nil, err
	}
	sentences := map[string]map[string]string{}
	for _, name := range names {
		area, locale, ok := strings.Cut(strings.TrimSuffix(path.Base(name), ".yaml"), ".")
		if !ok {
			return nil, fmt.Errorf("words: %s: the name is not AREA.LANGUAGE.yaml", name)
		}
		if !slices.Contains(Locales(), locale) {
			return nil, fmt.Errorf("words: %s: %s is none of the languages %v", name, locale, Locales())
		}
		data, err := fs.ReadFile(files, name)
		if err != nil {
			return nil, err
		}
		data = spaced(locale, data)
		if area == sentencesArea {
			if sentences[locale], err = readSentences(name, data); err != nil {
				return nil, err
			}
			continue
		}
		if _, err := bundle.ParseMessageFileBytes(data, name); err != nil {
			return nil, fmt.Errorf("words: %s: %w", name, err)
		}
	}
	c := &Catalog{printers: map[string]*Printer{}}
	var tags []language.Tag
	for _, locale := range Locales() {
		tag := language.MustParse(locale)
		tags = append(tags, tag)
		c.printers[locale] = &Printer{locale: locale, tag: tag, localizer: i18n.NewLocalizer(bundle, locale),
			numbers: message.NewPrinter(tag), sentences: sentences[locale]}
	}
	c.matcher = language.NewMatcher(tags)
	return c, nil
}

// Printer gives the printer of a language, that of the first of [Locales] if
// there is none for it.
func (c *Catalog) Printer(locale string) *Printer { return c.printers[c.Match(locale)] }

// Match chooses the language that suits best, given tags or values of the header
// Accept-Language (RFC 9110, 12.5.4), the most important first.
func (c *Catalog) Match(preferred ...string) string {
	_, i := language.MatchStrings(c.matcher, preferred...)
	return Locales()[i]
}
