package coordinator

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"rightpage/banks/catalog"
	"rightpage/quiz"
	"rightpage/quiz/library"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

// maxSettings bounds the file catalog.yaml.
const maxSettings = 1 << 20

// catalogList is the page of all catalogs.
type catalogList struct {
	Rows   []catalogRow
	Faults map[string]string
	MostMB int
}

type catalogRow struct {
	store.CatalogInfo
	Who string // who added it
}

func (p *Pages) catalogs(c *web.Context) error {
	return p.listCatalogs(c, http.StatusOK, nil)
}

func (p *Pages) listCatalogs(c *web.Context, status int, faults map[string]string) error {
	all, err := p.store.Catalogs(c.Ctx())
	if err != nil {
		return err
	}
	names, err := p.names(c.Ctx())
	if err != nil {
		return err
	}
	page := catalogList{Faults: faults, MostMB: library.MaxUpload >> 20}
	for _, x := range all {
		page.Rows = append(page.Rows, catalogRow{x, names[x.By]})
	}
	if c.QueryParam("as") != "" {
		return c.Table(page.table(c))
	}
	return c.PageStatus(p.set, status, "coordinator-catalogs", page)
}

// table is the list as a file.
func (l catalogList) table(c *web.Context) *web.Table {
	t := &web.Table{Name: "catalogs", Columns: []string{c.T("coordinator.catalogs.catalog"), c.T("coordinator.catalogs.maker"), c.T("coordinator.catalogs.revision"),
		c.T("coordinator.catalogs.issued"), c.T("coordinator.catalogs.added"), c.T("coordinator.catalogs.inforce")}}
	for _, r := range l.Rows {
		var since any
		if r.InForce {
			since = r.Since
		}
		t.Rows = append(t.Rows, []any{r.Title, r.Maker, r.Revision, r.Issued, r.Added, since})
	}
	return t
}

// uploadCatalog takes a catalog in, or says everything that keeps it from use.
func (p *Pages) uploadCatalog(c *web.Context) error {
	f := c.Form()
	var big *http.MaxBytesError
	file, err := f.File("file", true, library.MaxUpload)
	if errors.As(err, &big) {
		f.Fault("file", "coordinator.upload.large", "Most", library.MaxUpload>>20)
	} else if err != nil {
		return err
	}
	settings, err := f.File("settings", false, maxSettings)
	if errors.As(err, &big) {
		f.Fault("settings", "coordinator.upload.large", "Most", maxSettings>>20)
	} else if err != nil {
		return err
	}
	var up library.Upload
	if f.OK() {
		if len(settings.Data) > 0 && strings.HasSuffix(strings.ToLower(file.Name), ".xlsx") {
			up, err = library.ReadWorkbook(file.Name, file.Data, settings.Data)
		} else {
			up, err = library.ReadUpload(file.Name, file.Data)
		}
		if quiz.ErrorCode(err) == quiz.Invalid {
			f.Fault("file", "coordinator.upload.unreadable", "Why", err.Error())
		} else if err != nil {
			return err
		}
	}
	if !f.OK() {
		return p.listCatalogs(c, http.StatusUnprocessableEntity, f.Faults)
	}
	if up.Catalog == nil {
		return p.showRefusal(c, &refusal{file.Name, up.Info.Title, up.Info.Revision, findingsOf(up.Report)}, http.StatusUnprocessableEntity, "")
	}
	if err := p.store.AddCatalog(c.Ctx(), c.Visitor.ID, &up.Info, up.Content); err != nil {
		return err
	}
	if up.Info.Added.Before(c.Now().Add(-time.Minute)) {
		c.Flash(c.T("coordinator.upload.known", "Title", up.Info.Title, "Revision", up.Info.Revision))
	} else {
		c.Flash(c.T("coordinator.upload.done", "Title", up.Info.Title, "Revision", up.Info.Revision))
	}
	return c.Go("/catalogs/" + up.Info.ID)
}

// catalogPage is the page of one catalog.
type catalogPage struct {
	Info    store.CatalogInfo
	Who     string
	Records []tableCount // how many records each table has
	Report  reportView
	Against *store.CatalogInfo // what it is compared with: the revision in force, or the one before
	InForce *store.CatalogInfo // in force of the title, if another
	Changes *changes
	Effect  *effect
	Trouble string              // why the effect cannot be told
	Others  []store.CatalogInfo // of the same title
	Earlier []earlier           // assignments whose form is of another revision
	title   string
}

// PageTitle names the page.
func (p catalogPage) PageTitle() string { return p.title }

type tableCount struct {
	Table string
	Count int
}

// earlier is an assignment whose form was made of another revision.
type earlier struct {
	ID, Title, Revision string
}

func (p *Pages) catalog(c *web.Context) error {
	ctx := c.Ctx()
	e, err := p.library.Entry(ctx, c.Param("catalog"))
	if err != nil {
		return err
	}
	names, err := p.names(ctx)
	if err != nil {
		return err
	}
	page := catalogPage{Info: e.Info, Who: names[e.Info.By], Records: countRecords(e.Catalog), Report: viewReport(findingsOf(e.Report), ""),
		title: e.Info.Title + " " + e.Info.Revision}
	page.Report.Address = "/catalogs/" + e.Info.ID + "/report"
	page.Report.Findings = page.Report.Findings[:min(10, len(page.Report.Findings))]
	all, err := p.store.Catalogs(ctx)
	if err != nil {
		return err
	}
	page.Others, page.InForce, page.Against = relatives(all, e.Info)
	if page.Against != nil {
		if page.Changes, err = p.changes(c, page.Against.ID, e); err != nil {
			return err
		}
	}
	if !e.Info.InForce {
		page.Effect, err = p.effect(ctx, e)
		var q *quiz.Error
		switch {
		case errors.As(err, &q) && q.Code != quiz.Internal:
			page.Trouble = q.Error()
		case err != nil:
			return err
		}
	} else if page.Earlier, err = p.earlier(ctx, e.Info); err != nil {
		return err
	}
	return c.Page(p.set, "coordinator-catalog", page)
}

// relatives finds the other revisions of a catalog's title, the one in force, if
// it is another, and the one to compare with: that in force or, for the one in
// force, the one that was before it.
func relatives(all []store.CatalogInfo, of store.CatalogInfo) (others []store.CatalogInfo, inForce, against *store.CatalogInfo) {
	for _, x := range all {
		if x.Title == of.Title && x.ID != of.ID {
			others = append(others, x)
		}
	}
	for i := range others {
		x := &others[i]
		if x.InForce {
			inForce = x
		}
		// What was in force before is what came into force last of the others.
		if !x.Since.IsZero() && (against == nil || x.Since.After(against.Since)) {
			against = x
		}
	}
	if inForce != nil {
		against = inForce
	}
	return others, inForce, against
}

func countRecords(k *catalog.Catalog) []tableCount {
	t := k.Tables()
	return []tableCount{{"models", len(t.Models)}, {"groups", len(t.Groups)}, {"components", len(t.Components)}, {"publications", len(t.Publications)},
		{"procedures", len(t.Procedures)}, {"schedule", len(t.Schedule)}, {"operations", len(t.Operations)}, {"specifications", len(t.Specifications)},
		{"guide", len(t.Guide)}, {"tests", len(t.Tests)}, {"troublecodes", len(t.TroubleCodes)}, {"bulletins", len(t.Bulletins)}, {"schemes", len(t.Schemes)}}
}

// earlier lists the assignments whose form was made of another revision than
// the one in force: their keys may have to be brought up to date.
func (p *Pages) earlier(ctx context.Context, in store.CatalogInfo) ([]earlier, error) {
	forms, err := p.store.Forms(ctx)
	if err != nil {
		return nil, err
	}
	other := map[string]string{}
	for _, f := range forms {
		if f.Catalog == in.Title && f.Revision != in.Revision {
			other[f.ID] = f.Revision
		}
	}
	assignments, err := p.store.Assignments(ctx)
	if err != nil {
		return nil, err
	}
	var out []earlier
	for _, a := range assignments {
		if rev, ok := other[a.Form]; ok {
			out = append(out, earlier{a.ID, a.Title, rev})
		}
	}
	return out, nil
}

// report is the check report of a catalog that is kept.
func (p *Pages) report(c *web.Context) error {
	e, err := p.library.Entry(c.Ctx(), c.Param("catalog"))
	if err != nil {
		return err
	}
	severity := c.QueryParam("severity")
	if !slices.Contains(severities(), severity) {
		severity = ""
	}
	v := viewReport(findingsOf(e.Report), severity)
	if c.QueryParam("as") != "" {
		return c.Table(v.table(c))
	}
	v.Address, v.Title, v.Revision = "/catalogs/"+e.Info.ID+"/report", e.Info.Title, e.Info.Revision
	return c.Page(p.set, "coordinator-report", struct {
		reportView
		Catalog string
	}{v, e.Info.ID})
}

// catalogFile gives the catalog as it is kept.
func (p *Pages) catalogFile(c *web.Context) error {
	e, err := p.library.Entry(c.Ctx(), c.Param("catalog"))
	if err != nil {
		return err
	}
	data, err := p.store.CatalogContent(c.Ctx(), e.Info.ID)
	if err != nil {
		return err
	}
	return c.File(web.FileName(e.Info.Title, e.Info.Revision)+".zip", "application/zip", data)
}

// putInForce puts a revision in force and sees to what follows: certified
// lookups are answered again, and people are told whose certificate is outdated.
func (p *Pages) putInForce(c *web.Context) error {
	ctx, id := c.Ctx(), c.Param("catalog")
	e, err := p.library.Entry(ctx, id)
	if err != nil {
		return err
	}
	if !e.Info.InForce { // a second click finds it in force
		all, err := p.store.Catalogs(ctx)
		if err != nil {
			return err
		}
		_, inForce, _ := relatives(all, e.Info)
		seen := ""
		if inForce != nil {
			seen = inForce.ID
		}
		if seen != c.FormValue("instead") {
			return &quiz.Error{Code: quiz.Conflict, Text: "another revision of " + e.Info.Title + " was put in force in the meantime",
				Mend: "look at the difference to that one, then decide again"}
		}
		if err := p.store.PutInForce(ctx, c.Visitor.ID, id); err != nil {
			return err
		}
	}
	touched, err := p.issuer.Refresh(ctx, c.Visitor.ID)
	if err != nil {
		return &quiz.Error{Code: quiz.Unavailable, Text: fmt.Sprintf("revision %s is in force, but not all certificates could be looked through", e.Info.Revision), Err: err,
			Mend: "put it in force once more to go on"}
	}
	c.Flash(c.T("coordinator.force.done", "Title", e.Info.Title, "Revision", e.Info.Revision, "Count", len(touched)))
	return c.Go("/catalogs/" + id)
}
