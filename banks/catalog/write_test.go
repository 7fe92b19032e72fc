package catalog

import (
	"bytes"
	stdcmp "cmp"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
)

// names lists the files of a folder.
func names(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}

func TestWriteFolderWritesEveryTable(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new", "folder")
	if err := WriteFolder(dir, New(Meta{}, Tables{})); err != nil {
		t.Fatal(err)
	}
	want := []string{SettingsFile}
	for _, c := range Columns() {
		want = append(want, c.Table+".csv")
		b, err := os.ReadFile(filepath.Join(dir, c.Table+".csv"))
		if err != nil {
			t.Fatal(err)
		}
		if head := strings.Join(c.Columns, ",") + "\n"; string(b) != head {
			t.Errorf("%s.csv is %q, want %q", c.Table, b, head)
		}
	}
	slices.Sort(want)
	if d := cmp.Diff(want, names(t, dir)); d != "" {
		t.Error(d)
	}
}

func TestEqualCatalogsGiveEqualBytes(t *testing.T) {
	c := small()
	// The same records in another order.
	t2 := *c.Tables()
	t2.Publications = slices.Clone(t2.Publications)
	slices.Reverse(t2.Publications)
	a, err := encodeFolder(c)
	if err != nil {
		t.Fatal(err)
	}
	b, err := encodeFolder(New(c.Meta(), t2))
	if err != nil {
		t.Fatal(err)
	}
	for i := range a {
		if a[i].name != b[i].name || !bytes.Equal(a[i].data, b[i].data) {
			t.Errorf("%s differs: %s", a[i].name, cmp.Diff(string(a[i].data), string(b[i].data)))
		}
	}
	x, err := encodeWorkbook(c)
	if err != nil {
		t.Fatal(err)
	}
	y, err := encodeWorkbook(New(c.Meta(), t2))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(x, y) {
		t.Error("the workbooks differ")
	}
}

// What is typed into the workbook must stay what was typed: a spreadsheet
// program makes a date of 2016-03 in a cell that is not formatted as text.
func TestTheCellsOfAWorkbookAreText(t *testing.T) {
	b, err := encodeWorkbook(small())
	if err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var want []string
	for _, c := range Columns() {
		want = append(want, c.Table)
	}
	if d := cmp.Diff(want, f.GetSheetList()); d != "" {
		t.Error(d)
	}
	for _, sheet := range want {
		for _, cell := range []string{"A1", "A2", "A500"} {
			id, err := f.GetCellStyle(sheet, cell)
			if err != nil {
				t.Fatal(err)
			}
			if s, err := f.GetStyle(id); err != nil || s.NumFmt != 49 {
				t.Errorf("%s!%s has number format %d, %v; want 49, text", sheet, cell, s.NumFmt, err)
			}
		}
	}
}

func TestAWorkbookNamesTheCatalogAndNoOneElse(t *testing.T) {
	for _, c := range []*Catalog{small(), New(Meta{}, Tables{})} {
		b, err := encodeWorkbook(c)
		if err != nil {
			t.Fatal(err)
		}
		f, err := excelize.OpenReader(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		p, err := f.GetDocProps()
		if err != nil {
			t.Fatal(err)
		}
		if want := stdcmp.Or(c.Meta().Maker, "rightpage"); p.Title != c.Meta().Title || p.Creator != want || p.LastModifiedBy != "" {
			t.Errorf("title %q by %q, %q; want %q by %q", p.Title, p.Creator, p.LastModifiedBy, c.Meta().Title, want)
		}
	}
}

func TestAFileIsReplacedWholeOrNotAtAll(t *testing.T) {
	dir := t.TempDir()
	if err := WriteFolder(dir, small()); err != nil {
		t.Fatal(err)
	}
	before := names(t, dir)
	bad := New(Meta{}, Tables{Bulletins: []Bulletin{{ID: "x;", Subject: "=1"}}})
	if err := WriteFolder(dir, bad); err == nil {
		t.Fatal("a formula has been written")
	}
	c, report, err := Read(dir, Limits{})
	if err != nil || report.Err() != nil {
		t.Fatal(err, report.Err())
	}
	if d := cmp.Diff(small().Tables(), c.Tables(), sameTables); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff(before, names(t, dir)); d != "" {
		t.Errorf("files left behind: %s", d)
	}
}

func TestWriteSaysWhereItCannotWrite(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "file"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := WriteFolder(filepath.Join(dir, "file"), small()); err == nil {
		t.Error("a folder has been made of a file")
	}
	if err := WriteWorkbook(filepath.Join(dir, "missing", "book.xlsx"), small()); err == nil {
		t.Error("a workbook has been written into a folder that is not there")
	}
	if err := WriteWorkbook(filepath.Join(dir, "book.ods"), small()); err == nil || !strings.Contains(err.Error(), ".xlsx") {
		t.Errorf("error %v does not name the ending", err)
	}
}
