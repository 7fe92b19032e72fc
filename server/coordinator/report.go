package coordinator

import (
	"bytes"
	"compress/gzip"
	"encoding/base64"
	"encoding/json"
	"errors"
	"io"

	"rightpage/banks/catalog"
	"rightpage/quiz"
	"rightpage/server/web"
)

// shownFindings is how many findings stand on a page; the file has all.
const shownFindings = 300

// finding is a finding of the check of a catalog.
type finding struct {
	Severity string `json:"s"`
	Code     string `json:"k,omitempty"` // kind of finding
	File     string `json:"f,omitempty"`
	Row      int    `json:"r,omitempty"`
	Column   string `json:"c,omitempty"`
	What     string `json:"w"`
	Mend     string `json:"m,omitempty"`
	Lookups  int    `json:"l,omitempty"`
}

// reportView is the check report of a catalog as a page shows it.
type reportView struct {
	Findings                     []finding // of the severity chosen, as many as are shown
	All, Errors, Warnings, Notes int
	Chosen                       int    // of the severity chosen
	Severity                     string // chosen; empty: all
	Address                      string // where it can be asked for again; empty for a refused catalog
	Packed                       string // the report of a refused catalog, to be sent again
	Refused                      bool
	Title, Revision, File        string
	chosen                       []finding
}

// severities lists what can be chosen, all of them first.
func severities() []string {
	return []string{"", catalog.Error.String(), catalog.Warning.String(), catalog.Note.String()}
}

func findingsOf(r catalog.Report) []finding {
	list := make([]finding, len(r))
	for i, f := range r {
		list[i] = finding{f.Severity.String(), f.Code, f.File, f.Row, f.Column, f.What, f.Mend, f.Lookups}
	}
	return list
}

func viewReport(list []finding, severity string) reportView {
	v := reportView{All: len(list), Severity: severity}
	for _, f := range list {
		switch f.Severity {
		case catalog.Error.String():
			v.Errors++
		case catalog.Warning.String():
			v.Warnings++
		default:
			v.Notes++
		}
		if severity == "" || f.Severity == severity {
			v.chosen = append(v.chosen, f)
		}
	}
	v.Chosen = len(v.chosen)
	v.Findings = v.chosen[:min(len(v.chosen), shownFindings)]
	return v
}

// Hidden is how many findings the page leaves to the file.
func (v reportView) Hidden() int { return v.Chosen - len(v.Findings) }

// table is the report as a file.
func (v reportView) table(c *web.Context) *web.Table {
	t := &web.Table{Name: "catalog-check", Columns: []string{c.T("coordinator.report.severity"), c.T("coordinator.report.kind"), c.T("coordinator.report.file"), c.T("coordinator.report.row"),
		c.T("coordinator.report.column"), c.T("coordinator.report.what"), c.T("coordinator.report.mend"), c.T("coordinator.report.lookups")}}
	for _, f := range v.chosen {
		var row any
		if f.Row > 0 {
			row = f.Row
		}
		t.Rows = append(t.Rows, []any{c.Words.Or("severity."+f.Severity, f.Severity), c.Words.Or("finding."+f.Code, f.Code), f.File, row, f.Column, f.What, f.Mend, f.Lookups})
	}
	return t
}

// refusal is what a page about a refused catalog keeps of it: nothing is stored
// of a catalog that cannot be used.
type refusal struct {
	File     string    `json:"file"`
	Title    string    `json:"title,omitempty"`
	Revision string    `json:"revision,omitempty"`
	Findings []finding `json:"findings"`
}

// maxRefusal bounds a refusal once unpacked.
const maxRefusal = 16 << 20

func (r *refusal) pack() (string, error) {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	err := errors.Join(json.NewEncoder(z).Encode(r), z.Close())
	return base64.StdEncoding.EncodeToString(b.Bytes()), err
}

func unpackRefusal(s string) (*refusal, error) {
	var r refusal
	z, err := gzip.NewReader(base64.NewDecoder(base64.StdEncoding, bytes.NewReader([]byte(s))))
	if err == nil {
		err = json.NewDecoder(io.LimitReader(z, maxRefusal)).Decode(&r)
	}
	if err != nil {
		return nil, &quiz.Error{Code: quiz.Invalid, Text: "the report did not come back whole", Err: err, Mend: "upload the catalog again"}
	}
	return &r, nil
}

func (p *Pages) showRefusal(c *web.Context, r *refusal, status int, severity string) error {
	v := viewReport(r.Findings, severity)
	v.Refused, v.File, v.Title, v.Revision = true, r.File, r.Title, r.Revision
	var err error
	if v.Packed, err = r.pack(); err != nil {
		return err
	}
	return c.PageStatus(p.set, status, "coordinator-refused", v)
}

// refusedReport shows the report of a refused catalog by severity, or gives it
// as a file.
func (p *Pages) refusedReport(c *web.Context) error {
	r, err := unpackRefusal(c.FormValue("report"))
	if err != nil {
		return err
	}
	severity := c.Form().One("severity", severities()...)
	if as := c.FormValue("as"); as != "" {
		c.Request().URL.RawQuery = "as=" + as // where a table looks for the kind of file
		return c.Table(viewReport(r.Findings, severity).table(c))
	}
	return p.showRefusal(c, r, 200, severity)
}
