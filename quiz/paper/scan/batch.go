package scan

import (
	"context"
	"fmt"
	"io"
	"iter"
	"sync"

	"rightpage/quiz/paper"
)

// Limits bound what a file may be.
type Limits struct {
	Bytes  int64 // of a file
	Pixels int64 // of a picture
	Pages  int   // of a PDF
}

// DefaultLimits are room enough for a tray of 300 sheets scanned in colour
// and for the largest phone cameras.
func DefaultLimits() Limits {
	return Limits{Bytes: 256 << 20, Pixels: 64 << 20, Pages: 1000}
}

// Options of a batch. The zero value takes the defaults.
type Options struct {
	Limits Limits // zero fields are those of DefaultLimits
	// Before tells whether a sheet was read in an earlier batch, and where
	// from, such as "monday.pdf, page 3". Nil: none was.
	Before func(paper.SheetCode) (where string, read bool)
}

// Source is where a page came from.
type Source struct {
	File string
	Page int // from 1; 0 where the file is a single picture
}

// String is "monday.pdf, page 3" or "IMG_2041.jpg".
func (s Source) String() string {
	if s.Page == 0 {
		return s.File
	}
	return fmt.Sprintf("%s, page %d", s.File, s.Page)
}

// Page is what became of one page: Sheet or Refusal, never both.
type Page struct {
	Source  Source
	Sheet   *Sheet
	Refusal *Refusal
}

// Batch reads files and sees to it that no sheet counts twice. It may be used
// by several goroutines at once.
type Batch struct {
	lookup Lookup
	opts   Options

	mu   sync.Mutex
	read map[paper.SheetCode]Source
}

// NewBatch starts a batch. lookup must be safe for concurrent use if the
// batch is used so.
func NewBatch(lookup Lookup, opts Options) *Batch {
	def := DefaultLimits()
	if opts.Limits.Bytes == 0 {
		opts.Limits.Bytes = def.Bytes
	}
	if opts.Limits.Pixels == 0 {
		opts.Limits.Pixels = def.Pixels
	}
	if opts.Limits.Pages == 0 {
		opts.Limits.Pages = def.Pages
	}
	return &Batch{lookup: lookup, opts: opts, read: map[paper.SheetCode]Source{}}
}

// Read reads all pages of one file in order. name is for messages; what kind
// of file it is shows from its content. A file that cannot be opened yields
// one page with the refusal BadFile. The sequence ends early when ctx is done.
func (b *Batch) Read(ctx context.Context, name string, file io.Reader) iter.Seq[Page] {
	return func(yield func(Page) bool) {
		data, refusal := b.opts.Limits.readAll(file)
		if refusal != nil {
			yield(Page{Source: Source{File: name}, Refusal: refusal})
			return
		}
		for picture := range pictures(data, b.opts.Limits) {
			if ctx.Err() != nil {
				return
			}
			page := b.page(Source{File: name, Page: picture.page}, picture, nil)
			if !yield(page) {
				return
			}
		}
	}
}

// ReadAs reads the first page of a file as the sheet of the given code,
// which a person typed from the sheet's foot because the square cannot be
// read. A wrong code is found out only if its layout differs.
func (b *Batch) ReadAs(name string, file io.Reader, code paper.SheetCode) Page {
	data, refusal := b.opts.Limits.readAll(file)
	if refusal != nil {
		return Page{Source: Source{File: name}, Refusal: refusal}
	}
	for picture := range pictures(data, b.opts.Limits) {
		return b.page(Source{File: name, Page: picture.page}, picture, &code)
	}
	return Page{Source: Source{File: name}, Refusal: refuse(BadFile, "it has no page")}
}

// page reads one picture and claims its sheet.
func (b *Batch) page(source Source, picture picture, given *paper.SheetCode) Page {
	page := Page{Source: source, Refusal: picture.refusal}
	if page.Refusal == nil {
		page.Sheet, page.Refusal = readPictureAs(picture.img, b.lookup, given)
	}
	if page.Sheet != nil {
		if where, twice := b.claim(page.Sheet.Code, source); twice {
			page.Refusal = refuse(DuplicateSheet, "sheet %s was already read from %s; to take this one instead, withdraw the first", page.Sheet.Code, where)
			page.Sheet = nil
		}
	}
	return page
}

// claim notes the sheet as read, unless it was.
func (b *Batch) claim(code paper.SheetCode, source Source) (where string, twice bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if first, ok := b.read[code]; ok {
		return first.String(), true
	}
	if b.opts.Before != nil {
		if where, ok := b.opts.Before(code); ok {
			return where, true
		}
	}
	b.read[code] = source
	return "", false
}

// Withdraw forgets a sheet, so that a better scan of it can be read.
func (b *Batch) Withdraw(code paper.SheetCode) {
	b.mu.Lock()
	defer b.mu.Unlock()
	delete(b.read, code)
}
