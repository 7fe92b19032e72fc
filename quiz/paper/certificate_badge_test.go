package paper

import (
	"bytes"
	"image"
	"image/png"
	"io"
	"strings"
	"testing"

	"rightpage/quiz/certificate"
)

func sampleBadge() Badge {
	c := sampleCertificate()
	return BadgeOf(certificate.Certificate{Person: c.Person, Quiz: c.Quiz, Organisation: c.Organisation,
		CatalogTitle: c.CatalogTitle, CatalogRevision: c.CatalogRevision, Expires: c.Expires, Number: c.Number})
}

func badgePNG(t *testing.T, b Badge) []byte {
	t.Helper()
	var buf bytes.Buffer
	if err := WriteBadge(&buf, b); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func TestBadge(t *testing.T) {
	data := badgePNG(t, sampleBadge())
	if !bytes.Equal(data, badgePNG(t, sampleBadge())) {
		t.Error("drawn twice, the bytes differ")
	}
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	if img.Bounds() != image.Rect(0, 0, BadgeSide, BadgeSide) {
		t.Errorf("bounds %v", img.Bounds())
	}
	if len(data) > 60_000 {
		t.Errorf("%d bytes are much for a badge", len(data))
	}
	// The sheet is white inside and there is nothing beside its tab.
	if _, _, _, a := img.At(BadgeSide-20, 20).RGBA(); a != 0 {
		t.Error("the corner beside the tab is not clear")
	}
	if r, g, b, a := img.At(BadgeSide-40, 110).RGBA(); r != 0xffff || g != 0xffff || b != 0xffff || a != 0xffff {
		t.Error("the sheet is not white")
	}
	// Something is written in every line: the rows of each text have dark pixels.
	for _, y := range []int{50, 335, 400, 487, 525, 563} {
		dark := 0
		for x := 60; x < BadgeSide-60; x++ {
			if r, _, _, a := img.At(x, y).RGBA(); a == 0xffff && r < 0x8000 {
				dark++
			}
		}
		if dark < 10 {
			t.Errorf("row %d has %d dark pixels, want writing", y, dark)
		}
	}
}

func TestBadgeShowsLongAndForeignText(t *testing.T) {
	b := sampleBadge()
	b.Person = strings.Repeat("Wolfeschlegelsteinhausen ", 8)
	b.Quiz = "Ελένη Щукин 山"
	if err := WriteBadge(io.Discard, b); err != nil {
		t.Error(err)
	}
	if err := WriteBadge(io.Discard, Badge{Person: "x"}); err == nil {
		t.Error("an incomplete badge: want an error")
	}
}

// Two certificates do not share a shelf, and the right page is a leaf.
func TestShelf(t *testing.T) {
	seen := map[int]int{}
	for i := range 200 {
		s := shelfOf(strings.Repeat("x", i), 89)
		if s.leaves[s.page] == 0 {
			t.Fatalf("seed %d: the page stands in a gap", i)
		}
		for _, leaf := range s.leaves {
			if leaf < 0 || leaf > 1 {
				t.Fatalf("seed %d: leaf height %v", i, leaf)
			}
		}
		seen[s.page]++
	}
	if len(seen) < 30 {
		t.Errorf("200 shelves share %d places of the page", len(seen))
	}
}
