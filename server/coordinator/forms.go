package coordinator

import (
	"bytes"
	"context"
	"errors"
	"math"
	"net/http"
	"slices"
	"strconv"
	"time"

	"rightpage/banks"
	"rightpage/quiz"
	"rightpage/quiz/library"
	"rightpage/quiz/marking"
	"rightpage/quiz/paper"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

// formList is the page of all forms.
type formList struct {
	Rows     []formRow
	Catalogs int // in force
}

type formRow struct {
	store.FormInfo
	Assigned int  // how often
	Earlier  bool // another revision is in force by now
}

func (p *Pages) forms(c *web.Context) error {
	ctx := c.Ctx()
	forms, err := p.store.Forms(ctx)
	if err != nil {
		return err
	}
	assignments, err := p.store.Assignments(ctx)
	if err != nil {
		return err
	}
	catalogs, err := p.store.Catalogs(ctx)
	if err != nil {
		return err
	}
	var page formList
	inForce := map[string]string{}
	for _, x := range catalogs {
		if x.InForce {
			inForce[x.Title] = x.Revision
			page.Catalogs++
		}
	}
	for _, f := range forms {
		row := formRow{FormInfo: f}
		for _, a := range assignments {
			if a.Form == f.ID {
				row.Assigned++
			}
		}
		rev, ok := inForce[f.Catalog]
		row.Earlier = ok && rev != f.Revision
		page.Rows = append(page.Rows, row)
	}
	if c.QueryParam("as") != "" {
		t := &web.Table{Name: "quizzes", Columns: []string{c.T("coordinator.forms.form"), c.T("coordinator.catalogs.catalog"), c.T("coordinator.catalogs.revision"),
			c.T("coordinator.forms.created"), c.T("coordinator.forms.assigned")}}
		for _, r := range page.Rows {
			t.Rows = append(t.Rows, []any{r.Title, r.Catalog, r.Revision, r.Created, r.Assigned})
		}
		return c.Table(t)
	}
	return c.Page(p.set, "coordinator-forms", page)
}

// chosen gives the catalog in force with the ID, or the first; nil if none is.
func chosen(list []*library.Entry, id string) *library.Entry {
	for _, e := range list {
		if e.Info.ID == id {
			return e
		}
	}
	if len(list) > 0 && id == "" {
		return list[0]
	}
	return nil
}

// newForm shows the editor: with an even blueprint, or with that of a form.
func (p *Pages) newForm(c *web.Context) error {
	ctx := c.Ctx()
	entries, err := p.library.InForce(ctx)
	if err != nil {
		return err
	}
	e := &editor{Catalog: c.QueryParam("catalog")}
	var b *banks.Blueprint
	if from := c.QueryParam("from"); from != "" {
		f, err := p.marker.Form(ctx, from)
		if err != nil {
			return err
		}
		bp := f.Blueprint
		bp.Quotas = slices.Clone(bp.Quotas)
		b = &bp
		for _, x := range entries {
			if x.Info.Title == f.Catalog && e.Catalog == "" {
				e.Catalog = x.Info.ID
			}
		}
	}
	entry := chosen(entries, e.Catalog)
	if entry == nil {
		return c.Page(p.set, "coordinator-editor", e) // it says that there is no catalog
	}
	fresh := b == nil
	if fresh {
		bank, err := entry.Bank(ctx)
		if err != nil {
			return err
		}
		bp := banks.EvenBlueprint(c.T("coordinator.editor.newtitle", "Catalog", entry.Info.Title, "Day", c.Words.Short(c.Now().In(c.Zone))), 20, bank.Questions)
		b = &bp
	}
	b.Seed = newSeed()
	e.fromBlueprint(b)
	if fresh {
		e.Evenly = e.Questions
	}
	return p.showEditor(c, http.StatusOK, e, b, entries)
}

// showEditor shows the editor with what the bank has for the blueprint, nil if
// there is none yet because something is wrong.
func (p *Pages) showEditor(c *web.Context, status int, e *editor, b *banks.Blueprint, entries []*library.Entry) error {
	for _, x := range entries {
		e.Catalogs = append(e.Catalogs, x.Info)
	}
	entry := chosen(entries, e.Catalog)
	var list []*banks.Question
	var tried *banks.Report
	if entry != nil {
		e.Catalog = entry.Info.ID
		bank, err := entry.Bank(c.Ctx())
		if err != nil {
			return err
		}
		list = bank.Questions
		if b != nil && e.Counts == nil {
			if _, tried, err = e.count(list, b, nil); err != nil {
				return err
			}
		}
	}
	return p.layEditor(c, status, e, b, entry, list, tried)
}

func (p *Pages) layEditor(c *web.Context, status int, e *editor, b *banks.Blueprint, entry *library.Entry, list []*banks.Question, tried *banks.Report) error {
	e.lay(entry, list, tried)
	if b != nil {
		text, err := writeBlueprint(b)
		if err != nil {
			return err
		}
		e.YAML = string(text)
	}
	return c.PageStatus(p.set, status, "coordinator-editor", e)
}

// editForm does what the button of the editor says: count again, spread evenly,
// read the YAML, give it as a file, or make the form.
func (p *Pages) editForm(c *web.Context) error {
	ctx := c.Ctx()
	entries, err := p.library.InForce(ctx)
	if err != nil {
		return err
	}
	do := c.Form().One("do", "count", "even", "read", "export", "make")
	entry := chosen(entries, c.Form().Raw("catalog"))
	anew := false
	if entry != nil && do != "even" && do != "read" {
		bank, err := entry.Bank(ctx)
		if err != nil {
			return err
		}
		anew = follow(c.Form(), bank.Questions)
	}
	e, b := readEditor(c, do != "even" && !anew) // the shares that are spread anew do not matter
	if do == "read" {
		return p.readYAML(c, e, entries, []byte(e.YAML))
	}
	if entry == nil {
		if len(entries) > 0 {
			e.Faults["catalog"] = c.T("coordinator.editor.catalog.gone")
		}
		return p.showEditor(c, http.StatusUnprocessableEntity, e, b, entries)
	}
	if do == "even" {
		return p.spreadEvenly(c, e, b, entry, entries)
	}
	if b == nil {
		return p.showEditor(c, http.StatusUnprocessableEntity, e, nil, entries)
	}
	if anew {
		if err := e.spread(c.Ctx(), b, b.Questions, entry); err != nil {
			return err
		}
	}
	switch do {
	case "export":
		text, err := writeBlueprint(b)
		if err != nil {
			return err
		}
		return c.File(web.FileName("blueprint", b.Title)+".yaml", "application/yaml", text)
	case "make":
		return p.makeForm(c, e, b, entry, entries)
	}
	return p.showEditor(c, http.StatusOK, e, b, entries)
}

// spreadEvenly replaces the shares by even ones over the kinds of question.
func (p *Pages) spreadEvenly(c *web.Context, e *editor, b *banks.Blueprint, entry *library.Entry, entries []*library.Entry) error {
	n, err := strconv.Atoi(e.Questions)
	if b == nil && (err != nil || n < 1 || n > 200) {
		return p.showEditor(c, http.StatusUnprocessableEntity, e, nil, entries)
	}
	if err := e.spread(c.Ctx(), b, n, entry); err != nil {
		return err
	}
	return p.showEditor(c, http.StatusOK, e, b, entries)
}

// spread replaces the shares by even ones over the kinds of question, in the
// editor and in b, unless that is nil.
func (e *editor) spread(ctx context.Context, b *banks.Blueprint, n int, entry *library.Entry) error {
	bank, err := entry.Bank(ctx)
	if err != nil {
		return err
	}
	even := banks.EvenBlueprint(e.Title, n, bank.Questions)
	kept := *e
	e.fromBlueprint(&even)
	e.Time, e.Cut, e.Options, e.Seed, e.Book, e.Order, e.Partial, e.Variants = kept.Time, kept.Cut, kept.Options, kept.Seed, kept.Book, kept.Order, kept.Partial, kept.Variants
	e.Faults, e.Wrong, e.Evenly = map[string]string{}, nil, e.Questions
	if b != nil {
		b.Quotas = even.Quotas
	}
	return nil
}

// readYAML fills the fields from a blueprint in YAML.
func (p *Pages) readYAML(c *web.Context, e *editor, entries []*library.Entry, text []byte) error {
	b, err := banks.ParseBlueprint(text)
	var wrong *banks.BlueprintError
	if errors.As(err, &wrong) {
		e.Wrong, e.Faults, e.YAML = wrong.Faults, map[string]string{}, string(text)
		return p.showEditor(c, http.StatusUnprocessableEntity, e, nil, entries)
	} else if err != nil {
		return err
	}
	e.Faults, e.Wrong = map[string]string{}, nil
	e.fromBlueprint(&b)
	return p.showEditor(c, http.StatusOK, e, &b, entries)
}

// maxBlueprintFile bounds a file with a blueprint.
const maxBlueprintFile = 256 << 10

// importBlueprint reads a blueprint from a file into the editor.
func (p *Pages) importBlueprint(c *web.Context) error {
	f := c.Form()
	file, err := f.File("file", true, maxBlueprintFile)
	var big *http.MaxBytesError
	if errors.As(err, &big) {
		return &quiz.Error{Code: quiz.Invalid, Text: "the file is too large for a blueprint, which has a page at most", Mend: "choose the .yaml file of a blueprint"}
	} else if err != nil {
		return err
	}
	entries, err := p.library.InForce(c.Ctx())
	if err != nil {
		return err
	}
	b := banks.NewBlueprint("", 20)
	e := &editor{Catalog: f.Raw("catalog")}
	e.fromBlueprint(&b)
	if !f.OK() {
		e.Faults = f.Faults
		return p.showEditor(c, http.StatusUnprocessableEntity, e, nil, entries)
	}
	return p.readYAML(c, e, entries, file.Data)
}

// makeForm makes the form and keeps it. The same fields make the same form, so
// that a second click changes nothing.
func (p *Pages) makeForm(c *web.Context, e *editor, b *banks.Blueprint, entry *library.Entry, entries []*library.Entry) error {
	ctx := c.Ctx()
	bank, err := entry.Bank(ctx)
	if err != nil {
		return err
	}
	exposure, err := p.exposure(ctx)
	if err != nil {
		return err
	}
	for _, x := range entries {
		e.Catalogs = append(e.Catalogs, x.Info)
	}
	f, tried, err := e.count(bank.Questions, b, exposure)
	if err != nil {
		return err
	}
	if f == nil || !e.Counts.Possible {
		return p.layEditor(c, http.StatusUnprocessableEntity, e, b, entry, bank.Questions, tried)
	}
	if err := p.store.AddForm(ctx, c.Visitor.ID, f); err != nil {
		return err
	}
	c.Flash(c.T("coordinator.form.made", "Title", f.Title))
	return c.Go("/forms/" + f.ID)
}

// formPage is the page of a form.
type formPage struct {
	*marking.Form
	Variant   int
	Names     []string
	Key       bool // the key is shown
	KeyHidden bool // the visitor may not see it now
	Kinds     []kindCount
	Spread    []variantSpread
	Paper     string
	Assigned  []quiz.Assignment
	Now       time.Time
}

// PageTitle names the page.
func (p formPage) PageTitle() string { return p.Title }

// Shown are the questions of the variant chosen.
func (p formPage) Shown() []*banks.Question { return p.Variants[p.Variant].Questions }

type kindCount struct {
	Kind  string
	Count int
}

type variantSpread struct {
	Name               string
	Questions          int
	Easy, Medium, Hard int
	Mean               float64 // predicted difficulty, logits
	Expected           float64 // share that somebody of ability zero answers rightly
}

// variantOf gives the index of the variant that the query names, the first
// unless it does.
func variantOf(c *web.Context, f *marking.Form) int {
	for i := range f.Variants {
		if f.Variants[i].Name == c.QueryParam("variant") {
			return i
		}
	}
	return 0
}

func (p *Pages) form(c *web.Context) error {
	ctx := c.Ctx()
	f, err := p.marker.Form(ctx, c.Param("form"))
	if err != nil {
		return err
	}
	s, err := p.store.Settings(ctx)
	if err != nil {
		return err
	}
	page := formPage{Form: f, Variant: variantOf(c, f), Paper: s.Paper, Now: c.Now()}
	for i := range f.Variants {
		page.Names = append(page.Names, f.Variants[i].Name)
		page.Spread = append(page.Spread, spreadOf(&f.Variants[i]))
	}
	for _, q := range page.Shown() {
		i := slices.IndexFunc(page.Kinds, func(k kindCount) bool { return k.Kind == q.Kind })
		if i < 0 {
			page.Kinds = append(page.Kinds, kindCount{q.Kind, 1})
		} else {
			page.Kinds[i].Count++
		}
	}
	assignments, err := p.store.Assignments(ctx)
	if err != nil {
		return err
	}
	for _, a := range assignments {
		if a.Form == f.ID {
			page.Assigned = append(page.Assigned, a)
		}
	}
	if page.KeyHidden, err = p.works(ctx, c.Visitor.ID, f.ID, assignments); err != nil {
		return err
	}
	if c.QueryParam("key") != "" && !page.KeyHidden {
		if err := p.store.RecordAudit(ctx, c.Visitor.ID, "form.key", "form/"+f.ID, nil); err != nil {
			return err
		}
		page.Key = true
	}
	return c.Page(p.set, "coordinator-form", page)
}

// works tells whether a person has an attempt at the form that is not over: a
// coordinator who is a technician too does not see the key of it.
func (p *Pages) works(ctx context.Context, person, form string, assignments []quiz.Assignment) (bool, error) {
	attempts, err := p.store.AttemptsOf(ctx, person)
	if err != nil {
		return false, err
	}
	for _, a := range attempts {
		if a.State.Ended() {
			continue
		}
		if slices.ContainsFunc(assignments, func(x quiz.Assignment) bool { return x.ID == a.Assignment && x.Form == form }) {
			return true, nil
		}
	}
	return false, nil
}

func spreadOf(v *banks.Variant) variantSpread {
	s := variantSpread{Name: v.Name, Questions: len(v.Questions)}
	for _, q := range v.Questions {
		switch banks.BandOf(q.Logit) {
		case banks.Easy:
			s.Easy++
		case banks.Hard:
			s.Hard++
		default:
			s.Medium++
		}
		s.Mean += q.Logit / float64(len(v.Questions))
		s.Expected += expected(q.Logit) / float64(len(v.Questions))
	}
	return s
}

// formBlueprint gives the blueprint of a form as YAML.
func (p *Pages) formBlueprint(c *web.Context) error {
	f, err := p.marker.Form(c.Ctx(), c.Param("form"))
	if err != nil {
		return err
	}
	text, err := writeBlueprint(&f.Blueprint)
	if err != nil {
		return err
	}
	return c.File(web.FileName("blueprint", f.Title)+".yaml", "application/yaml", text)
}

// printOptions reads how something is to be printed from the query.
func (p *Pages) printOptions(c *web.Context) (paper.BookletOptions, quiz.Settings, error) {
	s, err := p.store.Settings(c.Ctx())
	if err != nil {
		return paper.BookletOptions{}, s, err
	}
	size := c.QueryParam("size")
	if size == "" {
		size = s.Paper
	}
	o := paper.BookletOptions{LargePrint: c.QueryParam("large") != "", Duplex: c.QueryParam("duplex") != ""}
	if o.Size, err = paper.ParsePageSize(size); err != nil {
		return o, s, &quiz.Error{Code: quiz.Invalid, Text: "there is no paper of that size", Err: err, Mend: "choose A4 or Letter"}
	}
	return o, s, nil
}

// anybody stands for the person in the code of answer sheets that are printed
// without names: whose it is has to be said when the sheet comes back.
const anybody = "anybody"

// printForm prints a variant without names: the booklet, the answer sheet, both,
// or the key.
func (p *Pages) printForm(c *web.Context) error {
	ctx := c.Ctx()
	f, err := p.marker.Form(ctx, c.Param("form"))
	if err != nil {
		return err
	}
	o, s, err := p.printOptions(c)
	if err != nil {
		return err
	}
	v := &f.Variants[variantOf(c, f)]
	what := c.QueryParam("what")
	var b bytes.Buffer
	switch what {
	case "key":
		assignments, err := p.store.Assignments(ctx)
		if err != nil {
			return err
		}
		if working, err := p.works(ctx, c.Visitor.ID, f.ID, assignments); err != nil {
			return err
		} else if working {
			return &quiz.Error{Code: quiz.Closed, Text: "you are working on this form yourself", Mend: "hand in first; then the key is shown"}
		}
		if err := p.store.RecordAudit(ctx, c.Visitor.ID, "form.key", "form/"+f.ID, nil); err != nil {
			return err
		}
		err = paper.WriteKeySheet(&b, paper.KeySheetOf(f.TestForm, v, s.Organisation), o, c.Now())
		if err != nil {
			return err
		}
	case "booklet", "sheet", "both":
		cautions, err := p.cautions(ctx, f)
		if err != nil {
			return err
		}
		run := paper.RunOptions{BookletOptions: o, Booklets: what != "sheet", Sheets: what != "booklet", Created: c.Now()}
		_, err = paper.WriteRun(&b, func(yield func(paper.Booklet, error) bool) {
			yield(paper.BookletOf(f.TestForm, v, anybody, "", s.Organisation, cautions), nil)
		}, run)
		if err != nil {
			return err
		}
	default:
		return &quiz.Error{Code: quiz.Invalid, Text: "it is not said what to print", Mend: "choose the booklet, the answer sheet or the key"}
	}
	return c.File(web.FileName(what, f.Title, v.Name)+".pdf", "application/pdf", b.Bytes())
}

// cautions gives what stands on the cover of booklets: the cautions of the
// catalog that the form was made of. Those of a job stand with its question.
func (p *Pages) cautions(ctx context.Context, f *marking.Form) ([]string, error) {
	all, err := p.store.Catalogs(ctx)
	if err != nil {
		return nil, err
	}
	for _, x := range all {
		if x.Title == f.Catalog && x.Revision == f.Revision {
			e, err := p.library.Entry(ctx, x.ID)
			if err != nil {
				return nil, err
			}
			return e.Catalog.Meta().Cautions, nil
		}
	}
	return nil, nil // a form that was brought in without its catalog
}

// expected is the share of people of middling ability who answer a question of
// a difficulty rightly, by the Rasch model.
func expected(logit float64) float64 { return 1 / (1 + math.Exp(logit)) }
