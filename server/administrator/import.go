package administrator

import (
	"encoding/json"
	"net/http"

	"rightpage/quiz"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

type importPage struct {
	Sites  []quiz.Site
	Faults map[string]string
}

func (p *Pages) importPage(c *web.Context) error { return p.importForm(c, http.StatusOK, nil) }

func (p *Pages) importForm(c *web.Context, status int, faults map[string]string) error {
	sites, err := p.app.Store.Sites(c.Ctx())
	if err != nil {
		return err
	}
	return c.PageStatus(p.set, status, "administrator-import", importPage{sites, faults})
}

// importTemplate answers with an empty list to fill in.
func (p *Pages) importTemplate(c *web.Context) error {
	return c.Table(&web.Table{Name: "people", Columns: columnNames(c.Words)})
}

type previewPage struct {
	Plan plan
	Data string // the rows, to be sent again when they are to be added
	Key  string
	Add  int // how many would be added
}

// importPreview reads a list and shows what it would do. Nothing is kept.
func (p *Pages) importPreview(c *web.Context) error {
	f := c.Form()
	u, err := f.File("file", true, maxList)
	if err != nil {
		return err
	}
	if !f.OK() {
		return p.importForm(c, http.StatusUnprocessableEntity, f.Faults)
	}
	rows, err := readSheet(u.Name, u.Data)
	if quiz.ErrorCode(err) == quiz.Invalid {
		q := err.(*quiz.Error)
		return p.importForm(c, http.StatusUnprocessableEntity, map[string]string{"file": c.T("administrator.import.file", "Why", q.Text, "Mend", q.Mend)})
	}
	if err != nil {
		return err
	}
	return p.preview(c, rows, web.NewKey())
}

func (p *Pages) preview(c *web.Context, rows []row, key string) error {
	l, err := p.plan(c, rows)
	if err != nil {
		return err
	}
	data, err := json.Marshal(rows)
	if err != nil {
		return err
	}
	status := http.StatusOK
	if !l.OK() {
		status = http.StatusUnprocessableEntity
	}
	return c.PageStatus(p.set, status, "administrator-preview", previewPage{l, string(data), key, len(l.People)})
}

// importAdd adds everybody of the list that was previewed, or nobody. It is
// checked again: others may have added people meanwhile.
func (p *Pages) importAdd(c *web.Context) error {
	f := c.Form()
	var rows []row
	if err := json.Unmarshal([]byte(f.Raw("rows")), &rows); err != nil || len(rows) > maxRows+1 {
		return &quiz.Error{Code: quiz.Invalid, Text: "the list did not arrive whole", Mend: "upload the file again"}
	}
	key := f.Key()
	undo, err := p.once(c, "import", key)
	if err != nil {
		return err
	}
	if undo == nil {
		c.Flash(c.T("administrator.twice"))
		return c.Go("/people")
	}
	l, err := p.plan(c, rows)
	if err != nil || !l.OK() {
		undo()
		if err != nil {
			return err
		}
		return p.preview(c, rows, key)
	}
	list := make([]store.Newcomer, len(l.People))
	for i := range l.People {
		list[i] = store.Newcomer{Person: &l.People[i].Person, Login: l.People[i].Login}
	}
	if err := p.app.Store.AddPeople(c.Ctx(), c.Visitor.ID, list); err != nil {
		undo()
		return err
	}
	c.Flash(c.T("administrator.import.done", "Count", len(list)))
	return c.Go("/people?state=" + stateWaiting)
}
