package administrator

import (
	"context"
	"encoding/json"
	"errors"
	"iter"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"rightpage/quiz"
	"rightpage/server/web"
)

const (
	entriesPerPage = 50
	entriesAtOnce  = 500
	entriesLooked  = 20_000  // at most for a page; the next goes on from there
	entriesTable   = 100_000 // at most in a table
)

// auditEntry is an entry of the log with names in it.
type auditEntry struct {
	quiz.Entry
	Who, What string // names of people, where the log has IDs
	WhatPath  string
}

// auditFilter says which entries a page shows.
type auditFilter struct{ Action, Person string }

func (f auditFilter) lets(e quiz.Entry) bool {
	if f.Action != "" && e.Action != f.Action && !strings.HasPrefix(e.Action, f.Action+".") {
		return false
	}
	return f.Person == "" || e.Actor == f.Person || e.Subject == "person/"+f.Person
}

// actionGroups are the first words of actions, to filter by.
func actionGroups() []string {
	return []string{"account", "assignment", "attempt", "audit", "backup", "catalog", "certificate", "code", "dispute", "form", "keys", "people", "person",
		"requirement", "retention", "scan", "session", "settings", "site", "token"}
}

type auditPage struct {
	Filter  auditFilter
	Entries []auditEntry
	Groups  []string
	People  []quiz.Person
	Next    string // address of earlier entries; "" if there are none
	Partly  bool   // not all was looked through
	CSV     string // addresses of the log as a file
	XLSX    string
}

func readAuditFilter(c *web.Context) auditFilter {
	return auditFilter{c.QueryParam("action"), c.QueryParam("person")}
}

// address is that of a page with the filter and one thing more in its query.
func (f auditFilter) address(path, name, value string) string {
	v := url.Values{name: {value}}
	if f.Action != "" {
		v.Set("action", f.Action)
	}
	if f.Person != "" {
		v.Set("person", f.Person)
	}
	return path + "?" + v.Encode()
}

// log gives the entries before a sequence number, the latest first; 0 is the end.
func (p *Pages) log(ctx context.Context, before int64) iter.Seq2[quiz.Entry, error] {
	return func(yield func(quiz.Entry, error) bool) {
		for {
			list, err := p.app.Store.AuditLog(ctx, before, entriesAtOnce)
			if err != nil {
				yield(quiz.Entry{}, err)
				return
			}
			for _, e := range list {
				if !yield(e, nil) {
					return
				}
				before = e.Seq
			}
			if len(list) < entriesAtOnce {
				return
			}
		}
	}
}

func (p *Pages) audit(c *web.Context) error {
	page, err := p.auditPage(c)
	if err != nil {
		return err
	}
	return c.Page(p.set, "administrator-audit", page)
}

func (p *Pages) auditPage(c *web.Context) (auditPage, error) {
	f := readAuditFilter(c)
	before, err := strconv.ParseInt(c.QueryParam("before"), 10, 64)
	if err != nil || before < 0 {
		before = 0
	}
	page := auditPage{Filter: f, Groups: actionGroups(), CSV: f.address("/audit/export", "as", "csv"), XLSX: f.address("/audit/export", "as", "xlsx")}
	if page.People, err = p.app.Store.People(c.Ctx()); err != nil {
		return page, err
	}
	names, err := p.names(c, page.People)
	if err != nil {
		return page, err
	}
	looked := 0
	for e, err := range p.log(c.Ctx(), before) {
		if err != nil {
			return page, err
		}
		if page.Partly = looked == entriesLooked; page.Partly || len(page.Entries) == entriesPerPage {
			page.Next = f.address("/audit", "before", strconv.FormatInt(before, 10))
			break
		}
		looked, before = looked+1, e.Seq
		if f.lets(e) {
			page.Entries = append(page.Entries, named(e, names))
		}
	}
	return page, nil
}

// names gives the names of people and sites by how the log refers to them.
func (p *Pages) names(c *web.Context, people []quiz.Person) (map[string]string, error) {
	names := map[string]string{}
	for _, x := range people {
		names["person/"+x.ID] = x.Name
	}
	sites, err := p.app.Store.Sites(c.Ctx())
	for _, s := range sites {
		names["site/"+s.ID] = s.Name
	}
	return names, err
}

// named puts names to the IDs of an entry. The log itself has none.
func named(e quiz.Entry, names map[string]string) auditEntry {
	x := auditEntry{Entry: e, Who: e.Actor, What: e.Subject}
	if name := names["person/"+e.Actor]; name != "" {
		x.Who = name
	}
	if name := names[e.Subject]; name != "" {
		x.What = name
		if of, id, _ := strings.Cut(e.Subject, "/"); of == "person" {
			x.WhatPath = "/people/" + id
		} else {
			x.WhatPath = "/sites/" + id
		}
	}
	return x
}

// verdict is what came of checking the log.
type verdict struct {
	Head    quiz.Head
	Broken  *quiz.BrokenChain // nil: unbroken
	Asked   bool              // a head that was written down is compared
	Matches bool
	Seq     string
	Hash    string
	At      time.Time
	Faults  map[string]string
}

// verifyAudit checks the chain of the log, and compares it with a head that
// somebody wrote down before: a log that was cut short or written anew is
// unbroken in itself.
func (p *Pages) verifyAudit(c *web.Context) error {
	f := c.Form()
	v := verdict{Seq: f.Text("seq", false, 20), Hash: strings.ToLower(strings.Join(strings.Fields(f.Raw("hash")), "")), At: c.Now()}
	seq, err := strconv.ParseInt(v.Seq, 10, 64)
	if v.Asked = v.Seq != "" || v.Hash != ""; v.Asked && (err != nil || seq < 1 || len(v.Hash) != 64) {
		f.Fault("seq", "administrator.verify.wrong")
		v.Faults = f.Faults
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "administrator-verify", v)
	}
	head, err := p.app.Store.VerifyAudit(c.Ctx())
	if !errors.As(err, &v.Broken) && err != nil {
		return err
	}
	v.Head = head
	if v.Asked {
		list, err := p.app.Store.AuditLog(c.Ctx(), seq+1, 1)
		if err != nil {
			return err
		}
		v.Matches = len(list) == 1 && list[0].Seq == seq && list[0].Hash == v.Hash
	}
	return c.Page(p.set, "administrator-verify", v)
}

// line is an entry in the export of the whole log, so that its chain can be
// checked elsewhere: see quiz.Entry and quiz.VerifyChain.
type line struct {
	Seq     int64  `json:"seq"`
	At      string `json:"at"` // RFC 3339, in UTC, to the microsecond
	Actor   string `json:"actor"`
	Action  string `json:"action"`
	Subject string `json:"subject"`
	Detail  string `json:"detail"`
	Prev    string `json:"prev"`
	Hash    string `json:"hash"`
}

// exportAudit answers with the log: as a table of what the filter leaves, or whole
// as JSON Lines, the latest first.
func (p *Pages) exportAudit(c *web.Context) error {
	ctx, f := c.Ctx(), readAuditFilter(c)
	people, err := p.app.Store.People(ctx)
	if err != nil {
		return err
	}
	if err := p.app.Store.RecordAudit(ctx, c.Visitor.ID, "audit.export", "audit", nil); err != nil {
		return err
	}
	if c.QueryParam("as") == "jsonl" {
		return p.streamAudit(c)
	}
	names, err := p.names(c, people)
	if err != nil {
		return err
	}
	t := &web.Table{Name: "audit", Columns: []string{c.T("administrator.audit.number"), c.T("administrator.audit.when"), c.T("administrator.audit.who"),
		c.T("administrator.audit.action"), c.T("administrator.audit.subject"), c.T("administrator.audit.detail"), "SHA-256"}}
	for e, err := range p.log(ctx, 0) {
		if err != nil {
			return err
		}
		if !f.lets(e) {
			continue
		}
		if len(t.Rows) == entriesTable {
			t.Rows = append(t.Rows, []any{c.T("administrator.audit.more")})
			break
		}
		x := named(e, names)
		t.Rows = append(t.Rows, []any{strconv.FormatInt(e.Seq, 10), e.At, x.Who, e.Action, x.What, e.Detail, e.Hash})
	}
	return c.Table(t)
}

func (p *Pages) streamAudit(c *web.Context) error {
	h := c.Response().Header()
	h.Set(echo.HeaderContentType, "application/jsonl; charset=utf-8")
	h.Set(echo.HeaderContentDisposition, `attachment; filename="audit.jsonl"`)
	h.Set(echo.HeaderCacheControl, "no-store")
	w := json.NewEncoder(c.Response())
	w.SetEscapeHTML(false)
	for e, err := range p.log(c.Ctx(), 0) {
		if err == nil {
			err = w.Encode(line{e.Seq, e.At.UTC().Format("2006-01-02T15:04:05.000000Z"), e.Actor, e.Action, e.Subject, e.Detail, e.Prev, e.Hash})
		}
		if err != nil {
			return broken(c, err)
		}
	}
	return nil
}

// broken ends an answer that has begun so that the browser sees that it is not
// whole.
func broken(c *web.Context, err error) error {
	if !c.Response().Committed {
		return err
	}
	c.App.Log.ErrorContext(c.Ctx(), "answer broken off", "route", c.Path(), "error", err)
	panic(http.ErrAbortHandler)
}
