package paper

import (
	"bytes"
	"io"
	"iter"
	"regexp"
	"runtime"
	"strconv"
	"testing"
	"time"

	"github.com/jung-kurt/gofpdf"
)

// run yields n booklets of four pages, a form of its own each.
func run(n int) iter.Seq2[Booklet, error] {
	return func(yield func(Booklet, error) bool) {
		for i := range n {
			if !yield(fourPageBooklet(uint64(i)), nil) {
				return
			}
		}
	}
}

// peakHeap runs work and returns the most heap that it had in use, sampled.
func peakHeap(work func()) uint64 {
	runtime.GC()
	done := make(chan struct{})
	peak := make(chan uint64)
	go func() {
		var most uint64
		var m runtime.MemStats
		for {
			runtime.ReadMemStats(&m)
			most = max(most, m.HeapInuse)
			select {
			case <-done:
				peak <- most
				return
			case <-time.After(20 * time.Millisecond):
			}
		}
	}()
	work()
	close(done)
	return <-peak
}

// BenchmarkRun prints booklets of four pages. pages/s is to be compared with
// that of BenchmarkBareLibrary.
func BenchmarkRun(b *testing.B) {
	for _, n := range []int{100, 1000} {
		b.Run(strconv.Itoa(n), func(b *testing.B) {
			pages := 0
			var heap uint64
			for b.Loop() {
				heap = max(heap, peakHeap(func() {
					count, err := WriteRun(io.Discard, run(n), RunOptions{Booklets: true, Created: testDate})
					if err != nil {
						b.Fatal(err)
					}
					pages += count.Pages
				}))
			}
			b.ReportMetric(float64(pages)/b.Elapsed().Seconds(), "pages/s")
			b.ReportMetric(float64(heap)/(1<<20), "MiB-heap")
		})
	}
}

// BenchmarkRunWithSheets adds an answer sheet for each person.
func BenchmarkRunWithSheets(b *testing.B) {
	pages := 0
	for b.Loop() {
		count, err := WriteRun(io.Discard, run(100), RunOptions{Booklets: true, Sheets: true, Created: testDate})
		if err != nil {
			b.Fatal(err)
		}
		pages += count.Pages
	}
	b.ReportMetric(float64(pages)/b.Elapsed().Seconds(), "pages/s")
}

// BenchmarkBareLibrary is the same text by the PDF library alone, the
// straight way: one document, the same fonts, for each paragraph of the
// booklets one call that breaks and sets it (MultiCell), for each short label
// one Cell, as many page breaks, compression as the library has it. It draws
// no circles, boxes or rules, keeps no question together, counts no pages
// ahead, and holds the whole document in memory: it does less than WriteRun
// in all but the text. Making up the booklets is part of both.
func BenchmarkBareLibrary(b *testing.B) {
	for _, n := range []int{100, 1000} {
		b.Run(strconv.Itoa(n), func(b *testing.B) {
			pages := 0
			var heap uint64
			for b.Loop() {
				heap = max(heap, peakHeap(func() {
					pdf, err := newDocument(documentOptions{Created: testDate,
						Faces: []face{faceSans, faceSansBold, faceSansItalic, faceMono, faceMonoBold}})
					if err != nil {
						b.Fatal(err)
					}
					for booklet := range run(n) {
						pages += bareBooklet(pdf, booklet)
					}
					if err := pdf.Output(io.Discard); err != nil {
						b.Fatal(err)
					}
				}))
			}
			b.ReportMetric(float64(pages)/b.Elapsed().Seconds(), "pages/s")
			b.ReportMetric(float64(heap)/(1<<20), "MiB-heap")
		})
	}
}

// bareBooklet sets the text of a booklet and returns its pages.
func bareBooklet(pdf *gofpdf.Fpdf, b Booklet) int {
	const left, width, lead = 20.0, 170.0, 4.9
	first := pdf.PageNo()
	page := func() {
		pdf.AddPage()
		setFont(pdf, faceSansBold, 9)
		pdf.SetXY(left, 14)
		pdf.Cell(width, lead, b.Title)
		pdf.SetXY(left+width-20, 14)
		pdf.Cell(20, lead, "form "+b.Variant)
		setFont(pdf, faceSans, 7.5)
		pdf.SetXY(left, 283)
		pdf.Cell(80, lead, "form "+b.Variant+" · "+b.PersonName)
		pdf.SetXY(left+80, 283)
		pdf.Cell(60, lead, b.Catalog)
		pdf.SetXY(left+150, 283)
		pdf.Cell(20, lead, "page 1 of 4")
		pdf.SetXY(left, 25)
	}
	para := func(f face, size float64, text string) {
		setFont(pdf, f, size)
		pdf.SetX(left + 12)
		pdf.MultiCell(width-12, lead, text, "", "L", false)
	}
	page()
	para(faceSans, 11, b.Organisation)
	para(faceSansBold, 24, b.Title)
	for _, r := range []Pair{{"Name", b.PersonName}, {"Site", b.Site}, {"Date", ""}, {"Literature", b.Catalog}, {"Questions", "16"}, {"Time", "75 minutes"}, {"To pass", b.PassMark}} {
		para(faceSans, 9, r.Label)
		para(faceSansBold, 10.5, r.Value)
	}
	for _, c := range b.Cautions {
		para(faceSansBold, 9, c)
	}
	for i, t := range b.Instructions {
		para(faceSans, 10.5, strconv.Itoa(i+1)+" "+t)
	}
	boxes := func(boxes []Box) {
		for _, box := range boxes {
			para(faceSansBold, 9, box.Title)
			for _, r := range box.Rows {
				para(faceSans, 7.5, r.Label)
				para(faceMonoBold, 10.5, r.Value)
			}
		}
	}
	options := func(options []string) {
		for i, o := range options {
			setFont(pdf, faceSansBold, 7.5)
			pdf.SetX(left + 12)
			pdf.Cell(5, lead, OptionLetter(i))
			setFont(pdf, faceSans, 10.5)
			pdf.SetX(left + 18)
			pdf.MultiCell(width-18, lead, o, "", "L", false)
		}
	}
	for i, q := range b.Questions {
		if i%4 == 0 { // three pages of questions
			page()
		}
		setFont(pdf, faceSansBold, 12)
		pdf.SetX(left)
		pdf.Cell(12, lead, strconv.Itoa(q.Number))
		para(faceSans, 10.5, q.Stem)
		para(faceSans, 7.5, "1 point")
		for _, c := range q.Cautions {
			para(faceSansBold, 9, c)
		}
		boxes(q.Boxes)
		if text := direction(q.Form, "12", q.Unit); text != "" {
			para(faceSansItalic, 9, text)
		}
		options(q.Options)
		for j, s := range q.Steps {
			para(faceSans, 10.5, StepLetter(j)+" "+s.Prompt)
			if text := direction(s.Form, "12a", s.Unit); text != "" {
				para(faceSansItalic, 9, text)
			}
			options(s.Options)
		}
	}
	return pdf.PageNo() - first
}

// TestBareLibraryIsAFairMatch keeps the comparison of the benchmarks honest:
// both set all the words of the booklet, on as many pages, and WriteRun no
// fewer words than the bare library.
func TestBareLibraryIsAFairMatch(t *testing.T) {
	requireTool(t, "pdftotext")
	b := fourPageBooklet(1)
	var ours, bare bytes.Buffer
	count, err := WriteRun(&ours, one(b), RunOptions{Booklets: true, Created: testDate})
	if err != nil {
		t.Fatal(err)
	}
	pdf, err := newDocument(documentOptions{Created: testDate, Faces: []face{faceSans, faceSansBold, faceSansItalic, faceMono, faceMonoBold}})
	if err != nil {
		t.Fatal(err)
	}
	pages := bareBooklet(pdf, b)
	if err := pdf.Output(&bare); err != nil {
		t.Fatal(err)
	}
	words := regexp.MustCompile(`\S+`)
	nOurs := len(words.FindAllString(pdfToText(t, ours.Bytes()), -1))
	nBare := len(words.FindAllString(pdfToText(t, bare.Bytes()), -1))
	if count.Pages != pages || pages != 4 {
		t.Errorf("%d pages by WriteRun, %d by the bare library, want 4", count.Pages, pages)
	}
	if nOurs < nBare*98/100 {
		t.Errorf("WriteRun sets %d words, the bare library %d", nOurs, nBare)
	}
}
