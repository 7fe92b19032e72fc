package marks

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"rightpage/banks"
	"rightpage/quiz"
	"rightpage/quiz/marking"
	"rightpage/quiz/paper"
	"rightpage/server/web"
)

// itoa writes a number for an address or the name of a field.
func itoa(n int) string { return strconv.Itoa(n) }

// between parts the steps of a chase in an answer, as package grading reads it.
const between = "|"

// maxTyped bounds one field in characters.
const maxTyped = 300

// entry is the page on which answers from paper are typed.
type entry struct {
	head
	Person      quiz.Person
	Variant     int
	VariantName string
	Fields      []entryField
	Faults      map[string]string
	Keep        bool // keep answers that cannot be read
	First       string
}

// entryField is a field to type an answer into: one a question, and one a step
// of a chase, as on the sheet.
type entryField struct {
	Name     string // of the input
	Label    string // as on the sheet: "12", "12b"
	Question int    // from 0
	Step     int    // of a chase, from 0
	Asks     string // what it takes: a message of marks.takes
	Letters  int    // options to choose from; 0: typed
	Value    string
}

// entryFields makes the fields for a variant, filled with answers as they are
// stored, or empty if there are none.
func entryFields(f *marking.Form, variant int, answers []string) []entryField {
	var list []entryField
	for i, q := range f.Variants[variant].Questions {
		value := ""
		if i < len(answers) {
			value = answers[i]
		}
		if q.Form != banks.Chase {
			list = append(list, entryField{Name: "a-" + itoa(i+1), Label: itoa(i + 1), Question: i, Asks: string(q.Form), Letters: len(q.Options), Value: value})
			continue
		}
		parts := strings.Split(value, between)
		for s := range q.Steps {
			x := entryField{Name: "a-" + itoa(i+1) + "-" + itoa(s+1), Label: itoa(i+1) + paper.StepLetter(s), Question: i, Step: s, Asks: string(banks.Typed), Letters: len(q.Steps[s].Options)}
			if x.Letters > 0 {
				x.Asks = string(banks.OneOf)
			}
			if s < len(parts) {
				x.Value = strings.TrimSpace(parts[s])
			}
			list = append(list, x)
		}
	}
	return list
}

// Last is the last letter that may be typed.
func (x entryField) Last() string {
	if x.Letters == 0 {
		return ""
	}
	return banks.Letter(x.Letters - 1)
}

// line reads a line that somebody typed.
func line(f *web.Form, field string) string {
	s := strings.TrimSpace(norm.NFC.String(f.Raw(field)))
	s = strings.Join(strings.FieldsFunc(s, func(r rune) bool { return unicode.IsControl(r) || unicode.IsSpace(r) }), " ")
	if len([]rune(s)) > maxTyped {
		f.Fault(field, "fault.long", "Most", maxTyped)
	}
	return s
}

// readEntry reads the fields, and gives the answers in the order of the questions,
// in the form in which answers are stored.
func readEntry(f *web.Form, e *entry) []string {
	var answers []string
	for i := range e.Fields {
		x := &e.Fields[i]
		x.Value = line(f, x.Name)
		if x.Letters > 0 {
			x.Value = strings.ToUpper(x.Value)
		}
		if x.Step == 0 {
			answers = append(answers, x.Value)
			continue
		}
		answers[x.Question] += between + strings.ReplaceAll(x.Value, between, " ")
	}
	for i, a := range answers {
		if strings.Trim(a, between+" ") == "" {
			answers[i] = ""
		}
	}
	return answers
}

// checkEntry faults the answers that cannot be read for certain.
func (p *Pages) checkEntry(c *web.Context, f *web.Form, form *marking.Form, e *entry, answers []string) {
	for i, a := range answers {
		if a == "" {
			continue
		}
		if err := form.Readable(e.Variant, i, a); err != nil {
			for _, x := range e.Fields {
				if x.Question == i && x.Value != "" {
					if _, ok := f.Faults[x.Name]; !ok {
						f.Faults[x.Name] = c.T("marks.unreadable", "Why", err.Error())
					}
					break
				}
			}
		}
	}
}

// focus chooses the field to begin with: the first with a fault, or the first
// that is empty.
func (e *entry) focus() {
	for _, x := range e.Fields {
		if _, ok := e.Faults[x.Name]; ok {
			e.First = x.Name
			return
		}
	}
	for _, x := range e.Fields {
		if x.Value == "" {
			e.First = x.Name
			return
		}
	}
}

// choosePage is the page on which is said whose sheet comes next.
type choosePage struct {
	head
	Who     string
	Next    *quiz.Person // the next who has nothing yet
	People  []quiz.Person
	Found   []quiz.Person // of several with the name
	Waiting []quiz.Person
	Faults  map[string]string
}

// addressed lists the people to whom an assignment is addressed, by name, those
// who left too: they may have worked on it before.
func (p *Pages) addressed(c *web.Context, a *quiz.Assignment) ([]quiz.Person, error) {
	people, err := p.store.People(c.Ctx())
	if err != nil {
		return nil, err
	}
	people = slices.DeleteFunc(people, func(x quiz.Person) bool { return !a.For(x) || !x.Erased.IsZero() || !c.Covers(&x) })
	slices.SortFunc(people, byPerson)
	return people, nil
}

// waiting lists those of people who have no attempt yet.
func (p *Pages) waiting(c *web.Context, a *quiz.Assignment, people []quiz.Person) ([]quiz.Person, error) {
	attempts, err := p.store.AttemptsAt(c.Ctx(), a.ID)
	if err != nil {
		return nil, err
	}
	begun := map[string]bool{}
	for _, x := range attempts {
		begun[x.Person] = true
	}
	var list []quiz.Person
	for _, x := range people {
		if !begun[x.ID] && x.Active(c.Now()) {
			list = append(list, x)
		}
	}
	return list, nil
}

// choosePerson finds whose sheet it is, by staff number or name; nothing typed
// is the next person who has nothing yet.
func (p *Pages) choosePerson(c *web.Context) error {
	h, err := p.head(c, "paper")
	if err != nil {
		return err
	}
	page := choosePage{head: h, Who: strings.TrimSpace(c.QueryParam("who")), Faults: map[string]string{}}
	if page.People, err = p.addressed(c, &h.Assignment); err != nil {
		return err
	}
	if page.Waiting, err = p.waiting(c, &h.Assignment, page.People); err != nil {
		return err
	}
	if len(page.Waiting) > 0 {
		page.Next = &page.Waiting[0]
		// Sheets lie in some order: after somebody comes who follows by name.
		for i := range page.Waiting {
			if after := c.QueryParam("after"); after != "" && page.Waiting[i].Name > after {
				page.Next = &page.Waiting[i]
				break
			}
		}
	}
	status := http.StatusOK
	if c.QueryParams().Has("who") {
		found := find(page.People, page.Who)
		switch {
		case page.Who == "" && page.Next != nil:
			return c.Go(page.At("paper/" + page.Next.ID))
		case page.Who == "":
			page.Faults["who"] = c.T("fault.required")
		case len(found) == 1:
			return c.Go(page.At("paper/" + found[0].ID))
		case len(found) == 0:
			page.Faults["who"] = c.T("marks.paper.nobody", "Who", page.Who)
		default:
			page.Found = found
		}
		if len(page.Faults) > 0 {
			status = http.StatusUnprocessableEntity
		}
	}
	return c.PageStatus(p.set, status, "marks-paper", page)
}

// find gives the people whom a text means: by staff number, or else by name as
// it stands in the list to choose from, or else by what each word begins.
func find(people []quiz.Person, who string) []quiz.Person {
	fold := func(s string) string { return strings.ToLower(norm.NFKD.String(s)) }
	plain := func(s string) string {
		return strings.Map(func(r rune) rune {
			if unicode.Is(unicode.Mn, r) {
				return -1
			}
			return r
		}, fold(s))
	}
	who = plain(who)
	by := func(ok func(quiz.Person) bool) []quiz.Person {
		var list []quiz.Person
		for _, x := range people {
			if ok(x) {
				list = append(list, x)
			}
		}
		return list
	}
	if l := by(func(x quiz.Person) bool { return x.Number != "" && plain(x.Number) == who }); len(l) > 0 {
		return l
	}
	if l := by(func(x quiz.Person) bool {
		return plain(x.Name) == who || x.Number != "" && plain(x.Name+" · "+x.Number) == who
	}); len(l) > 0 {
		return l
	}
	words := strings.Fields(who)
	return by(func(x quiz.Person) bool {
		names := strings.FieldsFunc(plain(x.Name), func(r rune) bool { return unicode.IsSpace(r) || r == '-' || r == ',' })
		for _, w := range words {
			if !slices.ContainsFunc(names, func(n string) bool { return strings.HasPrefix(n, strings.Trim(w, ",")) }) {
				return false
			}
		}
		return len(words) > 0
	})
}

// paperPage is the page on which one sheet is typed.
type paperPage struct {
	entry
	Variants []string
	Attempts []quiz.Attempt // those that the person has
	Used     bool           // no attempt is left
	Checked  bool           // everything can be read
	Blank    int
	Trouble  string
}

// PageTitle names the page.
func (p paperPage) PageTitle() string { return p.Person.Name + " – " + p.Assignment.Title }

func (p *Pages) entryFor(c *web.Context) (paperPage, *marking.Form, error) {
	ctx := c.Ctx()
	h, err := p.head(c, "paper")
	if err != nil {
		return paperPage{}, nil, err
	}
	page := paperPage{entry: entry{head: h, Person: *c.Subject}}
	form, err := p.marker.Form(ctx, h.Assignment.Form)
	if err != nil {
		return page, nil, err
	}
	if !h.Assignment.For(page.Person) {
		return page, nil, &quiz.Error{Code: quiz.Forbidden, Text: h.Assignment.Title + " is not assigned to " + page.Person.Name, Mend: "assign it first"}
	}
	all, err := p.store.AttemptsAt(ctx, h.Assignment.ID)
	if err != nil {
		return page, nil, err
	}
	for _, a := range all {
		if a.Person == page.Person.ID {
			page.Attempts = append(page.Attempts, a)
		}
	}
	page.Used = len(page.Attempts) >= h.Assignment.Attempts
	for _, v := range form.Variants {
		page.Variants = append(page.Variants, v.Name)
	}
	page.Variant = quiz.VariantFor(h.Assignment.ID, page.Person.ID, len(page.Attempts)+1, len(form.Variants))
	asked := c.QueryParam("variant")
	if c.Request().Method == http.MethodPost {
		asked = c.FormValue("variant")
	}
	if i := slices.Index(page.Variants, asked); i >= 0 {
		page.Variant = i
	}
	page.VariantName = page.Variants[page.Variant]
	page.Fields = entryFields(form, page.Variant, nil)
	return page, form, nil
}

func (p *Pages) paperPage(c *web.Context) error {
	page, _, err := p.entryFor(c)
	if err != nil {
		return err
	}
	page.focus()
	return c.Page(p.set, "marks-entry", page)
}

// savePaper records a sheet, or only looks whether it can be read. The same sheet
// again is recorded once.
func (p *Pages) savePaper(c *web.Context) error {
	page, form, err := p.entryFor(c)
	if err != nil {
		return err
	}
	f := c.Form()
	page.Faults = f.Faults
	answers := readEntry(f, &page.entry)
	page.Keep = f.On("keep")
	if !page.Keep {
		p.checkEntry(c, f, form, &page.entry, answers)
	}
	for _, a := range answers {
		if a == "" {
			page.Blank++
		}
	}
	page.focus()
	switch {
	case !f.OK():
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "marks-entry", page)
	case f.Raw("do") != "save":
		page.Checked = true
		return c.Page(p.set, "marks-entry", page)
	}
	a, err := p.marker.Paper(c.Ctx(), c.Visitor.ID, page.Assignment.ID, page.Person.ID, page.Variant, answers)
	if err != nil {
		if page.Trouble, err = answered(err); err != nil {
			return err
		}
		return c.PageStatus(p.set, http.StatusConflict, "marks-entry", page)
	}
	c.Flash(c.T("marks.paper.done", "Name", page.Person.Name, "Points", c.Words.Number(a.Result.Points, 1), "Of", c.Words.Number(a.Result.Of, 1), "Count", page.Blank))
	return c.Go(page.At("paper") + "?after=" + url.QueryEscape(page.Person.Name))
}
