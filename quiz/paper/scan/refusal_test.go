package scan

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"rightpage/quiz/paper"
)

func encodePNG(t testing.TB, img image.Image) []byte {
	t.Helper()
	var buf bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&buf, img); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func encodeJPEG(t testing.TB, img image.Image, quality int) []byte {
	t.Helper()
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: quality}); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

// readFile reads one file with a batch of its own.
func readFile(data []byte, opts Options) []Page {
	return slices.Collect(NewBatch(lookupFull, opts).Read(context.Background(), "file", bytes.NewReader(data)))
}

// picture is a filled-in sheet at 120 dpi, and what is marked on it.
func filledPicture(t testing.TB, person string) (*image.Gray, []truth) {
	t.Helper()
	rng := rand.New(rand.NewPCG(4, 4))
	c, page, _ := blankSheet(t, person)
	want := answer(c, page, pen(rng), 0)
	return distortion{dpi: 120, turn: 1}.apply(t, c, rng).(*image.Gray), want
}

func turned(img *image.Gray, quarters int) *image.Gray {
	for range quarters {
		b := img.Rect
		out := image.NewGray(image.Rect(0, 0, b.Dy(), b.Dx()))
		for y := range b.Dy() {
			for x := range b.Dx() {
				out.Pix[x*out.Stride+b.Dy()-1-y] = img.Pix[y*img.Stride+x]
			}
		}
		img = out
	}
	return img
}

func TestAnyWayUp(t *testing.T) {
	img, want := filledPicture(t, "T-001")
	for quarters := range 4 {
		sheet, refusal := readPicture(turned(img, quarters), lookupFull)
		if refusal != nil {
			t.Errorf("turned by %d quarters: %v", quarters, refusal)
			continue
		}
		if got := compare(sheet.Rows, want); got.wrong > 0 || got.needless > 0 {
			t.Errorf("turned by %d quarters: %v", quarters, got)
		}
		if sheet.Code.Person != "T-001" {
			t.Errorf("person %s", sheet.Code.Person)
		}
	}
}

func TestRefusesWithAReason(t *testing.T) {
	page := fullPage()
	good, _ := filledPicture(t, "T-001")
	on := func(change func(c *canvas)) []byte {
		c, _, _ := blankSheet(t, "T-001")
		change(c)
		return encodePNG(t, shrink(c.img, 3))
	}
	otherCode := func(code paper.SheetCode) []byte {
		return encodePNG(t, shrink(printSheet(t, page, code, 300).img, 3))
	}
	mirrored := image.NewGray(good.Rect)
	for y := range good.Rect.Dy() {
		for x := range good.Rect.Dx() {
			mirrored.Pix[y*good.Stride+x] = good.Pix[y*good.Stride+good.Rect.Dx()-1-x]
		}
	}
	text := newCanvas(100)
	for i := range 50 {
		text.text(t, 5, 5+4*float64(i), 11, 0, 0.9, "A page from a repair manual, with text on it.")
	}
	lonely := text.clone()
	lonely.rect(paper.Rect{X: 80, Y: 215, W: paper.MarkSide, H: paper.MarkSide}, 0.9)
	code := page.Code("AUT31", "B", "T-001")
	foreign, unknown, moved := code, code, code
	unknown.Quiz = "SPRING"
	moved.Layout ^= 1
	foreign.Pages = 2
	pale := *good
	pale.Pix = slices.Clone(good.Pix)
	for i, v := range pale.Pix {
		pale.Pix[i] = uint8(230 - (255-int(v))/5)
	}
	tests := []struct {
		name   string
		data   []byte
		opts   Options
		reason Reason
		detail string
	}{
		{"blank page", encodePNG(t, newCanvas(100).img), Options{}, BlankPage, "nothing"},
		{"one corner mark and some text", encodePNG(t, lonely.img), Options{}, MarkMissing, "1 of the four"},
		{"a page of text", encodePNG(t, text.img), Options{}, NoSheet, "four corner squares"},
		{"a corner cut off", encodePNG(t, good.SubImage(image.Rect(120, 200, good.Rect.Dx(), good.Rect.Dy()))), Options{}, NoSheet, "whole sheet must be in the picture"},
		{"mirrored", encodePNG(t, mirrored), Options{}, NoSheet, "not mirrored"},
		{"too few pixels", encodePNG(t, shrink(good, 3)), Options{}, TooCoarse, "dpi"},
		{"a thumbnail", encodePNG(t, shrink(good, 20)), Options{}, TooCoarse, "pixels"},
		{"too pale", encodePNG(t, &pale), Options{}, TooPale, "darker"},
		{"coffee on the code", on(func(c *canvas) { c.disc(paper.CodeX+14, paper.CodeY+17, 11, 0.8) }), Options{}, CodeUnread, "enter the sheet by hand"},
		{"unknown quiz", otherCode(unknown), Options{}, UnknownSheet, "no quiz SPRING"},
		{"another layout", otherCode(moved), Options{}, OtherLayout, "another layout"},
		{"another number of sheets", otherCode(foreign), Options{}, OtherLayout, "another layout"},
		{"empty file", nil, Options{}, BadFile, "empty"},
		{"an office document", []byte("PK\x03\x04 something"), Options{}, BadFile, "save it as PNG, JPEG or PDF"},
		{"a HEIC picture", append([]byte("\x00\x00\x00\x18ftypheic"), make([]byte, 40)...), Options{}, BadFile, "HEIC"},
		{"a TIFF picture", append([]byte("II*\x00"), make([]byte, 40)...), Options{}, BadFile, "TIFF"},
		{"a cut-off JPEG", encodeJPEG(t, good, 80)[:3000], Options{}, BadFile, "damaged"},
		{"a cut-off PNG", encodePNG(t, good)[:3000], Options{}, BadFile, "damaged"},
		{"a damaged PDF", []byte("%PDF-1.4\nnothing else"), Options{}, BadFile, "damaged"},
		{"too many bytes", encodePNG(t, good), Options{Limits: Limits{Bytes: 1000}}, BadFile, "larger than"},
		{"too many pixels", encodePNG(t, good), Options{Limits: Limits{Pixels: 1000}}, BadFile, "million"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			pages := readFile(tt.data, tt.opts)
			if len(pages) != 1 || pages[0].Sheet != nil || pages[0].Refusal == nil {
				t.Fatalf("%d pages: %+v", len(pages), pages)
			}
			r := pages[0].Refusal
			if r.Reason != tt.reason || !strings.Contains(r.Error(), tt.detail) {
				t.Errorf("refused for %q, want %q with %q", r, tt.reason, tt.detail)
			}
		})
	}
}

// A code that is a square code but not ours is told apart from a damaged one.
func TestForeignCode(t *testing.T) {
	c, _, _ := blankSheet(t, "T-001")
	c.cover(paper.Rect{X: paper.CodeX - 2, Y: paper.CodeY - 2, W: 34, H: 34}, 247)
	printCode(t, c, "https://example.org/parts/4711")
	_, refusal := readPicture(shrink(c.img, 2), lookupFull)
	if refusal == nil || refusal.Reason != CodeBad || !strings.Contains(refusal.Error(), "not an answer sheet's code") {
		t.Errorf("%v", refusal)
	}
	var cause *paper.SheetCodeError
	if !errors.As(refusal, &cause) {
		t.Error("the cause is not passed on")
	}
}

// A sheet whose square code is spoilt is read once its code is typed.
func TestTypedCode(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	c, page, code := blankSheet(t, "T-001")
	want := answer(c, page, pen(rng), 0)
	c.disc(paper.CodeX+14, paper.CodeY+17, 11, 0.8)
	data := encodePNG(t, shrink(c.img, 2))
	batch := NewBatch(lookupFull, Options{})
	for p := range batch.Read(context.Background(), "f", bytes.NewReader(data)) {
		if p.Refusal == nil || p.Refusal.Reason != CodeUnread || !strings.Contains(p.Refusal.Error(), "type the code") {
			t.Fatalf("%v", p.Refusal)
		}
	}
	typed, err := paper.ParseSheetCode(code.String())
	if err != nil {
		t.Fatal(err)
	}
	p := batch.ReadAs("f", bytes.NewReader(data), typed)
	if p.Sheet == nil {
		t.Fatal(p.Refusal)
	}
	if got := compare(p.Sheet.Rows, want); got.wrong > 0 || got.needless > 0 || p.Sheet.Code != code {
		t.Errorf("%v, code %s", got, p.Sheet.Code)
	}
	if again := batch.ReadAs("f", bytes.NewReader(data), typed); again.Refusal == nil || again.Refusal.Reason != DuplicateSheet {
		t.Errorf("a second time: %v", again.Refusal)
	}
	if empty := batch.ReadAs("f", bytes.NewReader(nil), typed); empty.Refusal == nil || empty.Refusal.Reason != BadFile {
		t.Errorf("an empty file: %v", empty.Refusal)
	}
}

func TestNoSheetCountsTwice(t *testing.T) {
	a, _ := filledPicture(t, "T-001")
	b, _ := filledPicture(t, "T-002")
	fileA, fileB := encodePNG(t, a), encodeJPEG(t, b, 80)
	batch := NewBatch(lookupFull, Options{Before: func(c paper.SheetCode) (string, bool) {
		return "friday.pdf, page 7", c.Person == "T-002"
	}})
	read := func(name string, data []byte) Page {
		pages := slices.Collect(batch.Read(context.Background(), name, bytes.NewReader(data)))
		if len(pages) != 1 {
			t.Fatalf("%d pages", len(pages))
		}
		return pages[0]
	}
	first := read("one.png", fileA)
	if first.Sheet == nil {
		t.Fatal(first.Refusal)
	}
	second := read("two.png", fileA)
	if second.Refusal == nil || second.Refusal.Reason != DuplicateSheet || !strings.Contains(second.Refusal.Error(), "one.png") {
		t.Errorf("the second copy: %v", second.Refusal)
	}
	earlier := read("three.jpg", fileB)
	if earlier.Refusal == nil || earlier.Refusal.Reason != DuplicateSheet || !strings.Contains(earlier.Refusal.Error(), "friday.pdf, page 7") {
		t.Errorf("read last week: %v", earlier.Refusal)
	}
	batch.Withdraw(first.Sheet.Code)
	if again := read("two.png", fileA); again.Sheet == nil {
		t.Errorf("after withdrawing the first: %v", again.Refusal)
	}
}

func TestSourceAndReasonsRead(t *testing.T) {
	if got := (Source{"a.pdf", 3}).String(); got != "a.pdf, page 3" {
		t.Error(got)
	}
	if got := (Source{File: "a.png"}).String(); got != "a.png" {
		t.Error(got)
	}
	for r := range Reason(len(reasonTexts)) {
		if r.String() == "" {
			t.Errorf("reason %d has no words", r)
		}
	}
	for f := range Flag(len(flagTexts)) {
		if f.String() == "" {
			t.Errorf("flag %d has no words", f)
		}
	}
	_ = fmt.Sprint(Reason(99), Flag(99), Flag(-1))
}
