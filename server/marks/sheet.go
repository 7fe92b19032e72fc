package marks

import (
	"net/http"
	"slices"
	"strings"

	"rightpage/banks"
	"rightpage/quiz"
	"rightpage/quiz/marking"
	"rightpage/quiz/paper"
	"rightpage/quiz/paper/scan"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

// nothing is typed where a row or a box was looked at and says nothing.
const nothing = "-"

// sheetPage is one person's scanned sheet, to be looked at and recorded.
type sheetPage struct {
	head
	Person  quiz.Person
	Variant string
	Pages   []scanned
	Missing []int
	Of      int
	Look    []sheetField // what a person must look at: flagged rows and boxes
	Clear   []sheetField // what was read for certain
	Faults  map[string]string
	Keep    bool
	Partial bool // the missing pages were handed in empty
	Seen    string
	First   string
	Trouble string
	Stale   bool
}

// PageTitle names the page.
func (p sheetPage) PageTitle() string { return p.Person.Name + " – " + p.Assignment.Title }

// sheetField is a field of the sheet with what was read.
type sheetField struct {
	field
	Name  string // of the input
	Label string
	Image string // address of the crop
	Flag  string // empty: read for certain
	Saw   string // the circles that are filled
	Value string
	Last  string // letter
	Box   bool
	Must  bool // something must be typed
}

// flagWord is the end of the message that says why a row must be looked at.
func flagWord(f scan.Flag) string {
	switch f {
	case scan.Blank:
		return "blank"
	case scan.Double:
		return "double"
	case scan.Faint:
		return "faint"
	case scan.Partial:
		return "partial"
	case scan.CrossedOut:
		return "crossed"
	}
	return "unreadable"
}

// lettersOf writes marks as letters.
func lettersOf(marked []int) string {
	var b strings.Builder
	for _, i := range marked {
		b.WriteString(banks.Letter(i))
	}
	return b.String()
}

// seenOf names the pages and their versions, so that a stale form is known.
func seenOf(list []scanned) string {
	var parts []string
	for _, s := range list {
		parts = append(parts, s.ID+"/"+itoa(s.ScanPage.Version))
	}
	return strings.Join(parts, " ")
}

func (p *Pages) sheetOf(c *web.Context) (sheetPage, *marking.Form, error) {
	ctx := c.Ctx()
	h, err := p.head(c, "scans")
	if err != nil {
		return sheetPage{}, nil, err
	}
	page := sheetPage{head: h, Person: *c.Subject}
	form, err := p.marker.Form(ctx, h.Assignment.Form)
	if err != nil {
		return page, nil, err
	}
	by, err := p.waitingPages(ctx, h.Assignment.ID)
	if err != nil {
		return page, nil, err
	}
	page.Pages = by[page.Person.ID]
	if len(page.Pages) == 0 {
		return page, form, nil
	}
	page.Seen = seenOf(page.Pages)
	first := page.Pages[0]
	if first.Variant < 0 || first.Variant >= len(form.Variants) {
		return page, nil, &quiz.Error{Code: quiz.Conflict, Text: "the sheet is of a variant that the quiz does not have", Mend: "refuse the page"}
	}
	page.Variant, page.Of = form.Variants[first.Variant].Name, first.reading.Pages
	for n := 1; n <= page.Of; n++ {
		if !slices.ContainsFunc(page.Pages, func(s scanned) bool { return s.Page == n && s.Variant == first.Variant }) {
			page.Missing = append(page.Missing, n)
		}
	}
	for _, s := range page.Pages {
		if s.Variant != first.Variant || s.reading.Pages != page.Of {
			page.Trouble = c.T("marks.sheet.mixed")
			continue
		}
		for i, x := range s.Fields {
			f := sheetField{field: x, Name: "s-" + x.label(), Label: x.label(), Box: paper.FieldKind(x.Kind) == paper.Write}
			if len(x.Crop) > 0 {
				f.Image = h.At("scans/pages/"+s.ID+"/crop/") + itoa(i)
			}
			if x.Options > 0 {
				f.Last = banks.Letter(x.Options - 1)
			}
			switch {
			case f.Box:
				f.Must = x.Inked
				page.Look = append(page.Look, f)
			case scan.Flag(x.Flag) != scan.Clear:
				f.Flag, f.Saw = flagWord(scan.Flag(x.Flag)), lettersOf(x.Marked)
				f.Must = scan.Flag(x.Flag) != scan.Blank
				page.Look = append(page.Look, f)
			default:
				f.Value = lettersOf(x.Marked)
				page.Clear = append(page.Clear, f)
			}
		}
	}
	// In the order of the sheet, which lies beside the keyboard.
	slices.SortStableFunc(page.Look, func(a, b sheetField) int { return a.Question - b.Question })
	slices.SortStableFunc(page.Clear, func(a, b sheetField) int { return a.Question - b.Question })
	return page, form, nil
}

func (p *sheetPage) focus() {
	for _, x := range p.Look {
		if _, ok := p.Faults[x.Name]; ok {
			p.First = x.Name
			return
		}
	}
	for _, x := range p.Look {
		if x.Value == "" {
			p.First = x.Name
			return
		}
	}
}

func (p *Pages) sheet(c *web.Context) error {
	page, _, err := p.sheetOf(c)
	if err != nil {
		return err
	}
	if len(page.Pages) == 0 {
		return c.Go(page.At("scans"))
	}
	page.focus()
	return c.Page(p.set, "marks-sheet", page)
}

// typeIn reads what was typed for the fields of the sheet.
func (p *sheetPage) typeIn(c *web.Context, f *web.Form) {
	for _, list := range [][]sheetField{p.Look, p.Clear} {
		for i := range list {
			x := &list[i]
			x.Value = line(f, x.Name)
			if !x.Box {
				x.Value = strings.ToUpper(x.Value)
				if x.Value != "" && x.Value != nothing && !lettersTo(x.Value, x.Options) {
					f.Fault(x.Name, "marks.sheet.letters", "Last", x.Last)
				}
			}
			if x.Must && x.Value == "" {
				f.Fault(x.Name, "marks.sheet.must")
			}
		}
	}
}

// lettersTo tells whether a text is letters of options alone.
func lettersTo(s string, options int) bool {
	for _, r := range s {
		if r != ' ' && r != ',' && (r < 'A' || int(r-'A') >= options) {
			return false
		}
	}
	return true
}

// answers puts the fields of the sheet together to answers, in the order of the
// questions of the variant.
func (p *sheetPage) answers(questions []*banks.Question) []string {
	typed := map[string]string{} // by label
	for _, list := range [][]sheetField{p.Look, p.Clear} {
		for _, x := range list {
			v := x.Value
			if v == nothing {
				v = ""
			}
			typed[x.Label] = v
		}
	}
	out := make([]string, len(questions))
	for i, q := range questions {
		label := func(part string) string { return paper.SheetField{Question: i + 1, Part: part}.Label() }
		switch q.Form {
		case banks.Ordered:
			var b strings.Builder
			for n := range q.Options {
				b.WriteString(typed[label(itoa(n+1))])
			}
			out[i] = b.String()
		case banks.Chase:
			parts := make([]string, len(q.Steps))
			for s := range q.Steps {
				parts[s] = strings.ReplaceAll(typed[label(paper.StepLetter(s))], between, " ")
			}
			if a := strings.Join(parts, between); strings.Trim(a, between+" ") != "" {
				out[i] = a
			}
		default:
			out[i] = typed[label("")]
		}
	}
	return out
}

// recordSheet records the answers of a sheet. The same sheet again is recorded
// once, also where the first time broke off half-way.
func (p *Pages) recordSheet(c *web.Context) error {
	ctx := c.Ctx()
	page, form, err := p.sheetOf(c)
	if err != nil {
		return err
	}
	if len(page.Pages) == 0 {
		return c.Go(page.At("scans")) // a second click
	}
	f := c.Form()
	page.Faults = f.Faults
	page.Keep, page.Partial = f.On("keep"), f.On("partial")
	page.typeIn(c, f)
	if f.Raw("seen") != page.Seen {
		page.Stale = true
		page.focus()
		return c.PageStatus(p.set, http.StatusConflict, "marks-sheet", page)
	}
	if len(page.Missing) > 0 && !page.Partial {
		f.Fault("partial", "marks.sheet.missing.fault")
	}
	variant := page.Pages[0].Variant
	questions := form.Variants[variant].Questions
	answers := page.answers(questions)
	if !page.Keep {
		for i, a := range answers {
			if a == "" {
				continue
			}
			if err := form.Readable(variant, i, a); err != nil {
				p.faultAnswer(c, f, &page, i+1, err)
			}
		}
	}
	page.focus()
	if page.Trouble != "" || !f.OK() {
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "marks-sheet", page)
	}
	if f.Raw("do") == "check" { // the Enter key, without scripts
		return c.Page(p.set, "marks-sheet", page)
	}
	a, err := p.marker.Paper(ctx, c.Visitor.ID, page.Assignment.ID, page.Person.ID, variant, answers)
	if err != nil {
		if page.Trouble, err = answered(err); err != nil {
			return err
		}
		return c.PageStatus(p.set, http.StatusConflict, "marks-sheet", page)
	}
	for i := range page.Pages {
		s := page.Pages[i].ScanPage
		s.State, s.Reason = store.ScanDone, ""
		if err := p.store.SaveScan(ctx, c.Visitor.ID, &s); err != nil && quiz.ErrorCode(err) != quiz.Conflict {
			return err
		}
	}
	blank := 0
	for _, x := range answers {
		if x == "" {
			blank++
		}
	}
	c.Flash(c.T("marks.paper.done", "Name", page.Person.Name, "Points", c.Words.Number(a.Result.Points, 1), "Of", c.Words.Number(a.Result.Of, 1), "Count", blank))
	// The next sheet that waits.
	by, err := p.waitingPages(ctx, page.Assignment.ID)
	if err != nil {
		return err
	}
	people, err := p.peopleByID(ctx)
	if err != nil {
		return err
	}
	var list []quiz.Person
	for id := range by {
		if who := people[id]; c.Covers(&who) {
			list = append(list, who)
		}
	}
	if len(list) == 0 {
		return c.Go(page.At("scans"))
	}
	slices.SortFunc(list, byPerson)
	for _, x := range list {
		if byPerson(page.Person, x) < 0 {
			return c.Go(page.At("scans/" + x.ID))
		}
	}
	return c.Go(page.At("scans/" + list[0].ID))
}

// faultAnswer says beside a field of question n that its answer cannot be read.
func (p *Pages) faultAnswer(c *web.Context, f *web.Form, page *sheetPage, n int, why error) {
	for _, list := range [][]sheetField{page.Look, page.Clear} {
		for _, x := range list {
			if x.Question == n {
				if _, ok := f.Faults[x.Name]; !ok {
					f.Faults[x.Name] = c.T("marks.unreadable", "Why", why.Error())
				}
				return
			}
		}
	}
}
