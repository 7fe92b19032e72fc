package paper

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"iter"
	"time"
)

// pagesAPart is how many pages are laid out before they are written and
// forgotten. It bounds the memory of a run.
const pagesAPart = 256

// RunOptions say what a run prints.
type RunOptions struct {
	BookletOptions
	Booklets bool      // the questions
	Sheets   bool      // the answer sheets; after the booklet where both are set
	Created  time.Time // date of the document; never the clock
}

// RunCount is what a run printed.
type RunCount struct {
	People, Pages int
}

// WriteRun prints the booklets, the answer sheets or both, of any number of
// people into one PDF, in bounded memory: booklets are taken from the sequence
// one at a time, and what is laid out is written as it comes. The document
// has an outline entry for each person. An error of the sequence ends the run
// and is returned; w then holds no complete PDF.
func WriteRun(w io.Writer, booklets iter.Seq2[Booklet, error], o RunOptions) (RunCount, error) {
	return writeRun(w, booklets, o, pagesAPart)
}

func writeRun(w io.Writer, booklets iter.Seq2[Booklet, error], o RunOptions, part int) (RunCount, error) {
	var count RunCount
	if !o.Booklets && !o.Sheets {
		return count, errors.New("paper: nothing to print: set Booklets, Sheets or both")
	}
	m, err := measuresFor(o.BookletOptions)
	if err != nil {
		return count, fmt.Errorf("paper: %w", err)
	}
	out := newSpool(w)
	press := press{measures: m, options: o}
	var title, author string
	for b, err := range booklets {
		if err != nil {
			return count, err
		}
		if title == "" {
			title, author = b.Title, b.Organisation
		}
		before := press.pages
		if err := press.booklet(&b); err != nil {
			return count, fmt.Errorf("paper: booklet of %s, form %s: %w", b.person(), b.Variant, err)
		}
		count.People++
		count.Pages += press.pages - before
		if press.pages >= part {
			if err := press.flush(out); err != nil {
				return count, err
			}
		}
	}
	if err := press.flush(out); err != nil {
		return count, err
	}
	if err := out.close(title, author, o.Created); err != nil {
		return count, fmt.Errorf("paper: %w", err)
	}
	return count, nil
}

// WriteSheet prints one person's answer sheet, of as many pages as it needs.
func WriteSheet(w io.Writer, b Booklet, o BookletOptions, created time.Time) error {
	_, err := WriteRun(w, one(b), RunOptions{BookletOptions: o, Sheets: true, Created: created})
	return err
}

func one(b Booklet) iter.Seq2[Booklet, error] {
	return func(yield func(Booklet, error) bool) { yield(b, nil) }
}

// person names whose booklet it is, for messages and the outline.
func (b *Booklet) person() string {
	if b.PersonName != "" {
		return b.PersonName
	}
	if b.PersonID != "" {
		return b.PersonID
	}
	return "nobody in particular"
}

// press lays out booklets one after another into the current part.
type press struct {
	measures
	options RunOptions
	setter  setter
	pages   int // of the part
	marks   map[int]string
	buffer  bytes.Buffer
	sheet   sheetPrint
}

// open sees to it that there is a document to print on.
func (p *press) open() error {
	if p.setter.pdf != nil {
		return nil
	}
	pdf, err := newDocument(documentOptions{
		Size: p.options.Size, Created: p.options.Created,
		Faces: []face{faceSans, faceSansBold, faceSansItalic, faceMono, faceMonoBold},
	})
	if err != nil {
		return err
	}
	pdf.SetCompression(false) // the spool compresses
	p.setter.use(pdf)
	p.marks = map[int]string{}
	return nil
}

// flush writes the part.
func (p *press) flush(out *spool) error {
	if p.setter.pdf == nil {
		return nil
	}
	p.buffer.Reset()
	if err := p.setter.pdf.Output(&p.buffer); err != nil {
		return fmt.Errorf("paper: laying out: %w", err)
	}
	p.setter.pdf, p.pages = nil, 0
	if err := out.add(p.buffer.Bytes(), p.marks); err != nil {
		return fmt.Errorf("paper: %w", err)
	}
	return nil
}

// page begins a page.
func (p *press) page() {
	p.setter.newPage()
	p.pages++
}

// booklet prints what one person gets.
func (p *press) booklet(b *Booklet) error {
	if err := p.open(); err != nil {
		return err
	}
	first := p.pages
	p.marks[first] = fmt.Sprintf("%s, form %s", b.person(), b.Variant)
	if p.options.Booklets {
		pages, err := p.paginate(&p.setter, b.Questions)
		if err != nil {
			return err
		}
		total := 1 + len(pages)
		p.page()
		p.cover(b)
		p.foot(b, 1, total)
		for i, page := range pages {
			p.page()
			p.head(b)
			for _, piece := range page {
				piece.piece.draw(&p.setter, p.left, piece.y)
			}
			p.foot(b, i+2, total)
		}
		p.toFront(first)
	}
	if p.options.Sheets {
		if err := p.sheets(b, first); err != nil {
			return err
		}
	}
	return p.setter.pdf.Error()
}

// toFront adds an empty back, for printing on both sides, where the next page
// would not be a front. Every person's first page is one, as the pages before
// it are even in number; parts end between people and are even too.
func (p *press) toFront(first int) {
	if p.options.Duplex && (p.pages-first)%2 == 1 {
		p.page()
	}
}
