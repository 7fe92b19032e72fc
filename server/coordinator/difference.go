package coordinator

import (
	"bytes"
	"context"
	"strings"
	"time"

	"rightpage/banks/catalog"
	"rightpage/quiz"
	"rightpage/quiz/library"
	"rightpage/quiz/paper"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

// How much of a difference stands on a page; the files have all.
const (
	shownRecords = 100
	shownLookups = 100
	shownUnits   = 12
)

// patience is how long a page waits for a comparison before it says how far it
// is, and fileTime how long a file does.
const (
	patience = time.Second
	fileTime = 4 * time.Minute
)

// changes is what differs from one revision to another as pages show it.
type changes struct {
	*comparison                     // nil while it is being made
	Share                   float64 // of the comparison that is done
	Added, Changed, Removed int
	ByTable                 []tableCount
	Address                 string // of the whole difference
}

func (p *Pages) changes(c *web.Context, before string, after *library.Entry) (*changes, error) {
	from, err := p.library.Entry(c.Ctx(), before)
	if err != nil {
		return nil, err
	}
	j := p.comparisons.start(from, after)
	ctx, cancel := context.WithTimeout(c.Ctx(), patience)
	defer cancel()
	d := &changes{comparison: j.wait(ctx), Share: j.Share(), Address: "/catalogs/" + after.Info.ID + "/against/" + before}
	if d.comparison != nil {
		d.Added, d.Changed, d.Removed = d.counts()
		for _, r := range d.Records {
			if n := len(d.ByTable); n > 0 && d.ByTable[n-1].Table == r.Table {
				d.ByTable[n-1].Count++
			} else {
				d.ByTable = append(d.ByTable, tableCount{r.Table, 1})
			}
		}
	}
	return d, nil
}

// Busy tells that the comparison is not done yet.
func (d *changes) Busy() bool { return d.comparison == nil }

// ShownRecords are the records that stand on the page.
func (d *changes) ShownRecords() []catalog.Change {
	return d.Records[:min(len(d.Records), shownRecords)]
}

// ShownLookups are the lookups that stand on the page.
func (d *changes) ShownLookups() []alike { return d.Alike[:min(len(d.Alike), shownLookups)] }

// MoreRecords and MoreLookups are how many the page leaves to the files.
func (d *changes) MoreRecords() int { return len(d.Records) - len(d.ShownRecords()) }

// MoreLookups is how many lookups the page leaves to the file.
func (d *changes) MoreLookups() int { return len(d.Alike) - len(d.ShownLookups()) }

// ShownUnits are the first vehicles of a lookup.
func (a alike) ShownUnits() string {
	return strings.Join(a.Units[:min(len(a.Units), shownUnits)], ", ")
}

// MoreUnits is how many vehicles are left out.
func (a alike) MoreUnits() int { return max(0, len(a.Units)-shownUnits) }

// differencePage is the page of all that differs between two revisions.
type differencePage struct {
	From, To store.CatalogInfo
	Changes  *changes
	title    string
}

// PageTitle names the page.
func (p differencePage) PageTitle() string { return p.title }

// pair gives the two revisions that an address names, of one title.
func (p *Pages) pair(c *web.Context) (before, after *library.Entry, err error) {
	if after, err = p.library.Entry(c.Ctx(), c.Param("catalog")); err != nil {
		return nil, nil, err
	}
	if before, err = p.library.Entry(c.Ctx(), c.Param("other")); err != nil {
		return nil, nil, err
	}
	if before.Info.Title != after.Info.Title {
		return nil, nil, &quiz.Error{Code: quiz.Invalid, Text: "these are two catalogs, not two revisions of one", Mend: "compare revisions with the same title"}
	}
	return before, after, nil
}

func (p *Pages) difference(c *web.Context) error {
	before, after, err := p.pair(c)
	if err != nil {
		return err
	}
	d, err := p.changes(c, before.Info.ID, after)
	if err != nil {
		return err
	}
	return c.Page(p.set, "coordinator-difference", differencePage{before.Info, after.Info, d,
		c.T("coordinator.difference.of", "Title", after.Info.Title, "Before", before.Info.Revision, "After", after.Info.Revision)})
}

// compared waits for the comparison that an address names.
func (p *Pages) compared(c *web.Context) (before, after *library.Entry, r *comparison, err error) {
	if before, after, err = p.pair(c); err != nil {
		return nil, nil, nil, err
	}
	ctx, cancel := context.WithTimeout(c.Ctx(), fileTime)
	defer cancel()
	if r = p.comparisons.start(before, after).wait(ctx); r == nil {
		return nil, nil, nil, &quiz.Error{Code: quiz.Unavailable, Text: "the revisions are still being compared", Mend: "try again in a minute"}
	}
	return before, after, r, nil
}

func (p *Pages) recordsTable(c *web.Context) error {
	_, _, r, err := p.compared(c)
	if err != nil {
		return err
	}
	t := &web.Table{Name: "changed-records", Columns: []string{c.T("coordinator.difference.change"), c.T("coordinator.difference.table"), c.T("coordinator.difference.record"),
		c.T("coordinator.report.column"), c.T("coordinator.difference.before"), c.T("coordinator.difference.after")}}
	for _, x := range r.Records {
		if len(x.Columns) == 0 {
			t.Rows = append(t.Rows, []any{x.Kind, x.Table, x.Key, nil, nil, nil})
		}
		for _, k := range x.Columns {
			t.Rows = append(t.Rows, []any{x.Kind, x.Table, x.Key, k.Column, k.Old, k.New})
		}
	}
	return c.Table(t)
}

func (p *Pages) lookupsTable(c *web.Context) error {
	_, _, r, err := p.compared(c)
	if err != nil {
		return err
	}
	t := &web.Table{Name: "changed-lookups", Columns: []string{c.T("coordinator.difference.unit"), c.T("coordinator.difference.from"), c.T("coordinator.difference.through"),
		c.T("coordinator.difference.serial"), c.T("coordinator.difference.task"), c.T("coordinator.difference.lookup"), c.T("coordinator.difference.group"),
		c.T("coordinator.difference.before"), c.T("coordinator.difference.after")}}
	for _, x := range r.Lookups.Changes {
		var serial any
		if x.Serial > 0 {
			serial = x.Serial
		}
		t.Rows = append(t.Rows, []any{x.Unit, x.From.String(), x.Until.String(), serial, x.Task, x.Text, x.Group, x.Before, x.After})
	}
	return c.Table(t)
}

// notice prints the noticeboard page about a revision.
func (p *Pages) notice(c *web.Context) error {
	before, after, r, err := p.compared(c)
	if err != nil {
		return err
	}
	s, err := p.store.Settings(c.Ctx())
	if err != nil {
		return err
	}
	since := after.Info.Since
	if since.IsZero() {
		return &quiz.Error{Code: quiz.Closed, Text: "revision " + after.Info.Revision + " was never in force, so that there is nothing to announce", Mend: "put it in force first"}
	}
	n := paper.Notice{Size: paper.PageSize(s.Paper), Organisation: s.Organisation, CatalogTitle: after.Info.Title, Was: before.Info.Revision, Now: after.Info.Revision,
		InForce: since.In(c.Zone), LookupsChanged: r.Lookups.Differ, Lookups: r.Lookups.Compared, Changes: noticeChanges(before.Catalog, after.Catalog, r.Records)}
	if after.Info.InForce {
		if n.CertificatesOutdated, err = p.outdated(c.Ctx(), after.Info.Title); err != nil {
			return err
		}
	}
	if s.BaseURL != "" {
		n.URL = strings.TrimSuffix(s.BaseURL, "/") + "/due"
	}
	var b bytes.Buffer
	if err := paper.WriteNotice(&b, n); err != nil {
		return err
	}
	return c.File(web.FileName("notice", after.Info.Title, after.Info.Revision)+".pdf", "application/pdf", b.Bytes())
}
