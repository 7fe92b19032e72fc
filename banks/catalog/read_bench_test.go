package catalog_test

import (
	"os"
	"path/filepath"
	"testing"

	"rightpage/banks/catalog"
	"rightpage/banks/catalog/invent"
)

// BenchmarkRead reads a catalog of 100,000 procedures from either form. The
// bytes are those of the file or files as they lie on disk.
func BenchmarkRead(b *testing.B) {
	c := invent.Catalog(100_000)
	dir := b.TempDir()
	text, book := filepath.Join(dir, "folder"), filepath.Join(dir, "book.xlsx")
	if err := catalog.WriteFolder(text, c); err != nil {
		b.Fatal(err)
	}
	if err := catalog.WriteWorkbook(book, c); err != nil {
		b.Fatal(err)
	}
	for _, path := range []string{text, book} {
		b.Run(filepath.Base(path), func(b *testing.B) {
			b.SetBytes(size(b, path))
			b.ReportAllocs()
			for b.Loop() {
				got, report, err := catalog.Read(path, catalog.Limits{})
				if err != nil || report.Err() != nil {
					b.Fatal(err, report.Err())
				}
				if len(got.Tables().Procedures) != len(c.Tables().Procedures) {
					b.Fatalf("%d procedures", len(got.Tables().Procedures))
				}
			}
		})
	}
	b.Run("diff", func(b *testing.B) {
		for b.Loop() {
			if d := catalog.Diff(c, c); len(d) != 0 {
				b.Fatal(d)
			}
		}
	})
}

func size(b *testing.B, path string) int64 {
	b.Helper()
	var n int64
	err := filepath.Walk(path, func(_ string, f os.FileInfo, err error) error {
		if err == nil && f.Mode().IsRegular() {
			n += f.Size()
		}
		return err
	})
	if err != nil {
		b.Fatal(err)
	}
	return n
}
