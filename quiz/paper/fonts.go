package paper

import (
	"embed"
	"fmt"
	"strings"
	"sync"
	"time"

	"github.com/jung-kurt/gofpdf"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/text/unicode/norm"
)

//go:embed fonts/*.ttf
var fontFiles embed.FS

// A face is one of the embedded fonts. The sans and mono faces are for
// everything that is read at work; the display faces are for certificates.
type face int

// The embedded faces. Display faces have no bold: weight there comes from
// size and small capitals.
const (
	faceSans face = iota
	faceSansBold
	faceSansItalic
	faceMono
	faceMonoBold
	faceDisplay
	faceDisplayItalic
	faceDisplayCaps
	faceCount
)

// faceTable says where a face is and how the PDF library names it.
var faceTable = [faceCount]struct {
	family, style, file string
}{
	faceSans:          {"sans", "", "DejaVuSansCondensed.ttf"},
	faceSansBold:      {"sans", "B", "DejaVuSansCondensed-Bold.ttf"},
	faceSansItalic:    {"sans", "I", "DejaVuSansCondensed-Oblique.ttf"},
	faceMono:          {"mono", "", "DejaVuSansMono.ttf"},
	faceMonoBold:      {"mono", "B", "DejaVuSansMono-Bold.ttf"},
	faceDisplay:       {"display", "", "EBGaramond-Regular.ttf"},
	faceDisplayItalic: {"display", "I", "EBGaramond-Italic.ttf"},
	faceDisplayCaps:   {"displaycaps", "", "EBGaramond-SmallCaps.ttf"},
}

// registerFonts makes faces known to pdf. Each costs a pass over the font
// file, so a document asks for those that it uses and no more.
func registerFonts(pdf *gofpdf.Fpdf, faces ...face) error {
	for _, f := range faces {
		if f < 0 || f >= faceCount {
			return fmt.Errorf("paper: no font face number %d", int(f))
		}
		entry := faceTable[f]
		data, err := fontFiles.ReadFile("fonts/" + entry.file)
		if err != nil {
			return fmt.Errorf("paper: embedded font %s: %w", entry.file, err)
		}
		pdf.AddUTF8FontFromBytes(entry.family, entry.style, data)
	}
	if err := pdf.Error(); err != nil {
		return fmt.Errorf("paper: registering fonts: %w", err)
	}
	return nil
}

// setFont selects a registered face at a size in points.
func setFont(pdf *gofpdf.Fpdf, f face, points float64) {
	pdf.SetFont(faceTable[f].family, faceTable[f].style, points)
}

// parsedFace holds one face's character map, read when first asked for.
type parsedFace struct {
	once sync.Once
	font *sfnt.Font
	err  error
}

// parsedFaces is a cache of immutable data embedded in the program.
var parsedFaces [faceCount]parsedFace

func (f face) sfnt() (*sfnt.Font, error) {
	p := &parsedFaces[f]
	p.once.Do(func() {
		data, err := fontFiles.ReadFile("fonts/" + faceTable[f].file)
		if err != nil {
			p.err = err
			return
		}
		p.font, p.err = sfnt.Parse(data)
	})
	return p.font, p.err
}

// missingGlyphs lists, each once, the characters of text for which f has no
// drawing. Control characters and line ends are not counted.
func (f face) missingGlyphs(text string) []rune {
	font, err := f.sfnt()
	if err != nil {
		return []rune(text)
	}
	var (
		buf     sfnt.Buffer
		missing []rune
	)
	for _, r := range text {
		if r < ' ' || strings.ContainsRune(string(missing), r) {
			continue
		}
		if index, err := font.GlyphIndex(&buf, r); err != nil || index == 0 {
			missing = append(missing, r)
		}
	}
	return missing
}

// compose joins letters and their accents (Unicode NFC): the PDF library does
// not combine them.
func compose(text string) string { return norm.NFC.String(text) }

// printable returns text in composed form, with control characters other than line feed dropped
// and characters that f cannot draw replaced by U+FFFD, which f can. The PDF
// library indexes beyond its tables for characters outside the basic plane,
// so all text from outside goes through here.
func (f face) printable(text string) string {
	text = compose(text)
	font, err := f.sfnt()
	if err != nil {
		return text
	}
	var buf sfnt.Buffer
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n':
			return r
		case r == '\t':
			return ' '
		case r < ' ' || r == 0x7f:
			return -1
		}
		if index, err := font.GlyphIndex(&buf, r); err != nil || index == 0 {
			return '\uFFFD'
		}
		return r
	}, text)
}

// PageSize is a paper format by its usual name.
type PageSize string

// The paper formats that every document can be set on.
const (
	A4     PageSize = "A4"     // 210 × 297 mm, ISO 216
	Letter PageSize = "Letter" // 8.5 × 11 in, ANSI/ASME Y14.1
)

// ParsePageSize reads "a4" or "letter" in any case; empty is A4.
func ParsePageSize(s string) (PageSize, error) {
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "", "a4":
		return A4, nil
	case "letter":
		return Letter, nil
	}
	return "", fmt.Errorf("paper: unknown page size %q: use a4 or letter", s)
}

// documentOptions say how a new document is set up.
type documentOptions struct {
	Size      PageSize  // empty is A4
	Landscape bool      // long edge at the bottom
	Title     string    // document properties, shown in a viewer's title bar
	Subject   string    // document properties
	Author    string    // document properties: the organisation
	Created   time.Time // both dates of the document; never the clock
	Faces     []face    // fonts to register
}

// newDocument starts a PDF document whose bytes depend on its content alone:
// both dates are those given, objects are written in a fixed order and there
// is no random identifier. Units are millimetres; margins are zero and
// automatic page breaks are off, as every layout here places its own text.
func newDocument(o documentOptions) (*gofpdf.Fpdf, error) {
	if o.Created.IsZero() {
		return nil, fmt.Errorf("paper: a document needs its date: set Created")
	}
	size := o.Size
	if size == "" {
		size = A4
	}
	if size != A4 && size != Letter {
		return nil, fmt.Errorf("paper: unknown page size %q: use %s or %s", size, A4, Letter)
	}
	orientation := "P"
	if o.Landscape {
		orientation = "L"
	}
	pdf := gofpdf.New(orientation, "mm", string(size), "")
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(o.Created.UTC())
	pdf.SetModificationDate(o.Created.UTC())
	pdf.SetProducer("rightpage", true)
	pdf.SetTitle(property(o.Title), true)
	pdf.SetSubject(property(o.Subject), true)
	pdf.SetAuthor(property(o.Author), true)
	pdf.SetMargins(0, 0, 0)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetCellMargin(0)
	if err := registerFonts(pdf, o.Faces...); err != nil {
		return nil, err
	}
	return pdf, pdf.Error()
}

// property makes a text fit for the document properties: the PDF library
// fails on bytes that are not UTF-8 and garbles characters beyond the basic
// plane.
func property(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t':
			return ' '
		case r < ' ' || r == 0x7f:
			return -1
		case r > 0xffff:
			return '\uFFFD'
		}
		return r
	}, compose(text))
}
