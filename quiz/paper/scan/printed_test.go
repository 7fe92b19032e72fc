package scan

import (
	"bytes"
	"fmt"
	"image/png"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rightpage/quiz/paper"
)

// TestReadsPrintedPDFs prints real answer sheets, has poppler draw them as a
// printer would, fills them in and reads them back: the circles that are read
// are those that are printed, on both papers and in large print.
func TestReadsPrintedPDFs(t *testing.T) {
	if _, err := exec.LookPath("pdftoppm"); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("pdftoppm is not installed: apt-get install poppler-utils")
		}
		t.Skip("pdftoppm is not installed (Debian package poppler-utils)")
	}
	sizes := map[paper.PageSize][2]float64{paper.A4: {210, 297}, paper.Letter: {215.9, 279.4}}
	for size, mm := range sizes {
		for _, large := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s large=%v", size, large), func(t *testing.T) {
				questions := fullForm()
				if large {
					questions = questions[:24]
					questions[20].Form, questions[21].Form = paper.TypedCode, paper.ChooseSeveral
				}
				b := paper.Booklet{Quiz: "AUT31", Variant: "B", PersonID: "T-001", PersonName: "Åsa Example", Site: "Holm",
					Organisation: "Wexcombe Estate & Farm Services", Title: "Finding the right page", Questions: questions}
				var pdf bytes.Buffer
				if err := paper.WriteSheet(&pdf, b, paper.BookletOptions{Size: size, LargePrint: large}, time.Date(2031, 3, 14, 0, 0, 0, 0, time.UTC)); err != nil {
					t.Fatal(err)
				}
				fields, err := paper.SheetFields(questions)
				if err != nil {
					t.Fatal(err)
				}
				pages, err := paper.LayoutSheet(fields, large)
				if err != nil {
					t.Fatal(err)
				}
				lookup := func(c paper.SheetCode) (paper.SheetPage, error) {
					if want := pages[0].Code("AUT31", "B", "T-001"); c != want {
						return paper.SheetPage{}, fmt.Errorf("code %s, want %s", c, want)
					}
					return pages[0], nil
				}
				const dpi = 200
				c := rasterise(t, pdf.Bytes(), dpi)
				c.left, c.top = (mm[0]-paper.FrameWidth)/2, (mm[1]-paper.FrameHeight)/2

				sheet, refusal := readPicture(c.img, lookup)
				if refusal != nil {
					t.Fatal(refusal)
				}
				if q := sheet.Quality; q.Bend > 0.2 || q.DPI < dpi-2 || q.DPI > dpi+2 || q.Ticks != tickCount() {
					t.Errorf("the print is not where the layout says: %+v", q)
				}
				for _, row := range sheet.Rows {
					if row.Flag != Blank {
						t.Errorf("untouched, row %s: %s:%s", row.Field.Label(), row.Flag, inks(row))
					}
				}
				for _, box := range sheet.Boxes {
					if box.Ink > 0.002 {
						t.Errorf("untouched, box %s: ink %.4f", box.Field.Label(), box.Ink)
					}
				}

				for i, write := range []func(*rand.Rand) hand{pen, pencilLight} {
					rng := rand.New(rand.NewPCG(uint64(i), 77))
					filled := c.clone()
					want := answer(filled, pages[0], write(rng), 8)
					d := distortion{dpi: 130, turn: 5, perspective: 0.08, blur: 0.12, noise: 5, shadow: 0.3, quality: 60}
					sheet, refusal := readPicture(d.apply(t, filled, rng), lookup)
					if refusal != nil {
						t.Fatal(refusal)
					}
					if got := compare(sheet.Rows, want); got.wrong > 0 || got.needless*20 > got.bubbles || got.spoiltOK != got.spoilt {
						t.Errorf("%v\n%s", got, strings.Join(got.examples, "\n"))
					}
				}
			})
		}
	}
}

// rasterise has poppler draw the only page of a PDF.
func rasterise(t *testing.T, pdf []byte, dpi int) *canvas {
	t.Helper()
	dir := t.TempDir()
	file := filepath.Join(dir, "sheet.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("pdftoppm", "-r", fmt.Sprint(dpi), "-gray", "-png", "-singlefile", file, filepath.Join(dir, "sheet")).CombinedOutput(); err != nil {
		t.Fatalf("pdftoppm: %v %s", err, out)
	}
	f, err := os.Open(filepath.Join(dir, "sheet.png"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	return &canvas{img: toGray(img), perMM: float64(dpi) / 25.4}
}
