package paper

import (
	"bytes"
	"testing"
	"time"
)

var testDate = time.Date(2031, 3, 14, 9, 0, 0, 0, time.UTC)

func TestFacesDrawTheLanguagesOfWorkshops(t *testing.T) {
	// Names and terms in the Latin, Greek and Cyrillic alphabets, and the
	// signs that limits and specifications are printed with.
	const text = "Åse Łukasz Győző Şule Žofia Ærø ß Œ Ελένη Щукин Їжак – ‘’“” … € × ± ° µ ½ ≤ ≥ →"
	for _, f := range []face{faceSans, faceSansBold, faceSansItalic, faceMono, faceMonoBold} {
		if got := f.missingGlyphs(text); len(got) > 0 {
			t.Errorf("%s lacks %q", faceTable[f].file, string(got))
		}
	}
	// Names alone may carry two accents on a letter.
	for _, f := range []face{faceSans, faceSansBold, faceSansItalic, faceDisplay} {
		if got := f.missingGlyphs("Nguyễn Đức"); len(got) > 0 {
			t.Errorf("%s lacks %q", faceTable[f].file, string(got))
		}
	}
}

func TestPrintable(t *testing.T) {
	tests := []struct{ name, in, want string }{
		{"plain", "Filter, oil", "Filter, oil"},
		{"accents composed", "Jose\u0301", "José"},
		{"line feed kept, tab a space, control dropped", "a\nb\tc\x00d\x7f", "a\nb cd"},
		{"outside the basic plane", "ok \U0001F527", "ok \uFFFD"},
		{"no glyph", "山", "\uFFFD"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := faceSans.printable(tt.in); got != tt.want {
				t.Errorf("printable(%q) = %q, want %q", tt.in, got, tt.want)
			}
		})
	}
}

func TestNewDocumentIsDeterministic(t *testing.T) {
	make1 := func() []byte {
		pdf, err := newDocument(documentOptions{Size: Letter, Title: "Ünïcode", Created: testDate,
			Faces: []face{faceSans, faceSansBold, faceMono, faceDisplay}})
		if err != nil {
			t.Fatal(err)
		}
		pdf.AddPage()
		for i, f := range []face{faceSans, faceSansBold, faceMono, faceDisplay} {
			setFont(pdf, f, 12)
			pdf.Text(20, 20+10*float64(i), f.printable("Grüße, Привет, γειά"))
		}
		var buf bytes.Buffer
		if err := pdf.Output(&buf); err != nil {
			t.Fatal(err)
		}
		return buf.Bytes()
	}
	first := make1()
	for range 5 {
		if !bytes.Equal(first, make1()) {
			t.Fatal("two documents of the same content differ")
		}
	}
}

func TestNewDocumentRefusesWhatItCannotDo(t *testing.T) {
	if _, err := newDocument(documentOptions{}); err == nil {
		t.Error("no date: want an error")
	}
	if _, err := newDocument(documentOptions{Size: "A5", Created: testDate}); err == nil {
		t.Error("A5: want an error")
	}
	if _, err := ParsePageSize("foolscap"); err == nil {
		t.Error("foolscap: want an error")
	}
}
