package library

import (
	"os"
	"path/filepath"
	"testing"

	"rightpage/banks/catalog"
)

func TestACatalogOnThisMachine(t *testing.T) {
	folder, err := ReadPath("../../testdata/quillan")
	if err != nil || folder.Catalog == nil || folder.Info.Title == "" {
		t.Fatalf("%+v, %v", folder.Info, err)
	}
	book := filepath.Join(t.TempDir(), "quillan.xlsx")
	if err := catalog.WriteWorkbook(book, folder.Catalog); err != nil {
		t.Fatal(err)
	}
	again, err := ReadPath(book)
	if err != nil || again.Catalog == nil {
		t.Fatalf("the workbook: %v, %v", again.Report, err)
	}
	if changes := catalog.Diff(folder.Catalog, again.Catalog); len(changes) > 0 {
		t.Errorf("the workbook differs: %v", changes)
	}
	if _, err := ReadPath(filepath.Join(t.TempDir(), "none")); !os.IsNotExist(err) {
		t.Errorf("no folder: %v", err)
	}
	if broken, err := ReadPath("../../testdata/broken"); err != nil || broken.Catalog != nil || len(broken.Report) == 0 {
		t.Errorf("a broken catalog: %v, %v", broken.Catalog, err)
	}
}
