package scan

import (
	"bytes"
	"context"
	"image"
	"testing"

	"rightpage/quiz/paper"
)

// FuzzRead feeds the reader anything as a file: it must neither panic nor
// hang, and each page must end as a sheet or as a refusal with words. The
// limits and the seeds are small, for speed; FuzzPicture has the rest.
func FuzzRead(f *testing.F) {
	page := fullPage()
	code := page.Code("AUT31", "B", "T-001")
	small := shrink(printSheet(f, page, code, 75).img, 8)
	w, h := small.Rect.Dx(), small.Rect.Dy()
	f.Add(encodePNG(f, small))
	f.Add(encodeJPEG(f, small, 40))
	for _, packing := range []struct {
		entries string
		data    []byte
	}{
		{"/ColorSpace /DeviceGray /BitsPerComponent 8 /Filter /DCTDecode", encodeJPEG(f, small, 30)},
		{"/ColorSpace /DeviceGray /BitsPerComponent 8 /Filter /FlateDecode", deflated(packed(small))},
		{"/ColorSpace /DeviceGray /BitsPerComponent 1 /Decode [1 0]", bits(small)},
	} {
		var p rawPDF
		p.page(w, h, packing.entries, packing.data)
		f.Add(p.bytes())
	}
	f.Add([]byte("%PDF-1.4"))
	f.Add([]byte{0xff, 0xd8, 0xff})
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, data []byte) {
		batch := NewBatch(lookupFull, Options{Limits: Limits{Bytes: 1 << 18, Pixels: 1 << 16, Pages: 4}})
		n := 0
		for p := range batch.Read(context.Background(), "f", bytes.NewReader(data)) {
			n++
			if (p.Sheet == nil) == (p.Refusal == nil) {
				t.Fatalf("sheet %v, refusal %v", p.Sheet, p.Refusal)
			}
			if p.Refusal != nil && p.Refusal.Detail == "" {
				t.Fatal("a refusal without words")
			}
		}
		if n == 0 {
			t.Fatal("a file without a page")
		}
	})
}

// FuzzPicture feeds the reader pictures of any size and content, past the
// decoders.
func FuzzPicture(f *testing.F) {
	f.Add(uint16(100), uint16(140), []byte{0, 255, 128})
	f.Add(uint16(64), uint16(64), []byte{})
	f.Add(uint16(700), uint16(64), []byte{255, 255, 0})
	f.Fuzz(func(t *testing.T, w, h uint16, pattern []byte) {
		img := image.NewGray(image.Rect(0, 0, int(w%1200)+1, int(h%1200)+1))
		for i := range img.Pix {
			img.Pix[i] = 255
			if len(pattern) > 0 {
				img.Pix[i] = pattern[(i+i/97)%len(pattern)]
			}
		}
		sheet, refusal := readPicture(img, func(paper.SheetCode) (paper.SheetPage, error) { return fullPage(), nil })
		if (sheet == nil) == (refusal == nil) {
			t.Fatalf("sheet %v, refusal %v", sheet, refusal)
		}
	})
}
