package words

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode"

	"golang.org/x/image/font/sfnt"
	"gonum.org/v1/plot/font"
)

// Whatever is said can be printed: the sans-serif faces of package paper and
// those that charts are drawn with have a glyph for every letter of every
// message. A face that lacks one prints a box, or nothing. Symbols of pages that
// are not printed are left to the browser.
func TestFontsHaveEveryLetter(t *testing.T) {
	letters := map[rune]string{} // → where it is said
	note := func(where, text string) {
		for _, r := range text {
			if _, ok := letters[r]; !ok && r != '\n' {
				letters[r] = where
			}
		}
	}
	for locale, list := range readMessages(t) {
		for id, m := range list {
			printed := strings.HasPrefix(m.file, "vocabulary.")
			for _, text := range m.forms {
				note(locale+" "+id, strings.Map(func(r rune) rune {
					if unicode.Is(unicode.So, r) && !printed {
						return -1
					}
					return r
				}, string(spaced(locale, []byte(text)))))
			}
		}
	}
	for locale, p := range printers(t) {
		for phrase, text := range p.sentences {
			note(locale+" "+phrase, text)
		}
		note(locale+" numbers", p.Number(-1234567.5, 1)+p.Share(0.5))
	}
	faces := map[string]*sfnt.Font{}
	names, err := filepath.Glob(filepath.Join(root, "quiz/paper/fonts/DejaVuSansCondensed*.ttf"))
	if err != nil || len(names) == 0 {
		t.Fatalf("no faces of package paper: %v", err)
	}
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if faces[filepath.Base(name)], err = sfnt.Parse(data); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
	}
	faces["the face of charts"] = font.DefaultCache.Lookup(font.Font{Typeface: "Liberation", Variant: "Sans"}, 9).Face
	for name, face := range faces {
		var b sfnt.Buffer
		for r, where := range letters {
			if i, err := face.GlyphIndex(&b, r); err != nil || i == 0 {
				t.Errorf("%s has no %q (U+%04X), as in %s: %v", name, r, r, where, err)
			}
		}
	}
	if len(letters) < 80 {
		t.Errorf("only %d letters were looked up", len(letters))
	}
}
