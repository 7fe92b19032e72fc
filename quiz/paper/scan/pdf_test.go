package scan

import (
	"bytes"
	"compress/zlib"
	"context"
	"fmt"
	"image"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/jung-kurt/gofpdf"
)

// rawPDF writes a PDF whose pages are one picture each, packed as given. It
// is the least that scanners write, so that every packing can be tested.
type rawPDF struct {
	buf     bytes.Buffer
	offsets []int
	pages   []int
}

func (p *rawPDF) object(text string, stream []byte) int {
	if p.buf.Len() == 0 {
		p.buf.WriteString("%PDF-1.5\n")
		p.offsets = make([]int, 2) // catalog and page tree come last
	}
	p.offsets = append(p.offsets, p.buf.Len())
	n := len(p.offsets)
	fmt.Fprintf(&p.buf, "%d 0 obj\n%s\n", n, text)
	if stream != nil {
		fmt.Fprintf(&p.buf, "stream\n%s\nendstream\n", stream)
	}
	p.buf.WriteString("endobj\n")
	return n
}

// page adds a page that draws picture, of the dictionary entries given.
func (p *rawPDF) page(w, h int, entries string, data []byte) {
	img := p.object(fmt.Sprintf("<</Type /XObject /Subtype /Image /Width %d /Height %d %s /Length %d>>", w, h, entries, len(data)), data)
	p.pageWith(fmt.Sprintf("/Im0 %d 0 R", img), "q 595 0 0 842 0 0 cm /Im0 Do Q")
}

func (p *rawPDF) pageWith(xobjects, content string) {
	c := p.object(fmt.Sprintf("<</Length %d>>", len(content)), []byte(content))
	p.pages = append(p.pages, p.object(fmt.Sprintf("<</Type /Page /Parent 2 0 R /MediaBox [0 0 595 842] /Contents %d 0 R /Resources <</XObject <<%s>>>>>>", c, xobjects), nil))
}

func (p *rawPDF) bytes() []byte {
	p.offsets[0] = p.buf.Len()
	p.buf.WriteString("1 0 obj\n<</Type /Catalog /Pages 2 0 R>>\nendobj\n")
	p.offsets[1] = p.buf.Len()
	var kids string
	for _, n := range p.pages {
		kids += fmt.Sprintf("%d 0 R ", n)
	}
	fmt.Fprintf(&p.buf, "2 0 obj\n<</Type /Pages /Kids [%s] /Count %d>>\nendobj\n", kids, len(p.pages))
	table := p.buf.Len()
	fmt.Fprintf(&p.buf, "xref\n0 %d\n0000000000 65535 f \n", len(p.offsets)+1)
	for _, o := range p.offsets {
		fmt.Fprintf(&p.buf, "%010d 00000 n \n", o)
	}
	fmt.Fprintf(&p.buf, "trailer\n<</Size %d /Root 1 0 R>>\nstartxref\n%d\n%%%%EOF\n", len(p.offsets)+1, table)
	return p.buf.Bytes()
}

func deflated(data []byte) []byte {
	var buf bytes.Buffer
	w := zlib.NewWriter(&buf)
	w.Write(data)
	w.Close()
	return buf.Bytes()
}

// bits packs a picture as one bit a pixel, 1 being white.
func bits(img *image.Gray) []byte {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	out := make([]byte, (w+7)/8*h)
	for y := range h {
		for x := range w {
			if img.Pix[y*img.Stride+x] > 140 {
				out[y*((w+7)/8)+x/8] |= 0x80 >> (x % 8)
			}
		}
	}
	return out
}

func packed(img *image.Gray) []byte {
	out := make([]byte, 0, img.Rect.Dx()*img.Rect.Dy())
	for y := range img.Rect.Dy() {
		out = append(out, img.Pix[y*img.Stride:][:img.Rect.Dx()]...)
	}
	return out
}

func TestPDFsOfScans(t *testing.T) {
	grey, want := filledPicture(t, "T-001")
	w, h := grey.Rect.Dx(), grey.Rect.Dy()
	var rgb, inverse, palette []byte
	for _, v := range packed(grey) {
		rgb = append(rgb, v, v, v)
		palette = append(palette, v>>4)
	}
	for _, v := range bits(grey) {
		inverse = append(inverse, ^v)
	}
	var sixteen strings.Builder
	for i := range 16 {
		fmt.Fprintf(&sixteen, "%02x%02x%02x", i*17, i*17, i*17)
	}
	tests := []struct {
		name, entries string
		data          []byte
	}{
		{"JPEG, grey", "/ColorSpace /DeviceGray /BitsPerComponent 8 /Filter /DCTDecode", encodeJPEG(t, grey, 80)},
		{"JPEG, packed again", "/ColorSpace /DeviceGray /BitsPerComponent 8 /Filter [/FlateDecode /DCTDecode]", deflated(encodeJPEG(t, grey, 80))},
		{"grey", "/ColorSpace /DeviceGray /BitsPerComponent 8 /Filter /FlateDecode", deflated(packed(grey))},
		{"grey, not packed", "/ColorSpace /DeviceGray /BitsPerComponent 8", packed(grey)},
		{"colour", "/ColorSpace /DeviceRGB /BitsPerComponent 8 /Filter /FlateDecode", deflated(rgb)},
		{"black and white", "/ColorSpace /DeviceGray /BitsPerComponent 1 /Filter /FlateDecode", deflated(bits(grey))},
		{"black and white, inverse", "/ColorSpace /DeviceGray /BitsPerComponent 1 /Decode [1 0] /Filter /FlateDecode", deflated(inverse)},
		{"palette", "/ColorSpace [/Indexed /DeviceRGB 15 <" + sixteen.String() + ">] /BitsPerComponent 8 /Filter /FlateDecode", deflated(palette)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var p rawPDF
			p.page(w, h, tt.entries, tt.data)
			pages := readFile(p.bytes(), Options{})
			if len(pages) != 1 {
				t.Fatalf("%d pages", len(pages))
			}
			if pages[0].Refusal != nil {
				t.Fatal(pages[0].Refusal)
			}
			if got := compare(pages[0].Sheet.Rows, want); got.wrong > 0 || got.needless > 20 {
				t.Errorf("%v %v", got, got.examples)
			}
			if pages[0].Source.Page != 1 {
				t.Errorf("source %v", pages[0].Source)
			}
		})
	}
}

// fax.g4 is a sheet of the full form, person T-001, at 150 dpi, packed in one
// strip by CCITT group 4 (ITU-T T.6) as fax scanners do, by ImageMagick. Make
// it anew when the layout changes: LOOK=/tmp go test -run FaxPDF writes the
// picture; convert /tmp/fax.png -threshold 55% -define
// tiff:rows-per-strip=99999 -compress Group4 /tmp/fax.tif packs it; the strip
// (TIFF tags 273 and 279) is the file.
func TestFaxPDF(t *testing.T) {
	img, want := filledFax(t)
	if dir := os.Getenv("LOOK"); dir != "" {
		if err := os.WriteFile(dir+"/fax.png", encodePNG(t, img), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	data, err := os.ReadFile("testdata/fax.g4")
	if err != nil {
		t.Fatal(err)
	}
	w, h := img.Rect.Dx(), img.Rect.Dy()
	for _, colours := range []string{"/ColorSpace /DeviceGray", "/ImageMask true"} {
		var p rawPDF
		p.page(w, h, fmt.Sprintf("%s /BitsPerComponent 1 /Filter /CCITTFaxDecode /DecodeParms <</K -1 /Columns %d /Rows %d>>", colours, w, h), data)
		pages := readFile(p.bytes(), Options{})
		if len(pages) != 1 || pages[0].Refusal != nil {
			t.Fatalf("%s: %v", colours, pages[0].Refusal)
		}
		if got := compare(pages[0].Sheet.Rows, want); got.wrong > 0 || got.needless > 20 {
			t.Errorf("%s: %v %v", colours, got, got.examples)
		}
	}
}

func filledFax(t testing.TB) (*image.Gray, []truth) {
	rng := rand.New(rand.NewPCG(4, 4))
	c, page, _ := blankSheet(t, "T-001")
	want := answer(c, page, pen(rng), 0)
	return shrink(c.img, 2), want
}

// A tray of sheets scanned on both sides, by a program that gives all pages
// one list of pictures: each page is read by its own, blank backs are told as
// such, a second copy is refused, and the rest is read.
func TestTrayOfSheets(t *testing.T) {
	pdf := gofpdf.New("P", "mm", "A4", "")
	add := func(name string, img image.Image) {
		pdf.AddPage()
		pdf.RegisterImageOptionsReader(name, gofpdf.ImageOptions{ImageType: "JPG"}, bytes.NewReader(encodeJPEG(t, img, 75)))
		pdf.ImageOptions(name, 0, 0, 210, 297, false, gofpdf.ImageOptions{ImageType: "JPG"}, 0, "")
	}
	one, want1 := filledPicture(t, "T-001")
	two, want2 := filledPicture(t, "T-002")
	add("one", one)
	add("back", newCanvas(100).img)
	add("two", turned(two, 2))
	add("again", one)
	pdf.AddPage() // a typed page
	pdf.SetFont("Helvetica", "", 12)
	pdf.Text(20, 20, "Cover letter")
	var buf bytes.Buffer
	if err := pdf.Output(&buf); err != nil {
		t.Fatal(err)
	}
	pages := readFile(buf.Bytes(), Options{})
	if len(pages) != 5 {
		t.Fatalf("%d pages", len(pages))
	}
	for i, want := range [][]truth{0: want1, 2: want2} {
		if want == nil {
			continue
		}
		if pages[i].Sheet == nil {
			t.Fatalf("page %d: %v", i+1, pages[i].Refusal)
		}
		if got := compare(pages[i].Sheet.Rows, want); got.wrong > 0 || got.needless > 0 {
			t.Errorf("page %d: %v", i+1, got)
		}
	}
	if a, b := pages[0].Sheet.Code.Person, pages[2].Sheet.Code.Person; a != "T-001" || b != "T-002" {
		t.Errorf("read as %s and %s", a, b)
	}
	for i, want := range map[int]Reason{1: BlankPage, 3: DuplicateSheet, 4: NoPicture} {
		if r := pages[i].Refusal; r == nil || r.Reason != want {
			t.Errorf("page %d: %v, want %s", i+1, r, want)
		}
	}
	if s := pages[3].Refusal.Error(); !strings.Contains(s, "file, page 1") {
		t.Errorf("the duplicate's refusal does not say where the first is: %s", s)
	}
}

func TestPDFRefusals(t *testing.T) {
	grey, _ := filledPicture(t, "T-001")
	w, h := grey.Rect.Dx(), grey.Rect.Dy()
	raw := func(w, h int, entries string, data []byte) []byte {
		var p rawPDF
		p.page(w, h, entries, data)
		return p.bytes()
	}
	empty := func() []byte {
		var p rawPDF
		p.object("<<>>", nil)
		p.pageWith("", "BT ET")
		return p.bytes()
	}
	locked := func() []byte {
		pdf := gofpdf.New("P", "mm", "A4", "")
		pdf.SetProtection(0, "secret", "owner")
		pdf.AddPage()
		var buf bytes.Buffer
		if err := pdf.Output(&buf); err != nil {
			t.Fatal(err)
		}
		return buf.Bytes()
	}
	tests := []struct {
		name   string
		data   []byte
		opts   Options
		reason Reason
		detail string
	}{
		{"no picture", empty(), Options{}, NoPicture, "not a scan"},
		{"JBIG2", raw(w, h, "/ColorSpace /DeviceGray /BitsPerComponent 1 /Filter /JBIG2Decode", []byte("\x00\x00\x00\x00")), Options{}, NoPicture, "JBIG2Decode, which is not read here"},
		{"JPEG 2000", raw(w, h, "/ColorSpace /DeviceGray /BitsPerComponent 8 /Filter /JPXDecode", []byte("\x00\x00\x00\x0cjP")), Options{}, NoPicture, "JPEG pictures"},
		{"damaged JPEG", raw(w, h, "/ColorSpace /DeviceGray /BitsPerComponent 8 /Filter /DCTDecode", encodeJPEG(t, grey, 80)[:2000]), Options{}, BadFile, "damaged"},
		{"cut-off picture", raw(w, h, "/ColorSpace /DeviceGray /BitsPerComponent 8 /Filter /FlateDecode", deflated(packed(grey)[:5000])), Options{}, NoPicture, "scanner's settings"},
		{"too many pixels", raw(90000, 90000, "/ColorSpace /DeviceGray /BitsPerComponent 8 /Filter /FlateDecode", deflated([]byte("x"))), Options{}, BadFile, "million"},
		{"unpacks to too much", raw(1000, 1000, "/ColorSpace /DeviceGray /BitsPerComponent 8 /Filter /FlateDecode", deflated(make([]byte, 64<<20))), Options{Limits: Limits{Pixels: 2 << 20}}, NoPicture, ""},
		{"too many pages", raw(w, h, "/ColorSpace /DeviceGray /BitsPerComponent 8 /Filter /DCTDecode", encodeJPEG(t, grey, 80)), Options{Limits: Limits{Pages: -1}}, BadFile, "split it"},
		{"password", locked(), Options{}, BadFile, "password"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			pages := readFile(tt.data, tt.opts)
			if len(pages) != 1 || pages[0].Refusal == nil {
				t.Fatalf("%d pages %+v", len(pages), pages)
			}
			if r := pages[0].Refusal; r.Reason != tt.reason || !strings.Contains(r.Error(), tt.detail) {
				t.Errorf("%v, want %s with %q", r, tt.reason, tt.detail)
			}
		})
	}
}

// Reading stops where the caller stops or the context ends.
func TestReadingCanBeStopped(t *testing.T) {
	grey, _ := filledPicture(t, "T-001")
	var p rawPDF
	for range 3 {
		p.page(grey.Rect.Dx(), grey.Rect.Dy(), "/ColorSpace /DeviceGray /BitsPerComponent 8 /Filter /DCTDecode", encodeJPEG(t, grey, 80))
	}
	data := p.bytes()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	n := 0
	for range NewBatch(lookupFull, Options{}).Read(ctx, "f", bytes.NewReader(data)) {
		n++
		cancel()
	}
	if n != 1 {
		t.Errorf("%d pages read, cancelled during the first", n)
	}
	for page := range NewBatch(lookupFull, Options{}).Read(context.Background(), "f", bytes.NewReader(data)) {
		if page.Source.Page > 1 {
			t.Error("read on after break")
		}
		break
	}
}
