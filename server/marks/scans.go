package marks

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/png"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"rightpage/banks"
	"rightpage/quiz"
	"rightpage/quiz/marking"
	"rightpage/quiz/paper"
	"rightpage/quiz/paper/scan"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

// How much may be uploaded at once: a tray of sheets scanned in grey.
const (
	maxScans     = 64 << 20
	maxScanPages = 200
)

// reading is what was read from a scanned page, as it is kept with it.
type reading struct {
	File    string  `json:"file"`
	Picture bool    `json:"picture,omitempty"` // it is kept as it was sent
	Code    string  `json:"code,omitempty"`
	Variant int     `json:"variant"`
	Pages   int     `json:"pages,omitempty"` // of the whole sheet
	Large   bool    `json:"large,omitempty"`
	Reason  string  `json:"reason,omitempty"` // of a refusal
	Detail  string  `json:"detail,omitempty"`
	Fields  []field `json:"fields,omitempty"`
}

// field is one thing to fill in on the sheet, as it was read.
type field struct {
	Question int    `json:"question"` // from 1
	Part     string `json:"part,omitempty"`
	Kind     int    `json:"kind"` // a paper.FieldKind
	Options  int    `json:"options,omitempty"`
	Marked   []int  `json:"marked,omitempty"`
	Flag     int    `json:"flag,omitempty"` // a scan.Flag
	Crop     []byte `json:"crop,omitempty"` // PNG
	Inked    bool   `json:"inked,omitempty"`
}

func (x field) label() string {
	return paper.SheetField{Question: x.Question, Part: x.Part}.Label()
}

// written is the ink above which a box is taken to have something in it: see
// scan.Box.
const written = 0.002

func readingOf(file string, s *scan.Sheet, variant int, large bool) (reading, error) {
	r := reading{File: file, Code: s.Code.String(), Variant: variant, Pages: s.Code.Pages, Large: large}
	for _, row := range s.Rows {
		x := field{Question: row.Field.Question, Part: row.Field.Part, Kind: int(row.Field.Kind), Options: row.Field.Options, Marked: row.Marked, Flag: int(row.Flag)}
		if row.Flag != scan.Clear {
			var err error
			if x.Crop, err = crop(row.Crop); err != nil {
				return r, err
			}
		}
		r.Fields = append(r.Fields, x)
	}
	for _, b := range s.Boxes {
		x := field{Question: b.Field.Question, Part: b.Field.Part, Kind: int(b.Field.Kind), Inked: b.Ink >= written}
		var err error
		if x.Crop, err = crop(b.Crop); err != nil {
			return r, err
		}
		r.Fields = append(r.Fields, x)
	}
	return r, nil
}

func crop(img *image.Gray) ([]byte, error) {
	if img == nil {
		return nil, nil
	}
	var b bytes.Buffer
	err := png.Encode(&b, img)
	return b.Bytes(), err
}

func decodeReading(p store.ScanPage) (reading, error) {
	var r reading
	if len(p.Reading) == 0 {
		return r, nil
	}
	if err := json.Unmarshal(p.Reading, &r); err != nil {
		return r, &quiz.Error{Code: quiz.Internal, Text: "what was read from a scanned page is damaged", Err: err, Mend: "refuse the page and scan it again"}
	}
	return r, nil
}

// sheetBook knows the sheets that were printed for an assignment.
type sheetBook struct {
	form   *marking.Form
	of     quiz.Assignment
	people map[string]quiz.Person
	pages  [][2][]paper.SheetPage // of each variant: ordinary and large print
}

func (p *Pages) sheetBook(ctx context.Context, a quiz.Assignment) (*sheetBook, error) {
	form, err := p.marker.Form(ctx, a.Form)
	if err != nil {
		return nil, err
	}
	b := &sheetBook{form: form, of: a}
	if b.people, err = p.peopleByID(ctx); err != nil {
		return nil, err
	}
	for _, v := range form.Variants {
		fields, err := paper.SheetFields(paper.QuestionsOf(v.Questions))
		if err != nil {
			return nil, &quiz.Error{Code: quiz.Invalid, Text: "the quiz has no answer sheet", Err: err, Mend: "type the answers instead"}
		}
		var both [2][]paper.SheetPage
		for i, large := range []bool{false, true} {
			if both[i], err = paper.LayoutSheet(fields, large); err != nil {
				return nil, &quiz.Error{Code: quiz.Invalid, Text: "the quiz has no answer sheet", Err: err, Mend: "type the answers instead"}
			}
		}
		b.pages = append(b.pages, both)
	}
	return b, nil
}

// variant finds a variant by the name that stands in the code.
func (b *sheetBook) variant(name string) int {
	return slices.IndexFunc(b.form.Variants, func(v banks.Variant) bool { return v.Name == name })
}

// find finds the geometry of a printed sheet: the layout digest tells large print
// from ordinary.
func (b *sheetBook) find(c paper.SheetCode) (paper.SheetPage, bool, error) {
	v := b.variant(c.Variant)
	who, known := b.people[c.Person]
	switch {
	case c.Quiz != b.form.ID:
		return paper.SheetPage{}, false, errors.New("it is the sheet of another quiz; upload it at that quiz")
	case v < 0:
		return paper.SheetPage{}, false, fmt.Errorf("the quiz has no variant %s", c.Variant)
	case !known:
		return paper.SheetPage{}, false, errors.New("nobody here has the number on it")
	case !b.of.For(who):
		return paper.SheetPage{}, false, fmt.Errorf("the quiz is not assigned to %s", who.Name)
	}
	for i, pages := range b.pages[v] {
		if c.Page >= 1 && c.Page <= len(pages) && c.Pages == len(pages) && pages[c.Page-1].Digest() == c.Layout {
			return pages[c.Page-1], i == 1, nil
		}
	}
	// The caller compares digests and says that the layout is another.
	if pages := b.pages[v][0]; c.Page >= 1 && c.Page <= len(pages) {
		return pages[c.Page-1], false, nil
	}
	return paper.SheetPage{}, false, fmt.Errorf("the sheet has no page %d", c.Page)
}

func (b *sheetBook) lookup(c paper.SheetCode) (paper.SheetPage, error) {
	page, _, err := b.find(c)
	return page, err
}

// kept lists the sheets of an assignment that were read before, and where from.
// A sheet whose answers are recorded counts as read, unless the person may try
// again: the next sheet has the same code.
func (p *Pages) kept(ctx context.Context, a quiz.Assignment) (map[string]string, error) {
	list, err := p.store.Scans(ctx, a.ID, "")
	if err != nil {
		return nil, err
	}
	attempts, err := p.store.AttemptsAt(ctx, a.ID)
	if err != nil {
		return nil, err
	}
	made := map[string]int{}
	for _, x := range attempts {
		made[x.Person]++
	}
	seen := map[string]string{}
	for _, s := range list {
		r, err := decodeReading(s)
		if err != nil || r.Code == "" {
			continue
		}
		if s.State == store.ScanWaiting || s.State == store.ScanDone && made[s.Person] >= a.Attempts {
			seen[r.Code] = r.File
		}
	}
	return seen, nil
}

// scansPage is the page of the scanned sheets of an assignment.
type scansPage struct {
	head
	Sheets  []sheetRow
	Refused []refusedRow
	Done    int
	Faults  map[string]string
	MostMB  int
	Most    int
	Trouble string
}

// sheetRow is one person's sheet that waits.
type sheetRow struct {
	Person  quiz.Person
	Variant string
	Have    []int
	Of      int
	Flagged int
	Boxes   int
	Files   []string
	Used    bool // no attempt is left
}

// Whole tells whether all pages are there.
func (r sheetRow) Whole() bool { return len(r.Have) == r.Of }

type refusedRow struct {
	store.ScanPage
	File, Why, Detail string
	Picture           bool
	ByCode            bool // can be read by the code typed from its foot
	Fault             string
	Typed             string
}

// waitingPages gives the waiting pages of each person, by page number.
func (p *Pages) waitingPages(ctx context.Context, assignment string) (map[string][]scanned, error) {
	list, err := p.store.Scans(ctx, assignment, store.ScanWaiting)
	if err != nil {
		return nil, err
	}
	by := map[string][]scanned{}
	for _, s := range list {
		r, err := decodeReading(s)
		if err != nil {
			return nil, err
		}
		by[s.Person] = append(by[s.Person], scanned{s, r})
	}
	for _, l := range by {
		slices.SortStableFunc(l, func(a, b scanned) int { return a.Page - b.Page })
	}
	return by, nil
}

// scanned is a scanned page and what was read from it.
type scanned struct {
	store.ScanPage
	reading
}

func (p *Pages) scans(c *web.Context) error {
	return p.showScans(c, http.StatusOK, scansPage{})
}

func (p *Pages) showScans(c *web.Context, status int, page scansPage) error {
	ctx := c.Ctx()
	h, err := p.head(c, "scans")
	if err != nil {
		return err
	}
	page.head, page.MostMB, page.Most = h, maxScans>>20, maxScanPages
	form, err := p.marker.Form(ctx, h.Assignment.Form)
	if err != nil {
		return err
	}
	people, err := p.peopleByID(ctx)
	if err != nil {
		return err
	}
	attempts, err := p.store.AttemptsAt(ctx, h.Assignment.ID)
	if err != nil {
		return err
	}
	made := map[string]int{}
	for _, a := range attempts {
		made[a.Person]++
	}
	by, err := p.waitingPages(ctx, h.Assignment.ID)
	if err != nil {
		return err
	}
	for id, list := range by {
		who := people[id]
		if !c.Covers(&who) {
			continue
		}
		row := sheetRow{Person: who, Of: list[0].Pages, Used: made[id] >= h.Assignment.Attempts}
		if v := list[0].Variant; v < len(form.Variants) {
			row.Variant = form.Variants[v].Name
		}
		for _, s := range list {
			row.Have = append(row.Have, s.Page)
			row.Files = append(row.Files, s.File)
			for _, x := range s.Fields {
				switch {
				case paper.FieldKind(x.Kind) == paper.Write:
					row.Boxes++
				case scan.Flag(x.Flag) != scan.Clear:
					row.Flagged++
				}
			}
		}
		page.Sheets = append(page.Sheets, row)
	}
	slices.SortFunc(page.Sheets, func(a, b sheetRow) int { return byPerson(a.Person, b.Person) })
	refused, err := p.store.Scans(ctx, h.Assignment.ID, store.ScanRefused)
	if err != nil {
		return err
	}
	for _, s := range refused {
		r, err := decodeReading(s)
		if err != nil {
			return err
		}
		if s.Reason == dismissed {
			continue
		}
		x := refusedRow{ScanPage: s, File: r.File, Why: r.Reason, Detail: r.Detail}
		x.Picture = r.Picture
		x.ByCode = x.Picture && slices.Contains([]string{scan.CodeUnread.String(), scan.CodeBad.String()}, r.Reason)
		if f := page.Faults["code-"+s.ID]; f != "" {
			x.Fault, x.Typed = f, c.FormValue("code")
		}
		page.Refused = append(page.Refused, x)
	}
	done, err := p.store.Scans(ctx, h.Assignment.ID, store.ScanDone)
	if err != nil {
		return err
	}
	page.Done = len(done)
	return c.PageStatus(p.set, status, "marks-scans", page)
}

// dismissed is why a page that was put away is refused.
const dismissed = "put away by a coordinator"

// uploadScans reads scanned sheets. Each page is kept with what was read from it,
// or with why it was refused.
func (p *Pages) uploadScans(c *web.Context) error {
	ctx := c.Ctx()
	h, err := p.head(c, "scans")
	if err != nil {
		return err
	}
	f := c.Form()
	uploads, err := f.Files("files", maxScans)
	var big *http.MaxBytesError
	switch {
	case errors.As(err, &big):
		f.Fault("files", "marks.scans.large", "Most", maxScans>>20)
	case err != nil || len(uploads) == 0:
		f.Fault("files", "fault.file")
	}
	if !f.OK() {
		return p.showScans(c, http.StatusUnprocessableEntity, scansPage{Faults: f.Faults})
	}
	book, err := p.sheetBook(ctx, h.Assignment)
	if err != nil {
		trouble, err := answered(err)
		if err != nil {
			return err
		}
		return p.showScans(c, http.StatusUnprocessableEntity, scansPage{Trouble: trouble})
	}
	// A second click while the first is being read would keep every page twice.
	first, forget, err := p.once(ctx, "scans "+h.Assignment.ID, f.Key())
	if err != nil {
		return err
	}
	if !first {
		return c.Go(h.At("scans"))
	}
	if err := p.inTurn(ctx, func() error { return p.readScans(c, book, uploads) }); err != nil {
		return errors.Join(err, forget())
	}
	return c.Go(h.At("scans"))
}

// readScans reads the pages of uploads and keeps them.
func (p *Pages) readScans(c *web.Context, book *sheetBook, uploads []web.Upload) error {
	ctx := c.Ctx()
	seen, err := p.kept(ctx, book.of)
	if err != nil {
		return err
	}
	batch := scan.NewBatch(book.lookup, scan.Options{Limits: scan.Limits{Bytes: maxScans, Pages: maxScanPages},
		Before: func(code paper.SheetCode) (string, bool) { where, ok := seen[code.String()]; return where, ok }})
	read, refused := 0, 0
	for _, u := range uploads {
		for page := range batch.Read(ctx, cleanName(u.Name), bytes.NewReader(u.Data)) {
			if page.Refusal != nil && page.Refusal.Reason == scan.BlankPage {
				continue // the back of a sheet
			}
			ok, err := p.keepScan(c, book, page, u.Data)
			if err != nil {
				return err
			}
			if ok {
				read++
			} else {
				refused++
			}
		}
	}
	if err := ctx.Err(); err != nil {
		return &quiz.Error{Code: quiz.Unavailable, Text: "not all pages could be read in time", Err: err, Mend: "upload the rest; what was read is kept"}
	}
	c.Flash(c.T("marks.scans.read", "Count", read) + " " + c.T("marks.scans.refusedn", "Count", refused))
	return nil
}

// cleanName is the name of a file as it is shown.
func cleanName(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return -1
		}
		return r
	}, s)
	if r := []rune(s); len(r) > 100 {
		s = string(r[:100])
	}
	return cmp.Or(s, "?")
}

// keepScan keeps one page, and tells whether it is a sheet.
func (p *Pages) keepScan(c *web.Context, book *sheetBook, page scan.Page, data []byte) (bool, error) {
	kept := store.ScanPage{Assignment: book.of.ID}
	file := page.Source.String()
	if page.Source.Page == 0 && len(data) <= store.MaxScan && (page.Refusal == nil || page.Refusal.Reason != scan.BadFile) {
		kept.Image = data // of a PDF there are the crops alone
	}
	var r reading
	if page.Sheet == nil {
		r = reading{File: file, Picture: kept.Image != nil, Reason: page.Refusal.Reason.String(), Detail: page.Refusal.Detail}
		kept.State, kept.Reason = store.ScanRefused, r.Reason
	} else {
		code := page.Sheet.Code
		_, large, err := book.find(code)
		if err != nil {
			return false, err
		}
		if r, err = readingOf(file, page.Sheet, book.variant(code.Variant), large); err != nil {
			return false, err
		}
		r.Picture = kept.Image != nil
		kept.Person, kept.Page = code.Person, code.Page
	}
	var err error
	if kept.Reading, err = json.Marshal(r); err != nil {
		return false, err
	}
	return page.Sheet != nil, p.store.AddScan(c.Ctx(), c.Visitor.ID, &kept)
}

// ownerOfScan gives whose sheet a page is of; where that is not known, it is the
// record of whoever looks at it.
func (p *Pages) ownerOfScan(c *web.Context) (string, error) {
	s, err := p.store.Scan(c.Ctx(), c.Param("scan"))
	if err == nil && s.Assignment != c.Param("assignment") {
		err = quiz.Errorf(quiz.NotFound, "there is no such page at this assignment")
	}
	return cmp.Or(s.Person, c.Visitor.ID), err
}

func (p *Pages) scanImage(c *web.Context) error {
	s, err := p.store.Scan(c.Ctx(), c.Param("scan"))
	if err != nil {
		return err
	}
	kind := http.DetectContentType(s.Image)
	if kind != "image/png" && kind != "image/jpeg" {
		return quiz.Errorf(quiz.NotFound, "there is no picture of the page")
	}
	c.Response().Header().Set("Cache-Control", "no-store")
	return c.Blob(http.StatusOK, kind, s.Image)
}

func (p *Pages) scanCrop(c *web.Context) error {
	s, err := p.store.Scan(c.Ctx(), c.Param("scan"))
	if err != nil {
		return err
	}
	r, err := decodeReading(s)
	if err != nil {
		return err
	}
	n, err := strconv.Atoi(c.Param("n"))
	if err != nil || n < 0 || n >= len(r.Fields) || len(r.Fields[n].Crop) == 0 {
		return quiz.Errorf(quiz.NotFound, "there is no such picture")
	}
	c.Response().Header().Set("Cache-Control", "no-store")
	return c.Blob(http.StatusOK, "image/png", r.Fields[n].Crop)
}

// refuseScan puts a page away, so that a better scan of it can be read.
func (p *Pages) refuseScan(c *web.Context) error {
	s, err := p.store.Scan(c.Ctx(), c.Param("scan"))
	if err != nil {
		return err
	}
	back := "/assignments/" + s.Assignment + "/scans"
	if s.State == store.ScanDone {
		return &quiz.Error{Code: quiz.Closed, Text: "the answers on the page are recorded", Mend: "correct them in the grade table"}
	}
	if s.Reason == dismissed {
		return c.Go(back) // a second click
	}
	if v := c.Form().Int("version", 1, 1<<30, 0); v != s.Version {
		return &quiz.Error{Code: quiz.Conflict, Text: "the page was changed in the meantime", Mend: "look at it again"}
	}
	s.State, s.Reason, s.Image = store.ScanRefused, dismissed, []byte{}
	if err := p.store.SaveScan(c.Ctx(), c.Visitor.ID, &s); err != nil {
		return err
	}
	c.Flash(c.T("marks.scans.away"))
	return c.Go(back)
}

// readByCode reads a picture whose square code cannot be read by the code that
// is printed at its foot.
func (p *Pages) readByCode(c *web.Context) error {
	ctx := c.Ctx()
	s, err := p.store.Scan(ctx, c.Param("scan"))
	if err != nil {
		return err
	}
	h, err := p.head(c, "scans")
	if err != nil {
		return err
	}
	if s.State != store.ScanRefused {
		return c.Go(h.At("scans")) // a second click
	}
	r, err := decodeReading(s)
	if err != nil {
		return err
	}
	fail := func(why string) error {
		return p.showScans(c, http.StatusUnprocessableEntity, scansPage{Faults: map[string]string{"code-" + s.ID: why}})
	}
	code, err := paper.ParseSheetCode(strings.TrimSpace(c.FormValue("code")))
	if err != nil {
		return fail(err.Error())
	}
	book, err := p.sheetBook(ctx, h.Assignment)
	if err != nil {
		return err
	}
	seen, err := p.kept(ctx, h.Assignment)
	if err != nil {
		return err
	}
	batch := scan.NewBatch(book.lookup, scan.Options{Limits: scan.Limits{Bytes: maxScans, Pages: 1},
		Before: func(code paper.SheetCode) (string, bool) { where, ok := seen[code.String()]; return where, ok }})
	var page scan.Page
	if err := p.inTurn(ctx, func() error { page = batch.ReadAs(r.File, bytes.NewReader(s.Image), code); return nil }); err != nil {
		return err
	}
	if page.Sheet == nil {
		return fail(page.Refusal.Detail)
	}
	_, large, err := book.find(code)
	if err != nil {
		return err
	}
	if r, err = readingOf(r.File, page.Sheet, book.variant(code.Variant), large); err != nil {
		return err
	}
	r.Picture = true
	if s.Reading, err = json.Marshal(r); err != nil {
		return err
	}
	s.Person, s.Page, s.State, s.Reason, s.Image = code.Person, code.Page, store.ScanWaiting, "", nil
	if err := p.store.SaveScan(ctx, c.Visitor.ID, &s); err != nil {
		return err
	}
	c.Flash(c.T("marks.scans.read", "Count", 1))
	return c.Go(h.At("scans"))
}
