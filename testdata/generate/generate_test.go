package main

import (
	"os"
	"path/filepath"
	"testing"

	"rightpage/banks/catalog"
)

// What is committed is what the generator makes.
func TestCommittedCatalogsAreWhatIsGenerated(t *testing.T) {
	out := t.TempDir()
	if err := run(out); err != nil {
		t.Fatal(err)
	}
	made := files(t, out)
	if len(made) == 0 {
		t.Fatal("the generator wrote nothing")
	}
	for name, want := range made {
		got, err := os.ReadFile(filepath.Join("..", name))
		if err != nil {
			t.Errorf("%v; run go run ./testdata/generate", err)
			continue
		}
		if string(got) != want {
			t.Errorf("%s differs from what the generator makes; run go run ./testdata/generate", name)
		}
	}
}

func files(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		name, err := filepath.Rel(dir, path)
		out[filepath.ToSlash(name)] = string(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Every catalog reads back and holds no error.
func TestCatalogsAreSound(t *testing.T) {
	all, err := catalogs()
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range all {
		t.Run(m.folder, func(t *testing.T) {
			r := catalog.Check(catalog.New(m.meta, m.tables))
			for _, f := range r {
				t.Log(f.Severity, f.Code, f.Error())
			}
			if n := r.Count(catalog.Error); n > 0 {
				t.Errorf("%d errors", n)
			}
		})
	}
}
