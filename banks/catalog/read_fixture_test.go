package catalog

import (
	"archive/zip"
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

const settingsText = "title: Literature\nrevision: 1\n"

// folder makes a folder of files, with settings unless it brings its own.
func folder(t testing.TB, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	if _, ok := files[SettingsFile]; !ok {
		write(t, filepath.Join(dir, SettingsFile), settingsText)
	}
	for name, s := range files {
		write(t, filepath.Join(dir, name), s)
	}
	return dir
}

func write(t testing.TB, path, s string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(s), 0o600); err != nil {
		t.Fatal(err)
	}
}

// readReport reads a catalog and gives its findings, one a line.
func readReport(t testing.TB, path string, lim Limits) (*Catalog, Report) {
	t.Helper()
	c, report, err := Read(path, lim)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range report {
		if f.What == "" || f.Mend == "" || f.Code == "" || f.File == "" {
			t.Errorf("a finding does not say what, where and how to mend it: %+v", f)
		}
	}
	return c, report
}

// lines gives the findings as severity, code and text.
func lines(r Report) []string {
	var out []string
	for i, f := range r {
		if i == 40 {
			return append(out, fmt.Sprintf("and %d more", len(r)-i))
		}
		out = append(out, fmt.Sprintf("%v %s: %v", f.Severity, f.Code, f))
	}
	return out
}

// wantFinding looks for one finding by severity, code, place and part of its text.
func wantFinding(t testing.TB, r Report, s Severity, code, file string, row int, column, text string) {
	t.Helper()
	for _, f := range r {
		if f.Severity == s && f.Code == code && f.File == file && f.Row == row && f.Column == column && strings.Contains(f.What+"; "+f.Mend, text) {
			return
		}
	}
	t.Errorf("no finding %v %s at %s row %d column %q with %q among:\n%s", s, code, file, row, column, text, strings.Join(lines(r), "\n"))
}

// mainNS is the name space of sheets, shared strings and styles.
const mainNS = `xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"`

// sheetXML is a workbook of one sheet whose XML is given. Parts of the same
// name in extra take the place of the usual ones.
func sheetXML(t testing.TB, sheet, xml string, extra map[string]string) []byte {
	t.Helper()
	const office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
	parts := map[string]string{
		"[Content_Types].xml":        `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>`,
		"_rels/.rels":                `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="` + office + `/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
		"xl/workbook.xml":            `<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="` + office + `"><sheets><sheet name="` + sheet + `" sheetId="1" r:id="rId1"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="` + office + `/worksheet" Target="worksheets/sheet1.xml"/></Relationships>`,
		"xl/worksheets/sheet1.xml":   `<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>` + xml + `</sheetData></worksheet>`,
	}
	for k, v := range extra {
		parts[k] = v
	}
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, name := range []string{"[Content_Types].xml", "_rels/.rels", "xl/workbook.xml", "xl/_rels/workbook.xml.rels", "xl/worksheets/sheet1.xml"} {
		put(t, w, name, parts[name])
		delete(parts, name)
	}
	for name, s := range parts {
		put(t, w, name, s)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func put(t testing.TB, w *zip.Writer, name, s string) {
	t.Helper()
	if s == "" {
		return
	}
	h := &zip.FileHeader{Name: name, Method: zip.Deflate}
	if mid := s[len(s)/2]; len(s) > 1<<20 && strings.Count(s, string(mid)) < len(s)/2 {
		h.Method = zip.Store // noise, which would only take time to compress
	}
	f, err := w.CreateHeader(h)
	if err == nil {
		_, err = f.Write([]byte(s))
	}
	if err != nil {
		t.Fatal(err)
	}
}

// row writes a row of inline texts.
func row(n int, texts ...string) string {
	var b strings.Builder
	fmt.Fprintf(&b, `<row r="%d">`, n)
	for i, s := range texts {
		name, _ := excelize.CoordinatesToCellName(i+1, n)
		fmt.Fprintf(&b, `<c r="%s" t="inlineStr"><is><t>%s</t></is></c>`, name, s)
	}
	b.WriteString("</row>")
	return b.String()
}

// workbookPath puts a workbook into a folder of its own, with settings.
func workbookPath(t testing.TB, b []byte) string {
	t.Helper()
	dir := t.TempDir()
	write(t, filepath.Join(dir, "book.yaml"), settingsText)
	path := filepath.Join(dir, "book.xlsx")
	write(t, path, string(b))
	return path
}

// allocated tells how many bytes f allocates in all, which is at least what it
// holds at any time.
func allocated(f func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	f()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}
