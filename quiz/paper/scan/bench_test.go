package scan

import (
	"bytes"
	"context"
	"fmt"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"testing"

	"rightpage/quiz/paper"
)

// BenchmarkRead reads one full sheet from the bytes of a file, decoding
// included, on one goroutine.
func BenchmarkRead(b *testing.B) {
	for _, dpi := range []float64{150, 200, 300} {
		for _, format := range []string{"png", "jpeg"} {
			rng := rand.New(rand.NewPCG(7, 31))
			c, page, _ := blankSheet(b, "T-001")
			answer(c, page, pen(rng), 10)
			img := distortion{dpi: dpi, turn: 2, blur: 0.1, noise: 3, shadow: 0.2}.apply(b, c, rng)
			var file bytes.Buffer
			var err error
			if format == "png" {
				err = png.Encode(&file, img)
			} else {
				err = jpeg.Encode(&file, img, &jpeg.Options{Quality: 80})
			}
			if err != nil {
				b.Fatal(err)
			}
			b.Run(fmt.Sprintf("%s-%.0fdpi", format, dpi), func(b *testing.B) {
				for b.Loop() {
					batch := NewBatch(lookupFull, Options{})
					for p := range batch.Read(context.Background(), "sheet", bytes.NewReader(file.Bytes())) {
						if p.Refusal != nil {
							b.Fatal(p.Refusal)
						}
					}
				}
				b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "sheets/s")
			})
		}
	}
}

// BenchmarkReadRefuse is the cost of a page that is no answer sheet.
func BenchmarkReadRefuse(b *testing.B) {
	c := newCanvas(200)
	for i := range 60 {
		c.text(b, 5, 5+4*float64(i), 10, 0, 0.9, "A page of text that has nothing to do with any answer sheet at all, line by line.")
		c.disc(float64(10+(i*37)%150), float64((i*53)%240), 3, 0.9)
	}
	for b.Loop() {
		if _, refusal := readPicture(c.img, func(paper.SheetCode) (paper.SheetPage, error) { panic("no code") }); refusal == nil {
			b.Fatal("read")
		}
	}
}
